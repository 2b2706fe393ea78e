//! Water between portable tanks: siphons and their motive flow, how large a tank must be, how long a
//! tanker takes to unload. [`super::rig`] puts them together with pumpers and hose.

use super::hose::{HoseSize, friction_loss};
use super::{BadInput, Checked, count, not_negative, positive, share, within};
use crate::units::{CubicFeet, Feet, Gallons, GallonsPerMinute, Inches, Psi, Seconds};
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// Figures of the dump rig that practice gives as ranges; the defaults are the cautious ends.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct TransferSettings {
    /// Moved by one jet siphon or transfer strainer: 500 to 600 gpm (common practice, no source).
    pub siphon_moved_gpm: GallonsPerMinute,
    /// Taken from a pump by one siphon: 150 to 200 gpm (common practice, no source).
    pub siphon_motive_gpm: GallonsPerMinute,
    /// Pressure that must arrive at a siphon's jet (common practice, no source).
    pub siphon_psi: Psi,
    /// Hose from a pumper to each siphon (common practice, no source).
    pub motive_hose: HoseSize,
    pub motive_ft: Feet,
    /// Share of the supply that is dumped into tanks other than the drafted one. All of it by
    /// default: dumping onto the strainers draws air (common practice, no source).
    pub share_moved: f64,
    /// Flow above which one portable tank is not enough: about 300 gpm (trade press).
    pub single_tank_gpm: GallonsPerMinute,
    /// Flow above which a pump draws through two suction tubes or more, unless one is wider than
    /// 6 in; practice says only "higher flows", and 1,000 gpm is what a single 5-in tube carries
    /// (common practice, no source).
    pub single_suction_gpm: GallonsPerMinute,
    pub tank_rule: TankRule,
    /// Share of its nominal volume a tank holds on a lot of unknown pitch: little more than half
    /// (trade press).
    pub pitched_share: f64,
}

impl Default for TransferSettings {
    fn default() -> Self {
        TransferSettings {
            siphon_moved_gpm: GallonsPerMinute(500.0),
            siphon_motive_gpm: GallonsPerMinute(200.0),
            siphon_psi: Psi(100.0),
            motive_hose: HoseSize::TwoAndHalf,
            motive_ft: Feet(50.0),
            share_moved: 1.0,
            single_tank_gpm: GallonsPerMinute(300.0),
            single_suction_gpm: GallonsPerMinute(1_000.0),
            tank_rule: TankRule::default(),
            pitched_share: 0.5,
        }
    }
}

impl TransferSettings {
    pub(super) fn check(&self) -> Checked<()> {
        let remedy = "give a flow from 1 to 10,000 gpm";
        within("flow moved by a siphon (gpm)", self.siphon_moved_gpm.get(), 1.0..=10_000.0, remedy)?;
        not_negative("motive flow of a siphon (gpm)", self.siphon_motive_gpm.get())?;
        not_negative("pressure at a siphon (psi)", self.siphon_psi.get())?;
        not_negative("hose to a siphon (ft)", self.motive_ft.get())?;
        within("share moved between tanks", self.share_moved, 0.01..=1.0, "give a share from 0.01 to 1")?;
        not_negative("flow of a single tank (gpm)", self.single_tank_gpm.get())?;
        not_negative("flow of a single suction (gpm)", self.single_suction_gpm.get())?;
        share("usable share of a pitched tank", self.pitched_share)?;
        Ok(())
    }

    /// Supply that `running` siphons make possible: they need move only the share dumped away
    /// from the drafted tank.
    pub(super) fn supply_of(&self, running: u32) -> GallonsPerMinute {
        self.siphon_moved_gpm * f64::from(running) / self.share_moved
    }

    /// Discharge pressure at which a pumper feeds a siphon: what must arrive and the friction.
    /// Errors: unusable settings.
    pub fn motive_pressure(&self) -> Checked<Psi> {
        Ok(self.siphon_psi + friction_loss(self.motive_hose, self.siphon_motive_gpm, self.motive_ft)?)
    }
}

/// Least tank volume for the largest tanker.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TankRule {
    /// Largest load and 500 gal (IFSTA).
    #[default]
    LoadAnd500,
    /// 1.4 times the largest load (from memory of training material, weakly held).
    Load1p4,
    /// The larger of the two.
    Larger,
}

impl TankRule {
    /// Errors: a load that is not above zero.
    pub fn least_tank(self, largest_load: Gallons) -> Checked<Gallons> {
        positive("largest load (gal)", largest_load.get())?;
        let (sum, product) = (largest_load + Gallons(500.0), largest_load * 1.4);
        Ok(match self {
            TankRule::LoadAnd500 => sum,
            TankRule::Load1p4 => product,
            TankRule::Larger => sum.max(product),
        })
    }
}

/// Siphons for a flow with so many tanks: none with one tank; else enough for the share that is
/// moved and at least one per further tank, each leading straight to the drafted tank
/// (common practice, no source).
/// Errors: no tank, a negative flow, unusable settings.
pub fn siphons_needed(flow: GallonsPerMinute, tanks: u32, settings: &TransferSettings) -> Checked<u32> {
    settings.check()?;
    let flow = within("flow (gpm)", flow.get(), 0.0..=1e6, "give the flow wanted in gpm")?;
    let tanks = count("portable tanks", tanks, 1)?;
    if tanks == 1 {
        return Ok(0);
    }
    // A hair under the whole number, so that 1,500 over 500 is three however it is rounded.
    let enough = (flow / settings.supply_of(1).get() - 1e-9).ceil().max(0.0) as u32;
    Ok(enough.max(tanks - 1))
}

/// Motive flow of so many running siphons. It comes back into the tanks: it costs pump capacity,
/// not supply.
/// Errors: unusable settings.
pub fn motive_flow(siphons: u32, settings: &TransferSettings) -> Checked<GallonsPerMinute> {
    settings.check()?;
    Ok(settings.siphon_motive_gpm * f64::from(siphons))
}

/// Pump capacity left for the fire once the siphons are fed; zero where they take it all.
/// Errors: a negative capacity, unusable settings.
pub fn left_for_fire(
    capacity: GallonsPerMinute,
    siphons: u32,
    settings: &TransferSettings,
) -> Checked<GallonsPerMinute> {
    not_negative("pump capacity at draft (gpm)", capacity.get())?;
    Ok((capacity - motive_flow(siphons, settings)?).max(GallonsPerMinute::ZERO))
}

/// The lot a portable tank stands on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Lot {
    Level,
    /// Pitched, no one knows how much: the settings' share.
    Pitched,
    /// A known grade: what a square tank holds before it spills over its low side.
    Grade {
        percent: f64,
    },
}

/// Volume a portable frame tank holds on its lot. On a known grade the water's surface stays level
/// while the floor tips: the lost wedge is half the fall across the tank (geometry of a square
/// tank standing `height` high, computed, no source).
/// Errors: a volume or height not above zero, a grade outside 0..=100 %, unusable settings.
pub fn usable_volume(
    nominal: Gallons,
    height: Feet,
    lot: Lot,
    settings: &TransferSettings,
) -> Checked<Gallons> {
    settings.check()?;
    positive("tank volume (gal)", nominal.get())?;
    let height =
        within("tank height (ft)", height.get(), 0.5..=10.0, "give the height of the tank's frame in feet")?;
    Ok(match lot {
        Lot::Level => nominal,
        Lot::Pitched => nominal * settings.pitched_share,
        Lot::Grade { percent } => {
            let grade =
                within("grade of the lot (%)", percent, 0.0..=100.0, "give a grade from 0 to 100 %")? / 100.0;
            let side = (nominal.cubic_feet() / CubicFeet(height)).sqrt();
            let fall = grade * side;
            let held = if fall <= height { 1.0 - fall / (2.0 * height) } else { height / (2.0 * fall) };
            nominal * held
        }
    })
}

/// Time to unload into tanks that have `room` while `outflow` is drawn: by the tanker's own dump
/// rate, or, where the room is less, by the rate at which the rest of the load finds room,
/// (load − room)/outflow. Full tanks take load/outflow.
/// Errors: unusable numbers; too little room and no outflow, where it would never end.
pub fn unload_time(
    load: Gallons,
    room: Gallons,
    dump_rate: GallonsPerMinute,
    outflow: GallonsPerMinute,
) -> Checked<Seconds> {
    positive("load (gal)", load.get())?;
    positive("dump rate (gpm)", dump_rate.get())?;
    not_negative("room in the tanks (gal)", room.get())?;
    not_negative("outflow (gpm)", outflow.get())?;
    let own = load.at(dump_rate);
    if load <= room {
        return Ok(own);
    }
    if outflow.get() < super::SMALLEST {
        return Err(BadInput::new(
            "room in the tanks (gal)",
            room.get(),
            "draw from the tanks or set up another",
        ));
    }
    Ok(own.max((load - room).at(outflow)))
}

/// A tanker that dumps by gravity through one outlet: an upright tank and an orifice.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct GravityDump {
    pub tank_gal: Gallons,
    /// Water above the outlet when full.
    pub head_ft: Feet,
    /// Round outlet, or the round one of equal area.
    pub outlet_in: Inches,
    /// Discharge coefficient of the outlet.
    #[serde(default = "sharp_orifice")]
    pub coefficient: f64,
}

/// A sharp-edged orifice (textbook figure).
fn sharp_orifice() -> f64 {
    0.6
}

impl GravityDump {
    /// Standard gravity in feet per second squared.
    const GRAVITY_FT_S2: f64 = 32.174;

    /// √head lost per second: the level obeys dh/dt = −c·a/A·√(2gh), so √h falls evenly.
    fn root_head_per_second(&self) -> Checked<f64> {
        let volume =
            within("tank (gal)", self.tank_gal.get(), 1.0..=1e6, "give the tank's volume in gallons")?;
        let head = within(
            "head (ft)",
            self.head_ft.get(),
            0.1..=100.0,
            "give the height of water above the outlet",
        )?;
        let outlet =
            within("outlet (in)", self.outlet_in.get(), 0.5..=60.0, "give the outlet's diameter in inches")?;
        let c =
            within("discharge coefficient", self.coefficient, 0.1..=1.0, "give a coefficient from 0.1 to 1")?;
        let surface = Gallons(volume).cubic_feet().get() / head;
        let bore = PI / 4.0 * Inches(outlet).feet().get().powi(2);
        Ok(c * bore * (2.0 * Self::GRAVITY_FT_S2).sqrt() / (2.0 * surface))
    }

    /// Time until `share_out` of the load is out, by the orifice equation integrated over the
    /// falling head (computed; the first second's rate would flatter it).
    /// Errors: unusable dimensions; a share outside 0..=1.
    pub fn time(&self, share_out: f64) -> Checked<Seconds> {
        let left = 1.0 - share("share dumped", share_out)?;
        let rate = self.root_head_per_second()?;
        Ok(Seconds(self.head_ft.get().sqrt() * (1.0 - left.sqrt()) / rate))
    }

    /// Mean rate over the first `share_out` of the load, such as the 90 % of NFPA 1901.
    /// Errors: as [`GravityDump::time`]; a share below 1 %.
    pub fn mean_rate(&self, share_out: f64) -> Checked<GallonsPerMinute> {
        within("share dumped", share_out, 0.01..=1.0, "give a share from 0.01 to 1")?;
        Ok(GallonsPerMinute(self.tank_gal.get() * share_out / self.time(share_out)?.minutes()))
    }
}

#[cfg(test)]
mod tests;
