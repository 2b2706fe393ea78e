//! The closed form: what one tanker's round trip yields, and a flow the whole shuttle cannot pass.
//!
//! The bounds are the asymptotic ones of queueing theory (Lazowska et al., Quantitative System
//! Performance, 1984, chapter 5, from memory), written for tankers that are unlike each other.

use super::sustained::start_of_supply_checked;
use super::validate::{check, check_period};
use super::{Fill, Limiter, Shuttle, ShuttleError, Tanker};
use crate::units::{Gallons, GallonsPerMinute, Seconds};
use serde::Serialize;

/// One round trip without waiting: A + T1 + T2 + B in the words of the standard.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Cycle {
    /// Handling and unloading at the dump site.
    pub dump: Seconds,
    /// Dump site to fill site.
    pub empty_travel: Seconds,
    /// Handling and filling at the fill site, with the whole source to itself.
    pub fill: Seconds,
    /// Fill site to dump site.
    pub loaded_travel: Seconds,
}

impl Cycle {
    pub fn total(&self) -> Seconds {
        self.dump + self.empty_travel + self.fill + self.loaded_travel
    }
}

pub fn cycle(tanker: &Tanker, fill: &Fill) -> Cycle {
    Cycle {
        dump: tanker.dump_handling + tanker.load.at(tanker.dump_rate),
        empty_travel: tanker.empty_travel,
        fill: tanker.fill_handling + tanker.load.at(tanker.intake.min(fill.flow)),
        loaded_travel: tanker.loaded_travel,
    }
}

/// Travel time of one leg by the standard's equation T = 0.65 + X·D with X = 60/mph (ISO, from a RAND
/// study; X = 1.7 at 35 mph as published, so X is rounded to one decimal there and nowhere else).
/// NFPA 1142 applies it to each leg. Meant for 0.5 to 8 miles.
pub fn travel_time_per_leg(miles: f64, minutes_per_mile: f64) -> Seconds {
    Seconds::from_minutes(STOP_AND_GO_MIN + minutes_per_mile * miles)
}

/// Travel time of a whole round trip when the 0.65 minutes are counted once and D is the way out and
/// back together (the ISO and IFSTA form). Shorter than two single legs by 0.65 minutes.
pub fn travel_time_round_trip(miles_out_and_back: f64, minutes_per_mile: f64) -> Seconds {
    travel_time_per_leg(miles_out_and_back, minutes_per_mile)
}

/// Minutes lost to speeding up and slowing down (ISO, from a RAND study).
const STOP_AND_GO_MIN: f64 = 0.65;

/// The standard's maximum continuous flow capability, Q = 0.9·V/(A + T1 + T2 + B) (NFPA 1142 annex;
/// IFSTA; from memory). `tank` is the nominal volume: the 10 % comes off here. For checks and for
/// comparison; a [`Tanker`]'s load has the 10 % off already. Zero when the cycle takes no time.
pub fn maximum_continuous_flow(
    tank: Gallons,
    dump: Seconds,
    travel_out: Seconds,
    travel_back: Seconds,
    fill: Seconds,
) -> GallonsPerMinute {
    let minutes = (dump + travel_out + travel_back + fill).minutes();
    if minutes > 0.0 { GallonsPerMinute(0.9 * tank.0 / minutes) } else { GallonsPerMinute::ZERO }
}

#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TankerCeiling {
    pub cycle: Cycle,
    /// Load over cycle.
    pub flow: GallonsPerMinute,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FillCeiling {
    /// Sum over its tankers, without waiting.
    pub tankers: GallonsPerMinute,
    /// What its berths can turn over with this mix of tankers.
    pub berths: GallonsPerMinute,
    /// The whole source.
    pub source: GallonsPerMinute,
    /// Its water and its tankers' first loads, spread over the period. `None` if it does not run out.
    pub volume: Option<GallonsPerMinute>,
    pub flow: GallonsPerMinute,
    pub bound_by: Limiter,
}

/// A flow the shuttle cannot keep up, and what sets it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ceiling {
    pub flow: GallonsPerMinute,
    pub bound_by: Limiter,
    /// In the order of [`Shuttle::tankers`].
    pub per_tanker: Vec<TankerCeiling>,
    /// In the order of [`Shuttle::fills`].
    pub per_fill: Vec<FillCeiling>,
    /// What the dump berths can turn over with this mix of tankers.
    pub dump_berths: GallonsPerMinute,
    /// The tightest draw limit.
    pub draw: Option<GallonsPerMinute>,
}

/// The closed form for a draw of `period`.
///
/// With x trips per second by each tanker: x is at most 1/cycle, and the berths' time used, Σ x·service,
/// is at most the number of berths. The greatest Σ x·load under these is found by serving the tankers
/// with the most water per berth second first; it is a true bound for any mix and any order of service.
/// Berths at a shared source are counted with the whole source each, which the source's own flow cuts.
pub fn ceiling(shuttle: &Shuttle, period: Seconds) -> Result<Ceiling, ShuttleError> {
    check(shuttle)?;
    check_period("the operational period", period.0)?;
    Ok(ceiling_unchecked(shuttle, period))
}

pub(super) fn ceiling_unchecked(shuttle: &Shuttle, period: Seconds) -> Ceiling {
    Rounds::unchecked(shuttle, period).ceiling()
}

/// A shuttle's round trips, worked out once for the ceiling of it and of any part of its tankers.
pub struct Rounds<'s> {
    shuttle: &'s Shuttle,
    period: Seconds,
    per_tanker: Vec<TankerCeiling>,
    /// Tankers, most water per second in the fill berth first; and in the dump berth.
    by_fill: Vec<usize>,
    by_dump: Vec<usize>,
}

impl<'s> Rounds<'s> {
    /// Errors: those of [`ceiling`].
    pub fn of(shuttle: &'s Shuttle, period: Seconds) -> Result<Rounds<'s>, ShuttleError> {
        check(shuttle)?;
        check_period("the operational period", period.0)?;
        Ok(Rounds::unchecked(shuttle, period))
    }

    fn unchecked(shuttle: &'s Shuttle, period: Seconds) -> Rounds<'s> {
        let of = |tanker: &Tanker| {
            let cycle = cycle(tanker, &shuttle.fills[tanker.fill]);
            TankerCeiling { cycle, flow: GallonsPerMinute(tanker.load.0 / cycle.total().minutes()) }
        };
        let per_tanker: Vec<TankerCeiling> = shuttle.tankers.iter().map(of).collect();
        let by = |service: &dyn Fn(&Cycle) -> Seconds| {
            let mut order: Vec<usize> = (0..per_tanker.len()).collect();
            let (load, service) =
                (|i: usize| shuttle.tankers[i].load.0, |i: usize| service(&per_tanker[i].cycle).0);
            order.sort_by(|&a, &b| (load(b) * service(a)).total_cmp(&(load(a) * service(b))));
            order
        };
        let (by_fill, by_dump) = (by(&|cycle| cycle.fill), by(&|cycle| cycle.dump));
        Rounds { shuttle, period, per_tanker, by_fill, by_dump }
    }

    /// As [`super::start_of_supply`] tells it.
    pub fn start_of_supply(&self) -> (Seconds, Seconds) {
        start_of_supply_checked(self.shuttle)
    }

    /// What a tanker brings by itself.
    pub fn own_gpm(&self, tanker: usize) -> f64 {
        self.per_tanker[tanker].flow.0
    }

    /// What a site's tankers among some bring.
    fn fill(&self, site: usize, member: &dyn Fn(usize) -> bool) -> FillCeiling {
        let (shuttle, fill) = (self.shuttle, &self.shuttle.fills[site]);
        let here = |i: usize| shuttle.tankers[i].fill == site && member(i);
        let (mut tankers, mut first_loads) = (0.0, 0.0);
        for (i, own) in self.per_tanker.iter().enumerate().filter(|(i, _)| here(*i)) {
            let load = shuttle.tankers[i].load.0;
            first_loads += load;
            tankers += load / own.cycle.total().0 * 60.0;
        }
        let berths = self.through(fill.berths, &self.by_fill, &here, |cycle| cycle.fill);
        let volume = fill.volume.map(|water| (water.0 + first_loads) / self.period.minutes());
        fill_ceiling(site, tankers, berths, fill.flow.0, volume)
    }

    /// Greatest flow through berths: a fractional knapsack, exact by the greedy order.
    fn through(
        &self,
        berths: u32,
        order: &[usize],
        here: &dyn Fn(usize) -> bool,
        service: impl Fn(&Cycle) -> Seconds,
    ) -> f64 {
        let mut left = f64::from(berths);
        let mut gal_per_s = 0.0;
        for &i in order.iter().filter(|i| here(**i)) {
            let cycle = &self.per_tanker[i].cycle;
            let cycle_s = cycle.total().0;
            let wanted = service(cycle).0 / cycle_s;
            let share = if wanted > left { left / wanted } else { 1.0 };
            gal_per_s += share * self.shuttle.tankers[i].load.0 / cycle_s;
            left = (left - wanted).max(0.0);
        }
        gal_per_s * 60.0
    }

    fn dumped(&self, member: &dyn Fn(usize) -> bool) -> f64 {
        self.through(self.shuttle.dump.berths, &self.by_dump, member, |cycle| cycle.dump)
    }

    /// The flow of some of the tankers: what [`ceiling`] gives for a shuttle of only these.
    pub fn flow_of(&self, member: &dyn Fn(usize) -> bool) -> GallonsPerMinute {
        let fills = 0..self.shuttle.fills.len();
        let mut flow: f64 = fills.map(|site| self.fill(site, member).flow.0).sum();
        let dumped = self.dumped(member);
        if dumped < flow * (1.0 - ROUNDING) {
            flow = dumped;
        }
        let draws = self.shuttle.dump.draw_limits.iter().map(|limit| limit.flow.0);
        GallonsPerMinute(draws.fold(flow, f64::min))
    }

    /// Of all tankers.
    pub fn ceiling(self) -> Ceiling {
        let shuttle = self.shuttle;
        let per_fill: Vec<FillCeiling> =
            (0..shuttle.fills.len()).map(|site| self.fill(site, &|_| true)).collect();
        let dump_berths = self.dumped(&|_| true);
        let filled: f64 = per_fill.iter().map(|f| f.flow.0).sum();
        // The site that loses most against what its tankers could carry names the cause.
        let worst = per_fill.iter().max_by(|a, b| (a.tankers - a.flow).0.total_cmp(&(b.tankers - b.flow).0));
        let mut flow = filled;
        let mut bound_by = worst.map_or(Limiter::Tankers, |f| f.bound_by);
        if dump_berths < flow * (1.0 - ROUNDING) {
            (flow, bound_by) = (dump_berths, Limiter::DumpBerths);
        }
        let draw = shuttle.dump.draw_limits.iter().min_by(|a, b| a.flow.0.total_cmp(&b.flow.0));
        if let Some(limit) = draw.filter(|limit| limit.flow.0 < flow) {
            (flow, bound_by) = (limit.flow.0, limit.kind.into());
        }
        Ceiling {
            flow: GallonsPerMinute(flow),
            bound_by,
            per_tanker: self.per_tanker,
            per_fill,
            dump_berths: GallonsPerMinute(dump_berths),
            draw: draw.map(|limit| limit.flow),
        }
    }
}

/// Sums taken in different orders differ in the last digits; that must not name a cause.
const ROUNDING: f64 = 1e-9;

fn fill_ceiling(site: usize, tankers: f64, berths: f64, source: f64, volume: Option<f64>) -> FillCeiling {
    let (mut flow, mut bound_by) = (tankers, Limiter::Tankers);
    let mut cut = |bound: f64, by: Limiter| {
        if bound < flow * (1.0 - ROUNDING) {
            (flow, bound_by) = (bound, by);
        }
    };
    cut(source, Limiter::SourceFlow(site));
    cut(berths, Limiter::FillBerths(site));
    if let Some(volume) = volume {
        cut(volume, Limiter::SourceVolume(site));
    }
    FillCeiling {
        tankers: GallonsPerMinute(tankers),
        berths: GallonsPerMinute(berths),
        source: GallonsPerMinute(source),
        volume: volume.map(GallonsPerMinute),
        flow: GallonsPerMinute(flow),
        bound_by,
    }
}
