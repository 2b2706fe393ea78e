//! What stands on the map of a sheet: signs of places, words beside legs and roads, scale and north.

use crate::output::export::text::at_most;
use crate::output::sheet::Sheet;
use crate::output::sheet::ground::{Ground, Weight};
use crate::output::sheet::labels::{Area, Room};
use crate::output::sheet::map::{Picture, Point, at_metres, pick};
use crate::output::sheet::said::{PlanOption, Round, Which};
use crate::place::Place;
use crate::units::Shown;

/// Sizes of the words, in points.
const PLACE_PT: f64 = 11.0;
const LEG_PT: f64 = 10.5;
const STREET_PT: f64 = 9.0;
/// Longest name on the map, in characters; the cards have more of it.
const LONGEST: usize = 34;

/// How the fill sites of an option are lettered: in the order in which its loops come to them.
pub fn letter(option: &PlanOption, site: &str) -> String {
    let mut names: Vec<&str> = Vec::new();
    for round in &option.rounds {
        if !names.contains(&round.said.fill_site.as_str()) {
            names.push(&round.said.fill_site);
        }
    }
    match names.iter().position(|name| *name == site) {
        Some(at) if names.len() > 1 => format!("F{}", at + 1),
        _ => "F".into(),
    }
}

pub fn signs(picture: &mut Picture, room: &mut Room, sheet: &Sheet, rounds: &[Round]) {
    let Sheet { said, option, .. } = sheet;
    let mut named: Vec<(Point, String)> = Vec::new();
    let mut put = |picture: &mut Picture, at: Point, shape: &str, letter: &str, class: &str| {
        let (x, y) = room.stand(at, 11.5);
        if (x, y) != at {
            picture.svg.push_str(&format!(
                "<path class=\"pointer\" d=\"M{:.1} {:.1}L{x:.1} {y:.1}\"/><circle class=\"spot\" cx=\"{:.1}\" cy=\"{:.1}\" \
                 r=\"2.6\"/>",
                at.0, at.1, at.0, at.1
            ));
        }
        picture.svg.push_str(&format!(
            "<g class=\"sign {class}\" transform=\"translate({x:.1} {y:.1})\">{shape}<text y=\"4\">{letter}</text></g>"
        ));
        (x, y)
    };
    if let Some((_, at)) = &option.staging {
        let at = picture.at(*at);
        let at = put(picture, at, "<path d=\"M-4 -10H4L10 -4V4L4 10H-4L-10 4V-4Z\"/>", "W", "light");
        named.push((at, "TANKERS WAIT".into()));
    }
    for (site, place) in &said.sites {
        if rounds.iter().any(|round| round.said.fill_site == site.name) {
            let at = picture.at(*place);
            let at = put(picture, at, "<circle r=\"11\"/>", &letter(option, &site.name), "light");
            named.push((at, format!("FILL {}", at_most(&site.name, LONGEST))));
        }
    }
    let at = picture.at(option.at);
    let at = put(picture, at, "<rect x=\"-10\" y=\"-10\" width=\"20\" height=\"20\"/>", "D", "dark");
    named.push((at, "DUMP SITE".into()));
    let fire = picture.at(said.incident_at);
    let fire = put(picture, fire, "<path d=\"M0 -13L13 0L0 13L-13 0Z\"/>", "!", "dark");
    named.push((fire, "FIRE".into()));
    for (at, words) in named {
        if let Some(area) = room.place(at, &words, PLACE_PT, 13.0, true) {
            // Words that found no room beside their sign are tied to it.
            let (dx, dy) = (area.x - at.0, area.y - at.1);
            if (dx.abs() - area.half_wide).max(dy.abs() - area.half_high) > 18.0 {
                let out = 12.0 / dx.hypot(dy);
                picture.svg.push_str(&format!(
                    "<path class=\"pointer\" d=\"M{:.1} {:.1}L{:.1} {:.1}\"/>",
                    at.0 + dx * out,
                    at.1 + dy * out,
                    area.x,
                    area.y
                ));
            }
            picture.words("place", (area.x, area.y), PLACE_PT, &words);
        }
    }
}

/// On the longest straight-on of each leg: what it is, and its bearing as the turn list has it.
pub fn leg_words(picture: &mut Picture, room: &mut Room, option: &PlanOption, rounds: &[Round]) {
    for round in rounds {
        for which in [Which::Loaded, Which::Empty] {
            let leg = pick(round, which);
            let mut before = 0.0;
            let mut longest: Option<(f64, f64, u16)> = None;
            for step in &leg.said.steps {
                if longest.is_none_or(|(length, ..)| step.distance_m > length) {
                    longest = Some((step.distance_m, before + step.distance_m / 2.0, step.bearing_deg));
                }
                before += step.distance_m;
            }
            let Some((_, middle, bearing)) = longest else { continue };
            let at = picture.at(at_metres(&leg.line, middle));
            let (word, class) = match which {
                Which::Loaded => ("LOADED", "loaded-box"),
                Which::Empty => ("EMPTY", "empty-box"),
            };
            let words = format!("{} {word} {bearing:03}°", letter(option, &round.said.fill_site));
            let Some(Area { x, y, half_wide, half_high }) = room.place(at, &words, LEG_PT, 9.0, true) else {
                continue;
            };
            picture.svg.push_str(&format!(
                "<path class=\"pointer\" d=\"M{x:.1} {y:.1}L{:.1} {:.1}\"/><rect class=\"{class}\" x=\"{:.1}\" y=\"{:.1}\" \
                 width=\"{:.1}\" height=\"{:.1}\"/>",
                at.0,
                at.1,
                x - half_wide,
                y - half_high - 1.0,
                half_wide * 2.0,
                half_high * 2.0 + 2.0
            ));
            picture.words("leg", (x, y), LEG_PT, &words);
        }
    }
}

/// Names of the roads driven, once each, then of others and of settlements where there is room.
pub fn streets(picture: &mut Picture, room: &mut Room, rounds: &[Round], ground: Option<&Ground>) {
    let mut told: Vec<String> = Vec::new();
    let mut wanted: Vec<(f64, String, Place)> = Vec::new();
    for leg in rounds.iter().flat_map(|r| [&r.loaded, &r.empty]) {
        let mut before = 0.0;
        for step in &leg.said.steps {
            let middle = at_metres(&leg.line, before + step.distance_m / 2.0);
            wanted.push((step.distance_m, step.street.clone(), middle));
            before += step.distance_m;
        }
    }
    wanted.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut tell = |picture: &mut Picture, name: &str, place: Place, class: &str, size: f64| {
        if name.is_empty() || name == "unnamed road" || told.iter().any(|t| t == name) {
            return;
        }
        let words = at_most(name, LONGEST);
        let at = picture.at(place);
        if let Some(area) = room.place(at, &words, size, 5.0, false) {
            picture.words(class, (area.x, area.y), size, &words);
            told.push(name.to_string());
        }
    };
    for (_, name, place) in &wanted {
        tell(picture, name, *place, "street", STREET_PT);
    }
    for (name, place) in ground.iter().flat_map(|g| &g.settlements) {
        tell(picture, name, *place, "settlement", PLACE_PT);
    }
    let others = ground.iter().flat_map(|g| &g.roads).filter(|road| road.weight <= Weight::Middle);
    for road in others {
        let at = road.line[road.line.len() / 2];
        let (x, y) = picture.at(at);
        if x > 20.0 && y > 20.0 && x < picture.wide - 20.0 && y < picture.high - 20.0 {
            tell(picture, &road.name, at, "other-street", STREET_PT);
        }
    }
}

/// A bar of a round length, and which way is north.
pub fn scale_bar(picture: &Picture, shown: Shown) -> String {
    const MILE_M: f64 = 1609.344;
    let steps: [(f64, &str); 8] = match shown {
        Shown::Us => [
            (MILE_M / 16.0, "330 ft"),
            (MILE_M / 8.0, "1/8 mi"),
            (MILE_M / 4.0, "1/4 mi"),
            (MILE_M / 2.0, "1/2 mi"),
            (MILE_M, "1 mi"),
            (MILE_M * 2.0, "2 mi"),
            (MILE_M * 5.0, "5 mi"),
            (MILE_M * 10.0, "10 mi"),
        ],
        Shown::Metric => [
            (100.0, "100 m"),
            (200.0, "200 m"),
            (500.0, "500 m"),
            (1_000.0, "1 km"),
            (2_000.0, "2 km"),
            (5_000.0, "5 km"),
            (10_000.0, "10 km"),
            (20_000.0, "20 km"),
        ],
    };
    let fitting = steps.iter().rev().find(|(metres, _)| metres * picture.scale <= 90.0).unwrap_or(&steps[0]);
    let (length, y, x) = (fitting.0 * picture.scale, picture.high - 10.0, picture.wide - 15.0);
    let text = fitting.1;
    format!(
        "<g class=\"bar\"><rect x=\"4\" y=\"{:.1}\" width=\"{:.1}\" height=\"19\"/><path d=\"M10 {:.1}V{y:.1}H{:.1}V{:.1}\"/>\
         <text x=\"{:.1}\" y=\"{:.1}\">{text}</text></g><g class=\"north\"><path d=\"M{x} 6L{:.1} 26L{x} 21L{:.1} 26Z\"/>\
         <text x=\"{x}\" y=\"39\">N</text></g>",
        y - 13.0,
        length + 46.0,
        y - 6.0,
        10.0 + length,
        y - 6.0,
        14.0 + length,
        y + 0.5,
        x + 7.0,
        x - 7.0,
    )
}
