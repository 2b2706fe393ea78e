//! Water on the move: what tankers give to the portable tanks and take from the sources.
//!
//! Gallons, seconds, gallons per second. Levels are settled whenever a flow changes.

use super::TimePoint;
use crate::units::{Gallons, GallonsPerMinute, Seconds};

/// A tanker connected: the most it would move, what it moves now, and what it has aboard.
struct Link {
    tanker: u32,
    cap: f64,
    rate: f64,
    aboard: f64,
}

/// The tankers connected at one place, in the order in which they came.
#[derive(Default)]
pub(super) struct Flows(Vec<Link>);

impl Flows {
    pub fn add(&mut self, tanker: usize, cap: f64, aboard: f64) {
        // No rate yet, so that the first one is news to its clock.
        self.0.push(Link { tanker: tanker as u32, cap, rate: f64::NAN, aboard });
    }

    /// What the tanker has aboard when it leaves.
    pub fn remove(&mut self, tanker: usize) -> f64 {
        let place = self.0.iter().position(|link| link.tanker as usize == tanker);
        place.map_or(0.0, |place| self.0.remove(place).aboard)
    }

    pub fn first(&self) -> Option<usize> {
        self.0.first().map(|link| link.tanker as usize)
    }

    /// In the tankers connected here.
    pub fn aboard(&self) -> f64 {
        self.0.iter().map(|link| link.aboard).sum()
    }

    fn wanted(&self) -> f64 {
        self.0.iter().map(|link| link.cap).sum()
    }

    /// Moves at no more than `level` each from now on. A tanker whose rate stays keeps its clock; for the
    /// others `left` tells from (tanker, aboard) what they still have to move.
    fn set(&mut self, level: f64, now_s: f64, left: impl Fn(usize, f64) -> f64, clock_s: &mut [f64]) {
        for link in &mut self.0 {
            let rate = link.cap.min(level);
            if rate != link.rate {
                link.rate = rate;
                let tanker = link.tanker as usize;
                let left = left(tanker, link.aboard).max(0.0);
                clock_s[tanker] = if rate > 0.0 { now_s + left / rate } else { f64::INFINITY };
            }
        }
    }

    /// The most that each may move so that together they move `flow`: shared equally, none getting more
    /// than its cap and what one cannot take going to the others (max-min fairness). Infinite where there
    /// is enough for all.
    fn fair_level(&self, flow: f64, wanted: f64) -> f64 {
        if wanted <= flow {
            return f64::INFINITY;
        }
        // Caps at or below the level are met in full; the level can only rise from round to round.
        let mut level = flow / self.0.len() as f64;
        loop {
            let (mut met, mut open) = (0.0, 0.0);
            for link in &self.0 {
                if link.cap <= level {
                    met += link.cap;
                } else {
                    open += 1.0;
                }
            }
            // Rounding aside the level of some cap is above it, since the caps want more than there is.
            let next = if open > 0.0 { (flow - met) / open } else { level };
            if next <= level {
                return level;
            }
            level = next;
        }
    }
}

/// The portable tanks as one: room, level, inflow from tankers, draw by the attack.
#[derive(Default)]
pub(super) struct Basin {
    pub flows: Flows,
    /// What the attack wants.
    pub draw: f64,
    pub level: f64,
    pub delivered: f64,
    pub drawn: f64,
    pub dry_at_s: Option<f64>,
    room: f64,
    at_s: f64,
    inflow: f64,
    /// What the attack gets.
    out: f64,
}

impl Basin {
    pub fn reset(&mut self, room: f64) {
        self.flows.0.clear();
        (self.draw, self.level, self.delivered, self.drawn) = (0.0, 0.0, 0.0, 0.0);
        (self.at_s, self.inflow, self.out, self.room) = (0.0, 0.0, 0.0, room);
        self.dry_at_s = None;
    }

    pub fn settle(&mut self, now_s: f64) {
        let passed_s = now_s - self.at_s;
        self.at_s = now_s;
        for link in &mut self.flows.0 {
            link.aboard -= link.rate * passed_s;
        }
        self.delivered += self.inflow * passed_s;
        self.drawn += self.out * passed_s;
        self.level = (self.level + (self.inflow - self.out) * passed_s).clamp(0.0, self.room);
    }

    /// The clock said the tanks are full or empty: make it exactly so.
    pub fn reach_edge(&mut self, now_s: f64) {
        self.settle(now_s);
        self.level = if self.inflow > self.out { self.room } else { 0.0 };
    }

    /// The clock said this tanker is empty: it hands over what rounding left in it and goes.
    pub fn let_go(&mut self, tanker: usize) {
        let rest = self.flows.remove(tanker);
        self.delivered += rest;
        self.level = (self.level + rest).clamp(0.0, self.room);
    }

    /// Sets the flows from now on and the clocks of those unloading; returns when the level next
    /// meets an edge. Full tanks let in what is drawn, in equal shares.
    pub fn refresh(&mut self, now_s: f64, clock_s: &mut [f64]) -> f64 {
        let wanted = self.flows.wanted();
        let held_up = self.level >= self.room && wanted > self.draw;
        self.inflow = if held_up { self.draw } else { wanted };
        let level = if held_up { self.flows.fair_level(self.draw, wanted) } else { f64::INFINITY };
        self.flows.set(level, now_s, |_, aboard| aboard, clock_s);
        self.out = self.draw;
        let mut edge_s = f64::INFINITY;
        if self.inflow > self.out {
            edge_s = now_s + (self.room - self.level) / (self.inflow - self.out);
        } else if self.inflow < self.out {
            if self.level > 0.0 {
                edge_s = now_s + self.level / (self.out - self.inflow);
            } else {
                self.dry_at_s.get_or_insert(now_s);
                self.out = self.inflow;
            }
        }
        edge_s
    }

    /// What was in the tanks when last settled carries the draw to the end by itself.
    pub fn lasts(&self, end_s: f64) -> bool {
        self.out > 0.0 && self.level > self.draw * (end_s - self.at_s)
    }

    pub fn point(&self, now_s: f64) -> TimePoint {
        TimePoint {
            time: Seconds(now_s),
            level: Gallons(self.level),
            inflow: GallonsPerMinute(self.inflow * 60.0),
            drawn: GallonsPerMinute(self.out * 60.0),
        }
    }
}

/// A fill site's water.
#[derive(Default)]
pub(super) struct Source {
    pub flows: Flows,
    pub given: f64,
    /// Gave out during the run.
    pub spent: bool,
    flow: f64,
    left: f64,
    at_s: f64,
    outflow: f64,
}

impl Source {
    pub fn reset(&mut self, flow: f64, volume: f64) {
        self.flows.0.clear();
        (self.given, self.spent, self.flow, self.left) = (0.0, false, flow, volume);
        (self.at_s, self.outflow) = (0.0, 0.0);
    }

    pub fn settle(&mut self, now_s: f64) {
        let passed_s = now_s - self.at_s;
        self.at_s = now_s;
        for link in &mut self.flows.0 {
            link.aboard += link.rate * passed_s;
        }
        self.given += self.outflow * passed_s;
        self.left = (self.left - self.outflow * passed_s).max(0.0);
    }

    /// The clock said this tanker is full: it gets what rounding left out and goes.
    pub fn let_go(&mut self, tanker: usize, load: f64) {
        self.given += load - self.flows.remove(tanker);
    }

    pub fn run_dry(&mut self) {
        (self.left, self.outflow, self.spent) = (0.0, 0.0, true);
    }

    /// Sets the flows from now on and the clocks of those filling; returns when the source gives out.
    pub fn refresh(&mut self, now_s: f64, load: impl Fn(usize) -> f64, clock_s: &mut [f64]) -> f64 {
        let wanted = self.flows.wanted();
        self.outflow = wanted.min(self.flow);
        let level = self.flows.fair_level(self.flow, wanted);
        self.flows.set(level, now_s, |tanker, aboard| load(tanker) - aboard, clock_s);
        if self.outflow > 0.0 { now_s + self.left / self.outflow } else { f64::INFINITY }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares() {
        let check = |flow: f64, caps: &[f64], expected: &[f64]| {
            let mut flows = Flows::default();
            caps.iter().enumerate().for_each(|(tanker, cap)| flows.add(tanker, *cap, 0.0));
            let level = flows.fair_level(flow, flows.wanted());
            flows.set(level, 0.0, |_, aboard| aboard, &mut vec![0.0; caps.len()]);
            for (link, want) in flows.0.iter().zip(expected) {
                assert!((link.rate - want).abs() < 1e-9, "{flow} among {caps:?}: {}", link.rate);
            }
        };
        check(1000.0, &[1000.0, 1000.0], &[500.0, 500.0]);
        check(1000.0, &[300.0, 1000.0], &[300.0, 700.0]);
        check(1000.0, &[300.0, 400.0], &[300.0, 400.0]);
        check(1000.0, &[100.0, 400.0, 600.0, 600.0], &[100.0, 300.0, 300.0, 300.0]);
        check(0.0, &[100.0, 400.0], &[0.0, 0.0]);
        check(500.0, &[], &[]);
    }

    /// Two fill at a source of 600 gpm, 300 gpm each; when the first leaves with 100 gal the other gets all.
    /// Its clock moves only then: 200 gal left at 600 gpm take 20 s.
    #[test]
    fn a_clock_moves_when_its_rate_does() {
        let mut source = Source::default();
        source.reset(10.0, f64::INFINITY);
        let mut clock_s = [f64::INFINITY; 2];
        let load = |tanker: usize| [100.0, 300.0][tanker];
        source.flows.add(0, 20.0, 0.0);
        source.flows.add(1, 20.0, 0.0);
        source.refresh(0.0, load, &mut clock_s);
        assert_eq!(clock_s, [20.0, 60.0]);
        source.settle(20.0);
        source.let_go(0, 100.0);
        source.refresh(20.0, load, &mut clock_s);
        assert_eq!((clock_s[1], source.given), (40.0, 200.0));
    }
}
