//! What to call for, so that a rig gives the flow wanted.

use super::{Pumper, Rig};
use crate::units::{Gallons, GallonsPerMinute, Psi, Shown};
use crate::water::draft::suction_for;
use crate::water::transfer::TransferSettings;
use crate::water::{Checked, within};
use serde::Serialize;

/// Ratings that pumps are built in (from memory of NFPA 1901).
pub const RATINGS: [f64; 8] = [500.0, 750.0, 1_000.0, 1_250.0, 1_500.0, 1_750.0, 2_000.0, 2_250.0];
/// Net pressure at which a pump gives its rating (NWCG; from memory of NFPA 1901).
const RATED_PRESSURE: Psi = Psi(150.0);

// Most that is called for of a kind: beyond it a second dump site is the better rig (common
// practice, no source).
const MOST_MORE_SUCTIONS: u32 = 3;
const MOST_MORE_LINES: u32 = 3;

// How hard things are to get, against each other: what comes on a tanker is there sooner than an
// engine (common practice, no source).
const SIPHON: u32 = 2;
const SUCTION: u32 = 2;
const TANK: u32 = 3;
const LINE: u32 = 3;
const SECOND_PUMPER: u32 = 20;
const LARGER_PUMPER: u32 = 24;

/// What is missing, and the rig once it is there.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Call {
    pub tanks: u32,
    pub siphons: u32,
    /// Suction lines of the drafting pumper, of the same diameter.
    pub suctions: u32,
    /// Supply lines like the one laid, beside it.
    pub lines: u32,
    /// Least rating of a second pumper that takes the transfer, with its own suction.
    #[serde(rename = "second_pumper_gpm")]
    pub second_pumper: Option<GallonsPerMinute>,
    /// Least rating of a pumper to draft in place of the one there is, with its own suction.
    #[serde(rename = "larger_pumper_gpm")]
    pub larger_pumper: Option<GallonsPerMinute>,
    #[serde(skip)]
    pub rig: Rig,
}

impl Call {
    /// Everything needed is there.
    pub fn nothing(&self) -> bool {
        self.cost() == 0
    }

    /// Each thing to call for, in words; `tank` is the volume a portable tank should have, if known.
    pub fn words(&self, tank: Option<Gallons>, shown: Shown) -> Vec<String> {
        let more =
            |count: u32, what: &str| format!("{count} more {what}{}", if count == 1 { "" } else { "s" });
        let tubes = |pumper: &Pumper| format!("{} x {} suction", pumper.suctions, shown.bore(pumper.suction));
        let mut list = Vec::new();
        if self.tanks > 0 {
            let volume = tank.map_or(String::new(), |v| format!(" of {} or more", shown.volume(v)));
            list.push(format!("{}{volume}", more(self.tanks, "portable tank")));
        }
        if self.siphons > 0 {
            list.push(format!("{} with a motive line", more(self.siphons, "siphon")));
        }
        if self.suctions > 0 {
            let tube = format!("{} suction tube", shown.bore(self.rig.pumper.suction));
            list.push(format!("{} with a strainer", more(self.suctions, &tube)));
        }
        if let (Some(line), true) = (&self.rig.line, self.lines > 0) {
            let (bore, length) = (shown.bore(line.lay.diameter.diameter()), shown.length(line.lay.length));
            list.push(format!("{} of {bore}, {length} each", more(self.lines, "supply line")));
        }
        if let (Some(rated), Some(second)) = (self.second_pumper, &self.rig.transfer) {
            let with = tubes(second);
            list.push(format!("a second pumper of {} or more, {with}, for the siphons", shown.flow(rated)));
        }
        if let Some(rated) = self.larger_pumper {
            let (rated, with) = (shown.flow(rated), tubes(&self.rig.pumper));
            list.push(format!("a pumper of {rated} or more, {with}, to draft in place of this one"));
        }
        list
    }

    fn cost(&self) -> u32 {
        let engine = |rating: Option<GallonsPerMinute>, cost: u32| {
            // Of two that do, the smaller is had sooner.
            let class = |r: GallonsPerMinute| RATINGS.iter().filter(|known| **known < r.get()).count() as u32;
            rating.map_or(0, |r| cost + class(r))
        };
        self.tanks * TANK
            + self.siphons * SIPHON
            + self.suctions * SUCTION
            + self.lines * LINE
            + engine(self.second_pumper, SECOND_PUMPER)
            + engine(self.larger_pumper, LARGER_PUMPER)
    }
}

/// A pumper of a standard rating, with the suction that goes with it.
fn standard(rated: GallonsPerMinute) -> Checked<Pumper> {
    let suction = suction_for(rated)?;
    Ok(Pumper {
        rated,
        pressure: RATED_PRESSURE,
        // Two tubes or more at higher flows, whatever one would carry.
        suctions: if rated.get() > 1_000.0 { suction.lines.max(2) } else { suction.lines },
        suction: suction.diameter,
    })
}

/// The least to call for so that the rig gives the flow wanted, all combinations tried; none
/// where even the most does not: too high a lift, too long a line, or too much for one dump site.
/// Errors: a flow outside 0..=10,000 gpm, an unusable rig or settings.
pub fn call_for(rig: &Rig, wanted: GallonsPerMinute, settings: &TransferSettings) -> Checked<Option<Call>> {
    within("flow (gpm)", wanted.get(), 0.0..=10_000.0, "give the flow wanted in gpm")?;
    rig.at_the_tanks(settings)?;
    let ratings =
        |above: f64| RATINGS.iter().filter(move |r| **r > above).map(|r| Some(GallonsPerMinute(*r)));
    let larger: Vec<_> = [None].into_iter().chain(ratings(rig.pumper.rated.get())).collect();
    let second: Vec<_> = match rig.transfer {
        Some(_) => vec![None],
        None => [None].into_iter().chain(ratings(0.0)).collect(),
    };
    let lines = if rig.line.is_some() { MOST_MORE_LINES } else { 0 };
    // Enough for all of the flow, whatever is there already.
    let siphons = (wanted / settings.supply_of(1)).ceil().clamp(1.0, 20.0) as u32;
    let mut best: Option<Call> = None;
    for larger_pumper in larger {
        let pumper = match larger_pumper {
            // Run at the same pressure: the line is the same.
            Some(rated) => Pumper { pressure: rig.pumper.pressure, ..standard(rated)? },
            None => rig.pumper,
        };
        for second_pumper in second.iter().copied() {
            let transfer = match second_pumper {
                Some(rated) => Some(standard(rated)?),
                None => rig.transfer,
            };
            for lines in 0..=lines {
                let line = rig.line.map(|mut line| {
                    line.lay.lines += lines;
                    line
                });
                for suctions in 0..=MOST_MORE_SUCTIONS {
                    for tanks in 0..=u32::from(rig.tanks < 2) {
                        for siphons in 0..=siphons.saturating_sub(rig.siphons) {
                            let with = Rig {
                                pumper: Pumper { suctions: pumper.suctions + suctions, ..pumper },
                                transfer,
                                tanks: rig.tanks + tanks,
                                siphons: rig.siphons + siphons,
                                line,
                                ..*rig
                            };
                            let call = Call {
                                tanks,
                                siphons,
                                suctions,
                                lines,
                                second_pumper,
                                larger_pumper,
                                rig: with,
                            };
                            let better = best.as_ref().is_none_or(|b| call.cost() < b.cost());
                            if better && with.setting(wanted, settings)?.is_some() {
                                best = Some(call);
                            }
                        }
                    }
                }
            }
        }
    }
    Ok(best)
}
