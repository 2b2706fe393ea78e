//! What holds a shuttle back: relieve one element at a time and see what the sustained flow gains.

use super::cycle::ceiling_unchecked;
use super::layout::is_contested;
use super::sustained::{Case, chances, sustained_flow};
use super::validate::{check, check_terms};
use super::{DrawKind, Limiter, Shuttle, ShuttleError, Sustained, Terms};
use crate::units::{Gallons, GallonsPerMinute};
use serde::Serialize;

/// The element whose relief raises the sustained flow most.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Limitation {
    pub limiter: Limiter,
    /// By how much its relief raises the sustained flow; zero when no single relief helps, and then
    /// `limiter` is what bounds the closed form.
    pub gain: GallonsPerMinute,
    /// The element and its relief in words, such as `tankers: one more like "T3" (1,800 gal usable)`.
    pub text: String,
}

/// Every way to relieve one element: one more tanker like the best of the fleet, one more berth, a
/// source of twice the flow, a source that does not run out, one more portable tank, a draw limit
/// lifted, a narrow road on which tankers meet made passable.
pub fn reliefs(shuttle: &Shuttle) -> Result<Vec<(Limiter, Shuttle)>, ShuttleError> {
    check(shuttle)?;
    Ok(reliefs_unchecked(shuttle, &Terms::default()))
}

fn reliefs_unchecked(shuttle: &Shuttle, terms: &Terms) -> Vec<(Limiter, Shuttle)> {
    let mut out = Vec::new();
    let mut add = |limiter: Limiter, change: &dyn Fn(&mut Shuttle)| {
        let mut changed = shuttle.clone();
        change(&mut changed);
        if check(&changed).is_ok() {
            out.push((limiter, changed));
        }
    };
    if let Some(best) = tanker_to_add(shuttle, terms) {
        add(Limiter::Tankers, &|s| s.tankers.push(s.tankers[best].clone()));
    }
    for site in 0..shuttle.fills.len() {
        if !shuttle.tankers.iter().any(|tanker| tanker.fill == site) {
            continue;
        }
        add(Limiter::FillBerths(site), &|s| s.fills[site].berths += 1);
        add(Limiter::SourceFlow(site), &|s| s.fills[site].flow = s.fills[site].flow * 2.0);
        if shuttle.fills[site].volume.is_some() {
            add(Limiter::SourceVolume(site), &|s| s.fills[site].volume = None);
        }
    }
    add(Limiter::DumpBerths, &|s| s.dump.berths += 1);
    let tank = portable_tank(shuttle);
    add(Limiter::TankRoom, &|s| s.dump.tank_room = s.dump.tank_room + tank);
    for kind in [DrawKind::SupplyLine, DrawKind::Pumper, DrawKind::Siphons, DrawKind::Suction] {
        if shuttle.dump.draw_limits.iter().any(|limit| limit.kind == kind) {
            add(kind.into(), &|s| s.dump.draw_limits.retain(|limit| limit.kind != kind));
        }
    }
    for lane in (0..shuttle.lanes.len()).filter(|lane| is_contested(shuttle, *lane)) {
        add(Limiter::Lane(lane), &|s| {
            for tanker in &mut s.tankers {
                tanker.empty_lanes.retain(|p| p.lane != lane);
                tanker.loaded_lanes.retain(|p| p.lane != lane);
            }
        });
    }
    out
}

/// Which tanker to have twice: the one that raises the ceiling most, and of equals the one that
/// carries most by itself.
fn tanker_to_add(shuttle: &Shuttle, terms: &Terms) -> Option<usize> {
    let own = ceiling_unchecked(shuttle, terms.period).per_tanker;
    let with = |i: usize| {
        let mut more = shuttle.clone();
        more.tankers.push(shuttle.tankers[i].clone());
        // To the gallon: equal ceilings must be equal whatever the order of the sum.
        ceiling_unchecked(&more, terms.period).flow.0.round()
    };
    let score = |i: usize| (with(i), own[i].flow.0);
    let scores: Vec<(f64, f64)> = (0..shuttle.tankers.len()).map(score).collect();
    let better = |a: (f64, f64), b: (f64, f64)| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).is_gt();
    (0..scores.len()).reduce(|best, i| if better(scores[i], scores[best]) { i } else { best })
}

/// A portable tank holds the largest load and 500 gal (IFSTA), to the next 500 gal.
fn portable_tank(shuttle: &Shuttle) -> Gallons {
    let largest = shuttle.tankers.iter().map(|t| t.load.0).fold(0.0, f64::max);
    Gallons(((largest + 500.0) / 500.0).ceil() * 500.0)
}

/// The limiter of a shuttle whose sustained flow is not known yet.
pub fn limiter(shuttle: &Shuttle, terms: &Terms) -> Result<Limitation, ShuttleError> {
    limitation(shuttle, terms, sustained_flow(shuttle, terms)?)
}

/// The limiter of a shuttle whose sustained flow was worked out under the same terms.
pub fn limiter_of(shuttle: &Shuttle, terms: &Terms, known: &Sustained) -> Result<Limitation, ShuttleError> {
    check(shuttle)?;
    check_terms(terms)?;
    limitation(shuttle, terms, known.flow)
}

/// The ceiling says which reliefs cannot beat the best so far; only the others are simulated.
fn limitation(shuttle: &Shuttle, terms: &Terms, held: GallonsPerMinute) -> Result<Limitation, ShuttleError> {
    let chances = chances(shuttle, terms, shuttle.tankers.len() + 1);
    let mut candidates: Vec<(Limiter, Case)> = reliefs_unchecked(shuttle, terms)
        .into_iter()
        .map(|(limiter, relieved)| (limiter, Case::new(&relieved, terms)))
        .collect();
    // A stable sort: of equal ceilings the order of `reliefs` decides.
    candidates.sort_by(|a, b| b.1.cap_gpm.total_cmp(&a.1.cap_gpm));
    let mut limiter = ceiling_unchecked(shuttle, terms.period).bound_by;
    let mut best_gpm = held.0;
    for (candidate, case) in candidates {
        // Less than the resolution of the search is no gain.
        if case.cap_gpm < best_gpm + 1.0 {
            break;
        }
        if let Some(flow_gpm) = case.flow_gpm(terms, &chances, best_gpm + 1.0) {
            (limiter, best_gpm) = (candidate, flow_gpm);
        }
    }
    let gain = GallonsPerMinute(best_gpm - held.0);
    let mut text = relief_text(shuttle, limiter);
    if gain.0 <= 0.0 {
        text.push_str(" (alone it gains nothing)");
    }
    Ok(Limitation { limiter, gain, text })
}

/// The element and its relief, for people.
pub fn relief_text(shuttle: &Shuttle, limiter: Limiter) -> String {
    let site = |i: usize| shuttle.fills.get(i).map_or("?", |fill| fill.name.as_str());
    match limiter {
        Limiter::Tankers => {
            match tanker_to_add(shuttle, &Terms::default()).and_then(|i| shuttle.tankers.get(i)) {
                Some(best) => {
                    format!(
                        "tankers: one more like \"{}\" ({} gal usable)",
                        best.name,
                        thousands(best.load.0)
                    )
                }
                None => "tankers: one more".to_string(),
            }
        }
        Limiter::FillBerths(i) => format!("berths at fill site \"{}\": one more", site(i)),
        Limiter::SourceFlow(i) => {
            let flow = shuttle.fills.get(i).map_or(0.0, |fill| fill.flow.0);
            format!(
                "flow of fill site \"{}\": {} gpm instead of {}",
                site(i),
                thousands(2.0 * flow),
                thousands(flow)
            )
        }
        Limiter::SourceVolume(i) => {
            format!("water in fill site \"{}\": a source that does not run out", site(i))
        }
        Limiter::DumpBerths => "dump berths: one more".to_string(),
        Limiter::TankRoom => {
            format!("portable tanks: one more of {} gal", thousands(portable_tank(shuttle).0))
        }
        Limiter::SupplyLine => "supply line: one that carries more".to_string(),
        Limiter::Pumper => "pumper: one that delivers more".to_string(),
        Limiter::Siphons => "siphons: more of them".to_string(),
        Limiter::Suction => "suction: more or larger tubes".to_string(),
        Limiter::Lane(i) => {
            let name = shuttle.lanes.get(i).map_or("?", |lane| lane.name.as_str());
            format!("narrow road \"{name}\": widen it, or hold it one-way and run a circuit")
        }
    }
}

fn thousands(number: f64) -> String {
    let digits = format!("{number:.0}");
    let mut out = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i) % 3 == 0 {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// The sustained flow when the worst tanker to lose is lost; zero for a fleet of one.
pub fn one_tanker_lost(shuttle: &Shuttle, terms: &Terms) -> Result<GallonsPerMinute, ShuttleError> {
    check(shuttle)?;
    check_terms(terms)?;
    if shuttle.tankers.len() == 1 {
        return Ok(GallonsPerMinute::ZERO);
    }
    let chances = chances(shuttle, terms, shuttle.tankers.len());
    // Losing the one of two like tankers is losing the other.
    let mut cases: Vec<Case> = (0..shuttle.tankers.len())
        .filter(|&i| !shuttle.tankers[..i].iter().any(|earlier| alike(earlier, &shuttle.tankers[i])))
        .map(|i| Case::without(shuttle, terms, &[i]))
        .collect();
    cases.sort_by(|a, b| a.cap_gpm.total_cmp(&b.cap_gpm));
    let mut worst_gpm = f64::INFINITY;
    for case in cases {
        // One that holds the worst so far is no worse.
        if worst_gpm == f64::INFINITY || !case.holds(terms, &chances, worst_gpm) {
            worst_gpm = worst_gpm.min(case.flow_gpm(terms, &chances, 0.0).unwrap_or(0.0));
        }
    }
    Ok(GallonsPerMinute(worst_gpm))
}

fn alike(a: &super::Tanker, b: &super::Tanker) -> bool {
    let nameless = |t: &super::Tanker| super::Tanker { name: String::new(), ..t.clone() };
    nameless(a) == nameless(b)
}
