//! Candidates for new fill sites: where a road that tankers can fill on comes so near to open water that the pump of
//! a truck on it can draft. What the map shows is no more than water and road; all else is told as unknown.

use super::Zone;
use super::spacing::Spacing;
use crate::finding::{Code, Finding, Findings, OsmRef, Where};
use crate::place::Place;
use crate::plan::ground::Errand;
use crate::roads::tags::{Class, OpenWater, OpenWaterKind};
use crate::roads::waters::Waters;
use crate::sites::fill::FillSite;
use crate::sites::fill_water::{self, Waterside};
use crate::units::{Feet, Gallons, Metres};
use crate::water::credit::{CREDIT_HELD, CREDIT_LEAST};
use crate::water::draft::SUCTION_HOSE;
use rayon::prelude::*;
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use std::collections::HashMap;

/// From the middle of the road, where the map has it, to the suction side of a truck at its edge: the lane it stands
/// on (common practice, no source).
const HALF_ROAD: Feet = Feet(10.0);
/// No two candidates are closer along the road (a quarter of a mile; common practice, no source: a tanker is past
/// it within half a minute).
pub const SPACING: Metres = Metres(400.0);
/// Candidates judged; with more of them the spacing is doubled until no more are left.
pub const MOST: usize = 300;
/// Road is looked at in pieces no longer than this.
const PIECE: Metres = Metres(50.0);
/// Metres of 1e-7 degree of latitude (mean radius 6,371,008.8 m).
const METRES_PER_E7: f64 = 0.011_119_5;

/// From the middle of the road to the water: what suction hose reaches.
pub fn reach() -> Metres {
    (SUCTION_HOSE + HALF_ROAD).metres()
}

/// A bank, or the middle of a stream that is drawn as a line.
struct Bank {
    /// Index into the bodies of water.
    water: u32,
    from: Place,
    to: Place,
}

/// A body of water as the map has it.
struct Body<'w> {
    water: &'w OpenWater,
    osm: OsmRef,
    acres: Option<f64>,
    /// Its banks lie so far from the line drawn.
    half_width: Metres,
}

type Entry = GeomWithData<Rectangle<[i32; 2]>, u32>;

struct Banks<'w> {
    bodies: Vec<Body<'w>>,
    banks: Vec<Bank>,
    tree: RTree<Entry>,
    widest: Metres,
}

/// A place on the road beside water.
#[derive(Clone, Copy, Debug)]
struct Beside {
    water: u32,
    segment: usize,
    fraction: f64,
    place: Place,
    /// To the bank.
    off: Metres,
    bridge: bool,
}

/// Standing water below this is none: the alternative supply that ISO credits, 250 gpm for two hours.
fn least_volume() -> Gallons {
    Gallons(CREDIT_LEAST.0 * CREDIT_HELD.minutes())
}

/// Fill sites at the waters, unverified all of them; `findings` tell what was looked at and what was left out.
pub fn candidates(zone: &Zone, waters: &Waters, findings: &mut Findings) -> Vec<FillSite> {
    let file = || Where::file(zone.problem.roads.file.display());
    let (banks, too_little) = Banks::of(waters);
    let mut beside = beside(zone, &banks);
    let found = beside.len();
    let mut with_road = vec![false; banks.bodies.len()];
    beside.iter().for_each(|b| with_road[b.water as usize] = true);
    let with_road = with_road.into_iter().filter(|has| *has).count();
    // Large water before streams, firm ground before bridges, near before far.
    beside.sort_by_key(|b| {
        let kind = match banks.bodies[b.water as usize].water.kind {
            OpenWaterKind::Still | OpenWaterKind::River | OpenWaterKind::Canal => 0,
            OpenWaterKind::Stream => 1,
            OpenWaterKind::Sea => 2,
        };
        (kind, b.bridge, (b.off.0 * 1000.0).round() as u64, b.segment, (b.fraction * 1e6) as u32)
    });
    let network = &zone.ground.roads.network;
    let mut metres = SPACING;
    let kept = loop {
        let mut spacing = Spacing::new(network, metres);
        let apart: Vec<Beside> =
            beside.iter().copied().filter(|b| spacing.takes(b.segment, b.fraction)).collect();
        if apart.len() <= MOST {
            break apart;
        }
        metres = Metres(metres.0 * 2.0);
    };
    let mut out: Vec<String> =
        waters.left_out.iter().map(|(why, count)| format!("{count} {}", why.as_str())).collect();
    if too_little > 0 {
        out.push(format!(
            "{too_little} with less than {:.0} at {:.0} of depth",
            least_volume(),
            fill_water::ASSUMED_DEPTH
        ));
    }
    let out = if out.is_empty() { String::new() } else { format!("; not looked at: {}", out.join(", ")) };
    let cause = format!(
        "{with_road} of {} waters of the map lie beside road in {found} places ({:.0} or less from the middle of the road: {SUCTION_HOSE} of suction hose \
         and half a road); {} of them, {metres:.0} or more apart along the road, are candidates{out}",
        banks.bodies.len(),
        reach(),
        kept.len(),
    );
    let action = "list a place that is missing with its kind and lift, and name the list with --candidates";
    findings.add(Finding::new(Code::CandidatesFound, file(), cause, action));
    let mut numbers: HashMap<u32, usize> = HashMap::new();
    let site = |b: &Beside| {
        let number = numbers.entry(b.water).or_insert(0);
        *number += 1;
        site(zone, &banks.bodies[b.water as usize], b, *number)
    };
    kept.iter().map(site).collect()
}

fn site(zone: &Zone, body: &Body, beside: &Beside, number: usize) -> FillSite {
    let network = &zone.ground.roads.network;
    let way = &network.ways[network.segments[beside.segment].way as usize];
    let OpenWater { kind, name, salt, .. } = body.water;
    let word = format!("{} {}", kind.as_str(), body.osm);
    let name = if name.is_empty() { word } else { format!("{name} ({word})") };
    let name = if number > 1 { format!("{name}, place {number}") } else { name };
    let road = Some(network.name(way)).filter(|name| !name.is_empty()).unwrap_or("an unnamed road");
    let mut note = match (beside.bridge, beside.off.0 <= 0.0) {
        (true, _) => format!("from the bridge of {road} (way {})", way.id),
        (_, true) => format!("where {road} (way {}) goes over it", way.id),
        _ => format!("{:.0} from the middle of {road} (way {})", beside.off, way.id),
    };
    if *salt {
        note.push_str("; it may be salt or tidal: flush pump, tank and hose, and mind the tide");
    }
    let found =
        Waterside { water: body.water, osm: body.osm, acres: body.acres, place: beside.place, name, note };
    fill_water::from_waterside(found, &zone.problem.mapped_sites)
}

/// Said with every such site that is proposed.
pub fn ask(site: &FillSite) -> Finding {
    let cause = format!(
        "the map shows water beside the road and no more ({}): depth, yield in a drought, ice and snow, height and \
         firmness of the bank, and the owner's leave are not known",
        site.note
    );
    let action = "look at it, measure lift and depth at the lowest water, ask the owner, and list it before it is relied on";
    Finding::new(
        Code::AskBeforeRelying,
        site.origin.clone().named(site.name.clone()).at(site.place),
        cause,
        action,
    )
}

impl<'w> Banks<'w> {
    /// The banks of all waters but standing ones that hold too little, which are counted.
    fn of(waters: &'w Waters) -> (Banks<'w>, usize) {
        let mut banks =
            Banks { bodies: Vec::new(), banks: Vec::new(), tree: RTree::new(), widest: Metres::ZERO };
        let mut too_little = 0;
        for area in &waters.shapes.areas {
            let rings = std::iter::once(&area.outer).chain(&area.holes);
            let acres = acres(&area.outer) - area.holes.iter().map(|hole| acres(hole)).sum::<f64>();
            if area.kind.kind == OpenWaterKind::Still && fill_water::volume(acres) < least_volume() {
                too_little += 1;
                continue;
            }
            let acres = Some(acres).filter(|_| area.kind.kind == OpenWaterKind::Still);
            banks.add(&area.kind, area.osm, acres, Metres::ZERO, rings);
        }
        for line in &waters.shapes.lines {
            let half_width = Metres(line.kind.width.unwrap_or_default().0 / 2.0);
            banks.add(&line.kind, line.osm, None, half_width, std::iter::once(&line.line));
        }
        let entry = |(number, bank): (usize, &Bank)| {
            let at = |p: Place| [p.lon_e7(), p.lat_e7()];
            let around = AABB::from_corners(at(bank.from), at(bank.to));
            GeomWithData::new(Rectangle::from_aabb(around), number as u32)
        };
        banks.tree = RTree::bulk_load(banks.banks.iter().enumerate().map(entry).collect());
        (banks, too_little)
    }

    fn add<'l>(
        &mut self,
        water: &'w OpenWater,
        osm: OsmRef,
        acres: Option<f64>,
        half_width: Metres,
        lines: impl Iterator<Item = &'l Vec<Place>>,
    ) {
        let number = self.bodies.len() as u32;
        for line in lines {
            let bank = |pair: &[Place]| Bank { water: number, from: pair[0], to: pair[1] };
            self.banks.extend(line.windows(2).map(bank));
        }
        self.widest = self.widest.max(half_width);
        self.bodies.push(Body { water, osm, acres, half_width });
    }

    /// Banks whose box lies within so many metres of that of a piece of road, or a little farther.
    fn near(&self, from: Place, to: Place, metres: Metres) -> impl Iterator<Item = &Bank> {
        let squeeze = from.lat().to_radians().cos().max(0.01);
        let margin = metres.0 * 1.01 / METRES_PER_E7;
        let margin = [(margin / squeeze).ceil() as i32, margin.ceil() as i32];
        let corner = |of: fn(i32, i32) -> i32, way: i32| {
            let e7 = [of(from.lon_e7(), to.lon_e7()), of(from.lat_e7(), to.lat_e7())];
            [0, 1].map(|i| e7[i].saturating_add(way * margin[i]))
        };
        let around = AABB::from_corners(corner(i32::min, -1), corner(i32::max, 1));
        self.tree.locate_in_envelope_intersecting(around).map(|entry| &self.banks[entry.data as usize])
    }
}

/// Surface inside a ring.
fn acres(ring: &[Place]) -> f64 {
    let Some(origin) = ring.first() else { return 0.0 };
    let flat: Vec<(f64, f64)> = ring.iter().map(|place| place.offset_from(*origin)).collect();
    let twice: f64 = flat.windows(2).map(|pair| pair[0].0 * pair[1].1 - pair[1].0 * pair[0].1).sum();
    let feet = 1.0 / Feet(1.0).metres().0;
    twice.abs() / 2.0 * feet * feet / crate::units::SQUARE_FEET_PER_ACRE
}

/// Of each piece of road that a tanker can fill on, the place nearest to each water within reach.
fn beside(zone: &Zone, banks: &Banks) -> Vec<Beside> {
    let ground = &zone.ground;
    let network = &ground.roads.network;
    let usable = |segment: &usize| {
        let way = &network.ways[network.segments[*segment].way as usize];
        // Nobody fills on a motorway.
        way.tags.class != Class::Motorway
            && ground.snapper.is_proper(*segment)
            && ground.classes.iter().any(|class| class.can_use(*segment, Errand::Fill))
    };
    let segments: Vec<usize> = (0..network.segments.len()).filter(usable).collect();
    let of_segment = |segment: &usize| {
        let bridge = network.ways[network.segments[*segment].way as usize].tags.bridge;
        let length = f64::from(network.segments[*segment].length_m).max(1e-9);
        let (mut along, mut found) = (0.0, Vec::new());
        for pair in network.points(*segment).windows(2) {
            let metres = pair[0].distance(pair[1]).0;
            let pieces = (metres / PIECE.0).ceil().max(1.0) as u32;
            for piece in 0..pieces {
                let share = |i: u32| f64::from(i) / f64::from(pieces);
                let ends = [share(piece), share(piece + 1)].map(|share| pair[0].between(pair[1], share));
                for (water, t, off) in nearest(banks, ends) {
                    let fraction = (along + metres * (share(piece) + t / f64::from(pieces))) / length;
                    let place = ends[0].between(ends[1], t);
                    found.push(Beside {
                        water,
                        segment: *segment,
                        fraction: fraction.clamp(0.0, 1.0),
                        place,
                        off,
                        bridge,
                    });
                }
            }
            along += metres;
        }
        found
    };
    segments.par_iter().flat_map_iter(of_segment).collect()
}

/// Of the waters within reach of a straight piece of road: the fraction of it that is nearest, and how near.
fn nearest(banks: &Banks, ends: [Place; 2]) -> Vec<(u32, f64, Metres)> {
    let mut found: Vec<(u32, f64, Metres)> = Vec::new();
    let flat = |place: Place| place.offset_from(ends[0]);
    let road = (flat(ends[0]), flat(ends[1]));
    let within = Metres(reach().0 + banks.widest.0);
    for bank in banks.near(ends[0], ends[1], within) {
        let half_width = banks.bodies[bank.water as usize].half_width;
        let (t, metres) = approach(road, (flat(bank.from), flat(bank.to)));
        let off = Metres((metres - half_width.0).max(0.0));
        if off.0 > reach().0 {
            continue;
        }
        match found.iter_mut().find(|(water, ..)| *water == bank.water) {
            Some(known) if off.0 < known.2.0 => *known = (bank.water, t, off),
            Some(_) => {}
            None => found.push((bank.water, t, off)),
        }
    }
    // The tree has its own order.
    found.sort_by_key(|(water, ..)| *water);
    found
}

type Flat = (f64, f64);

/// Where a straight piece comes nearest to another, as a fraction of the first, and how near.
fn approach(a: (Flat, Flat), b: (Flat, Flat)) -> (f64, f64) {
    let minus = |p: Flat, q: Flat| (p.0 - q.0, p.1 - q.1);
    let cross = |p: Flat, q: Flat| p.0 * q.1 - p.1 * q.0;
    let (da, db, between) = (minus(a.1, a.0), minus(b.1, b.0), minus(b.0, a.0));
    let turn = cross(da, db);
    if turn != 0.0 {
        let (s, t) = (cross(between, db) / turn, cross(between, da) / turn);
        if (0.0..=1.0).contains(&s) && (0.0..=1.0).contains(&t) {
            return (s, 0.0);
        }
    }
    // They do not cross: one end of either is nearest.
    let foot = |p: Flat, line: (Flat, Flat)| {
        let (d, to) = (minus(line.1, line.0), minus(p, line.0));
        let length = d.0 * d.0 + d.1 * d.1;
        let t = if length > 0.0 { ((to.0 * d.0 + to.1 * d.1) / length).clamp(0.0, 1.0) } else { 0.0 };
        (t, (to.0 - t * d.0).hypot(to.1 - t * d.1))
    };
    let mut ends = [foot(b.0, a), foot(b.1, a), (0.0, foot(a.0, b).1), (1.0, foot(a.1, b).1)];
    ends.sort_by(|p, q| p.1.total_cmp(&q.1));
    ends[0]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A road of 10 m to the east. Crossed 4 m on; 3 m beside it from 2 m on; 6 m north and 8 m beyond its end;
    /// 5 m beside it all along, where any place is as near.
    #[test]
    fn how_near_two_pieces_come() {
        let road = ((0.0, 0.0), (10.0, 0.0));
        let near = |b: (Flat, Flat)| approach(road, b);
        assert_eq!(near(((4.0, -1.0), (4.0, 1.0))), (0.4, 0.0));
        assert_eq!(near(((2.0, 3.0), (0.0, 9.0))), (0.2, 3.0));
        assert_eq!(near(((18.0, 6.0), (18.0, 9.0))), (1.0, 10.0));
        assert_eq!(near(((-5.0, 5.0), (25.0, 5.0))).1, 5.0);
        // A piece of no length.
        assert_eq!(approach(((1.0, 1.0), (1.0, 1.0)), ((1.0, 2.0), (5.0, 2.0))), (0.0, 1.0));
    }

    /// 200 m by 100 m: 20,000 m², 4.942 acres of 4,046.856 m² (international acre).
    #[test]
    fn a_surface_in_acres() {
        let corner = Place::from_e7(100_000_000, 0);
        let e7 = |metres: f64| (metres / METRES_PER_E7).round() as i32;
        let at = |x: f64, y: f64| Place::from_e7(corner.lon_e7() + e7(x), corner.lat_e7() + e7(y));
        let ring = [at(0.0, 0.0), at(200.0, 0.0), at(200.0, 100.0), at(0.0, 100.0), at(0.0, 0.0)];
        assert!((acres(&ring) - 20_000.0 / 4_046.856).abs() < 1e-3);
        // 250 gpm for 120 min.
        assert_eq!(least_volume(), Gallons(30_000.0));
    }
}
