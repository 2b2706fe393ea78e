//! Roads made ready for any number of requests: where places snap to, and what the roads are to each body
//! that was asked for so far. Worked out once, whoever asks first, and shared from then on.

use crate::plan::around::Around;
use crate::routing::Roads;
use crate::routing::cuts;
use crate::routing::graph::{Openings, RoadGraph};
use crate::routing::snap::Connection;
use crate::routing::trip::Snapper;
use crate::shuttle::pair::Cores;
use crate::vehicle::{Body, Chassis, Load};
use rayon::prelude::*;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// What the roads are to one body, full and empty.
#[derive(Debug)]
pub struct ClassRoads<'r> {
    /// No other has it.
    pub(super) number: u64,
    pub full: RoadGraph<'r>,
    pub empty: RoadGraph<'r>,
    pub(super) full_ways: Arc<Connection>,
    pub(super) empty_ways: Arc<Connection>,
    only_links: OnceLock<Vec<bool>>,
    /// The roads of this class that lead anywhere.
    pub cores: Cores,
}

impl ClassRoads<'_> {
    /// By segment: the only link between two parts of this class's roads.
    pub fn only_links(&self) -> &[bool] {
        self.only_links.get_or_init(|| cuts::only_links(&self.full, &self.empty))
    }
}

/// Full and empty.
fn bodies(chassis: &Chassis) -> [Body; 2] {
    [Load::Full, Load::Empty].map(|load| chassis.body(load))
}

static NEXT: AtomicU64 = AtomicU64::new(0);

/// Worked out by whoever asks first.
type Once<T> = Arc<OnceLock<Arc<T>>>;

type Known<'r> = Vec<([Body; 2], Arc<ClassRoads<'r>>)>;

/// Bodies kept; a fleet has fewer, and more are worked out anew each time.
const MOST_BODIES: usize = 256;

pub struct Terrain<'r> {
    pub roads: &'r Roads,
    snapper: OnceLock<Arc<Snapper<'r>>>,
    known: Mutex<Known<'r>>,
    /// By what is open: vehicles differ less in that than in their times.
    connections: Mutex<Vec<(Openings, Once<Connection>)>>,
    pub(super) around: Option<Arc<Around>>,
}

impl<'r> Terrain<'r> {
    pub fn new(roads: &'r Roads) -> Terrain<'r> {
        Terrain {
            roads,
            snapper: OnceLock::new(),
            known: Mutex::default(),
            connections: Mutex::default(),
            around: None,
        }
    }

    /// For many requests with the same fill sites and stations: what is searched around these is kept.
    pub fn lasting(roads: &'r Roads) -> Terrain<'r> {
        let terrain = Terrain { around: Some(Arc::default()), ..Terrain::new(roads) };
        // Not for the first request to wait for.
        terrain.snapper();
        terrain
    }

    pub fn snapper(&self) -> &Arc<Snapper<'r>> {
        self.snapper.get_or_init(|| Arc::new(Snapper::new(self.roads)))
    }

    fn connection(&self, graph: &RoadGraph) -> Arc<Connection> {
        let openings = graph.openings();
        let mut connections = self.connections.lock().unwrap_or_else(PoisonError::into_inner);
        let place = match connections.iter().find(|(known, _)| *known == openings) {
            Some((_, place)) => place.clone(),
            None => {
                let place = Once::<Connection>::default();
                if connections.len() < MOST_BODIES {
                    connections.push((openings, Arc::clone(&place)));
                }
                place
            }
        };
        drop(connections);
        place.get_or_init(|| Arc::new(Connection::of(graph))).clone()
    }

    /// Works out the roads of some vehicles side by side.
    pub fn foresee<'c>(&self, vehicles: impl Iterator<Item = &'c Chassis>) {
        let mut different: Vec<(&Chassis, [Body; 2])> = Vec::new();
        for chassis in vehicles {
            let bodies = bodies(chassis);
            if different.iter().all(|(_, known)| *known != bodies) {
                different.push((chassis, bodies));
            }
        }
        // Most of the work is the time of each arc, and most arcs are level.
        let bare = |load: Load| self.roads.graph(Body { load, ..Body::weightless() });
        let bare = (different.len() > 1).then(|| rayon::join(|| bare(Load::Full), || bare(Load::Empty)));
        let bare = bare.as_ref().map(|(full, empty)| [full, empty]);
        different.par_iter().for_each(|(chassis, _)| drop(self.class_beside(chassis, bare)));
    }

    /// The roads of a vehicle. Vehicles that find the same roads open and drive them in the same time get the
    /// same ones.
    pub fn class(&self, chassis: &Chassis) -> Arc<ClassRoads<'r>> {
        self.class_beside(chassis, None)
    }

    /// Beside the graphs of another body, full and empty, if there are any.
    fn class_beside(&self, chassis: &Chassis, others: Option<[&RoadGraph; 2]>) -> Arc<ClassRoads<'r>> {
        let bodies = bodies(chassis);
        let find = |known: &Known<'r>| known.iter().find(|(b, _)| *b == bodies).map(|(_, c)| c.clone());
        // Whoever panicked while holding the lock was reading or pushing one whole entry.
        let lock = || self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(class) = find(&lock()) {
            return class;
        }
        let graph =
            |load: usize| self.roads.graph_beside(bodies[load].clone(), others.map(|others| others[load]));
        let (full, empty) = rayon::join(|| graph(0), || graph(1));
        let same = |c: &ClassRoads| c.full.same_costs(&full) && c.empty.same_costs(&empty);
        let twin = lock().iter().find(|(_, class)| same(class)).map(|(_, class)| class.clone());
        let class = twin.unwrap_or_else(|| {
            let (full_ways, empty_ways) = rayon::join(|| self.connection(&full), || self.connection(&empty));
            let number = NEXT.fetch_add(1, Ordering::Relaxed);
            let (only_links, cores) = (OnceLock::new(), Cores::default());
            Arc::new(ClassRoads { number, full, empty, full_ways, empty_ways, only_links, cores })
        });
        // Requests that begin at the same time may each work it out; the first found is shared from then on.
        let mut known = lock();
        if known.len() < MOST_BODIES {
            known.push((bodies, class.clone()));
        }
        class
    }
}
