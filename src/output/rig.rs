//! A dump rig as text and as JSON.

use crate::output::rig_site;
use crate::plan::rig::{Need, RigAnswer, RigProblem};
use crate::units::{GallonsPerMinute, Shown};
use crate::water::rig::RigFlow;
use crate::water::rig::stages::{Stage, Step};
use serde::Serialize;
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

fn valves(answer: &RigAnswer, shown: Shown) -> Vec<Vec<String>> {
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
    rows
}

/// A rig in words, in one system of units.
#[derive(Serialize)]
pub struct Told {
    /// Whether it gives the flow, and what to call for: lines.
    pub head: String,
    /// The site from above, every line of the same width.
    pub drawing: String,
    /// What the signs of the drawing mean.
    pub legend: String,
    /// What the tanks take up, and how long they last.
    pub tanks: String,
    /// The order of building.
    pub stages: Vec<ToldStage>,
    /// The valves to open at each flow; the first row is the heads.
    pub valves: Vec<Vec<String>>,
    pub valve_notes: Vec<String>,
    /// What is not as it should be, and what was assumed.
    pub notes: Vec<String>,
}

#[derive(Serialize)]
pub struct ToldStage {
    pub action: String,
    /// The flow there is after it, and what holds that back.
    pub gives: String,
}

pub fn told(problem: &RigProblem, answer: &RigAnswer, shown: Shown) -> Told {
    let mut legend = "(o) suction and strainer   <=== siphon   .:. its motive line".to_string();
    if matches!(answer.need, Need::Call(_)) {
        legend.push_str("   * called for");
    }
    let mut valve_notes = Vec::new();
    if answer.rig.tanks > 2 && answer.rig.siphons > 1 {
        valve_notes
            .push("with fewer siphons open than fitted, take them in turn: the fullest tank first".into());
    }
    if answer.valves.iter().any(|set| set.siphons() > 0) {
        let psi = problem.settings.motive_pressure().unwrap_or_default();
        let wanted = shown.pressure(psi);
        valve_notes.push(format!("motive lines want {wanted} at the pumper; gate the lower of the two down"));
    }
    let told_stage = |step: &Stage| ToldStage {
        action: stage(step, answer, shown),
        gives: format!("{}, {}", shown.flow(step.then.flow), step.then.limit.words()),
    };
    Told {
        head: head(problem, answer, shown),
        drawing: rig_site::draw(answer, shown),
        legend,
        tanks: format!(
            "the tanks take {} of roadside; full, they carry {} for {} when no tanker comes",
            shown.length(answer.tank_row.feet()),
            shown.flow(flow_held(problem, answer)),
            shown.duration(answer.reserve)
        ),
        stages: answer.stages.iter().map(told_stage).collect(),
        valves: valves(answer, shown),
        valve_notes,
        notes: notes(answer, shown),
    }
}

/// The whole answer for a person.
pub fn write(problem: &RigProblem, answer: &RigAnswer, shown: Shown) -> String {
    let told = told(problem, answer, shown);
    let mut text = told.head;
    text.push_str(&format!("\nsite, not to scale:\n\n{}\n{}\n{}\n", told.drawing, told.legend, told.tanks));
    text.push_str("\nbuild it as they come, and what it gives then:\n");
    for (number, ToldStage { action, gives }) in (1..).zip(&told.stages) {
        text.push_str(&format!("  {number}. {action}\n     -> {gives}\n"));
    }
    text.push_str("\nvalves to open, in this order as the flow grows:\n");
    text.push_str(&columns(&told.valves));
    text.extend(told.valve_notes.iter().map(|note| format!("  {note}\n")));
    text.push('\n');
    text.extend(told.notes.iter().map(|note| format!("note: {note}\n")));
    text.extend(CAUTIONS.iter().map(|caution| format!("caution: {caution}\n")));
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
