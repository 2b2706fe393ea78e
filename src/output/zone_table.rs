//! A zone as a short table for people.

use crate::output::zone::Found;
use crate::units::Metres;
use crate::zone::judge::MILESTONES;
use std::fmt::Write;

/// Road by flow class, in miles and shares.
pub fn write(found: &Found) -> String {
    let summary = found.summary;
    let need = found.zone.problem.need.0;
    let mut text = String::new();
    let miles = |metres: f64| Metres(metres).miles();
    let share = |metres: f64| 100.0 * metres / summary.total_m.max(1e-9);
    // Writing to a string does not fail.
    let _ = writeln!(
        text,
        "{} stretches, {:.1} mi of road; {:.0} gpm can be held on {:.0} % of it at most",
        found.judged.len(),
        miles(summary.total_m),
        need,
        share(summary.meets_need_m)
    );
    let labels = std::iter::once(format!("below {:.0} gpm", MILESTONES[0].0))
        .chain(MILESTONES.windows(2).map(|pair| format!("{:.0} to {:.0} gpm", pair[0].0, pair[1].0)))
        .chain([format!("{:.0} gpm or more", MILESTONES[3].0)]);
    let _ = writeln!(text, "  {:<18}{:>9}{:>7}", "ceiling", "road mi", "share");
    for (label, metres) in labels.zip(summary.class_m) {
        let _ = writeln!(text, "  {label:<18}{:>9.1}{:>6.0} %", miles(metres), share(metres));
    }
    if summary.no_loop_m > 0.0 {
        let _ = writeln!(text, "  no loop is open to {:.1} mi of it", miles(summary.no_loop_m));
    }
    if let Some(worst) = found.gaps.first() {
        let _ = writeln!(
            text,
            "{} gaps below {need:.0} gpm{}; the worst has {:.1} mi of road{} and at least {:.0} gpm",
            found.gaps.len(),
            found
                .buildings_in_gaps()
                .map_or(String::new(), |count| format!(" with {count} buildings in all")),
            miles(worst.road_m),
            found.buildings.map_or(String::new(), |by| format!(", {} buildings", worst.buildings(by))),
            worst.least_gpm
        );
    }
    match &summary.sample {
        Some(sample) => {
            let [least, median, most] = sample.of_ceiling.map(|share| share * 100.0);
            let _ = writeln!(
                text,
                "simulated on {} stretches: sustained flow {median:.0} % of the ceiling ({least:.0} to {most:.0} %); \
                 {} of them meet the need by the ceiling only",
                sample.stretches, sample.lost_need
            );
        }
        None => text.push_str("nothing was simulated\n"),
    }
    text
}
