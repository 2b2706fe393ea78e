//! Quantities as text for people, in US customary or metric units.

use super::*;

/// How quantities are shown to a person.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Shown {
    #[default]
    Us,
    Metric,
}

impl Shown {
    pub fn flow(self, flow: GallonsPerMinute) -> String {
        match self {
            Shown::Us => format!("{:.0} gpm", flow.0),
            Shown::Metric => format!("{:.0} L/min", flow.0 * LITRES_PER_GALLON),
        }
    }
    pub fn distance(self, distance: Metres) -> String {
        match self {
            Shown::Us if distance.miles() < 0.2 => format!("{:.0} ft", distance.feet().0),
            Shown::Us => format!("{:.2} mi", distance.miles()),
            Shown::Metric if distance.0 < 1000.0 => format!("{:.0} m", distance.0),
            Shown::Metric => format!("{:.2} km", distance.0 / 1000.0),
        }
    }
    /// In tenths: a load rounded up, a limit down.
    pub fn mass(self, mass: Kilograms, up: bool) -> String {
        let (unit, name) = match self {
            Shown::Us => (Kilograms::from_pounds(POUNDS_PER_SHORT_TON), "tons"),
            Shown::Metric => (Kilograms(1_000.0), "t"),
        };
        let tenths = mass / unit * 10.0;
        let tenths = if up { (tenths - 1e-6).ceil() } else { (tenths + 1e-6).floor() };
        format!("{:.1} {name}", tenths / 10.0)
    }
    pub fn speed(self, speed: MetresPerSecond) -> String {
        match self {
            Shown::Us => format!("{:.0} mph", speed.mph()),
            Shown::Metric => format!("{:.0} km/h", speed.kmh()),
        }
    }
    pub fn volume(self, volume: Gallons) -> String {
        match self {
            Shown::Us => format!("{:.0} gal", volume.0),
            Shown::Metric => format!("{:.0} L", volume.litres()),
        }
    }
    pub fn pressure(self, pressure: Psi) -> String {
        match self {
            Shown::Us => format!("{:.0} psi", pressure.0),
            Shown::Metric => format!("{:.1} bar", pressure.0 * KILOPASCALS_PER_PSI / 100.0),
        }
    }
    /// Hose, lift and head.
    pub fn length(self, length: Feet) -> String {
        match self {
            Shown::Us => format!("{:.0} ft", length.0),
            Shown::Metric => format!("{:.1} m", length.metres().0),
        }
    }
    /// Height, width and length beside a sign: a vehicle rounded up, a limit down.
    pub fn clearance(self, size: Metres, up: bool) -> String {
        let whole = |value: f64| if up { (value - 1e-6).ceil() } else { (value + 1e-6).floor() };
        match self {
            Shown::Us => {
                let inches = whole(size.feet().0 * 12.0);
                format!("{:.0} ft {:.0} in", (inches / 12.0).floor(), inches % 12.0)
            }
            Shown::Metric => format!("{:.2} m", whole(size.0 * 100.0) / 100.0),
        }
    }
    /// Diameter of hose.
    pub fn bore(self, bore: Inches) -> String {
        match self {
            Shown::Us => format!("{} in", bore.0),
            Shown::Metric => format!("{:.0} mm", bore.feet().metres().0 * 1_000.0),
        }
    }
    pub fn duration(self, time: Seconds) -> String {
        let whole = time.0.round().max(0.0) as u64;
        format!("{}:{:02} min", whole / 60, whole % 60)
    }
}
