//! From a request to its answer: options by the closed form, simulated, ranked, explained.

use crate::finding::{Code, Finding, Findings, Outcome, Refusal, Where};
use crate::plan::answer::{Answer, PlanOption, report};
use crate::plan::call::Call;
use crate::plan::cases::{Case, LoopBook};
use crate::plan::explain::explain;
use crate::plan::ground::Ground;
use crate::plan::options::{Choice, Field};
use crate::plan::reasons::{dump_forbidden, no_dump_site};
use crate::plan::request::Problem;
use crate::plan::terrain::Terrain;
use crate::plan::trade_off;
use crate::plan::watch::{Progress, Unwatched, Watch, go_on};
use crate::routing::Roads;
use crate::shuttle::{self, ShuttleError, Sustained};
use crate::units::GallonsPerMinute;
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Dump sites carried forward to loops and simulation.
const DUMPS_CARRIED: usize = 3;
/// Single-site choices carried at the best dump site, besides the best of all.
const CHOICES_CARRIED: usize = 3;
/// Ceilings within this of each other are alike; then the shorter lay is taken.
const CEILING_STEP_GPM: f64 = 10.0;

/// Plans one incident on roads that were read.
pub fn plan(problem: &Problem, roads: &Roads) -> Outcome<Answer> {
    plan_on(problem, &Terrain::new(roads), &Unwatched)
}

/// Plans one incident on roads made ready, while somebody looks on.
///
/// Errors: what of the request fits no road, what cannot be simulated, and being called off.
pub fn plan_on(problem: &Problem, terrain: &Terrain, watch: &dyn Watch) -> Outcome<Answer> {
    let mut findings = problem.findings.clone();
    findings.extend(terrain.roads.notes.clone());
    // The shuttle knows no files; what it names is found through the scenario.
    let refuse = |e: ShuttleError| {
        let finding = Finding::from(e);
        Refusal(vec![Finding { place: Where::file(&problem.scenario), ..finding }])
    };
    go_on(watch)?;
    let ground = Ground::on(problem, terrain, &mut findings)?;
    go_on(watch)?;
    let field = Field::survey(problem, &ground, &mut findings)?;
    if field.dumps.is_empty() {
        findings.add(no_dump_site(&field));
    }
    if let Some(entry) = &field.forbidden {
        findings.add(dump_forbidden(entry));
    }
    go_on(watch)?;
    let choices: Vec<_> = (0..field.dumps.len()).into_par_iter().map(|d| field.choices(d)).collect();
    // The first dump site's error, whichever thread met one first.
    let mut per_dump =
        choices.into_iter().collect::<Result<Vec<Vec<Choice>>, ShuttleError>>().map_err(refuse)?;
    per_dump.retain(|choices| !choices.is_empty());
    let alone = best_alone(&per_dump, ground.sites.len());
    let (carried, at_best) = carry(&field, per_dump);
    let mut book = LoopBook::default();
    go_on(watch)?;
    let mut cases = field.cases_from(&carried, &mut book);
    let closing = Closing { field: &field, findings, alone };

    let mut shown = Vec::new();
    if !problem.simulate || watch.listens() {
        go_on(watch)?;
        let mut rated = in_order(&field, &cases).map_err(refuse)?;
        rated.truncate(problem.search.options);
        let explained =
            rated.par_iter().enumerate().map(|(i, at)| explain(&field, i + 1, cases[*at].clone(), None));
        let answer = closing.answer(explained.collect::<Result<_, _>>().map_err(refuse)?, None, false);
        if !problem.simulate {
            return Ok(answer);
        }
        watch.tell(Progress::Ceilings(&answer));
        shown = rated;
    }

    go_on(watch)?;
    let refined = field.refined(&at_best).map_err(refuse)?;
    let refined = refined.filter(|r| at_best.iter().take(CHOICES_CARRIED).all(|c| !c.same_way(r)));
    // In front, as the best of its dump site.
    let first = field.cases_from(refined.as_slice(), &mut book);
    let ahead = first.len();
    cases.splice(0..0, first);
    let (done, of) = (AtomicUsize::new(0), cases.len());
    let simulated = |at: usize, floor: GallonsPerMinute| -> Outcome<Option<(Case, Sustained)>> {
        go_on(watch)?;
        let case = &cases[at];
        let sustained = shuttle::sustained_from(&case.shuttle, &problem.terms, floor).map_err(refuse)?;
        if watch.listens() {
            let option = at.checked_sub(ahead).and_then(|at| shown.iter().position(|s| *s == at));
            let done = done.fetch_add(1, Ordering::Relaxed) + 1;
            let flow = sustained.as_ref().map(|sustained| sustained.flow);
            watch.tell(Progress::Simulated { done, of, option: option.map(|i| i + 1), flow });
        }
        Ok(sustained.map(|sustained| (case.clone(), sustained)))
    };
    // Those that promise most go first: of the others only what can keep up with them is looked at closely.
    let order = in_order(&field, &cases).map_err(refuse)?;
    let (first, others) = order.split_at(order.len().min(problem.search.options));
    let all = |some: &[usize], floor| -> Outcome<Vec<(Case, Sustained)>> {
        some.par_iter().filter_map(|at| simulated(*at, floor).transpose()).collect()
    };
    let mut rated = all(first, GallonsPerMinute::ZERO)?;
    let least = rated.iter().map(|(_, sustained)| sustained.flow.0).fold(f64::INFINITY, f64::min);
    if !others.is_empty() {
        rated.extend(all(others, GallonsPerMinute(least))?);
    }
    rated.sort_by(|(case_a, a), (case_b, b)| {
        b.flow
            .0
            .total_cmp(&a.flow.0)
            .then(a.start.0.total_cmp(&b.start.0))
            .then(lay_m(&field, case_a).total_cmp(&lay_m(&field, case_b)))
            .then(case_a.kind.cmp(&case_b.kind))
    });
    rated.truncate(problem.search.options);
    let best_case = rated.first().map(|(case, _)| case.clone());
    let options: Vec<PlanOption> = rated
        .into_par_iter()
        .enumerate()
        .map(|(i, (case, sustained))| {
            go_on(watch)?;
            explain(&field, i + 1, case, Some(sustained)).map_err(refuse)
        })
        .collect::<Outcome<_>>()?;
    go_on(watch)?;
    let call = Call::of(&field, options.first().zip(best_case.as_ref())).map_err(refuse)?;
    Ok(closing.answer(options, call, true))
}

fn lay_m(field: &Field, case: &Case) -> f64 {
    field.dumps[case.choice.dump].lay.length.0
}

/// The cases by what none of them can pass, best first.
fn in_order(field: &Field, cases: &[Case]) -> Result<Vec<usize>, ShuttleError> {
    let ceiling = |case: &Case| Ok(shuttle::ceiling(&case.free, field.problem.terms.period)?.flow.0);
    let ceilings = cases.iter().map(ceiling).collect::<Result<Vec<f64>, ShuttleError>>()?;
    let mut order: Vec<usize> = (0..cases.len()).collect();
    order.sort_by(|a, b| {
        let lay = |at: &usize| lay_m(field, &cases[*at]);
        ceilings[*b]
            .total_cmp(&ceilings[*a])
            .then(lay(a).total_cmp(&lay(b)))
            .then(cases[*a].kind.cmp(&cases[*b].kind))
    });
    Ok(order)
}

/// What an answer has beside its options.
struct Closing<'f, 'a, 'r> {
    field: &'f Field<'a, 'r>,
    findings: Findings,
    /// The best ceiling of each site worked alone.
    alone: Vec<Option<GallonsPerMinute>>,
}

impl Closing<'_, '_, '_> {
    fn answer(&self, mut options: Vec<PlanOption>, call: Option<Call>, simulated: bool) -> Answer {
        let (field, problem) = (self.field, self.field.problem);
        trade_off::compare(&mut options);
        let placed = field.ground.sites.iter().zip(&self.alone).enumerate();
        let sites = placed.map(|(i, (site, alone))| report(field, i, site, &options, *alone)).collect();
        let mut findings = self.findings.clone();
        for option in &options {
            findings.extend(option.findings.clone());
        }
        let mut tell = |code: Code, cause: &str, action: &str| {
            findings.add(Finding::new(code, Where::file(&problem.scenario), cause, action));
        };
        if options.iter().any(|option| option.lay.rise.is_none()) {
            tell(
                Code::ElevationUnknown,
                "supply lines are taken as level where no height is known; each foot of rise takes 0.434 psi",
                "give SRTM tiles as `elevation`, or look how far the fire lies above the dump site",
            );
        }
        if !simulated {
            tell(
                Code::NotSimulated,
                "nothing was simulated: a ceiling is a flow that an option cannot pass, and waiting takes from it",
                "plan with the simulation before relying on a flow",
            );
        }
        Answer {
            name: problem.name.clone(),
            incident_name: problem.incident_name.clone(),
            incident: field.fire.incident,
            need: problem.need,
            need_found: problem.need_found.clone(),
            reliability: problem.terms.reliability,
            period: problem.terms.period,
            simulated,
            options,
            sites,
            tankers: problem.fleet.tankers.clone(),
            call,
            findings,
        }
    }
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

/// The best few: the best dump site with its best choices, then the best dump sites on other roads. And all
/// choices at the best dump site, from which the simulation climbs.
fn carry(field: &Field, mut per_dump: Vec<Vec<Choice>>) -> (Vec<Choice>, Vec<Choice>) {
    let step = |c: &Choice| (c.ceiling.0 / CEILING_STEP_GPM).round() as i64;
    let lay = |c: &Choice| field.dumps[c.dump].lay.length.0;
    per_dump.sort_by(|a, b| {
        step(&b[0]).cmp(&step(&a[0])).then(lay(&a[0]).total_cmp(&lay(&b[0]))).then(a[0].dump.cmp(&b[0].dump))
    });
    let segment = |c: &Choice| field.dumps[c.dump].spot.segment;
    let mut carried: Vec<Choice> = Vec::new();
    let mut roads: Vec<usize> = Vec::new();
    for choices in &per_dump {
        if roads.len() >= DUMPS_CARRIED {
            break;
        }
        if roads.contains(&segment(&choices[0])) {
            continue;
        }
        let most = if roads.is_empty() { CHOICES_CARRIED } else { 1 };
        roads.push(segment(&choices[0]));
        carried.extend(choices.iter().take(most).cloned());
    }
    (carried, per_dump.into_iter().next().unwrap_or_default())
}
