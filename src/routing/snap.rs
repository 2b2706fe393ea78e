//! Puts a place on the road: the nearest stretch that belongs to the road network proper and that
//! the vehicle can use. Never an island, never a pocket it cannot leave.

use crate::place::Place;
use crate::roads::network::{Arc, Network};
use crate::roads::tags::OneWay;
use crate::routing::graph::RoadGraph;
use crate::routing::search::Stand;
use crate::routing::topology::CLOSED;
use crate::units::Metres;
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, PointDistance, RTree};
use std::sync::OnceLock;

/// A place on a road.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    pub segment: usize,
    /// 0 at the segment's start, 1 at its end, by length.
    pub fraction: f64,
    pub place: Place,
    /// From the place asked for.
    pub distance: Metres,
}

impl Spot {
    /// The spot with a direction of travel.
    pub fn stand(&self, forward: bool) -> Stand {
        let [with, against] = self.stands();
        if forward { with } else { against }
    }
    /// Both directions of travel, open or not.
    pub fn stands(&self) -> [Stand; 2] {
        stands(self.segment, self.fraction)
    }
}

/// Both directions of travel at a fraction of a segment.
pub fn stands(segment: usize, fraction: f64) -> [Stand; 2] {
    let with = Stand { arc: Arc::new(segment, true), fraction };
    [with, with.turned()]
}

type Entry = GeomWithData<Rectangle<[f64; 2]>, u32>;

/// Finds segments near a place.
pub struct SnapIndex<'n> {
    network: &'n Network,
    boxes: OnceLock<Boxes>,
}

/// The segments' boxes on a plane.
struct Boxes {
    origin: Place,
    /// By how much the plane may stretch or shrink a distance: one and a little.
    stretch: f64,
    tree: RTree<Entry>,
}

/// Where a search for the nearest road may end up.
pub struct SnapRule<'a> {
    /// Belongs to the road network proper, whatever the vehicle.
    pub proper: &'a dyn Fn(usize) -> bool,
    /// The vehicle can come and go here.
    pub usable: &'a dyn Fn(usize) -> bool,
    /// A usable road is taken over a nearer unusable one if it is no more than this farther off.
    /// More than that would jump a stream or a railway; then the place keeps its own road and the
    /// reason why it cannot be used is told.
    pub tolerance: Metres,
    pub farthest: Metres,
}

impl Boxes {
    fn of(network: &Network) -> Boxes {
        // One plane for the whole extract: east-west distances are true at its middle latitude and
        // off by the change of the cosine away from it; the search looks that much farther.
        let origin = network.bounds.west_south.between(network.bounds.east_north, 0.5);
        let flat = |p: Place| {
            let (east, north) = p.offset_from(origin);
            [east, north]
        };
        let entries = (0..network.segments.len())
            .map(|s| {
                let (mut low, mut high) = ([f64::MAX; 2], [f64::MIN; 2]);
                for p in network.points(s) {
                    let at = flat(*p);
                    for axis in 0..2 {
                        low[axis] = low[axis].min(at[axis]);
                        high[axis] = high[axis].max(at[axis]);
                    }
                }
                GeomWithData::new(Rectangle::from_aabb(AABB::from_corners(low, high)), s as u32)
            })
            .collect();
        let cosine = |p: Place| p.lat().to_radians().cos().max(1e-3);
        let stretch = [network.bounds.west_south, network.bounds.east_north]
            .map(|edge| cosine(edge) / cosine(origin))
            .into_iter()
            .fold(1.001, |most: f64, ratio| most.max(ratio).max(1.0 / ratio));
        Boxes { origin, stretch, tree: RTree::bulk_load(entries) }
    }
}

impl<'n> SnapIndex<'n> {
    pub fn build(network: &'n Network) -> SnapIndex<'n> {
        SnapIndex { network, boxes: OnceLock::from(Boxes::of(network)) }
    }

    /// Gives the memory back; whoever asks after that waits for the boxes anew.
    pub fn forget(&mut self) {
        self.boxes.take();
    }

    pub fn network(&self) -> &'n Network {
        self.network
    }

    /// Segments in order of the distance of their boxes, nearest first, each with its spot.
    fn near(&self, place: Place, farthest: Metres) -> impl Iterator<Item = (f64, Spot)> + '_ {
        let Boxes { origin, stretch, tree } = self.boxes.get_or_init(|| Boxes::of(self.network));
        let (east, north) = place.offset_from(*origin);
        let reach = farthest.0 * stretch + 1.0;
        tree.nearest_neighbor_iter([east, north])
            .map(move |entry| (entry.distance_2(&[east, north]).sqrt(), entry.data as usize))
            .take_while(move |(box_distance, _)| *box_distance <= reach)
            .map(move |(box_distance, segment)| (box_distance / stretch, self.spot_on(segment, place)))
    }

    /// The nearest point of a segment.
    pub fn spot_on(&self, segment: usize, place: Place) -> Spot {
        let points = self.network.points(segment);
        let total = f64::from(self.network.segments[segment].length_m).max(1e-9);
        let mut best = Spot { segment, fraction: 0.0, place: points[0], distance: place.distance(points[0]) };
        let mut along = 0.0;
        for pair in points.windows(2) {
            let (ax, ay) = pair[0].offset_from(place);
            let (bx, by) = pair[1].offset_from(place);
            let (dx, dy) = (bx - ax, by - ay);
            let length_squared = dx * dx + dy * dy;
            let t = if length_squared > 0.0 {
                (-(ax * dx + ay * dy) / length_squared).clamp(0.0, 1.0)
            } else {
                0.0
            };
            let distance = (ax + t * dx).hypot(ay + t * dy);
            let length = pair[0].distance(pair[1]).0;
            if distance < best.distance.0 {
                best = Spot {
                    segment,
                    fraction: ((along + t * length) / total).clamp(0.0, 1.0),
                    place: pair[0].between(pair[1], t),
                    distance: Metres(distance),
                };
            }
            along += length;
        }
        best
    }

    /// Nearest first; of arms that meet at the place, one that can be driven both ways before a one-way,
    /// on which a truck would have to come round again to the junction it stands at.
    fn order(&self, spot: &Spot) -> (u64, bool, usize) {
        let way = &self.network.ways[self.network.segments[spot.segment].way as usize];
        let millimetres = (spot.distance.0 * 1000.0).round() as u64;
        (millimetres, way.tags.one_way != OneWay::No || way.tags.roundabout, spot.segment)
    }

    /// The spot on the road for a place, `None` if no proper road is within reach.
    pub fn snap(&self, place: Place, rule: &SnapRule) -> Option<Spot> {
        let mut own: Option<Spot> = None;
        let mut proper: Option<Spot> = None;
        for (at_least, spot) in self.near(place, rule.farthest) {
            if own.is_some_and(|s| s.distance.0 < at_least) {
                break;
            }
            if proper.is_some_and(|s| s.distance.0 + rule.tolerance.0 < at_least) {
                break;
            }
            if spot.distance.0 > rule.farthest.0 || !(rule.proper)(spot.segment) {
                continue;
            }
            let closer = |s: Option<Spot>| s.is_none_or(|s| self.order(&spot) < self.order(&s));
            if closer(proper) {
                proper = Some(spot);
            }
            if (rule.usable)(spot.segment) && closer(own) {
                own = Some(spot);
            }
        }
        match (own, proper) {
            (Some(own), Some(proper)) if own.distance.0 <= proper.distance.0 + rule.tolerance.0 => Some(own),
            (_, proper) => proper,
        }
    }

    /// Every segment within reach, with the distance to it.
    pub fn within(&self, place: Place, farthest: Metres) -> Vec<Spot> {
        self.near(place, farthest).map(|(_, spot)| spot).filter(|s| s.distance.0 <= farthest.0).collect()
    }
}

/// States tried before all roads are parted.
const SEEDS: usize = 7;

/// How a vehicle stands to the rest of the roads: the arcs it can come to, and the arcs it can get
/// away from. Not the same: before a posted bridge a full tanker may find no way on.
#[derive(Debug, PartialEq)]
pub struct Connection {
    come: Vec<bool>,
    go: Vec<bool>,
}

impl Connection {
    /// Seen from the largest strongly connected part of the road graph.
    pub fn of(graph: &RoadGraph) -> Connection {
        let states = graph.topology.state_count();
        let open = (0..states as u32).filter(|state| graph.is_open(Arc(*state))).count();
        // A part that holds more than half of all that is open is the largest: most often that of whatever
        // state is asked, and then the rest need not be parted.
        for nth in 1..=SEEDS {
            let seed = Arc((states * nth / (SEEDS + 1)) as u32);
            if states > 0 && graph.is_open(seed) {
                let connection = Connection::from(graph, &[seed]);
                let both = |(come, go): (&bool, &bool)| *come && *go;
                if connection.come.iter().zip(&connection.go).filter(|pair| both(*pair)).count() * 2 > open {
                    return connection.told(graph);
                }
            }
        }
        Connection::parted(graph)
    }

    /// The same, whatever part is the largest. petgraph's Kosaraju needs no recursion.
    pub fn parted(graph: &RoadGraph) -> Connection {
        let parts = petgraph::algo::kosaraju_scc(graph);
        let largest = parts.iter().max_by_key(|part| (part.len(), std::cmp::Reverse(part.iter().min())));
        Connection::from(graph, largest.map_or(&[][..], Vec::as_slice)).told(graph)
    }

    /// By state, seen from some.
    fn from(graph: &RoadGraph, seeds: &[Arc]) -> Connection {
        let topology = graph.topology;
        let states = topology.state_count();
        let before = topology.before();
        // All that lead into a state come by the junction at its tail.
        let led_from = |state: Arc| {
            let passed = graph.pass_ms(graph.network.tail(topology.arc(state))) != CLOSED;
            let all = if passed && graph.is_open(state) { before.of_state(state) } else { &[] };
            all.iter().copied().filter(|from| graph.is_open(*from))
        };
        Connection {
            come: spread(states, seeds, |state| graph.open_turns(state).map(|edge| edge.to)),
            go: spread(states, seeds, led_from),
        }
    }

    /// What holds of a state holds of its arc.
    fn told(mut self, graph: &RoadGraph) -> Connection {
        for (state, arc) in graph.topology.further() {
            self.come[arc.index()] |= self.come[state.index()];
            self.go[arc.index()] |= self.go[state.index()];
        }
        self
    }

    /// The vehicle can come here, in one direction or the other.
    pub fn comes(&self, segment: usize) -> bool {
        self.come[segment * 2] || self.come[segment * 2 + 1]
    }
    /// The vehicle can get away from here, once it faces the right way.
    pub fn goes(&self, segment: usize) -> bool {
        self.go[segment * 2] || self.go[segment * 2 + 1]
    }
    /// The vehicle can come and go, turning at the place if it must: such as on a lane that goes on as
    /// a closed track or ends at a bollard.
    pub fn both(&self, segment: usize) -> bool {
        self.comes(segment) && self.goes(segment)
    }
}

/// States reached from some by going on to the next again and again.
fn spread<I: Iterator<Item = Arc>>(states: usize, from: &[Arc], next: impl Fn(Arc) -> I) -> Vec<bool> {
    let mut reached = vec![false; states];
    for state in from {
        reached[state.index()] = true;
    }
    let mut open = from.to_vec();
    while let Some(state) = open.pop() {
        for to in next(state) {
            if !std::mem::replace(&mut reached[to.index()], true) {
                open.push(to);
            }
        }
    }
    reached
}
