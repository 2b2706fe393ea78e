//! The event loop: clocks, berths and queues.
//!
//! Between events every flow is constant, so levels are piecewise linear and every event time is
//! exact. All clocks stand in one small array and the next event is its minimum: for the few dozen
//! tankers of a shuttle this beats a heap. Nothing is allocated while a run goes on, and an engine
//! is reused from run to run. A passage of narrow road costs one event, waiting there none.
//!
//! Inside this file and `fluid`: gallons, seconds, gallons per second.

use super::chance::{Chances, Luck};
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

/// A tanker on its way round.
#[derive(Clone)]
struct Truck {
    phase: Phase,
    trip: u32,
    /// When it joined a line, or began to unload.
    since_s: f64,
    /// What unloading takes while the tanks have room; more is lost to full tanks.
    expected_s: f64,
    /// Gallons in the tank while it is connected nowhere.
    aboard: f64,
}

pub(super) struct Engine {
    /// One clock for each tanker, then the basin, then the draw, then each source.
    clock_s: Vec<f64>,
    trucks: Vec<Truck>,
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

const SET_OUT: Truck = Truck { phase: Phase::ToDump, trip: 0, since_s: 0.0, expected_s: 0.0, aboard: 0.0 };

impl Engine {
    pub fn new(layout: &Layout) -> Self {
        let n = layout.rows.len();
        Engine {
            clock_s: vec![f64::INFINITY; n + 2 + layout.fills.len()],
            trucks: vec![SET_OUT; n],
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

    /// Runs to the end of the draw, or with `stop_when_dry` until it is known whether the tanks run dry. True if
    /// they do not.
    pub fn run(
        &mut self,
        layout: &Layout,
        chances: &Chances,
        replication: u32,
        draw: &Draw,
        stop_when_dry: bool,
    ) -> bool {
        let luck = &chances.of(replication);
        self.reset(layout, luck, draw);
        let n = layout.rows.len();
        let end_s = draw.until.0;
        loop {
            let which = earliest(&self.clock_s);
            let now_s = self.clock_s[which];
            if now_s >= end_s {
                break;
            }
            if which < n {
                match self.trucks[which].phase {
                    Phase::ToDump => self.reach_dump(layout, luck, which, now_s),
                    Phase::AtDump => self.start_unloading(layout, luck, which, now_s),
                    Phase::Unloading => self.leave_dump(layout, luck, which, now_s),
                    Phase::ToFill => self.reach_fill(layout, luck, which, now_s),
                    Phase::AtFill => self.start_filling(layout, luck, which, now_s),
                    Phase::Filling => self.leave_fill(layout, luck, which, now_s),
                    Phase::ToLaneLoaded | Phase::ToLaneEmpty => self.pass_lane(layout, which, now_s),
                    Phase::Stopped => self.clock_s[which] = f64::INFINITY,
                }
            } else if which < n + 2 {
                if which == n + 1 {
                    self.clock_s[n + 1] = f64::INFINITY;
                    self.basin.settle(now_s);
                    self.basin.draw = draw.flow.0 / 60.0;
                } else {
                    self.basin.reach_edge(now_s);
                }
                self.refresh_basin(n, now_s);
            } else {
                self.run_out(layout, luck, which - n - 2, now_s);
            }
            if stop_when_dry && self.basin.dry_at_s.is_some() {
                return false;
            }
            if stop_when_dry && self.basin.lasts(end_s) {
                return true;
            }
        }
        self.basin.settle(end_s);
        for source in &mut self.sources {
            source.settle(end_s);
        }
        if let Some(timeline) = &mut self.timeline {
            timeline.push(self.basin.point(end_s));
        }
        self.basin.dry_at_s.is_none()
    }

    fn reset(&mut self, layout: &Layout, luck: &Luck, draw: &Draw) {
        let n = layout.rows.len();
        self.clock_s.fill(f64::INFINITY);
        self.clock_s[n + 1] = draw.from.0;
        for ((row, truck), clock_s) in layout.rows.iter().zip(&mut self.trucks).zip(&mut self.clock_s) {
            *clock_s = row.arrives_s * luck.of(row.luck, 0, |t| t.loaded);
            *truck = Truck { aboard: row.load, ..SET_OUT };
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
        self.clock_s[n] = self.basin.refresh(now_s, &mut self.clock_s);
        if let Some(timeline) = &mut self.timeline {
            timeline.push(self.basin.point(now_s));
        }
    }

    fn reach_dump(&mut self, layout: &Layout, luck: &Luck, tanker: usize, now_s: f64) {
        if self.timeline.is_some() {
            let load = Gallons(self.trucks[tanker].aboard);
            self.arrivals.push(Arrival { tanker, time: Seconds(now_s), load });
        }
        if self.dump.come(tanker) {
            self.go_to_dump_berth(layout, luck, tanker, now_s);
        } else {
            self.wait(tanker, now_s);
        }
    }

    fn go_to_dump_berth(&mut self, layout: &Layout, luck: &Luck, tanker: usize, now_s: f64) {
        let (row, truck) = (&layout.rows[tanker], &mut self.trucks[tanker]);
        truck.phase = Phase::AtDump;
        self.clock_s[tanker] =
            now_s + row.dump_handling_s * luck.of(row.luck, truck.trip, |t| t.dump_handling);
    }

    fn wait(&mut self, tanker: usize, now_s: f64) {
        self.trucks[tanker].since_s = now_s;
        self.clock_s[tanker] = f64::INFINITY;
    }

    fn start_unloading(&mut self, layout: &Layout, luck: &Luck, tanker: usize, now_s: f64) {
        let (row, truck) = (&layout.rows[tanker], &mut self.trucks[tanker]);
        let rate = row.dump_rate / luck.of(row.luck, truck.trip, |t| t.dump_service);
        truck.phase = Phase::Unloading;
        truck.since_s = now_s;
        truck.expected_s = truck.aboard / rate;
        let aboard = std::mem::take(&mut truck.aboard);
        self.basin.settle(now_s);
        self.basin.flows.add(tanker, rate, aboard);
        self.refresh_basin(layout.rows.len(), now_s);
    }

    fn leave_dump(&mut self, layout: &Layout, luck: &Luck, tanker: usize, now_s: f64) {
        self.basin.settle(now_s);
        self.basin.let_go(tanker);
        let (row, truck) = (&layout.rows[tanker], &self.trucks[tanker]);
        self.slowed_s += now_s - truck.since_s - truck.expected_s;
        self.unloadings += 1;
        let empty = luck.of(row.luck, truck.trip, |t| t.empty);
        self.set_out(tanker, now_s, row.empty, empty, [Phase::ToFill, Phase::ToLaneEmpty]);
        self.refresh_basin(layout.rows.len(), now_s);
        if let Some(next) = self.dump.leave() {
            self.dump.waited_s += now_s - self.trucks[next].since_s;
            self.go_to_dump_berth(layout, luck, next, now_s);
        }
    }

    fn reach_fill(&mut self, layout: &Layout, luck: &Luck, tanker: usize, now_s: f64) {
        let site = layout.rows[tanker].fill;
        if self.sources[site].spent {
            self.stop(tanker);
            return;
        }
        if self.fills[site].come(tanker) {
            self.go_to_fill_berth(layout, luck, tanker, now_s);
        } else {
            self.wait(tanker, now_s);
        }
    }

    fn go_to_fill_berth(&mut self, layout: &Layout, luck: &Luck, tanker: usize, now_s: f64) {
        let (row, truck) = (&layout.rows[tanker], &mut self.trucks[tanker]);
        truck.phase = Phase::AtFill;
        self.clock_s[tanker] =
            now_s + row.fill_handling_s * luck.of(row.luck, truck.trip, |t| t.fill_handling);
    }

    fn start_filling(&mut self, layout: &Layout, luck: &Luck, tanker: usize, now_s: f64) {
        let row = &layout.rows[tanker];
        let source = &mut self.sources[row.fill];
        if source.spent {
            self.stop(tanker);
            return;
        }
        let truck = &mut self.trucks[tanker];
        truck.phase = Phase::Filling;
        let rate = row.intake / luck.of(row.luck, truck.trip, |t| t.fill_service);
        source.settle(now_s);
        source.flows.add(tanker, rate, std::mem::take(&mut truck.aboard));
        self.refresh_source(layout, row.fill, now_s);
    }

    fn refresh_source(&mut self, layout: &Layout, site: usize, now_s: f64) {
        let load = |tanker: usize| layout.rows[tanker].load;
        self.clock_s[layout.rows.len() + 2 + site] =
            self.sources[site].refresh(now_s, load, &mut self.clock_s);
    }

    fn leave_fill(&mut self, layout: &Layout, luck: &Luck, tanker: usize, now_s: f64) {
        let row = &layout.rows[tanker];
        let source = &mut self.sources[row.fill];
        source.settle(now_s);
        source.let_go(tanker, row.load);
        self.depart_loaded(layout, luck, tanker, row.load, now_s);
        self.refresh_source(layout, row.fill, now_s);
        let queue = &mut self.fills[row.fill];
        if let Some(next) = queue.leave() {
            queue.waited_s += now_s - self.trucks[next].since_s;
            self.go_to_fill_berth(layout, luck, next, now_s);
        }
    }

    fn depart_loaded(&mut self, layout: &Layout, luck: &Luck, tanker: usize, load: f64, now_s: f64) {
        let (row, truck) = (&layout.rows[tanker], &mut self.trucks[tanker]);
        truck.aboard = load;
        truck.trip += 1;
        let loaded = luck.of(row.luck, truck.trip, |t| t.loaded);
        self.set_out(tanker, now_s, row.loaded, loaded, [Phase::ToDump, Phase::ToLaneLoaded]);
    }

    fn set_out(&mut self, tanker: usize, now_s: f64, leg: Leg, factor: f64, [to_end, to_lane]: [Phase; 2]) {
        self.trucks[tanker].phase = if leg.first == NO_LANE { to_end } else { to_lane };
        self.lanes.head_for(tanker, leg.first, factor);
        self.clock_s[tanker] = now_s + leg.s * factor;
    }

    fn pass_lane(&mut self, layout: &Layout, tanker: usize, now_s: f64) {
        let (until_s, last) = self.lanes.pass(layout, tanker, now_s);
        self.clock_s[tanker] = until_s;
        if last {
            let phase = &mut self.trucks[tanker].phase;
            *phase = if *phase == Phase::ToLaneLoaded { Phase::ToDump } else { Phase::ToFill };
        }
    }

    /// The source gives out: who has something aboard brings it, everyone else stops.
    fn run_out(&mut self, layout: &Layout, luck: &Luck, site: usize, now_s: f64) {
        self.clock_s[layout.rows.len() + 2 + site] = f64::INFINITY;
        self.sources[site].settle(now_s);
        self.sources[site].run_dry();
        while let Some(tanker) = self.sources[site].flows.first() {
            let aboard = self.sources[site].flows.remove(tanker);
            if aboard >= LEAST_WORTH_DRIVING_GAL {
                self.depart_loaded(layout, luck, tanker, aboard, now_s);
            } else {
                self.trucks[tanker].aboard = aboard;
                self.stop(tanker);
            }
        }
        while let Some(tanker) = self.fills[site].line.pop() {
            self.stop(tanker);
        }
    }

    fn stop(&mut self, tanker: usize) {
        self.trucks[tanker].phase = Phase::Stopped;
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

    pub(super) fn totals(&self) -> Totals {
        Totals {
            delivered: self.basin.delivered,
            drawn: self.basin.drawn,
            level: self.basin.level,
            aboard: self.trucks.iter().map(|truck| truck.aboard).sum::<f64>()
                + self.basin.flows.aboard()
                + self.sources.iter().map(|source| source.flows.aboard()).sum::<f64>(),
            filled: self.sources.iter().map(|s| s.given).sum(),
            dry_at_s: self.basin.dry_at_s,
            exhausted: self.exhausted(),
            unloadings: u64::from(self.unloadings),
        }
    }
}

/// Below this a tanker caught by a failing source does not drive.
const LEAST_WORTH_DRIVING_GAL: f64 = 1.0;
