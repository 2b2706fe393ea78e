//! A shuttle against time: when a flow is first held, what stands in the tanks minute by minute, and
//! what is left when a tanker is withdrawn or a source fails.

use super::sustained::{Case, Engines, chances};
use super::validate::{check, check_draw, check_period, check_terms};
use super::{Shuttle, ShuttleError, Sustained, Terms, TimePoint};
use crate::units::{Gallons, GallonsPerMinute, Seconds};
use rayon::prelude::*;
use serde::Serialize;

/// Flows whose first minute is told: the steps of the delivery rates by minimum supply (NFPA 1142, from
/// memory; the table stands in `water::demand`).
pub const MILESTONES: [GallonsPerMinute; 4] =
    [GallonsPerMinute(250.0), GallonsPerMinute(500.0), GallonsPerMinute(750.0), GallonsPerMinute(1000.0)];

/// When a flow is first held.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Milestone {
    pub flow: GallonsPerMinute,
    /// Earliest start from dispatch, to 15 s, from which it can be drawn for the whole period at the
    /// reliability asked for, by the first 64 replications. None where the shuttle does not sustain it.
    pub held_from: Option<Seconds>,
}

/// The milestones of a shuttle whose sustained flow was worked out under the same terms.
///
/// A flow that can be drawn from some moment can be drawn from any later one up to the start of sustained
/// supply, and a lesser one from then on too; the figures are put in order where replications at the edge
/// of the quantile would have it otherwise.
pub fn milestones(
    shuttle: &Shuttle,
    terms: &Terms,
    known: &Sustained,
) -> Result<Vec<Milestone>, ShuttleError> {
    check(shuttle)?;
    check_terms(terms)?;
    let case = Case::new(shuttle, terms);
    let chances = chances(shuttle, terms, shuttle.tankers.len());
    let mut reached = known.first_water.0;
    let told = MILESTONES.map(|flow| {
        let held_from = (flow.0 <= known.flow.0).then(|| {
            // The need is often one of these flows.
            let told = known.wanted_gpm(terms) == flow.0;
            let from_s = if told { known.held_from.0 } else { case.held_from_s(terms, &chances, flow.0) };
            reached = from_s.max(reached);
            Seconds(reached)
        });
        Milestone { flow, held_from }
    });
    Ok(told.to_vec())
}

/// The sustained flow without each tanker, in the order of [`Shuttle::tankers`]; the others keep their
/// luck. Zero for a fleet of one. Like tankers are worked out once.
pub fn withdrawn(shuttle: &Shuttle, terms: &Terms) -> Result<Vec<GallonsPerMinute>, ShuttleError> {
    check(shuttle)?;
    check_terms(terms)?;
    let tankers = &shuttle.tankers;
    if tankers.len() == 1 {
        return Ok(vec![GallonsPerMinute::ZERO]);
    }
    let chances = chances(shuttle, terms, tankers.len());
    let alike = |a: usize, b: usize| {
        let nameless = |i: usize| super::Tanker { name: String::new(), ..tankers[i].clone() };
        nameless(a) == nameless(b)
    };
    let mut flows: Vec<GallonsPerMinute> = Vec::with_capacity(tankers.len());
    for i in 0..tankers.len() {
        let flow = match (0..i).find(|&earlier| alike(earlier, i)) {
            Some(earlier) => flows[earlier],
            None => {
                let case = Case::without(shuttle, terms, &[i]);
                GallonsPerMinute(case.flow_gpm(terms, &chances, 0.0).unwrap_or(0.0))
            }
        };
        flows.push(flow);
    }
    Ok(flows)
}

/// The sustained flow when a source fails and its tankers stand still: what the others bring. Zero where
/// all fill there.
pub fn source_failed(
    shuttle: &Shuttle,
    terms: &Terms,
    fill: usize,
) -> Result<GallonsPerMinute, ShuttleError> {
    check(shuttle)?;
    check_terms(terms)?;
    let gone: Vec<usize> = (0..shuttle.tankers.len()).filter(|&i| shuttle.tankers[i].fill == fill).collect();
    if gone.len() == shuttle.tankers.len() {
        return Ok(GallonsPerMinute::ZERO);
    }
    let chances = chances(shuttle, terms, shuttle.tankers.len());
    let case = Case::without(shuttle, terms, &gone);
    Ok(GallonsPerMinute(case.flow_gpm(terms, &chances, 0.0).unwrap_or(0.0)))
}

/// One step of a series, over all replications.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SeriesPoint {
    /// End of the step, from dispatch.
    pub time: Seconds,
    /// In the portable tanks at the end of the step, mean.
    pub level: Gallons,
    /// Tenth percentile of the same.
    pub level_low: Gallons,
    /// Ninetieth percentile.
    pub level_high: Gallons,
    /// What tankers gave to the tanks during the step, mean.
    pub offered: GallonsPerMinute,
    /// What the attack took during the step, mean.
    pub drawn: GallonsPerMinute,
    /// Share of the replications whose tanks have run dry by the end of the step.
    pub dry_share: f64,
}

/// Tank level, flow offered and flow drawn against time, at a constant draw from each replication's own
/// start of sustained supply to the end of the period.
pub fn series(
    shuttle: &Shuttle,
    terms: &Terms,
    flow: GallonsPerMinute,
    step: Seconds,
) -> Result<Vec<SeriesPoint>, ShuttleError> {
    check(shuttle)?;
    check_terms(terms)?;
    check_draw(0.0, 0.0, flow.0)?;
    check_period("the step of the series", step.0)?;
    let case = Case::new(shuttle, terms);
    let chances = chances(shuttle, terms, shuttle.tankers.len());
    let engines = Engines::new(case.layout());
    let runs: Vec<Vec<Sample>> = (0..case.replications(terms))
        .into_par_iter()
        .with_min_len(8)
        .map(|replication| {
            let draw = case.draw(&chances, replication, 0.0, flow.0, terms);
            engines.with(|engine| {
                engine.keep_timeline();
                engine.run(case.layout(), &chances, replication, &draw, false);
                let dry_at_s = engine.totals().dry_at_s.unwrap_or(f64::INFINITY);
                sampled(&engine.take_timeline(), step.0, dry_at_s)
            })
        })
        .collect();
    // To the end of the shortest run: beyond it means would be over fewer and fewer.
    let steps = runs.iter().map(Vec::len).min().unwrap_or(0);
    Ok((0..steps).map(|i| across(&runs, i, step)).collect())
}

/// One replication's step.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Sample {
    level: f64,
    brought_gal: f64,
    taken_gal: f64,
    dry: bool,
}

/// Cuts a run into whole steps. Between points every flow is constant, so the sums are exact.
fn sampled(points: &[TimePoint], step_s: f64, dry_at_s: f64) -> Vec<Sample> {
    let end_s = points.last().map_or(0.0, |p| p.time.0);
    let mut samples = vec![Sample::default(); (end_s / step_s) as usize];
    for pair in points.windows(2) {
        let (from, until_s) = (&pair[0], pair[1].time.0);
        let net_per_s = (from.inflow.0 - from.drawn.0) / 60.0;
        let mut at_s = from.time.0;
        while at_s < until_s {
            let step = (at_s / step_s + 1e-9) as usize;
            let Some(sample) = samples.get_mut(step) else { break };
            let stop_s = until_s.min((step + 1) as f64 * step_s);
            sample.brought_gal += from.inflow.0 / 60.0 * (stop_s - at_s);
            sample.taken_gal += from.drawn.0 / 60.0 * (stop_s - at_s);
            sample.level = (from.level.0 + net_per_s * (stop_s - from.time.0)).max(0.0);
            sample.dry = stop_s > dry_at_s;
            at_s = stop_s;
        }
    }
    samples
}

fn across(runs: &[Vec<Sample>], i: usize, step: Seconds) -> SeriesPoint {
    let number = runs.len() as f64;
    let mean = |of: &dyn Fn(&Sample) -> f64| runs.iter().map(|run| of(&run[i])).sum::<f64>() / number;
    let mut levels: Vec<f64> = runs.iter().map(|run| run[i].level).collect();
    levels.sort_by(f64::total_cmp);
    // Nearest rank.
    let rank = |share: f64| levels[((number * share).ceil() as usize).clamp(1, levels.len()) - 1];
    SeriesPoint {
        time: step * (i + 1) as f64,
        level: Gallons(mean(&|s| s.level)),
        level_low: Gallons(rank(0.1)),
        level_high: Gallons(rank(0.9)),
        offered: GallonsPerMinute(mean(&|s| s.brought_gal) / step.minutes()),
        drawn: GallonsPerMinute(mean(&|s| s.taken_gal) / step.minutes()),
        dry_share: mean(&|s| f64::from(u8::from(s.dry))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 600 gpm come from 30 s to 90 s, 300 gpm are drawn from 60 s to 150 s: 600 gal, then none left at 150 s
    /// but 600 - 450 = 150 gal. By minutes: 300 and 300 gal brought, 0, 300 and 150 gal taken.
    #[test]
    fn steps_are_cut_exactly() {
        let point = |s: f64, level: f64, inflow: f64, drawn: f64| TimePoint {
            time: Seconds(s),
            level: Gallons(level),
            inflow: GallonsPerMinute(inflow),
            drawn: GallonsPerMinute(drawn),
        };
        let run = [
            point(0.0, 0.0, 0.0, 0.0),
            point(30.0, 0.0, 600.0, 0.0),
            point(60.0, 300.0, 600.0, 300.0),
            point(90.0, 450.0, 0.0, 300.0),
            point(150.0, 150.0, 0.0, 0.0),
            point(180.0, 150.0, 0.0, 0.0),
        ];
        let samples = sampled(&run, 60.0, f64::INFINITY);
        let want = [(300.0, 300.0, 0.0), (300.0, 300.0, 300.0), (150.0, 0.0, 150.0)];
        assert_eq!(samples.len(), 3);
        for (sample, (level, brought, taken)) in samples.iter().zip(want) {
            assert!((sample.level - level).abs() < 1e-9, "{sample:?}");
            assert!((sample.brought_gal - brought).abs() < 1e-9, "{sample:?}");
            assert!((sample.taken_gal - taken).abs() < 1e-9 && !sample.dry, "{sample:?}");
        }
    }
}
