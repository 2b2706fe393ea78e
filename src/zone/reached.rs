//! One class and leg searched around one site after the other, and tables of what was reached.

use super::legs::NONE;
use super::nearest::Nearest;
use super::pool::Tools;
use super::slots::{FURTHER, Slots};
use super::times::{Ms, TOGETHER};
use crate::plan::ground::Class;
use crate::routing::search::{Drive, Stand, Until};
use crate::routing::snap::Spot;

/// By number of the table.
pub type Tables = Vec<(u32, Box<[Ms; TOGETHER]>)>;

pub struct Job<'j> {
    pub class: &'j Class<'j>,
    /// Full from the site; else empty to it.
    pub loaded: bool,
    pub block: &'j Slots,
    /// Tables of the block.
    pub tiles: usize,
    pub bound: u32,
    pub longest_step_ms: u32,
}

impl Job<'_> {
    /// Both sides of a site, which takes its place among the nearest.
    pub fn around(&self, lent: &mut Tools, fill: &Spot) -> Tables {
        lent.grid.begin(self.tiles);
        for (side, stand) in fill.stands().into_iter().enumerate() {
            if self.loaded {
                self.search_loaded(lent, side, stand);
            } else {
                self.search_empty(lent, side, stand);
            }
        }
        // Whoever is on the site's own road need not have been reached.
        let seats = self.class.full.seats();
        let here = self.block.of[seats.seat_of(fill.stands()[0].arc) as usize];
        lent.grid.put(here, 0, NONE);
        lent.grid.take()
    }

    /// From a fill stand to the end of each arc that begins within the bound.
    fn search_loaded(&self, lent: &mut Tools, side: usize, from: Stand) {
        let Tools { search, nearest, grid, beyond, .. } = lent;
        let graph = &self.class.full;
        if !graph.is_open(from.arc) {
            return;
        }
        let seats = graph.seats();
        let rest = graph.rest_ms(from.arc, from.fraction);
        let reach = self.bound.saturating_add(rest);
        let limit = |seat: u32| nearest.limit(seat).min(reach);
        search.forward_within(graph, from, reach, limit, |_| 0, Until::Bound);
        // An arc that begins within the bound may end beyond it.
        beyond.clear();
        let mut go_on = |state, ms: u32| {
            for edge in graph.onward(state) {
                let end = ms.saturating_add(edge.ms);
                if end > reach && end - graph.ms(edge.to) <= reach {
                    beyond.push((seats.seat_of(edge.to), end));
                }
            }
        };
        for (seat, ms) in search.reached() {
            grid.put(self.block.of[seat as usize], side, ms);
            nearest.add(seat, ms);
            if ms.saturating_add(self.longest_step_ms) > reach {
                go_on(seats.state_in(seat), ms);
            }
        }
        go_on(from.arc, rest);
        beyond.sort_unstable();
        beyond.dedup_by_key(|(seat, _)| *seat);
        for &(seat, ms) in &*beyond {
            grid.put(self.block.of[seat as usize], side, ms);
            nearest.add(seat, ms);
        }
        let begin = Stand { arc: from.arc, fraction: 0.0 };
        if let Some(ms) = Drive::along_ms(graph, from, begin) {
            grid.put(self.block.of[seats.seat_of(from.arc) as usize], side, ms + graph.ms(from.arc));
        }
    }

    /// From the end of each arc to a fill stand.
    fn search_empty(&self, lent: &mut Tools, side: usize, to: Stand) {
        let Tools { search, nearest, grid, .. } = lent;
        let graph = &self.class.empty;
        if !graph.is_open(to.arc) {
            return;
        }
        let limit = |seat: u32| nearest.limit(seat).min(self.bound);
        search.backward_within(graph, to, self.bound, limit, |_| 0, Until::Bound);
        for (seat, ms) in search.reached() {
            let slot = self.block.of[seat as usize];
            // Nothing is remembered where a drive begins.
            if slot & FURTHER == 0 {
                grid.put(slot, side, ms);
            }
            nearest.add(seat, ms);
        }
        let end = Stand { arc: to.arc, fraction: 1.0 };
        if let Some(ms) = Drive::along_ms(graph, end, to) {
            grid.put(self.block.of[graph.seats().seat_of(to.arc) as usize], side, ms);
        }
    }

    /// By slot, the least of the limits of an arc's states.
    pub fn limits(&self, nearest: &Nearest) -> Vec<u32> {
        let mut limits = vec![NONE; self.tiles * TOGETHER * 2];
        for seat in &self.block.seats {
            let slot = self.block.of[*seat as usize];
            // No empty drive begins in a state that remembers something.
            if self.loaded || slot & FURTHER == 0 {
                let limit = &mut limits[(slot & !FURTHER) as usize];
                *limit = nearest.limit(*seat).min(*limit);
            }
        }
        limits
    }
}

/// Tables of one site, class and leg as they are filled.
#[derive(Default)]
pub struct Grid {
    /// By `TOGETHER` rows: index of the table.
    place: Vec<u32>,
    tables: Tables,
}

impl Grid {
    fn begin(&mut self, tiles: usize) {
        self.place.resize(tiles, NONE);
    }

    /// Puts a time of a slot where there is none or a greater one.
    fn put(&mut self, slot: u32, side: usize, ms: u32) {
        if slot == NONE {
            return;
        }
        let row = (slot & !FURTHER) as usize / 2;
        let tile = row / TOGETHER;
        if self.place[tile] == NONE {
            self.place[tile] = self.tables.len() as u32;
            self.tables.push((tile as u32, Box::new([[NONE; 4]; TOGETHER])));
        }
        if let Some((_, rows)) = self.tables.get_mut(self.place[tile] as usize) {
            let known = &mut rows[row % TOGETHER][side * 2 + slot as usize % 2];
            *known = ms.min(*known);
        }
    }

    fn take(&mut self) -> Tables {
        let tables = std::mem::take(&mut self.tables);
        for (tile, _) in &tables {
            self.place[*tile as usize] = NONE;
        }
        tables
    }
}
