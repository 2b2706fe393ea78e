//! Dry hydrants: a pipe from a pond or stream to the roadside, drafted by a pump.

use super::draft::{attainable_lift, capacity_at_draft};
use super::source::{Basis, Conditions, Rating};
use super::{BadInput, Checked, not_negative, positive, within};
use crate::finding::Code;
use crate::units::{Feet, GallonsPerMinute, Inches};
use serde::{Deserialize, Serialize};

/// Greatest total head of a dry hydrant (USDA-NRCS NE-ENG-76, 2004).
pub const DRY_HYDRANT_HEAD: Feet = Feet(22.0);

/// A dry hydrant: one pipe size from the intake to the head.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct DryHydrant {
    /// Water at drought level to the pump's intake.
    pub lift_ft: Feet,
    /// 6, 8, 10 or 12.
    pub pipe_in: Inches,
    /// Pipe in all, standpipe included, without the fittings.
    pub pipe_ft: Feet,
    #[serde(default)]
    pub elbows_90: u32,
    #[serde(default)]
    pub elbows_45: u32,
    #[serde(default)]
    pub reducers: u32,
    /// Rating of the pump that drafts here; the conditions' fill pump where not given.
    #[serde(default)]
    pub pump_gpm: Option<GallonsPerMinute>,
    /// Flow measured here; it goes before the computed one.
    #[serde(default)]
    pub measured_gpm: Option<GallonsPerMinute>,
}

/// How good a dry hydrant's total head is (USDA-NRCS NE-ENG-76, 2004).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// No more than 15 ft.
    Preferred,
    /// Below 20 ft.
    Recommended,
    /// No more than 22 ft.
    Allowed,
    /// Above 22 ft: not to be counted on.
    Fails,
}

impl Verdict {
    /// Errors: a head that is negative or not a number.
    pub fn of(total_head: Feet) -> Checked<Verdict> {
        Ok(match not_negative("total head (ft)", total_head.get())? {
            h if h <= 15.0 => Verdict::Preferred,
            h if h < 20.0 => Verdict::Recommended,
            h if h <= DRY_HYDRANT_HEAD.get() => Verdict::Allowed,
            _ => Verdict::Fails,
        })
    }
}

impl DryHydrant {
    /// Loss in intake and standpipe at 500 gpm; it grows with the square of the flow, as do the
    /// published 1.2, 4.8 and 10.8 ft at 250, 500 and 750 gpm (USDA-NRCS NE-ENG-76, 2004).
    const INTAKE_LOSS_AT_500: f64 = 4.8;
    /// Loss per 100 ft of pipe at 500 gpm, by diameter in inches (USDA-NRCS NE-ENG-76, 2004).
    const PIPE_LOSS_AT_500: [(f64, f64); 4] = [(6.0, 2.3408), (8.0, 0.5027), (10.0, 0.1530), (12.0, 0.0578)];
    /// Greatest flow of the published table; beyond it the square law is carried on.
    const TABLE_ENDS: GallonsPerMinute = GallonsPerMinute(750.0);

    /// Straight pipe that loses as much as pipe and fittings: 20 ft per 90° elbow, 10 per 45°,
    /// 10 per reducer (USDA-NRCS NE-ENG-76, 2004).
    /// Errors: a negative or unusable length.
    pub fn equivalent_length(&self) -> Checked<Feet> {
        let pipe = not_negative("pipe length (ft)", self.pipe_ft.get())?;
        let [elbows_90, elbows_45, reducers] = [self.elbows_90, self.elbows_45, self.reducers].map(f64::from);
        let all = pipe + 20.0 * elbows_90 + 10.0 * elbows_45 + 10.0 * reducers;
        within("pipe and fittings (ft)", all, 0.0..=1e6, "check the length and the number of fittings")
            .map(Feet)
    }

    /// Head lost at 500 gpm in intake, standpipe, pipe and fittings.
    fn loss_at_500(&self) -> Checked<f64> {
        let inches = self.pipe_in.get();
        let per_hundred = Self::PIPE_LOSS_AT_500
            .iter()
            .find(|(size, _)| (size - inches).abs() < 1e-6)
            .map(|(_, loss)| loss)
            .ok_or_else(|| BadInput::new("pipe diameter (in)", inches, "give 6, 8, 10 or 12 in"))?;
        Ok(Self::INTAKE_LOSS_AT_500 + per_hundred * self.equivalent_length()?.get() / 100.0)
    }

    fn lift(&self) -> Checked<f64> {
        not_negative("static lift (ft)", self.lift_ft.get())
    }

    /// Static lift and all losses at a flow (USDA-NRCS NE-ENG-76, 2004).
    /// Errors: unusable numbers; a pipe that is not 6, 8, 10 or 12 in.
    pub fn total_head(&self, flow: GallonsPerMinute) -> Checked<Feet> {
        let flow = not_negative("flow (gpm)", flow.get())?;
        Ok(Feet(self.lift()? + self.loss_at_500()? * (flow / 500.0).powi(2)))
    }

    /// Greatest flow whose total head stays within `limit`; zero where the lift alone takes it.
    /// Errors: as [`DryHydrant::total_head`].
    pub fn greatest_flow(&self, limit: Feet) -> Checked<GallonsPerMinute> {
        let spare = (not_negative("head limit (ft)", limit.get())? - self.lift()?).max(0.0);
        Ok(GallonsPerMinute(500.0 * (spare / self.loss_at_500()?).sqrt()))
    }

    /// Yield of the site: the measured flow where there is one, else the least of head and pump.
    /// The head limit falls with altitude where the attainable lift is the lower of the two.
    pub fn rate(&self, conditions: &Conditions) -> Checked<Rating> {
        let limit = DRY_HYDRANT_HEAD.min(attainable_lift(conditions.altitude_ft)?);
        let by_head = self.greatest_flow(limit)?;
        let pump = self.pump_gpm.or(conditions.fill_pump_gpm);
        let by_pump = pump
            .map(|rated| capacity_at_draft(rated, self.lift_ft, conditions.altitude_ft, conditions.curve))
            .transpose()?;
        let computed = by_pump.map_or(by_head, |pumped| pumped.min(by_head));
        let mut rating = match self.measured_gpm {
            Some(measured) => {
                positive("measured flow (gpm)", measured.get())?;
                let rating =
                    Rating::of(measured, Basis::Measured).tell(Basis::Measured, format!("{measured:.0}"));
                if measured > by_head {
                    rating.with(
                        Code::SiteUnverified,
                        format!(
                            "{measured:.0} was measured where {by_head:.0} keeps within {limit:.1} of head"
                        ),
                        "Check lift, pipe and the date and water level of the measurement",
                    )
                } else {
                    rating
                }
            }
            None => Rating::of(computed, Basis::Computed)
                .tell(Basis::Computed, format!("{computed:.0} by the losses of its pipe (NE-ENG-76)")),
        };
        if rating.basis == Basis::Computed && computed == GallonsPerMinute::ZERO {
            rating = rating.with(
                Code::SiteNotRated,
                format!("the lift of {:.1} leaves nothing of the {limit:.1} for flow", self.lift_ft),
                "Set the pump lower or use another site",
            );
        }
        if rating.basis == Basis::Computed && computed > Self::TABLE_ENDS {
            rating = rating.with(
                Code::SiteFlowAssumed,
                format!(
                    "{computed:.0} lies beyond the published losses, which end at {:.0}",
                    Self::TABLE_ENDS
                ),
                "Measure the flow",
            );
        }
        if pump.is_none() && rating.basis == Basis::Computed {
            rating = rating.with(
                Code::ValueAssumed,
                "no pump is named to draft here; one that draws all the pipe gives was taken",
                "Give the rating of the fill pump",
            );
        }
        Ok(rating)
    }
}

#[cfg(test)]
mod tests {
    use super::super::source::{DraftPoint, Source, rate};
    use super::*;

    #[test]
    fn altitude_lowers_a_dry_hydrant() {
        let hydrant = DryHydrant {
            lift_ft: Feet(8.0),
            pipe_in: Inches(6.0),
            pipe_ft: Feet(225.0),
            elbows_90: 0,
            elbows_45: 0,
            reducers: 0,
            pump_gpm: None,
            measured_gpm: None,
        };
        let at = |altitude| {
            let conditions = Conditions { altitude_ft: Feet(altitude), ..Conditions::default() };
            let draft = DraftPoint { lift_ft: Some(hydrant.lift_ft), ..DraftPoint::default() };
            rate(&Source::DryHydrant(hydrant, draft), &conditions).unwrap().flow.unwrap()
        };
        assert!(at(6000.0) < at(0.0));
        assert_eq!(at(20_000.0), GallonsPerMinute::ZERO);
        let head = hydrant.total_head(hydrant.greatest_flow(DRY_HYDRANT_HEAD).unwrap()).unwrap();
        assert!((head.get() - 22.0).abs() < 1e-9);
        assert!(DryHydrant { pipe_in: Inches(7.0), ..hydrant }.greatest_flow(DRY_HYDRANT_HEAD).is_err());
    }
}
