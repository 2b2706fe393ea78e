//! Quantities as types, and the only place where units are converted or read from text.
//!
//! Stored units: US gallons, gallons per minute, feet of hose and water, metres of road,
//! seconds, kilograms, psi. `--units` changes what is shown, never what is stored.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

mod shown;
pub use shown::Shown;

/// 1 US gallon in litres, exact by definition (NIST Handbook 44, appendix C).
pub const LITRES_PER_GALLON: f64 = 3.785_411_784;
/// 1 foot in metres, exact by definition (international foot, NIST Handbook 44, appendix C).
pub const METRES_PER_FOOT: f64 = 0.3048;
/// 1 statute mile in metres, exact by definition (NIST Handbook 44, appendix C).
pub const METRES_PER_MILE: f64 = 1_609.344;
/// 1 avoirdupois pound in kilograms, exact by definition (NIST Handbook 44, appendix C).
pub const KILOGRAMS_PER_POUND: f64 = 0.453_592_37;
/// Pounds in a short ton (US), a long ton (imperial) and a long hundredweight.
pub const POUNDS_PER_SHORT_TON: f64 = 2_000.0;
pub const POUNDS_PER_LONG_TON: f64 = 2_240.0;
pub const POUNDS_PER_LONG_HUNDREDWEIGHT: f64 = 112.0;
/// 1 psi in kilopascals (NIST SP 811, appendix B.8).
pub const KILOPASCALS_PER_PSI: f64 = 6.894_757;
/// Pressure of one foot of fresh water in psi (62.4 lb/ft³ over 144 in², rounded as training publications do).
pub const PSI_PER_FOOT_OF_WATER: f64 = 0.434;

/// 1 US gallon is 231 cubic inches and 1 cubic foot 1,728, exact by definition (NIST Handbook 44,
/// appendix C): 7.48052 gal per ft³.
pub const GALLONS_PER_CUBIC_FOOT: f64 = 1_728.0 / 231.0;
/// 1 acre in square feet (NIST Handbook 44, appendix C).
pub const SQUARE_FEET_PER_ACRE: f64 = 43_560.0;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $suffix:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            pub const ZERO: $name = $name(0.0);
            pub fn get(self) -> f64 { self.0 }
            pub fn min(self, other: Self) -> Self { $name(self.0.min(other.0)) }
            pub fn max(self, other: Self) -> Self { $name(self.0.max(other.0)) }
        }
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                match f.precision() {
                    Some(digits) => write!(f, "{:.*} {}", digits, self.0, $suffix),
                    None => write!(f, "{} {}", self.0, $suffix),
                }
            }
        }
        impl std::ops::Add for $name { type Output = Self; fn add(self, o: Self) -> Self { $name(self.0 + o.0) } }
        impl std::ops::Sub for $name { type Output = Self; fn sub(self, o: Self) -> Self { $name(self.0 - o.0) } }
        impl std::ops::Mul<f64> for $name { type Output = Self; fn mul(self, k: f64) -> Self { $name(self.0 * k) } }
        impl std::ops::Div<f64> for $name { type Output = Self; fn div(self, k: f64) -> Self { $name(self.0 / k) } }
        impl std::ops::Div for $name { type Output = f64; fn div(self, o: Self) -> f64 { self.0 / o.0 } }
        impl std::iter::Sum for $name { fn sum<I: Iterator<Item = Self>>(it: I) -> Self { $name(it.map(|q| q.0).sum()) } }
    };
}

quantity!(/// Water volume in US gallons.
    Gallons, "gal");
quantity!(/// Water flow in US gallons per minute.
    GallonsPerMinute, "gpm");
quantity!(/// Hose length, lift or head in feet.
    Feet, "ft");
quantity!(/// Length of a tube or outlet in inches.
    Inches, "in");
quantity!(/// Volume of a building, tank or pond in cubic feet.
    CubicFeet, "ft³");
quantity!(/// Road distance, width or height in metres.
    Metres, "m");
quantity!(/// Duration in seconds.
    Seconds, "s");
quantity!(/// Mass in kilograms. OpenStreetMap's "weight" is a mass.
    Kilograms, "kg");
quantity!(/// Pressure in pounds per square inch.
    Psi, "psi");
quantity!(/// Road speed in metres per second.
    MetresPerSecond, "m/s");

impl GallonsPerMinute {
    /// Volume moved in `time` at this flow.
    pub fn over(self, time: Seconds) -> Gallons {
        Gallons(self.0 * time.minutes())
    }
}

impl Gallons {
    /// Time to move this volume at `flow`; infinite at zero flow.
    pub fn at(self, flow: GallonsPerMinute) -> Seconds {
        Seconds::from_minutes(self.0 / flow.0)
    }
    pub fn litres(self) -> f64 {
        self.0 * LITRES_PER_GALLON
    }
}

impl CubicFeet {
    pub fn gallons(self) -> Gallons {
        Gallons(self.0 * GALLONS_PER_CUBIC_FOOT)
    }
    /// Volume under `acres` of surface at an even depth.
    pub fn under_acres(acres: f64, depth: Feet) -> Self {
        CubicFeet(acres * SQUARE_FEET_PER_ACRE * depth.0)
    }
}

impl Gallons {
    pub fn cubic_feet(self) -> CubicFeet {
        CubicFeet(self.0 / GALLONS_PER_CUBIC_FOOT)
    }
}

impl Inches {
    pub fn feet(self) -> Feet {
        Feet(self.0 / 12.0)
    }
}

impl Seconds {
    pub fn from_minutes(minutes: f64) -> Self {
        Seconds(minutes * 60.0)
    }
    pub fn minutes(self) -> f64 {
        self.0 / 60.0
    }
}

impl Metres {
    pub fn feet(self) -> Feet {
        Feet(self.0 / METRES_PER_FOOT)
    }
    pub fn miles(self) -> f64 {
        self.0 / METRES_PER_MILE
    }
}

impl Feet {
    pub fn metres(self) -> Metres {
        Metres(self.0 * METRES_PER_FOOT)
    }
    /// Pressure of a water column of this height.
    pub fn head_psi(self) -> Psi {
        Psi(self.0 * PSI_PER_FOOT_OF_WATER)
    }
}

impl Kilograms {
    pub fn from_pounds(pounds: f64) -> Self {
        Kilograms(pounds * KILOGRAMS_PER_POUND)
    }
    pub fn tonnes(self) -> f64 {
        self.0 / 1000.0
    }
}

impl MetresPerSecond {
    pub fn from_kmh(kmh: f64) -> Self {
        MetresPerSecond(kmh / 3.6)
    }
    pub fn from_mph(mph: f64) -> Self {
        MetresPerSecond(mph * METRES_PER_MILE / 3600.0)
    }
    pub fn kmh(self) -> f64 {
        self.0 * 3.6
    }
    pub fn mph(self) -> f64 {
        self.0 * 3600.0 / METRES_PER_MILE
    }
}

/// Why a text is not a quantity.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotAQuantity {
    pub text: String,
    pub expected: &'static str,
}

impl fmt::Display for NotAQuantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "\"{}\" is not {}", self.text, self.expected)
    }
}
impl std::error::Error for NotAQuantity {}

/// Splits "12.5 t" into (12.5, "t"). Accepts a space or none, `,` as thousands mark only
/// when groups of three follow, and refuses signs, exponents and non-numbers.
fn number_and_unit(text: &str) -> Option<(f64, &str)> {
    let text = text.trim();
    let end = text.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == ',')).unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    let plain: String = if number.contains(',') {
        let (whole, fraction) = number.split_once('.').unwrap_or((number, ""));
        let mut groups = whole.split(',');
        let head = groups.next()?;
        if head.is_empty() || head.len() > 3 || groups.any(|g| g.len() != 3) {
            return None;
        }
        let joined = whole.replace(',', "");
        if fraction.is_empty() { joined } else { format!("{joined}.{fraction}") }
    } else {
        number.to_string()
    };
    if plain.is_empty() || plain.starts_with('.') && plain.len() == 1 {
        return None;
    }
    let value: f64 = plain.parse().ok()?;
    value.is_finite().then(|| (value, unit.trim()))
}

impl FromStr for Kilograms {
    type Err = NotAQuantity;
    /// A mass with its unit; a bare number is metric tonnes, OpenStreetMap's default.
    fn from_str(text: &str) -> Result<Self, NotAQuantity> {
        let fail = || NotAQuantity {
            text: text.to_string(),
            expected: "a weight such as \"19.4 t\", \"38000 lb\", \"15 st\" or \"8900 kg\"",
        };
        let (value, unit) = number_and_unit(text).ok_or_else(fail)?;
        let kilograms = match unit.to_ascii_lowercase().as_str() {
            "" | "t" | "tonne" | "tonnes" => value * 1000.0,
            "kg" => value,
            "lb" | "lbs" => value * KILOGRAMS_PER_POUND,
            "st" => value * POUNDS_PER_SHORT_TON * KILOGRAMS_PER_POUND,
            "lt" => value * POUNDS_PER_LONG_TON * KILOGRAMS_PER_POUND,
            "cwt" => value * POUNDS_PER_LONG_HUNDREDWEIGHT * KILOGRAMS_PER_POUND,
            _ => return Err(fail()),
        };
        Ok(Kilograms(kilograms))
    }
}

impl FromStr for Metres {
    type Err = NotAQuantity;
    /// A length with its unit; a bare number is metres, OpenStreetMap's default.
    /// Feet and inches as `6'3"`, `6' 3"`, `12'`, `6 ft 3 in`, `12 ft`.
    fn from_str(text: &str) -> Result<Self, NotAQuantity> {
        let fail = || NotAQuantity {
            text: text.to_string(),
            expected: "a length such as \"3.2 m\", \"10'6\\\"\" or \"12 ft\"",
        };
        let (value, unit) = number_and_unit(text).ok_or_else(fail)?;
        let lower = unit.to_ascii_lowercase().replace('’', "'").replace(['”', '″'], "\"");
        let lower = lower.replace('′', "'");
        match lower.as_str() {
            "" | "m" => return Ok(Metres(value)),
            "cm" => return Ok(Metres(value / 100.0)),
            "km" => return Ok(Metres(value * 1000.0)),
            "mi" => return Ok(Metres(value * METRES_PER_MILE)),
            "\"" | "in" => return Ok(Feet(value / 12.0).metres()),
            _ => {}
        }
        let rest = lower
            .strip_prefix('\'')
            .or_else(|| lower.strip_prefix("feet"))
            .or_else(|| lower.strip_prefix("ft"))
            .ok_or_else(fail)?
            .trim();
        if rest.is_empty() {
            return Ok(Feet(value).metres());
        }
        let (inches, unit) = number_and_unit(rest).ok_or_else(fail)?;
        if !matches!(unit, "\"" | "in" | "inches" | "''" | "") || inches >= 12.0 {
            return Err(fail());
        }
        Ok(Feet(value + inches / 12.0).metres())
    }
}

impl FromStr for MetresPerSecond {
    type Err = NotAQuantity;
    /// A speed with its unit; a bare number is km/h, OpenStreetMap's default.
    fn from_str(text: &str) -> Result<Self, NotAQuantity> {
        let fail = || NotAQuantity {
            text: text.to_string(),
            expected: "a speed such as \"50\", \"50 km/h\" or \"30 mph\"",
        };
        let (value, unit) = number_and_unit(text).ok_or_else(fail)?;
        match unit.to_ascii_lowercase().as_str() {
            "" | "km/h" | "kmh" | "kph" => Ok(MetresPerSecond::from_kmh(value)),
            "mph" => Ok(MetresPerSecond::from_mph(value)),
            "knots" => Ok(MetresPerSecond::from_kmh(value * 1.852)),
            _ => Err(fail()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Spellings: OSM wiki, "Map features/Units" and "Key:maxweight", "Key:maxheight".
    #[test]
    fn every_weight_spelling() {
        for (text, kilograms) in [
            ("8", 8000.0),
            ("7.5", 7500.0),
            ("8.9 t", 8900.0),
            ("3500 kg", 3500.0),
            ("15 st", 13_607.771_1),
            ("38,000 lb", 17_236.510_06),
            ("6000lbs", 2_721.554_22),
            ("10 lt", 10_160.469_088),
            ("20 cwt", 1_016.046_908_8),
        ] {
            let got: Kilograms = text.parse().unwrap();
            assert!((got.0 - kilograms).abs() < 1e-6, "{text}: {got}");
        }
        for text in ["", "survey", "-3", "3,5", "NaN", "inf", "1e3", "7.5 stones", "."] {
            assert!(text.parse::<Kilograms>().is_err(), "{text}");
        }
    }

    #[test]
    fn every_length_spelling() {
        for (text, metres) in [
            ("3.2", 3.2),
            ("3.2 m", 3.2),
            ("320 cm", 3.2),
            ("6'3\"", 1.905),
            ("6' 3\"", 1.905),
            ("6 ft 3 in", 1.905),
            ("12'", 3.6576),
            ("12 ft", 3.6576),
            ("126\"", 3.2004),
        ] {
            let got: Metres = text.parse().unwrap();
            assert!((got.0 - metres).abs() < 1e-9, "{text}: {got}");
        }
        for text in ["default", "6'13\"", "3.2 yards", "six"] {
            assert!(text.parse::<Metres>().is_err(), "{text}");
        }
    }

    #[test]
    fn every_speed_spelling() {
        for (text, kmh) in [("50", 50.0), ("30 mph", 48.28032), ("30mph", 48.28032), ("5 knots", 9.26)] {
            let got: MetresPerSecond = text.parse().unwrap();
            assert!((got.kmh() - kmh).abs() < 1e-9, "{text}: {got}");
        }
        assert!("none".parse::<MetresPerSecond>().is_err());
    }

    #[test]
    fn flow_times_time_is_volume() {
        assert_eq!(GallonsPerMinute(500.0).over(Seconds(90.0)), Gallons(750.0));
        assert_eq!(Gallons(1800.0).at(GallonsPerMinute(500.0)), Seconds(216.0));
    }
}
