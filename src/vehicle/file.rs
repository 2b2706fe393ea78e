//! The fleet file: TOML rows, every quantity checked, every assumption told.

use super::{Chassis, Fleet, HoseStock, Pumper, Role, Tanker};
use crate::finding::{Code, Finding, Findings, Outcome, Where};
use crate::place::Place;
use crate::units::{Feet, Gallons, GallonsPerMinute, Inches, Kilograms, Metres, Psi, Seconds};
use serde::Deserialize;
use std::path::Path;
use std::str::FromStr;

/// Dimensions used where the fleet file gives none; each use is a finding.
/// Common practice, no source: a tall, full-width truck, so that the guess errs to the closed side.
pub const ASSUMED_HEIGHT: Metres = Metres(3.5);
pub const ASSUMED_WIDTH: Metres = Metres(2.6);
pub const ASSUMED_LENGTH: Metres = Metres(10.0);
/// Share of the mass on the heaviest axle where no axle load is given (common practice, no source):
/// a two-axle truck carries about two thirds on the rear axle; a tandem halves that.
fn assumed_axle_share(axles: Option<u32>) -> f64 {
    match axles {
        Some(3..) => 0.36,
        _ => 0.67,
    }
}
/// Time to stop, connect and leave again where the fleet file gives none (common practice, no source).
pub const ASSUMED_FILL_HANDLING: Seconds = Seconds(90.0);
pub const ASSUMED_DUMP_HANDLING: Seconds = Seconds(60.0);
/// Fill and unloading rate of a mobile water supply apparatus where the fleet file gives none
/// (NFPA 1901/1903: at least 1,000 gpm; as reported in the trade press).
pub const ASSUMED_RATE: GallonsPerMinute = GallonsPerMinute(1000.0);
/// Time from the call to the wheels turning (common practice, no source; paid crews are faster).
pub const ASSUMED_TURNOUT: Seconds = Seconds(120.0);
/// Share of the tank that reaches the portable tanks: spill, under-filling and water left stay
/// behind (NFPA 1142 annex, from memory). Taken once, here, and nowhere else.
pub const USABLE_SHARE: f64 = 0.9;

/// A quantity written with its unit, such as "20,500 lb" or "10'2\"".
#[derive(Clone, Debug)]
struct Written<T>(T);

impl<'de, T: FromStr> Deserialize<'de> for Written<T>
where
    T::Err: std::fmt::Display,
{
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        // A bare number on a sign has a default unit; in a fleet file it is a slip that would make
        // pounds of tonnes.
        if text.trim().ends_with(|c: char| c.is_ascii_digit() || c == '.') {
            return Err(serde::de::Error::custom(format!(
                "\"{text}\" has no unit; write it, such as t, lb or m"
            )));
        }
        text.parse().map(Written).map_err(serde::de::Error::custom)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FleetFile {
    #[serde(default)]
    tanker: Vec<TankerRow>,
    #[serde(default)]
    pumper: Vec<PumperRow>,
    #[serde(default)]
    portable_tank: Vec<PortableTankRow>,
    #[serde(default)]
    siphons: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TankerRow {
    id: String,
    #[serde(default)]
    #[expect(dead_code, reason = "accepted so that people can write it; the id is what is shown")]
    name: Option<String>,
    station: Option<Place>,
    turnout_s: Option<f64>,
    call: Option<String>,
    axles: Option<u32>,
    mass_empty: Written<Kilograms>,
    mass_full: Written<Kilograms>,
    rated_mass: Option<Written<Kilograms>>,
    axle_load_empty: Option<Written<Kilograms>>,
    axle_load_full: Option<Written<Kilograms>>,
    height: Option<Written<Metres>>,
    width: Option<Written<Metres>>,
    length: Option<Written<Metres>>,
    power_hp: Option<f64>,
    tank_gal: f64,
    intake_gpm: Option<f64>,
    dump_gpm: Option<f64>,
    fill_handling_s: Option<f64>,
    dump_handling_s: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PumperRow {
    id: String,
    #[serde(default)]
    #[expect(dead_code, reason = "accepted so that people can write it; the id is what is shown")]
    name: Option<String>,
    station: Option<Place>,
    turnout_s: Option<f64>,
    call: Option<String>,
    mass: Option<Written<Kilograms>>,
    height: Option<Written<Metres>>,
    width: Option<Written<Metres>>,
    length: Option<Written<Metres>>,
    power_hp: Option<f64>,
    rated_gpm: f64,
    pump_psi: Option<f64>,
    suctions: Option<u32>,
    role: Option<Role>,
    #[serde(default)]
    hose: Vec<HoseRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct HoseRow {
    diameter_in: f64,
    length_ft: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PortableTankRow {
    volume_gal: f64,
    #[serde(default)]
    #[expect(dead_code, reason = "accepted so that people can write it; only the volume counts yet")]
    carried_by: Option<String>,
}

/// Collects what is wrong with one row, so that all of it is said at once.
struct RowCheck<'a> {
    file: &'a str,
    row: usize,
    name: String,
    findings: &'a mut Findings,
}

impl RowCheck<'_> {
    fn place(&self) -> Where {
        Where::file(self.file).row(self.row).named(self.name.clone())
    }
    fn positive(&mut self, key: &str, value: f64) -> f64 {
        if !(value.is_finite() && value > 0.0) {
            let finding = Finding::new(
                Code::InputInvalid,
                self.place(),
                format!("{key} is {value}"),
                "give a number greater than zero",
            );
            self.findings.add(finding);
        }
        value
    }
    fn not_negative(&mut self, key: &str, value: f64) -> f64 {
        if !(value.is_finite() && value >= 0.0) {
            let finding = Finding::new(
                Code::InputInvalid,
                self.place(),
                format!("{key} is {value}"),
                "give zero or a greater number",
            );
            self.findings.add(finding);
        }
        value
    }
    /// What mutual aid is called with.
    fn call(&mut self, call: Option<String>) -> Option<String> {
        if call.as_ref().is_some_and(|call| call.trim().is_empty()) {
            self.findings.add(Finding::new(
                Code::InputInvalid,
                self.place(),
                "call is empty",
                "say what the vehicle is called with, such as \"second alarm\", or leave the key out",
            ));
        }
        call
    }
    fn or_assumed<T>(&mut self, key: &str, value: Option<T>, assumed: T, shown: String) -> T {
        value.unwrap_or_else(|| {
            let finding = Finding::new(
                Code::ValueAssumed,
                self.place(),
                format!("{key} is not given; {shown} assumed"),
                "measure it and write it in the fleet file",
            );
            self.findings.add(finding);
            assumed
        })
    }
}

impl TankerRow {
    fn check(self, check: &mut RowCheck) -> Tanker {
        let mass_empty = Kilograms(check.positive("mass_empty", self.mass_empty.0.0));
        let mass_full = Kilograms(check.positive("mass_full", self.mass_full.0.0));
        if mass_full.0 <= mass_empty.0 {
            check.findings.add(Finding::new(
                Code::InputInvalid,
                check.place(),
                format!("mass_full {mass_full:.0} is not above mass_empty {mass_empty:.0}"),
                "weigh the tanker full and empty and correct the two",
            ));
        }
        let tank = Gallons(check.positive("tank_gal", self.tank_gal));
        let axle_full = self.axle_load_full.map(|w| w.0);
        let assumed_axle = mass_full * assumed_axle_share(self.axles);
        let axle_load_full =
            check.or_assumed("axle_load_full", axle_full, assumed_axle, format!("{assumed_axle:.0}"));
        let axle_load_empty = self
            .axle_load_empty
            .map(|w| w.0)
            .unwrap_or(axle_load_full * (mass_empty.0 / mass_full.0).min(1.0));
        let metres = |w: Option<Written<Metres>>| w.map(|w| w.0);
        let height =
            check.or_assumed("height", metres(self.height), ASSUMED_HEIGHT, ASSUMED_HEIGHT.to_string());
        let width = check.or_assumed("width", metres(self.width), ASSUMED_WIDTH, ASSUMED_WIDTH.to_string());
        let length =
            check.or_assumed("length", metres(self.length), ASSUMED_LENGTH, ASSUMED_LENGTH.to_string());
        let turnout = check.not_negative("turnout_s", self.turnout_s.unwrap_or(ASSUMED_TURNOUT.0));
        let intake = self.intake_gpm.unwrap_or(ASSUMED_RATE.0);
        let dump = self.dump_gpm.unwrap_or(ASSUMED_RATE.0);
        let fill_handling = self.fill_handling_s.unwrap_or(ASSUMED_FILL_HANDLING.0);
        let dump_handling = self.dump_handling_s.unwrap_or(ASSUMED_DUMP_HANDLING.0);
        Tanker {
            chassis: Chassis {
                id: self.id,
                station: self.station,
                turnout: Seconds(turnout),
                call: check.call(self.call),
                mass_empty,
                mass_full,
                rated_mass: self.rated_mass.map_or(mass_full, |w| w.0),
                tandem: self.axles.is_some_and(|axles| axles >= 3),
                axle_load_empty,
                axle_load_full,
                height,
                width,
                length,
                power_hp: self.power_hp.map(|hp| check.positive("power_hp", hp)),
            },
            tank,
            usable: tank * USABLE_SHARE,
            intake: GallonsPerMinute(check.positive("intake_gpm", intake)),
            dump_rate: GallonsPerMinute(check.positive("dump_gpm", dump)),
            fill_handling: Seconds(check.not_negative("fill_handling_s", fill_handling)),
            dump_handling: Seconds(check.not_negative("dump_handling_s", dump_handling)),
        }
    }
}

impl PumperRow {
    /// Mass of a pumper where the fleet file gives none (common practice, no source).
    const ASSUMED_MASS: Kilograms = Kilograms(18_000.0);
    /// Net pressure at which a pump gives its rated capacity (NFPA 1901, from memory).
    const RATED_PRESSURE: Psi = Psi(150.0);

    fn check(self, check: &mut RowCheck) -> Pumper {
        let mass = self.mass.map_or(Self::ASSUMED_MASS, |w| w.0);
        let hose = self
            .hose
            .into_iter()
            .map(|row| HoseStock {
                diameter: Inches(check.positive("hose.diameter_in", row.diameter_in)),
                length: Feet(check.positive("hose.length_ft", row.length_ft)),
            })
            .collect();
        Pumper {
            chassis: Chassis {
                id: self.id,
                station: self.station,
                turnout: Seconds(
                    check.not_negative("turnout_s", self.turnout_s.unwrap_or(ASSUMED_TURNOUT.0)),
                ),
                call: check.call(self.call),
                mass_empty: mass,
                mass_full: mass,
                rated_mass: mass,
                tandem: false,
                axle_load_empty: mass * assumed_axle_share(None),
                axle_load_full: mass * assumed_axle_share(None),
                height: self.height.map_or(ASSUMED_HEIGHT, |w| w.0),
                width: self.width.map_or(ASSUMED_WIDTH, |w| w.0),
                length: self.length.map_or(ASSUMED_LENGTH, |w| w.0),
                power_hp: self.power_hp.map(|hp| check.positive("power_hp", hp)),
            },
            role: self.role,
            rated: GallonsPerMinute(check.positive("rated_gpm", self.rated_gpm)),
            pressure: Psi(check.positive("pump_psi", self.pump_psi.unwrap_or(Self::RATED_PRESSURE.0))),
            suctions: self.suctions.unwrap_or(1),
            hose,
        }
    }
}

impl Fleet {
    /// Reads a fleet file. Findings of use to the officer go to `findings`; anything unusable refuses.
    pub fn read(path: &Path, findings: &mut Findings) -> Outcome<Fleet> {
        let file = path.display().to_string();
        let text = crate::finding::read_text(path)?;
        Fleet::parse(&text, &file, findings)
    }

    pub fn parse(text: &str, file: &str, findings: &mut Findings) -> Outcome<Fleet> {
        let rows: FleetFile =
            toml::from_str(text).map_err(|e| crate::finding::toml_refusal(file, text, &e))?;
        let mut noted = Findings::new();
        let row_check = |row: usize, id: &str, noted: &mut Findings, kind: &str| {
            if id.trim().is_empty() {
                noted.add(Finding::new(
                    Code::InputInvalid,
                    Where::file(file).row(row),
                    format!("a {kind} has an empty id"),
                    "give every vehicle its own id",
                ));
            }
        };
        let mut fleet = Fleet {
            tankers: Vec::new(),
            pumpers: Vec::new(),
            portable_tanks: Vec::new(),
            siphons: rows.siphons,
        };
        let mut ids: Vec<String> = Vec::new();
        for (i, row) in rows.tanker.into_iter().enumerate() {
            row_check(i + 1, &row.id, &mut noted, "tanker");
            ids.push(row.id.clone());
            let name = row.id.clone();
            fleet.tankers.push(row.check(&mut RowCheck { file, row: i + 1, name, findings: &mut noted }));
        }
        for (i, row) in rows.pumper.into_iter().enumerate() {
            row_check(i + 1, &row.id, &mut noted, "pumper");
            ids.push(row.id.clone());
            let name = row.id.clone();
            fleet.pumpers.push(row.check(&mut RowCheck { file, row: i + 1, name, findings: &mut noted }));
        }
        for (i, row) in rows.portable_tank.into_iter().enumerate() {
            let name = format!("portable tank {}", i + 1);
            let mut check = RowCheck { file, row: i + 1, name, findings: &mut noted };
            fleet.portable_tanks.push(Gallons(check.positive("volume_gal", row.volume_gal)));
        }
        ids.sort();
        if let Some(twice) = ids.windows(2).find(|pair| pair[0] == pair[1]) {
            noted.add(Finding::new(
                Code::InputInvalid,
                Where::file(file).named(twice[0].clone()),
                "two vehicles share this id",
                "give every vehicle its own id",
            ));
        }
        noted.refuse_errors()?;
        findings.extend(noted);
        Ok(fleet)
    }
}
