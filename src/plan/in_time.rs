//! What an option is over time and in trouble: when flows are first held, what is left without a tanker
//! or a source, and how many tankers and berths are enough.

use crate::finding::{Finding, Outcome};
use crate::plan::answer::{Answer, PlanOption};
use crate::plan::cases::Case;
use crate::plan::options::{Choice, Field};
use crate::plan::request::Problem;
use crate::shuttle::{self, Milestone, SeriesPoint, Shuttle, ShuttleError, Sustained, Terms};
use crate::units::{GallonsPerMinute, Seconds};

#[derive(Clone, Debug)]
pub struct InTime {
    pub milestones: Vec<Milestone>,
    /// Of the best option only.
    pub full: Option<InTrouble>,
}

/// What is left when something fails, and what is enough.
#[derive(Clone, Debug)]
pub struct InTrouble {
    /// Each tanker of the option and the sustained flow without it, in the order of the shuttle.
    pub withdrawn: Vec<(String, GallonsPerMinute)>,
    /// By fill site of the option.
    pub sources: Vec<SourceFailed>,
    /// What is enough for the lesser of need and sustained flow: berths by fill site, and dump berths.
    pub berths: Vec<(String, u32)>,
    pub dump_berths: u32,
    /// The fewest tankers of the option that hold the need together. None where it is not met.
    pub fewest: Option<Vec<String>>,
}

/// A fill site of an option fails.
#[derive(Clone, Debug)]
pub struct SourceFailed {
    pub site: String,
    /// Sustained while its tankers stand still.
    pub rest: GallonsPerMinute,
    /// Sustained once the fleet is sent to the best that is left, with the names of those sites.
    pub moved: Option<(GallonsPerMinute, Vec<String>)>,
}

impl InTime {
    /// In full for the best option; of the others the milestones and the worst loss of a tanker, for the
    /// rest costs several times what finding the option did.
    pub fn of(
        field: &Field,
        case: &Case,
        sustained: &Sustained,
        best: bool,
    ) -> Result<(InTime, GallonsPerMinute), ShuttleError> {
        let (shuttle, terms) = (&case.shuttle, &field.problem.terms);
        let need = field.problem.need;
        let milestones = shuttle::milestones(shuttle, terms, sustained)?;
        if !best {
            let told = InTime { milestones, full: None };
            return Ok((told, shuttle::one_tanker_lost(shuttle, terms)?));
        }
        let without = shuttle::withdrawn(shuttle, terms)?;
        let names = shuttle.tankers.iter().map(|t| t.name.clone());
        let enough = GallonsPerMinute(sustained.flow.0.min(need.0));
        let (fills, dump_berths) = if enough.0 > 0.0 {
            shuttle::fewest_berths(shuttle, terms, enough)?
        } else {
            (shuttle.fills.iter().map(|f| f.berths).collect(), shuttle.dump.berths)
        };
        let sources = (0..shuttle.fills.len()).map(|fill| source_failed(field, case, fill));
        let one_lost = without.iter().map(|flow| flow.0).fold(f64::INFINITY, f64::min);
        let full = InTrouble {
            withdrawn: names.zip(without.iter().copied()).collect(),
            sources: sources.collect::<Result<_, _>>()?,
            berths: shuttle.fills.iter().map(|f| f.name.clone()).zip(fills).collect(),
            dump_berths,
            fewest: if sustained.flow.0 >= need.0 { fewest(shuttle, terms, &without, need)? } else { None },
        };
        Ok((InTime { milestones, full: Some(full) }, GallonsPerMinute(one_lost)))
    }
}

const SERIES_STEP: Seconds = Seconds(60.0);

/// The series of each option a minute a row, in the order of the options; none of an option that was not
/// simulated.
pub fn series(problem: &Problem, answer: &Answer) -> Outcome<Vec<Vec<SeriesPoint>>> {
    let of = |option: &PlanOption| match &option.simulated {
        Some(found) => shuttle::series(&option.shuttle, &problem.terms, found.sustained.flow, SERIES_STEP),
        None => Ok(Vec::new()),
    };
    Ok(answer.options.iter().map(of).collect::<Result<_, _>>().map_err(Finding::from)?)
}

fn source_failed(field: &Field, case: &Case, fill: usize) -> Result<SourceFailed, ShuttleError> {
    let terms = &field.problem.terms;
    let site = case.fills[fill];
    let mut posts = field.quick_posts(case.choice.dump);
    for tanker in &mut posts.tankers {
        tanker.at[site] = None;
    }
    // The fleet that was working: those left out or not called stay so.
    let free: Vec<bool> = case.choice.site_of.iter().map(Option::is_some).collect();
    let next = posts.by_ceiling(terms.period, &free).into_iter().next();
    let next = next.map(|given| Choice::of(case.choice.dump, &given));
    let mut moved: Option<(GallonsPerMinute, Vec<String>)> = None;
    for after in field.cases(next.as_slice()) {
        let flow = shuttle::sustained_flow(&after.shuttle, terms)?;
        if moved.as_ref().is_none_or(|(best, _)| flow.0 > best.0) {
            moved = Some((flow, after.shuttle.fills.iter().map(|f| f.name.clone()).collect()));
        }
    }
    let name = case.shuttle.fills[fill].name.clone();
    Ok(SourceFailed { site: name, rest: shuttle::source_failed(&case.shuttle, terms, fill)?, moved })
}

/// Tankers are let go one by one, first the one that is missed least, as long as the others hold the need on
/// their loops.
fn fewest(
    shuttle: &Shuttle,
    terms: &Terms,
    without: &[GallonsPerMinute],
    need: GallonsPerMinute,
) -> Result<Option<Vec<String>>, ShuttleError> {
    let mut left: Vec<usize> = (0..shuttle.tankers.len()).collect();
    let mut flows = without.to_vec();
    loop {
        let least_missed = (0..left.len()).reduce(|a, b| if flows[b].0 > flows[a].0 { b } else { a });
        let Some(gone) = least_missed.filter(|i| flows[*i].0 >= need.0 && left.len() > 1) else { break };
        left.remove(gone);
        let mut rest = shuttle.clone();
        rest.tankers = left.iter().map(|i| shuttle.tankers[*i].clone()).collect();
        flows = shuttle::withdrawn(&rest, terms)?;
    }
    Ok(Some(left.into_iter().map(|i| shuttle.tankers[i].name.clone()).collect()))
}
