//! Turn lists: as objects and one line of text in the GeoJSON, as lists for a terminal.

use crate::plan::answer::{Answer, PlanOption};
use crate::plan::circulation::PlanLoop;
use crate::routing::directions::{Action, Step};
use crate::routing::path::Leg;
use crate::units::Shown;
use serde_json::{Value, json};

/// What a loaded leg arrives at.
pub const DUMP: &str = "the dump site";

/// The steps as objects. Distances are rounded so that they sum to the leg's.
pub fn list(steps: &[Step], goal: &str) -> Value {
    let tenth = |metres: f64| (metres * 10.0).round();
    let mut driven = 0.0;
    let objects = steps.iter().map(|step| {
        let before = tenth(driven);
        driven += step.distance.0;
        json!({
            "action": step.action.as_str(),
            "instruction": step.instruction(goal),
            "street": step.street(),
            "heading": step.heading(),
            "bearing_deg": step.bearing_deg,
            "distance_m": (tenth(driven) - before) / 10.0,
            "lon": step.place.lon(),
            "lat": step.place.lat(),
            "node": step.node,
        })
    });
    objects.collect()
}

/// One line for a table of a GIS. A file has no reader whose units could be asked for: US units, named.
pub fn line(steps: &[Step], goal: &str) -> String {
    let told: Vec<String> = steps.iter().map(|step| sentence(step, goal, Shown::Us)).collect();
    told.join(" · ")
}

fn sentence(step: &Step, goal: &str, shown: Shown) -> String {
    let told = format!("{}, heading {} ({:03}°)", step.instruction(goal), step.heading(), step.bearing_deg);
    match step.action {
        Action::Arrive => told,
        _ => format!("{told}, {}", shown.distance(step.distance)),
    }
}

/// The turn lists of all options for a terminal, loaded and empty apart.
pub fn write(answer: &Answer, shown: Shown) -> String {
    let loops = answer.options.iter().flat_map(|option| option.loops.iter().map(move |l| (option, l)));
    loops.map(|(option, found)| of_loop(option, found, shown)).collect()
}

fn of_loop(option: &PlanOption, found: &PlanLoop, shown: Shown) -> String {
    let PlanLoop { site, at_fill, at_dump, .. } = found;
    format!(
        "\noption {}, {site}, tankers {}\n{}  at {DUMP}: {}\n{}  at {site}: {}\n",
        option.number,
        found.tankers.join(", "),
        of_leg(&format!("1 LOADED, {site} to {DUMP}"), &found.loaded, &found.loaded_steps, DUMP, shown),
        at_dump.told,
        of_leg(&format!("2 EMPTY, {DUMP} to {site}"), &found.empty, &found.empty_steps, site, shown),
        at_fill.told,
    )
}

fn of_leg(title: &str, leg: &Leg, steps: &[Step], goal: &str, shown: Shown) -> String {
    let mut text = format!("  {title}: {}, {}\n", shown.distance(leg.distance), shown.duration(leg.travel));
    for (i, step) in steps.iter().enumerate() {
        text.push_str(&format!("    {:>2}. {}\n", i + 1, sentence(step, goal, shown)));
    }
    text
}
