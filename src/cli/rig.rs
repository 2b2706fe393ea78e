//! `tankerloop rig`: the dump rig alone, without a map.

use crate::cli::drive::{Format, Units};
use crate::cli::shown;
use crate::finding::{Code, Findings, Outcome, Refusal, Where};
use crate::output::rig;
use crate::plan::rig::{RigProblem, answer};
use crate::sites::dump::{HoseBed, INTAKE_RESIDUAL};
use crate::sites::rig::{RigSettings, rig_of, supply_line};
use crate::units::{Feet, Gallons, GallonsPerMinute, Inches, Psi};
use crate::vehicle::Fleet;
use crate::water::BadInput;
use crate::water::draft::CapacityCurve;
use crate::water::hose::{HoseSize, Lay};
use crate::water::rig::{Pumper, Rig, SupplyLine};
use crate::water::transfer::TransferSettings;
use std::path::PathBuf;
use std::process::ExitCode;

/// What a dump rig gives, what to call for, and how to build and set it. Needs no map.
///
/// Takes the parts from a fleet file or from flags, which go before it. Prints a drawing of the site,
/// the order in which to build it as tankers arrive, the valves to open at each flow, and what holds
/// it back. Common practice is taken at its cautious end: a siphon moves 500 gpm and takes 200 gpm of
/// the pump, which comes back into the tanks. Exit code 0: the rig gives the flow; 1: not without what
/// is called for; 2: an error in input or use.
///
/// Example, a 1,250 gpm pumper, two tanks and a siphon, 750 gpm wanted over 600 ft of 5-in hose:
///   tankerloop rig --pump 1250 --tank 3000 --tank 3000 --siphons 1 --hose 5 --length 600 --flow 750
/// The same of a fleet: tankerloop rig --fleet out/fleet.toml --length 600 --flow 750
#[derive(clap::Args)]
#[command(verbatim_doc_comment, allow_negative_numbers = true)]
pub struct Args {
    /// Fleet file (TOML): its draft pumper, a second one of role "draft", portable tanks, siphons, hose.
    #[arg(long, value_name = "FILE")]
    fleet: Option<PathBuf>,
    /// Flow wanted at the attack, US gallons per minute; without it the most is worked out.
    #[arg(long, value_name = "GPM")]
    flow: Option<f64>,
    /// Rating of the pumper that drafts, gpm at 150 psi and 10 ft of lift.
    #[arg(long, value_name = "GPM")]
    pump: Option<f64>,
    /// Greatest pressure it gives the supply line [default: the fleet's, else 150 psi].
    #[arg(long, value_name = "PSI")]
    pump_psi: Option<f64>,
    /// Suction tubes it draws through [default: the fleet's, else 1].
    #[arg(long, value_name = "N")]
    suctions: Option<u32>,
    /// Diameter of a suction tube, inches.
    #[arg(long, value_name = "IN", default_value_t = 5.0)]
    suction: f64,
    /// Rating of a second pumper that feeds the siphons, gpm; drafts through one such tube.
    #[arg(long, value_name = "GPM")]
    transfer_pump: Option<f64>,
    /// A portable tank, US gallons; once for each, the drafted one first.
    #[arg(long, value_name = "GAL")]
    tank: Vec<f64>,
    /// Jet siphons [default: the fleet's, else 0].
    #[arg(long, value_name = "N")]
    siphons: Option<u32>,
    /// Water in the drafted tank, when low, to the pump's intake, feet.
    #[arg(long, value_name = "FT", default_value_t = 6.0)]
    lift: f64,
    /// Altitude above sea level, feet.
    #[arg(long, value_name = "FT", default_value_t = 0.0)]
    altitude: f64,
    /// Length of the supply line to the attack, feet; without it the line is taken to carry all.
    #[arg(long, value_name = "FT")]
    length: Option<f64>,
    /// Diameter of the supply hose, inches [default: the fleet's largest, else 5].
    #[arg(long, value_name = "IN")]
    hose: Option<f64>,
    /// Equal supply lines side by side [default: as many as the fleet's hose makes, two at most, else 1].
    #[arg(long, value_name = "N")]
    lines: Option<u32>,
    /// Rise from the dump site to the attack, feet; negative downhill.
    #[arg(long, value_name = "FT", default_value_t = 0.0)]
    rise: f64,
    /// Tank of the largest tanker, US gallons, to judge the portable tanks [default: the fleet's].
    #[arg(long, value_name = "GAL")]
    load: Option<f64>,
    /// Flow moved by a siphon, gpm; practice has 500 to 600.
    #[arg(long, value_name = "GPM", default_value_t = 500.0)]
    siphon_moves: f64,
    /// Motive flow of a siphon, gpm; practice has 150 to 200.
    #[arg(long, value_name = "GPM", default_value_t = 200.0)]
    siphon_takes: f64,
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Units of the text output; JSON names its units.
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
}

pub fn run(args: Args) -> Outcome<ExitCode> {
    let mut findings = Findings::new();
    let fleet = args.fleet.as_deref().map(|file| Fleet::read(file, &mut findings)).transpose()?;
    let place = || match &args.fleet {
        Some(file) => Where::file(file.display()).named("dump rig"),
        None => Where::default().named("dump rig"),
    };
    let bad = |e: BadInput| Refusal(vec![e.finding(place())]);
    let problem = problem(&args, fleet.as_ref(), &place())?;
    let found = answer(&problem).map_err(bad)?;
    let text = match args.format {
        Format::Text => rig::write(&problem, &found, args.units.into()),
        Format::Json => format!("{:#}\n", rig::json(&problem, &found)),
    };
    eprint!("{}", shown::findings_text(&findings, MOST_OF_A_CODE));
    shown::write(None, text.as_bytes())?;
    Ok(ExitCode::from(if found.meets_need() { 0 } else { 1 }))
}

fn problem(args: &Args, fleet: Option<&Fleet>, place: &Where) -> Outcome<RigProblem> {
    let bad = |e: BadInput| Refusal(vec![e.finding(place.clone())]);
    if fleet.is_none() && (args.pump.is_none() || args.tank.is_empty()) {
        let action = "give --fleet FILE, or --pump GPM and --tank GAL for each portable tank";
        return Err(Refusal::new(Code::InputInvalid, place.clone(), "no pumper or no tank is given", action));
    }
    let settings = RigSettings {
        lift: Feet(args.lift),
        altitude: Feet(args.altitude),
        suction: Inches(args.suction),
        ..RigSettings::default()
    };
    let line = line(args, fleet).map_err(bad)?;
    let mut rig = match (fleet, args.pump) {
        // A pumper given by flags stands in the place of the fleet's.
        (Some(fleet), None) => rig_of(fleet, &settings, line).map_err(bad)?,
        (fleet, pump) => bare(args, fleet, pump.unwrap_or_default(), &settings, line),
    };
    if let Some(psi) = args.pump_psi {
        rig.pumper.pressure = Psi(psi);
    }
    if let Some(suctions) = args.suctions {
        rig.pumper.suctions = suctions;
    }
    if let Some(rated) = args.transfer_pump {
        rig.transfer = Some(Pumper {
            rated: GallonsPerMinute(rated),
            pressure: RATED,
            suctions: 1,
            suction: settings.suction,
        });
    }
    rig.siphons = args.siphons.unwrap_or(rig.siphons);
    let mut tanks: Vec<Gallons> = args.tank.iter().copied().map(Gallons).collect();
    if let (Some(fleet), true) = (fleet, tanks.is_empty()) {
        tanks = fleet.portable_tanks.clone();
    }
    rig.tanks = tanks.len() as u32;
    if let Some(wrong) = tanks.iter().find(|tank| !(tank.0 > 0.0 && tank.0 <= 20_000.0)) {
        let remedy = "give its volume from 1 to 20,000 gal".to_string();
        return Err(bad(BadInput { what: "portable tank (gal)", found: wrong.0, remedy }));
    }
    if tanks.len() > MOST_TANKS {
        let cause = format!("{} portable tanks at one dump site", tanks.len());
        let action = format!("give {MOST_TANKS} at most, or set up a second dump site");
        return Err(Refusal::new(Code::InputInvalid, place.clone(), cause, action));
    }
    let largest = fleet.and_then(|fleet| fleet.tankers.iter().map(|t| t.tank).reduce(Gallons::max));
    Ok(RigProblem {
        rig,
        tanks,
        largest_load: args.load.map(Gallons).or(largest),
        wanted: args.flow.map(GallonsPerMinute),
        settings: TransferSettings {
            siphon_moved_gpm: GallonsPerMinute(args.siphon_moves),
            siphon_motive_gpm: GallonsPerMinute(args.siphon_takes),
            ..TransferSettings::default()
        },
    })
}

/// Alike findings of the fleet file that are shown; `audit` shows all.
const MOST_OF_A_CODE: usize = 3;
/// More tanks than stand at one place.
const MOST_TANKS: usize = 12;
/// Pressure of a pump's rating (NWCG; from memory of NFPA 1901).
const RATED: Psi = Psi(150.0);

/// A rig from flags; tanks and siphons of the fleet where flags give none.
fn bare(
    args: &Args,
    fleet: Option<&Fleet>,
    pump: f64,
    settings: &RigSettings,
    line: Option<SupplyLine>,
) -> Rig {
    Rig {
        pumper: Pumper {
            rated: GallonsPerMinute(pump),
            pressure: RATED,
            suctions: 1,
            suction: settings.suction,
        },
        transfer: None,
        tanks: args.tank.len() as u32,
        siphons: fleet.map_or(0, |fleet| fleet.siphons),
        lift: settings.lift,
        altitude: settings.altitude,
        curve: CapacityCurve::default(),
        line,
    }
}

/// The supply line, where its length is given: the fleet's hose unless flags say otherwise.
fn line(args: &Args, fleet: Option<&Fleet>) -> Result<Option<SupplyLine>, BadInput> {
    let Some(length) = args.length else { return Ok(None) };
    let bed = fleet.map(HoseBed::of).transpose()?.flatten();
    let diameter = match (args.hose, &bed) {
        (Some(inches), _) => HoseSize::from_inches(inches)?,
        (None, Some(bed)) => bed.size,
        (None, None) => HoseSize::Five,
    };
    let gain = Feet(args.rise);
    let whole = Lay { diameter, length: Feet(length), lines: args.lines.unwrap_or(1) };
    match bed {
        Some(bed) if args.hose.is_none() && args.lines.is_none() && length > 0.0 => {
            let (lines, _) = bed.lay(Feet(length).metres(), Feet::ZERO)?;
            if lines == 0 {
                return Err(BadInput {
                    what: "supply line (ft)",
                    found: length,
                    remedy: format!(
                        "the fleet has {:.0} of {} hose; give --hose and --lines for more",
                        bed.total, bed.size
                    ),
                });
            }
            Ok(Some(supply_line(&bed, Feet(length).metres(), lines, gain)))
        }
        _ => Ok(Some(SupplyLine { lay: whole, residual: INTAKE_RESIDUAL, gain })),
    }
}
