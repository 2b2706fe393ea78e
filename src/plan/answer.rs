//! The answer: options simulated, ranked, explained.

use crate::finding::{Code, Finding, Findings, Outcome, Refusal, Where};
use crate::place::Place;
use crate::plan::bridges::{self, CrossedBridge};
use crate::plan::call::Call;
use crate::plan::cases::Case;
use crate::plan::circulation::{PlanLoop, plan_loop};
use crate::plan::dump_facts::DumpFacts;
use crate::plan::ground::{Ground, PlacedSite};
use crate::plan::in_time::InTime;
use crate::plan::need::Need;
use crate::plan::options::{Choice, Field};
use crate::plan::reasons::{dump_forbidden, no_dump_site, no_loop, shared_sources};
use crate::plan::request::Problem;
use crate::plan::trade_off::{self, TradeOff};
use crate::roads::network::Network;
use crate::routing::Roads;
use crate::routing::path;
use crate::shuttle::loops::Loop;
use crate::shuttle::{self, Limitation, ShuttleError, Sustained};
use crate::sites::dump::{DumpKind, SupplyLine};
use crate::units::{Gallons, GallonsPerMinute, Seconds};
use crate::vehicle::Load;
use crate::water::source::{Basis, time_to_exhaustion};
use rayon::prelude::*;

/// Dump sites carried forward to loops and simulation.
const DUMPS_CARRIED: usize = 3;
/// Single-site choices carried at the best dump site, besides the best of all.
const CHOICES_CARRIED: usize = 3;
/// Ceilings within this of each other are alike; then the shorter lay is taken.
const CEILING_STEP_GPM: f64 = 10.0;

/// Everything a plan found out.
#[derive(Clone, Debug)]
pub struct Answer {
    pub name: String,
    pub incident_name: String,
    pub incident: Place,
    pub need: GallonsPerMinute,
    pub need_found: Need,
    pub reliability: f64,
    pub period: Seconds,
    pub options: Vec<PlanOption>,
    pub sites: Vec<SiteReport>,
    /// Where no option meets the need.
    pub call: Option<Call>,
    pub findings: Findings,
}

impl Answer {
    pub fn meets_need(&self) -> bool {
        self.options.iter().any(|o| o.meets_need)
    }
}

/// One way to do it.
#[derive(Clone, Debug)]
pub struct PlanOption {
    pub number: usize,
    pub dump: Place,
    pub dump_kind: DumpKind,
    pub dump_road: String,
    pub lay: SupplyLine,
    pub facts: DumpFacts,
    /// None at the dump site nearest to the fire.
    pub trade_off: Option<TradeOff>,
    pub need: GallonsPerMinute,
    pub sustained: Sustained,
    pub ceiling: GallonsPerMinute,
    pub meets_need: bool,
    pub limitation: Limitation,
    pub one_lost: GallonsPerMinute,
    pub in_time: InTime,
    pub loops: Vec<PlanLoop>,
    /// Those on its loops that no sign rates.
    pub bridges: Vec<CrossedBridge>,
    pub findings: Findings,
    /// What was simulated, for those who recompute it.
    pub shuttle: shuttle::Shuttle,
}

/// A fill site that was considered.
#[derive(Clone, Debug)]
pub struct SiteReport {
    pub name: String,
    pub kind: &'static str,
    pub place: Place,
    pub flow: Option<GallonsPerMinute>,
    pub volume: Option<Gallons>,
    pub berths: u32,
    pub verified: bool,
    pub note: String,
    /// How far its yield can be trusted; none where it is out or not rated.
    pub basis: Option<Basis>,
    /// What of it was measured, computed, assumed, and is unknown.
    pub told: Option<String>,
    /// Main or pond that it shares with others.
    pub shares: Option<String>,
    /// How long a volume lasts at the site's own flow.
    pub lasts: Option<Seconds>,
    /// Used by at least one option; else the reason why not.
    pub used: Result<(), String>,
}

/// Plans one incident on roads that were read.
pub fn plan(problem: &Problem, roads: &Roads) -> Outcome<Answer> {
    let mut findings = problem.findings.clone();
    findings.extend(roads.notes.clone());
    // The shuttle knows no files; what it names is found through the scenario.
    let refuse = |e: ShuttleError| {
        let finding = Finding::from(e);
        Refusal(vec![Finding { place: Where::file(&problem.scenario), ..finding }])
    };
    let ground = Ground::lay(problem, roads, &mut findings)?;
    let field = Field::survey(problem, &ground, &mut findings)?;
    if field.dumps.is_empty() {
        findings.add(no_dump_site(&field));
    }
    if let Some(entry) = &field.forbidden {
        findings.add(dump_forbidden(entry));
    }
    let choices: Vec<_> = (0..field.dumps.len()).into_par_iter().map(|d| field.choices(d)).collect();
    // The first dump site's error, whichever thread met one first.
    let mut per_dump =
        choices.into_iter().collect::<Result<Vec<Vec<Choice>>, ShuttleError>>().map_err(refuse)?;
    per_dump.retain(|choices| !choices.is_empty());
    let alone = best_alone(&per_dump, ground.sites.len());
    let carried = carry(&field, per_dump).map_err(refuse)?;
    let mut rated: Vec<(Case, Sustained)> = field
        .cases(&carried)
        .into_par_iter()
        .map(|case| shuttle::sustained(&case.shuttle, &problem.terms).map(|s| (case, s)))
        .collect::<Result<_, ShuttleError>>()
        .map_err(refuse)?;
    let lay = |case: &Case| field.dumps[case.choice.dump].lay.length.0;
    rated.sort_by(|(case_a, a), (case_b, b)| {
        b.flow
            .0
            .total_cmp(&a.flow.0)
            .then(a.start.0.total_cmp(&b.start.0))
            .then(lay(case_a).total_cmp(&lay(case_b)))
            .then(case_a.kind.cmp(&case_b.kind))
    });
    rated.truncate(problem.search.options);
    let best_case = rated.first().map(|(case, _)| case.clone());
    let mut options: Vec<PlanOption> = rated
        .into_par_iter()
        .enumerate()
        .map(|(i, (case, sustained))| explain(&field, i + 1, case, sustained))
        .collect::<Result<_, ShuttleError>>()
        .map_err(refuse)?;
    let call = Call::of(&field, options.first().zip(best_case.as_ref())).map_err(refuse)?;
    trade_off::compare(&mut options);
    let sites =
        ground.sites.iter().enumerate().map(|(i, s)| report(&field, i, s, &options, alone[i])).collect();
    for option in &options {
        findings.extend(option.findings.clone());
    }
    if options.iter().any(|option| option.lay.rise.is_none()) {
        findings.add(Finding::new(
            Code::ElevationUnknown,
            Where::file(&problem.scenario),
            "supply lines are taken as level where no height is known; each foot of rise takes 0.434 psi",
            "give SRTM tiles as `elevation`, or look how far the fire lies above the dump site",
        ));
    }
    Ok(Answer {
        name: problem.name.clone(),
        incident_name: problem.incident_name.clone(),
        incident: field.fire.incident,
        need: problem.need,
        need_found: problem.need_found.clone(),
        reliability: problem.terms.reliability,
        period: problem.terms.period,
        options,
        sites,
        call,
        findings,
    })
}

/// The best ceiling of each site worked alone, over all dump candidates.
fn best_alone(per_dump: &[Vec<Choice>], sites: usize) -> Vec<Option<GallonsPerMinute>> {
    let mut best = vec![None; sites];
    for choice in per_dump.iter().flatten() {
        if let [site] = choice.sites()[..] {
            let known: &mut Option<GallonsPerMinute> = &mut best[site];
            *known = Some(known.map_or(choice.ceiling, |k| k.max(choice.ceiling)));
        }
    }
    best
}

/// The best few: the best dump site with its best choices, then the best dump sites on other roads.
/// At the best dump site the best choice known by simulation is carried beside them.
fn carry(field: &Field, mut per_dump: Vec<Vec<Choice>>) -> Result<Vec<Choice>, ShuttleError> {
    let step = |c: &Choice| (c.ceiling.0 / CEILING_STEP_GPM).round() as i64;
    let lay = |c: &Choice| field.dumps[c.dump].lay.length.0;
    per_dump.sort_by(|a, b| {
        step(&b[0]).cmp(&step(&a[0])).then(lay(&a[0]).total_cmp(&lay(&b[0]))).then(a[0].dump.cmp(&b[0].dump))
    });
    let segment = |c: &Choice| field.dumps[c.dump].spot.segment;
    let mut carried: Vec<Choice> = Vec::new();
    let mut roads: Vec<usize> = Vec::new();
    for choices in per_dump {
        if roads.len() >= DUMPS_CARRIED {
            break;
        }
        if roads.contains(&segment(&choices[0])) {
            continue;
        }
        let most = if roads.is_empty() { CHOICES_CARRIED } else { 1 };
        if roads.is_empty() {
            let refined = field.refined(&choices)?;
            carried.extend(refined.filter(|r| choices.iter().take(most).all(|c| !c.same_way(r))));
        }
        roads.push(segment(&choices[0]));
        carried.extend(choices.into_iter().take(most));
    }
    Ok(carried)
}

fn explain(
    field: &Field,
    number: usize,
    case: Case,
    sustained: Sustained,
) -> Result<PlanOption, ShuttleError> {
    let problem = field.problem;
    let roads = field.ground.roads;
    let dump = &field.dumps[case.choice.dump];
    // Without what small lanes are expected to cost: that is no bound.
    let ceiling = shuttle::ceiling(&case.free, problem.terms.period)?;
    let meetings = shuttle::expected_meetings(&case.free)?;
    let limitation = shuttle::limiter_of(&case.shuttle, &problem.terms, &sustained)?;
    let (in_time, one_lost) = InTime::of(field, &case, &sustained, number == 1)?;
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
    for (site, found, mut members) in groups {
        members.sort_unstable();
        let told = plan_loop(field, &case, site, found, &members, &meetings);
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
    if one_lost.0 > sustained.flow.0 {
        findings.add(Finding::new(
            Code::LaneCrowded,
            Where::default().named(format!("option {number}")),
            format!("with one tanker fewer it holds {one_lost:.0}: they hold each other up on narrow road"),
            "Leave a tanker out, or choose an option whose loops meet less",
        ));
    }
    if sustained.exhausted {
        findings.add(Finding::new(
            Code::SiteVolumeLimited,
            Where::default().named(format!("option {number}")),
            "a source may be emptied within the operational period",
            "Have the next source ready before it is",
        ));
    }
    findings.extend(shared_sources(field, number, &case));
    let drive_through = loops.iter().all(|l| !l.at_dump.turns());
    let facts = DumpFacts::of(field, number, &case, drive_through, &mut findings);
    Ok(PlanOption {
        number,
        dump: dump.spot.place,
        dump_kind: dump.kind,
        dump_road: road_of(&roads.network, dump.spot.segment),
        lay: dump.lay.clone(),
        facts,
        trade_off: None,
        need: problem.need,
        meets_need: sustained.flow.0 >= problem.need.0,
        ceiling: ceiling.flow,
        sustained,
        limitation,
        one_lost,
        in_time,
        loops,
        bridges: crossed,
        findings,
        shuttle: case.shuttle,
    })
}

pub(super) fn road_of(network: &Network, segment: usize) -> String {
    let way = &network.ways[network.segments[segment].way as usize];
    let name = network.name(way);
    if name.is_empty() { format!("unnamed road (way {})", way.id) } else { name.to_string() }
}

fn report(
    field: &Field,
    index: usize,
    placed: &PlacedSite,
    options: &[PlanOption],
    alone: Option<GallonsPerMinute>,
) -> SiteReport {
    let site = &placed.site;
    let used_in_an_option = options.iter().flat_map(|o| &o.loops).any(|l| l.site == site.name);
    let used = match (&placed.state, alone) {
        _ if used_in_an_option => Ok(()),
        (Err(reason), _) => Err(reason.clone()),
        (Ok(_), Some(flow)) => {
            Err(format!("works, but gives at most {flow:.0} alone; the options shown give more"))
        }
        (Ok(_), None) if field.dumps.is_empty() => Err("no dump site within the supply hose's reach".into()),
        (Ok(_), None) => Err(no_loop(field, index)),
    };
    let state = placed.state.as_ref().ok();
    SiteReport {
        name: site.name.clone(),
        kind: site.kind.as_str(),
        place: site.place,
        flow: state.map(|s| s.flow).or(site.flow),
        volume: state.and_then(|s| s.volume).or(site.volume),
        berths: site.berths,
        verified: site.verified,
        note: site.note.clone(),
        basis: state.map(|s| s.basis),
        told: state.map(|s| s.told.clone()),
        shares: site.details.shares.clone(),
        lasts: state.and_then(|s| time_to_exhaustion(s.volume?, s.flow, GallonsPerMinute::ZERO).ok()?),
        used,
    }
}
