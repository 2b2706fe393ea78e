//! The map page: one HTML file that needs nothing beside it. The template with its script and style is
//! bundled from src/web/page by build.rs; here the answer and the background are put into it.

use crate::output::{backdrop, geojson};
use crate::plan::answer::PlanOption;
use crate::plan::{Answer, Problem};
use crate::roads::network::Network;
use crate::shuttle::SeriesPoint;
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

/// What was asked and found out.
pub struct Found<'a> {
    pub problem: &'a Problem,
    pub answer: &'a Answer,
    /// The answer as it is handed out, taken over as it is.
    pub text: &'a str,
    /// Of each option.
    pub series: &'a [Vec<SeriesPoint>],
}

/// The page; water, woods and settlements are read from the extract now, or the page says why there are none.
pub fn write(found: &Found, network: &Network, units: Shown) -> String {
    let Found { problem, answer, text, series } = found;
    let area = geojson::bounds(answer).map(|bounds| backdrop::area(&bounds));
    let map = area.map_or(Value::Null, |area| backdrop::read(network, &problem.roads.file, &area));
    let about = json!({
        "units": word(units),
        "incident": { "lon": answer.incident.lon(), "lat": answer.incident.lat() },
        "series": answer.options.iter().zip(*series).map(|(o, points)| in_time(o, points)).collect::<Vec<Value>>(),
    });
    filled(&[("answer", text.trim_end()), ("about", &about.to_string()), ("map", &map.to_string())])
}

/// Units to begin with, as the page has them.
pub(super) fn word(units: Shown) -> &'static str {
    match units {
        Shown::Us => "us",
        Shown::Metric => "metric",
    }
}

/// The template with its data, each block by the name that src/web/page/data.ts knows it by.
pub(super) fn filled(blocks: &[(&str, &str)]) -> String {
    let size = blocks.iter().map(|(_, json)| json.len() + 100).sum();
    let mut data = String::with_capacity(size);
    for (id, json) in blocks {
        data.push_str(&format!(
            "<script type=\"application/json\" id=\"data-{id}\">{}</script>\n",
            inert(json)
        ));
    }
    TEMPLATE.replacen(HERE, &data, 1)
}

/// What the live page may load beside what every page may: answers of its own server.
const ALONE: &str = "connect-src blob:";
const LIVE: &str = "connect-src 'self' blob:";

/// The page without an answer, to be served: `live` is what it finds in data-live in place of the other data.
/// And the policy it names, which the server should name too. None in a build without pages.
pub fn live(live: &Value) -> Option<(String, String)> {
    let (_, policy) = TEMPLATE.split_once("http-equiv=\"Content-Security-Policy\" content=\"")?;
    let (policy, _) = policy.split_once('"')?;
    let widened = policy.replacen(ALONE, LIVE, 1);
    let html = filled(&[("live", &live.to_string())]).replacen(policy, &widened, 1);
    Some((html, format!("{widened}; frame-ancestors 'none'")))
}

/// One row a minute, means over all replications but for the two percentiles of the level: `t_s` is the
/// end of the minute, from dispatch. And the tankers as they arrive when every time is its mean.
fn in_time(option: &PlanOption, points: &[SeriesPoint]) -> Value {
    let tenth = |value: f64| (value * 10.0).round() / 10.0;
    let column = |of: &dyn Fn(&SeriesPoint) -> f64| points.iter().map(|p| tenth(of(p))).collect::<Vec<f64>>();
    let arrivals =
        option.simulated.iter().flat_map(|found| &found.sustained.arrivals).filter_map(|arrival| {
            let tanker = option.shuttle.tankers.get(arrival.tanker)?;
            Some(json!({
                "t_s": tenth(arrival.time.0),
                "tanker": tanker.name,
                "load_gal": tenth(arrival.load.0),
            }))
        });
    json!({
        "option": option.number,
        "t_s": column(&|p| p.time.0),
        "offered_gpm": column(&|p| p.offered.0),
        "drawn_gpm": column(&|p| p.drawn.0),
        "level_gal": column(&|p| p.level.0),
        "level_low_gal": column(&|p| p.level_low.0),
        "level_high_gal": column(&|p| p.level_high.0),
        "tank_room_gal": tenth(option.shuttle.dump.tank_room.0),
        "arrivals": arrivals.collect::<Vec<Value>>(),
    })
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
    fn a_live_page_connects_to_where_it_came_from() {
        let Some((page, policy)) = live(&json!({ "live": true })) else {
            assert!(!built());
            return;
        };
        assert!(page.contains(LIVE) && policy.contains(LIVE));
        assert!(!page.contains(ALONE) && !policy.contains(ALONE));
        assert!(page.contains(r#"id="data-live">{"live":true}</script>"#));
    }

    #[test]
    fn no_string_leaves_its_script() {
        let hostile = json!({ "name": "</script><!--<script>\u{2028}&amp;" });
        let safe = inert(&hostile.to_string());
        assert!(!safe.contains(['<', '>', '&', '\u{2028}']));
        assert_eq!(serde_json::from_str::<Value>(&safe).unwrap(), hostile);
    }
}
