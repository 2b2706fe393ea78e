//! What is said of a dump site beside its flow: the place asked for, the relay, the waiting line.

use crate::place::Place;
use crate::plan::Problem;
use crate::verify::answer::PlanOption;
use crate::verify::hose;
use crate::verify::{ROUNDED, Verification};

/// Farthest before the dump site that tankers wait, and the most pumpers in a line.
const FARTHEST_M: f64 = 1_000.0;
const MOST_PUMPERS: u32 = 3;

pub fn check(problem: &Problem, option: &PlanOption, found: &mut Verification) {
    pinned(problem, option, found);
    relay(problem, option, found);
    staging(option, found);
}

/// A pinned dump site lies on the road by the place asked for, no farther than the way a place is put
/// on the road at all.
fn pinned(problem: &Problem, option: &PlanOption, found: &mut Verification) {
    let Some(place) = problem.dump else { return };
    let off_m = place.distance(option.dump).0;
    let detail = format!("{off_m:.1} m from the place asked for");
    found.add("dump.pinned", Some(option.number), off_m <= 1_000.0, detail);
}

/// n pumpers at equal distances make the line carry √(n + 1) times as much, if their pumps do; uphill
/// more, as each lifts only its part.
fn relay(problem: &Problem, option: &PlanOption, found: &mut Verification) {
    let (said, number) = (&option.said, option.number);
    let Some(flow) = said.flow_with_relay_gpm else {
        found.add("dump.relay", Some(number), said.relay_pumpers == 0, "a relay without its flow");
        return;
    };
    let alone = said.supply_line_flow_gpm;
    let parts = f64::from(said.relay_pumpers + 1);
    let rise_ft = hose::rise_ft(problem, option).unwrap_or(0.0);
    let lifted = hose::left_psi(problem, rise_ft / parts) / hose::left_psi(problem, rise_ft).max(1e-9);
    let most = alone * (parts * lifted).sqrt();
    let largest = problem.fleet.pumpers.iter().map(|p| p.rated.0).fold(0.0, f64::max);
    let full = (flow - most).abs() <= 2.0 * ROUNDED + most * 1e-3;
    // Below the full flow it is a pump that holds it back.
    let held = flow < most && flow <= largest + ROUNDED;
    let count = (1..=MOST_PUMPERS).contains(&said.relay_pumpers);
    let wanted = alone < said.needed_flow_gpm && flow > alone;
    found.add(
        "dump.relay",
        Some(number),
        count && wanted && (full || held),
        format!("{} pumpers: stated {flow}, {most:.1} by the square root", said.relay_pumpers),
    );
}

/// The line stands on a loaded leg, as far before the dump site as stated, and holds those who wait.
fn staging(option: &PlanOption, found: &mut Verification) {
    let Some((said, place)) = &option.staging else { return };
    let number = option.number;
    let waiting = option.said.tankers.saturating_sub(option.said.dump_berths as usize);
    let count = said.tankers == waiting;
    found.add("dump.staging", Some(number), count, format!("{} tankers of {waiting}", said.tankers));
    let lines = option.loops.iter().filter_map(|l| l.loaded.as_ref()).map(|(_, line)| line);
    let before = lines.flat_map(|line| before_end(line, *place)).map(|m| (m - said.before_dump_m).abs());
    let off_m = before.fold(f64::INFINITY, f64::min);
    // A line's points are rounded to a centimetre each.
    let near = off_m <= 1.0 && said.before_dump_m <= FARTHEST_M;
    found.add("dump.staging", Some(number), near, format!("{off_m:.2} m off its distance on a leg"));
    // Shorter than this no truck is.
    let room =
        said.room_m >= 4.0 * said.tankers as f64 && said.before_dump_m + said.room_m <= FARTHEST_M + 1.0;
    found.add("dump.staging", Some(number), room, format!("{} m for {} tankers", said.room_m, said.tankers));
}

/// Metres from a place on a line to the line's end, for each time that the line passes it: a leg that
/// turns round does so twice.
fn before_end(line: &[Place], place: Place) -> Vec<f64> {
    let (mut after, mut found) = (0.0, Vec::new());
    for pair in line.windows(2).rev() {
        let (whole, to_end) = (pair[0].distance(pair[1]).0, place.distance(pair[1]).0);
        if pair[0].distance(place).0 + to_end <= whole + 0.1 {
            found.push(after + to_end);
        }
        after += whole;
    }
    found
}
