//! Makes of what is listed of a fill site the source that it is, and rates it.

use crate::finding::Code;
use crate::sites::fill::{FillSite, Kind};
use crate::units::Feet;
use crate::water::dry_hydrant::DryHydrant;
use crate::water::hydrant::{HydrantTest, Outlet, Pitot};
use crate::water::source::{Basis, Cistern, Conditions, DraftPoint, Pond, Rating, Source, Stream, rate};
use crate::water::{BadInput, Checked};

/// Yield of a site. What is not known of it is told.
/// Errors: unusable numbers, or numbers that contradict each other.
pub(super) fn rate_site(site: &FillSite, conditions: &Conditions) -> Checked<Rating> {
    let details = &site.details;
    let assumed_lift_ft = site.assumed_lift.or(conditions.assumed_lift_ft);
    let conditions = &Conditions { assumed_lift_ft, ..*conditions };
    let draft = DraftPoint {
        pump_gpm: details.pump,
        lift_ft: site.lift,
        drought_lift_ft: details.drought_lift,
        suction: details.suction,
    };
    let drafts = |source: Source| rate(&source, conditions);
    let mut rating = match (site.kind, site.flow) {
        (Kind::Hydrant, _) => hydrant(site, conditions)?,
        (Kind::DryHydrant, measured) if details.pipe.is_some() => {
            let pipe = details.pipe.unwrap_or_default();
            let hydrant = DryHydrant {
                lift_ft: Feet::ZERO,
                pipe_in: pipe.diameter,
                pipe_ft: pipe.length,
                elbows_90: pipe.elbows_90,
                elbows_45: pipe.elbows_45,
                reducers: pipe.reducers,
                pump_gpm: None,
                measured_gpm: measured,
            };
            drafts(Source::DryHydrant(hydrant, draft))?
        }
        (_, Some(flow)) => {
            let rating = Rating::of(flow, Basis::Measured).tell(Basis::Measured, format!("{flow:.0}"));
            // A measured flow holds at the level it was measured at.
            match site.kind {
                Kind::Draft | Kind::Stream | Kind::Pond | Kind::DryHydrant => {
                    rating.tell(Basis::Unknown, "the water level at that")
                }
                _ => rating,
            }
        }
        (Kind::DryHydrant, None) => {
            drafts(Source::Draft(draft))?.tell(Basis::Unknown, "pipe and what is lost in it").with(
                Code::SiteFlowAssumed,
                "its pipe is not given, so nothing is taken off for it",
                "Give pipe_in, pipe_ft and the fittings, or measure the flow",
            )
        }
        (Kind::Stream, None) => match details.stream {
            Some((width_ft, depth_ft, float_ft, float_s)) => {
                drafts(Source::Stream(Stream { width_ft, depth_ft, float_ft, float_s, draft }))?
            }
            None => drafts(Source::Draft(draft))?.tell(Basis::Unknown, "what the stream carries").with(
                Code::SiteFlowAssumed,
                "what the stream carries was not measured; it is taken to carry what the pump draws",
                "Measure it with a float: width_ft, depth_ft, float_ft, float_s",
            ),
        },
        (Kind::Draft, None) => drafts(Source::Draft(draft))?,
        (Kind::Pond | Kind::Cistern, None) => match (details.pond, site.volume) {
            (Some((acres, usable_depth_ft)), volume) => {
                let mut rating = drafts(Source::Pond(Pond { acres, usable_depth_ft, draft }))?;
                if let (Some(given), Some(by_depth)) = (volume, rating.volume) {
                    rating.volume = Some(given.min(by_depth));
                    rating = rating.tell(Basis::Measured, format!("{given:.0} listed; the lesser counts"));
                }
                rating
            }
            (None, Some(usable_gal)) => drafts(Source::Cistern(Cistern { usable_gal, draft }))?,
            (None, None) => drafts(Source::Draft(draft))?,
        },
    };
    if matches!(site.kind, Kind::Pond | Kind::Cistern) && rating.volume.is_none() && site.volume.is_none() {
        rating = rating.tell(Basis::Unknown, "volume").with(
            Code::SiteVolumeUnknown,
            "its volume is not given; it is taken not to run out",
            "Give volume_gal, or of a pond acres and usable_depth_ft",
        );
    }
    if rating.volume.is_none() {
        rating.volume = site.volume;
        if let Some(volume) = site.volume {
            rating = rating.tell(Basis::Measured, format!("{volume:.0} of usable water"));
        }
    }
    if !site.verified {
        // Whatever the map says, nobody measured it.
        rating.basis = rating.basis.max(Basis::Assumed);
        for (basis, _) in rating.told.iter_mut().filter(|(basis, _)| *basis < Basis::Assumed) {
            *basis = Basis::Assumed;
        }
    }
    Ok(rating)
}

fn hydrant(site: &FillSite, conditions: &Conditions) -> Checked<Rating> {
    let pitot = site.details.pitot.map(|(diameter_in, pitot_psi)| Pitot {
        diameter_in,
        pitot_psi,
        outlet: Outlet::default(),
        outlets: 1,
    });
    match (site.flow, site.static_pressure) {
        (None, None) if pitot.is_none() => Ok(Rating::not_rated(
            "no flow is given; neither colour nor main size is a flow",
            "Flow-test the hydrant (NFPA 291)",
        )
        .tell(Basis::Unknown, "flow")),
        (Some(flow), None) if pitot.is_none() => match site.verified {
            true => rate(&Source::HydrantFlow(flow), conditions),
            false => Ok(Rating::of(flow, Basis::Assumed).tell(Basis::Assumed, format!("{flow:.0}"))),
        },
        (flow, Some(static_psi)) => {
            let test =
                HydrantTest { static_psi, residual_psi: site.residual_pressure, flow_gpm: flow, pitot };
            rate(&Source::HydrantTest(test), conditions)
        }
        (flow, None) => Err(BadInput {
            what: "flow of the test (gpm)",
            found: flow.unwrap_or_default().get(),
            remedy: "give static_psi and residual_psi beside the pitot pressure".into(),
        }),
    }
}
