//! Each loop: do its legs meet, is it what it says it is, how much road do its legs share?

use crate::roads::network::Arc;
use crate::routing::speed::Room;
use crate::vehicle::Load;
use crate::verify::answer::{PlanOption, SaidLoop};
use crate::verify::drive::{Garage, OnRoad, ms};
use crate::verify::legs::Driven;
use crate::verify::trace::Trace;
use crate::verify::{ROUNDED, Verification};
use std::collections::BTreeMap;

/// Two rounded ends of the same spot lie no farther apart than this.
const SAME_SPOT_M: f64 = 0.05;
/// A loop found on the road.
#[derive(Clone, Debug)]
pub struct DrivenLoop {
    /// Index into the option's loops.
    pub index: usize,
    pub loaded_ms: u64,
    pub empty_ms: u64,
    pub loaded: Trace,
    pub empty: Trace,
    /// At the site itself, which takes its own time; a turn in the first metre of a leg is in the leg's.
    pub turns_at_dump: bool,
    pub turns_at_fill: bool,
    /// The dump site on the road: more than one arm where it lies at a junction.
    pub dumps: Vec<OnRoad>,
}

/// One way of putting the two legs together.
struct Pair<'d> {
    loaded: &'d Driven,
    empty: &'d Driven,
    /// Turns at the site itself.
    turns_at_dump: bool,
    turns_at_fill: bool,
    /// At the dump and the fill site, those in the first or last metre of a leg included.
    turns: (bool, bool),
}

/// Ends of a leg shorter than this lie at the site.
const AT_SITE_M: f64 = 0.5;

/// A leg that comes to a site or leaves it turns round there before it is half a metre off.
fn turns_within(garage: &Garage, into: &Trace, out: &Trace) -> bool {
    let length = |arc: &Arc| garage.ground.network().length(*arc).0;
    let leaving = match &out.arcs[..] {
        [first, next, ..] => *next == first.reversed() && length(first) * (1.0 - out.from) <= AT_SITE_M,
        _ => false,
    };
    let coming = match &into.arcs[..] {
        [.., before, last] => *last == before.reversed() && length(last) * into.to <= AT_SITE_M,
        _ => false,
    };
    leaving || coming
}

pub fn check(
    garage: &Garage,
    option: &PlanOption,
    of: &SaidLoop,
    loaded: &[Driven],
    empty: &[Driven],
    found: &mut Verification,
) -> Option<DrivenLoop> {
    let (number, title, said) = (option.number, of.title(), &of.said);
    figures(option, of, found);
    if loaded.is_empty() || empty.is_empty() {
        return None;
    }
    let mut pairs: Vec<Pair> = Vec::new();
    for l in loaded {
        for e in empty {
            if meets(garage, l.trace.end(), e.trace.start()) && meets(garage, e.trace.end(), l.trace.start())
            {
                let turns_at_dump = l.trace.arcs.last() != e.trace.arcs.first();
                let turns_at_fill = e.trace.arcs.last() != l.trace.arcs.first();
                let turns = (
                    turns_at_dump || turns_within(garage, &l.trace, &e.trace),
                    turns_at_fill || turns_within(garage, &e.trace, &l.trace),
                );
                pairs.push(Pair { loaded: l, empty: e, turns_at_dump, turns_at_fill, turns });
            }
        }
    }
    found.add("loop.meets", Some(number), !pairs.is_empty(), format!("{title}: its legs meet at both ends"));
    let as_said = |p: &&Pair| p.turns == (said.turns_at_dump, said.turns_at_fill);
    // A spot at a junction lies on each of its arms, and from each of them other drives are the
    // quickest; the answer does not tell which arm it means. Any of them will do.
    let fits = |p: &&Pair| quickest(garage, of, p).iter().all(|(passed, _)| *passed);
    let pair =
        pairs.iter().filter(as_said).find(fits).or_else(|| pairs.iter().find(as_said)).or(pairs.first())?;
    let mut dumps: Vec<OnRoad> = Vec::new();
    for end in pairs.iter().filter(as_said).filter(fits).filter_map(|p| p.loaded.trace.end()) {
        if dumps.iter().all(|known| known.segment != end.segment) {
            dumps.push(end);
        }
    }
    if dumps.is_empty() {
        dumps.extend(pair.loaded.trace.end());
    }
    found.add(
        "loop.turns",
        Some(number),
        as_said(&pair),
        format!(
            "{title}: stated {} at the dump site and {} at the fill site, found {} and {}",
            said.turns_at_dump, said.turns_at_fill, pair.turns.0, pair.turns.1
        ),
    );
    shared(garage, number, of, &pair.loaded.trace, &pair.empty.trace, found);
    for (passed, detail) in quickest(garage, of, pair) {
        found.add("loop.quickest", Some(number), passed, detail);
    }
    let index = option.loops.iter().position(|l| std::ptr::eq(l, of))?;
    Some(DrivenLoop {
        index,
        loaded_ms: pair.loaded.ms,
        empty_ms: pair.empty.ms,
        loaded: pair.loaded.trace.clone(),
        empty: pair.empty.trace.clone(),
        turns_at_dump: pair.turns_at_dump,
        turns_at_fill: pair.turns_at_fill,
        dumps,
    })
}

/// The loop's figures are its legs' figures, rounded; its shape is theirs; the spots are the sites'.
fn figures(option: &PlanOption, of: &SaidLoop, found: &mut Verification) {
    let (number, title, said) = (option.number, of.title(), &of.said);
    let stated = [
        (said.loaded_travel_s, said.loaded_distance_m, &of.loaded),
        (said.empty_travel_s, said.empty_distance_m, &of.empty),
    ];
    for (i, (travel_s, distance_m, leg)) in stated.into_iter().enumerate() {
        let Some((leg, line)) = leg else { continue };
        let which = format!("{} leg of {title}", leg.leg.as_str());
        found.near("loop.figures", number, &format!("{which}, s"), travel_s, leg.travel_s, ROUNDED);
        found.near("loop.figures", number, &format!("{which}, m"), distance_m, leg.distance_m, ROUNDED);
        let same = of.lines.get(i) == Some(line) && of.lines.len() == 2;
        found.add("loop.shape", Some(number), same, format!("{which}: the loop's line is the leg's"));
        let at_dump = if i == 0 { line.last() } else { line.first() };
        found.add(
            "loop.dump_spot",
            Some(number),
            at_dump.is_some_and(|p| p.distance(option.dump).0 <= SAME_SPOT_M),
            format!("{which} reaches the dump site"),
        );
    }
}

fn meets(garage: &Garage, a: Option<OnRoad>, b: Option<OnRoad>) -> bool {
    let (Some(a), Some(b)) = (a, b) else { return false };
    let length = f64::from(garage.ground.network().segments[a.segment.min(b.segment)].length_m);
    a.segment == b.segment && (a.fraction - b.fraction).abs() * length <= SAME_SPOT_M
}

/// Pieces a metre of road is cut into for the brute-force overlap.
const CELLS_PER_M: f64 = 4.0;

/// Metres on which the two legs run against each other, counted cell by cell.
fn shared(
    garage: &Garage,
    number: u64,
    of: &SaidLoop,
    loaded: &Trace,
    empty: &Trace,
    found: &mut Verification,
) {
    let (network, table) = (garage.ground.network(), &garage.ground.roads.table);
    let driven = |trace: &Trace| {
        let mut by_arc: BTreeMap<Arc, Vec<(f64, f64)>> = BTreeMap::new();
        for (arc, from, to) in trace.stretches() {
            // Fractions counted in the way's direction, so that the two legs can be compared.
            let stretch = if arc.forward() { (from, to) } else { (1.0 - to, 1.0 - from) };
            by_arc.entry(arc).or_default().push(stretch);
        }
        by_arc
    };
    let (out, back) = (driven(loaded), driven(empty));
    let (mut shared_m, mut narrow_m, mut unknown_m) = (0.0, 0.0, 0.0);
    for (arc, stretches) in &out {
        let Some(against) = back.get(&arc.reversed()) else { continue };
        let length = network.length(*arc).0;
        let cells = (length * CELLS_PER_M).ceil().max(1.0);
        let inside = |list: &[(f64, f64)], x: f64| list.iter().any(|(from, to)| *from <= x && x <= *to);
        let both = (0..cells as u64)
            .map(|cell| (cell as f64 + 0.5) / cells)
            .filter(|x| inside(stretches, *x) && inside(against, *x))
            .count();
        let metres = both as f64 / cells * length;
        shared_m += metres;
        match table.room(&network.way(*arc).tags) {
            Room::Narrow => narrow_m += metres,
            Room::Unknown => unknown_m += metres,
            Room::Passes => {}
        }
    }
    let title = of.title();
    for (of_what, stated, metres) in [
        ("shared_two_way_m", of.said.shared_two_way_m, shared_m),
        ("narrow_two_way_m", of.said.narrow_two_way_m, narrow_m),
        ("unknown_width_two_way_m", of.said.unknown_width_two_way_m, unknown_m),
    ] {
        let within = 1.0 + metres / 1000.0;
        found.near("loop.shared", number, &format!("{title}, {of_what}"), stated, metres, within);
    }
}

/// Rounded ends shift each leg by some milliseconds at both ends.
const QUICKEST_WITHIN_MS: i64 = 12;

/// No loop between the two spots is quicker, whichever way the truck comes and goes; the one
/// called quickest is as quick.
fn quickest(garage: &Garage, of: &SaidLoop, pair: &Pair) -> Vec<(bool, String)> {
    let (said, title) = (&of.said, of.title());
    let mut judged = Vec::new();
    let (Some(fill), Some(dump)) = (pair.loaded.trace.start(), pair.loaded.trace.end()) else {
        return judged;
    };
    let turn = ms(garage.ground.roads.table.delay.site_turnaround);
    let stated =
        ms(said_travel_s(of)) + turn * (u64::from(pair.turns_at_dump) + u64::from(pair.turns_at_fill));
    for id in of.tankers() {
        let (Some(full), Some(empty)) = (garage.vehicle(id, Load::Full), garage.vehicle(id, Load::Empty))
        else {
            continue;
        };
        let mut best: Option<u64> = None;
        for fill_out in fill.arcs() {
            for dump_in in dump.arcs() {
                let Some(loaded) = full.quickest(fill, fill_out, dump, dump_in) else { continue };
                for dump_out in dump.arcs() {
                    for fill_in in fill.arcs() {
                        let Some(back) = empty.quickest(dump, dump_out, fill, fill_in) else { continue };
                        let turns = u64::from(dump_in != dump_out) + u64::from(fill_in != fill_out);
                        let all = loaded + back + turns * turn;
                        best = Some(best.map_or(all, |b| b.min(all)));
                    }
                }
            }
        }
        let Some(best) = best else {
            judged.push((false, format!("{title}: no loop found for {id}")));
            continue;
        };
        let over = stated as i64 - best as i64;
        let passed = match said.loop_kind.as_str() {
            "quickest" => over.abs() <= QUICKEST_WITHIN_MS,
            _ => over >= -QUICKEST_WITHIN_MS,
        };
        let kind = &said.loop_kind;
        judged.push((passed, format!("{title}: {kind} takes {stated} ms, the quickest for {id} {best} ms")));
    }
    judged
}

/// Both legs, from the legs where they are there, for they are not rounded to the tenth.
fn said_travel_s(of: &SaidLoop) -> f64 {
    let leg = |leg: &Option<(super::answer::Leg, Vec<crate::place::Place>)>, else_s: f64| {
        leg.as_ref().map_or(else_s, |(leg, _)| leg.travel_s)
    };
    leg(&of.loaded, of.said.loaded_travel_s) + leg(&of.empty, of.said.empty_travel_s)
}
