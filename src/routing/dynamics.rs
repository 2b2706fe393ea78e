//! What a truck does in bends and on grades, as the speed table has it.

use crate::units::{KILOGRAMS_PER_POUND, Kilograms, MetresPerSecond};
use crate::vehicle::Load;
use serde::Deserialize;

/// What a truck does in bends: m/s².
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve {
    lateral_full: f64,
    lateral_empty: f64,
    pub brake: f64,
    pub accelerate: f64,
}

impl Curve {
    /// The lateral acceleration a truck is driven to in a bend.
    pub fn lateral(&self, load: Load) -> f64 {
        match load {
            Load::Full => self.lateral_full,
            Load::Empty => self.lateral_empty,
        }
    }
}

/// What a truck does on grades.
#[derive(Clone, Debug, PartialEq)]
pub struct Grade {
    rolling_percent: f64,
    power_at_wheels: f64,
    /// From so many per cent downhill, no faster than this; steeper ones later and slower.
    downhill: Vec<(f64, MetresPerSecond)>,
}

/// Horsepower = pounds x per cent of grade x miles per hour / 37,500: 550 ft·lbf/s a horsepower, and
/// 88 ft/min a mile per hour.
const POUND_PERCENT_MPH_PER_HORSEPOWER: f64 = 37_500.0;

impl Grade {
    /// The most a grade leaves: uphill (positive) by power, downhill by policy.
    pub fn cap(&self, percent: f64, mass: Kilograms, power_hp: Option<f64>) -> Option<MetresPerSecond> {
        let resistance = percent + self.rolling_percent;
        let by_power = power_hp.filter(|_| percent > 0.0 && resistance > 0.0 && mass.0 > 0.0).map(|hp| {
            let pounds = mass.0 / KILOGRAMS_PER_POUND;
            let mph = hp * self.power_at_wheels * POUND_PERCENT_MPH_PER_HORSEPOWER / (pounds * resistance);
            MetresPerSecond::from_mph(mph)
        });
        let by_policy = self.downhill.iter().rev().find(|(from, _)| -percent >= *from).map(|(_, cap)| *cap);
        by_power.or(by_policy)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CurveFile {
    lateral_mps2: LateralFile,
    brake_mps2: f64,
    accelerate_mps2: f64,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum LateralFile {
    Word(String),
    Both(f64),
    PerLoad { full: f64, empty: f64 },
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GradeFile {
    rolling_percent: f64,
    power_at_wheels: f64,
    #[serde(default)]
    downhill: Vec<DownhillFile>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DownhillFile {
    from_percent: f64,
    cap: String,
}

impl CurveFile {
    /// `None` where curves are switched off.
    pub(super) fn check(self) -> Result<Option<Curve>, String> {
        let (full, empty) = match self.lateral_mps2 {
            LateralFile::Word(word) if word == "off" => return Ok(None),
            LateralFile::Word(word) => return Err(format!("curve.lateral_mps2 = \"{word}\" is not \"off\"")),
            LateralFile::Both(both) => (both, both),
            LateralFile::PerLoad { full, empty } => (full, empty),
        };
        if full == 0.0 && empty == 0.0 {
            return Ok(None);
        }
        let (brake, accelerate) = (self.brake_mps2, self.accelerate_mps2);
        for (key, value) in [
            ("lateral_mps2, full", full),
            ("lateral_mps2, empty", empty),
            ("brake_mps2", brake),
            ("accelerate_mps2", accelerate),
        ] {
            if !(0.1..=10.0).contains(&value) {
                return Err(format!("curve.{key} = {value} is not between 0.1 and 10 m/s²"));
            }
        }
        if full > empty {
            return Err(format!("curve.lateral_mps2: full {full} is above empty {empty}"));
        }
        Ok(Some(Curve { lateral_full: full, lateral_empty: empty, brake, accelerate }))
    }
}

impl GradeFile {
    pub(super) fn check(self) -> Result<Grade, String> {
        let (rolling, wheels) = (self.rolling_percent, self.power_at_wheels);
        if !(0.0..=10.0).contains(&rolling) {
            return Err(format!("grade.rolling_percent = {rolling} is not between 0 and 10"));
        }
        if !(wheels > 0.0 && wheels <= 1.0) {
            return Err(format!("grade.power_at_wheels = {wheels} is not between 0 and 1"));
        }
        let mut downhill: Vec<(f64, MetresPerSecond)> = Vec::new();
        for step in &self.downhill {
            let cap: MetresPerSecond = step.cap.parse().map_err(|e| format!("grade.downhill.cap: {e}"))?;
            let from = step.from_percent;
            if cap.0 < 0.1 {
                return Err(format!("grade.downhill.cap = \"{}\" is too slow to be a speed", step.cap));
            }
            if !(from > 0.0 && downhill.last().is_none_or(|last| from > last.0 && cap.0 <= last.1.0)) {
                return Err(format!("grade.downhill: {from} % does not follow as a steeper and slower step"));
            }
            downhill.push((from, cap));
        }
        Ok(Grade { rolling_percent: rolling, power_at_wheels: wheels, downhill })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::routing::speed::{BUILT_IN, SpeedTable};

    /// hp = lb x % x mph / 37,500 with 1 % rolling resistance and 85 % of 350 hp at the wheels:
    /// 297.5 x 37,500 / (50,000 x 7) = 31.9 mph at 6 %.
    #[test]
    fn power_on_grades() {
        let grade = SpeedTable::built_in().unwrap().grade.unwrap();
        let mph = |percent: f64, pounds: f64| {
            grade.cap(percent, Kilograms::from_pounds(pounds), Some(350.0)).map(|v| v.mph())
        };
        for (percent, expected) in [(6.0, 31.9), (8.0, 24.8), (10.0, 20.3)] {
            let got = mph(percent, 50_000.0).unwrap();
            assert!((got - expected).abs() < 0.05, "{percent} %: {got}");
            assert!(mph(percent, 60_000.0).unwrap() < got);
        }
        assert_eq!(grade.cap(6.0, Kilograms(20_000.0), None), None);
        assert_eq!(mph(0.0, 50_000.0), None);
        assert_eq!(mph(-4.9, 50_000.0), None);
        assert!((mph(-5.0, 50_000.0).unwrap() - 40.0).abs() < 1e-9);
        assert!((mph(-20.0, 50_000.0).unwrap() - 15.0).abs() < 1e-9);
    }

    #[test]
    fn curves_are_switched_off_by_word_or_nought() {
        let written = "lateral_mps2 = { full = 1.5, empty = 2.0 }";
        let with = |text: &str| SpeedTable::parse(&BUILT_IN.replace(written, text), "x");
        assert!(with(written).unwrap().curve.is_some());
        assert!(with("lateral_mps2 = 0").unwrap().curve.is_none());
        assert!(with("lateral_mps2 = 0.0").unwrap().curve.is_none());
        assert!(with("lateral_mps2 = \"off\"").unwrap().curve.is_none());
        assert!(with("lateral_mps2 = 1.2").unwrap().curve.is_some());
        for wrong in ["\"on\"", "-1", "{ full = 2.0, empty = 1.0 }", "{ full = 2.0 }", "nan"] {
            assert!(with(&format!("lateral_mps2 = {wrong}")).is_err(), "{wrong}");
        }
    }
}
