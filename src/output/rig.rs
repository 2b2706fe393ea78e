//! A dump rig as text and as JSON.

use crate::output::rig_site;
use crate::plan::rig::{Need, RigAnswer, RigProblem};
use crate::units::{GallonsPerMinute, Shown};
use crate::water::rig::RigFlow;
use crate::water::rig::stages::{Stage, Step};
use serde_json::{Value, json};

/// Said with every rig.
pub const CAUTIONS: [&str; 6] = [
    "This is a planning aid. Local codes, the authority having jurisdiction and the qualified officer \
     on the ground decide.",
    "Flows of siphons and tanks are common practice, not a rating: pump the rig at a drill and write \
     down what it gives.",
    "Dump away from the strainers: air in the water breaks the draft. Tie the suctions and siphons down.",
    "Keep one lane clear beside the tanks and the hose on the other side; a spotter whenever a truck backs.",
    "Stand clear between a tanker and the tanks; set them level, a pitched lot holds little more than half.",
    "Hose under pressure whips: secure motive and supply lines before charging, open and close valves slowly.",
];

fn stage(stage: &Stage, answer: &RigAnswer, shown: Shown) -> String {
    let volume = |tank: u32| answer.tanks.get(tank as usize - 1).map_or(String::new(), |v| shown.volume(*v));
    match stage.step {
        Step::First => format!(
            "pumper off the lane, tank 1 ({}) beside it on the level, suction with strainer in; lay the supply \
             line on the hose side; the first tanker dumps at the end away from the strainer",
            volume(1)
        ),
        Step::Tank { tank, siphon: Some(siphon) } => format!(
            "tank {tank} ({}), siphon S{siphon} from it into tank 1 with its motive line; tankers dump here now",
            volume(tank)
        ),
        Step::Tank { tank, siphon: None } => {
            format!("tank {tank} ({}): no siphon is left to empty it", volume(tank))
        }
        Step::Siphon { siphon, from_tank } => match from_tank {
            0 => format!("siphon S{siphon} stays aboard: there is no second tank"),
            tank => format!("siphon S{siphon} from tank {tank} into tank 1, with its motive line"),
        },
        Step::Suction { suction } => format!("suction tube {suction} with its strainer into tank 1"),
        Step::SecondPumper => {
            "second pumper, its own suction in tank 2; it takes over motive lines, as many as it feeds".into()
        }
    }
}

fn head(problem: &RigProblem, answer: &RigAnswer, shown: Shown) -> String {
    let most = shown.flow(answer.most.flow);
    let by = answer.most.limit.words();
    let what_is_there = format!("gives {most} at most, held back by {by}");
    let wanted = problem.wanted.unwrap_or_default();
    match &answer.need {
        Need::Most => format!("The rig {what_is_there}.\n"),
        Need::Met => format!("{} is met: the rig {what_is_there}.\n", shown.flow(wanted)),
        Need::Call(call) => {
            let mut text = format!("{} is not met: the rig {what_is_there}.\n", shown.flow(wanted));
            text.push_str("call for (*):\n");
            let tank = answer.tanks.last().copied();
            text.extend(call.words(tank, shown).iter().map(|item| format!("  {item}\n")));
            let RigFlow { flow, limit: by, .. } = answer.gives;
            text.push_str(&format!("with them {} at most, held back by {}\n", shown.flow(flow), by.words()));
            text
        }
        Need::Beyond => format!(
            "{} is not met: the rig {what_is_there},\nand no pumper, siphon, suction or line added here gives it: \
             lower the lift, shorten the lay,\nput a relay pumper in it, or set up a second dump site.\n",
            shown.flow(wanted)
        ),
    }
}

/// Rows in columns, the first row the heads, two spaces between.
fn columns(rows: &[Vec<String>]) -> String {
    let wide = |column: usize| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
    let line = |row: &Vec<String>| {
        let cells = row.iter().enumerate().map(|(i, cell)| format!("{cell:<width$}", width = wide(i)));
        format!("  {}\n", cells.collect::<Vec<_>>().join("  ").trim_end())
    };
    rows.iter().map(line).collect()
}

fn valves(answer: &RigAnswer, shown: Shown) -> String {
    let heads = ["attack", "siphons open", "motive flow", "pumper draws", "discharge", "suctions"];
    let mut rows = vec![heads.map(str::to_string).to_vec()];
    let names = |first: u32, last: u32| {
        (first..=last).map(|siphon| format!("S{siphon}")).collect::<Vec<_>>().join(" ")
    };
    for set in &answer.valves {
        let (second, all) = (set.siphons_by_second, set.siphons());
        let open = match (second, all) {
            (_, 0) => "none".to_string(),
            (0, all) => names(1, all),
            (second, all) if second == all => format!("{} (2nd pumper)", names(1, all)),
            (second, all) => format!("{} (2nd pumper) {}", names(1, second), names(second + 1, all)),
        };
        rows.push(vec![
            shown.flow(set.flow),
            open,
            shown.flow(set.motive),
            shown.flow(set.drawn),
            shown.pressure(set.discharge),
            set.suctions.to_string(),
        ]);
    }
    columns(&rows)
}

/// The whole answer for a person.
pub fn write(problem: &RigProblem, answer: &RigAnswer, shown: Shown) -> String {
    let mut text = head(problem, answer, shown);
    text.push_str("\nsite, not to scale:\n\n");
    text.push_str(&rig_site::draw(answer, shown));
    text.push_str("\n(o) suction and strainer   <=== siphon   .:. its motive line");
    text.push_str(if matches!(answer.need, Need::Call(_)) { "   * called for\n" } else { "\n" });
    text.push_str(&format!(
        "the tanks take {} of roadside; full, they carry {} for {} when no tanker comes\n",
        shown.length(answer.tank_row.feet()),
        shown.flow(flow_held(problem, answer)),
        shown.duration(answer.reserve)
    ));
    text.push_str("\nbuild it as they come, and what it gives then:\n");
    for (number, step) in (1..).zip(&answer.stages) {
        let gives = format!("{}, {}", shown.flow(step.then.flow), step.then.limit.words());
        text.push_str(&format!("  {number}. {}\n     -> {gives}\n", stage(step, answer, shown)));
    }
    text.push_str("\nvalves to open, in this order as the flow grows:\n");
    text.push_str(&valves(answer, shown));
    if answer.rig.tanks > 2 && answer.rig.siphons > 1 {
        text.push_str("  with fewer siphons open than fitted, take them in turn: the fullest tank first\n");
    }
    if answer.valves.iter().any(|set| set.siphons() > 0) {
        let psi = problem.settings.motive_pressure().unwrap_or_default();
        text.push_str(&format!(
            "  motive lines want {} at the pumper; gate the lower of the two down\n",
            shown.pressure(psi)
        ));
    }
    text.push('\n');
    for note in notes(answer, shown) {
        text.push_str(&format!("note: {note}\n"));
    }
    for caution in CAUTIONS {
        text.push_str(&format!("caution: {caution}\n"));
    }
    text
}

fn flow_held(problem: &RigProblem, answer: &RigAnswer) -> GallonsPerMinute {
    problem.wanted.unwrap_or(answer.gives.flow).min(answer.gives.flow)
}

/// What is not as it should be with the tanks, and what was assumed.
fn notes(answer: &RigAnswer, shown: Shown) -> Vec<String> {
    let list = |tanks: &[u32]| tanks.iter().map(u32::to_string).collect::<Vec<_>>().join(", ");
    let mut notes = Vec::new();
    if let (Some(least), false) = (answer.least_tank, answer.small_tanks.is_empty()) {
        notes.push(format!(
            "tank {} holds less than the largest load and 500 gal (IFSTA): {}; call for larger, or its tanker waits \
             while it dumps",
            list(&answer.small_tanks),
            shown.volume(least)
        ));
    }
    if !answer.idle_tanks.is_empty() {
        notes.push(format!(
            "tank {} has no siphon and helps only by hand; call for one each",
            list(&answer.idle_tanks)
        ));
    }
    if answer.rig.line.is_none() {
        notes.push(format!(
            "no supply line is given: it is taken to carry all, and the pumper to run at {}",
            shown.pressure(answer.rig.pumper.pressure)
        ));
    }
    notes
}

/// The same for a program: every key ends in its unit.
pub fn json(problem: &RigProblem, answer: &RigAnswer) -> Value {
    let call = match &answer.need {
        Need::Call(call) => json!(call),
        _ => Value::Null,
    };
    let need = match answer.need {
        Need::Most => "none",
        Need::Met => "met",
        Need::Call(_) => "met-if-called",
        Need::Beyond => "beyond",
    };
    json!({
        "wanted_gpm": problem.wanted,
        "need": need,
        "most": answer.most,
        "call_for": call,
        "shown": {
            "flow": answer.gives,
            "tanks_gal": answer.tanks,
            "siphons": answer.rig.siphons,
            "pumper_gpm": answer.rig.pumper.rated,
            "suctions": answer.rig.pumper.suctions,
            "suction_in": answer.rig.pumper.suction,
            "second_pumper_gpm": answer.rig.transfer.map(|p| p.rated),
            "lift_ft": answer.rig.lift,
            "altitude_ft": answer.rig.altitude,
            "tank_row_m": (answer.tank_row.0 * 10.0).round() / 10.0,
            "reserve_s": answer.reserve.0.round(),
        },
        "stages": answer.stages,
        "valves": answer.valves,
        "notes": notes(answer, Shown::Us),
        "cautions": CAUTIONS,
    })
}
