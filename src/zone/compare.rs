//! What changes if: the stretches of one zone judged under another request on the same roads.

use super::Zone;
use super::block;
use crate::finding::{Code, Outcome, Refusal, Where};

/// A request beside the zone's own, and what the stretches come to under it.
#[derive(Clone, Debug)]
pub struct Variant {
    pub name: String,
    /// By stretch of the zone.
    pub ceiling_gpm: Vec<f64>,
}

impl Variant {
    /// Judges the stretches of `zone` under `other`, which is surveyed on the same road file.
    pub fn of(name: &str, zone: &Zone, other: &Zone) -> Outcome<Variant> {
        let (own, theirs) = (&zone.ground.roads.network, &other.ground.roads.network);
        if own.segments.len() != theirs.segments.len() || own.bounds.bbox() != theirs.bounds.bbox() {
            return Err(Refusal::new(
                Code::InputInvalid,
                Where::default().named(format!("--compare {name}")),
                "it is on another road file",
                "compare requests on the same roads",
            ));
        }
        let (overlay, moment) = (&other.problem.roads.overlay, &other.problem.roads.policy.moment);
        let ceiling_gpm = block::each(other, &zone.stretches, false, |prepared, number, stretch| {
            let forbidden =
                !overlay.is_empty() && overlay.forbids_dump(stretch.spot(theirs).place, moment).is_some();
            Ok(if forbidden { 0.0 } else { prepared.judge(number, stretch)?.0.ceiling_gpm })
        })?;
        Ok(Variant { name: name.to_string(), ceiling_gpm })
    }
}
