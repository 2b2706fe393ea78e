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

/// The bound in gpm with a limit on the draw. A finite source counts with the flow that empties it
/// over the period.
pub fn ceiling_gpm(crew: &Crew, draw_gpm: f64) -> Option<f64> {
    let trucks = &crew.trucks;
    let loads: Vec<f64> = trucks.iter().map(|t| t.load_gal).collect();
    let (mut rows, mut limits) = (Vec::new(), Vec::new());
    for (i, truck) in trucks.iter().enumerate() {
        rows.push((0..trucks.len()).map(|j| if i == j { 1.0 } else { 0.0 }).collect());
        limits.push(60.0 / truck.cycle_s(&crew.sources));
    }
    for (s, source) in crew.sources.iter().enumerate() {
        let here = |value: &dyn Fn(usize) -> f64| -> Vec<f64> {
            (0..trucks.len()).map(|i| if trucks[i].source == s { value(i) } else { 0.0 }).collect()
        };
        rows.push(here(&|i| trucks[i].fill_s(source) / 60.0));
        limits.push(f64::from(source.berths));
        rows.push(here(&|i| loads[i]));
        limits.push(source.flow_gpm);
        if let Some(volume) = source.volume_gal {
            rows.push(here(&|i| loads[i]));
            limits.push(volume / (crew.period_s / 60.0));
        }
    }
    rows.push(trucks.iter().map(|t| t.dump_s() / 60.0).collect());
    limits.push(f64::from(crew.dump_berths));
    rows.push(loads.clone());
    limits.push(draw_gpm);
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
