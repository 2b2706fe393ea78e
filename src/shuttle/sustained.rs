//! The answer: the greatest constant draw that holds for the operational period.
//!
//! Rules, so that a number means one thing:
//! - The start of sustained supply does not depend on the draw. It is the moment the last tanker has
//!   unloaded its first load, tankers being served at the dump berths in order of arrival, the tanks
//!   having room for everything and no second load being in the way. In each replication it is that
//!   replication's own moment; reported is the one with every time its mean.
//! - Nothing is drawn before. The tanks fill, and when they are full tankers wait.
//! - A draw holds in a replication when the tanks never run dry from the start to the end of the
//!   period. It is sustained when it holds in at least the share of replications asked for, all under
//!   the same random numbers at every draw.
//! - The answer never passes the closed-form ceiling: what the tanks and tankers hold at the start
//!   could carry a higher draw for a while, and a stock is not a flow. (A finite source is different:
//!   it is a stock, and the ceiling spreads it and the first loads over the period.)
//! - Resolution 1 gpm, rounded down; the ceiling itself is tried as it is. The answer was simulated and
//!   holds; one gpm more was simulated and does not. Full tanks hold tankers up, so that now and then a
//!   yet higher draw holds again by chance: it is not looked for.

use super::chance::Chances;
use super::cycle::ceiling_unchecked;
use super::engine::{Engine, Waits};
use super::first_loads::first_loads_s;
use super::known::{self, Figure, Key};
use super::layout::Layout;
use super::search::Search;
use super::simulate::run;
use super::validate::{check, check_draw, check_terms};
use super::{Arrival, Draw, Shuttle, ShuttleError, Spread, TimePoint};
use crate::units::{GallonsPerMinute, Seconds};
use rayon::prelude::*;
use serde::Serialize;
use std::sync::{Arc, OnceLock};

/// What is asked of a shuttle.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Terms {
    /// For the time from which it is held; zero asks for the sustained flow's own.
    pub need: GallonsPerMinute,
    /// How long the draw must hold.
    pub period: Seconds,
    /// Share of replications in which it must hold.
    pub reliability: f64,
    pub replications: u32,
    pub seed: u64,
}

impl Default for Terms {
    fn default() -> Self {
        Terms {
            need: GallonsPerMinute::ZERO,
            period: Seconds(7_200.0),
            reliability: 0.9,
            replications: 400,
            seed: 1,
        }
    }
}

/// Mean time lost per visit, by place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Waiting {
    /// For a berth, by fill site.
    pub fills: Vec<Seconds>,
    /// For a berth at the dump site.
    pub dump: Seconds,
    /// At the berth, because the tanks were full.
    pub full_tanks: Seconds,
    /// At the mouths of narrow road, by lane.
    pub lanes: Vec<LaneWaiting>,
}

/// Waiting for oncoming tankers on one lane. Zero where no two tankers can meet in it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct LaneWaiting {
    /// Mean over all passages, those that did not wait with them.
    pub mean: Seconds,
    /// Share of the passages that waited.
    pub share: f64,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sustained {
    pub flow: GallonsPerMinute,
    /// Start of sustained supply, from dispatch.
    pub start: Seconds,
    /// When the first tanker begins to unload, every time being its mean.
    pub first_water: Seconds,
    /// Earliest start, to 15 s, from which the lesser of need and flow can be drawn for the period; by the
    /// first 64 replications.
    pub held_from: Seconds,
    pub replications: u32,
    pub seed: u64,
    /// A source gave out in at least one of the replications looked at for waiting.
    pub exhausted: bool,
    /// Mean over the first replications at the sustained draw.
    pub waiting: Waiting,
    /// One run with every time its mean, at the sustained draw.
    pub timeline: Vec<TimePoint>,
    /// Of the same run.
    pub arrivals: Vec<Arrival>,
}

impl Sustained {
    /// The flow that `held_from` is told for.
    pub(super) fn wanted_gpm(&self, terms: &Terms) -> f64 {
        if terms.need.0 > 0.0 { terms.need.0.min(self.flow.0) } else { self.flow.0 }
    }
}

/// Steps of the search for the earliest start.
const START_STEP_S: f64 = 15.0;
/// Waiting times are means over this many replications, and moments are found by them: either needs less
/// than the flow's tail does.
const LOOKED_AT: u32 = 64;

/// One shuttle made ready for the search.
pub(super) struct Case {
    layout: Layout,
    spread: Spread,
    start_s: f64,
    first_water_s: f64,
    pub cap_gpm: f64,
}

impl Case {
    pub fn new(shuttle: &Shuttle, terms: &Terms) -> Self {
        let (first_water_s, start_s) = start_of_supply_s(shuttle);
        let cap_gpm = ceiling_unchecked(shuttle, terms.period).flow.0;
        Case { layout: Layout::new(shuttle), spread: shuttle.spread, start_s, first_water_s, cap_gpm }
    }

    /// The same shuttle without some tankers; the others keep their luck.
    pub fn without(shuttle: &Shuttle, terms: &Terms, gone: &[usize]) -> Self {
        let mut rest = shuttle.clone();
        let mut number = 0..;
        rest.tankers.retain(|_| number.next().is_none_or(|i| !gone.contains(&i)));
        Case { layout: Layout::without(shuttle, gone), ..Case::new(&rest, terms) }
    }

    pub fn layout(&self) -> &Layout {
        &self.layout
    }

    fn key(&self, terms: &Terms, figure: Figure) -> Key {
        let own = [self.start_s, self.first_water_s, self.cap_gpm];
        Key::new(&self.layout, own, &self.spread, terms, figure)
    }

    /// Sustained flow, if it is at least `floor_gpm`; a high floor ends the search early.
    pub fn flow_gpm(&self, terms: &Terms, chances: &Chances, floor_gpm: f64) -> Option<f64> {
        if floor_gpm > self.cap_gpm || floor_gpm > 0.0 && !self.holds(terms, chances, floor_gpm) {
            return None;
        }
        let flow_gpm = known::figure(self.key(terms, Figure::Flow), || {
            let top = self.cap_gpm.ceil() as u32;
            let draw_gpm = |level: u32| f64::from(level).min(self.cap_gpm);
            let mut search = self.search(terms, chances, top, |level| (0.0, draw_gpm(level)));
            let level = search.greatest(top);
            draw_gpm(search.confirmed(level, top))
        });
        Some(flow_gpm).filter(|&flow_gpm| flow_gpm >= floor_gpm)
    }

    /// Is this draw sustained? Never above the ceiling.
    pub fn holds(&self, terms: &Terms, chances: &Chances, flow_gpm: f64) -> bool {
        let found = || f64::from(self.search(terms, chances, 1, |_| (0.0, flow_gpm)).holds_at(1));
        flow_gpm <= self.cap_gpm && known::figure(self.key(terms, Figure::Holds(flow_gpm)), found) > 0.0
    }

    /// A search over levels that each mean a draw and by how many seconds it starts early.
    fn search<'a>(
        &'a self,
        terms: &'a Terms,
        chances: &'a Chances,
        top: u32,
        meaning: impl Fn(u32) -> (f64, f64) + Sync + 'a,
    ) -> Search<impl Fn(u32, u32) -> bool + Sync + 'a> {
        let engines = Engines::new(&self.layout);
        let replications = self.replications(terms);
        // Most searches with a floor end after a few replications.
        let starts_s: Vec<OnceLock<f64>> = vec![OnceLock::new(); replications as usize];
        Search::new(replications, 1.0 - terms.reliability, top, move |replication, level| {
            let (early_s, flow_gpm) = meaning(level);
            let start_s = starts_s[replication as usize]
                .get_or_init(|| first_loads_s(&self.layout, chances, replication).1);
            let draw = draw_from(start_s - early_s, flow_gpm, terms);
            engines.with(|engine| engine.run(&self.layout, chances, replication, &draw, true))
        })
    }

    pub fn held_from_s(&self, terms: &Terms, chances: &Chances, flow_gpm: f64) -> f64 {
        let terms = &Terms { replications: terms.replications.min(LOOKED_AT), ..*terms };
        let top = ((self.start_s - self.first_water_s) / START_STEP_S).floor().clamp(0.0, 1e6) as u32;
        let early_s = |level: u32| f64::from(level) * START_STEP_S;
        known::figure(self.key(terms, Figure::HeldFrom(flow_gpm)), || {
            let mut search = self.search(terms, chances, top, |level| (early_s(level), flow_gpm));
            let level = search.greatest(top);
            self.start_s - early_s(search.confirmed(level, top))
        })
    }

    pub fn draw(
        &self,
        chances: &Chances,
        replication: u32,
        early_s: f64,
        flow_gpm: f64,
        terms: &Terms,
    ) -> Draw {
        let (_, start_s) = first_loads_s(&self.layout, chances, replication);
        draw_from(start_s - early_s, flow_gpm, terms)
    }

    /// With every time fixed one run is as good as all.
    pub fn replications(&self, terms: &Terms) -> u32 {
        if self.layout.spread_is_fixed { 1 } else { terms.replications }
    }

    fn waiting(&self, terms: &Terms, chances: &Chances, flow_gpm: f64) -> (Waiting, bool) {
        let look = self.replications(terms).min(LOOKED_AT);
        let engines = Engines::new(&self.layout);
        let seen: Vec<(Waits, bool)> = (0..look)
            .into_par_iter()
            .with_min_len(8)
            .map(|replication| {
                let draw = self.draw(chances, replication, 0.0, flow_gpm, terms);
                engines.with(|engine| {
                    engine.run(&self.layout, chances, replication, &draw, false);
                    (engine.waits(), engine.exhausted())
                })
            })
            .collect();
        let mean = |of: &dyn Fn(&Waits) -> (f64, u32)| {
            let (mut seconds, mut visits) = (0.0, 0_u64);
            for (waits, _) in &seen {
                let (s, v) = of(waits);
                seconds += s;
                visits += u64::from(v);
            }
            Seconds(if visits > 0 { seconds / visits as f64 } else { 0.0 })
        };
        let lane = |i: usize| {
            let waits: u64 = seen.iter().map(|(w, _)| u64::from(w.lanes[i].waits)).sum();
            let passages: u64 = seen.iter().map(|(w, _)| u64::from(w.lanes[i].passages)).sum();
            LaneWaiting {
                mean: mean(&|w| (w.lanes[i].waited_s, w.lanes[i].passages)),
                share: if passages > 0 { waits as f64 / passages as f64 } else { 0.0 },
            }
        };
        let fills = self.layout.fills();
        let waiting = Waiting {
            fills: (0..fills).map(|i| mean(&|w| w.berths[i])).collect(),
            dump: mean(&|w| w.berths[fills]),
            full_tanks: mean(&|w| w.full_tanks),
            lanes: (0..self.layout.lanes).map(lane).collect(),
        };
        (waiting, seen.iter().any(|(_, exhausted)| *exhausted))
    }
}

fn draw_from(from_s: f64, flow_gpm: f64, terms: &Terms) -> Draw {
    let from_s = from_s.max(0.0);
    Draw { flow: GallonsPerMinute(flow_gpm), from: Seconds(from_s), until: Seconds(from_s + terms.period.0) }
}

/// Engines lent to whoever runs next, so that runs do not allocate.
pub(super) struct Engines<'a> {
    layout: &'a Layout,
    idle: std::sync::Mutex<Vec<Engine>>,
}

impl<'a> Engines<'a> {
    pub fn new(layout: &'a Layout) -> Self {
        Engines { layout, idle: std::sync::Mutex::new(Vec::new()) }
    }

    pub fn with<T>(&self, work: impl FnOnce(&mut Engine) -> T) -> T {
        let lent = self.idle.lock().ok().and_then(|mut idle| idle.pop());
        let mut engine = lent.unwrap_or_else(|| Engine::new(self.layout));
        let done = work(&mut engine);
        if let Ok(mut idle) = self.idle.lock() {
            idle.push(engine);
        }
        done
    }
}

/// When the first tanker begins to unload and when the last has unloaded its first load, by the rule
/// at the head of this file.
pub fn start_of_supply(shuttle: &Shuttle) -> Result<(Seconds, Seconds), ShuttleError> {
    check(shuttle)?;
    Ok(start_of_supply_checked(shuttle))
}

/// The same of a shuttle that was checked.
pub(super) fn start_of_supply_checked(shuttle: &Shuttle) -> (Seconds, Seconds) {
    let (first_water_s, start_s) = start_of_supply_s(shuttle);
    (Seconds(first_water_s), Seconds(start_s))
}

/// The same in one replication, with its own times: what a draw in that replication starts from.
pub fn start_of_supply_in(shuttle: &Shuttle, seed: u64, replication: u32) -> Result<Seconds, ShuttleError> {
    check(shuttle)?;
    let chances = Chances::new(&shuttle.spread, seed, 0, shuttle.tankers.len(), 0);
    Ok(Seconds(first_loads_s(&Layout::new(shuttle), &chances, replication).1))
}

fn start_of_supply_s(shuttle: &Shuttle) -> (f64, f64) {
    first_loads_s(&Layout::new(shuttle), &Chances::fixed(), 0)
}

/// Random factors for a shuttle of up to `tankers` tankers, kept for as many trips as the period has.
pub(super) fn chances(shuttle: &Shuttle, terms: &Terms, tankers: usize) -> Arc<Chances> {
    let quickest_s = shuttle
        .tankers
        .iter()
        .map(|t| super::cycle(t, &shuttle.fills[t.fill]).total().0)
        .fold(f64::INFINITY, f64::min);
    let (_, start_s) = start_of_supply_s(shuttle);
    let trips = ((start_s + terms.period.0) / quickest_s * 1.05 + 2.0) as usize;
    Chances::shared(&shuttle.spread, terms.seed, terms.replications, tankers, trips)
}

/// The sustained flow alone.
pub fn sustained_flow(shuttle: &Shuttle, terms: &Terms) -> Result<GallonsPerMinute, ShuttleError> {
    check(shuttle)?;
    check_terms(terms)?;
    let case = Case::new(shuttle, terms);
    let chances = chances(shuttle, terms, shuttle.tankers.len());
    Ok(GallonsPerMinute(case.flow_gpm(terms, &chances, 0.0).unwrap_or(0.0)))
}

/// Share of the replications in which a draw holds for the period, from the start of sustained supply.
pub fn holds_share(shuttle: &Shuttle, terms: &Terms, flow: GallonsPerMinute) -> Result<f64, ShuttleError> {
    check(shuttle)?;
    check_terms(terms)?;
    check_draw(0.0, 0.0, flow.0)?;
    let case = Case::new(shuttle, terms);
    let chances = chances(shuttle, terms, shuttle.tankers.len());
    let engines = Engines::new(&case.layout);
    let run = |r: u32| {
        let draw = case.draw(&chances, r, 0.0, flow.0, terms);
        engines.with(|engine| engine.run(&case.layout, &chances, r, &draw, true))
    };
    let replications = case.replications(terms);
    Ok(known::figure(case.key(terms, Figure::Share(flow.0)), || {
        let held = (0..replications).into_par_iter().with_min_len(8).filter(|&r| run(r)).count();
        held as f64 / f64::from(replications)
    }))
}

/// The sustained flow and how it comes about.
pub fn sustained(shuttle: &Shuttle, terms: &Terms) -> Result<Sustained, ShuttleError> {
    let told = sustained_from(shuttle, terms, GallonsPerMinute::ZERO)?;
    // No shuttle sustains less than nothing.
    told.ok_or_else(|| ShuttleError::new("no flow was found", "report it with its scenario"))
}

/// The same, if the flow is at least `floor`; a shuttle that falls short is soon known.
pub fn sustained_from(
    shuttle: &Shuttle,
    terms: &Terms,
    floor: GallonsPerMinute,
) -> Result<Option<Sustained>, ShuttleError> {
    check(shuttle)?;
    check_terms(terms)?;
    let case = Case::new(shuttle, terms);
    let chances = &*chances(shuttle, terms, shuttle.tankers.len());
    let Some(flow_gpm) = case.flow_gpm(terms, chances, floor.0) else { return Ok(None) };
    let wanted_gpm = if terms.need.0 > 0.0 { terms.need.0.min(flow_gpm) } else { flow_gpm };
    let held_from_s =
        if flow_gpm > 0.0 { case.held_from_s(terms, chances, wanted_gpm) } else { case.start_s };
    let (waiting, exhausted) = case.waiting(terms, chances, flow_gpm);
    let mean = Chances::fixed();
    let even = run(&case.layout, &mean, 0, &case.draw(&mean, 0, 0.0, flow_gpm, terms));
    Ok(Some(Sustained {
        flow: GallonsPerMinute(flow_gpm),
        start: Seconds(case.start_s),
        first_water: Seconds(case.first_water_s),
        held_from: Seconds(held_from_s),
        replications: terms.replications,
        seed: terms.seed,
        exhausted: exhausted || even.exhausted,
        waiting,
        timeline: even.timeline,
        arrivals: even.arrivals,
    }))
}
