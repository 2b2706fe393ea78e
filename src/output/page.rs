//! The map page: one HTML file that needs nothing beside it. The template with its script and style is
//! bundled from src/web/page by build.rs; here the answer and the background are put into it.

use crate::output::{backdrop, geojson, page_series};
use crate::place::Bounds;
use crate::plan::{Answer, Problem};
use crate::roads::network::Network;
use crate::roads::scenery::Scenery;
use crate::units::Shown;
use serde_json::{Value, json};

/// Empty where the build had no Node.js.
const TEMPLATE: &str = include_str!(concat!(env!("OUT_DIR"), "/page.html"));
/// Where the data goes; bundle.mjs writes it into the template.
const HERE: &str = "<!--tankerloop-data-->";

/// Whether this build can write pages.
pub fn built() -> bool {
    TEMPLATE.contains(HERE)
}

/// What a build without the page should be told, in one line each: what is the matter, what to do.
pub const MISSING: (&str, &str) = (
    "this tankerloop was built without Node.js, so it has no map page",
    "install Node.js 20 or later with npm, run `cargo clean -p tankerloop` and build again",
);

/// The area that the page shows.
pub fn area(answer: &Answer) -> Option<Bounds> {
    geojson::bounds(answer).map(|bounds| backdrop::area(&bounds))
}

/// The page. `text` is the answer as it is handed out, taken over as it is.
pub fn write(
    problem: &Problem,
    answer: &Answer,
    text: &str,
    network: &Network,
    scenery: &Result<Scenery, String>,
    units: Shown,
) -> String {
    let map = area(answer).map_or(Value::Null, |area| backdrop::json(network, scenery, &area));
    let fleet = &problem.fleet;
    let about = json!({
        "units": match units { Shown::Us => "us", Shown::Metric => "metric" },
        "incident": { "lon": answer.incident.lon(), "lat": answer.incident.lat() },
        "tanks_gal": fleet.portable_tanks.iter().map(|tank| tank.0.round()).collect::<Vec<f64>>(),
        "siphons": fleet.siphons,
        "series": answer.options.iter().map(page_series::json).collect::<Vec<Value>>(),
    });
    let mut data = String::with_capacity(text.len() + 500_000);
    for (id, json) in [("answer", text.trim_end()), ("about", &about.to_string()), ("map", &map.to_string())]
    {
        data.push_str(&format!(
            "<script type=\"application/json\" id=\"data-{id}\">{}</script>\n",
            inert(json)
        ));
    }
    TEMPLATE.replacen(HERE, &data, 1)
}

/// JSON that an HTML parser takes as nothing but text, and the same value: these characters stand only
/// inside strings. (WHATWG HTML, "Restrictions for contents of script elements"; the separators for
/// readers that take JSON for JavaScript.)
fn inert(json: &str) -> String {
    let mut safe = String::with_capacity(json.len());
    for c in json.chars() {
        match c {
            '<' | '>' | '&' | '\u{2028}' | '\u{2029}' => safe.push_str(&format!("\\u{:04x}", c as u32)),
            _ => safe.push(c),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_string_leaves_its_script() {
        let hostile = json!({ "name": "</script><!--<script>\u{2028}&amp;" });
        let safe = inert(&hostile.to_string());
        assert!(!safe.contains(['<', '>', '&', '\u{2028}']));
        assert_eq!(serde_json::from_str::<Value>(&safe).unwrap(), hostile);
    }
}
