//! The supply line: its length along its own line and the flow friction leaves it.

use crate::plan::Problem;
use crate::units::METRES_PER_FOOT;
use crate::vehicle::Role;
use crate::verify::answer::PlanOption;
use crate::verify::{ROUNDED, Verification};

/// Pressure wanted at the far end of the line (IFSTA: 20 psi residual at the receiving pump).
const RESIDUAL_PSI: f64 = 20.0;

/// Friction coefficient C of FL = C·(Q/100)²·L/100 by nominal diameter, Q in gpm and L in feet
/// (training publications after IFSTA).
fn friction_coefficient(hose_in: f64) -> Option<f64> {
    const TABLE: [(f64, f64); 10] = [
        (1.5, 24.0),
        (1.75, 15.5),
        (2.0, 8.0),
        (2.5, 2.0),
        (3.0, 0.8),
        (3.5, 0.34),
        (4.0, 0.2),
        (4.5, 0.1),
        (5.0, 0.08),
        (6.0, 0.05),
    ];
    TABLE.iter().find(|(inches, _)| (inches - hose_in).abs() < 0.01).map(|(_, c)| *c)
}

/// Pressure of the pumper that drafts at the dump site: the largest meant for it, else the largest
/// not meant elsewhere, else the largest.
fn drafting_psi(problem: &Problem) -> f64 {
    let rank = |role: Option<Role>| match role {
        Some(Role::Draft) => 2,
        None => 1,
        _ => 0,
    };
    let mut best: Option<(i32, f64, f64)> = None;
    for pumper in &problem.fleet.pumpers {
        let this = (rank(pumper.role), pumper.rated.0, pumper.pressure.0);
        if best.is_none_or(|b| (this.0, this.1) >= (b.0, b.1)) {
            best = Some(this);
        }
    }
    best.map_or(0.0, |(.., psi)| psi)
}

/// Pressure that a foot of height takes (trade reference, hose: 0.434 psi/ft).
const PSI_PER_FOOT: f64 = 0.434;

/// What the drafting pump has left for friction.
pub fn left_psi(problem: &Problem, rise_ft: f64) -> f64 {
    (drafting_psi(problem) - RESIDUAL_PSI - PSI_PER_FOOT * rise_ft).max(0.0)
}

/// Feet from the dump site up to the incident, where the grids tell.
pub fn rise_ft(problem: &Problem, option: &PlanOption) -> Option<f64> {
    let height = |place| problem.roads.elevation.height(place);
    Some((height(problem.incident?)? - height(option.dump)?) / METRES_PER_FOOT)
}

pub fn check(problem: &Problem, option: &PlanOption, found: &mut Verification) {
    let number = option.number;
    let Some((line, points)) = &option.supply else {
        found.add("hose.present", Some(number), false, "the option has no supply line");
        return;
    };
    let length_m: f64 = points.windows(2).map(|p| p[0].distance(p[1]).0).sum();
    // Each point of the drawn line is rounded to about a centimetre.
    let within = ROUNDED + 0.02 * points.len() as f64;
    found.near("hose.length", number, "supply line", line.length_m, length_m, within);
    found.near("hose.length", number, "of the dump site", option.said.supply_line_m, line.length_m, 0.001);
    let ends = points.first() == Some(&option.dump);
    found.add("hose.ends", Some(number), ends, "the supply line starts at the dump site");
    let incident = points.last().zip(problem.incident).map_or(f64::INFINITY, |(p, at)| p.distance(at).0);
    found.near("hose.ends", number, "metres left to the incident", 0.0, incident, 0.02);

    let rise_ft = rise_ft(problem, option);
    match (line.rise_ft, rise_ft) {
        (Some(stated), Some(feet)) => found.near("hose.rise", number, "ft", stated, feet, ROUNDED),
        (stated, feet) => {
            let detail = format!("stated {stated:?} ft, found {feet:?}");
            found.add("hose.rise", Some(number), stated.is_none() && feet.is_none(), detail);
        }
    }
    let feet = line.length_m / METRES_PER_FOOT;
    let stock: f64 = problem
        .fleet
        .pumpers
        .iter()
        .filter(|p| p.role != Some(Role::Fill))
        .flat_map(|p| &p.hose)
        .filter(|h| (h.diameter.0 - line.hose_in).abs() < 0.01)
        .map(|h| h.length.0)
        .sum();
    let asked = feet * f64::from(line.lines);
    found.add(
        "hose.stock",
        Some(number),
        line.lines > 0 && asked <= stock + 1.0,
        format!("{asked:.0} ft of {} in, {stock:.0} ft carried", line.hose_in),
    );
    match friction_coefficient(line.hose_in) {
        Some(c) => {
            // Equal lines share the flow: each carries Q/n at the same loss.
            let left_psi = left_psi(problem, rise_ft.unwrap_or(0.0));
            let each = 100.0 * (left_psi * 100.0 / (c * feet.max(0.01))).sqrt();
            let flow = each * f64::from(line.lines);
            // Half of the length's rounding, halved again by the root.
            let within = ROUNDED + flow * 0.05 / line.length_m.max(0.1);
            found.near("hose.flow", number, "gpm", line.flow_gpm, flow, within);
        }
        None => found.add("hose.flow", Some(number), false, format!("no {} in hose is known", line.hose_in)),
    }
    let same = option.said.supply_line_flow_gpm;
    found.near("hose.flow", number, "of the dump site, gpm", same, line.flow_gpm, 0.001);
}
