//! What to call for where the need is not met: the smallest set of mutual aid that meets it, more tankers
//! like the best, or a nearer source.

use crate::plan::answer::PlanOption;
use crate::plan::cases::Case;
use crate::plan::muster::draw_limits;
use crate::plan::options::{ASSUMED_ARRIVAL, Choice, Field};
use crate::routing::trip::{self, Trip};
use crate::shuttle::{self, DrawKind, Shuttle, ShuttleError, Terms};
use crate::sites::dump::{HoseBed, candidates};
use crate::sites::rig::supply_line;
use crate::units::{Feet, GallonsPerMinute, Seconds};
use crate::vehicle::{Chassis, Fleet, Load};

/// What to call for, at the dump site of the best option.
#[derive(Clone, Debug)]
pub struct Call {
    /// Mutual aid, in the order of arrival. Empty where none is listed or all of it is not enough.
    pub vehicles: Vec<Called>,
    /// What is sustained with it, on real loops.
    pub flow: Option<GallonsPerMinute>,
    pub meets_need: bool,
    /// So many more tankers like the one of this name would do, coming with the last of the fleet.
    pub more_like: Option<(String, u32)>,
    pub nearer_source: Option<NearerSource>,
    /// What neither tankers nor a source can mend: the part that carries less than the need.
    pub held_by: Option<DrawKind>,
}

#[derive(Clone, Debug)]
pub struct Called {
    pub id: String,
    /// As the fleet file says: the alarm or the neighbour.
    pub call: String,
    pub arrives: Seconds,
    pub pumper: bool,
}

/// A new source that would do with the fleet as it is.
#[derive(Clone, Copy, Debug)]
pub struct NearerSource {
    pub flow: GallonsPerMinute,
    pub berths: u32,
    /// Longest drive between it and the dump site, one way.
    pub leg: Seconds,
    /// What the standard's travel-time equation makes of it at 35 mph.
    pub miles: f64,
}

/// What a new source is taken to be: a pumper's draft or a good hydrant, with two crews (common
/// practice, no source).
const NEW_SOURCE: (GallonsPerMinute, u32) = (GallonsPerMinute(1000.0), 2);
/// More tankers of one kind than this are not called.
const MOST_MORE: u32 = 12;
/// T = 0.65 + 1.7·D (ISO, from a RAND study).
const STOP_AND_GO_MIN: f64 = 0.65;
const MINUTES_PER_MILE: f64 = 1.7;

impl Call {
    /// None where the best option meets the need, and where there is no option.
    pub fn of(field: &Field, best: Option<(&PlanOption, &Case)>) -> Result<Option<Call>, ShuttleError> {
        let Some((option, case)) = best.filter(|(option, _)| !option.meets_need) else { return Ok(None) };
        let (terms, need) = (&field.problem.terms, field.problem.need);
        let mut call = Call {
            vehicles: Vec::new(),
            flow: None,
            meets_need: false,
            more_like: more_like(&option.shuttle, terms, need)?,
            nearer_source: nearer_source(&option.shuttle, terms, need)?,
            held_by: None,
        };
        let fleet = &field.problem.fleet;
        let mut posts = field.quick_posts(case.choice.dump);
        let mut pumper = None;
        let (mut limits, mut line) =
            (posts.dump.draw_limits.clone(), field.dumps[case.choice.dump].lay.clone());
        if least(&limits).is_some_and(|(_, flow)| flow.0 < need.0) {
            // The smallest pumper that lifts it, or the one that lifts it most.
            let mut able: Vec<_> = with_each_pumper(field, case, fleet)
                .into_iter()
                .map(|(i, raised, lay)| (i, least(&raised).map_or(0.0, |(_, f)| f.0), raised, lay))
                .collect();
            able.sort_by(|a, b| {
                let rated = |i: usize| fleet.pumpers[i].rated.0;
                let enough = |flow: f64| flow >= need.0;
                enough(b.1).cmp(&enough(a.1)).then(if enough(a.1) {
                    rated(a.0).total_cmp(&rated(b.0))
                } else {
                    b.1.total_cmp(&a.1)
                })
            });
            let before = least(&limits).map_or(0.0, |(_, flow)| flow.0);
            if let Some((i, _, raised, lay)) = able.into_iter().next().filter(|able| able.1 > before) {
                (limits, line, pumper) = (raised, lay, Some(i));
            }
            call.held_by = least(&limits).filter(|(_, flow)| flow.0 < need.0).map(|(kind, _)| kind);
        }
        posts.dump.draw_limits = limits.clone();
        let working: Vec<bool> = case.choice.site_of.iter().map(Option::is_some).collect();
        let all = case.choice.site_of.len() - working.iter().filter(|w| **w).count();
        if call.held_by.is_some() || (all == 0 && pumper.is_none()) {
            return Ok(Some(call));
        }
        let found = posts.fewest(terms, &working, need)?;
        let Some((given, _)) = found else { return Ok(Some(call)) };
        let choice = Choice::of(case.choice.dump, &given);
        let mut flow = 0.0_f64;
        for mut after in field.cases(std::slice::from_ref(&choice)) {
            after.shuttle.dump.draw_limits = limits.clone();
            flow = flow.max(shuttle::sustained_flow(&after.shuttle, terms)?.0);
        }
        for tanker in given.members().into_iter().filter(|t| !working[*t]) {
            let chassis = &fleet.tankers[tanker].chassis;
            call.vehicles.push(called(chassis, posts.tankers[tanker].arrives, false));
        }
        if let Some(i) = pumper {
            let chassis = &fleet.pumpers[i].chassis;
            let to = line.line.first().copied().unwrap_or(option.dump);
            call.vehicles.push(called(chassis, arrival(field, chassis, to), true));
        }
        call.vehicles.sort_by(|a, b| a.arrives.0.total_cmp(&b.arrives.0).then(a.id.cmp(&b.id)));
        call.flow = Some(GallonsPerMinute(flow));
        call.meets_need = flow >= need.0;
        Ok(Some(call))
    }
}

fn called(chassis: &Chassis, arrives: Seconds, pumper: bool) -> Called {
    let call = chassis.call.clone().unwrap_or_else(|| "of the fleet, left out so far".into());
    Called { id: chassis.id.clone(), call, arrives, pumper }
}

fn least(limits: &[shuttle::DrawLimit]) -> Option<(DrawKind, GallonsPerMinute)> {
    limits.iter().map(|l| (l.kind, l.flow)).reduce(|a, b| if b.1.0 < a.1.0 { b } else { a })
}

/// The draw limits and the supply line with each pumper of mutual aid there as if it came by itself.
fn with_each_pumper(
    field: &Field,
    case: &Case,
    fleet: &Fleet,
) -> Vec<(usize, Vec<shuttle::DrawLimit>, crate::sites::dump::SupplyLine)> {
    let problem = field.problem;
    let own = &field.dumps[case.choice.dump];
    let mut out = Vec::new();
    for i in (0..fleet.pumpers.len()).filter(|i| fleet.pumpers[*i].chassis.call.is_some()) {
        let mut with = fleet.clone();
        with.pumpers[i].chassis.call = None;
        // What cannot be worked out was refused when the fleet without it was.
        let Ok(Some(bed)) = HoseBed::of(&with) else { continue };
        let ground = field.ground;
        let network = &ground.roads.network;
        let usable = |segment: usize| segment == own.spot.segment || ground.snapper.is_proper(segment);
        let pinned = Some(&own.spot);
        let (fire, elevation) = (&field.fire, &problem.roads.elevation);
        let found = candidates(network, fire.incident, &fire.hose_end, pinned, &bed, elevation, &usable);
        let same = found.ok().into_iter().flatten().min_by(|a, b| {
            let away = |c: &crate::sites::dump::DumpCandidate| c.spot.place.distance(own.spot.place).0;
            away(a).total_cmp(&away(b))
        });
        let lay = same.map_or_else(|| own.lay.clone(), |c| c.lay);
        let lay = if lay.flow.0 > own.lay.flow.0 { lay } else { own.lay.clone() };
        let line = supply_line(&bed, lay.length, lay.lines, lay.rise.unwrap_or(Feet::ZERO));
        let Ok(limits) = draw_limits(problem, &with, Some((line, lay.flow))) else { continue };
        out.push((i, limits, lay));
    }
    out
}

/// From the call to the dump site by the quickest way; a quarter of an hour after turnout where its
/// station is not known or no way is found.
fn arrival(field: &Field, chassis: &Chassis, to: crate::place::Place) -> Seconds {
    let drive = chassis.station.and_then(|from| {
        match trip::trip(field.ground.roads, chassis.body(Load::Full), from, to) {
            Ok(Trip::Found { leg, .. }) => Some(field.problem.pace.driven(Load::Full, leg.travel)),
            _ => None,
        }
    });
    chassis.turnout + drive.unwrap_or(ASSUMED_ARRIVAL)
}

/// How many more tankers like the best of them hold the need.
fn more_like(
    shuttle: &Shuttle,
    terms: &Terms,
    need: GallonsPerMinute,
) -> Result<Option<(String, u32)>, ShuttleError> {
    let reliefs = shuttle::reliefs(shuttle)?;
    let Some((_, with_one)) = reliefs.iter().find(|(l, _)| *l == shuttle::Limiter::Tankers) else {
        return Ok(None);
    };
    let Some(best) = with_one.tankers.last() else { return Ok(None) };
    let last = shuttle.tankers.iter().map(|t| t.arrives.0).fold(0.0, f64::max);
    let mut more = shuttle.clone();
    for count in 1..=MOST_MORE {
        more.tankers.push(shuttle::Tanker { arrives: Seconds(last), ..best.clone() });
        if holds(&more, terms, need)? {
            return Ok(Some((best.name.clone(), count)));
        }
    }
    Ok(None)
}

fn holds(shuttle: &Shuttle, terms: &Terms, need: GallonsPerMinute) -> Result<bool, ShuttleError> {
    let cap = shuttle::ceiling(shuttle, terms.period)?;
    // A share of whole replications against a decimal.
    Ok(cap.flow.0 >= need.0 && shuttle::holds_share(shuttle, terms, need)? >= terms.reliability - 1e-9)
}

/// The longest way at which a new source would do with the fleet as it is, to the tenth of a minute.
fn nearer_source(
    shuttle: &Shuttle,
    terms: &Terms,
    need: GallonsPerMinute,
) -> Result<Option<NearerSource>, ShuttleError> {
    let (flow, berths) = (GallonsPerMinute(NEW_SOURCE.0.0.max(need.0)), NEW_SOURCE.1);
    let at = |tenths: u32| {
        let mut with = shuttle.clone();
        with.fills = vec![shuttle::Fill { name: "new source".into(), berths, flow, volume: None }];
        with.lanes.clear();
        for tanker in &mut with.tankers {
            let leg = Seconds::from_minutes(f64::from(tenths) / 10.0);
            (tanker.fill, tanker.empty_travel, tanker.loaded_travel) = (0, leg, leg);
            tanker.empty_lanes.clear();
            tanker.loaded_lanes.clear();
        }
        holds(&with, terms, need)
    };
    let longest = shuttle.tankers.iter().map(|t| t.loaded_travel.0.max(t.empty_travel.0)).fold(0.0, f64::max);
    // A minute is as near as a source can be: nearer than that it is a dump site's neighbour.
    let (mut good, mut bad) = (10, (longest / 6.0).ceil() as u32 + 1);
    if good >= bad || !at(good)? {
        return Ok(None);
    }
    while bad - good > 1 {
        let middle = good + (bad - good) / 2;
        if at(middle)? {
            good = middle;
        } else {
            bad = middle;
        }
    }
    let leg = Seconds::from_minutes(f64::from(good) / 10.0);
    let miles = ((leg.minutes() - STOP_AND_GO_MIN) / MINUTES_PER_MILE).max(0.0);
    Ok(Some(NearerSource { flow, berths, leg, miles }))
}
