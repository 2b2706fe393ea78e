//! Texts made for people out of names from files: bounded, and harmless to what shows them.

use serde_json::Value;

/// The longest name that is shown, in characters; the whole text is in the description. Navigation units
/// show far less.
const LONGEST: usize = 120;

/// Without what XML 1.0 cannot hold (section 2.2, `Char`) and without the marks that turn the direction of
/// the text after them (Unicode Annex 9: embeddings, overrides, isolates), each of the former told by U+FFFD.
pub fn plain(text: &str) -> String {
    let kept = |c: char| match c {
        '\t' | '\n' | '\r' => Some(' '),
        '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => None,
        '\u{fffe}' | '\u{ffff}' => Some('\u{fffd}'),
        c if c.is_control() => Some('\u{fffd}'),
        c => Some(c),
    };
    text.chars().filter_map(kept).collect()
}

/// A name of at most [`LONGEST`] characters; the cut is told by an ellipsis.
pub fn short(text: &str) -> String {
    at_most(text, LONGEST)
}

/// The same with another bound.
pub fn at_most(text: &str, longest: usize) -> String {
    let text = plain(text);
    match text.char_indices().nth(longest) {
        None => text,
        Some(_) => text.chars().take(longest.saturating_sub(1)).chain(['…']).collect(),
    }
}

/// For programs that take a text as HTML.
pub fn html(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in plain(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// A property as text; nothing for null.
pub fn of(value: &Value) -> Option<String> {
    match value {
        Value::Null => None,
        Value::String(text) => Some(text.clone()),
        other => Some(other.to_string()),
    }
}

/// A property by its key as text.
pub fn property(feature: &super::Feature, key: &str) -> String {
    feature.properties.get(key).and_then(of).unwrap_or_default()
}

/// What a feature is called, from its layer and what tells it from its like.
pub fn title(layer: &str, feature: &super::Feature) -> String {
    let get = |key: &str| property(feature, key);
    let option = || format!("Option {}", get("option"));
    match layer {
        "incident" => format!("Incident: {}", get("name")),
        "fill_site" => format!("Fill: {}", get("name")),
        "dump_site" => format!("{}, dump: {}", option(), get("road")),
        "staging" => format!("{}, staging: {}", option(), get("road")),
        "supply_line" => format!("{}, supply line", option()),
        "loop" => format!("{}, loop: {} ({})", option(), get("fill_site"), get("tanker_ids")),
        "leg" => {
            let to = if get("leg") == "loaded" { "from" } else { "to" };
            format!("{}, {} {to} {} ({})", option(), get("leg"), get("fill_site"), get("tanker_ids"))
        }
        "road_note" => format!("{}, {}: {}", option(), get("code"), get("road")),
        "stretch" => format!("Stretch {}: {}, {} gpm", get("stretch"), get("road"), get("ceiling_gpm")),
        "gap" => format!("Gap {}", get("gap")),
        "proposal" => format!("Proposal {}: {}", get("rank"), get("name")),
        other => other.replace('_', " "),
    }
}

/// The title as a name, and further words as a description, which begins with a title that the name cuts.
pub fn named(title: &str, further: &[String]) -> (String, Option<String>) {
    let name = short(title);
    let cut = (name != plain(title)).then_some(title);
    let further = further.iter().map(String::as_str).filter(|text| !text.is_empty());
    let words: Vec<&str> = cut.into_iter().chain(further).collect();
    (name, (!words.is_empty()).then(|| plain(&words.join(". "))))
}

/// Cautions and attribution of the document, a line each.
pub fn notes(document: &super::Document) -> Vec<String> {
    let cautions = document.about.get("cautions").and_then(Value::as_array);
    let attribution = document.about.get("attribution");
    cautions.into_iter().flatten().chain(attribution).filter_map(of).map(|note| plain(&note)).collect()
}

/// The scenario's name.
pub fn scenario(document: &super::Document) -> String {
    document.about.get("scenario").and_then(of).map_or_else(|| "tankerloop".into(), |name| short(&name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_bounded_and_harmless() {
        assert_eq!(plain("a\u{202e}b\u{0}c\nd\u{200f}"), "ab\u{fffd}c d\u{200f}");
        assert_eq!(html("<b a=\"'&"), "&lt;b a=&quot;&#39;&amp;");
        let long = short(&"é".repeat(10_000));
        assert_eq!(long.chars().count(), LONGEST);
        assert!(long.ends_with('…'));
        assert_eq!(short(&"é".repeat(LONGEST)), "é".repeat(LONGEST));
        assert_eq!(named("a", &[String::new()]), ("a".into(), None));
        assert_eq!(named("a", &["b".into(), "c".into()]).1.unwrap(), "b. c");
        assert_eq!(named(&"é".repeat(121), &["b".into()]).1.unwrap(), format!("{}. b", "é".repeat(121)));
    }
}
