//! What a run needs to know, in plain numbers, and the lines tankers wait in.
//!
//! Gallons, seconds, gallons per second.

use super::Shuttle;

/// The shuttle in plain numbers, made once for many runs.
pub(super) struct Layout {
    pub rows: Vec<Row>,
    pub fills: Vec<Site>,
    pub dump_berths: usize,
    pub room: f64,
    pub spread_is_fixed: bool,
}

pub(super) struct Row {
    pub load: f64,
    pub fill: usize,
    pub arrives_s: f64,
    pub empty_s: f64,
    pub loaded_s: f64,
    pub intake: f64,
    pub dump_rate: f64,
    pub fill_handling_s: f64,
    pub dump_handling_s: f64,
    /// Which tanker's luck this one has: stays with it when another is withdrawn.
    pub luck: u32,
}

pub(super) struct Site {
    pub berths: usize,
    pub flow: f64,
    pub volume: f64,
}

impl Layout {
    pub fn new(shuttle: &Shuttle) -> Self {
        let rows = shuttle.tankers.iter().enumerate().map(|(i, t)| Row {
            load: t.load.0,
            fill: t.fill,
            arrives_s: t.arrives.0,
            empty_s: t.empty_travel.0,
            loaded_s: t.loaded_travel.0,
            intake: t.intake.0 / 60.0,
            dump_rate: t.dump_rate.0 / 60.0,
            fill_handling_s: t.fill_handling.0,
            dump_handling_s: t.dump_handling.0,
            luck: i as u32,
        });
        let fills = shuttle.fills.iter().map(|f| Site {
            berths: f.berths as usize,
            flow: f.flow.0 / 60.0,
            volume: f.volume.map_or(f64::INFINITY, |v| v.0),
        });
        Layout {
            rows: rows.collect(),
            fills: fills.collect(),
            dump_berths: shuttle.dump.berths as usize,
            room: shuttle.dump.tank_room.0,
            spread_is_fixed: shuttle.spread.is_fixed(),
        }
    }

    /// The same shuttle without one tanker; the others keep their luck.
    pub fn without(shuttle: &Shuttle, tanker: usize) -> Self {
        let mut layout = Layout::new(shuttle);
        if tanker < layout.rows.len() {
            layout.rows.remove(tanker);
        }
        layout
    }

    pub fn tankers(&self) -> usize {
        self.rows.len()
    }

    pub fn fills(&self) -> usize {
        self.fills.len()
    }
}

/// A first-in first-out line that never holds more than the fleet.
#[derive(Default)]
pub(super) struct Line {
    pub slots: Vec<u32>,
    pub head: usize,
    pub len: usize,
}

impl Line {
    pub fn reset(&mut self, room: usize) {
        self.slots.resize(room, 0);
        (self.head, self.len) = (0, 0);
    }
    pub fn push(&mut self, tanker: usize) {
        let size = self.slots.len();
        self.slots[(self.head + self.len) % size] = tanker as u32;
        self.len += 1;
    }
    pub fn pop(&mut self) -> Option<usize> {
        if self.len == 0 {
            return None;
        }
        let first = self.slots[self.head];
        self.head = (self.head + 1) % self.slots.len();
        self.len -= 1;
        Some(first as usize)
    }
}

#[derive(Default)]
pub(super) struct Queue {
    pub berths: usize,
    pub taken: usize,
    pub line: Line,
    pub waited_s: f64,
    pub visits: u32,
}

impl Queue {
    pub fn reset(&mut self, berths: usize, room: usize) {
        (self.berths, self.taken, self.waited_s, self.visits) = (berths, 0, 0.0, 0);
        self.line.reset(room);
    }
}
