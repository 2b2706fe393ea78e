//! Estimates from a log. Times are taken as log-normal, as the simulation draws them: skewed to the long
//! side. What lies far outside is told by row and left out first; then means and spreads are those of
//! the logarithms, with their textbook intervals.
//!
//! Interval of a log-normal mean: m + s²/2 ± t·√(s²/n + s⁴/2(n−1)) (Cox's method, after Zhou and Gao 1997,
//! from memory, with t in place of z). Of a spread: the chi-squared interval of s², as cv = √(exp s² − 1).

use super::log::{Timed, What};
use super::{Basis, Estimate, Fitted};
use crate::finding::{Code, Finding, Findings, Where};
use statrs::distribution::{ChiSquared, ContinuousCDF, StudentsT};
use std::collections::BTreeMap;

/// Fewer rows than this say nothing about a spread (a judgement, no source).
pub const LEAST_ROWS: usize = 6;
/// A line through gallons and seconds needs two more.
const LEAST_ROWS_LINE: usize = 8;
/// Loads must differ by half to tell handling from the water's time.
const LEAST_VARIETY: f64 = 1.5;
/// In robust standard deviations. Those of a few dozen readings are a sixth off themselves, so that nearer
/// in good readings would be cut and spreads come out too small; a watch that ran on is farther out.
const FAR_OUT: f64 = 5.0;
/// A standard deviation is so many median absolute deviations.
const MAD: f64 = 1.4826;
/// T = 0.65 + 1.7·D minutes (ISO, from a RAND study; 35 mph).
const STANDARD: (f64, f64) = (39.0, 102.0);
/// Taken for the water's own time where it was not timed: `shuttle::Spread`'s default.
const SERVICE_CV: f64 = 0.10;

/// One reading with its row.
type Reading = (usize, f64);

/// Fits what can be fitted; everything else is a finding.
pub fn fit(rows: &[Timed], file: &str, findings: &mut Findings) -> Fitted {
    let mut fitted = Fitted::default();
    let mut fitter = Fitter { file, findings };
    let legs = |what: What| rows.iter().filter(move |r| r.what == what);
    let all_modelled = rows.iter().any(|r| r.modelled_s.is_some());
    fitted.basis = legs(What::Loaded)
        .chain(legs(What::Empty))
        .next()
        .map(|_| if all_modelled { Basis::Modelled } else { Basis::Standard });
    let ratio = |row: &Timed| -> Option<Reading> {
        let against_s = match (row.modelled_s, row.distance_mi) {
            (Some(modelled_s), _) => Some(modelled_s),
            (None, Some(miles)) if !all_modelled => Some(STANDARD.0 + STANDARD.1 * miles),
            _ => None,
        };
        Some((row.row, row.seconds / against_s?))
    };
    let mut travel = Vec::new();
    for (what, slot) in [(What::Loaded, &mut fitted.loaded_factor), (What::Empty, &mut fitted.empty_factor)] {
        let readings: Vec<Reading> = legs(what).filter_map(ratio).collect();
        let skipped = legs(what).count() - readings.len();
        if skipped > 0 {
            fitter.not(what.as_str(), format!("{skipped} legs with miles only stand beside timed models"));
        }
        if let Some(logs) = fitter.logs(&readings, &format!("{} legs", what.as_str())) {
            *slot = Some(mean_of(&logs));
            travel.push(logs);
        }
    }
    fitted.travel_cv = fitter.pooled(&travel, "driving");
    let mut handling = Vec::new();
    let mut water: BTreeMap<(What, &str), Vec<Reading>> = BTreeMap::new();
    let mut by_line = Vec::new();
    for (what, slot) in [(What::Fill, &mut fitted.fill_handling), (What::Dump, &mut fitted.dump_handling)] {
        let timed: Vec<Reading> = legs(what)
            .filter_map(|r| Some((r.row, r.seconds - r.water_s?)))
            .filter(|(_, handling_s)| *handling_s > 0.0)
            .collect();
        for row in legs(what) {
            if let (Some(water_s), Some(gallons)) = (row.water_s, row.gallons) {
                water.entry((what, &row.tanker)).or_default().push((row.row, water_s / gallons));
            }
        }
        if !timed.is_empty() {
            if let Some(logs) = fitter.logs(&timed, &format!("{} rows with water_s", what.as_str())) {
                *slot = Some(mean_of(&logs));
                handling.push(logs);
            }
        } else if let Some(line) = fitter.line(legs(what), what) {
            *slot = Some(line.handling);
            by_line.extend(line.cv);
        }
    }
    fitted.handling_cv = match handling.is_empty() {
        false => fitter.pooled(&handling, "handling"),
        true => wider(&by_line),
    };
    // Each tanker has a rate of its own; what varies about it is the spread.
    let groups: Vec<Vec<f64>> = water
        .values()
        .filter(|group| group.len() >= 3)
        .map(|group| fitter.inliers(group, "filling or unloading"))
        .collect();
    if !groups.is_empty() {
        fitted.service_cv = fitter.pooled(&groups, "filling and unloading");
    }
    fitted
}

struct Fitter<'a> {
    file: &'a str,
    findings: &'a mut Findings,
}

/// Handling as what a fill or dump takes with no water at all.
struct Line {
    handling: Estimate,
    cv: Option<Estimate>,
}

impl Fitter<'_> {
    fn not(&mut self, what: &str, why: String) {
        self.findings.add(Finding::new(
            Code::DrillNotFitted,
            Where::file(self.file).named(what),
            format!("it is not fitted: {why}"),
            "time more of it, or leave the tool's own figure",
        ));
    }

    /// Logarithms of the readings without those far out; none where they are too few or all the same.
    fn logs(&mut self, readings: &[Reading], what: &str) -> Option<Vec<f64>> {
        if readings.len() < LEAST_ROWS {
            if !readings.is_empty() {
                self.not(what, format!("{} rows, and {LEAST_ROWS} are needed", readings.len()));
            } else {
                self.not(what, "there are none".into());
            }
            return None;
        }
        let logs = self.inliers(readings, what);
        let first = logs[0];
        if logs.iter().all(|log| (log - first).abs() < 1e-9) {
            self.not(what, format!("all {} readings are the same, as if one had been copied", logs.len()));
            return None;
        }
        Some(logs)
    }

    fn inliers(&mut self, readings: &[Reading], what: &str) -> Vec<f64> {
        let logs: Vec<f64> = readings.iter().map(|(_, value)| value.ln()).collect();
        let middle = median(&logs);
        let spread = MAD * median(&logs.iter().map(|log| (log - middle).abs()).collect::<Vec<_>>());
        let mut kept = Vec::new();
        for ((row, value), log) in readings.iter().zip(logs) {
            if readings.len() >= LEAST_ROWS && spread > 0.0 && (log - middle).abs() > FAR_OUT * spread {
                self.left_out(*row, what, format!("{value:.2} is far from the median {:.2}", middle.exp()));
            } else {
                kept.push(log);
            }
        }
        kept
    }

    fn left_out(&mut self, row: usize, what: &str, why: String) {
        self.findings.add(Finding::new(
            Code::DrillRowLeftOut,
            Where::file(self.file).row(row).named(what),
            format!("the row is left out: {why}"),
            "look it up; if it was a real delay that comes again, time more of them",
        ));
    }

    /// The spread common to groups, each about its own mean.
    fn pooled(&mut self, groups: &[Vec<f64>], what: &str) -> Option<Estimate> {
        let rows: usize = groups.iter().map(Vec::len).sum();
        let freedom: usize = groups.iter().map(|g| g.len().saturating_sub(1)).sum();
        if freedom + 1 < LEAST_ROWS {
            if freedom > 0 {
                self.not(&format!("spread of {what}"), format!("{rows} rows are too few"));
            }
            return None;
        }
        let sum: f64 = groups.iter().map(|g| variance(g) * (g.len() - 1) as f64).sum();
        Some(cv_estimate(sum / freedom as f64, freedom as f64, rows))
    }

    /// Handling from the line of seconds over gallons.
    fn line<'r>(&mut self, rows: impl Iterator<Item = &'r Timed>, what: What) -> Option<Line> {
        let title = format!("handling at a {}", what.as_str());
        let mut points: Vec<(usize, f64, f64)> =
            rows.filter_map(|r| Some((r.row, r.gallons?, r.seconds))).collect();
        if points.len() < LEAST_ROWS_LINE {
            self.not(
                &title,
                format!(
                    "{} rows without water_s, and {LEAST_ROWS_LINE} are needed to tell it from the water's time",
                    points.len()
                ),
            );
            return None;
        }
        let least = points.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
        let most = points.iter().map(|p| p.1).fold(0.0, f64::max);
        if most < LEAST_VARIETY * least {
            self.not(
                &title,
                format!("loads of {least:.0} to {most:.0} gal differ too little, and water_s is not given"),
            );
            return None;
        }
        // Theil and Sen's line says what is far out; the rest is fitted by least squares.
        let slope = theil_sen(&points);
        let rests: Vec<f64> = points.iter().map(|(_, gal, s)| s - slope * gal).collect();
        let middle = median(&rests);
        let spread = MAD * median(&rests.iter().map(|r| (r - middle).abs()).collect::<Vec<_>>());
        let mut kept = Vec::new();
        for (point, rest) in points.drain(..).zip(rests) {
            if spread > 0.0 && (rest - middle).abs() > FAR_OUT * spread {
                self.left_out(point.0, &title, format!("{:.0} s is far off the line", point.2));
            } else {
                kept.push(point);
            }
        }
        let line = least_squares(&kept);
        if line.is_none() {
            self.not(&title, "the line through gallons and seconds makes no sense".into());
        }
        line
    }
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    match sorted.len() {
        0 => 0.0,
        n if n % 2 == 1 => sorted[n / 2],
        n => (sorted[n / 2 - 1] + sorted[n / 2]) / 2.0,
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

fn variance(values: &[f64]) -> f64 {
    let middle = mean(values);
    values.iter().map(|v| (v - middle).powi(2)).sum::<f64>() / (values.len().max(2) - 1) as f64
}

/// Both-sided 95 % point of Student's t.
fn student(freedom: f64) -> f64 {
    StudentsT::new(0.0, 1.0, freedom).map_or(1.96, |t| t.inverse_cdf(0.975))
}

/// The mean of what these are the logarithms of.
fn mean_of(logs: &[f64]) -> Estimate {
    let n = logs.len() as f64;
    let (m, s2) = (mean(logs), variance(logs));
    let half = student(n - 1.0) * (s2 / n + s2 * s2 / (2.0 * (n - 1.0))).sqrt();
    let at = |shift: f64| (m + s2 / 2.0 + shift).exp();
    Estimate { value: at(0.0), low: at(-half), high: at(half), rows: logs.len() }
}

/// The spread of what has this variance of its logarithms.
fn cv_estimate(s2: f64, freedom: f64, rows: usize) -> Estimate {
    let cv = |variance: f64| variance.exp_m1().max(0.0).sqrt();
    let bound = |p: f64| ChiSquared::new(freedom).map_or(1.0, |chi| freedom / chi.inverse_cdf(p));
    Estimate { value: cv(s2), low: cv(s2 * bound(0.975)), high: cv(s2 * bound(0.025)), rows }
}

fn theil_sen(points: &[(usize, f64, f64)]) -> f64 {
    let mut slopes = Vec::new();
    for (i, a) in points.iter().enumerate() {
        slopes.extend(points[i + 1..].iter().filter(|b| b.1 != a.1).map(|b| (b.2 - a.2) / (b.1 - a.1)));
    }
    median(&slopes)
}

/// Seconds = handling + slope · gallons, with an interval that does not trust the scatter to be even
/// (White's, with the factor n/(n−2)). None where handling or slope are not positive.
fn least_squares(points: &[(usize, f64, f64)]) -> Option<Line> {
    let n = points.len() as f64;
    let gal = mean(&points.iter().map(|p| p.1).collect::<Vec<_>>());
    let s = mean(&points.iter().map(|p| p.2).collect::<Vec<_>>());
    let about: f64 = points.iter().map(|p| (p.1 - gal).powi(2)).sum();
    let slope = points.iter().map(|p| (p.1 - gal) * (p.2 - s)).sum::<f64>() / about;
    let handling = s - slope * gal;
    if points.len() < LEAST_ROWS_LINE || !(slope > 0.0 && handling > 0.0) {
        return None;
    }
    let rest = |p: &(usize, f64, f64)| p.2 - handling - slope * p.1;
    let weight = |p: &(usize, f64, f64)| 1.0 / n - gal * (p.1 - gal) / about;
    let error: f64 = points.iter().map(|p| (weight(p) * rest(p)).powi(2)).sum::<f64>() * n / (n - 2.0);
    let half = student(n - 2.0) * error.sqrt();
    let rows = points.len();
    let estimate = Estimate { value: handling, low: (handling - half).max(0.0), high: handling + half, rows };
    // What scatter is left when the water's own is taken off is handling's.
    let scatter = points.iter().map(|p| rest(p).powi(2)).sum::<f64>() / (n - 2.0);
    let water = mean(&points.iter().map(|p| (SERVICE_CV * slope * p.1).powi(2)).collect::<Vec<_>>());
    let cv = |scatter: f64| ((scatter - water).max(0.0)).sqrt() / handling;
    let bound = |p: f64| ChiSquared::new(n - 2.0).map_or(1.0, |chi| (n - 2.0) / chi.inverse_cdf(p));
    let cv = (scatter > water).then(|| Estimate {
        value: cv(scatter),
        low: cv(scatter * bound(0.975)),
        high: cv(scatter * bound(0.025)),
        rows,
    });
    Some(Line { handling: estimate, cv })
}

/// Two spreads of handling, from lines: the mean of both, and an interval that holds both.
fn wider(of: &[Estimate]) -> Option<Estimate> {
    let rows = of.iter().map(|e| e.rows).sum::<usize>();
    let weighted = of.iter().map(|e| e.value * e.rows as f64).sum::<f64>();
    (rows > 0).then(|| Estimate {
        value: weighted / rows as f64,
        low: of.iter().map(|e| e.low).fold(f64::INFINITY, f64::min),
        high: of.iter().map(|e| e.high).fold(0.0, f64::max),
        rows,
    })
}
