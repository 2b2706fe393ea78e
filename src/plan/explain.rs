//! One option explained: its loops, its dump site, what was noticed on the way, what the simulation found.

use crate::finding::{Code, Finding, Findings, Where};
use crate::plan::answer::{PlanOption, Simulated};
use crate::plan::bridges::{self, CrossedBridge};
use crate::plan::cases::Case;
use crate::plan::circulation::plan_loop;
use crate::plan::dump_facts::DumpFacts;
use crate::plan::in_time::InTime;
use crate::plan::options::Field;
use crate::plan::reasons::shared_sources;
use crate::plan::request::Problem;
use crate::plan::rig::{self, RigAnswer, RigProblem};
use crate::roads::network::{Arc, Network};
use crate::routing::path;
use crate::shuttle::loops::Loop;
use crate::shuttle::{self, ShuttleError, Sustained};
use crate::sites::dump::SupplyLine;
use crate::vehicle::Load;
use std::collections::HashSet;

/// An option of a case; `sustained` is none where nothing is simulated.
pub(super) fn explain(
    field: &Field,
    number: usize,
    case: Case,
    sustained: Option<Sustained>,
) -> Result<PlanOption, ShuttleError> {
    let problem = field.problem;
    let roads = field.ground.roads;
    let dump = &field.dumps[case.choice.dump];
    // Without what small lanes are expected to cost: that is no bound.
    let ceiling = shuttle::ceiling(&case.free, problem.terms.period)?;
    let meetings = shuttle::expected_meetings(&case.free)?;
    let simulated = sustained.map(|sustained| simulated(field, number, &case, sustained)).transpose()?;
    let mut findings = Findings::new();
    let (mut loops, mut crossed) = (Vec::new(), Vec::new());
    // Classes that drive the same way are one group to people.
    let mut groups: Vec<(usize, &Loop, Vec<usize>)> = Vec::new();
    for ((class, site), found) in &case.loops {
        let members: Vec<usize> = (0..case.tankers.len())
            .filter(|&m| {
                field.class_of(case.tankers[m]) == *class && case.fills[case.shuttle.tankers[m].fill] == *site
            })
            .collect();
        if members.is_empty() {
            continue;
        }
        let class = &field.ground.classes[*class];
        let of_path = path::findings(&class.full, &found.loaded);
        // Bridges are told once an option, with the heaviest tanker.
        let of_bridge = |f: &Finding| matches!(f.code, Code::BridgeUnposted | Code::BridgeKnown);
        findings.extend(of_path.into_iter().filter(|f| !of_bridge(f)));
        findings.extend(path::findings(&class.empty, &found.empty));
        for &member in &members {
            let chassis = &problem.fleet.tankers[case.tankers[member]].chassis;
            bridges::cross(&roads.network, &found.loaded, chassis, Load::Full, &mut crossed);
            bridges::cross(&roads.network, &found.empty, chassis, Load::Empty, &mut crossed);
        }
        match groups.iter_mut().find(|(s, l, _)| s == site && *l == found) {
            Some((.., known)) => known.extend(members),
            None => groups.push((*site, found, members)),
        }
    }
    findings.extend(crossed.iter().map(CrossedBridge::finding));
    let driven: HashSet<Arc> = groups
        .iter()
        .flat_map(|(_, found, _)| found.loaded.arcs.iter().chain(&found.empty.arcs))
        .copied()
        .collect();
    for (site, found, mut members) in groups {
        members.sort_unstable();
        let told = plan_loop(field, &case, site, found, &members, &meetings, &driven);
        let fill = found.loaded_origin(roads);
        for (at, place, what) in
            [(&told.at_dump, dump.spot.place, "dump site"), (&told.at_fill, fill, "fill site")]
        {
            if at.turns() {
                findings.add(Finding::new(
                    Code::Backing,
                    Where::default().named(what).at(place),
                    format!("at the {what} a tanker {}", at.turning.said()),
                    "Find room to turn, or back with a spotter",
                ));
            }
        }
        loops.push(told);
    }
    for (i, tanker) in problem.fleet.tankers.iter().enumerate() {
        if case.tankers.contains(&i) || tanker.chassis.call.is_some() {
            continue;
        }
        let at = Where::file(&problem.fleet_file).named(tanker.chassis.id.clone());
        let can = |loops: &std::collections::BTreeMap<(usize, usize), Loop>| {
            loops.keys().any(|(class, _)| *class == field.class_of(i))
        };
        findings.add(if case.choice.site_of[i].is_none() && can(&case.loops) {
            Finding::new(
                Code::TankerLeftOut,
                at,
                format!("it takes no part in option {number}: the others bring more without it"),
                "Keep it ready in case one drops out",
            )
        } else {
            Finding::new(
                Code::TankerCannotReach,
                at,
                format!(
                    "it takes no part in option {number}: no loop or no way from its station is open to it"
                ),
                "Use it to carry hose, or choose an option it can drive",
            )
        });
    }
    if let Some(found) = &simulated {
        findings.extend(noticed(number, found));
    }
    findings.extend(shared_sources(field, number, &case));
    let drive_through = loops.iter().all(|l| !l.at_dump.turns());
    let facts = DumpFacts::of(field, number, &case, drive_through, &mut findings);
    let flow = simulated.as_ref().map_or(ceiling.flow, |found| found.sustained.flow);
    Ok(PlanOption {
        number,
        dump: dump.spot.place,
        dump_kind: dump.kind,
        dump_road: road_of(&roads.network, dump.spot.segment),
        lay: dump.lay.clone(),
        facts,
        trade_off: None,
        need: problem.need,
        meets_need: flow.0 >= problem.need.0,
        ceiling: ceiling.flow,
        simulated,
        loops,
        rig: rig_of(problem, &dump.lay),
        bridges: crossed,
        findings,
        shuttle: case.shuttle,
    })
}

/// Parts that make no rig are told as findings by `DumpFacts`.
fn rig_of(problem: &Problem, lay: &SupplyLine) -> Option<(RigProblem, RigAnswer)> {
    let asked = rig::at_dump(problem, lay).ok()??;
    let found = rig::answer(&asked).ok()?;
    Some((asked, found))
}

fn simulated(
    field: &Field,
    number: usize,
    case: &Case,
    sustained: Sustained,
) -> Result<Simulated, ShuttleError> {
    let limitation = shuttle::limiter_of(&case.shuttle, &field.problem.terms, &sustained)?;
    let (in_time, one_lost) = InTime::of(field, case, &sustained, number == 1)?;
    Ok(Simulated { sustained, limitation, one_lost, in_time })
}

/// What only the simulation shows.
fn noticed(number: usize, found: &Simulated) -> Vec<Finding> {
    let mut findings = Vec::new();
    let Simulated { sustained, one_lost, .. } = found;
    if one_lost.0 > sustained.flow.0 {
        findings.push(Finding::new(
            Code::LaneCrowded,
            Where::default().named(format!("option {number}")),
            format!("with one tanker fewer it holds {one_lost:.0}: they hold each other up on narrow road"),
            "Leave a tanker out, or choose an option whose loops meet less",
        ));
    }
    if sustained.exhausted {
        findings.push(Finding::new(
            Code::SiteVolumeLimited,
            Where::default().named(format!("option {number}")),
            "a source may be emptied within the operational period",
            "Have the next source ready before it is",
        ));
    }
    findings
}

pub(super) fn road_of(network: &Network, segment: usize) -> String {
    let way = &network.ways[network.segments[segment].way as usize];
    let name = network.name(way);
    if name.is_empty() { format!("unnamed road (way {})", way.id) } else { name.to_string() }
}
