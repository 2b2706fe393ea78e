//! What an officer wants to know of an option's dump site beside its flow: whether the tanks have
//! room, where tankers wait, and what a relay would add.

use crate::finding::{Code, Finding, Findings, OsmRef, Where};
use crate::plan::cases::Case;
use crate::plan::explain::road_of;
use crate::plan::options::Field;
use crate::plan::staging::{self, Staging};
use crate::roads::network::Arc;
use crate::routing::search::Drive;
use crate::sites::dump::{DumpCandidate, HoseBed, INTAKE_RESIDUAL};
use crate::sites::rig::{rig_of, supply_line};
use crate::sites::space::Space;
use crate::units::{Feet, GallonsPerMinute, Metres, Shown};
use crate::water::Checked;
use crate::water::draft::capacity_at_pressure;
use crate::water::hose::Lay;
use crate::water::relay::{self, Relay};
use crate::water::rig::call::call_for;
use crate::water::transfer::TransferSettings;
use std::cmp::Reverse;
use std::collections::BTreeMap;

#[derive(Clone, Debug)]
pub struct DumpFacts {
    pub space: Space,
    /// What pumpers in the line would make of it; the option's flow does not count them.
    pub relay: Option<Relay>,
    /// None where no tanker is to wait, and where no road is known to have room.
    pub staging: Option<Staging>,
    /// No tanker of the option turns round at the dump site.
    pub drive_through: bool,
}

impl DumpFacts {
    /// Works them out, and says what is missing.
    pub fn of(
        field: &Field,
        number: usize,
        case: &Case,
        drive_through: bool,
        findings: &mut Findings,
    ) -> DumpFacts {
        let dump = &field.dumps[case.choice.dump];
        let space = space(field, dump, findings);
        findings.extend(rig(field, number, dump));
        DumpFacts {
            relay: supply(field, number, dump, findings),
            staging: waiting(field, case, &space, findings),
            drive_through,
            space,
        }
    }
}

fn at_dump(field: &Field, dump: &DumpCandidate) -> Where {
    let network = &field.ground.roads.network;
    let way = &network.ways[network.segments[dump.spot.segment].way as usize];
    let place = Where::osm(OsmRef::Way(way.id)).at(dump.spot.place);
    place.named(road_of(network, dump.spot.segment))
}

fn space(field: &Field, dump: &DumpCandidate, findings: &mut Findings) -> Space {
    let roads = field.ground.roads;
    let network = &roads.network;
    // Where only two arms meet the road goes on, whatever changes there.
    let joined = |arc: Arc| {
        let head = network.head(arc);
        let other = |next: &Arc| network.tail(*next) == head && next.segment() != arc.segment();
        if roads.topology.arms(head) == 2 { network.arcs().find(other) } else { None }
    };
    let tanks = &field.problem.fleet.portable_tanks;
    let space = Space::at(network, &dump.spot, tanks, &joined);
    let Space { tank_row, straight, width_needed, road_width } = space;
    let mut add = |code: Code, cause: String, action: &str| {
        findings.add(Finding::new(code, at_dump(field, dump), cause, action));
    };
    if straight.0 < tank_row.0 {
        add(
            Code::DumpSpaceShort,
            format!(
                "the tanks in a row take {tank_row:.0}, and the road runs straight for {straight:.0} here"
            ),
            "Set fewer tanks, or some off the road; the officer on the ground decides",
        );
    }
    match road_width {
        None => add(
            Code::DumpSpaceUnknown,
            format!(
                "the road's width is not mapped; the widest tank and a clear lane take {width_needed:.1}"
            ),
            "Measure it: unknown is not wide enough",
        ),
        Some(width) if width.0 < width_needed.0 => add(
            Code::DumpSpaceShort,
            format!("the road is {width:.1} wide; the widest tank and a clear lane take {width_needed:.1}"),
            "Set the tanks on the verge or in a yard if it carries them, or close the road to other traffic",
        ),
        Some(_) => {}
    }
    space
}

/// What the lay lacks, and what a relay would add.
fn supply(field: &Field, number: usize, dump: &DumpCandidate, findings: &mut Findings) -> Option<Relay> {
    let (lay, need) = (&dump.lay, field.problem.need);
    if lay.flow.0 >= need.0 {
        return None;
    }
    let option = || Where::default().named(format!("option {number}"));
    let rise = match lay.rise {
        Some(rise) if rise.0 >= 1.0 => format!(", up {rise:.0},"),
        Some(rise) if rise.0 <= -1.0 => format!(", down {:.0},", Feet(-rise.0)),
        _ => String::new(),
    };
    findings.add(Finding::new(
        Code::SupplyLineLimits,
        option(),
        format!("the lay of {:.0}{rise} carries {:.0}, less than the need", lay.length, lay.flow),
        "Lay larger or more hose, put a relay pumper in the line, or dump nearer",
    ));
    // What cannot be worked out was refused when the line itself was.
    let relay = propose(field, dump, need).ok().flatten()?;
    let (pumpers, where_) = match relay.pumpers {
        1 => ("a relay pumper".to_string(), "midway"),
        n => (format!("{n} relay pumpers"), "at equal distances"),
    };
    let enough = if relay.flow.0 >= need.0 { "" } else { ", still less than the need" };
    findings.add(Finding::new(
        Code::RelayProposed,
        option(),
        format!("with {pumpers} {where_} the lay would carry {:.0}{enough}; no figure counts it", relay.flow),
        "Ask for the engine early if the officer wants it; its intake must keep 20 psi",
    ));
    Some(relay)
}

/// What the rig lacks for the need, and what to call for, at this dump site's line.
fn rig(field: &Field, number: usize, dump: &DumpCandidate) -> Option<Finding> {
    let (problem, settings) = (field.problem, TransferSettings::default());
    // What cannot be worked out was refused before.
    let bed = HoseBed::of(&problem.fleet).ok().flatten()?;
    let line = supply_line(&bed, dump.lay.length, dump.lay.lines, dump.lay.rise.unwrap_or(Feet::ZERO));
    let rig = rig_of(&problem.fleet, &problem.rig, Some(line)).ok()?;
    let gives = rig.at_the_tanks(&settings).ok()?;
    if gives.flow >= problem.need {
        return None;
    }
    let action = match call_for(&rig, problem.need, &settings).ok()? {
        Some(call) => {
            format!("Call for {}; `tankerloop rig` shows the site", call.words(None, Shown::Us).join(", "))
        }
        None => "Set up a second dump site, or lower the lift".into(),
    };
    let cause = format!("the rig gives {:.0} at most, held back by {}", gives.flow, gives.limit.words());
    Some(Finding::new(Code::RigLimits, Where::default().named(format!("option {number}")), cause, action))
}

fn propose(field: &Field, dump: &DumpCandidate, need: GallonsPerMinute) -> Checked<Option<Relay>> {
    let fleet = &field.problem.fleet;
    let (Some(bed), Some(pumper)) = (HoseBed::of(fleet)?, fleet.draft_pumper()) else { return Ok(None) };
    let feet = dump.lay.length.feet();
    let lay = Lay { diameter: bed.size, length: feet, lines: dump.lay.lines };
    // A pumper like that at the dump site, as nobody knows which will come.
    let capacity = capacity_at_pressure(pumper.rated, pumper.pressure)?;
    let gain = dump.lay.rise.unwrap_or(Feet::ZERO);
    relay::propose(&lay, need, bed.pump, INTAKE_RESIDUAL, gain, capacity)
}

/// The line of waiting tankers, on the leg that most tankers come by.
fn waiting(field: &Field, case: &Case, space: &Space, findings: &mut Findings) -> Option<Staging> {
    let roads = field.ground.roads;
    let fleet = &field.problem.fleet;
    let berths = case.shuttle.dump.berths as usize;
    // At worst all come at once; those at the berths do not wait.
    let tankers = case.tankers.len().saturating_sub(berths);
    if tankers == 0 {
        return None;
    }
    let mut lengths: Vec<Metres> = case.tankers.iter().map(|t| fleet.tankers[*t].chassis.length).collect();
    lengths.sort_by(|a, b| b.0.total_cmp(&a.0));
    let needed = staging::needed(lengths.into_iter().take(tankers));
    let mut on_leg: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for (tanker, member) in case.shuttle.tankers.iter().zip(&case.tankers) {
        *on_leg.entry((field.class_of(*member), case.fills[tanker.fill])).or_default() += 1;
    }
    let (key, _) = on_leg.into_iter().max_by_key(|(key, count)| (*count, Reverse(*key)))?;
    let drive: &Drive = &case.loops.get(&key)?.loaded;
    let found = staging::find(roads, drive, tankers, needed, space.tank_row);
    if found.is_none() {
        let dump = &field.dumps[case.choice.dump];
        findings.add(Finding::new(
            Code::StagingNone,
            at_dump(field, dump),
            format!(
                "{tankers} tankers may wait, {needed:.0} of road, and no such stretch without a junction or \
                 a bridge, on which two trucks are known to pass, lies within {:.0} before the dump site",
                staging::FARTHEST
            ),
            "Have them wait farther out or off the road, and call them in by radio",
        ));
    }
    found
}
