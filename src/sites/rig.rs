//! The dump rig that a fleet brings: its parts from the fleet file and the scenario's figures.

use crate::sites::dump::{HoseBed, INTAKE_RESIDUAL};
use crate::units::{Feet, Inches, Metres};
use crate::vehicle::{self, Fleet};
use crate::water::draft::CapacityCurve;
use crate::water::hose::Lay;
use crate::water::rig::{Pumper, Rig, SupplyLine};
use crate::water::{BadInput, Checked};
use serde::Deserialize;

/// How the dump site is rigged.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct RigSettings {
    /// Surface of the water in the portable tank to the pump intake.
    #[serde(rename = "lift_ft")]
    pub lift: Feet,
    #[serde(rename = "altitude_ft")]
    pub altitude: Feet,
    #[serde(rename = "suction_in")]
    pub suction: Inches,
    /// Tankers that unload at once; as many as there are portable tanks, two at most, if not given.
    pub dump_berths: Option<u32>,
    pub capacity_curve: CapacityCurve,
}

impl Default for RigSettings {
    /// Common practice, no source: a pump draws from tanks beside it with a few feet of lift
    /// through the older 5-inch suction.
    fn default() -> Self {
        RigSettings {
            lift: Feet(6.0),
            altitude: Feet(0.0),
            suction: Inches(5.0),
            dump_berths: None,
            capacity_curve: CapacityCurve::default(),
        }
    }
}

/// The fleet's rig: its draft pumper, a second pumper meant for drafting for the transfer, all
/// portable tanks and siphons, and the supply line if one is laid.
/// Errors: a fleet without a pumper.
pub fn rig_of(fleet: &Fleet, settings: &RigSettings, line: Option<SupplyLine>) -> Checked<Rig> {
    let of = |pumper: &vehicle::Pumper| Pumper {
        rated: pumper.rated,
        pressure: pumper.pressure,
        suctions: pumper.suctions,
        suction: settings.suction,
    };
    let none = || BadInput { what: "pumpers", found: 0.0, remedy: "add a [[pumper]]".into() };
    Ok(Rig {
        pumper: of(fleet.draft_pumper().ok_or_else(none)?),
        transfer: fleet.transfer_pumper().map(of),
        tanks: fleet.portable_tanks.len() as u32,
        siphons: fleet.siphons,
        lift: settings.lift,
        altitude: settings.altitude,
        curve: settings.capacity_curve,
        line,
    })
}

/// A lay of the bed's hose as a rig's supply line, its end so much higher than its begin.
pub fn supply_line(bed: &HoseBed, length: Metres, lines: u32, rise: Feet) -> SupplyLine {
    let lay = Lay { diameter: bed.size, length: length.feet().max(Feet(1.0)), lines };
    SupplyLine { lay, residual: INTAKE_RESIDUAL, gain: rise }
}
