//! What meeting on narrow road costs on the average, without simulating.
//!
//! A tanker that comes to a lane's mouth finds tanker j in it, oncoming, with probability t/C: j
//! spends t of its cycle C driving the lane that way, and phases are taken as mixed, each moment of
//! j's cycle as likely as any other. When it does, half of j's time is left on the average. So one
//! passage meets Σ t/C tankers and waits Σ t²/2C, the sums over all others. C has the waits in it, its
//! own and so everybody's: they are solved for together ([`expected_meetings`]).
//!
//! Known limits, measured in `tests/shuttle_meetings.rs`:
//! - Phases must mix. Tankers whose times do not vary fall into step: after the first meeting they
//!   come to the lane as they left it, and wait every lap or never.
//! - Who waits behind others in the line is not counted. While a passage finds an oncoming tanker one
//!   time in ten the formula is within 5 %; at one in four the true wait is 1.2 times it, and where
//!   many tankers fill a long lane several times: twelve that drive 240 s of a 1,200 s cycle in it
//!   wait 4.6 times as long, for then the lane sets the pace.
//! - With the default spread, a tenth on driving and a quarter on handling, phases mix slowly. Up to
//!   six tankers and a twentieth of the cycle in the lane the true wait is 0.8 to 1.1 of the formula's;
//!   of two tankers with a tenth of the cycle in it, half.
//! - Two tankers keep out of each other's way once they have met: with the lane a fifth of the cycle
//!   the true wait is 0.8 of the formula's.

use super::cycle::{Ceiling, ceiling_unchecked, cycle};
use super::lane::Passage;
use super::validate::{check, check_period};
use super::{Shuttle, ShuttleError, Tanker};
use crate::units::Seconds;
use serde::Serialize;

/// Expected meetings of one tanker, per lap.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Meetings {
    /// Oncoming tankers found in a lane, which is waited for; not those that wait for this one.
    pub met: f64,
    /// Waiting at the mouths of all lanes together.
    pub wait: Seconds,
    /// The round trip with that waiting, and without any for berths or full tanks.
    pub cycle: Seconds,
    /// Of the waiting, at each passage of the empty leg.
    pub empty: Vec<Seconds>,
    /// The same for the loaded leg.
    pub loaded: Vec<Seconds>,
}

/// Expected meetings of each tanker, in the order of [`Shuttle::tankers`].
///
/// The waits W(C) = Σ t²/2C and the cycles C = C₀ + W(C) are found by putting one into the other. Each
/// W falls as any C grows, and with x = ln C the step from x to ln(C₀ + W) changes by at most
/// W/(C₀ + W) < 1 of what x changes (the terms of W are each a constant times e⁻ˣ, so its slopes add up
/// to W). On C ≥ C₀ that is at most q = W(C₀)/(C₀ + W(C₀)): a contraction, so there is one solution and
/// the rounds come q times nearer each. A shuttle that lost half of its time by this reckoning
/// would take 40 rounds to a millionth of a millionth, a real one takes five.
pub fn expected_meetings(shuttle: &Shuttle) -> Result<Vec<Meetings>, ShuttleError> {
    check(shuttle)?;
    Ok(expected_unchecked(shuttle))
}

const MOST_ROUNDS: usize = 200;
/// Relative change of a cycle at which rounds end.
const SETTLED: f64 = 1e-12;

pub(super) fn expected_unchecked(shuttle: &Shuttle) -> Vec<Meetings> {
    let plain_s: Vec<f64> =
        shuttle.tankers.iter().map(|t| cycle(t, &shuttle.fills[t.fill]).total().0).collect();
    let mut cycles_s = plain_s.clone();
    for _ in 0..MOST_ROUNDS {
        let lanes = Traffic::of(shuttle, &cycles_s);
        let mut change: f64 = 0.0;
        let mut next_s = Vec::with_capacity(cycles_s.len());
        for (i, tanker) in shuttle.tankers.iter().enumerate() {
            let waits = passages(tanker).map(|p| lanes.against(i, p).wait_s);
            let around_s = plain_s[i] + waits.sum::<f64>();
            change = change.max((around_s / cycles_s[i] - 1.0).abs());
            next_s.push(around_s);
        }
        cycles_s = next_s;
        if change < SETTLED {
            break;
        }
    }
    let lanes = Traffic::of(shuttle, &cycles_s);
    shuttle
        .tankers
        .iter()
        .enumerate()
        .map(|(i, tanker)| {
            let at = |leg: &[Passage]| leg.iter().map(|p| Seconds(lanes.against(i, p).wait_s)).collect();
            let all = passages(tanker).map(|p| lanes.against(i, p));
            let (met, wait_s) = all.fold((0.0, 0.0), |sum, m| (sum.0 + m.met, sum.1 + m.wait_s));
            Meetings {
                met,
                wait: Seconds(wait_s),
                cycle: Seconds(plain_s[i] + wait_s),
                empty: at(&tanker.empty_lanes),
                loaded: at(&tanker.loaded_lanes),
            }
        })
        .collect()
}

pub(super) fn passages(tanker: &Tanker) -> impl Iterator<Item = &Passage> {
    tanker.empty_lanes.iter().chain(&tanker.loaded_lanes)
}

/// What one passage meets.
#[derive(Clone, Copy, Default)]
struct Met {
    met: f64,
    wait_s: f64,
}

/// What each tanker adds to each lane, forward and backward.
struct Traffic {
    lanes: usize,
    /// By tanker, lane and direction.
    of: Vec<Met>,
}

impl Traffic {
    fn of(shuttle: &Shuttle, cycles_s: &[f64]) -> Traffic {
        let lanes = shuttle.lanes.len();
        let mut of = vec![Met::default(); shuttle.tankers.len() * lanes * 2];
        for (i, tanker) in shuttle.tankers.iter().enumerate() {
            for p in passages(tanker) {
                let slot = &mut of[(i * lanes + p.lane) * 2 + usize::from(p.forward)];
                slot.met += p.take.0 / cycles_s[i];
                slot.wait_s += p.take.0 * p.take.0 / (2.0 * cycles_s[i]);
            }
        }
        Traffic { lanes, of }
    }

    /// What a tanker meets on one of its passages: everybody else's way through it from the other end.
    fn against(&self, tanker: usize, passage: &Passage) -> Met {
        let mut sum = Met::default();
        for other in (0..self.of.len() / (self.lanes * 2)).filter(|other| *other != tanker) {
            let oncoming = self.of[(other * self.lanes + passage.lane) * 2 + usize::from(!passage.forward)];
            sum.met += oncoming.met;
            sum.wait_s += oncoming.wait_s;
        }
        sum
    }
}

/// The closed form with the expected waits on narrow road in every cycle: what to expect where nothing
/// is simulated. No bound: [`super::ceiling`] is one.
pub fn expected_flow(shuttle: &Shuttle, period: Seconds) -> Result<Ceiling, ShuttleError> {
    check(shuttle)?;
    check_period("the operational period", period.0)?;
    let mut slowed = shuttle.clone();
    for (tanker, meetings) in slowed.tankers.iter_mut().zip(expected_unchecked(shuttle)) {
        tanker.loaded_travel = tanker.loaded_travel + meetings.wait;
    }
    Ok(ceiling_unchecked(&slowed, period))
}

/// Lanes of which every passage takes less are not worth an event: two tankers hardly ever meet there.
const SHORT_LANE: Seconds = Seconds(5.0);
/// The run takes time by the passage; beyond this many lanes the rest cost next to nothing each.
const MOST_LANES: usize = 12;

/// The same shuttle with only the lanes worth simulating: the twelve with the greatest expected wait,
/// and none that is driven through in less than five seconds. What the others are expected to cost is
/// put on the legs, to the millisecond, so that nothing is dropped.
pub fn worth_simulating(shuttle: &Shuttle) -> Result<Shuttle, ShuttleError> {
    let expected = expected_meetings(shuttle)?;
    let mut wait_s = vec![0.0; shuttle.lanes.len()];
    let mut longest_s = vec![0.0_f64; shuttle.lanes.len()];
    for (tanker, meetings) in shuttle.tankers.iter().zip(&expected) {
        for (passage, wait) in passages(tanker).zip(meetings.empty.iter().chain(&meetings.loaded)) {
            wait_s[passage.lane] += wait.0;
            longest_s[passage.lane] = longest_s[passage.lane].max(passage.take.0);
        }
    }
    let mut kept: Vec<usize> = (0..wait_s.len()).filter(|l| longest_s[*l] >= SHORT_LANE.0).collect();
    kept.sort_by(|a, b| wait_s[*b].total_cmp(&wait_s[*a]));
    kept.truncate(MOST_LANES);
    kept.sort_unstable();
    let mut out = shuttle.clone();
    out.lanes = kept.iter().map(|l| shuttle.lanes[*l].clone()).collect();
    for (tanker, meetings) in out.tankers.iter_mut().zip(&expected) {
        let legs = [
            (&mut tanker.empty_lanes, &mut tanker.empty_travel, &meetings.empty),
            (&mut tanker.loaded_lanes, &mut tanker.loaded_travel, &meetings.loaded),
        ];
        for (lanes, travel, waits) in legs {
            let mut late = Seconds::ZERO;
            let mut left = Vec::with_capacity(lanes.len());
            for (passage, wait) in lanes.iter().zip(waits) {
                match kept.binary_search(&passage.lane) {
                    Ok(lane) => left.push(Passage { lane, after: passage.after + late, ..*passage }),
                    Err(_) => late = late + Seconds((wait.0 * 1000.0).round() / 1000.0),
                }
            }
            *lanes = left;
            *travel = *travel + late;
        }
    }
    Ok(out)
}
