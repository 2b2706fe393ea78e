//! The portable tanks against time, for the chart of the page: the run with every time its mean, cut
//! into whole minutes.

use crate::plan::answer::PlanOption;
use crate::shuttle::TimePoint;
use serde_json::{Value, json};

const STEP_S: f64 = 60.0;

/// One row a minute with the columns `t_s` (end of the minute, from dispatch), `offered_gpm` and
/// `drawn_gpm` (means over the minute) and `level_gal` (at its end); and the tankers as they arrive.
pub fn json(option: &PlanOption) -> Value {
    let tenth = |value: f64| (value * 10.0).round() / 10.0;
    let minutes = minutes(&option.sustained.timeline);
    let column = |of: &dyn Fn(&Minute) -> f64| minutes.iter().map(|m| tenth(of(m))).collect::<Vec<f64>>();
    let arrivals = option.sustained.arrivals.iter().filter_map(|arrival| {
        let tanker = option.shuttle.tankers.get(arrival.tanker)?;
        Some(
            json!({ "t_s": tenth(arrival.time.0), "tanker": tanker.name, "load_gal": tenth(arrival.load.0) }),
        )
    });
    json!({
        "option": option.number,
        "t_s": (1..=minutes.len()).map(|i| i as f64 * STEP_S).collect::<Vec<f64>>(),
        "offered_gpm": column(&|m| m.offered_gpm),
        "drawn_gpm": column(&|m| m.drawn_gpm),
        "level_gal": column(&|m| m.level_gal),
        "tank_room_gal": tenth(option.shuttle.dump.tank_room.0),
        "arrivals": arrivals.collect::<Vec<Value>>(),
    })
}

#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Minute {
    offered_gpm: f64,
    drawn_gpm: f64,
    level_gal: f64,
}

/// Between two points every flow is constant, so the sums are exact.
fn minutes(points: &[TimePoint]) -> Vec<Minute> {
    let end_s = points.last().map_or(0.0, |p| p.time.0);
    let mut minutes = vec![Minute::default(); (end_s / STEP_S) as usize];
    for pair in points.windows(2) {
        let (from, until_s) = (&pair[0], pair[1].time.0);
        let mut at_s = from.time.0;
        while at_s < until_s {
            // The moment at which a minute ends belongs to the next.
            let index = (at_s / STEP_S + 1e-9) as usize;
            let Some(minute) = minutes.get_mut(index) else { break };
            let stop_s = until_s.min((index + 1) as f64 * STEP_S);
            let share = (stop_s - at_s) / STEP_S;
            minute.offered_gpm += from.inflow.0 * share;
            minute.drawn_gpm += from.drawn.0 * share;
            let net_gpm = from.inflow.0 - from.drawn.0;
            minute.level_gal = (from.level.0 + net_gpm * (stop_s - from.time.0) / 60.0).max(0.0);
            at_s = stop_s;
        }
    }
    minutes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Gallons, GallonsPerMinute, Seconds};

    /// 600 gpm from 30 s to 90 s, 300 gpm drawn from 60 s on. First minute: 600 · 30/60 = 300 gpm offered,
    /// 300 gal at its end. Second: 300 gpm offered, 300 drawn, so again 300 gal.
    #[test]
    fn minutes_are_cut_exactly() {
        let point = |s: f64, level: f64, inflow: f64, drawn: f64| TimePoint {
            time: Seconds(s),
            level: Gallons(level),
            inflow: GallonsPerMinute(inflow),
            drawn: GallonsPerMinute(drawn),
        };
        let run = [
            point(0.0, 0.0, 0.0, 0.0),
            point(30.0, 0.0, 600.0, 0.0),
            point(60.0, 300.0, 600.0, 300.0),
            point(90.0, 450.0, 0.0, 300.0),
            point(130.0, 250.0, 0.0, 0.0),
        ];
        let cut = minutes(&run);
        let want = [(300.0, 0.0, 300.0), (300.0, 300.0, 300.0)];
        assert_eq!(cut.len(), want.len());
        for (minute, (offered, drawn, level)) in cut.iter().zip(want) {
            assert!((minute.offered_gpm - offered).abs() < 1e-9, "{minute:?}");
            assert!((minute.drawn_gpm - drawn).abs() < 1e-9, "{minute:?}");
            assert!((minute.level_gal - level).abs() < 1e-9, "{minute:?}");
        }
    }
}
