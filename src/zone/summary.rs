//! A zone in a few figures: road by flow class, and how the simulation compares.

use super::Zone;
use super::judge::MILESTONES;
use super::record::Record;
use super::sample::Sampled;
use serde_json::{Value, json};

/// Road length by what flow it has.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    /// Metres of road below 250 gpm, from 250, 500, 750 and 1,000 gpm on.
    pub class_m: [f64; 5],
    /// Metres without any loop.
    pub no_loop_m: f64,
    pub total_m: f64,
    pub meets_need_m: f64,
    pub sample: Option<Comparison>,
}

/// The simulation against the closed form, over the stretches sampled that have a loop.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    pub stretches: usize,
    /// Sustained flow over ceiling: least, median, greatest.
    pub of_ceiling: [f64; 3],
    /// Of these stretches, those that meet the need by the ceiling and do not by the simulation.
    pub lost_need: usize,
}

impl Summary {
    pub fn of(zone: &Zone, judged: &Record, sampled: &[Sampled]) -> Summary {
        let network = &zone.ground.roads.network;
        let need = zone.problem.need.0;
        let mut summary =
            Summary { class_m: [0.0; 5], no_loop_m: 0.0, total_m: 0.0, meets_need_m: 0.0, sample: None };
        for ((stretch, ceiling), has_loop) in
            zone.stretches.iter().zip(&judged.ceiling_gpm).zip(&judged.has_loop)
        {
            let metres = stretch.length(network).0;
            let class = MILESTONES.iter().filter(|flow| *ceiling >= flow.0).count();
            summary.class_m[class] += metres;
            summary.total_m += metres;
            if !has_loop {
                summary.no_loop_m += metres;
            }
            if *ceiling >= need {
                summary.meets_need_m += metres;
            }
        }
        let of_loops = |s: &&Sampled| judged.ceiling_gpm[s.stretch] > 0.0;
        let with_loop: Vec<&Sampled> = sampled.iter().filter(of_loops).collect();
        let mut shares: Vec<f64> =
            with_loop.iter().map(|s| s.sustained_gpm / judged.ceiling_gpm[s.stretch]).collect();
        shares.sort_by(f64::total_cmp);
        if let (Some(least), Some(most)) = (shares.first(), shares.last()) {
            let lost = |s: &&&Sampled| judged.ceiling_gpm[s.stretch] >= need && s.sustained_gpm < need;
            summary.sample = Some(Comparison {
                stretches: shares.len(),
                of_ceiling: [*least, shares[shares.len() / 2], *most],
                lost_need: with_loop.iter().filter(lost).count(),
            });
        }
        summary
    }

    pub fn json(&self) -> Value {
        let round = |metres: f64| metres.round();
        json!({
            "road_m": round(self.total_m),
            "no_loop_m": round(self.no_loop_m),
            "ceiling_meets_need_m": round(self.meets_need_m),
            "below_250_gpm_m": round(self.class_m[0]),
            "from_250_gpm_m": round(self.class_m[1]),
            "from_500_gpm_m": round(self.class_m[2]),
            "from_750_gpm_m": round(self.class_m[3]),
            "from_1000_gpm_m": round(self.class_m[4]),
            "sample": self.sample.as_ref().map(|s| json!({
                "stretches": s.stretches,
                "sustained_of_ceiling_least": (s.of_ceiling[0] * 1e3).round() / 1e3,
                "sustained_of_ceiling_median": (s.of_ceiling[1] * 1e3).round() / 1e3,
                "sustained_of_ceiling_most": (s.of_ceiling[2] * 1e3).round() / 1e3,
                "need_met_by_ceiling_only": s.lost_need,
            })),
        })
    }
}
