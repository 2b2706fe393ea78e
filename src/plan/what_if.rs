//! Changes that a request makes to what its files say: sites out of service, tankers that are not there,
//! roads closed.

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::overlay::{Direction, Entry, Overlay, Shape, Validity, What};
use crate::sites::fill::FillSite;
use crate::vehicle::Fleet;

/// Names told where one is unknown.
const MOST_NAMED: usize = 20;
/// Where entries come from that no file holds.
pub(super) const THE_REQUEST: &str = "the request";

/// Marks sites of these names as out of service. Those that no list names are returned: they may be on the
/// map, which is not read yet.
pub(super) fn out_of_service(
    sites: &mut [FillSite],
    names: &[String],
    may_be_mapped: bool,
) -> Outcome<Vec<String>> {
    let listed = |name: &String| sites.iter().any(|site| site.name == *name);
    let others: Vec<String> = names.iter().filter(|name| !listed(name)).cloned().collect();
    if !may_be_mapped {
        let known: Vec<&str> = sites.iter().map(|site| site.name.as_str()).collect();
        refuse_unknown("fill site", &others, &known)?;
    }
    for site in sites.iter_mut().filter(|site| names.contains(&site.name)) {
        site.in_service = false;
    }
    Ok(others)
}

/// Leaves all tankers out of a fleet but these.
pub(super) fn only_tankers(fleet: &mut Fleet, ids: &[String]) -> Outcome<()> {
    let known: Vec<&str> = fleet.tankers.iter().map(|tanker| tanker.chassis.id.as_str()).collect();
    refuse_unknown("tanker", ids, &known)?;
    fleet.tankers.retain(|tanker| ids.contains(&tanker.chassis.id));
    Ok(())
}

/// Names that are none of those known are refused.
pub(super) fn refuse_unknown(what: &str, names: &[String], known: &[&str]) -> Outcome<()> {
    let Some(name) = names.iter().find(|name| !known.contains(&name.as_str())) else { return Ok(()) };
    let mut action = match known.len() {
        0 => "leave it out: there are none".into(),
        _ => format!(
            "the names are: {}",
            known.iter().take(MOST_NAMED).copied().collect::<Vec<_>>().join(", ")
        ),
    };
    if known.len() > MOST_NAMED {
        action.push_str(&format!(" and {} more", known.len() - MOST_NAMED));
    }
    let place = Where::default().named(THE_REQUEST);
    Err(Refusal::new(Code::InputInvalid, place, format!("there is no {what} \"{name}\""), action))
}

/// Closes ways as an overlay does. In order of their ids, so that the order they were given in is no part of
/// the answer.
pub(super) fn close(overlay: &mut Overlay, ways: &[i64]) {
    let mut ways = ways.to_vec();
    ways.sort_unstable();
    ways.dedup();
    overlay.entries.extend(ways.into_iter().enumerate().map(|(i, way)| Entry {
        file: THE_REQUEST.into(),
        number: i + 1,
        name: None,
        what: What::Closure {
            bridges: true,
            direction: Direction::Both,
            reason: "closed in the request".into(),
        },
        way: Some(way),
        node: None,
        shape: Shape::None,
        validity: Validity::default(),
    }));
}
