//! The flows: cycle and ceiling by arithmetic, sustained flow by an own simulation.

use crate::plan::Problem;
use crate::verify::answer::PlanOption;
use crate::verify::ceiling::ceiling_gpm;
use crate::verify::crew::Crew;
use crate::verify::simulate::{Spread, share_held};
use crate::verify::{ROUNDED, Verification};

/// The ceiling is the same programme on figures rounded to a tenth.
const CEILING_WITHIN: f64 = 0.01;
/// Two simulations with other dice, other replications and other steps: measured differences stay
/// below half of this on the demonstration county.
const FLOW_WITHIN: f64 = 0.06;
const FLOW_WITHIN_GPM: f64 = 12.0;
/// Enough to place the 90 % quantile within about two hundredths.
const REPLICATIONS: u32 = 200;

pub fn check(problem: &Problem, option: &PlanOption, crew: &Crew, found: &mut Verification) {
    let (number, said) = (option.number, &option.said);
    found.near("dump.berths", number, "berths", said.dump_berths.into(), crew.dump_berths.into(), 0.0);
    found.near("dump.room", number, "gal", said.tank_room_gal, crew.room_gal, ROUNDED);
    for (i, of) in option.loops.iter().enumerate() {
        let cycles: Vec<f64> =
            crew.trucks.iter().filter(|t| t.on_loop == i).map(|t| t.cycle_s(&crew.sources)).collect();
        let mean = cycles.iter().sum::<f64>() / cycles.len().max(1) as f64;
        // Waiting, too, is stated to the tenth.
        found.near("cycle.time", number, &of.title(), of.said.cycle_s, mean, 2.0 * ROUNDED);
    }
    ceiling(option, crew, found);
    let start_s = start_s(crew);
    times(option, crew, start_s, found);
    let words = serde_json::to_value(problem.spread).unwrap_or_default();
    let spread = match Spread::read(&words) {
        Ok(spread) => spread,
        Err(cause) => return found.add("flow.sustained", Some(number), false, cause),
    };
    sustained(problem, option, crew, &spread, start_s, found);
    one_lost(problem, option, crew, &spread, found);
}

fn ceiling(option: &PlanOption, crew: &Crew, found: &mut Verification) {
    let (number, stated) = (option.number, option.said.ceiling_flow_gpm);
    // What moving water between tanks costs depends on the rig; the ceiling lies between the rig
    // without any help and the pump alone. Where neither binds the two are one.
    let (low, high) = (ceiling_gpm(crew, crew.draw_gpm.0), ceiling_gpm(crew, crew.draw_gpm.1));
    let (Some(low), Some(high)) = (low, high) else {
        return found.add("flow.ceiling", Some(number), false, "the programme has no bound");
    };
    let within = ROUNDED + CEILING_WITHIN * high;
    found.add(
        "flow.ceiling",
        Some(number),
        stated >= low - within && stated <= high + within,
        format!("stated {stated} gpm, found {low:.1} to {high:.1} (± {within:.1})"),
    );
}

/// The moment the last tanker has unloaded its first load when every time is its mean, in order of
/// arrival, the tanks having room for all.
fn start_s(crew: &Crew) -> f64 {
    let mut order: Vec<(f64, f64)> = crew.trucks.iter().map(|t| (t.arrival_s, t.dump_s())).collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut free = vec![0.0_f64; crew.dump_berths.max(1) as usize];
    let mut last = 0.0_f64;
    for (arrival, takes) in order {
        free.sort_by(f64::total_cmp);
        free[0] = free[0].max(arrival) + takes;
        last = last.max(free[0]);
    }
    last
}

fn times(option: &PlanOption, crew: &Crew, start_s: f64, found: &mut Verification) {
    let (number, said) = (option.number, &option.said);
    let first = crew.trucks.iter().map(|t| t.arrival_s + t.dump_handling_s).fold(f64::INFINITY, f64::min);
    found.near("time.first_water", number, "s", said.first_water_s, first, ROUNDED + 0.01);
    let from = said.sustained_from_s;
    found.add(
        "time.sustained_from",
        Some(number),
        from >= first - 0.1 && from <= start_s + 0.1,
        format!("stated {from} s, first water {first:.1} s, all have unloaded at {start_s:.1} s"),
    );
}

fn within_gpm(flow: f64) -> f64 {
    (FLOW_WITHIN * flow).max(FLOW_WITHIN_GPM)
}

fn sustained(
    problem: &Problem,
    option: &PlanOption,
    crew: &Crew,
    spread: &Spread,
    start_s: f64,
    found: &mut Verification,
) {
    let (number, said) = (option.number, &option.said);
    let (stated, ceiling) = (said.sustained_flow_gpm, said.ceiling_flow_gpm);
    found.add(
        "flow.below_ceiling",
        Some(number),
        stated <= ceiling + 0.001,
        format!("sustained {stated} gpm, ceiling {ceiling} gpm"),
    );
    let share = |gpm: f64| share_held(crew, spread, start_s, gpm, REPLICATIONS);
    let (low, high) = (stated - within_gpm(stated), stated + within_gpm(stated));
    let (wanted, at_low) = (problem.terms.reliability, share(low.max(0.0)));
    // A flow as high as the ceiling cannot be beaten, however much the tanks hold.
    let capped = high >= ceiling;
    let at_high = if capped { 0.0 } else { share(high) };
    found.add(
        "flow.sustained",
        Some(number),
        at_low >= wanted && at_high < wanted,
        format!(
            "stated {stated} gpm; {low:.0} gpm holds in {:.0} % of the replications, {high:.0} gpm {}",
            at_low * 100.0,
            if capped { "is over the ceiling".into() } else { format!("in {:.0} %", at_high * 100.0) }
        ),
    );
}

/// Every crew short of one tanker holds a little less than the stated flow, and one of them no more
/// than a little more.
fn one_lost(problem: &Problem, option: &PlanOption, crew: &Crew, spread: &Spread, found: &mut Verification) {
    let (number, stated) = (option.number, option.said.one_tanker_lost_flow_gpm);
    if crew.trucks.len() == 1 {
        found.near("flow.one_lost", number, "gpm without the only tanker", stated, 0.0, 0.0);
        return;
    }
    let mut ranked: Vec<(f64, &str, Crew)> = crew
        .trucks
        .iter()
        .enumerate()
        .map(|(i, truck)| {
            let rest = crew.without(i);
            (ceiling_gpm(&rest, crew.draw_gpm.1).unwrap_or(0.0), truck.id.as_str(), rest)
        })
        .collect();
    ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (low, high) = ((stated - within_gpm(stated)).max(0.0), stated + within_gpm(stated));
    let wanted = problem.terms.reliability;
    let share = |rest: &Crew, gpm: f64| share_held(rest, spread, start_s(rest), gpm, REPLICATIONS);
    let failing = ranked.iter().find(|(bound, _, rest)| *bound < low || share(rest, low) < wanted);
    let stopping = ranked.iter().find(|(bound, _, rest)| *bound <= high || share(rest, high) < wanted);
    let name = |which: Option<&(f64, &str, Crew)>| which.map_or("nobody", |(_, id, _)| id).to_string();
    found.add(
        "flow.one_lost",
        Some(number),
        failing.is_none() && stopping.is_some() && stated <= option.said.sustained_flow_gpm + 0.001,
        format!(
            "stated {stated} gpm; {low:.0} gpm fails without {}, {high:.0} gpm without {}",
            name(failing),
            name(stopping)
        ),
    );
}

/// The greatest draw held in the wanted share of replications, below a bound, to a gallon.
#[cfg(test)]
pub fn greatest_gpm(crew: &Crew, spread: &Spread, wanted: f64, bound: f64) -> f64 {
    let (mut low, mut high) = (0.0, bound);
    while high - low > 1.0 {
        let middle = (low + high) / 2.0;
        if share_held(crew, spread, start_s(crew), middle, REPLICATIONS) >= wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}
