//! What a run needs to know, in plain numbers, and the lines tankers wait in.
//!
//! Gallons, seconds, gallons per second.

use super::{Passage, Shuttle, Tanker};

/// The shuttle in plain numbers, made once for many runs.
pub(super) struct Layout {
    pub rows: Vec<Row>,
    pub fills: Vec<Site>,
    /// Ways through lanes, those of one leg one after the other.
    pub passages: Vec<Way>,
    pub lanes: usize,
    pub dump_berths: usize,
    pub room: f64,
    pub spread_is_fixed: bool,
}

pub(super) struct Row {
    pub load: f64,
    pub fill: usize,
    pub arrives_s: f64,
    pub empty: Leg,
    pub loaded: Leg,
    pub intake: f64,
    pub dump_rate: f64,
    pub fill_handling_s: f64,
    pub dump_handling_s: f64,
    /// Which tanker's luck this one has: stays with it when another is withdrawn.
    pub luck: u32,
}

/// Driving time to the end of the leg, or to the mouth of its first lane.
#[derive(Clone, Copy)]
pub(super) struct Leg {
    pub s: f64,
    /// Index of its first passage, `NO_LANE` if there is none.
    pub first: u32,
}

pub(super) const NO_LANE: u32 = u32::MAX;

/// One way through a lane.
pub(super) struct Way {
    pub lane: u32,
    pub forward: bool,
    pub take_s: f64,
    /// Through it and on to the next mouth, or to the end of the leg.
    pub on_s: f64,
    /// The leg ends after it.
    pub last: bool,
}

pub(super) struct Site {
    pub berths: usize,
    pub flow: f64,
    pub volume: f64,
}

impl Layout {
    pub fn new(shuttle: &Shuttle) -> Self {
        let contested: Vec<bool> = (0..shuttle.lanes.len()).map(|lane| is_contested(shuttle, lane)).collect();
        let mut passages = Vec::new();
        let mut leg = |travel_s: f64, all: &[Passage]| pieces(travel_s, all, &contested, &mut passages);
        let rows = shuttle.tankers.iter().enumerate().map(|(i, t)| Row {
            load: t.load.0,
            fill: t.fill,
            arrives_s: t.arrives.0,
            empty: leg(t.empty_travel.0, &t.empty_lanes),
            loaded: leg(t.loaded_travel.0, &t.loaded_lanes),
            intake: t.intake.0 / 60.0,
            dump_rate: t.dump_rate.0 / 60.0,
            fill_handling_s: t.fill_handling.0,
            dump_handling_s: t.dump_handling.0,
            luck: i as u32,
        });
        let rows = rows.collect();
        let fills = shuttle.fills.iter().map(|f| Site {
            berths: f.berths as usize,
            flow: f.flow.0 / 60.0,
            volume: f.volume.map_or(f64::INFINITY, |v| v.0),
        });
        Layout {
            rows,
            fills: fills.collect(),
            passages,
            lanes: shuttle.lanes.len(),
            dump_berths: shuttle.dump.berths as usize,
            room: shuttle.dump.tank_room.0,
            spread_is_fixed: shuttle.spread.is_fixed(),
        }
    }

    /// The same shuttle without some tankers; the others keep their luck.
    pub fn without(shuttle: &Shuttle, gone: &[usize]) -> Self {
        let mut layout = Layout::new(shuttle);
        layout.rows.retain(|row| !gone.contains(&(row.luck as usize)));
        layout
    }

    /// Every number of it; what is added to it is added here, or this does not compile.
    pub fn bits(&self, out: &mut Vec<u64>) {
        let Layout { rows, fills, passages, lanes, dump_berths, room, spread_is_fixed } = self;
        out.extend([rows.len(), fills.len(), passages.len(), *lanes, *dump_berths].map(|n| n as u64));
        out.extend([room.to_bits(), u64::from(*spread_is_fixed)]);
        for row in rows {
            let Row { load, fill, arrives_s, empty, loaded, intake, dump_rate, .. } = row;
            let Row { fill_handling_s, dump_handling_s, luck, .. } = row;
            let times =
                [load, arrives_s, &empty.s, &loaded.s, intake, dump_rate, fill_handling_s, dump_handling_s];
            out.extend(times.map(|n| n.to_bits()));
            out.extend([*fill as u64, u64::from(empty.first), u64::from(loaded.first), u64::from(*luck)]);
        }
        for Site { berths, flow, volume } in fills {
            out.extend([*berths as u64, flow.to_bits(), volume.to_bits()]);
        }
        for Way { lane, forward, take_s, on_s, last } in passages {
            let at = u64::from(*lane) << 2 | u64::from(*forward) << 1 | u64::from(*last);
            out.extend([at, take_s.to_bits(), on_s.to_bits()]);
        }
    }

    pub fn tankers(&self) -> usize {
        self.rows.len()
    }

    pub fn fills(&self) -> usize {
        self.fills.len()
    }
}

/// Whether two tankers can meet in a lane. Where they cannot it costs nothing, and no event.
pub(super) fn is_contested(shuttle: &Shuttle, lane: usize) -> bool {
    let goes = |tanker: &Tanker, forward: bool| {
        let mut legs = tanker.empty_lanes.iter().chain(&tanker.loaded_lanes);
        legs.any(|p| p.lane == lane && p.forward == forward)
    };
    let all = || shuttle.tankers.iter().enumerate();
    let oncoming = |i: usize| all().any(|(j, other)| j != i && goes(other, false));
    all().any(|(i, tanker)| goes(tanker, true) && oncoming(i))
}

/// Breaks a leg at the mouths of the contested lanes.
fn pieces(travel_s: f64, all: &[Passage], contested: &[bool], out: &mut Vec<Way>) -> Leg {
    let first = out.len();
    let mut to_first_s = travel_s;
    let mut ahead = all.iter().filter(|p| contested[p.lane]).peekable();
    if let Some(passage) = ahead.peek() {
        to_first_s = passage.after.0.max(0.0);
    }
    while let Some(passage) = ahead.next() {
        let next_s = ahead.peek().map_or(travel_s, |next| next.after.0);
        out.push(Way {
            lane: passage.lane as u32,
            forward: passage.forward,
            take_s: passage.take.0,
            // Not before it is through, whatever rounding says.
            on_s: (next_s - passage.after.0).max(passage.take.0),
            last: ahead.peek().is_none(),
        });
    }
    Leg { s: to_first_s, first: if out.len() > first { first as u32 } else { NO_LANE } }
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

    /// A tanker comes: whether it gets a berth; else it joins the line.
    pub fn come(&mut self, tanker: usize) -> bool {
        self.visits += 1;
        let free = self.taken < self.berths;
        if free {
            self.taken += 1;
        } else {
            self.line.push(tanker);
        }
        free
    }

    /// A berth is left: the tanker that gets it.
    pub fn leave(&mut self) -> Option<usize> {
        let next = self.line.pop();
        if next.is_none() {
            self.taken -= 1;
        }
        next
    }
}
