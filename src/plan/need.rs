//! The needed flow of a request: given, or by the method that the scenario names.

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::plan::scenario::IncidentFile;
use crate::units::GallonsPerMinute;
use crate::water::demand::{Figure, Method};
use std::ops::RangeInclusive;

/// Needed flows a plan takes, gpm.
const USABLE_GPM: RangeInclusive<f64> = 1.0..=20_000.0;

/// The flow a plan takes, by which method, and beside it what every method says.
#[derive(Clone, Debug)]
pub struct Need {
    pub flow: GallonsPerMinute,
    pub by: Method,
    /// Empty where no building is described.
    pub figures: Vec<Figure>,
}

/// A flag goes before what the scenario says, and whatever is taken, a building is checked.
/// Errors: no need or two; a figure no plan can use; a building with unusable numbers, or one
/// that the method named cannot judge.
pub(super) fn resolve(file: &str, flag: Option<f64>, incident: &IncidentFile) -> Outcome<Need> {
    let bad =
        |cause: String, action: &str| Err(Refusal::new(Code::InputInvalid, Where::file(file), cause, action));
    if incident.need_gpm.is_some() && incident.need_by.is_some() {
        return bad(
            "incident.need_gpm and incident.need_by are both given".into(),
            "keep one: the flow itself, or the method that finds it from [incident.building]",
        );
    }
    let figures = match incident.building.as_ref().map(|building| building.figures()).transpose() {
        Ok(figures) => figures.unwrap_or_default(),
        Err(e) => return bad(format!("incident.building: {} is {}", e.what, e.found), &e.remedy),
    };
    let (flow, by) = match (flag.or(incident.need_gpm), incident.need_by) {
        (Some(given), _) => (given, Method::Given),
        (None, Some(by)) => {
            let method = by.method();
            let named = format!("incident.need_by is {:?}", method.key());
            let Some(figure) = figures.iter().find(|figure| figure.method == method) else {
                let action = "describe the building under [incident.building], or give need_gpm";
                return bad(format!("{named}, but no building is described"), action);
            };
            match &figure.found {
                Ok(needed) => (needed.flow.get(), method),
                Err(why) => {
                    let why = why.text(str::to_string);
                    let action = "add it under [incident.building], name another method, or give need_gpm";
                    return bad(format!("{named}, and that finds nothing ({why})"), action);
                }
            }
        }
        (None, None) => (f64::NAN, Method::Given),
    };
    if USABLE_GPM.contains(&flow) {
        return Ok(Need { flow: GallonsPerMinute(flow), by, figures });
    }
    let action = format!("give a value from {} to {} gpm", USABLE_GPM.start(), USABLE_GPM.end());
    if by != Method::Given {
        return bad(
            format!("incident.need_by {:?} finds {flow:.1} gpm", by.key()),
            &format!("look at [incident.building], or {action} as need_gpm"),
        );
    }
    let cause = if flow.is_nan() { "is not given or not a number".into() } else { format!("is {flow}") };
    bad(
        format!("incident.need_gpm (--need) {cause}"),
        &format!("{action}, or need_by and [incident.building]"),
    )
}
