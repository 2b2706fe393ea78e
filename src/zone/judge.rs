//! One stretch judged by the closed form: the flow the fleet cannot pass there, and one it holds even if
//! every tanker always waits for all others.

use crate::shuttle::{self, Best, Limiter, Posts, Rounds, Shuttle, ShuttleError};
use crate::units::Seconds;
use serde::{Deserialize, Serialize};
use smallvec::SmallVec;
use std::num::NonZeroU32;

/// Fill sites by index; few ceilings have more of them.
type SiteList = SmallVec<[u32; 4]>;

/// Flows for which the tankers needed are counted: the steps of the delivery rates by minimum supply
/// (NFPA 1142, from memory; the table stands in `water::demand`).
pub use crate::shuttle::MILESTONES;

/// Sites told with what they give by themselves.
pub const TOLD_ALONE: usize = 2;

/// The best sites with what each gives alone, most first: fewer bytes than a list of them.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(from = "AloneList", into = "AloneList")]
pub struct BestAlone {
    /// `u32::MAX` where there is none.
    sites: [u32; TOLD_ALONE],
    gpm: [f64; TOLD_ALONE],
}

type AloneList = SmallVec<[(u32, f64); TOLD_ALONE]>;

impl BestAlone {
    pub fn get(&self, nth: usize) -> Option<(u32, f64)> {
        let site = self.sites.get(nth).filter(|site| **site != u32::MAX)?;
        Some((*site, self.gpm[nth]))
    }
    pub fn all(&self) -> impl Iterator<Item = (u32, f64)> {
        (0..TOLD_ALONE).filter_map(|nth| self.get(nth))
    }
}

impl FromIterator<(u32, f64)> for BestAlone {
    /// The first few.
    fn from_iter<I: IntoIterator<Item = (u32, f64)>>(all: I) -> BestAlone {
        let mut best = BestAlone { sites: [u32::MAX; TOLD_ALONE], gpm: [0.0; TOLD_ALONE] };
        for (nth, (site, gpm)) in all.into_iter().take(TOLD_ALONE).enumerate() {
            (best.sites[nth], best.gpm[nth]) = (site, gpm);
        }
        best
    }
}

impl Default for BestAlone {
    fn default() -> BestAlone {
        BestAlone::from_iter([])
    }
}

impl From<AloneList> for BestAlone {
    fn from(list: AloneList) -> BestAlone {
        list.into_iter().collect()
    }
}

impl From<BestAlone> for AloneList {
    fn from(best: BestAlone) -> AloneList {
        best.all().collect()
    }
}

/// What is known of a stretch. Flows in gallons per minute, times in seconds.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Judged {
    /// The closed form; zero where no loop is open.
    pub ceiling_gpm: f64,
    /// What is left if every tanker waits for all others at every stop.
    pub at_least_gpm: f64,
    /// What binds the ceiling. None where there is no loop.
    pub bound_by: Option<Bound>,
    /// Fill sites of the ceiling, by index into the ground's.
    pub sites: SiteList,
    /// The two best sites, each worked alone by the whole fleet.
    pub alone: BestAlone,
    /// Mean round trip without waiting.
    pub cycle_s: f64,
    /// From dispatch to the end of the last first load.
    pub start_s: f64,
    /// Fewest tankers whose ceiling is 250, 500, 750 and 1,000 gpm, those that bring most first.
    pub tankers_for: [Option<NonZeroU32>; 4],
    /// The ceiling without the tanker that matters most.
    pub one_lost_gpm: f64,
}

/// A limiter with its fill site, if it is one's, by index into the ground's.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Bound {
    Tankers,
    FillBerths(u32),
    SourceFlow(u32),
    SourceVolume(u32),
    DumpBerths,
    SupplyLine,
    Pumper,
    Siphons,
    Suction,
    Other,
}

impl Bound {
    fn of(limiter: Limiter, sites: &[u32]) -> Bound {
        let site = |fill: usize| sites.get(fill).copied().unwrap_or(u32::MAX);
        match limiter {
            Limiter::Tankers => Bound::Tankers,
            Limiter::FillBerths(fill) => Bound::FillBerths(site(fill)),
            Limiter::SourceFlow(fill) => Bound::SourceFlow(site(fill)),
            Limiter::SourceVolume(fill) => Bound::SourceVolume(site(fill)),
            Limiter::DumpBerths => Bound::DumpBerths,
            Limiter::SupplyLine => Bound::SupplyLine,
            Limiter::Pumper => Bound::Pumper,
            Limiter::Siphons => Bound::Siphons,
            Limiter::Suction => Bound::Suction,
            Limiter::TankRoom | Limiter::Lane(_) => Bound::Other,
        }
    }

    pub fn as_str(self) -> &'static str {
        match self {
            Bound::Tankers => "tankers",
            Bound::FillBerths(_) => "fill-berths",
            Bound::SourceFlow(_) => "source-flow",
            Bound::SourceVolume(_) => "source-volume",
            Bound::DumpBerths => "dump-berths",
            Bound::SupplyLine => "supply-line",
            Bound::Pumper => "pumper",
            Bound::Siphons => "siphons",
            Bound::Suction => "suction",
            Bound::Other => "other",
        }
    }

    pub fn site(self) -> Option<usize> {
        match self {
            Bound::FillBerths(site) | Bound::SourceFlow(site) | Bound::SourceVolume(site) => {
                Some(site as usize)
            }
            _ => None,
        }
    }
}

/// Judges the best of posts whose fills are `sites` of the ground, and gives the shuttle that was judged.
pub fn judge(
    posts: &Posts,
    best: Option<Best>,
    sites: &[usize],
    period: Seconds,
) -> Result<(Judged, Option<Shuttle>), ShuttleError> {
    let Some(best) = best else { return Ok((Judged::default(), None)) };
    let (shuttle, _, fills) = posts.shuttle(&best.given);
    let fills: SiteList = fills.iter().map(|fill| sites[*fill] as u32).collect();
    let rounds = Rounds::of(&shuttle, period)?;
    let start = rounds.start_of_supply();
    let alone = best.alone.iter().map(|(fill, flow)| (sites[*fill] as u32, flow.0)).collect();
    let mut order: Vec<usize> = (0..shuttle.tankers.len()).collect();
    order.sort_by(|a, b| rounds.own_gpm(*b).total_cmp(&rounds.own_gpm(*a)).then(a.cmp(b)));
    let whole = rounds.flow_of(&|_| true);
    let mut tankers_for = [None; 4];
    // By tanker, its place in that order.
    let mut place = vec![0; order.len()];
    order.iter().enumerate().for_each(|(nth, tanker)| place[*tanker] = nth);
    for count in 1..=order.len() {
        let flow = if count == order.len() { whole } else { rounds.flow_of(&|i| place[i] < count) };
        for (found, wanted) in tankers_for.iter_mut().zip(MILESTONES) {
            if found.is_none() && flow.0 >= wanted.0 {
                *found = NonZeroU32::new(count as u32);
            }
        }
    }
    let without = |lost: usize| if order.len() == 1 { 0.0 } else { rounds.flow_of(&|i| i != lost).0 };
    let one_lost_gpm = (0..order.len()).map(without).fold(whole.0, f64::min);
    let ceiling = rounds.ceiling();
    let cycles = ceiling.per_tanker.iter().map(|t| t.cycle.total().0);
    let judged = Judged {
        ceiling_gpm: ceiling.flow.0,
        at_least_gpm: at_least_gpm(&shuttle, &ceiling),
        bound_by: Some(Bound::of(ceiling.bound_by, &fills)),
        alone,
        cycle_s: cycles.clone().sum::<f64>() / cycles.count().max(1) as f64,
        start_s: start.1.0,
        tankers_for,
        one_lost_gpm,
        sites: fills,
    };
    Ok((judged, Some(shuttle)))
}

/// The pessimistic bound: at the dump site each tanker finds all others before it, and at its fill site all
/// that fill there, even if there are further berths (after the asymptotic bounds of Lazowska et al.,
/// Quantitative System Performance, 1984, chapter 5, from memory). With times that do not vary.
fn at_least_gpm(shuttle: &Shuttle, ceiling: &shuttle::Ceiling) -> f64 {
    let dump_s: f64 = ceiling.per_tanker.iter().map(|t| t.cycle.dump.0).sum();
    let flows = shuttle.tankers.iter().zip(&ceiling.per_tanker).map(|(tanker, own)| {
        let pairs = shuttle.tankers.iter().zip(&ceiling.per_tanker);
        let fill_s: f64 = pairs.filter(|(t, _)| t.fill == tanker.fill).map(|(_, t)| t.cycle.fill.0).sum();
        let travel_s = own.cycle.empty_travel.0 + own.cycle.loaded_travel.0;
        tanker.load.0 / (dump_s + fill_s + travel_s) * 60.0
    });
    flows.sum::<f64>().min(ceiling.flow.0)
}
