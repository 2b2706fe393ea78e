//! The most a shuttle can carry in the long run, as a linear programme: trips per minute of each
//! tanker, none more often than its undisturbed cycle, no berth, source or draw asked for more
//! than it has (the asymptotic bounds of closed queueing networks, Lazowska et al. 1984).
//! Solved by the plain simplex method.

use crate::verify::crew::Crew;

/// Greatest value of `gain · x` with `rows · x ≤ limits`, x ≥ 0, all limits ≥ 0. None where there
/// is no greatest value.
pub fn maximise(gain: &[f64], rows: &[Vec<f64>], limits: &[f64]) -> Option<f64> {
    let (n, m) = (gain.len(), rows.len());
    // One line per row with its slack, the last column its limit; the gains below.
    let mut tableau: Vec<Vec<f64>> = (0..m)
        .map(|r| {
            let slack = (0..m).map(|s| if s == r { 1.0 } else { 0.0 });
            rows[r].iter().copied().chain(slack).chain([limits[r].max(0.0)]).collect()
        })
        .collect();
    let mut goal: Vec<f64> = gain.iter().map(|g| -g).chain(vec![0.0; m + 1]).collect();
    let last = n + m;
    // Bland's rule (always the first column that gains) cannot go round in circles; the count is
    // there for numbers that are not finite.
    for _ in 0..10_000 {
        let Some(column) = (0..last).find(|c| goal[*c] < -1e-9) else { return Some(goal[last]) };
        let mut pivot: Option<(f64, usize)> = None;
        for (r, row) in tableau.iter().enumerate() {
            if row[column] > 1e-12 {
                let ratio = row[last] / row[column];
                if pivot.is_none_or(|(least, _)| ratio < least) {
                    pivot = Some((ratio, r));
                }
            }
        }
        let (_, r) = pivot?;
        let by = tableau[r][column];
        let row: Vec<f64> = tableau[r].iter().map(|x| x / by).collect();
        let clear = |line: &mut Vec<f64>| {
            let times = line[column];
            for (x, y) in line.iter_mut().zip(&row) {
                *x -= times * y;
            }
        };
        for (i, line) in tableau.iter_mut().enumerate() {
            if i != r {
                clear(line);
            }
        }
        clear(&mut goal);
        tableau[r] = row;
    }
    None
}

/// Which limits a bound heeds.
#[derive(Clone, Copy, PartialEq)]
enum Heed {
    /// All of them together.
    All,
    DumpBerths,
    FillBerths(usize),
}

/// The bound in gpm under all limits together: the tightest.
pub fn joint_gpm(crew: &Crew, draw_gpm: f64) -> Option<f64> {
    Some(programme_gpm(crew, Heed::All)?.min(draw_gpm))
}

/// The bound in gpm with each element looked at alone, and the least taken: berths of a site, its
/// flow, its volume, the dump berths, the draw. Never below the joint bound, and just as true.
pub fn separate_gpm(crew: &Crew, draw_gpm: f64) -> Option<f64> {
    let mut filled = 0.0;
    for (s, source) in crew.sources.iter().enumerate() {
        let berths = programme_gpm(crew, Heed::FillBerths(s))?;
        let volume = volume_gpm(crew, s).unwrap_or(f64::INFINITY);
        filled += berths.min(source.flow_gpm).min(volume);
    }
    Some(programme_gpm(crew, Heed::DumpBerths)?.min(filled).min(draw_gpm))
}

/// A finite source, spread over the period, with the first loads, which were filled elsewhere.
fn volume_gpm(crew: &Crew, source: usize) -> Option<f64> {
    let first: f64 = crew.trucks.iter().filter(|t| t.source == source).map(|t| t.load_gal).sum();
    Some((crew.sources[source].volume_gal? + first) / (crew.period_s / 60.0))
}

fn programme_gpm(crew: &Crew, heed: Heed) -> Option<f64> {
    let trucks = &crew.trucks;
    // A truck of another site carries nothing where one site is looked at alone.
    let counts = |i: usize| !matches!(heed, Heed::FillBerths(s) if trucks[i].source != s);
    let loads: Vec<f64> =
        (0..trucks.len()).map(|i| if counts(i) { trucks[i].load_gal } else { 0.0 }).collect();
    let (mut rows, mut limits) = (Vec::new(), Vec::new());
    for (i, truck) in trucks.iter().enumerate() {
        rows.push((0..trucks.len()).map(|j| if i == j { 1.0 } else { 0.0 }).collect());
        limits.push(60.0 / truck.cycle_s(&crew.sources));
    }
    for (s, source) in crew.sources.iter().enumerate() {
        let here = |value: &dyn Fn(usize) -> f64| -> Vec<f64> {
            (0..trucks.len()).map(|i| if trucks[i].source == s { value(i) } else { 0.0 }).collect()
        };
        if heed == Heed::All || heed == Heed::FillBerths(s) {
            rows.push(here(&|i| trucks[i].fill_s(source) / 60.0));
            limits.push(f64::from(source.berths));
        }
        if heed == Heed::All {
            rows.push(here(&|i| loads[i]));
            limits.push(volume_gpm(crew, s).map_or(source.flow_gpm, |v| v.min(source.flow_gpm)));
        }
    }
    if heed == Heed::All || heed == Heed::DumpBerths {
        rows.push(trucks.iter().map(|t| t.dump_s() / 60.0).collect());
        limits.push(f64::from(crew.dump_berths));
    }
    maximise(&loads, &rows, &limits)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two products, three limits; corners (0,6) 30, (2,6) 36, (4,3) 27: Dantzig's classroom form.
    #[test]
    fn a_classroom_programme() {
        let rows = [vec![1.0, 0.0], vec![0.0, 2.0], vec![3.0, 2.0]];
        let best = maximise(&[3.0, 5.0], &rows, &[4.0, 12.0, 18.0]).unwrap();
        assert!((best - 36.0).abs() < 1e-9);
        assert!(maximise(&[1.0], &[vec![-1.0]], &[1.0]).is_none(), "no bound");
    }
}
