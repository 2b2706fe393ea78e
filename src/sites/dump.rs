//! Dump sites: places along the road from which the supply line reaches the attack pumper.

use crate::finding::Outcome;
use crate::place::Place;
use crate::roads::elevation::Elevation;
use crate::roads::network::{Arc, Network};
use crate::roads::tags::TurningPlace;
use crate::routing::path::stretch_points;
use crate::routing::snap::Spot;
use crate::routing::succession::leaving_arcs;
use crate::units::{Feet, GallonsPerMinute, Inches, Metres, Psi};
use crate::vehicle::Fleet;
use crate::water::BadInput;
use crate::water::hose::{HoseSize, Lay};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

/// Spacing of candidates along a road.
pub const SPACING: Metres = Metres(50.0);
/// Pressure that must arrive at the attack pumper's intake (common practice, no source: 20 psi,
/// as NFPA 291 keeps in a main).
pub const INTAKE_RESIDUAL: Psi = Psi(20.0);
/// Most equal lines laid side by side: more take longer to lay than a second engine to arrive
/// (common practice, no source).
const MOST_LINES: u32 = 2;

/// A place where the tanks could be set.
#[derive(Clone, Debug)]
pub struct DumpCandidate {
    pub spot: Spot,
    pub kind: DumpKind,
    /// Hose from the draft pumper to the attack pumper, along the road and up to the incident.
    pub lay: SupplyLine,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum DumpKind {
    /// Nearest point of the road to the incident.
    Frontage,
    /// Room to turn, as mapped: no tanker backs there.
    TurningPlace,
    /// A parking area or other open ground on the road.
    Yard,
    Junction,
    Along,
    /// Where the officer wants it.
    Pinned,
}

impl DumpKind {
    pub fn as_str(self) -> &'static str {
        match self {
            DumpKind::Frontage => "frontage",
            DumpKind::TurningPlace => "turning place",
            DumpKind::Yard => "yard",
            DumpKind::Junction => "junction",
            DumpKind::Along => "along the road",
            DumpKind::Pinned => "pinned",
        }
    }
}

/// A hose lay and what it carries.
#[derive(Clone, Debug, PartialEq)]
pub struct SupplyLine {
    pub length: Metres,
    pub diameter: Inches,
    pub lines: u32,
    /// From the dump site up to the incident, less than nothing where it runs down; none where no height is
    /// known, and then the line is taken as level.
    pub rise: Option<Feet>,
    pub flow: GallonsPerMinute,
    /// Along the road from the dump site, then straight to the incident.
    pub line: Vec<Place>,
}

/// The largest hose that the pumpers between dump site and fire carry.
#[derive(Clone, Debug, PartialEq)]
pub struct HoseBed {
    pub size: HoseSize,
    pub total: Feet,
    pub pump: Psi,
}

impl HoseBed {
    /// The diameter that carries most over its own reach; all of that diameter counts.
    pub fn of(fleet: &Fleet) -> Result<Option<HoseBed>, BadInput> {
        let mut totals: BTreeMap<u32, (HoseSize, Feet)> = BTreeMap::new();
        for stock in fleet.supply_pumpers().flat_map(|p| &p.hose) {
            let size = HoseSize::from_inches(stock.diameter.0)?;
            let entry = totals.entry((stock.diameter.0 * 100.0) as u32).or_insert((size, Feet::ZERO));
            entry.1 = entry.1 + stock.length;
        }
        // The pumper at the dump site feeds the line.
        let Some(pump) = fleet.draft_pumper().map(|p| p.pressure) else { return Ok(None) };
        Ok(totals.into_values().next_back().map(|(size, total)| HoseBed { size, total, pump }))
    }

    /// What a lay of this length that rises so much carries with as many equal lines as the bed holds.
    pub fn lay(&self, length: Metres, rise: Feet) -> Result<(u32, GallonsPerMinute), BadInput> {
        let feet = length.feet().max(Feet(1.0));
        let lines = ((self.total.0 / feet.0).floor() as u32).min(MOST_LINES);
        if lines == 0 {
            return Ok((0, GallonsPerMinute::ZERO));
        }
        let lay = Lay { diameter: self.size, length: feet, lines };
        Ok((lines, lay.flow(self.pump, INTAKE_RESIDUAL, rise)?))
    }
}

/// Candidates within the hose's reach of the incident, nearest first; of a pinned spot, that alone.
pub fn candidates(
    network: &Network,
    incident: Place,
    frontage: &Spot,
    pinned: Option<&Spot>,
    bed: &HoseBed,
    elevation: &Elevation,
    usable: &dyn Fn(usize) -> bool,
) -> Outcome<Vec<DumpCandidate>> {
    let driveway = frontage.distance;
    let reach = Metres(bed.total.metres().0 - driveway.0);
    let mut found: Vec<(f64, DumpKind, Spot, Vec<Place>)> = Vec::new();
    if reach.0 >= 0.0 {
        let walk = Walk { network, frontage, pinned, reach, usable };
        walk.out(&mut |metres, kind, spot, line| {
            if usable(spot.segment) {
                found.push((metres, kind, spot, line));
            }
        });
    }
    found.sort_by(|a, b| {
        (a.0, a.1, a.2.segment).partial_cmp(&(b.0, b.1, b.2.segment)).unwrap_or(std::cmp::Ordering::Equal)
    });
    found.dedup_by(|a, b| a.2.place == b.2.place);
    if pinned.is_some() {
        // Of several ways to lay the hose the shortest.
        found.truncate(1);
    }
    let mut candidates = Vec::new();
    for (metres, kind, spot, mut line) in found {
        let length = Metres(metres + driveway.0);
        let rise = elevation.rise(spot.place, incident).map(Metres::feet);
        let (lines, flow) = bed
            .lay(length, rise.unwrap_or(Feet::ZERO))
            .map_err(|e| e.finding(crate::finding::Where::default().named("supply line")))?;
        if lines == 0 {
            continue;
        }
        line.push(incident);
        line.dedup();
        if line.len() == 1 {
            line.push(incident);
        }
        let lay = SupplyLine { length, diameter: bed.size.diameter(), lines, rise, flow, line };
        candidates.push(DumpCandidate { spot, kind, lay });
    }
    Ok(candidates)
}

type Visit<'v> = &'v mut dyn FnMut(f64, DumpKind, Spot, Vec<Place>);

/// The roads out from the frontage, by length, whatever the traffic rules: hose has none.
struct Walk<'w> {
    network: &'w Network,
    frontage: &'w Spot,
    pinned: Option<&'w Spot>,
    reach: Metres,
    usable: &'w dyn Fn(usize) -> bool,
}

impl Walk<'_> {
    /// Calls `visit` with the metres from the frontage and the line back to it.
    fn out(&self, visit: Visit) {
        let (network, frontage) = (self.network, self.frontage);
        if self.pinned.is_none() {
            visit(0.0, DumpKind::Frontage, *frontage, vec![frontage.place]);
        }
        let (starts, leaving) = leaving_arcs(network);
        // (distance to the junction, junction), with the line from the junction back to the frontage.
        let mut heap = BinaryHeap::new();
        let mut lines = Lines::new();
        for stand in frontage.stands() {
            let length = network.length(stand.arc).0;
            self.along(stand.arc, stand.fraction, 0.0, &[frontage.place], visit);
            let ahead = length * (1.0 - stand.fraction);
            let line = stretch_points(network, stand.arc, stand.fraction, 1.0);
            offer(&mut heap, &mut lines, network.head(stand.arc), ahead, line.into_iter().rev().collect());
        }
        let mut done = std::collections::BTreeSet::new();
        while let Some(Reverse((_, junction))) = heap.pop() {
            let (metres, line) = lines.get(&junction).cloned().unwrap_or_default();
            if metres > self.reach.0 || !done.insert(junction) {
                continue;
            }
            let arcs = &leaving[starts[junction] as usize..starts[junction + 1] as usize];
            if self.pinned.is_none()
                && let Some((kind, spot)) = self.at_junction(junction, arcs)
            {
                visit(metres, kind, spot, line.clone());
            }
            for &arc in arcs {
                if arc.segment() == frontage.segment {
                    continue;
                }
                self.along(arc, 0.0, metres, &line, visit);
                let mut to_head: Vec<Place> = network.arc_points(arc).collect();
                to_head.reverse();
                to_head.extend(&line);
                offer(&mut heap, &mut lines, network.head(arc), metres + network.length(arc).0, to_head);
            }
        }
    }

    /// The tanks stand at the mouth of the best road a tanker can use; a closed side road does not
    /// shut the junction.
    fn at_junction(&self, junction: usize, arcs: &[Arc]) -> Option<(DumpKind, Spot)> {
        let network = self.network;
        let kind = match network.mark(junction).map_or(TurningPlace::None, |mark| mark.turning) {
            TurningPlace::Circle => DumpKind::TurningPlace,
            TurningPlace::Yard => DumpKind::Yard,
            _ if arcs.len() >= 3 => DumpKind::Junction,
            _ => return None,
        };
        let open = arcs.iter().filter(|arc| (self.usable)(arc.segment()));
        let first = open.min_by_key(|arc| (network.way(**arc).tags.class, arc.segment()))?;
        let fraction = if first.forward() { 0.0 } else { 1.0 };
        let place = network.junctions[junction].place;
        Some((kind, Spot { segment: first.segment(), fraction, place, distance: self.frontage.distance }))
    }

    /// Candidates along an arc from a fraction on: every `SPACING`, or the pinned spot.
    fn along(&self, arc: Arc, from: f64, before: f64, line: &[Place], visit: Visit) {
        let length = self.network.length(arc).0.max(1e-9);
        if let Some(pinned) = self.pinned {
            let fraction = if arc.forward() { pinned.fraction } else { 1.0 - pinned.fraction };
            // A place on the very spot may come out a hair behind it.
            if pinned.segment == arc.segment() && fraction >= from - 1e-9 {
                let metres = before + (fraction - from).max(0.0) * length;
                if metres <= self.reach.0 {
                    let (_, back) = self.back(arc, from, fraction.max(from), line);
                    visit(metres, DumpKind::Pinned, *pinned, back);
                }
            }
            return;
        }
        let mut step = 1;
        loop {
            let metres = SPACING.0 * f64::from(step);
            let fraction = from + metres / length;
            // Close to the end the junction itself is the candidate.
            if fraction * length > length - SPACING.0 / 4.0 || before + metres > self.reach.0 {
                return;
            }
            let (place, back) = self.back(arc, from, fraction, line);
            let along_segment = if arc.forward() { fraction } else { 1.0 - fraction };
            let spot =
                Spot { segment: arc.segment(), fraction: along_segment, place, distance: Metres::ZERO };
            visit(before + metres, DumpKind::Along, spot, back);
            step += 1;
        }
    }

    /// A place on an arc, and the line from it back to the frontage.
    fn back(&self, arc: Arc, from: f64, fraction: f64, line: &[Place]) -> (Place, Vec<Place>) {
        let mut back = stretch_points(self.network, arc, from, fraction);
        let place = back[back.len() - 1];
        back.reverse();
        back.extend(line);
        back.dedup();
        (place, back)
    }
}

type Queue = BinaryHeap<Reverse<(u64, usize)>>;
/// Metres to each junction, and the line back.
type Lines = BTreeMap<usize, (f64, Vec<Place>)>;

fn offer(heap: &mut Queue, lines: &mut Lines, junction: usize, metres: f64, line: Vec<Place>) {
    // Whole decimetres order the queue the same way on every machine; the length itself is not rounded, or
    // the roundings of many short roads would add up.
    let tenths = |metres: f64| (metres * 10.0).round() as u64;
    if lines.get(&junction).is_none_or(|(known, _)| tenths(metres) < tenths(*known)) {
        lines.insert(junction, (metres, line));
        heap.push(Reverse((tenths(metres), junction)));
    }
}
