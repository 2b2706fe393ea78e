//! Times swept on a hierarchy beside those of the search, one origin after the other: all states of real roads, from
//! and to random places, to the millisecond.

#[path = "support/extracts.rs"]
#[allow(dead_code)]
mod extracts;

use rand::seq::IndexedRandom;
use rand::{Rng, RngExt, SeedableRng};
use rand_pcg::Pcg64;
use tankerloop::roads::network::Arc;
use tankerloop::routing::Roads;
use tankerloop::routing::graph::RoadGraph;
use tankerloop::routing::hierarchy::costs::{LONGEST_MS, Way, costs};
use tankerloop::routing::hierarchy::sweep::{Climb, Climber, LANES, Sweeper, steps};
use tankerloop::routing::hierarchy::{Hierarchy, Lists, lists};
use tankerloop::routing::search::{Search, Stand, Until};
use tankerloop::units::{Kilograms, Metres};
use tankerloop::vehicle::{Body, Load};

const SEED: u64 = 1967;

fn body(load: Load, tonnes: f64) -> Body {
    Body {
        load,
        mass: Kilograms(tonnes * 1000.0),
        height: Metres(3.1),
        width: Metres(2.5),
        ..Body::weightless()
    }
}

/// The search's times of a stand, by state.
fn searched(search: &mut Search, graph: &RoadGraph, way: Way, stand: Stand) -> Vec<Option<u32>> {
    match way {
        Way::From => search.forward(graph, stand, LONGEST_MS as u32, |_| 0, Until::Bound),
        Way::To => search.backward(graph, stand, LONGEST_MS as u32, |_| 0, Until::Bound),
    }
    let states = (0..graph.topology.state_count() as u32).map(Arc);
    states.map(|state| search.label(state).filter(|ms| (*ms as f32) < LONGEST_MS)).collect()
}

fn somewhere(graph: &RoadGraph, random: &mut impl Rng) -> Stand {
    let arc = Arc(random.random_range(0..graph.network.arc_count() as u32));
    let fraction = *[0.0, 1.0, random.random_range(0.0..1.0)].choose(random).unwrap();
    Stand { arc, fraction }
}

#[test]
fn a_sweep_finds_what_the_search_finds() {
    for name in ["niue", "liechtenstein", "isle-of-man", "malta"] {
        let Some(roads) = extracts::roads(name) else { continue };
        let Some(hierarchy) = roads.topology.hierarchy() else {
            println!("{name}: no hierarchy");
            continue;
        };
        let mut random = Pcg64::seed_from_u64(SEED);
        let graphs = [
            (Load::Full, 19.0),
            (Load::Empty, 9.0),
            (Load::Full, 40.0),
            (Load::Empty, 3.0),
            (Load::Full, 13.0),
            (Load::Full, 26.0),
            (Load::Empty, 12.0),
            (Load::Full, 7.5),
            // One more than are worked out side by side.
            (Load::Empty, 3.5),
        ]
        .map(|(load, tonnes)| roads.graph(body(load, tonnes)));
        let ways: Vec<(&RoadGraph, Way)> =
            graphs.iter().map(|graph| (graph, *[Way::From, Way::To].choose(&mut random).unwrap())).collect();
        let all = costs(hierarchy, &ways);
        let (mut search, mut climber, mut sweeper) = (Search::new(), Climber::default(), Sweeper::default());
        let (mut compared, mut reached) = (0, 0);
        for ((graph, way), costs) in ways.iter().zip(&all) {
            let stands: Vec<Stand> = (0..LANES).map(|_| somewhere(graph, &mut random)).collect();
            let climbs: Vec<Climb> = steps(graph, *way, &stands)
                .iter()
                .map(|steps| climber.climb(hierarchy, costs, steps))
                .collect();
            let climbs: Vec<&Climb> = climbs.iter().collect();
            // Of all states, and then of a few and what is above them.
            let states = graph.topology.state_count() as u32;
            for wanted in
                [(0..states).collect::<Vec<u32>>(), (0..50).map(|_| random.random_range(0..states)).collect()]
            {
                let ranks = hierarchy.above(wanted.iter().map(|state| hierarchy.rank(Arc(*state))));
                sweeper.sweep(hierarchy, costs, &ranks, &climbs);
                for (lane, stand) in stands.iter().enumerate() {
                    let slow = searched(&mut search, graph, *way, *stand);
                    for state in &wanted {
                        let ms = sweeper.ms()[hierarchy.rank(Arc(*state)) as usize].0[lane];
                        let fast = (ms < LONGEST_MS).then_some(ms as u32);
                        assert_eq!(
                            fast, slow[*state as usize],
                            "{name}, {way:?} {stand:?}, state {state}, seed {SEED}"
                        );
                        compared += 1;
                        reached += usize::from(fast.is_some());
                    }
                }
            }
        }
        println!(
            "{name}: {compared} times alike, {reached} of them reached; {:.1} joins a state",
            hierarchy.joins() as f64 / hierarchy.len() as f64
        );
        assert!(reached * 2 > compared, "{name}: the test tests little");
    }
}

/// The roads of a saved network bring the lists along; whatever does not fit the turns is not used.
#[test]
fn lists_that_do_not_fit_are_refused() {
    let Some(roads) = extracts::roads("niue") else { return };
    let topology = &roads.topology;
    let whole = own_lists(roads);
    assert!(Hierarchy::of(topology, whole.clone()).is_some());
    assert!(Hierarchy::of(topology, Lists::default()).is_none());
    let mut random = Pcg64::seed_from_u64(SEED);
    let mut refused = 0;
    for _ in 0..300 {
        let mut damaged = whole.clone();
        let list = &mut damaged[random.random_range(0..3)];
        let at = random.random_range(0..list.len());
        match random.random_range(0..4) {
            0 => list[at] = random.random(),
            1 => list[at] = list[at].wrapping_add(1),
            2 => drop(list.remove(at)),
            _ => list.insert(at, 7),
        }
        let changed = damaged != whole;
        refused += usize::from(changed && Hierarchy::of(topology, damaged).is_none());
    }
    // A neighbour more than is needed does no harm, nor do two ranks that could as well be the other way round.
    println!("{refused} of 300 refused, seed {SEED}");
    assert!(refused > 270, "{refused}");
}

fn own_lists(roads: &Roads) -> Lists {
    let states = (0..roads.topology.state_count() as u32).map(Arc);
    let (mut start, mut to) = (vec![0], Vec::new());
    for state in states {
        to.extend(roads.topology.after(state).map(|turn| turn.to));
        start.push(to.len() as u32);
    }
    lists(&start, &to)
}

/// A lattice of streets has too many joins; a comb of lanes has few.
#[test]
fn a_lattice_has_no_hierarchy() {
    let side = 80;
    let at = |x: usize, y: usize| Arc((y * side + x) as u32);
    let of = |joined: &dyn Fn(usize, usize) -> Vec<Arc>| {
        let (mut start, mut to) = (vec![0], Vec::new());
        for y in 0..side {
            for x in 0..side {
                to.extend(joined(x, y));
                start.push(to.len() as u32);
            }
        }
        lists(&start, &to)
    };
    let right = |x: usize, y: usize| (x + 1 < side).then(|| at(x + 1, y));
    let up = |x: usize, y: usize| (y + 1 < side).then(|| at(x, y + 1));
    let lattice = of(&|x, y| right(x, y).into_iter().chain(up(x, y)).collect());
    assert_eq!(lattice, Lists::default());
    let [rank, _, upper] =
        of(&|x, y| if y == 0 { right(x, y) } else { None }.into_iter().chain(up(x, y)).collect());
    assert_eq!(rank.len(), side * side);
    // A tree is taken down leaf by leaf: one join each but the last.
    assert_eq!(upper.len(), side * side - 1);
}
