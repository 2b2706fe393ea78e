//! The flows: cycle and ceiling by arithmetic, sustained flow by an own simulation.

use crate::plan::Problem;
use crate::verify::answer::PlanOption;
use crate::verify::ceiling::{joint_gpm, separate_gpm};
use crate::verify::crew::{Crew, Truck};
use crate::verify::narrow::waits_s;
use crate::verify::simulate::{Spread, share_held};
use crate::verify::{ROUNDED, Verification};

/// The ceiling is the same programme on figures rounded to a tenth.
const CEILING_WITHIN: f64 = 0.01;
/// Lanes are found to the cell, a quarter of a metre, at both ends.
const WAIT_WITHIN: f64 = 0.01;
/// Two simulations with other dice, other replications and other steps: measured differences stay
/// below half of this on the demonstration county.
const FLOW_WITHIN: f64 = 0.06;
const FLOW_WITHIN_GPM: f64 = 12.0;
/// Enough to place the 90 % quantile within about two hundredths.
const REPLICATIONS: u32 = 200;
/// Fewer where every crew short of one tanker is run: within about three hundredths.
const REPLICATIONS_ONE_LOST: u32 = 100;

pub fn check(problem: &Problem, option: &PlanOption, crew: &Crew, found: &mut Verification) {
    let (number, said) = (option.number, &option.said);
    found.near("dump.berths", number, "berths", said.dump_berths.into(), crew.dump_berths.into(), 0.0);
    found.near("dump.room", number, "gal", said.tank_room_gal, crew.room_gal, ROUNDED);
    let waits_s = waits_s(crew);
    for (i, of) in option.loops.iter().enumerate() {
        let on_loop: Vec<usize> = (0..crew.trucks.len()).filter(|t| crew.trucks[*t].on_loop == i).collect();
        let mean = |value: &dyn Fn(usize) -> f64| {
            on_loop.iter().map(|t| value(*t)).sum::<f64>() / on_loop.len().max(1) as f64
        };
        let wait_s = mean(&|t| waits_s[t]);
        let cycle_s = mean(&|t| crew.trucks[t].cycle_s(&crew.sources)) + wait_s;
        let within = ROUNDED + WAIT_WITHIN * wait_s;
        found.near("loop.meeting_wait", number, &of.title(), of.said.meeting_wait_s, wait_s, within);
        found.near("cycle.time", number, &of.title(), of.said.cycle_s, cycle_s, ROUNDED + within);
    }
    ceiling(option, crew, found);
    let start_s = start_s(crew);
    times(option, crew, start_s, found);
    let words = serde_json::to_value(problem.spread).unwrap_or_default();
    let spread = match Spread::read(&words) {
        Ok(spread) => spread,
        Err(cause) => return found.add("flow.sustained", Some(number), false, cause),
    };
    sustained(problem, option, crew, &spread, found);
    held_from(problem, option, crew, &spread, found);
    one_lost(problem, option, crew, &spread, found);
}

fn ceiling(option: &PlanOption, crew: &Crew, found: &mut Verification) {
    let (number, stated) = (option.number, option.said.ceiling_flow_gpm);
    // The bound of all limits together is a little tighter than the least of each alone.
    let (low, high) = (joint_gpm(crew, crew.draw_gpm.0), separate_gpm(crew, crew.draw_gpm.1));
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

/// When the first water flows, and when the last tanker has unloaded its first load, if every time
/// is its mean, tankers come to the berths in order of arrival, and the tanks have room for all.
fn first_loads_s(crew: &Crew) -> (f64, f64) {
    let mut order: Vec<&Truck> = crew.trucks.iter().collect();
    order.sort_by(|a, b| a.arrival_s.total_cmp(&b.arrival_s));
    let mut free = vec![0.0_f64; crew.dump_berths.max(1) as usize];
    let (mut first, mut last) = (f64::INFINITY, 0.0_f64);
    for truck in order {
        free.sort_by(f64::total_cmp);
        let begin = free[0].max(truck.arrival_s);
        first = first.min(begin + truck.dump_handling_s);
        free[0] = begin + truck.dump_s();
        last = last.max(free[0]);
    }
    (first, last)
}

/// The start rule: the whole draw begins when all have unloaded once.
fn start_s(crew: &Crew) -> f64 {
    first_loads_s(crew).1
}

/// When the first water flows.
pub fn first_water_s(crew: &Crew) -> f64 {
    first_loads_s(crew).0
}

/// The answer looks for the earliest start in steps of a quarter of a minute from the first water.
const START_STEP_S: f64 = 15.0;

fn times(option: &PlanOption, crew: &Crew, start_s: f64, found: &mut Verification) {
    let (number, said) = (option.number, &option.said);
    let first = first_water_s(crew);
    found.near("time.first_water", number, "s", said.first_water_s, first, ROUNDED + 0.01);
    let from = said.sustained_from_s;
    found.add(
        "time.sustained_from",
        Some(number),
        from >= first - 0.1 && from <= start_s + START_STEP_S + 0.1,
        format!("stated {from} s, first water {first:.1} s, all have unloaded at {start_s:.1} s"),
    );
}

fn within_gpm(flow: f64) -> f64 {
    (FLOW_WITHIN * flow).max(FLOW_WITHIN_GPM)
}

fn sustained(problem: &Problem, option: &PlanOption, crew: &Crew, spread: &Spread, found: &mut Verification) {
    let (number, said) = (option.number, &option.said);
    let (stated, ceiling) = (said.sustained_flow_gpm, said.ceiling_flow_gpm);
    found.add(
        "flow.below_ceiling",
        Some(number),
        stated <= ceiling + 0.001,
        format!("sustained {stated} gpm, ceiling {ceiling} gpm"),
    );
    let share = |gpm: f64| share_held(crew, spread, 0.0, gpm, REPLICATIONS);
    let (low, high) = (stated - within_gpm(stated), stated + within_gpm(stated));
    let (wanted, at_low) = (problem.terms.reliability, share(low.max(0.0)));
    let within = share_within(problem, REPLICATIONS);
    // A flow as high as the ceiling cannot be beaten, however much the tanks hold.
    let capped = high >= ceiling;
    let at_high = if capped { 0.0 } else { share(high) };
    found.add(
        "flow.sustained",
        Some(number),
        at_low >= wanted - within && at_high < wanted + within,
        format!(
            "stated {stated} gpm; {low:.0} gpm holds in {:.0} % of the replications, {high:.0} gpm {}",
            at_low * 100.0,
            if capped { "is over the ceiling".into() } else { format!("in {:.0} %", at_high * 100.0) }
        ),
    );
}

/// The answer finds its moments with no more replications than this.
const MOMENT_REPLICATIONS: u32 = 64;
/// Steps and dice of two simulations place a moment no better than this.
const MOMENT_WITHIN_S: f64 = 30.0;

/// From the stated time on, the needed flow (the sustained one where that is less), give or take,
/// holds for the whole period. That it could be held even earlier is no error on the wrong side.
fn held_from(problem: &Problem, option: &PlanOption, crew: &Crew, spread: &Spread, found: &mut Verification) {
    let (number, said) = (option.number, &option.said);
    let flow = problem.need.0.min(said.sustained_flow_gpm);
    let flow = flow - within_gpm(flow);
    let from_s = said.sustained_from_s.max(0.0) + MOMENT_WITHIN_S;
    let share = share_held(crew, spread, start_s(crew) - from_s, flow.max(0.0), REPLICATIONS);
    found.add(
        "time.held",
        Some(number),
        share >= problem.terms.reliability - share_within(problem, MOMENT_REPLICATIONS),
        format!("{flow:.0} gpm from {from_s:.0} s on holds in {:.0} % of the replications", share * 100.0),
    );
}

/// Twice the standard error of the difference between two shares: the answer's, of its replications, and
/// that found here. An answer from few replications is known no better than that.
fn share_within(problem: &Problem, replications: u32) -> f64 {
    let wanted = problem.terms.reliability;
    let both = 1.0 / f64::from(problem.terms.replications.max(1)) + 1.0 / f64::from(replications);
    2.0 * (wanted * (1.0 - wanted) * both).sqrt()
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
            (separate_gpm(&rest, crew.draw_gpm.1).unwrap_or(0.0), truck.id.as_str(), rest)
        })
        .collect();
    ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (low, high) = ((stated - within_gpm(stated)).max(0.0), stated + within_gpm(stated));
    let wanted = problem.terms.reliability;
    let share = |rest: &Crew, gpm: f64| share_held(rest, spread, 0.0, gpm, REPLICATIONS_ONE_LOST);
    let within = share_within(problem, REPLICATIONS_ONE_LOST);
    let failing = ranked.iter().find(|(bound, _, rest)| *bound < low || share(rest, low) < wanted - within);
    // The whole crew holds no more than its own flow, so a crew short of one does not either; unless
    // trucks are in each other's way on narrow road.
    let whole = crew.lanes == 0 && option.said.sustained_flow_gpm <= high;
    let stopping =
        ranked.iter().find(|(bound, _, rest)| whole || *bound <= high || share(rest, high) < wanted + within);
    let no_more = crew.lanes > 0 || stated <= option.said.sustained_flow_gpm + 0.001;
    let name = |which: Option<&(f64, &str, Crew)>| which.map_or("nobody", |(_, id, _)| id).to_string();
    found.add(
        "flow.one_lost",
        Some(number),
        failing.is_none() && stopping.is_some() && no_more,
        format!(
            "stated {stated} gpm; {low:.0} gpm fails without {}, {high:.0} gpm without {}",
            name(failing),
            name(stopping)
        ),
    );
}
