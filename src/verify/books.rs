//! The answer as a whole: numbers, order, who drives where, what is said of each site.

use crate::place::Place;
use crate::plan::Problem;
use crate::verify::Verification;
use crate::verify::answer::{PlanOption, Said};
use serde_json::Value;
use std::collections::BTreeSet;

pub fn check(problem: &Problem, said: &Said, answer: &Value, found: &mut Verification) {
    let need = problem.need.0;
    found.add("books.strays", None, said.strays.is_empty(), said.strays.join("; "));
    let numbers: Vec<u64> = said.options.iter().map(|o| o.number).collect();
    let in_order = numbers.iter().copied().eq(1..=numbers.len() as u64);
    found.add("books.numbers", None, in_order, format!("options {numbers:?}"));
    let flows: Vec<f64> = said.options.iter().map(|o| o.said.sustained_flow_gpm).collect();
    let descending = flows.windows(2).all(|pair| pair[0] >= pair[1]);
    found.add("books.order", None, descending, format!("sustained flows {flows:?}"));

    let any = said.options.iter().any(|o| o.said.meets_need);
    let whole = answer.get("tankerloop");
    let of_whole = |key: &str| whole.and_then(|w| w.get(key));
    let stated = of_whole("meets_need").and_then(Value::as_bool);
    found.add(
        "books.meets_need",
        None,
        stated == Some(any) && said.incident.meets_need == any,
        format!("an option meets it: {any}; stated {stated:?} and {}", said.incident.meets_need),
    );
    let of_incident = said.incident.needed_flow_gpm;
    found.add("books.terms", None, of_incident == need, format!("incident: {of_incident} gpm, asked {need}"));
    for (key, input) in [
        ("needed_flow_gpm", need),
        ("reliability", problem.terms.reliability),
        ("period_s", problem.terms.period.0),
    ] {
        let stated = of_whole(key).and_then(Value::as_f64);
        found.add("books.terms", None, stated == Some(input), format!("{key}: {stated:?}, asked {input}"));
    }
    for option in &said.options {
        of_option(problem, option, found);
    }
    sites(problem, said, found);
    bounds(answer, found);
}

fn of_option(problem: &Problem, option: &PlanOption, found: &mut Verification) {
    let (number, said) = (option.number, &option.said);
    let need = problem.need.0;
    let meets = said.sustained_flow_gpm >= need;
    // A flow that rounds up to the need may still be short of it.
    let doubtful = (said.sustained_flow_gpm - need).abs() <= 0.05;
    found.add(
        "option.meets_need",
        Some(number),
        (said.meets_need == meets || doubtful) && said.needed_flow_gpm == need,
        format!("{} gpm of {} gpm: {}", said.sustained_flow_gpm, said.needed_flow_gpm, said.meets_need),
    );
    let gain = said.limiter_gain_gpm;
    found.add("option.gain", Some(number), gain >= 0.0, format!("relief of the limiter gains {gain} gpm"));
    let mut seen = BTreeSet::new();
    let mut twice = Vec::new();
    for of in &option.loops {
        let ids = of.tankers();
        let count = ids.len() == of.said.tankers && !ids.is_empty();
        found.add("option.tankers", Some(number), count, format!("{}: {}", of.title(), of.said.tankers));
        twice.extend(ids.iter().filter(|id| !seen.insert(id.to_string())).map(|id| id.to_string()));
    }
    found.add("option.once", Some(number), twice.is_empty(), format!("in two loops: {}", twice.join(", ")));
    let known = seen.iter().all(|id| problem.fleet.tankers.iter().any(|t| t.chassis.id == *id));
    found.add(
        "option.tankers",
        Some(number),
        known && seen.len() == said.tankers,
        format!("{} tankers, stated {}", seen.len(), said.tankers),
    );
    let listed: BTreeSet<&str> = said.fill_sites.split(", ").collect();
    // A name may hold a comma, so the whole text is looked at as well.
    let named = option
        .loops
        .iter()
        .all(|l| listed.contains(l.said.fill_site.as_str()) || said.fill_sites.contains(&l.said.fill_site));
    found.add("option.fill_sites", Some(number), named, format!("listed: {}", said.fill_sites));
}

fn sites(problem: &Problem, said: &Said, found: &mut Verification) {
    let loops = || said.options.iter().flat_map(|o| o.loops.iter().map(move |l| (o.number, l)));
    for (number, of) in loops() {
        // The drive starts on the road by the site.
        let start = of.loaded.as_ref().and_then(|(_, line)| line.first());
        let Some(start) = start else { continue };
        let away = |at: &Place| start.distance(*at).0;
        let near = said.sites.iter().filter(|(s, _)| s.name == of.said.fill_site).map(|(_, at)| away(at));
        let metres = near.fold(f64::INFINITY, f64::min);
        let farthest = problem.search.site_to_road.0;
        let detail = format!("{} starts {metres:.0} m from its fill site", of.title());
        found.add("loop.fill_spot", Some(number), metres <= farthest + 0.1, detail);
    }
    for (i, (site, _)) in said.sites.iter().enumerate() {
        let drives = loops().any(|(_, l)| l.said.fill_site == site.name);
        // Of two sites with one name either may be meant.
        let alone = said.sites.iter().enumerate().all(|(j, (other, _))| i == j || other.name != site.name);
        let agrees = site.used == drives || (!alone && drives);
        let detail = format!("{}: stated {}, a loop fills there: {drives}", site.name, site.used);
        found.add("site.used", None, agrees, detail);
        let reason = site.reason.as_deref().unwrap_or_default();
        let explained = site.used == reason.is_empty();
        found.add("site.reason", None, explained, format!("{}: \"{reason}\"", site.name));
    }
}

/// Every position of every geometry lies in the box, which is no larger than need be.
fn bounds(answer: &Value, found: &mut Verification) {
    let stated: Vec<f64> = answer
        .get("bbox")
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
        .filter_map(Value::as_f64)
        .collect();
    let mut tight = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
    let features = answer.get("features").and_then(Value::as_array).into_iter().flatten();
    for shape in features.filter_map(|f| f.get("geometry")?.get("coordinates")) {
        widen(shape, &mut tight);
    }
    let agrees = stated.len() == 4 && stated.iter().zip(&tight).all(|(a, b)| (a - b).abs() < 1e-7);
    found.add("books.bbox", None, agrees, format!("stated {stated:?}, found {tight:?}"));
}

fn widen(shape: &Value, bounds: &mut [f64; 4]) {
    let Some(list) = shape.as_array() else { return };
    match (list.first().and_then(Value::as_f64), list.get(1).and_then(Value::as_f64)) {
        (Some(lon), Some(lat)) => {
            *bounds = [bounds[0].min(lon), bounds[1].min(lat), bounds[2].max(lon), bounds[3].max(lat)];
        }
        _ => list.iter().for_each(|inner| widen(inner, bounds)),
    }
}
