//! Water on the move: what tankers give to the portable tanks and take from the sources.
//!
//! Gallons, seconds, gallons per second. Levels are settled whenever a flow changes.

use super::TimePoint;
use crate::units::{Gallons, GallonsPerMinute, Seconds};

/// Tankers connected at one place: the most each would move, and what it moves now.
#[derive(Default)]
pub(super) struct Flows {
    who: Vec<u32>,
    caps: Vec<f64>,
    rates: Vec<f64>,
}

impl Flows {
    fn clear(&mut self) {
        self.who.clear();
        self.caps.clear();
        self.rates.clear();
    }

    pub fn add(&mut self, tanker: usize, cap: f64) {
        self.who.push(tanker as u32);
        self.caps.push(cap);
        self.rates.push(0.0);
    }

    pub fn remove(&mut self, tanker: usize) {
        if let Some(place) = self.who.iter().position(|&w| w as usize == tanker) {
            self.who.remove(place);
            self.caps.remove(place);
            self.rates.remove(place);
        }
    }

    pub fn first(&self) -> Option<usize> {
        self.who.first().map(|&w| w as usize)
    }

    fn each(&self) -> impl Iterator<Item = (usize, f64)> {
        self.who.iter().map(|&w| w as usize).zip(self.rates.iter().copied())
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
        self.flows.clear();
        (self.draw, self.level, self.delivered, self.drawn) = (0.0, 0.0, 0.0, 0.0);
        (self.at_s, self.inflow, self.out, self.room) = (0.0, 0.0, 0.0, room);
        self.dry_at_s = None;
    }

    pub fn settle(&mut self, now_s: f64, aboard: &mut [f64]) {
        let passed_s = now_s - self.at_s;
        self.at_s = now_s;
        for (tanker, rate) in self.flows.each() {
            aboard[tanker] -= rate * passed_s;
        }
        self.delivered += self.inflow * passed_s;
        self.drawn += self.out * passed_s;
        self.level = (self.level + (self.inflow - self.out) * passed_s).clamp(0.0, self.room);
    }

    /// The clock said the tanks are full or empty: make it exactly so.
    pub fn reach_edge(&mut self, now_s: f64, aboard: &mut [f64]) {
        self.settle(now_s, aboard);
        self.level = if self.inflow > self.out { self.room } else { 0.0 };
    }

    /// The clock said this tanker is empty: hand over what rounding left in it.
    pub fn take_rest(&mut self, tanker: usize, aboard: &mut [f64]) {
        self.delivered += aboard[tanker];
        self.level = (self.level + aboard[tanker]).clamp(0.0, self.room);
        aboard[tanker] = 0.0;
    }

    /// Sets the flows from now on and the clocks of those unloading; returns when the level next
    /// meets an edge. Full tanks let in what is drawn, in equal shares.
    pub fn refresh(&mut self, now_s: f64, aboard: &[f64], clock_s: &mut [f64]) -> f64 {
        let wanted: f64 = self.flows.caps.iter().sum();
        if self.level >= self.room && wanted > self.draw {
            self.inflow = share(self.draw, &self.flows.caps, &mut self.flows.rates);
        } else {
            self.flows.rates.copy_from_slice(&self.flows.caps);
            self.inflow = wanted;
        }
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
        for (tanker, rate) in self.flows.each() {
            clock_s[tanker] = if rate > 0.0 { now_s + aboard[tanker].max(0.0) / rate } else { f64::INFINITY };
        }
        edge_s
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
        self.flows.clear();
        (self.given, self.spent, self.flow, self.left) = (0.0, false, flow, volume);
        (self.at_s, self.outflow) = (0.0, 0.0);
    }

    pub fn settle(&mut self, now_s: f64, aboard: &mut [f64]) {
        let passed_s = now_s - self.at_s;
        self.at_s = now_s;
        for (tanker, rate) in self.flows.each() {
            aboard[tanker] += rate * passed_s;
        }
        self.given += self.outflow * passed_s;
        self.left = (self.left - self.outflow * passed_s).max(0.0);
    }

    /// The clock said this tanker is full: make it exactly so.
    pub fn top_up(&mut self, tanker: usize, load: f64, aboard: &mut [f64]) {
        self.given += load - aboard[tanker];
        aboard[tanker] = load;
    }

    pub fn run_dry(&mut self) {
        (self.left, self.outflow, self.spent) = (0.0, 0.0, true);
    }

    /// Sets the flows from now on and the clocks of those filling; returns when the source gives out.
    pub fn refresh(
        &mut self,
        now_s: f64,
        aboard: &[f64],
        load: impl Fn(usize) -> f64,
        clock_s: &mut [f64],
    ) -> f64 {
        self.outflow = share(self.flow, &self.flows.caps, &mut self.flows.rates);
        for (tanker, rate) in self.flows.each() {
            clock_s[tanker] = now_s + (load(tanker) - aboard[tanker]).max(0.0) / rate;
        }
        if self.outflow > 0.0 { now_s + self.left / self.outflow } else { f64::INFINITY }
    }
}

/// Shares `flow` equally among `caps`, none getting more than its cap and what one cannot take going
/// to the others (max-min fairness). Writes the shares into `rates` and returns their sum, which is
/// exactly `flow` whenever the caps allow it.
pub(super) fn share(flow: f64, caps: &[f64], rates: &mut [f64]) -> f64 {
    let wanted: f64 = caps.iter().sum();
    if wanted <= flow {
        rates.copy_from_slice(caps);
        return wanted;
    }
    // Caps at or below the level are met in full; the level can only rise from round to round.
    let mut level = flow / caps.len() as f64;
    loop {
        let (mut met, mut open) = (0.0, 0.0);
        for &cap in caps {
            if cap <= level {
                met += cap;
            } else {
                open += 1.0;
            }
        }
        // Rounding aside the level of some cap is above it, since the caps want more than there is.
        let next = if open > 0.0 { (flow - met) / open } else { level };
        if next <= level {
            break;
        }
        level = next;
    }
    for (rate, &cap) in rates.iter_mut().zip(caps) {
        *rate = cap.min(level);
    }
    flow
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares() {
        let check = |flow: f64, caps: &[f64], expected: &[f64], total: f64| {
            let mut rates = vec![0.0; caps.len()];
            let sum = share(flow, caps, &mut rates);
            assert!((sum - total).abs() < 1e-9);
            for (got, want) in rates.iter().zip(expected) {
                assert!((got - want).abs() < 1e-9, "{flow} among {caps:?}: {rates:?}");
            }
        };
        check(1000.0, &[1000.0, 1000.0], &[500.0, 500.0], 1000.0);
        check(1000.0, &[300.0, 1000.0], &[300.0, 700.0], 1000.0);
        check(1000.0, &[300.0, 400.0], &[300.0, 400.0], 700.0);
        check(1000.0, &[100.0, 400.0, 600.0, 600.0], &[100.0, 300.0, 300.0, 300.0], 1000.0);
        check(0.0, &[100.0, 400.0], &[0.0, 0.0], 0.0);
        check(500.0, &[], &[], 0.0);
    }
}
