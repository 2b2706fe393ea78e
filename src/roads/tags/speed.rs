//! Tags of a road way that say how fast: posted limits, zones of implicit limits, incline.
//! Meanings: OpenStreetMap wiki, "Key:maxspeed", "Key:maxspeed:type", "Key:source:maxspeed",
//! "Key:zone:maxspeed", "Key:incline".

use super::{Tags, get, unreadable};
use crate::finding::{Findings, OsmRef};
use crate::units::MetresPerSecond;

/// What a speed tag says.
enum Said {
    Number(MetresPerSecond),
    Zone(Box<str>),
    /// No number and no zone: the class table decides.
    Nothing,
}

/// By direction: with and against the node order.
pub type Zones = Option<Box<[Option<Box<str>>; 2]>>;

/// Posted limit and zone of implicit limits by direction. The limit for heavy goods vehicles
/// (`maxspeed:hgv`) binds a tanker beside the one for all; a number on the road itself stands before
/// any zone, and `maxspeed:type` then only says where the number comes from.
pub fn posted(tags: &Tags, osm: OsmRef, findings: &mut Findings) -> ([Option<MetresPerSecond>; 2], Zones) {
    let mut read = |key: &str| get(tags, key).map(|value| said(key, value, osm, findings));
    let (both, forward, backward) = (read("maxspeed"), read("maxspeed:forward"), read("maxspeed:backward"));
    let (hgv, hgv_forward, hgv_backward) =
        (read("maxspeed:hgv"), read("maxspeed:hgv:forward"), read("maxspeed:hgv:backward"));
    let typed = ["maxspeed:type", "source:maxspeed", "zone:maxspeed"]
        .iter()
        .filter_map(|key| get(tags, key))
        .find_map(zone);
    let mut zones = [None, None];
    let mut limit = |direction: usize, own: Option<Said>, hgv_own: Option<Said>| {
        let number = |said: &Option<Said>| match said {
            Some(Said::Number(speed)) => Some(*speed),
            _ => None,
        };
        let own = own.as_ref().or(both.as_ref());
        let all = match own {
            Some(Said::Number(speed)) => Some(*speed),
            Some(Said::Zone(code)) => {
                zones[direction] = Some(code.clone());
                None
            }
            Some(Said::Nothing) => None,
            None => {
                zones[direction] = typed.clone();
                None
            }
        };
        let trucks = number(&hgv_own).or(number(&hgv));
        match (all, trucks) {
            (Some(all), Some(trucks)) => Some(all.min(trucks)),
            (all, trucks) => all.or(trucks),
        }
    };
    let speeds = [limit(0, forward, hgv_forward), limit(1, backward, hgv_backward)];
    (speeds, zones.iter().any(Option::is_some).then(|| Box::new(zones)))
}

fn said(key: &str, value: &str, osm: OsmRef, findings: &mut Findings) -> Said {
    match value.trim().parse::<MetresPerSecond>() {
        Ok(speed) if speed.0 > 0.5 => return Said::Number(speed),
        _ => {}
    }
    match value.trim() {
        // "none" lifts the limit; a sign that changes says no number.
        "none" | "signals" | "variable" | "unposted" | "implicit" => Said::Nothing,
        "walk" => Said::Zone("walk".into()),
        value => zone(value).map_or_else(
            || {
                unreadable(key, value, "the class table decides", osm, findings);
                Said::Nothing
            },
            Said::Zone,
        ),
    }
}

/// A zone code: a country, with or without a part of it, and a context, such as `GB:nsl_single`,
/// `BE-VLG:rural` or `DE:zone30`. Words like `sign` or `markings` are none.
fn zone(value: &str) -> Option<Box<str>> {
    let (country, context) = value.trim().split_once(':')?;
    let is_country = country.len() >= 2
        && country.chars().next().is_some_and(|c| c.is_ascii_alphabetic())
        && country.chars().all(|c| c.is_ascii_alphanumeric() || c == '-');
    (is_country && !context.is_empty() && !context.contains(' ')).then(|| value.trim().into())
}

/// Steeper than this no road is: the steepest streets of the world rise about 35 %.
const STEEPEST_PERCENT: f64 = 45.0;

/// Grade in percent with the node order. `up` and `down` say no number.
pub fn incline(tags: &Tags, osm: OsmRef, findings: &mut Findings) -> Option<f32> {
    let value = get(tags, "incline")?.trim();
    if matches!(value, "up" | "down" | "yes" | "steep") {
        return None;
    }
    let number = |text: &str| text.trim().replace(',', ".").parse::<f64>().ok();
    let percent = match (value.strip_suffix('%'), value.strip_suffix('°')) {
        (Some(text), _) => number(text),
        (_, Some(text)) => number(text).map(|degrees| degrees.to_radians().tan() * 100.0),
        _ => number(value),
    };
    match percent.filter(|p| p.abs() <= STEEPEST_PERCENT) {
        Some(percent) => Some(percent as f32),
        None => {
            unreadable("incline", value, "the grade is taken as not mapped", osm, findings);
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(tags: &Tags) -> ([Option<f64>; 2], Zones, usize) {
        let mut findings = Findings::new();
        let (speeds, zones) = posted(tags, OsmRef::Way(1), &mut findings);
        (speeds.map(|s| s.map(|s| s.kmh().round())), zones, findings.iter().count())
    }

    #[test]
    fn numbers_stand_before_zones_and_trucks_are_bound_by_both() {
        assert_eq!(read(&[("maxspeed", "50")]), ([Some(50.0); 2], None, 0));
        assert_eq!(read(&[("maxspeed", "50"), ("maxspeed:type", "DE:urban")]).1, None);
        assert_eq!(read(&[("maxspeed", "80"), ("maxspeed:hgv", "60")]).0, [Some(60.0); 2]);
        assert_eq!(read(&[("maxspeed", "50"), ("maxspeed:hgv", "60")]).0, [Some(50.0); 2]);
        let down = [("maxspeed", "80"), ("maxspeed:hgv", "60"), ("maxspeed:hgv:backward", "40")];
        assert_eq!(read(&down).0, [Some(60.0), Some(40.0)]);
        assert_eq!(read(&[("maxspeed", "none"), ("maxspeed:hgv", "80")]).0, [Some(80.0); 2]);
    }

    #[test]
    fn zones_by_every_key() {
        let single = || Some("GB:nsl_single".into());
        for key in ["maxspeed", "maxspeed:type", "source:maxspeed", "zone:maxspeed"] {
            let (speeds, zones, told) = read(&[(key, "GB:nsl_single")]);
            assert_eq!((speeds, told), ([None, None], 0), "{key}");
            assert_eq!(*zones.unwrap(), [single(), single()], "{key}");
        }
        let mixed = read(&[("maxspeed:forward", "30 mph"), ("maxspeed:type", "GB:nsl_single")]);
        assert_eq!((mixed.0, *mixed.1.unwrap()), ([Some(48.0), None], [None, single()]));
        for said in ["sign", "markings", "survey", "local knowledge"] {
            assert_eq!(read(&[("source:maxspeed", said)]), ([None, None], None, 0), "{said}");
        }
        assert_eq!(*read(&[("maxspeed", "walk")]).1.unwrap(), [Some("walk".into()), Some("walk".into())]);
        assert_eq!(read(&[("maxspeed", "brisk")]).2, 1);
    }

    #[test]
    fn inclines() {
        let read = |value: &str| {
            let mut findings = Findings::new();
            let grade = incline(&[("incline", value)], OsmRef::Way(1), &mut findings);
            (grade.map(|g| (f64::from(g) * 10.0).round() / 10.0), findings.iter().count())
        };
        assert_eq!(read("10%"), (Some(10.0), 0));
        assert_eq!(read("-4.5 %"), (Some(-4.5), 0));
        assert_eq!(read("5°"), (Some(8.7), 0)); // tan 5 degrees is 0.0875
        assert_eq!(read("up"), (None, 0));
        assert_eq!(read("90%"), (None, 1));
        assert_eq!(read("some"), (None, 1));
    }
}
