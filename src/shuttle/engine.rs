//! The event loop: clocks, berths and queues.
//!
//! Between events every flow is constant, so levels are piecewise linear and every event time is
//! exact. All clocks stand in one small array and the next event is its minimum: for the few dozen
//! tankers of a shuttle this beats a heap. Nothing is allocated while a run goes on, and an engine
//! is reused from run to run. A passage of narrow road costs one event, waiting there none.
//!
//! Inside this file and `fluid`: gallons, seconds, gallons per second.

use super::chance::Chances;
use super::clocks::earliest;
use super::fluid::{Basin, Source};
use super::lane::Lanes;
use super::layout::{Layout, Leg, NO_LANE, Queue};
pub(super) use super::tally::{Totals, Waits};
use super::{Arrival, Draw, LanePass, TimePoint};
use crate::units::{Gallons, Seconds};

#[derive(Clone, Copy, PartialEq)]
enum Phase {
    ToDump,
    /// Loaded, on the way to the mouth of a lane.
    ToLaneLoaded,
    AtDump,
    Unloading,
    ToFill,
    ToLaneEmpty,
    AtFill,
    Filling,
    /// Its source gave out.
    Stopped,
}

pub(super) struct Engine {
    /// One clock for each tanker, then the basin, then the draw, then each source.
    clock_s: Vec<f64>,
    phase: Vec<Phase>,
    trip: Vec<u32>,
    /// When it joined a line, or began to unload.
    since_s: Vec<f64>,
    /// What unloading takes while the tanks have room; more is lost to full tanks.
    expected_s: Vec<f64>,
    /// Gallons in the tank, settled when its flow changes.
    aboard: Vec<f64>,
    basin: Basin,
    sources: Vec<Source>,
    dump: Queue,
    fills: Vec<Queue>,
    lanes: Lanes,
    slowed_s: f64,
    unloadings: u32,
    timeline: Option<Vec<TimePoint>>,
    /// Kept with the timeline.
    arrivals: Vec<Arrival>,
}

impl Engine {
    pub fn new(layout: &Layout) -> Self {
        let n = layout.rows.len();
        Engine {
            clock_s: vec![f64::INFINITY; n + 2 + layout.fills.len()],
            phase: vec![Phase::ToDump; n],
            trip: vec![0; n],
            since_s: vec![0.0; n],
            expected_s: vec![0.0; n],
            aboard: vec![0.0; n],
            basin: Basin::default(),
            sources: layout.fills.iter().map(|_| Source::default()).collect(),
            dump: Queue::default(),
            fills: layout.fills.iter().map(|_| Queue::default()).collect(),
            lanes: Lanes::new(layout),
            slowed_s: 0.0,
            unloadings: 0,
            timeline: None,
            arrivals: Vec::new(),
        }
    }

    pub fn keep_timeline(&mut self) {
        self.timeline = Some(Vec::new());
        self.lanes.keep_trace();
    }

    pub fn take_timeline(&mut self) -> Vec<TimePoint> {
        self.timeline.take().unwrap_or_default()
    }

    pub fn take_arrivals(&mut self) -> Vec<Arrival> {
        std::mem::take(&mut self.arrivals)
    }

    pub fn take_passages(&mut self) -> Vec<LanePass> {
        self.lanes.take_trace()
    }

    /// Runs to the end of the draw, or with `stop_when_dry` until the tanks run dry. True if they never did.
    pub fn run(
        &mut self,
        layout: &Layout,
        chances: &Chances,
        replication: u32,
        draw: &Draw,
        stop_when_dry: bool,
    ) -> bool {
        self.reset(layout, chances, replication, draw);
        let n = layout.rows.len();
        let end_s = draw.until.0;
        loop {
            let which = earliest(&self.clock_s);
            let now_s = self.clock_s[which];
            if now_s >= end_s {
                break;
            }
            if which < n && matches!(self.phase[which], Phase::ToLaneLoaded | Phase::ToLaneEmpty) {
                self.pass_lane(layout, which, now_s);
            } else if which < n {
                let trip = chances.trip(replication, layout.rows[which].luck, self.trip[which]);
                match self.phase[which] {
                    Phase::ToDump => self.reach_dump(layout, which, now_s, trip.dump_handling),
                    Phase::AtDump => self.start_unloading(layout, which, now_s, trip.dump_service),
                    Phase::Unloading => {
                        self.leave_dump(layout, chances, replication, which, now_s, trip.empty)
                    }
                    Phase::ToFill => self.reach_fill(layout, which, now_s, trip.fill_handling),
                    Phase::AtFill => self.start_filling(layout, which, now_s, trip.fill_service),
                    Phase::Filling => self.leave_fill(layout, chances, replication, which, now_s),
                    Phase::Stopped | Phase::ToLaneLoaded | Phase::ToLaneEmpty => {
                        self.clock_s[which] = f64::INFINITY
                    }
                }
            } else if which < n + 2 {
                if which == n + 1 {
                    self.clock_s[n + 1] = f64::INFINITY;
                    self.basin.settle(now_s, &mut self.aboard);
                    self.basin.draw = draw.flow.0 / 60.0;
                } else {
                    self.basin.reach_edge(now_s, &mut self.aboard);
                }
                self.refresh_basin(n, now_s);
            } else {
                self.run_out(layout, chances, replication, which - n - 2, now_s);
            }
            if stop_when_dry && self.basin.dry_at_s.is_some() {
                return false;
            }
        }
        self.basin.settle(end_s, &mut self.aboard);
        for source in &mut self.sources {
            source.settle(end_s, &mut self.aboard);
        }
        if let Some(timeline) = &mut self.timeline {
            timeline.push(self.basin.point(end_s));
        }
        self.basin.dry_at_s.is_none()
    }

    fn reset(&mut self, layout: &Layout, chances: &Chances, replication: u32, draw: &Draw) {
        let n = layout.rows.len();
        self.clock_s.fill(f64::INFINITY);
        self.clock_s[n + 1] = draw.from.0;
        self.phase.fill(Phase::ToDump);
        self.trip.fill(0);
        for (i, row) in layout.rows.iter().enumerate() {
            self.clock_s[i] = row.arrives_s * chances.trip(replication, row.luck, 0).loaded;
            self.aboard[i] = row.load;
        }
        self.basin.reset(layout.room);
        self.dump.reset(layout.dump_berths, n);
        for ((queue, source), site) in self.fills.iter_mut().zip(&mut self.sources).zip(&layout.fills) {
            queue.reset(site.berths, n);
            source.reset(site.flow, site.volume);
        }
        self.lanes.reset();
        (self.slowed_s, self.unloadings) = (0.0, 0);
        self.arrivals.clear();
        if let Some(timeline) = &mut self.timeline {
            timeline.clear();
            timeline.push(self.basin.point(0.0));
        }
    }

    fn refresh_basin(&mut self, n: usize, now_s: f64) {
        self.clock_s[n] = self.basin.refresh(now_s, &self.aboard, &mut self.clock_s);
        if let Some(timeline) = &mut self.timeline {
            timeline.push(self.basin.point(now_s));
        }
    }

    fn reach_dump(&mut self, layout: &Layout, tanker: usize, now_s: f64, handling: f64) {
        self.dump.visits += 1;
        if self.timeline.is_some() {
            let load = Gallons(self.aboard[tanker]);
            self.arrivals.push(Arrival { tanker, time: Seconds(now_s), load });
        }
        if self.dump.taken < self.dump.berths {
            self.dump.taken += 1;
            self.phase[tanker] = Phase::AtDump;
            self.clock_s[tanker] = now_s + layout.rows[tanker].dump_handling_s * handling;
        } else {
            self.dump.line.push(tanker);
            self.since_s[tanker] = now_s;
            self.clock_s[tanker] = f64::INFINITY;
        }
    }

    fn start_unloading(&mut self, layout: &Layout, tanker: usize, now_s: f64, service: f64) {
        self.phase[tanker] = Phase::Unloading;
        self.since_s[tanker] = now_s;
        let rate = layout.rows[tanker].dump_rate / service;
        self.expected_s[tanker] = self.aboard[tanker] / rate;
        self.basin.settle(now_s, &mut self.aboard);
        self.basin.flows.add(tanker, rate);
        self.refresh_basin(layout.rows.len(), now_s);
    }

    fn leave_dump(
        &mut self,
        layout: &Layout,
        chances: &Chances,
        replication: u32,
        tanker: usize,
        now_s: f64,
        empty: f64,
    ) {
        self.basin.settle(now_s, &mut self.aboard);
        self.basin.take_rest(tanker, &mut self.aboard);
        self.basin.flows.remove(tanker);
        self.slowed_s += now_s - self.since_s[tanker] - self.expected_s[tanker];
        self.unloadings += 1;
        let leg = layout.rows[tanker].empty;
        self.set_out(tanker, now_s, leg, empty, [Phase::ToFill, Phase::ToLaneEmpty]);
        self.refresh_basin(layout.rows.len(), now_s);
        self.dump.taken -= 1;
        if let Some(next) = self.dump.line.pop() {
            self.dump.taken += 1;
            self.dump.waited_s += now_s - self.since_s[next];
            let row = &layout.rows[next];
            let handling = chances.trip(replication, row.luck, self.trip[next]).dump_handling;
            self.phase[next] = Phase::AtDump;
            self.clock_s[next] = now_s + row.dump_handling_s * handling;
        }
    }

    fn reach_fill(&mut self, layout: &Layout, tanker: usize, now_s: f64, handling: f64) {
        let row = &layout.rows[tanker];
        if self.sources[row.fill].spent {
            self.stop(tanker);
            return;
        }
        let queue = &mut self.fills[row.fill];
        queue.visits += 1;
        if queue.taken < queue.berths {
            queue.taken += 1;
            self.phase[tanker] = Phase::AtFill;
            self.clock_s[tanker] = now_s + row.fill_handling_s * handling;
        } else {
            queue.line.push(tanker);
            self.since_s[tanker] = now_s;
            self.clock_s[tanker] = f64::INFINITY;
        }
    }

    fn start_filling(&mut self, layout: &Layout, tanker: usize, now_s: f64, service: f64) {
        let row = &layout.rows[tanker];
        let source = &mut self.sources[row.fill];
        if source.spent {
            self.stop(tanker);
            return;
        }
        self.phase[tanker] = Phase::Filling;
        source.settle(now_s, &mut self.aboard);
        source.flows.add(tanker, row.intake / service);
        self.refresh_source(layout, row.fill, now_s);
    }

    fn refresh_source(&mut self, layout: &Layout, site: usize, now_s: f64) {
        let load = |tanker: usize| layout.rows[tanker].load;
        let empty_s = self.sources[site].refresh(now_s, &self.aboard, load, &mut self.clock_s);
        self.clock_s[layout.rows.len() + 2 + site] = empty_s;
    }

    fn leave_fill(
        &mut self,
        layout: &Layout,
        chances: &Chances,
        replication: u32,
        tanker: usize,
        now_s: f64,
    ) {
        let row = &layout.rows[tanker];
        let source = &mut self.sources[row.fill];
        source.settle(now_s, &mut self.aboard);
        source.top_up(tanker, row.load, &mut self.aboard);
        source.flows.remove(tanker);
        self.depart_full(layout, chances, replication, tanker, now_s);
        self.refresh_source(layout, row.fill, now_s);
        let queue = &mut self.fills[row.fill];
        queue.taken -= 1;
        if let Some(next) = queue.line.pop() {
            queue.taken += 1;
            queue.waited_s += now_s - self.since_s[next];
            let waiting = &layout.rows[next];
            let handling = chances.trip(replication, waiting.luck, self.trip[next]).fill_handling;
            self.phase[next] = Phase::AtFill;
            self.clock_s[next] = now_s + waiting.fill_handling_s * handling;
        }
    }

    fn depart_full(
        &mut self,
        layout: &Layout,
        chances: &Chances,
        replication: u32,
        tanker: usize,
        now_s: f64,
    ) {
        let row = &layout.rows[tanker];
        self.trip[tanker] += 1;
        let loaded = chances.trip(replication, row.luck, self.trip[tanker]).loaded;
        self.set_out(tanker, now_s, row.loaded, loaded, [Phase::ToDump, Phase::ToLaneLoaded]);
    }

    fn set_out(&mut self, tanker: usize, now_s: f64, leg: Leg, factor: f64, [to_end, to_lane]: [Phase; 2]) {
        self.phase[tanker] = if leg.first == NO_LANE { to_end } else { to_lane };
        self.lanes.head_for(tanker, leg.first, factor);
        self.clock_s[tanker] = now_s + leg.s * factor;
    }

    fn pass_lane(&mut self, layout: &Layout, tanker: usize, now_s: f64) {
        let (until_s, last) = self.lanes.pass(layout, tanker, now_s);
        self.clock_s[tanker] = until_s;
        if last {
            let loaded = self.phase[tanker] == Phase::ToLaneLoaded;
            self.phase[tanker] = if loaded { Phase::ToDump } else { Phase::ToFill };
        }
    }

    /// The source gives out: who has something aboard brings it, everyone else stops.
    fn run_out(&mut self, layout: &Layout, chances: &Chances, replication: u32, site: usize, now_s: f64) {
        self.clock_s[layout.rows.len() + 2 + site] = f64::INFINITY;
        self.sources[site].settle(now_s, &mut self.aboard);
        self.sources[site].run_dry();
        while let Some(tanker) = self.sources[site].flows.first() {
            self.sources[site].flows.remove(tanker);
            if self.aboard[tanker] >= LEAST_WORTH_DRIVING_GAL {
                self.depart_full(layout, chances, replication, tanker, now_s);
            } else {
                self.stop(tanker);
            }
        }
        while let Some(tanker) = self.fills[site].line.pop() {
            self.stop(tanker);
        }
    }

    fn stop(&mut self, tanker: usize) {
        self.phase[tanker] = Phase::Stopped;
        self.clock_s[tanker] = f64::INFINITY;
    }

    pub fn exhausted(&self) -> bool {
        self.sources.iter().any(|s| s.spent)
    }

    pub fn waits(&self) -> Waits {
        let mut berths: Vec<_> = self.fills.iter().map(|q| (q.waited_s, q.visits)).collect();
        berths.push((self.dump.waited_s, self.dump.visits));
        Waits {
            berths,
            full_tanks: (self.slowed_s.max(0.0), self.unloadings),
            lanes: self.lanes.waits().to_vec(),
        }
    }

    pub(super) fn totals(&self, layout: &Layout) -> Totals {
        Totals {
            delivered: self.basin.delivered,
            drawn: self.basin.drawn,
            level: self.basin.level,
            aboard: self.aboard.iter().take(layout.rows.len()).sum(),
            filled: self.sources.iter().map(|s| s.given).sum(),
            dry_at_s: self.basin.dry_at_s,
            exhausted: self.exhausted(),
            unloadings: u64::from(self.unloadings),
        }
    }
}

/// Below this a tanker caught by a failing source does not drive.
const LEAST_WORTH_DRIVING_GAL: f64 = 1.0;
