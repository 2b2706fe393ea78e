//! Texts and quantities as the sheets have them. Every text of a file goes through here: bounded, harmless, and
//! set apart from the direction of the writing around it.

use crate::output::export::text::{at_most, html, short};
use crate::units::{Feet, Gallons, GallonsPerMinute, Inches, Kilograms, Metres, Seconds, Shown};

/// The longest sentence that is printed, in characters: a name in it may be of any length.
const LONGEST_SENTENCE: usize = 700;

/// A name out of a file.
pub fn name(text: &str) -> String {
    format!("<bdi>{}</bdi>", html(&short(text)))
}

/// A sentence that may hold names.
pub fn prose(text: &str) -> String {
    html(&at_most(text, LONGEST_SENTENCE))
}

/// The same, beginning with a capital.
pub fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    let first: String = chars.next().into_iter().flat_map(char::to_uppercase).collect();
    prose(&format!("{first}{}", chars.as_str()))
}

/// Text of a drawing in letters, spaces and lines kept.
pub fn drawn(text: &str) -> String {
    text.lines().map(html).collect::<Vec<_>>().join("\n")
}

/// Rows of a table of two columns, each with the key of the answer that it shows; rows without a value are
/// left out.
pub fn facts(rows: &[(&str, Option<String>, &str)]) -> String {
    let mut out = String::from("<table class=\"facts\"><tbody>");
    for (head, value, key) in rows {
        if let Some(value) = value {
            out.push_str(&format!(
                "<tr><th scope=\"row\">{head}</th><td data-key=\"{key}\">{value}</td></tr>"
            ));
        }
    }
    out + "</tbody></table>"
}

/// A table with heads. The first cell of a row is its head; cells are HTML.
pub fn table(class: &str, heads: &[&str], rows: impl IntoIterator<Item = Vec<String>>) -> String {
    let mut out = format!("<table class=\"{class}\"><thead><tr>");
    out.extend(heads.iter().map(|head| format!("<th scope=\"col\">{head}</th>")));
    out.push_str("</tr></thead><tbody>");
    for row in rows {
        out.push_str("<tr>");
        for (i, cell) in row.iter().enumerate() {
            out.push_str(&match i {
                0 => format!("<th scope=\"row\">{cell}</th>"),
                _ => format!("<td>{cell}</td>"),
            });
        }
        out.push_str("</tr>");
    }
    out + "</tbody></table>"
}

/// Lines to write on.
pub fn blanks(labels: &[&str]) -> String {
    let line = |label: &&str| format!("<span class=\"blank\"><span>{label}</span></span>");
    format!("<p class=\"blanks\">{}</p>", labels.iter().map(line).collect::<String>())
}

/// Numbers of the answer in the reader's units.
#[derive(Clone, Copy)]
pub struct Units(pub Shown);

impl Units {
    pub fn flow(self, gpm: f64) -> String {
        self.0.flow(GallonsPerMinute(gpm))
    }
    pub fn distance(self, metres: f64) -> String {
        self.0.distance(Metres(metres))
    }
    /// Hose and the row of tanks.
    pub fn length(self, metres: f64) -> String {
        self.0.length(Metres(metres).feet())
    }
    pub fn rise(self, feet: f64) -> String {
        self.0.length(Feet(feet))
    }
    pub fn volume(self, gallons: f64) -> String {
        self.0.volume(Gallons(gallons))
    }
    pub fn bore(self, inches: f64) -> String {
        self.0.bore(Inches(inches))
    }
    /// Of a vehicle: rounded up.
    pub fn load(self, kilograms: f64) -> String {
        self.0.mass(Kilograms(kilograms), true)
    }
    /// On a sign: rounded down.
    pub fn limit(self, kilograms: f64) -> String {
        self.0.mass(Kilograms(kilograms), false)
    }
    pub fn vehicle(self, metres: f64) -> String {
        self.0.clearance(Metres(metres), true)
    }
    pub fn clearance(self, metres: f64) -> String {
        self.0.clearance(Metres(metres), false)
    }
    pub fn time(self, seconds: f64) -> String {
        self.0.duration(Seconds(seconds))
    }
    /// Minutes and seconds without the unit.
    pub fn clock(self, seconds: f64) -> String {
        self.time(seconds).trim_end_matches(" min").to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_harmless_and_bounded() {
        assert_eq!(name("<b>\u{202e}x"), "<bdi>&lt;b&gt;x</bdi>");
        assert_eq!(sentence("turn left onto A & B"), "Turn left onto A &amp; B");
        assert_eq!(prose(&"é".repeat(10_000)).chars().count(), LONGEST_SENTENCE);
        assert_eq!(drawn("a <\n  b"), "a &lt;\n  b");
    }

    /// 5.0 m are 16 ft 4.85 in: a sign of it is read as 16 ft 4 in, a truck of it as 16 ft 5 in high.
    #[test]
    fn what_must_pass_is_rounded_to_the_safe_side() {
        let us = Units(Shown::Us);
        assert_eq!((us.clearance(5.0), us.vehicle(5.0)), ("16 ft 4 in".into(), "16 ft 5 in".into()));
        assert_eq!(us.vehicle(0.3048 * 11.0), "11 ft 0 in");
        let metric = Units(Shown::Metric);
        assert_eq!((metric.clearance(5.0), metric.vehicle(4.991)), ("5.00 m".into(), "5.00 m".into()));
    }
}
