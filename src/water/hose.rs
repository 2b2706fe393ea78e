//! Hose: friction, elevation, what a lay carries and how far a relay reaches.

use super::{BadInput, Checked, count, not_negative, positive, signed, within};
use crate::units::{Feet, GallonsPerMinute, Inches, Psi};
use serde::de::{self, Deserializer, Visitor};
use serde::{Deserialize, Serialize, Serializer};
use std::fmt;
use std::str::FromStr;

/// Fire hose by nominal diameter. Read from a number of inches (`5`, `2.5`) or a text
/// (`"5 in"`, `"2 1/2 in"`, `"1¾"`); `"3 in, 3 in couplings"` is the wider three-inch hose.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum HoseSize {
    OneAndHalf,
    OneAndThreeQuarters,
    Two,
    TwoAndHalf,
    /// Three-inch hose with 2½-in couplings, the usual kind.
    Three,
    /// Three-inch hose with 3-in couplings.
    ThreeWideCouplings,
    ThreeAndHalf,
    Four,
    FourAndHalf,
    Five,
    Six,
}

impl HoseSize {
    /// Every size, from the narrowest to the widest.
    pub const ALL: [HoseSize; 11] = [
        HoseSize::OneAndHalf,
        HoseSize::OneAndThreeQuarters,
        HoseSize::Two,
        HoseSize::TwoAndHalf,
        HoseSize::Three,
        HoseSize::ThreeWideCouplings,
        HoseSize::ThreeAndHalf,
        HoseSize::Four,
        HoseSize::FourAndHalf,
        HoseSize::Five,
        HoseSize::Six,
    ];

    /// Nominal diameter and friction coefficient C of psi = C·(gpm/100)²·(ft/100); IFSTA and the
    /// training publications that follow it.
    fn row(self) -> (f64, f64) {
        match self {
            HoseSize::OneAndHalf => (1.5, 24.0),
            HoseSize::OneAndThreeQuarters => (1.75, 15.5),
            HoseSize::Two => (2.0, 8.0),
            HoseSize::TwoAndHalf => (2.5, 2.0),
            HoseSize::Three => (3.0, 0.8),
            HoseSize::ThreeWideCouplings => (3.0, 0.677),
            HoseSize::ThreeAndHalf => (3.5, 0.34),
            HoseSize::Four => (4.0, 0.2),
            HoseSize::FourAndHalf => (4.5, 0.1),
            HoseSize::Five => (5.0, 0.08),
            HoseSize::Six => (6.0, 0.05),
        }
    }

    /// Nominal diameter.
    pub fn diameter(self) -> Inches {
        Inches(self.row().0)
    }

    /// Friction coefficient C, psi per 100 ft at 100 gpm (IFSTA).
    pub fn coefficient(self) -> f64 {
        self.row().1
    }

    /// The size of a nominal diameter in inches; three inches means 2½-in couplings.
    pub fn from_inches(inches: f64) -> Checked<HoseSize> {
        // An exact comparison would refuse 1.7500000001 from a converted file.
        HoseSize::ALL
            .into_iter()
            .find(|size| (size.row().0 - inches).abs() < 1e-6)
            .ok_or_else(|| BadInput::new("hose diameter (in)", inches, KNOWN_SIZES))
    }
}

const KNOWN_SIZES: &str = "give 1.5, 1.75, 2, 2.5, 3, 3.5, 4, 4.5, 5 or 6 in";

impl fmt::Display for HoseSize {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let couplings = if *self == HoseSize::ThreeWideCouplings { ", 3 in couplings" } else { "" };
        write!(f, "{} in{couplings}", self.row().0)
    }
}

impl FromStr for HoseSize {
    type Err = BadInput;
    fn from_str(text: &str) -> Checked<HoseSize> {
        let lower = text.trim().to_ascii_lowercase();
        let (size, couplings) = match lower.split_once(',') {
            Some((size, rest)) => (size, Some(rest.trim())),
            None => (lower.as_str(), None),
        };
        let unreadable = || BadInput::new("hose diameter (in)", f64::NAN, KNOWN_SIZES);
        let inches = inches_of(size).ok_or_else(unreadable)?;
        match (HoseSize::from_inches(inches)?, couplings) {
            (size, None) => Ok(size),
            (HoseSize::Three, Some("3 in couplings")) => Ok(HoseSize::ThreeWideCouplings),
            (HoseSize::Three, Some("2.5 in couplings")) => Ok(HoseSize::Three),
            _ => Err(unreadable()),
        }
    }
}

/// "5 in", "5\"", "2 1/2 in", "2½" and "1¾ inch" as inches; signs and other units are refused.
fn inches_of(text: &str) -> Option<f64> {
    let text = text.replace('½', " 1/2").replace('¾', " 3/4");
    let text = ["inches", "inch", "in", "\"", "″"]
        .iter()
        .find_map(|unit| text.trim().strip_suffix(unit))
        .unwrap_or(&text)
        .trim();
    let plain = |part: &str| {
        let digits = part.chars().all(|c| c.is_ascii_digit() || c == '.');
        if digits { part.parse::<f64>().ok() } else { None }
    };
    let (whole, fraction) = text.split_once(' ').unwrap_or((text, ""));
    let fraction = match fraction.trim() {
        "" => 0.0,
        "1/2" => 0.5,
        "3/4" => 0.75,
        _ => return None,
    };
    Some(plain(whole)? + fraction)
}

impl Serialize for HoseSize {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for HoseSize {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<HoseSize, D::Error> {
        struct Reader;
        impl Visitor<'_> for Reader {
            type Value = HoseSize;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a hose diameter such as 5 or \"2.5 in\"")
            }
            fn visit_f64<E: de::Error>(self, inches: f64) -> Result<HoseSize, E> {
                HoseSize::from_inches(inches).map_err(E::custom)
            }
            fn visit_i64<E: de::Error>(self, inches: i64) -> Result<HoseSize, E> {
                self.visit_f64(inches as f64)
            }
            fn visit_u64<E: de::Error>(self, inches: u64) -> Result<HoseSize, E> {
                self.visit_f64(inches as f64)
            }
            fn visit_str<E: de::Error>(self, text: &str) -> Result<HoseSize, E> {
                text.parse()
                    .map_err(|_| E::custom(format!("\"{text}\" is not a hose diameter; {KNOWN_SIZES}")))
            }
        }
        d.deserialize_any(Reader)
    }
}

/// Friction in one line: psi = C·(gpm/100)²·(ft/100) (IFSTA and training publications).
/// Errors: a negative or unusable flow or length.
pub fn friction_loss(size: HoseSize, flow: GallonsPerMinute, length: Feet) -> Checked<Psi> {
    let flow = not_negative("flow (gpm)", flow.get())?;
    let length = not_negative("hose length (ft)", length.get())?;
    Ok(Psi(size.coefficient() * (flow / 100.0).powi(2) * (length / 100.0)))
}

/// Pressure taken by a rise of `gain` feet, 0.434 psi per foot; negative downhill, where it helps.
/// Errors: a gain that is not a finite number.
pub fn elevation_loss(gain: Feet) -> Checked<Psi> {
    signed("elevation gain (ft)", gain.get())?;
    Ok(gain.head_psi())
}

fn one() -> u32 {
    1
}

/// Hose laid from one pump to the next: equal lines side by side share the flow evenly.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct Lay {
    pub diameter: HoseSize,
    #[serde(rename = "length-ft")]
    pub length: Feet,
    /// Equal lines side by side; one where not given.
    #[serde(default = "one")]
    pub lines: u32,
}

impl Lay {
    fn lines(&self) -> Checked<f64> {
        Ok(f64::from(count("lines of hose", self.lines, 1)?))
    }

    /// Friction at a total flow: each line carries its equal share, so two lines lose a quarter.
    /// Errors: unusable flow, length or number of lines.
    pub fn friction(&self, flow: GallonsPerMinute) -> Checked<Psi> {
        friction_loss(self.diameter, flow / self.lines()?, self.length)
    }

    /// Discharge pressure the pump must hold to send `flow` through the lay, up `gain` feet, and
    /// arrive with `residual`. Never below zero: steep downhill lays need no pump.
    /// Errors: any unusable number.
    pub fn pump_pressure(&self, flow: GallonsPerMinute, residual: Psi, gain: Feet) -> Checked<Psi> {
        not_negative("residual pressure (psi)", residual.get())?;
        Ok((self.friction(flow)? + elevation_loss(gain)? + residual).max(Psi::ZERO))
    }

    /// Total flow the lay carries from `pump` pressure, arriving `gain` feet higher with
    /// `residual`: the friction formula solved for the flow. Zero where the rise and the residual
    /// already take the pump's pressure.
    /// Errors: any unusable number; a lay without length has no friction and thus no answer.
    pub fn flow(&self, pump: Psi, residual: Psi, gain: Feet) -> Checked<GallonsPerMinute> {
        let spare = spare_pressure(pump, residual, gain)?;
        let length = positive("hose length (ft)", self.length.get())?;
        let per_line = 100.0 * (spare * 100.0 / (self.diameter.coefficient() * length)).sqrt();
        Ok(GallonsPerMinute(per_line * self.lines()?))
    }
}

/// Pressure left for friction; zero where none is.
fn spare_pressure(pump: Psi, residual: Psi, gain: Feet) -> Checked<f64> {
    not_negative("pump pressure (psi)", pump.get())?;
    not_negative("residual pressure (psi)", residual.get())?;
    Ok((pump - residual - elevation_loss(gain)?).get().max(0.0))
}

/// Length of hose one pump can feed in a relay before the next must stand: with 200 psi at the
/// pump and 20 psi residual on level ground 180·10⁶/(C·Q²) feet (computed from the friction
/// formula; from memory of the IFSTA table). `gain` is the rise over the whole reach.
/// Errors: any unusable number; zero flow reaches without end and is refused.
pub fn relay_reach(
    size: HoseSize,
    lines: u32,
    flow: GallonsPerMinute,
    pump: Psi,
    residual: Psi,
    gain: Feet,
) -> Checked<Feet> {
    let spare = spare_pressure(pump, residual, gain)?;
    let flow = positive("flow (gpm)", flow.get())?;
    let lines = f64::from(count("lines of hose", lines, 1)?);
    Ok(Feet(spare * 1e6 / (size.coefficient() * (flow / lines).powi(2))))
}

/// Hazen–Williams loss, psi = 4.52·Q^1.85/(C^1.85·d^4.87)·ft with the inside diameter in inches
/// (from memory of the formula as printed in NFPA 13): a cross-check on the coefficients above,
/// not used by them. Lined hose is commonly taken at C 140 to 150.
/// Errors: any unusable number; a roughness outside 20..=200.
pub fn hazen_williams_loss(
    flow: GallonsPerMinute,
    inside_diameter: Inches,
    length: Feet,
    roughness: f64,
) -> Checked<Psi> {
    let flow = not_negative("flow (gpm)", flow.get())?;
    let length = not_negative("hose length (ft)", length.get())?;
    let inches = within(
        "inside diameter (in)",
        inside_diameter.get(),
        0.1..=1000.0,
        "give the inside diameter in inches",
    )?;
    let roughness = within("Hazen-Williams C", roughness, 20.0..=200.0, "give a C from 20 to 200")?;
    Ok(Psi(4.52 * flow.powf(1.85) / (roughness.powf(1.85) * inches.powf(4.87)) * length))
}

#[cfg(test)]
mod tests {
    use super::*;

    const LAY: Lay = Lay { diameter: HoseSize::Five, length: Feet(1000.0), lines: 1 };

    #[test]
    fn sizes_are_read_from_text_and_number() {
        for (text, size) in [
            ("5 in", HoseSize::Five),
            ("5", HoseSize::Five),
            ("5\"", HoseSize::Five),
            ("1¾ in", HoseSize::OneAndThreeQuarters),
            ("1 3/4 inch", HoseSize::OneAndThreeQuarters),
            ("2½", HoseSize::TwoAndHalf),
            ("2.50 in", HoseSize::TwoAndHalf),
            ("3 in", HoseSize::Three),
            ("3 in, 3 in couplings", HoseSize::ThreeWideCouplings),
        ] {
            assert_eq!(text.parse::<HoseSize>(), Ok(size), "{text}");
        }
        for text in
            ["", "in", "-5 in", "5 mm", "7 in", "5 1/3 in", "inf", "NaN", "5 in, 3 in couplings", "½ ½"]
        {
            assert!(text.parse::<HoseSize>().is_err(), "{text}");
        }
        for size in HoseSize::ALL {
            assert_eq!(size.to_string().parse(), Ok(size));
        }
    }

    #[test]
    fn a_lay_is_read_from_toml() {
        for text in ["diameter = 5\nlength-ft = 1000", "diameter = \"5 in\"\nlength-ft = 1000.0\nlines = 1"] {
            assert_eq!(toml::from_str::<Lay>(text).unwrap(), LAY);
        }
        for text in
            ["diameter = 5\nlength = 1000", "diameter = 7\nlength-ft = 1", "diameter = true\nlength-ft = 1"]
        {
            assert!(toml::from_str::<Lay>(text).is_err(), "{text}");
        }
        let message = toml::from_str::<Lay>("diameter = 7\nlength-ft = 1").unwrap_err().to_string();
        assert!(message.contains("give 1.5, 1.75"), "{message}");
    }

    #[test]
    fn flow_and_pressure_are_inverse() {
        for lines in 1..4 {
            for gain in [-40.0, 0.0, 60.0] {
                let lay = Lay { lines, ..LAY };
                let flow = lay.flow(Psi(150.0), Psi(20.0), Feet(gain)).unwrap();
                let pump = lay.pump_pressure(flow, Psi(20.0), Feet(gain)).unwrap();
                assert!((pump.get() - 150.0).abs() < 1e-9, "{lines} lines, {gain} ft: {pump}");
            }
        }
    }

    #[test]
    fn two_lines_lose_a_quarter_and_carry_double() {
        let two = Lay { lines: 2, ..LAY };
        assert_eq!(two.friction(GallonsPerMinute(1000.0)).unwrap(), Psi(20.0));
        let (q1, q2) = (
            LAY.flow(Psi(100.0), Psi(20.0), Feet(0.0)).unwrap(),
            two.flow(Psi(100.0), Psi(20.0), Feet(0.0)).unwrap(),
        );
        assert!((q2 / q1 - 2.0).abs() < 1e-12);
    }

    #[test]
    fn a_rise_beyond_the_pump_carries_nothing() {
        assert_eq!(LAY.flow(Psi(100.0), Psi(20.0), Feet(200.0)).unwrap(), GallonsPerMinute::ZERO);
        assert_eq!(LAY.pump_pressure(GallonsPerMinute(100.0), Psi(0.0), Feet(-500.0)).unwrap(), Psi::ZERO);
    }
}
