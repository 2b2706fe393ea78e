//! A drill's times put into a problem: handling and spreads in place of those of fleet and scenario, and the
//! department's own pace beside the modelled one.

use crate::drill::{Basis, Estimate, Fitted};
use crate::finding::{Code, Finding, Findings, Where};
use crate::shuttle::{Passage, Spread, Vary};
use crate::units::Seconds;
use crate::vehicle::{Fleet, Load};

/// Driving time over the modelled one, by load. A leg in the answer keeps its modelled time; cycles, arrivals and
/// flows rest on these.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pace {
    pub loaded: f64,
    pub empty: f64,
}

impl Pace {
    pub fn of(&self, load: Load) -> f64 {
        match load {
            Load::Full => self.loaded,
            Load::Empty => self.empty,
        }
    }

    pub fn driven(&self, load: Load, modelled: Seconds) -> Seconds {
        modelled * self.of(load)
    }

    pub(super) fn passages(&self, load: Load, modelled: &[Passage]) -> Vec<Passage> {
        let factor = self.of(load);
        let paced = |p: &Passage| Passage { after: p.after * factor, take: p.take * factor, ..*p };
        modelled.iter().map(paced).collect()
    }
}

/// What the drill knows takes the place of what fleet and scenario say; a fill site's own handling stays.
pub(super) fn apply(
    drill: Option<&(String, Fitted)>,
    fleet: &mut Fleet,
    spread: &mut Spread,
    findings: &mut Findings,
) -> Pace {
    let mut pace = Pace { loaded: 1.0, empty: 1.0 };
    let Some((file, fitted)) = drill else { return pace };
    let factor = |estimate: Option<Estimate>| estimate.map_or(1.0, |e| e.value);
    (pace.loaded, pace.empty) = (factor(fitted.loaded_factor), factor(fitted.empty_factor));
    for tanker in &mut fleet.tankers {
        if let Some(handling) = fitted.fill_handling {
            tanker.fill_handling = Seconds(handling.value);
        }
        if let Some(handling) = fitted.dump_handling {
            tanker.dump_handling = Seconds(handling.value);
        }
    }
    let log_normal = |slot: &mut Vary, estimate: Option<Estimate>| {
        if let Some(estimate) = estimate {
            *slot = Vary::LogNormal { cv: estimate.value };
        }
    };
    log_normal(&mut spread.travel, fitted.travel_cv);
    log_normal(&mut spread.handling, fitted.handling_cv);
    log_normal(&mut spread.service, fitted.service_cv);
    let told: Vec<String> = fitted
        .named()
        .into_iter()
        .filter_map(|(name, estimate, unit)| {
            let e = estimate?;
            Some(format!("{name} {:.2} {unit} ({:.2} to {:.2}, {} rows)", e.value, e.low, e.high, e.rows))
        })
        .collect();
    findings.add(Finding::new(
        Code::DrillApplied,
        Where::file(file),
        format!("used from the drill: {}", told.join("; ")),
        "drill again when tankers, crews or roads change",
    ));
    let factors = fitted.loaded_factor.is_some() || fitted.empty_factor.is_some();
    if factors && fitted.basis != Some(Basis::Modelled) {
        findings.add(Finding::new(
            Code::DrillBasis,
            Where::file(file),
            "its driving factors are over the standard's equation for the distance, not over tankerloop's times",
            "log modelled_s, the time `tankerloop drive` gives for each leg, and fit again",
        ));
    }
    pace
}
