//! Hydrants on a main: outlet flow by pitot, flow available at a residual pressure, colour class
//! (NFPA 291).

use super::source::{Basis, Rating};
use super::{BadInput, Checked, count, not_negative, positive, within};
use crate::finding::Code;
use crate::units::{GallonsPerMinute, Inches, Psi};
use serde::{Deserialize, Serialize};

/// Residual pressure a main must keep while a hydrant flows (NFPA 291).
pub const HYDRANT_RESIDUAL: Psi = Psi(20.0);

/// Shape of a hydrant's outlet, which sets its discharge coefficient (NFPA 291).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outlet {
    /// Smooth and rounded: 0.90.
    Rounded,
    /// Square and sharp: 0.80.
    Square,
    /// Projecting into the barrel: 0.70; the default, being the lowest.
    #[default]
    Projecting,
}

impl Outlet {
    pub fn coefficient(self) -> f64 {
        match self {
            Outlet::Rounded => 0.90,
            Outlet::Square => 0.80,
            Outlet::Projecting => 0.70,
        }
    }
}

/// Flow of an open hydrant outlet from its pitot pressure: gpm = 29.83·c·d²·√psi (NFPA 291).
/// Errors: any unusable number; a diameter outside 0.5..=12 in.
pub fn outlet_flow(diameter: Inches, outlet: Outlet, pitot: Psi) -> Checked<GallonsPerMinute> {
    let inches = within(
        "outlet diameter (in)",
        diameter.get(),
        0.5..=12.0,
        "give the outlet's inside diameter in inches",
    )?;
    let psi = not_negative("pitot pressure (psi)", pitot.get())?;
    Ok(GallonsPerMinute(29.83 * outlet.coefficient() * inches.powi(2) * psi.sqrt()))
}

/// Flow available at `wanted` residual from a test: Q·((static − wanted)/(static − residual))^0.54
/// (NFPA 291). None, not rated, where the residual is no lower than the static pressure (the main
/// did not feel the test) or the static pressure no higher than the one wanted.
/// Errors: any negative or unusable number.
pub fn available_flow(
    test_flow: GallonsPerMinute,
    static_pressure: Psi,
    residual: Psi,
    wanted: Psi,
) -> Checked<Option<GallonsPerMinute>> {
    let flow = positive("test flow (gpm)", test_flow.get())?;
    let at_rest = not_negative("static pressure (psi)", static_pressure.get())?;
    let residual = not_negative("residual pressure (psi)", residual.get())?;
    let wanted = not_negative("wanted residual (psi)", wanted.get())?;
    // Gauges read to a psi or so; a smaller drop would only blow the quotient up.
    const LEAST_DROP_PSI: f64 = 1e-3;
    if at_rest - residual < LEAST_DROP_PSI || at_rest <= wanted {
        return Ok(None);
    }
    Ok(Some(GallonsPerMinute(flow * ((at_rest - wanted) / (at_rest - residual)).powf(0.54))))
}

/// Colour class of a hydrant by its rated flow (NFPA 291). The colour is a class of capacity at
/// 20 psi, not a sustained supply.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum HydrantClass {
    /// Below 500 gpm, red.
    C,
    /// 500 to 999 gpm, orange.
    B,
    /// 1,000 to 1,499 gpm, green.
    A,
    /// 1,500 gpm and more, light blue.
    Aa,
}

impl HydrantClass {
    /// Errors: a negative or unusable flow.
    pub fn of(flow: GallonsPerMinute) -> Checked<HydrantClass> {
        Ok(match not_negative("hydrant flow (gpm)", flow.get())? {
            q if q >= 1_500.0 => HydrantClass::Aa,
            q if q >= 1_000.0 => HydrantClass::A,
            q if q >= 500.0 => HydrantClass::B,
            _ => HydrantClass::C,
        })
    }
    /// Colour of bonnet and caps.
    pub fn colour(self) -> &'static str {
        match self {
            HydrantClass::Aa => "light blue",
            HydrantClass::A => "green",
            HydrantClass::B => "orange",
            HydrantClass::C => "red",
        }
    }
}

fn one() -> u32 {
    1
}

/// A flow test as written down in the field. The flow is given as such or by the pitot.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct HydrantTest {
    pub static_psi: Psi,
    #[serde(default)]
    pub residual_psi: Option<Psi>,
    #[serde(default)]
    pub flow_gpm: Option<GallonsPerMinute>,
    #[serde(default)]
    pub pitot: Option<Pitot>,
}

/// Pitot reading at like outlets that flowed together.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub struct Pitot {
    pub diameter_in: Inches,
    #[serde(default)]
    pub outlet: Outlet,
    pub pitot_psi: Psi,
    /// Like outlets flowing at this pressure; one where not given.
    #[serde(default = "one")]
    pub outlets: u32,
}

impl HydrantTest {
    /// Flow during the test, none where neither flow nor pitot is given.
    /// Errors: unusable numbers; both given.
    pub fn test_flow(&self) -> Checked<Option<GallonsPerMinute>> {
        match (self.flow_gpm, self.pitot) {
            (Some(flow), Some(_)) => Err(BadInput::new(
                "test flow (gpm)",
                flow.get(),
                "give the flow or the pitot reading, not both",
            )),
            (Some(flow), None) => positive("test flow (gpm)", flow.get()).map(|q| Some(GallonsPerMinute(q))),
            (None, Some(pitot)) => {
                let outlets = f64::from(count("flowing outlets", pitot.outlets, 1)?);
                Ok(Some(outlet_flow(pitot.diameter_in, pitot.outlet, pitot.pitot_psi)? * outlets))
            }
            (None, None) => Ok(None),
        }
    }

    /// Flow at 20 psi residual, or not rated with the reason.
    /// Errors: unusable numbers.
    pub fn rate(&self) -> Checked<Rating> {
        let at_rest = not_negative("static pressure (psi)", self.static_psi.get())?;
        if let Some(residual) = self.residual_psi {
            not_negative("residual pressure (psi)", residual.get())?;
        }
        let not_rated = |cause: &str, action: &str| Ok(Rating::not_rated(cause, action));
        let Some(flow) = self.test_flow()? else {
            return not_rated("the flow test has no flow", "Give the flow or the pitot reading");
        };
        let Some(residual) = self.residual_psi else {
            return not_rated(
                "the flow test has no residual pressure",
                "Give the residual, or enter the site as a hydrant with a measured flow only",
            );
        };
        if at_rest <= HYDRANT_RESIDUAL.get() {
            return not_rated(
                "the static pressure is 20 psi or less",
                "Draft from it only if the water utility agrees",
            );
        }
        if flow.get() <= 0.0 {
            return not_rated("the flow test measured no flow", "Repeat the test");
        }
        let Some(available) = available_flow(flow, self.static_psi, residual, HYDRANT_RESIDUAL)? else {
            return not_rated(
                "the residual pressure is not below the static pressure",
                "Repeat the test with more outlets flowing",
            );
        };
        let rating = Rating::of(available, Basis::Measured)
            .tell(Basis::Measured, format!("{flow:.0} from {at_rest} to {residual} (flow test)"))
            .tell(Basis::Computed, format!("{available:.0} at {HYDRANT_RESIDUAL} (NFPA 291)"));
        // From memory of NFPA 291: a test should pull the pressure down by a quarter.
        if residual.get() > 0.75 * at_rest && residual > HYDRANT_RESIDUAL {
            return Ok(rating.with(
                Code::SiteFlowAssumed,
                format!("the test pulled {at_rest} psi down to {residual} only, so most of the flow at 20 psi is extrapolated"),
                "Repeat the test with more outlets flowing, a quarter of the static pressure at least",
            ));
        }
        Ok(rating)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn test(static_psi: f64, residual_psi: Option<f64>, flow_gpm: Option<f64>) -> HydrantTest {
        HydrantTest {
            static_psi: Psi(static_psi),
            residual_psi: residual_psi.map(Psi),
            flow_gpm: flow_gpm.map(GallonsPerMinute),
            pitot: None,
        }
    }

    #[test]
    fn what_cannot_be_rated_is_not_rated() {
        for (case, about) in [
            (test(60.0, Some(60.0), Some(800.0)), "not below the static"),
            (test(60.0, Some(61.0), Some(800.0)), "not below the static"),
            (test(20.0, Some(10.0), Some(800.0)), "20 psi or less"),
            (test(0.0, Some(0.0), Some(800.0)), "20 psi or less"),
            (test(60.0, None, Some(800.0)), "no residual"),
            (test(60.0, Some(40.0), None), "no flow"),
        ] {
            let rating = case.rate().unwrap();
            assert_eq!((rating.flow, rating.basis), (None, Basis::Unknown), "{about}");
            assert_eq!(rating.notes[0].code, Code::SiteNotRated);
            assert!(rating.notes[0].cause.contains(about), "{}", rating.notes[0].cause);
        }
        assert!(test(f64::NAN, Some(40.0), Some(800.0)).rate().is_err());
        assert!(test(60.0, Some(-1.0), Some(800.0)).rate().is_err());
        assert!(test(60.0, Some(40.0), Some(0.0)).rate().is_err());
    }

    #[test]
    fn a_weak_test_is_flagged() {
        let weak = test(80.0, Some(78.0), Some(500.0)).rate().unwrap();
        assert!(weak.flow.unwrap().get() > 500.0);
        assert_eq!(weak.notes[0].code, Code::SiteFlowAssumed);
        assert!(test(80.0, Some(50.0), Some(500.0)).rate().unwrap().notes.is_empty());
    }

    #[test]
    fn outlets_add_up_and_two_flows_contradict() {
        let pitot =
            Pitot { diameter_in: Inches(2.5), outlet: Outlet::Rounded, pitot_psi: Psi(16.0), outlets: 2 };
        let both = HydrantTest { pitot: Some(pitot), ..test(65.0, Some(50.0), None) };
        assert!((both.test_flow().unwrap().unwrap().get() - 2.0 * 671.175).abs() < 1e-3);
        let contradicting = HydrantTest { flow_gpm: Some(GallonsPerMinute(1.0)), ..both };
        assert!(contradicting.rate().is_err());
    }
}
