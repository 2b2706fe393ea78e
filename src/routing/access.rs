//! May this vehicle, at this load, use this road? Open (with what a driver should know) or closed
//! (with the reason and its margin).
//!
//! A road is open if `way` and `direction` both say so. Conditions: a limit that may be in force is
//! taken to be, one that may be lifted is not; access that may be barred is open and told.

pub use super::closure::{Closure, Flags};
pub use super::policy::Policy;

use crate::roads::condition::{Case, Truth};
use crate::roads::limits::{Kind, Posted};
use crate::roads::tags::{
    Barrier, Class, Mode, NodeTags, OneWay, Permit, Permits, RoadTags, Season, Smoothness, Special,
};
use crate::vehicle::{Body, Load};

pub type Verdict = Result<Flags, Closure>;

/// Judges what is the same in both directions of a way.
pub fn way(_id: i64, tags: &RoadTags, body: &Body, policy: &Policy) -> Verdict {
    let mut flags = Flags::default();
    match tags.smoothness {
        Smoothness::Impassable => return Err(Closure::Impassable),
        Smoothness::Horrible if !policy.very_rough => return Err(Closure::VeryRough),
        Smoothness::Horrible => flags.add(Flags::VERY_ROUGH),
        _ => {}
    }
    if let Some(limits) = &tags.limits {
        for kind in Kind::ALL {
            judge(kind, &limits.get(kind), body, policy, &mut flags).map_err(|why| known(why, tags))?;
        }
    }
    if let Some(width) = tags.width
        && !tags.width_estimated
        && exceeds(body.width.0, width.0)
    {
        return Err(Closure::Width { posted: width, vehicle: body.width });
    }
    if tags.ford && !policy.ford {
        return Err(Closure::Ford);
    }
    if tags.ford {
        flags.add(Flags::FORD);
    }
    if tags.class == Class::Ferry {
        if !policy.ferry {
            return Err(Closure::Ferry);
        }
        flags.add(Flags::FERRY);
    }
    season(tags, policy, &mut flags)?;
    if tags.class == Class::Track {
        if tags.grade > policy.worst_track_grade {
            return Err(Closure::Track { grade: tags.grade });
        }
        flags.add(Flags::TRACK);
    }
    if tags.bus {
        flags.add(Flags::BUS);
    }
    Ok(flags)
}

/// A weight that is known and not posted is told as such.
fn known(why: Closure, tags: &RoadTags) -> Closure {
    let weight = tags.local.as_ref().and_then(|local| local.weight.as_ref());
    match (why, weight) {
        (Closure::Weight { posted, vehicle }, Some(known)) if known.limit == posted => {
            Closure::KnownWeight { limit: posted, vehicle, said: known.said.to_string().into() }
        }
        (why, _) => why,
    }
}

/// Winter and ice roads exist in winter (OSM wiki, "Key:winter_road"); others by their season.
fn season(tags: &RoadTags, policy: &Policy, flags: &mut Flags) -> Result<(), Closure> {
    let season = match tags.season {
        Season::AllYear | Season::Unclear if tags.frozen => Season::WINTER,
        season => season,
    };
    let holds = season.holds(&policy.moment);
    if tags.frozen && !(policy.winter_road && holds == Truth::Yes) {
        return Err(Closure::Frozen);
    }
    match holds {
        Truth::No => return Err(Closure::Season),
        _ if season != Season::AllYear => flags.add(Flags::SEASONAL),
        _ => {}
    }
    Ok(())
}

/// Judges one direction of a way: access, one-way, and the limits that differ by direction or time.
pub fn direction(id: i64, tags: &RoadTags, body: &Body, forward: bool, policy: &Policy) -> Verdict {
    let mut flags = Flags::default();
    let side = usize::from(!forward);
    if let Some(said) = tags.local.as_ref().and_then(|local| local.closed[side].as_ref())
        && policy.closures
    {
        return Err(Closure::Overlay(said.to_string().into()));
    }
    let (mut permits, mut opposite) = (tags.permits[side], tags.permits[1 - side]);
    let mut one_way = tags.one_way;
    if let Some(special) = &tags.special {
        special_limits(special, side, body, policy, &mut flags)?;
        permits = permits_now(permits, special, side, body, policy, &mut flags);
        opposite = permits_now(opposite, special, 1 - side, body, policy, &mut Flags::default());
        one_way = one_way_now(one_way, special, body, policy, &mut flags);
    }
    // A word that bars one direction and not the other is a one-way by another name, and only a
    // word for emergency vehicles in that direction or a named override lifts it.
    let barred = permits.motor == Permit::No && opposite.motor != Permit::No;
    if barred && permits.emergency != Permit::Yes {
        if !policy.contraflow_ways.contains(&id) {
            return Err(Closure::OneWay);
        }
        flags.add(Flags::CONTRAFLOW);
        permits.motor = opposite.motor;
    }
    allowed(permits, policy, policy.open_ways.contains(&id), &mut flags)?;
    if !one_way.is_against(forward) {
        return Ok(flags);
    }
    let lifted = tags.special.as_ref().and_then(|s| s.emergency_one_way);
    // Contraflow on a roundabout or a changing lane is a collision, not an override.
    let may = !tags.roundabout && one_way != OneWay::Changing;
    if may && lifted.is_some_and(|rule| !rule.is_against(forward)) {
        flags.add(Flags::CONTRAFLOW_SIGNED);
    } else if may && policy.contraflow_ways.contains(&id) {
        flags.add(Flags::CONTRAFLOW);
    } else {
        return Err(Closure::OneWay);
    }
    Ok(flags)
}

/// Judges what stands on a node.
pub fn node(tags: &NodeTags, body: &Body, policy: &Policy) -> Verdict {
    let mut flags = Flags::default();
    if let Some(limits) = &tags.limits {
        for kind in Kind::ALL {
            judge(kind, &limits.get(kind), body, policy, &mut flags)?;
        }
    }
    let mut permits = tags.permits;
    if let Some(special) = &tags.special {
        // A node does not know from which side it is passed: both must do.
        for side in 0..2 {
            special_limits(special, side, body, policy, &mut flags)?;
        }
        permits = permits_now(permits, special, 0, body, policy, &mut flags);
    }
    match tags.barrier {
        None => return Ok(flags),
        Some(Barrier::Passable) => {}
        Some(Barrier::Gap) => flags.add(Flags::GAP),
        Some(Barrier::Opens) => {
            flags.add(Flags::GATE);
            if tags.locked && permits.emergency != Permit::Yes {
                if !policy.locked_gates {
                    return Err(Closure::Locked);
                }
                flags.add(Flags::LOCKED);
            }
        }
        Some(Barrier::Stops) => flags.add(Flags(Flags::STOP.0 | Flags::GATE.0)),
        Some(Barrier::Ford) if policy.ford => flags.add(Flags::FORD),
        Some(Barrier::Ford) => return Err(Closure::Ford),
        Some(Barrier::HeightFrame) if policy.unmeasured_frames => flags.add(Flags::UNMEASURED),
        Some(Barrier::HeightFrame) => return Err(Closure::HeightFrame),
        Some(Barrier::Blocks | Barrier::Unknown) => return Err(Closure::Barrier),
    }
    // Posts are put up against traffic: the gap between them decides, not the word on the sign.
    if tags.barrier != Some(Barrier::Gap) {
        allowed(permits, policy, false, &mut flags)?;
    }
    Ok(flags)
}

/// Whether the law lets us pass (OSM wiki, "Key:access").
fn allowed(permits: Permits, policy: &Policy, named: bool, flags: &mut Flags) -> Result<(), Closure> {
    let Permits { motor, hgv, emergency } = permits;
    // `emergency=yes` opens what is closed to the public; otherwise the public sign counts, unless
    // a word for trucks, the narrower class, opens what is closed to motor vehicles at large.
    let opened = emergency == Permit::Yes;
    if emergency == Permit::No && !named {
        return Err(Closure::NoAccess);
    }
    match motor {
        _ if opened => {}
        Permit::Unset | Permit::Yes => {}
        _ if hgv == Permit::Yes => flags.add(Flags::PRIVATE),
        Permit::Destination if policy.destination => flags.add(Flags::PRIVATE),
        Permit::Private | Permit::Unknown if policy.private => flags.add(Flags::PRIVATE),
        Permit::Farm if policy.farm => flags.add(Flags::PRIVATE),
        _ if named => flags.add(Flags::NO_ACCESS_OPENED),
        Permit::No => return Err(Closure::NoAccess),
        _ => return Err(Closure::Private),
    }
    if !matches!(hgv, Permit::Unset | Permit::Yes) {
        if !policy.hgv_restricted && !opened {
            return Err(Closure::Hgv);
        }
        flags.add(Flags::HGV);
    }
    Ok(())
}

/// Evaluates conditions for this vehicle under this policy.
fn with_case<T>(body: &Body, policy: &Policy, destination: bool, run: impl FnOnce(&Case) -> T) -> T {
    let size = |kind: Kind| size_of(body, kind);
    run(&Case { moment: &policy.moment, destination, size: &size })
}

fn permits_now(
    mut permits: Permits,
    special: &Special,
    side: usize,
    body: &Body,
    policy: &Policy,
    flags: &mut Flags,
) -> Permits {
    for rule in special.permits.iter().filter(|rule| rule.dirs[side]) {
        let plain = permits.of(rule.mode);
        match with_case(body, policy, policy.destination, |case| rule.when.holds(case)) {
            Truth::Yes => {
                if rule.when.is_for_destination()
                    && rule.permit == Permit::Yes
                    && rule.mode != Mode::Emergency
                {
                    flags.add(Flags::PRIVATE);
                }
                *plain = rule.permit;
            }
            Truth::Maybe if rule.permit != *plain => flags.add(Flags::UNDECIDED),
            Truth::Maybe | Truth::No => {}
        }
    }
    permits
}

fn one_way_now(
    mut one_way: OneWay,
    special: &Special,
    body: &Body,
    policy: &Policy,
    flags: &mut Flags,
) -> OneWay {
    for (rule, when) in &special.one_way {
        match with_case(body, policy, policy.destination, |case| when.holds(case)) {
            Truth::Yes => one_way = *rule,
            Truth::Maybe if *rule != one_way => flags.add(Flags::UNDECIDED),
            Truth::Maybe | Truth::No => {}
        }
    }
    match special.emergency_one_way {
        Some(rule) if one_way == OneWay::No => rule,
        _ => one_way,
    }
}

/// Limits that differ by direction, second signs, and conditional ones.
fn special_limits(
    special: &Special,
    side: usize,
    body: &Body,
    policy: &Policy,
    flags: &mut Flags,
) -> Result<(), Closure> {
    for kind in Kind::ALL {
        let plain = special.limits[side].get(kind);
        let mut now = plain.clone();
        for rule in special.limit_rules.iter().filter(|rule| rule.kind == kind && rule.dirs[side]) {
            let holds = match &rule.when {
                Some(when) => with_case(body, policy, policy.destination_limits, |case| when.holds(case)),
                None => Truth::Maybe,
            };
            match holds {
                // What stands in the way is not lifted by the hour.
                Truth::Yes if kind.is_mass() => now = rule.value.clone(),
                Truth::Yes => judge(kind, &rule.value, body, policy, flags)?,
                Truth::Maybe => {
                    judge(kind, &rule.value, body, policy, flags)?;
                    if rule.when.is_some() {
                        flags.add(Flags::UNDECIDED);
                    }
                }
                Truth::No => {}
            }
        }
        judge(kind, &now, body, policy, flags)?;
        if now != plain && judge(kind, &plain, body, policy, &mut Flags::default()).is_err() {
            flags.add(Flags::EXEMPT);
        }
    }
    Ok(())
}

fn size_of(body: &Body, kind: Kind) -> f64 {
    match kind {
        Kind::Weight => body.mass.0,
        Kind::Rating => body.rated_mass.0,
        Kind::Axle => body.axle_load.0,
        Kind::Bogie => body.bogie_load.0,
        Kind::Height => body.height.0,
        Kind::Width => body.width.0,
        Kind::Length => body.length.0,
    }
}

/// Equality passes, also between two spellings of one quantity: half a gram and half a micrometre
/// are far below what any sign says and far above what sums of fractions lose.
fn exceeds(vehicle: f64, posted: f64) -> bool {
    vehicle > posted + 5e-7 * posted.abs().min(1_000.0)
}

/// A bridge posted 15 t carries 15 t. A sign nobody can read closes the road to the loaded leg.
fn judge(
    kind: Kind,
    posted: &Posted<f64>,
    body: &Body,
    policy: &Policy,
    flags: &mut Flags,
) -> Result<(), Closure> {
    match posted {
        Posted::At(posted) => {
            let vehicle = size_of(body, kind);
            if !exceeds(vehicle, *posted) {
                return Ok(());
            }
            if kind == Kind::Rating && policy.rating_limit {
                flags.add(Flags::RATING);
                return Ok(());
            }
            Err(Closure::limit(kind, *posted, vehicle))
        }
        Posted::Unreadable(text) if body.load == Load::Full => {
            Err(Closure::Unreadable { key: kind.key(), text: text.clone() })
        }
        _ => Ok(()),
    }
}
