//! First drives of the fleet: from the stations to everywhere.

use super::pool::Pool;
use crate::plan::ground::Ground;
use crate::plan::reach::{FARTHEST_STATION_S, first_drive_ms};
use crate::roads::network::Arc;
use crate::routing::search::{Drive, Stand, Until};
use crate::routing::snap::Spot;
use crate::routing::topology::millis;
use rayon::prelude::*;

const NONE: u32 = u32::MAX;

/// Milliseconds from stations to the begin of every arc of the network.
pub struct StationTimes {
    /// By tanker, the list that is its own.
    list_of: Vec<Option<usize>>,
    lists: Vec<(Spot, Vec<u32>)>,
}

impl StationTimes {
    /// Tankers of one class and station share a search.
    pub fn search(ground: &Ground, pool: &Pool) -> StationTimes {
        let mut jobs: Vec<(usize, Spot)> = Vec::new();
        let list_of = ground
            .stations
            .iter()
            .enumerate()
            .map(|(tanker, spot)| {
                let spot = (*spot)?;
                let class = ground.class_of(tanker);
                let known = jobs.iter().position(|(c, at)| *c == class && at.place == spot.place);
                Some(known.unwrap_or_else(|| {
                    jobs.push((class, spot));
                    jobs.len() - 1
                }))
            })
            .collect();
        let lists = jobs
            .par_iter()
            .map_init(
                || pool.take(),
                |lent, (class, spot)| {
                    let search = &mut lent.search;
                    let graph = &ground.classes[*class].full;
                    let mut times = vec![NONE; graph.network.arc_count()];
                    for from in spot.stands() {
                        search.forward(graph, from, millis(FARTHEST_STATION_S), |_| 0, Until::Bound);
                        for (seat, ms) in search.reached() {
                            let arc = graph.topology.arc(graph.seats().state_in(seat));
                            times[arc.index()] = times[arc.index()].min(ms - graph.ms(arc));
                        }
                        let begin = Stand { arc: from.arc, fraction: 0.0 };
                        if let Some(ms) = Drive::along_ms(graph, from, begin) {
                            times[from.arc.index()] = ms;
                        }
                    }
                    (*spot, times)
                },
            )
            .collect();
        StationTimes { list_of, lists }
    }

    /// Milliseconds from a tanker's station to a spot, full.
    pub fn ms(&self, ground: &Ground, class: usize, tanker: usize, dump: [Stand; 2]) -> Option<u32> {
        let graph = &ground.classes[class].full;
        let (station, times) = &self.lists[self.list_of[tanker]?];
        let to_begin = |arc: Arc| Some(times[arc.index()]).filter(|ms| *ms != NONE);
        first_drive_ms(graph, station.stands(), dump, to_begin)
    }
}
