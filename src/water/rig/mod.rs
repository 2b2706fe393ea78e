//! The dump rig: pumpers that draft, portable tanks, siphons between them, hose to the attack. From
//! the parts the greatest flow and what limits it; for a flow how the rig is set, and in [`call`]
//! what is missing; in [`stages`] the order in which it is built.
//!
//! The rules between the parts are common practice, no source, unless said otherwise: the first
//! tank is the drafted one; tankers dump into the others, away from the strainers, and a siphon
//! leads from each straight over its neighbours into the first. A siphon moves 500 to 600 gpm and
//! takes 150 to 200 gpm of motive flow, which comes back into the tanks: it costs pump capacity and
//! passes the suctions, but is no water lost. A second pumper may feed the siphons. Of each range
//! the cautious end is the default ([`TransferSettings`]).

pub mod call;
pub mod stages;

use super::draft::{CapacityCurve, capacity_at_draft, capacity_at_pressure, suction_capacity};
use super::hose::Lay;
use super::transfer::TransferSettings;
use super::{Checked, count, not_negative, positive, within};
use crate::units::{Feet, GallonsPerMinute, Inches, Psi};
use serde::Serialize;

/// A pumper that drafts from the portable tanks.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Pumper {
    /// At 150 psi and 10 ft of lift, as on its plate.
    pub rated: GallonsPerMinute,
    /// Greatest discharge pressure it gives the supply line.
    pub pressure: Psi,
    /// Suction lines it draws through, and their diameter.
    pub suctions: u32,
    pub suction: Inches,
}

/// The hose from the drafting pumper to the attack.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SupplyLine {
    pub lay: Lay,
    /// Pressure that must arrive.
    pub residual: Psi,
    /// Rise from the pumper to the far end; negative downhill.
    pub gain: Feet,
}

/// All parts of a dump rig.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Rig {
    pub pumper: Pumper,
    /// A second pumper, which feeds siphons and nothing else.
    pub transfer: Option<Pumper>,
    pub tanks: u32,
    pub siphons: u32,
    /// Water in the portable tank, at its lowest, to the pump intake.
    pub lift: Feet,
    pub altitude: Feet,
    pub curve: CapacityCurve,
    /// None: the pumper is taken to run at its greatest pressure, and the line to carry all.
    pub line: Option<SupplyLine>,
}

/// What holds a rig back.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum RigLimit {
    /// The drafting pumper at this lift and altitude; it carries the motive flow besides the fire.
    PumpAtLift,
    /// The drafting pumper at the pressure that supply and motive lines ask for.
    PumpAtPressure,
    /// The suction lines, through which the motive flow passes too.
    Suction,
    /// The water the siphons move.
    Siphons,
    /// One tank alone, without siphons.
    SingleTank,
    /// The hose to the attack.
    SupplyLine,
}

impl RigLimit {
    pub fn words(self) -> &'static str {
        match self {
            RigLimit::PumpAtLift => "the pumper at this lift and altitude",
            RigLimit::PumpAtPressure => "the pumper at the pressure the lines need",
            RigLimit::Suction => "the suction",
            RigLimit::Siphons => "the siphons",
            RigLimit::SingleTank => "one tank without a siphon to fill it",
            RigLimit::SupplyLine => "the supply line",
        }
    }
}

/// The greatest flow of a rig.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RigFlow {
    #[serde(rename = "flow_gpm")]
    pub flow: GallonsPerMinute,
    pub limit: RigLimit,
    /// Siphons running at that flow; more may be fitted than it pays to feed.
    pub siphons_running: u32,
    /// Motive flow taken from the drafting pumper.
    #[serde(rename = "motive_gpm")]
    pub motive: GallonsPerMinute,
}

/// How a rig is set for one flow: which valves are open, and what the drafting pumper does.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Setting {
    #[serde(rename = "flow_gpm")]
    pub flow: GallonsPerMinute,
    /// Siphons fed by the second pumper, and by the drafting one.
    pub siphons_by_second: u32,
    pub siphons_by_first: u32,
    /// Motive flow of the drafting pumper, and all it draws.
    #[serde(rename = "motive_gpm")]
    pub motive: GallonsPerMinute,
    #[serde(rename = "drawn_gpm")]
    pub drawn: GallonsPerMinute,
    #[serde(rename = "discharge_psi")]
    pub discharge: Psi,
    /// Suction lines the drawn flow takes.
    pub suctions: u32,
}

impl Setting {
    pub fn siphons(&self) -> u32 {
        self.siphons_by_second + self.siphons_by_first
    }
}

/// Flow of suction lines: as [`suction_capacity`], and no more than the settings allow a single
/// tube of up to 6 in.
/// Errors: no line, an unusable diameter.
pub fn suction_flow(diameter: Inches, lines: u32, settings: &TransferSettings) -> Checked<GallonsPerMinute> {
    let table = suction_capacity(diameter, lines)?;
    // Between 6 and 8 in the table reads the 6-in row.
    let single = lines == 1 && diameter.get() < 8.0;
    Ok(if single { table.min(settings.single_suction_gpm) } else { table })
}

impl Rig {
    /// Greatest flow of pumper, suctions, tanks and siphons, and what limits it. As many siphons
    /// run as pay: each moves water but takes motive flow from the pump, a second pumper's first.
    /// One tank, or no siphon, gives what a single tank supports. The pumper runs at the pressure
    /// that supply line and motive lines need at the flow; what the line itself carries is left
    /// to [`Rig::to_the_attack`].
    /// Errors: no tank, unusable numbers or settings.
    pub fn at_the_tanks(&self, settings: &TransferSettings) -> Checked<RigFlow> {
        let figures = Figures::of(self, settings)?;
        let mut best = figures.running(0)?;
        for siphons in 1..=figures.fitted {
            let next = figures.running(siphons)?;
            if next.flow > best.flow {
                best = next;
            }
        }
        Ok(best)
    }

    /// Greatest flow to the attack: that at the tanks, or the supply line's where it carries less.
    /// Errors: as [`Rig::at_the_tanks`], and a line of no length.
    pub fn to_the_attack(&self, settings: &TransferSettings) -> Checked<RigFlow> {
        let tanks = self.at_the_tanks(settings)?;
        let carried = self.line_flow()?;
        if carried >= tanks.flow {
            return Ok(tanks);
        }
        let set = self.setting(carried, settings)?;
        let (siphons_running, motive) = set.map_or((0, GallonsPerMinute::ZERO), |s| (s.siphons(), s.motive));
        Ok(RigFlow { flow: carried, limit: RigLimit::SupplyLine, siphons_running, motive })
    }

    /// What the supply line carries at the pumper's greatest pressure; without a line, more than
    /// any pump.
    fn line_flow(&self) -> Checked<GallonsPerMinute> {
        match &self.line {
            Some(line) => line.lay.flow(self.pumper.pressure, line.residual, line.gain),
            None => Ok(GallonsPerMinute(f64::MAX)),
        }
    }

    /// How the rig is set for a flow, with the fewest siphons that move it and at least one where
    /// there are two tanks, so that nobody dumps onto the strainers; none where it cannot give it.
    /// Errors: a flow outside 0..=10,000 gpm; as [`Rig::to_the_attack`].
    pub fn setting(&self, flow: GallonsPerMinute, settings: &TransferSettings) -> Checked<Option<Setting>> {
        within("flow (gpm)", flow.get(), 0.0..=10_000.0, "give the flow wanted in gpm")?;
        let figures = Figures::of(self, settings)?;
        // A hair of room, so that a flow found by halving is not refused for its last digit.
        let enough = |has: GallonsPerMinute, wants: GallonsPerMinute| has.get() >= wants.get() - 1e-6;
        if !enough(self.line_flow()?, flow) {
            return Ok(None);
        }
        let moves = |siphons: u32| match siphons {
            0 => settings.single_tank_gpm,
            n => settings.supply_of(n),
        };
        let gives = |siphons: u32| -> Checked<Option<Setting>> {
            let own = figures.own(siphons);
            let drawn = flow + figures.motive(own);
            let discharge = figures.discharge(flow, own)?;
            let carried = figures.at_pressure(discharge)?.min(figures.at_lift).min(figures.suction);
            if !enough(moves(siphons), flow) || !enough(carried, drawn) {
                return Ok(None);
            }
            let mut suctions = 1;
            while suctions < self.pumper.suctions
                && !enough(suction_flow(self.pumper.suction, suctions, settings)?, drawn)
            {
                suctions += 1;
            }
            let motive = figures.motive(own);
            let siphons_by_second = siphons - own;
            let siphons_by_first = own;
            Ok(Some(Setting {
                flow,
                siphons_by_second,
                siphons_by_first,
                motive,
                drawn,
                discharge,
                suctions,
            }))
        };
        // From one siphon up, so that none comes last.
        for siphons in 1..=figures.fitted {
            if enough(moves(siphons), flow) {
                return Ok(match gives(siphons)? {
                    Some(set) => Some(set),
                    None => gives(0)?,
                });
            }
        }
        gives(0)
    }
}

/// A rig's numbers, checked and worked out once.
struct Figures<'a> {
    rig: &'a Rig,
    settings: &'a TransferSettings,
    at_lift: GallonsPerMinute,
    suction: GallonsPerMinute,
    motive_pressure: Psi,
    /// Siphons that can run at all, and those that the second pumper feeds.
    fitted: u32,
    elsewhere: u32,
}

impl<'a> Figures<'a> {
    fn of(rig: &'a Rig, settings: &'a TransferSettings) -> Checked<Figures<'a>> {
        settings.check()?;
        let tanks = count("portable tanks", rig.tanks, 1)?;
        let siphons = count("siphons", rig.siphons, 0)?;
        not_negative("pump pressure (psi)", rig.pumper.pressure.get())?;
        let motive_pressure = settings.motive_pressure()?;
        let at_lift = |pumper: &Pumper| capacity_at_draft(pumper.rated, rig.lift, rig.altitude, rig.curve);
        let suction = |pumper: &Pumper| suction_flow(pumper.suction, pumper.suctions, settings);
        let mut figures = Figures {
            rig,
            settings,
            at_lift: at_lift(&rig.pumper)?,
            suction: suction(&rig.pumper)?,
            motive_pressure,
            fitted: if tanks == 1 { 0 } else { siphons },
            elsewhere: 0,
        };
        if let Some(second) = &rig.transfer {
            positive("transfer pump rating (gpm)", second.rated.get())?;
            let pressed = capacity_at_pressure(second.rated, figures.net(motive_pressure))?;
            let gives = pressed.min(at_lift(second)?).min(suction(second)?);
            let each = settings.siphon_motive_gpm.get();
            // A siphon is fed by one pump: only whole siphons pass to the second. Without motive
            // flow there is nothing to pass.
            let whole = if each > 0.0 { (gives.get() / each + 1e-9).floor() } else { 0.0 };
            figures.elsewhere = whole.min(f64::from(figures.fitted)) as u32;
        }
        Ok(figures)
    }

    /// Net pump pressure: the discharge and the lift. Friction in the suction is part of the
    /// rating, which is taken through 20 ft of it.
    fn net(&self, discharge: Psi) -> Psi {
        discharge + self.rig.lift.head_psi()
    }

    fn at_pressure(&self, discharge: Psi) -> Checked<GallonsPerMinute> {
        capacity_at_pressure(self.rig.pumper.rated, self.net(discharge))
    }

    fn own(&self, siphons: u32) -> u32 {
        siphons.saturating_sub(self.elsewhere)
    }

    fn motive(&self, own: u32) -> GallonsPerMinute {
        self.settings.siphon_motive_gpm * f64::from(own)
    }

    /// Discharge pressure at a flow: what the supply line needs, no more than the pumper gives it,
    /// or what its siphons need; the other of the two is gated down.
    fn discharge(&self, flow: GallonsPerMinute, own: u32) -> Checked<Psi> {
        let most = self.rig.pumper.pressure;
        let line = match &self.rig.line {
            Some(line) => line.lay.pump_pressure(flow, line.residual, line.gain)?.min(most),
            None => most,
        };
        Ok(if own > 0 { line.max(self.motive_pressure) } else { line })
    }

    fn running(&self, siphons: u32) -> Checked<RigFlow> {
        let own = self.own(siphons);
        let (left, by_pump) = self.left(own)?;
        let (moved, short) = match siphons {
            0 => (self.settings.single_tank_gpm, RigLimit::SingleTank),
            n => (self.settings.supply_of(n), RigLimit::Siphons),
        };
        let (flow, limit) = if left <= moved { (left, by_pump) } else { (moved, short) };
        Ok(RigFlow { flow, limit, siphons_running: siphons, motive: self.motive(own) })
    }

    /// What pumper and suctions leave for the fire beside so many siphons. The pressure rises with
    /// the flow and the pump gives less at more pressure, so what is left is found by halving.
    fn left(&self, own: u32) -> Checked<(GallonsPerMinute, RigLimit)> {
        let motive = self.motive(own);
        let (most, limit) = match self.suction < self.at_lift {
            true => (self.suction, RigLimit::Suction),
            false => (self.at_lift, RigLimit::PumpAtLift),
        };
        let most = (most - motive).max(GallonsPerMinute::ZERO);
        let over = |flow: GallonsPerMinute| -> Checked<GallonsPerMinute> {
            Ok(self.at_pressure(self.discharge(flow, own)?)? - motive)
        };
        if over(most)? >= most {
            return Ok((most, limit));
        }
        if self.discharge(GallonsPerMinute::ZERO, own)? == self.discharge(most, own)? {
            // The same pressure at every flow.
            return Ok((over(most)?.max(GallonsPerMinute::ZERO), RigLimit::PumpAtPressure));
        }
        let (mut low, mut high) = (0.0, most.get());
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            if over(GallonsPerMinute(middle))?.get() >= middle { low = middle } else { high = middle }
        }
        Ok((GallonsPerMinute(low), RigLimit::PumpAtPressure))
    }
}

#[cfg(test)]
mod tests;
