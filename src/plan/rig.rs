//! A dump rig without a map: what it gives, what to call for, how it is built and set.

use crate::plan::request::Problem;
use crate::sites::dump::{self, HoseBed};
use crate::sites::rig::{rig_of, supply_line};
use crate::sites::space::tank_row;
use crate::units::{Feet, Gallons, GallonsPerMinute, Metres, Seconds};
use crate::water::rig::call::{Call, call_for};
use crate::water::rig::stages::{Stage, settings_by_flow, stages};
use crate::water::rig::{Rig, RigFlow, Setting};
use crate::water::transfer::TransferSettings;
use crate::water::{Checked, positive};

/// What is there, and what is wanted.
#[derive(Clone, Debug)]
pub struct RigProblem {
    pub rig: Rig,
    /// Nominal volumes, the drafted tank first; as many as the rig has tanks.
    pub tanks: Vec<Gallons>,
    /// Tank of the largest tanker, if one is known.
    pub largest_load: Option<Gallons>,
    /// None asks for the most.
    pub wanted: Option<GallonsPerMinute>,
    pub settings: TransferSettings,
}

/// The fleet's rig at a dump site with this lay, asked for the need; none where the fleet carries no hose.
pub fn at_dump(problem: &Problem, lay: &dump::SupplyLine) -> Checked<Option<RigProblem>> {
    let fleet = &problem.fleet;
    let Some(bed) = HoseBed::of(fleet)? else { return Ok(None) };
    let line = supply_line(&bed, lay.length, lay.lines, lay.rise.unwrap_or(Feet::ZERO));
    Ok(Some(RigProblem {
        rig: rig_of(fleet, &problem.rig, Some(line))?,
        tanks: fleet.portable_tanks.clone(),
        largest_load: fleet.tankers.iter().map(|tanker| tanker.tank).reduce(Gallons::max),
        wanted: Some(problem.need),
        settings: TransferSettings::default(),
    }))
}

/// How the flow wanted is had.
#[derive(Clone, Debug)]
pub enum Need {
    /// Nothing was asked for but the most.
    Most,
    /// The rig gives it.
    Met,
    /// It gives it once these have come.
    Call(Call),
    /// No rig of one drafting pumper gives it here.
    Beyond,
}

/// What there is to say of a rig.
#[derive(Clone, Debug)]
pub struct RigAnswer {
    /// Greatest flow of what is there.
    pub most: RigFlow,
    pub need: Need,
    /// The rig shown: with what is called for, where that is the answer.
    pub rig: Rig,
    /// Its tanks.
    pub tanks: Vec<Gallons>,
    /// Greatest flow of the rig shown.
    pub gives: RigFlow,
    pub stages: Vec<Stage>,
    pub valves: Vec<Setting>,
    /// Least volume of a portable tank for the largest tanker, where that is known, and the tanks
    /// that are smaller, numbered from 1.
    pub least_tank: Option<Gallons>,
    pub small_tanks: Vec<u32>,
    /// Tanks that no siphon empties.
    pub idle_tanks: Vec<u32>,
    /// How long the tanks that can be emptied, full, carry the flow wanted, or the most, when no
    /// tanker comes.
    pub reserve: Seconds,
    /// Roadside that the tanks take in a row.
    pub tank_row: Metres,
}

impl RigAnswer {
    /// The rig that is there gives the flow wanted.
    pub fn meets_need(&self) -> bool {
        matches!(self.need, Need::Most | Need::Met)
    }
}

/// Works a rig out.
/// Errors: unusable numbers.
pub fn answer(problem: &RigProblem) -> Checked<RigAnswer> {
    let settings = &problem.settings;
    let most = problem.rig.to_the_attack(settings)?;
    if let Some(wanted) = problem.wanted {
        positive("flow wanted (gpm)", wanted.get())?;
    }
    let least_tank = problem.largest_load.map(|load| settings.tank_rule.least_tank(load)).transpose()?;
    let need = match problem.wanted {
        None => Need::Most,
        Some(wanted) => match call_for(&problem.rig, wanted, settings)? {
            Some(call) if call.nothing() => Need::Met,
            Some(call) => Need::Call(call),
            None => Need::Beyond,
        },
    };
    let rig = match &need {
        Need::Call(call) => call.rig,
        _ => problem.rig,
    };
    let mut tanks = problem.tanks.clone();
    // A tank that is called for is to take the largest load.
    let largest = tanks.iter().copied().fold(least_tank.unwrap_or_default(), Gallons::max);
    tanks.resize(rig.tanks as usize, largest);
    let numbered = || (1..).zip(&tanks);
    let gives = rig.to_the_attack(settings)?;
    let emptied = 1 + rig.siphons as usize;
    let held: Gallons = tanks.iter().take(emptied).copied().sum();
    let drawn = problem.wanted.unwrap_or(gives.flow).min(gives.flow);
    Ok(RigAnswer {
        most,
        need,
        stages: stages(&rig, settings)?,
        valves: settings_by_flow(&rig, settings)?,
        small_tanks: numbered()
            .filter(|(_, tank)| least_tank.is_some_and(|least| **tank < least))
            .map(|(number, _)| number)
            .collect(),
        idle_tanks: numbered().skip(emptied).map(|(number, _)| number).collect(),
        least_tank,
        reserve: if drawn.get() > 0.0 { held.at(drawn) } else { Seconds::ZERO },
        tank_row: tank_row(&tanks),
        gives,
        rig,
        tanks,
    })
}
