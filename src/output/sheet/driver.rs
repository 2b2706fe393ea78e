//! The card of one tanker driver: the loop in order, and what this truck has to hold against the signs.

use crate::output::sheet::said::{Driven, Member, Posted, RoadNote, Round, Tanker, Which};
use crate::output::sheet::words::{Units, blanks, name, prose, sentence, table};
use crate::output::sheet::{Sheet, map, marks, turns};
use crate::place::Place;

/// Height of the loop's map as a share of its width.
const FLAT: f64 = 0.38;
/// A note this near to a leg is one of that leg: it lies on the road, but for rounding.
const ON_THE_LEG_M: f64 = 3.0;

pub fn card(sheet: &Sheet, round: &Round, member: usize) -> String {
    let member = &round.said.crew[member];
    let Sheet { option, units, .. } = sheet;
    let site = name(&round.said.fill_site);
    let (fill, dump) = (site.as_str(), "dump site");
    let anchor = format!("driver-{}", number(sheet, member));
    let big = format!(
        "<p class=\"first\">first load at the dump site</p><p class=\"clock\">{}</p><p>cycle {}</p>",
        units.time(member.first_load_s),
        units.time(round.said.cycle_s)
    );
    let mut out = format!(
        "<section class=\"sheet driver\" aria-labelledby=\"{anchor}\">{}",
        sheet.head(&anchor, "Tanker driver", &name(&member.id), &big)
    );
    out.push_str(&format!(
        "<p class=\"way\">Fill at <b>{} {site}</b>, dump at <b>D {}</b>.</p>",
        marks::letter(option, &round.said.fill_site),
        name(&option.dump.road)
    ));
    let tanker = sheet.tanker(&member.id);
    out.push_str(&tanker.map_or_else(String::new, |tanker| weights(tanker, *units)));
    for (leg, from, to, at, approach) in [
        (&round.loaded, fill, dump, "At the dump site", &round.said.dump_approach),
        (&round.empty, dump, fill, "At the fill site", &round.said.fill_approach),
    ] {
        out.push_str(if leg.said.leg == Which::Empty { "<div class=\"side\">" } else { "<div>" });
        out.push_str(&turns::list(leg, &turns::title(&member.id, leg, from, to, *units), *units));
        out.push_str(&watch(sheet, leg, tanker));
        out.push_str(&format!("<p class=\"approach\"><b>{at}:</b> {}.</p></div>", sentence(approach)));
    }
    if round.said.unknown_width_two_way_m > 0.0 {
        out.push_str(&format!(
            "<p class=\"approach\">{} of road that tankers drive both ways has neither width nor lanes mapped: expect it to be \
             narrow.</p>",
            units.distance(round.said.unknown_width_two_way_m)
        ));
    }
    out.push_str(&blanks(&[
        "Radio channel",
        "Fill site calls",
        "Dump site calls",
        "Spotter, fill",
        "Spotter, dump",
        "Second aboard",
    ]));
    let wide = sheet.paper.wide_pt();
    out.push_str(&map::draw(sheet, std::slice::from_ref(round), wide, wide * FLAT));
    out + &sheet.foot() + "</section>"
}

/// From 1, in the order of the cards.
fn number(sheet: &Sheet, member: &Member) -> usize {
    let mut all = sheet.option.rounds.iter().flat_map(|round| &round.said.crew);
    all.position(|other| std::ptr::eq(other, member)).map_or(0, |at| at + 1)
}

fn weights(tanker: &Tanker, units: Units) -> String {
    let Tanker { bogie_load_full_kg: bogie_full, bogie_load_empty_kg: bogie_empty, .. } = tanker;
    let mut heads = vec!["this truck", "weight", "heaviest axle"];
    let mut full = vec!["FULL".into(), units.load(tanker.mass_full_kg), units.load(tanker.axle_load_full_kg)];
    let mut empty =
        vec!["EMPTY".into(), units.load(tanker.mass_empty_kg), units.load(tanker.axle_load_empty_kg)];
    if let (Some(a), Some(b)) = (bogie_full, bogie_empty) {
        heads.push("tandem");
        full.push(units.load(*a));
        empty.push(units.load(*b));
    }
    let size = format!(
        "<p class=\"size\"><b>{}</b> high · {} wide · {} long · tank {}, delivers {} · rated {}</p>",
        units.vehicle(tanker.height_m),
        units.vehicle(tanker.width_m),
        units.vehicle(tanker.length_m),
        units.volume(tanker.tank_gal),
        units.volume(tanker.usable_gal),
        units.load(tanker.rated_mass_kg)
    );
    format!("<div class=\"truck\">{}{size}</div>", table("weights", &heads, [full, empty]))
}

/// Signs, narrow road and notes along a leg, in the order met.
fn watch(sheet: &Sheet, leg: &Driven, tanker: Option<&Tanker>) -> String {
    let units = sheet.units;
    let mut met: Vec<(f64, String)> = Vec::new();
    for sign in &leg.said.posted {
        met.push((sign.along_m, posted(sign, tanker, units)));
    }
    for stretch in &leg.said.narrow {
        let wide =
            stretch.width_m.map_or("width not mapped".into(), |w| format!("{} wide", units.clearance(w)));
        let both =
            if stretch.both_ways { "<b>tankers come the other way</b>" } else { "other traffic may come" };
        let road = road(&stretch.road);
        met.push((
            stretch.along_m,
            format!("<b>NARROW</b> for {} on {road}, {wide}: {both}", units.distance(stretch.length_m)),
        ));
    }
    for (note, at) in &sheet.option.notes {
        // What a site is like is told with it.
        if note.code == "backing" || note.code.starts_with("dump-space") {
            continue;
        }
        if let Some(along) = along(&leg.line, *at) {
            met.push((along, told(note, tanker, units)));
        }
    }
    met.sort_by(|a, b| a.0.total_cmp(&b.0));
    met.dedup();
    if leg.said.posted.is_empty() {
        met.insert(
            0,
            (-1.0, "No weight or height limit is mapped on this leg. Unknown is not unlimited.".into()),
        );
    }
    let line = |(along, what): &(f64, String)| match along {
        along if *along < 0.0 => format!("<li>{what}</li>"),
        along if *along < 1.0 => format!("<li><span class=\"along\">at the start</span> {what}</li>"),
        along => format!("<li><span class=\"along\">at {}</span> {what}</li>", units.distance(*along)),
    };
    format!("<ul class=\"watch\">{}</ul>", met.iter().map(line).collect::<String>())
}

fn road(text: &str) -> String {
    if text.is_empty() { "a road without a name".into() } else { name(text) }
}

fn told(note: &RoadNote, tanker: Option<&Tanker>, units: Units) -> String {
    // The finding names the heaviest tanker to cross it; this driver drives this one.
    if let (true, Some(t)) = (note.code == "bridge-unposted", tanker) {
        let you = both(units, Some(t.mass_full_kg), Some(t.mass_empty_kg));
        let road = road(note.road.as_deref().unwrap_or_default());
        return format!(
            "<b>BRIDGE, NO WEIGHT POSTED</b> on {road}; {you}. Unknown is not unlimited: ask its owner."
        );
    }
    let road = note.road.as_deref().map_or(String::new(), |road| format!("<b>{}</b>: ", name(road)));
    format!("{road}{}. {}.", prose(&note.cause), sentence(&note.action))
}

/// A sign, with what this truck has at either load.
fn posted(sign: &Posted, tanker: Option<&Tanker>, units: Units) -> String {
    let what = match sign.limit.as_str() {
        "maxweight" => "WEIGHT",
        "maxweightrating" => "RATED WEIGHT",
        "maxaxleload" => "AXLE",
        "maxbogieweight" => "TANDEM",
        "maxheight" => "HEIGHT",
        "maxwidth" => "WIDTH",
        _ => "LENGTH",
    };
    let limit = match (sign.mass_kg, sign.size_m, &sign.unreadable) {
        (Some(mass), _, _) => units.limit(mass),
        (_, Some(size), _) => units.clearance(size),
        (_, _, Some(text)) => format!("“{}”, which nobody can read", name(text)),
        _ => "not readable".into(),
    };
    let you = tanker.map(|t| match sign.limit.as_str() {
        "maxweight" => both(units, Some(t.mass_full_kg), Some(t.mass_empty_kg)),
        "maxweightrating" => format!("you: rated {}", units.load(t.rated_mass_kg)),
        "maxaxleload" => both(units, Some(t.axle_load_full_kg), Some(t.axle_load_empty_kg)),
        "maxbogieweight" => both(units, t.bogie_load_full_kg, t.bogie_load_empty_kg),
        "maxheight" => format!("you: {}", units.vehicle(t.height_m)),
        "maxwidth" => format!("you: {}", units.vehicle(t.width_m)),
        _ => format!("you: {}", units.vehicle(t.length_m)),
    });
    let how = if sign.known { "known, not posted" } else { "posted" };
    let times = if sign.at_times { ", at times" } else { "" };
    let you = you.map_or(String::new(), |you| format!("; {you}"));
    format!("<b>{what} LIMIT {limit}</b> {how}{times} on {}{you}", road(&sign.road))
}

fn both(units: Units, full: Option<f64>, empty: Option<f64>) -> String {
    match (full, empty) {
        (Some(full), Some(empty)) => {
            format!("you: <b>{} full</b>, {} empty", units.load(full), units.load(empty))
        }
        _ => "you have none".into(),
    }
}

/// Metres along a line to the place, if it lies on it.
fn along(line: &[Place], at: Place) -> Option<f64> {
    let mut before = 0.0;
    let mut nearest: Option<(f64, f64)> = None;
    for pair in line.windows(2) {
        let (bx, by) = pair[1].offset_from(pair[0]);
        let (x, y) = at.offset_from(pair[0]);
        let length = bx.hypot(by);
        let share = if length > 0.0 { ((x * bx + y * by) / (length * length)).clamp(0.0, 1.0) } else { 0.0 };
        let off = (x - share * bx).hypot(y - share * by);
        if nearest.is_none_or(|(least, _)| off < least) {
            nearest = Some((off, before + share * length));
        }
        before += length;
    }
    nearest.filter(|(off, _)| *off <= ON_THE_LEG_M).map(|(_, along)| along)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(lon: f64, lat: f64) -> Place {
        Place::from_lon_lat(lon, lat).unwrap()
    }

    /// A thousandth of a degree on a sphere of 6,371 km is 111.2 m: half of it is 55.6 m along.
    #[test]
    fn a_note_is_found_along_its_leg() {
        let line = [at(0.0, 0.0), at(0.0, 0.001), at(0.001, 0.001)];
        assert!((along(&line, at(0.0, 0.0005)).unwrap() - 55.6).abs() < 0.1);
        assert!((along(&line, at(0.0005, 0.00101)).unwrap() - 166.8).abs() < 0.2);
        assert_eq!(along(&line, at(0.0005, 0.0)), None);
    }
}
