//! Water without roads: what a hose lay carries, what a pump lifts, what a source yields, what
//! moves between portable tanks and how much a fire needs.
//!
//! Pure functions over the quantities of [`crate::units`]. Every input is checked: a number that
//! is missing, negative, not finite or absurd is a [`BadInput`] with a remedy, and no result is
//! ever infinite or NaN. Where published sources disagree the lower capacity or the higher need
//! is the default and the other a setting.
//!
//! How sure each formula is stands beside it: the publication by name; "from memory of …" where
//! it was not re-read; "common practice, no source" where no publication states it.

pub mod credit;
pub mod demand;
pub mod draft;
pub mod dry_hydrant;
pub mod hose;
pub mod hydrant;
pub mod relay;
pub mod rig;
pub mod source;
pub mod transfer;

use crate::finding::{Code, Finding, Where};
use std::fmt;
use std::ops::RangeInclusive;

/// A number that cannot be used: what it is, what was found, and what to do about it.
#[derive(Clone, Debug, PartialEq)]
pub struct BadInput {
    pub what: &'static str,
    pub found: f64,
    pub remedy: String,
}

impl BadInput {
    pub(crate) fn new(what: &'static str, found: f64, remedy: impl Into<String>) -> Self {
        BadInput { what, found, remedy: remedy.into() }
    }
    /// The same as a finding of the code `input-invalid`.
    pub fn finding(&self, place: Where) -> Finding {
        let cause = format!("{} is {}", self.what, self.found);
        Finding::new(Code::InputInvalid, place, cause, self.remedy.clone())
    }
}

impl fmt::Display for BadInput {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} is {}; {}", self.what, self.found, self.remedy)
    }
}
impl std::error::Error for BadInput {}

/// What this floor's functions return.
pub type Checked<T> = Result<T, BadInput>;

// Between these bounds no product or power in this floor can overflow, and nothing real lies
// outside them: the smallest is a drop, the largest a reservoir.
const SMALLEST: f64 = 1e-6;
const LARGEST: f64 = 1e9;

/// Greater than zero and no larger than anything built.
pub(crate) fn positive(what: &'static str, value: f64) -> Checked<f64> {
    within(what, value, SMALLEST..=LARGEST, "give a number greater than zero")
}

/// Zero or more.
pub(crate) fn not_negative(what: &'static str, value: f64) -> Checked<f64> {
    within(what, value, 0.0..=LARGEST, "give zero or a number greater than zero")
}

/// Either sign, such as an elevation.
pub(crate) fn signed(what: &'static str, value: f64) -> Checked<f64> {
    within(what, value, -LARGEST..=LARGEST, "give a finite number")
}

/// A share of a whole.
pub(crate) fn share(what: &'static str, value: f64) -> Checked<f64> {
    within(what, value, 0.0..=1.0, "give a share from 0 to 1")
}

pub(crate) fn within(
    what: &'static str,
    value: f64,
    range: RangeInclusive<f64>,
    remedy: &str,
) -> Checked<f64> {
    // NaN is in no range, so this refuses it too.
    if range.contains(&value) { Ok(value) } else { Err(BadInput::new(what, value, remedy)) }
}

/// A number of things standing at one place; bounded so that a slip of the keyboard is seen.
pub(crate) fn count(what: &'static str, value: u32, least: u32) -> Checked<u32> {
    const MOST: u32 = 100;
    if (least..=MOST).contains(&value) {
        Ok(value)
    } else {
        Err(BadInput::new(what, f64::from(value), format!("give a whole number from {least} to {MOST}")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bad_number_says_what_and_the_remedy() {
        let error = positive("hose length (ft)", f64::NAN).unwrap_err();
        assert_eq!(error.to_string(), "hose length (ft) is NaN; give a number greater than zero");
        let finding = error.finding(Where::file("fleet.toml").row(3));
        assert_eq!(finding.code, Code::InputInvalid);
        assert!(finding.to_string().contains("fleet.toml, row 3"));
    }

    #[test]
    fn bounds_refuse_what_no_fire_ground_has() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 1e300] {
            assert!(
                positive("x", bad).is_err() && not_negative("x", bad).is_err() && share("x", bad).is_err()
            );
        }
        assert!(positive("x", 0.0).is_err() && positive("x", 1e-300).is_err());
        assert!(not_negative("x", 0.0).is_ok() && signed("x", -30.0).is_ok());
        assert!(
            count("tanks", 0, 1).is_err() && count("tanks", 101, 1).is_err() && count("tanks", 4, 1).is_ok()
        );
    }
}
