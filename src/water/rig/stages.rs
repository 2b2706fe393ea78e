//! The order in which a rig is built as engines and tankers arrive, and how its valves are set at
//! each flow.

use super::{Rig, RigFlow, RigLimit, Setting};
use crate::units::GallonsPerMinute;
use crate::water::Checked;
use crate::water::transfer::TransferSettings;
use serde::Serialize;

/// Flows at which an officer checks the valves, gpm: those in which the needed flow is counted.
const STEP: f64 = 250.0;

/// What is done at a stage. Tanks, siphons and suctions are numbered from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "step")]
pub enum Step {
    /// The pumper, the first tank and the first suction; the first tanker dumps there.
    First,
    /// A further tank, with a siphon into the first where one is left for it.
    Tank {
        tank: u32,
        siphon: Option<u32>,
    },
    /// A further siphon out of a tank that has one.
    Siphon {
        siphon: u32,
        from_tank: u32,
    },
    Suction {
        suction: u32,
    },
    SecondPumper,
}

/// A stage and the greatest flow once it stands.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Stage {
    #[serde(flatten)]
    pub step: Step,
    #[serde(flatten)]
    pub then: RigFlow,
}

/// The tank that a siphon leads out of: each further tank one, and then round again. Zero where
/// there is no further tank.
pub fn siphon_from(siphon: u32, tanks: u32) -> u32 {
    match tanks {
        0 | 1 => 0,
        n => 2 + (siphon - 1) % (n - 1),
    }
}

/// The stages of a rig, each with what it gives: first what lets the water flow, then what the
/// flow waits for: a suction where suctions hold it back, the second pumper where the pump does,
/// else the next tank with its siphon.
/// Errors: an unusable rig or settings.
pub fn stages(rig: &Rig, settings: &TransferSettings) -> Checked<Vec<Stage>> {
    rig.to_the_attack(settings)?;
    let mut now = Rig { tanks: 1, siphons: 0, transfer: None, ..*rig };
    now.pumper.suctions = 1;
    let mut then = now.to_the_attack(settings)?;
    let mut found = vec![Stage { step: Step::First, then }];
    loop {
        let suction = now.pumper.suctions < rig.pumper.suctions;
        let second = now.transfer.is_none() && rig.transfer.is_some();
        let tank = now.tanks < rig.tanks;
        let siphon = now.siphons < rig.siphons;
        let pump = matches!(then.limit, RigLimit::PumpAtLift | RigLimit::PumpAtPressure);
        let step = if suction && (then.limit == RigLimit::Suction || !(tank || siphon || second)) {
            now.pumper.suctions += 1;
            Step::Suction { suction: now.pumper.suctions }
        } else if second && (pump && now.siphons > 0 || !(tank || siphon)) {
            now.transfer = rig.transfer;
            Step::SecondPumper
        } else if tank {
            now.tanks += 1;
            now.siphons += u32::from(siphon);
            Step::Tank { tank: now.tanks, siphon: siphon.then_some(now.siphons) }
        } else if siphon {
            now.siphons += 1;
            Step::Siphon { siphon: now.siphons, from_tank: siphon_from(now.siphons, now.tanks) }
        } else {
            return Ok(found);
        };
        then = now.to_the_attack(settings)?;
        found.push(Stage { step, then });
    }
}

/// How the rig is set at 250 gpm, 500 and so on up to its greatest flow, which comes last, to the
/// full gallon a minute.
/// Errors: an unusable rig or settings.
pub fn settings_by_flow(rig: &Rig, settings: &TransferSettings) -> Checked<Vec<Setting>> {
    // A hair of room: 999.9999999 found by halving is 1,000.
    let most = (rig.to_the_attack(settings)?.flow.get() + 1e-6).floor();
    let mut found = Vec::new();
    let steps = (1..).map(|n| STEP * f64::from(n)).take_while(|flow| *flow < most);
    for flow in steps.chain((most > 0.0).then_some(most)) {
        found.extend(rig.setting(GallonsPerMinute(flow), settings)?);
    }
    Ok(found)
}
