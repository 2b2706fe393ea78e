//! When the first loads are in the portable tanks: the start of sustained supply.

use super::chance::Chances;
use super::layout::Layout;

/// Seconds from dispatch until the first tanker begins to unload, and until the last has unloaded
/// its first load. Tankers are served at the dump berths in order of arrival; the tanks have room for
/// everything and no second load is in the way, so that neither depends on the draw.
pub(super) fn first_loads_s(layout: &Layout, chances: &Chances, replication: u32) -> (f64, f64) {
    let luck = chances.of(replication);
    let mut arrivals: Vec<(f64, usize)> = layout
        .rows
        .iter()
        .enumerate()
        .map(|(i, row)| (row.arrives_s * luck.of(row.luck, 0, |t| t.loaded), i))
        .collect();
    arrivals.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut free_s = vec![0.0_f64; layout.dump_berths];
    let (mut first_s, mut last_s) = (f64::INFINITY, 0.0_f64);
    for (arrives_s, tanker) in arrivals {
        let row = &layout.rows[tanker];
        let Some(berth_s) = free_s.iter_mut().min_by(|a, b| a.total_cmp(b)) else { continue };
        let water_s =
            berth_s.max(arrives_s) + row.dump_handling_s * luck.of(row.luck, 0, |t| t.dump_handling);
        *berth_s = water_s + row.load / row.dump_rate * luck.of(row.luck, 0, |t| t.dump_service);
        first_s = first_s.min(water_s);
        last_s = last_s.max(*berth_s);
    }
    (first_s.min(last_s), last_s)
}
