//! What a fill site yields: a flow, a volume, and how far either can be trusted.

use super::draft::{CapacityCurve, attainable_lift, capacity_at_draft};
use super::dry_hydrant::DryHydrant;
use super::hydrant::{HYDRANT_RESIDUAL, HydrantTest};
use super::{Checked, not_negative, positive, within};
use crate::finding::{Code, Finding, Where};
use crate::units::{CubicFeet, Feet, Gallons, GallonsPerMinute, Seconds};
use serde::{Deserialize, Serialize};

/// What a fill site can be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Source {
    /// A hydrant with a flow test: static, residual, flow (NFPA 291).
    HydrantTest(HydrantTest),
    /// A hydrant of which only a flow was measured.
    HydrantFlow(MeasuredFlow),
    /// A dry hydrant, by its pipe and lift.
    DryHydrant(DryHydrant),
    /// A pump drafts from water without practical end.
    Draft(DraftPoint),
    /// A stream, by a float; a pump drafts no more than it carries.
    Stream(Stream),
    /// A pond, by surface and usable depth.
    Pond(Pond),
    /// A cistern or tank, by volume.
    Cistern(Cistern),
}

/// A flow that was measured, with nothing else known.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct MeasuredFlow {
    pub flow_gpm: GallonsPerMinute,
}

/// The pump at a draft site, its rating and its lift.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct DraftPoint {
    /// Rating of the pump; the conditions' fill pump where not given.
    #[serde(default)]
    pub pump_gpm: Option<GallonsPerMinute>,
    /// Water at its lowest expected level to the pump's intake.
    #[serde(default)]
    pub lift_ft: Option<Feet>,
}

/// A stream measured with a float.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct Stream {
    pub width_ft: Feet,
    /// Mean depth.
    pub depth_ft: Feet,
    pub float_ft: Feet,
    pub float_s: Seconds,
    #[serde(default)]
    pub pump_gpm: Option<GallonsPerMinute>,
    #[serde(default)]
    pub lift_ft: Option<Feet>,
}

/// A pond. Only the water above the intake at drought level counts.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct Pond {
    pub acres: f64,
    pub usable_depth_ft: Feet,
    #[serde(default)]
    pub pump_gpm: Option<GallonsPerMinute>,
    #[serde(default)]
    pub lift_ft: Option<Feet>,
}

/// A cistern or standing tank.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct Cistern {
    pub usable_gal: Gallons,
    #[serde(default)]
    pub pump_gpm: Option<GallonsPerMinute>,
    #[serde(default)]
    pub lift_ft: Option<Feet>,
}

/// What holds for all sites of a plan.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct Conditions {
    pub altitude_ft: Feet,
    pub curve: CapacityCurve,
    /// Rating of the pump that drafts where a site names none.
    pub fill_pump_gpm: Option<GallonsPerMinute>,
    /// Lift to assume where a site gives none; without it such a site is not rated.
    pub assumed_lift_ft: Option<Feet>,
}

/// How far a yield can be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Basis {
    Measured,
    Computed,
    Assumed,
    Unknown,
}

/// Something to tell about a yield; becomes a finding once the site's place is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Note {
    pub code: Code,
    pub cause: String,
    pub action: String,
}

impl Note {
    pub(crate) fn new(code: Code, cause: impl Into<String>, action: impl Into<String>) -> Self {
        Note { code, cause: cause.into(), action: action.into() }
    }
    pub fn finding(self, place: Where) -> Finding {
        Finding::new(self.code, place, self.cause, self.action)
    }
}

/// What a site yields. `flow` none means not rated; a flow of zero means known to give nothing.
/// `volume` none means without practical end.
#[derive(Clone, Debug, PartialEq)]
pub struct Rating {
    pub flow: Option<GallonsPerMinute>,
    pub volume: Option<Gallons>,
    pub basis: Basis,
    pub notes: Vec<Note>,
}

impl Rating {
    pub(crate) fn of(flow: GallonsPerMinute, basis: Basis) -> Self {
        Rating { flow: Some(flow), volume: None, basis, notes: Vec::new() }
    }
    pub(crate) fn not_rated(cause: impl Into<String>, action: impl Into<String>) -> Self {
        let note = Note::new(Code::SiteNotRated, cause, action);
        Rating { flow: None, volume: None, basis: Basis::Unknown, notes: vec![note] }
    }
    pub(crate) fn with(mut self, code: Code, cause: impl Into<String>, action: impl Into<String>) -> Self {
        self.notes.push(Note::new(code, cause, action));
        self
    }
}

/// Yield of a source. What cannot be worked out is not rated, with a note that says why; an
/// unusable number is an error.
pub fn rate(source: &Source, conditions: &Conditions) -> Checked<Rating> {
    match source {
        Source::HydrantTest(test) => test.rate(),
        Source::HydrantFlow(measured) => {
            positive("measured flow (gpm)", measured.flow_gpm.get())?;
            Ok(Rating::of(measured.flow_gpm, Basis::Measured).with(
                Code::SiteUnverified,
                format!("only a flow was measured; the pressure it left in the main is unknown, so {HYDRANT_RESIDUAL} may not have been kept"),
                "Test the hydrant for static and residual pressure (NFPA 291)",
            ))
        }
        Source::DryHydrant(hydrant) => hydrant.rate(conditions),
        Source::Draft(point) => drafted(point.pump_gpm, point.lift_ft, conditions),
        Source::Stream(stream) => {
            let carried = stream.flow()?;
            let mut rating = drafted(stream.pump_gpm, stream.lift_ft, conditions)?;
            rating.flow = rating.flow.map(|pumped| pumped.min(carried));
            Ok(rating.with(
                Code::SiteVolumeLimited,
                format!("the stream carries {carried:.0} on the day of the float; a pump cannot draw more for long"),
                "Measure again in the dry season",
            ))
        }
        Source::Pond(pond) => stored(pond.volume()?, pond.pump_gpm, pond.lift_ft, conditions),
        Source::Cistern(cistern) => {
            positive("usable volume (gal)", cistern.usable_gal.get())?;
            stored(cistern.usable_gal, cistern.pump_gpm, cistern.lift_ft, conditions)
        }
    }
}

/// A pump drafting at a lift.
fn drafted(pump: Option<GallonsPerMinute>, lift: Option<Feet>, conditions: &Conditions) -> Checked<Rating> {
    let Some(rated) = pump.or(conditions.fill_pump_gpm) else {
        return Ok(Rating::not_rated("no pump is named to draft here", "Give the rating of the fill pump"));
    };
    let Some(height) = lift.or(conditions.assumed_lift_ft) else {
        let rating =
            Rating::not_rated("the flow at draft depends on the lift", "Give the lift at the lowest water");
        return Ok(rating.with(Code::LiftUnknown, "the lift is not given", "Measure it at the lowest water"));
    };
    let flow = capacity_at_draft(rated, height, conditions.altitude_ft, conditions.curve)?;
    let mut rating = Rating::of(flow, if lift.is_some() { Basis::Computed } else { Basis::Assumed });
    if lift.is_none() {
        rating = rating.with(
            Code::LiftUnknown,
            format!("the lift is not given; {height:.1} was assumed"),
            "Measure it at the lowest water",
        );
    }
    if flow == GallonsPerMinute::ZERO {
        let most = attainable_lift(conditions.altitude_ft)?;
        rating = rating.with(
            Code::SiteNotRated,
            format!("a lift of {height:.1} is beyond the {most:.1} a pump attains here"),
            "Set the pump lower or use another site",
        );
    }
    Ok(rating)
}

fn stored(
    volume: Gallons,
    pump: Option<GallonsPerMinute>,
    lift: Option<Feet>,
    conditions: &Conditions,
) -> Checked<Rating> {
    let mut rating = drafted(pump, lift, conditions)?;
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
mod tests {
    use super::*;

    fn read(text: &str) -> Source {
        toml::from_str(text).unwrap()
    }

    #[test]
    fn every_kind_is_read_and_rated() {
        let conditions =
            Conditions { fill_pump_gpm: Some(GallonsPerMinute(1000.0)), ..Conditions::default() };
        // Dry hydrant: 22 = 8 + (4.8 + 0.5027·0.7)·(Q/500)², Q 824.2.
        for (text, flow, volume, basis) in [
            (
                "kind = 'hydrant-test'\nstatic-psi = 65\nresidual-psi = 50\nflow-gpm = 800",
                Some(1448.0),
                None,
                Basis::Measured,
            ),
            ("kind = 'hydrant-flow'\nflow-gpm = 600", Some(600.0), None, Basis::Measured),
            (
                "kind = 'dry-hydrant'\nlift-ft = 8\npipe-in = 8\npipe-ft = 50\nelbows-90 = 1",
                Some(824.2),
                None,
                Basis::Computed,
            ),
            (
                "kind = 'dry-hydrant'\nlift-ft = 8\npipe-in = 8\npipe-ft = 50\nmeasured-gpm = 700",
                Some(700.0),
                None,
                Basis::Measured,
            ),
            ("kind = 'draft'\nlift-ft = 15", Some(700.0), None, Basis::Computed),
            ("kind = 'draft'\nlift-ft = 30", Some(0.0), None, Basis::Computed),
            ("kind = 'draft'", None, None, Basis::Unknown),
            (
                "kind = 'stream'\nwidth-ft = 4\ndepth-ft = 0.5\nfloat-ft = 100\nfloat-s = 126\nlift-ft = 5",
                Some(569.9),
                None,
                Basis::Computed,
            ),
            (
                "kind = 'pond'\nacres = 1\nusable-depth-ft = 4\nlift-ft = 5\npump-gpm = 750",
                Some(750.0),
                Some(1_303_406.0),
                Basis::Computed,
            ),
            ("kind = 'cistern'\nusable-gal = 30000", None, Some(30_000.0), Basis::Unknown),
        ] {
            let rating = rate(&read(text), &conditions).unwrap();
            let near = |got: Option<f64>, want: Option<f64>| match (got, want) {
                (Some(got), Some(want)) => (got - want).abs() < 0.5,
                (got, want) => got == want,
            };
            assert!(near(rating.flow.map(GallonsPerMinute::get), flow), "{text}: {:?}", rating.flow);
            assert!(near(rating.volume.map(Gallons::get), volume), "{text}: {:?}", rating.volume);
            assert_eq!(rating.basis, basis, "{text}");
            assert!(rating.flow.is_some_and(|q| q.get() > 0.0) || !rating.notes.is_empty(), "{text}");
        }
    }

    #[test]
    fn an_unknown_word_is_refused() {
        for text in [
            "kind = 'well'",
            "kind = 'draft'\nlift = 5",
            "kind = 'dry-hydrant'\nlift-ft = 8\npipe-in = 8\npipe-ft = 50\nelbows = 1",
            "kind = 'pond'\nacres = 1",
        ] {
            assert!(toml::from_str::<Source>(text).is_err(), "{text}");
        }
    }

    #[test]
    fn an_assumed_lift_is_called_assumed() {
        let conditions = Conditions {
            fill_pump_gpm: Some(GallonsPerMinute(1000.0)),
            assumed_lift_ft: Some(Feet(15.0)),
            ..Conditions::default()
        };
        let rating = rate(&Source::Draft(DraftPoint::default()), &conditions).unwrap();
        assert_eq!((rating.flow, rating.basis), (Some(GallonsPerMinute(700.0)), Basis::Assumed));
        assert_eq!(rating.notes[0].code, Code::LiftUnknown);
        let finding = rating.notes[0].clone().finding(Where::file("sites.csv").row(2));
        assert!(finding.to_string().contains("15.0 ft was assumed"), "{finding}");
    }

    #[test]
    fn an_inflow_that_keeps_up_never_empties() {
        let time = |draw, inflow| {
            time_to_exhaustion(Gallons(30_000.0), GallonsPerMinute(draw), GallonsPerMinute(inflow)).unwrap()
        };
        // 30,000 gal at 250 gpm: the two hours of the alternative supply rule.
        assert_eq!(time(250.0, 0.0), Some(Seconds(7200.0)));
        assert_eq!(time(250.0, 250.0), None);
        assert_eq!(time(0.0, 0.0), None);
    }
}
