//! Alternative supply credit: what a shuttle is worth as a water supply to an insurance rating.

use super::{BadInput, Checked, not_negative, within};
use crate::units::{GallonsPerMinute, Seconds};
use serde::Serialize;

/// A flow held from one time on, until the next step begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SupplyStep {
    /// Counted from the arrival of the first-due engine.
    pub from: Seconds,
    pub flow: GallonsPerMinute,
}

/// Least flow that earns credit, how soon it must flow, how soon a higher one must, and how long
/// either must be held (ISO Fire Suppression Rating Schedule).
pub const CREDIT_LEAST: GallonsPerMinute = GallonsPerMinute(250.0);
pub const CREDIT_START: Seconds = Seconds(5.0 * 60.0);
pub const CREDIT_HIGHER_START: Seconds = Seconds(15.0 * 60.0);
pub const CREDIT_HELD: Seconds = Seconds(2.0 * 3_600.0);

/// The flow that earns credit; zero for none.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Credit {
    pub flow: GallonsPerMinute,
    pub method: &'static str,
    pub caution: &'static str,
}

impl Credit {
    fn of(flow: GallonsPerMinute) -> Credit {
        Credit {
            flow,
            method: "alternative supply credit (ISO Fire Suppression Rating Schedule)",
            caution: "Credit rests on drills and a fleet that an evaluator accepts, not on a plan",
        }
    }
}

/// Alternative supply credit: 250 gpm within 5 min of the first-due arrival, held for 2 h without
/// a break; a higher rate counts if reached within 15 min and held for 2 h from then (ISO Fire
/// Suppression Rating Schedule; that the two hours of a higher rate start when it is reached is
/// our reading). `ends` is when the last step ends.
/// Errors: steps out of order; negative or unusable numbers.
pub fn alternative_supply_credit(steps: &[SupplyStep], ends: Seconds) -> Checked<Credit> {
    let mut last = 0.0;
    for step in steps {
        not_negative("supply step (gpm)", step.flow.get())?;
        not_negative("supply step (s)", step.from.get())?;
        if step.from.get() < last {
            return Err(BadInput::new(
                "supply step (s)",
                step.from.get(),
                "give the steps in the order of time",
            ));
        }
        last = step.from.get();
    }
    within("end of the supply (s)", ends.get(), last..=1e9, "give an end after the last step")?;
    // Least flow over the two hours from each step's start that is soon enough.
    let held = |soon: Seconds| {
        let starts = steps.iter().enumerate().filter(|(_, s)| s.from <= soon && s.from + CREDIT_HELD <= ends);
        let least = starts.map(|(i, start)| {
            let until = start.from + CREDIT_HELD;
            steps[i..].iter().take_while(|s| s.from < until).fold(start.flow, |low, s| low.min(s.flow))
        });
        least.fold(GallonsPerMinute::ZERO, GallonsPerMinute::max)
    };
    let earned = held(CREDIT_START) >= CREDIT_LEAST;
    Ok(Credit::of(if earned { held(CREDIT_HIGHER_START) } else { GallonsPerMinute::ZERO }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(minutes: f64, gpm: f64) -> SupplyStep {
        SupplyStep { from: Seconds::from_minutes(minutes), flow: GallonsPerMinute(gpm) }
    }

    #[test]
    fn credit_is_for_what_is_held() {
        let credit = |steps: &[SupplyStep], minutes| {
            alternative_supply_credit(steps, Seconds::from_minutes(minutes)).unwrap().flow.get()
        };
        assert_eq!(credit(&[step(5.0, 250.0)], 125.0), 250.0);
        assert_eq!(credit(&[step(5.0, 250.0)], 124.9), 0.0);
        assert_eq!(credit(&[step(5.1, 250.0)], 300.0), 0.0);
        assert_eq!(credit(&[step(5.0, 249.0), step(10.0, 900.0)], 300.0), 0.0);
        assert_eq!(credit(&[step(4.0, 250.0), step(15.0, 600.0)], 300.0), 600.0);
        assert_eq!(credit(&[step(4.0, 250.0), step(15.1, 600.0)], 300.0), 250.0);
        // A dip breaks it, for the higher rate and for the least.
        assert_eq!(credit(&[step(4.0, 250.0), step(15.0, 600.0), step(60.0, 400.0)], 300.0), 400.0);
        assert_eq!(credit(&[step(4.0, 250.0), step(60.0, 0.0), step(61.0, 900.0)], 300.0), 0.0);
        assert_eq!(credit(&[], 300.0), 0.0);
        assert!(alternative_supply_credit(&[step(5.0, 1.0), step(4.0, 1.0)], Seconds(9e3)).is_err());
        assert!(alternative_supply_credit(&[step(5.0, f64::NAN)], Seconds(9e3)).is_err());
        assert!(alternative_supply_credit(&[step(f64::INFINITY, 1.0)], Seconds(9e3)).is_err());
    }
}
