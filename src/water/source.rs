//! What a fill site yields: a flow, a volume, and how far either can be trusted.

mod rating;

pub use rating::{Basis, Note, Rating};

use super::draft::{CapacityCurve, attainable_lift, capacity_at_draft, suction_capacity};
use super::dry_hydrant::DryHydrant;
use super::hydrant::{HYDRANT_RESIDUAL, HydrantTest};
use super::{Checked, not_negative, positive, within};
use crate::finding::Code;
use crate::units::{CubicFeet, Feet, Gallons, GallonsPerMinute, Inches, Seconds};
use serde::{Deserialize, Serialize};

/// What a fill site can be, with what was measured there.
#[derive(Clone, Debug, PartialEq)]
pub enum Source {
    /// A hydrant with a flow test: static, residual, flow (NFPA 291).
    HydrantTest(HydrantTest),
    /// A hydrant of which only a flow was measured.
    HydrantFlow(GallonsPerMinute),
    /// A dry hydrant, by its pipe (its own lift and pump stand for those of the draft).
    DryHydrant(DryHydrant, DraftPoint),
    /// A pump drafts from water without practical end.
    Draft(DraftPoint),
    /// A stream, by a float; a pump drafts no more than it carries.
    Stream(Stream),
    /// A pond, by surface and usable depth.
    Pond(Pond),
    /// A cistern or pond, by volume.
    Cistern(Cistern),
}

/// The pump at a draft site, its suction and its lift.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DraftPoint {
    /// Rating of the pump; the conditions' fill pump where not given.
    pub pump_gpm: Option<GallonsPerMinute>,
    /// Water at its normal level to the pump's intake.
    pub lift_ft: Option<Feet>,
    /// Water at its lowest expected level to the pump's intake.
    pub drought_lift_ft: Option<Feet>,
    /// Suction hose: diameter and number of lines; taken to carry what the pump draws if not given.
    pub suction: Option<(Inches, u32)>,
}

/// A stream measured with a float.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stream {
    pub width_ft: Feet,
    /// Mean depth.
    pub depth_ft: Feet,
    pub float_ft: Feet,
    pub float_s: Seconds,
    pub draft: DraftPoint,
}

/// A pond. Only the water above the intake at drought level counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pond {
    pub acres: f64,
    pub usable_depth_ft: Feet,
    pub draft: DraftPoint,
}

/// A cistern or standing tank, or a pond of known volume.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cistern {
    pub usable_gal: Gallons,
    pub draft: DraftPoint,
}

/// At which water a source is rated.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WaterLevel {
    /// The lowest expected, wherever it is known: a plan must hold in a dry summer.
    #[default]
    Drought,
    Normal,
}

impl std::str::FromStr for WaterLevel {
    type Err = String;
    fn from_str(text: &str) -> Result<WaterLevel, String> {
        let levels = [WaterLevel::Drought, WaterLevel::Normal];
        let found = levels.into_iter().find(|level| level.as_str() == text);
        found.ok_or_else(|| format!("\"{text}\" is no water level (one of drought, normal)"))
    }
}

impl WaterLevel {
    pub fn as_str(self) -> &'static str {
        match self {
            WaterLevel::Drought => "drought",
            WaterLevel::Normal => "normal",
        }
    }
}

/// What holds for all sites of a plan.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Conditions {
    pub altitude_ft: Feet,
    pub curve: CapacityCurve,
    pub level: WaterLevel,
    /// Rating of the pump that drafts where a site names none.
    pub fill_pump_gpm: Option<GallonsPerMinute>,
    /// Lift to assume where a site gives none; without it such a site is not rated.
    pub assumed_lift_ft: Option<Feet>,
}

/// Yield of a source. What cannot be worked out is not rated, with a note that says why; an
/// unusable number is an error.
pub fn rate(source: &Source, conditions: &Conditions) -> Checked<Rating> {
    match source {
        Source::HydrantTest(test) => test.rate(),
        Source::HydrantFlow(flow) => {
            positive("measured flow (gpm)", flow.get())?;
            Ok(Rating::of(*flow, Basis::Measured)
                .tell(Basis::Measured, format!("{flow:.0}"))
                .tell(Basis::Unknown, "static and residual pressure")
                .with(
                    Code::SiteResidualUnknown,
                    format!("only a flow was measured; the pressure it left in the main is unknown, so {HYDRANT_RESIDUAL} may not have been kept"),
                    "Test the hydrant for static and residual pressure (NFPA 291)",
                ))
        }
        Source::DryHydrant(hydrant, draft) => piped(hydrant, draft, conditions),
        Source::Draft(draft) => drafted(draft, conditions),
        Source::Stream(stream) => {
            let carried = stream.flow()?;
            let mut rating = drafted(&stream.draft, conditions)?;
            let limits = rating.flow.is_some_and(|pumped| pumped > carried);
            rating.flow = rating.flow.map(|pumped| pumped.min(carried));
            let rating = rating.tell(Basis::Measured, format!("the stream carries {carried:.0} by a float"));
            if !limits {
                return Ok(rating);
            }
            Ok(rating.with(
                Code::SiteStreamLimits,
                format!("the stream carries {carried:.0} on the day of the float; a pump cannot draw more for long"),
                "Measure again in the dry season",
            ))
        }
        Source::Pond(pond) => {
            let Pond { acres, usable_depth_ft: depth, .. } = pond;
            let rating = stored(pond.volume()?, &pond.draft, conditions)?;
            Ok(rating.tell(Basis::Measured, format!("{acres} acres by {depth:.1} above the intake")))
        }
        Source::Cistern(cistern) => {
            positive("usable volume (gal)", cistern.usable_gal.get())?;
            let rating = stored(cistern.usable_gal, &cistern.draft, conditions)?;
            Ok(rating.tell(Basis::Measured, format!("{:.0} of usable water", cistern.usable_gal)))
        }
    }
}

/// The lift a site is rated at, and what is known of it.
struct Lift {
    height: Feet,
    given: bool,
    told: (Basis, String),
    /// The other level is not known, and the one that is may be the better.
    drought_unknown: bool,
}

impl DraftPoint {
    /// The lift at the level wanted; at the other where only that is given, as assumed where none is.
    fn lift(&self, conditions: &Conditions) -> Option<Lift> {
        let known = |height: Feet, level: WaterLevel, drought_unknown: bool| Lift {
            height,
            given: true,
            told: (Basis::Measured, format!("lift {height:.1} at {} level", level.as_str())),
            drought_unknown,
        };
        match (conditions.level, self.lift_ft, self.drought_lift_ft) {
            (WaterLevel::Normal, Some(normal), _) => Some(known(normal, WaterLevel::Normal, false)),
            (_, _, Some(drought)) => Some(known(drought, WaterLevel::Drought, false)),
            (WaterLevel::Drought, Some(normal), None) => Some(known(normal, WaterLevel::Normal, true)),
            (_, None, None) => conditions.assumed_lift_ft.map(|height| Lift {
                height,
                given: false,
                told: (Basis::Assumed, format!("lift {height:.1}")),
                drought_unknown: false,
            }),
        }
    }

    fn pump(&self, conditions: &Conditions) -> Option<(GallonsPerMinute, String)> {
        let here = self.pump_gpm.map(|pump| (pump, format!("pump of {pump:.0} named for the site")));
        here.or_else(|| {
            conditions.fill_pump_gpm.map(|pump| (pump, format!("the fleet's fill pump of {pump:.0}")))
        })
    }

    /// What pump and suction draw at a lift.
    fn draws(
        &self,
        rated: GallonsPerMinute,
        lift: Feet,
        conditions: &Conditions,
    ) -> Checked<GallonsPerMinute> {
        let pumped = capacity_at_draft(rated, lift, conditions.altitude_ft, conditions.curve)?;
        match self.suction {
            Some((diameter, lines)) => Ok(pumped.min(suction_capacity(diameter, lines)?)),
            None => Ok(pumped),
        }
    }
}

const MEASURE_LIFT: &str = "Measure it at the lowest water";

impl Rating {
    fn told_of_lift(self, lift: &Lift) -> Rating {
        let rating = self.tell(lift.told.0, lift.told.1.clone());
        if !lift.given {
            return rating.with(
                Code::LiftUnknown,
                format!("the lift is not given; {:.1} was assumed", lift.height),
                MEASURE_LIFT,
            );
        }
        if lift.drought_unknown {
            return rating.tell(Basis::Unknown, "drought level").with(
                Code::DroughtUnknown,
                format!(
                    "{:.1} of lift is for the normal level, and none is given for a drought",
                    lift.height
                ),
                "Measure the lift at the lowest water and give `drought_lift_ft`",
            );
        }
        rating
    }

    /// What it would give at the normal level, where it is rated at another.
    fn told_of_normal(self, draft: &DraftPoint, lift: &Lift, normal: GallonsPerMinute) -> Rating {
        match (draft.lift_ft, draft.drought_lift_ft) {
            (Some(at), Some(_)) if at != lift.height => {
                self.tell(Basis::Computed, format!("{normal:.0} at normal level, lift {at:.1}"))
            }
            _ => self,
        }
    }
}

/// A pump drafting at a lift.
fn drafted(draft: &DraftPoint, conditions: &Conditions) -> Checked<Rating> {
    let Some((rated, pump)) = draft.pump(conditions) else {
        return Ok(Rating::not_rated("no pump is named to draft here", "Give the rating of the fill pump")
            .tell(Basis::Unknown, "the pump"));
    };
    let Some(lift) = draft.lift(conditions) else {
        let rating =
            Rating::not_rated("the flow at draft depends on the lift", "Give the lift at the lowest water");
        return Ok(rating.tell(Basis::Unknown, "lift").with(
            Code::LiftUnknown,
            "the lift is not given",
            MEASURE_LIFT,
        ));
    };
    let flow = draft.draws(rated, lift.height, conditions)?;
    let normal = draft.lift_ft.map(|at| draft.draws(rated, at, conditions)).transpose()?;
    let basis = if lift.given { Basis::Computed } else { Basis::Assumed };
    let mut rating = Rating::of(flow, basis).tell(Basis::Computed, format!("{flow:.0} by {pump}"));
    rating = rating.told_of_normal(draft, &lift, normal.unwrap_or(flow)).told_of_lift(&lift);
    if draft.suction.is_none() {
        rating = rating.tell(Basis::Assumed, "suction hose that carries what the pump draws");
    }
    if flow == GallonsPerMinute::ZERO {
        let most = attainable_lift(conditions.altitude_ft)?;
        rating = rating.with(
            Code::SiteNotRated,
            format!("a lift of {:.1} is beyond the {most:.1} a pump attains here", lift.height),
            "Set the pump lower or use another site",
        );
    }
    Ok(rating)
}

/// A dry hydrant: its pipe at the lift of the level wanted, its pump and suction.
fn piped(hydrant: &DryHydrant, draft: &DraftPoint, conditions: &Conditions) -> Checked<Rating> {
    let at = |lift: Feet| -> Checked<Rating> {
        let mut rating =
            DryHydrant { lift_ft: lift, pump_gpm: draft.pump_gpm, ..*hydrant }.rate(conditions)?;
        if let (Some((diameter, lines)), Basis::Computed) = (draft.suction, rating.basis) {
            let suction = suction_capacity(diameter, lines)?;
            rating.flow = rating.flow.map(|flow| flow.min(suction));
        }
        Ok(rating)
    };
    let Some(lift) = draft.lift(conditions) else {
        return match hydrant.measured_gpm {
            Some(_) => Ok(at(Feet::ZERO)?.tell(Basis::Unknown, "lift")),
            None => Ok(Rating::not_rated(
                "the flow of a dry hydrant depends on the lift",
                "Give the lift at the lowest water",
            )
            .tell(Basis::Unknown, "lift")
            .with(Code::LiftUnknown, "the lift is not given", MEASURE_LIFT)),
        };
    };
    let mut rating = at(lift.height)?;
    if !lift.given && rating.basis == Basis::Computed {
        rating.basis = Basis::Assumed;
    }
    if let (None, Some(normal)) = (hydrant.measured_gpm, draft.lift_ft) {
        let normal = at(normal)?.flow.unwrap_or_default();
        rating = rating.told_of_normal(draft, &lift, normal);
    }
    Ok(rating.told_of_lift(&lift))
}

fn stored(volume: Gallons, draft: &DraftPoint, conditions: &Conditions) -> Checked<Rating> {
    let mut rating = drafted(draft, conditions)?;
    rating.volume = Some(volume);
    Ok(rating)
}

impl Stream {
    /// Share of the surface speed that the whole section has, as the float method takes it.
    const MEAN_TO_SURFACE: f64 = 0.8;

    /// Flow by a float: width × depth × surface speed × 0.8 (float method, common practice).
    /// Errors: any number that is not above zero.
    pub fn flow(&self) -> Checked<GallonsPerMinute> {
        let width = positive("stream width (ft)", self.width_ft.get())?;
        let depth = positive("stream depth (ft)", self.depth_ft.get())?;
        let distance = positive("float distance (ft)", self.float_ft.get())?;
        positive("float time (s)", self.float_s.get())?;
        let per_minute = CubicFeet(width * depth * distance / self.float_s.minutes() * Self::MEAN_TO_SURFACE);
        positive("stream flow (gpm)", per_minute.gallons().get()).map(GallonsPerMinute)
    }
}

impl Pond {
    /// Water above the intake: surface × usable depth. Count the depth at drought level.
    /// Errors: any number that is not above zero.
    pub fn volume(&self) -> Checked<Gallons> {
        let acres = positive("pond surface (acres)", self.acres)?;
        positive("usable depth (ft)", self.usable_depth_ft.get())?;
        let gallons = CubicFeet::under_acres(acres, self.usable_depth_ft).gallons();
        within("pond volume (gal)", gallons.get(), 1e-6..=1e12, "check surface and depth").map(Gallons)
    }
}

/// Time until a volume is gone at a constant draw against a constant inflow; none where the
/// inflow keeps up.
/// Errors: any negative or unusable number.
pub fn time_to_exhaustion(
    volume: Gallons,
    draw: GallonsPerMinute,
    inflow: GallonsPerMinute,
) -> Checked<Option<Seconds>> {
    within("volume (gal)", volume.get(), 0.0..=1e12, "give the usable volume")?;
    let draw = not_negative("draw (gpm)", draw.get())?;
    let inflow = not_negative("inflow (gpm)", inflow.get())?;
    // A net draw below a drop a minute is none: dividing by it would only give a silly number.
    let net = draw - inflow;
    Ok((net > super::SMALLEST).then(|| volume.at(GallonsPerMinute(net))))
}

#[cfg(test)]
mod tests;
