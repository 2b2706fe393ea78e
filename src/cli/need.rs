//! `tankerloop need`: what a building needs, by every method.

use crate::cli::drive::{Format, Units};
use crate::cli::shown;
use crate::finding::{Code, Finding, Outcome, Refusal, Where};
use crate::output::need;
use crate::units::Feet;
use crate::water::BadInput;
use crate::water::demand::{ConstructionClass, ExposureRule, FireBuilding, IsoConstruction};
use clap::ValueEnum;
use std::process::ExitCode;

/// What flow a building on fire needs, by every method, side by side. Needs no map.
///
/// Four methods, each named: nfpa-1142 (least supply by volume and the rate to deliver it), iowa (knock
/// down the largest open space), nfa (quick formula by floor area and share that burns), iso (needed
/// fire flow, a rating figure). They answer different questions: expect them to differ. A method whose
/// inputs are not given says what it lacks; what was assumed and where each formula is from is told
/// under the table. Measure outside the walls. Exit code 0; 2: an error in input or use.
///
/// Example, a wood-frame house of 50 x 30 ft, two 8-ft storeys under a ridge 8 ft higher
/// (8 + 8 + 8/2 = 20 ft), a quarter of one floor burning, a shed beside it:
///   tankerloop need --length-ft 50 --width-ft 30 --height-ft 20 --floors 2 --burning-floors 1 \
///     --involved 0.25 --occupancy-class 7 --construction-class V --exposures 1 --iso-exposure 0.15
///
/// `plan` takes the same keys as [incident.building] (with _ for -) and need_by = "nfpa-1142", "iowa", "nfa"
/// or "iso" in place of need_gpm. Local codes and the authority having jurisdiction go before all of them,
/// and qualified officers decide.
#[derive(clap::Args)]
#[command(verbatim_doc_comment, allow_negative_numbers = true)]
pub struct Args {
    /// Length of the building, feet.
    #[arg(long, value_name = "FT")]
    length_ft: f64,
    /// Width of the building, feet.
    #[arg(long, value_name = "FT")]
    width_ft: f64,
    /// Heights of the storeys and half of the ridge above them, feet (nfpa-1142, iowa).
    #[arg(long, value_name = "FT")]
    height_ft: Option<f64>,
    /// Storeys of the building.
    #[arg(long, value_name = "N", default_value_t = 1)]
    floors: u32,
    /// Storeys that burn (nfa) [default: all].
    #[arg(long, value_name = "N")]
    burning_floors: Option<u32>,
    /// Share of each burning floor that burns, 0.01 to 1 (nfa) [default: 1].
    #[arg(long, value_name = "SHARE")]
    involved: Option<f64>,
    /// Occupancy hazard classification, 3 (severe) to 7 (light: dwellings) (nfpa-1142).
    #[arg(long, value_name = "3..7")]
    occupancy_class: Option<u8>,
    /// Construction: I fire resistive, II noncombustible, III masonry walls, IV heavy timber, V wood
    /// frame; or 1 to 5 (nfpa-1142, iso).
    #[arg(long, value_name = "I..V")]
    construction_class: Option<ConstructionClass>,
    /// Construction classification number of your edition in place of the class's (nfpa-1142).
    #[arg(long, value_name = "NUMBER")]
    construction_number: Option<f64>,
    /// The building is a dwelling, and your edition caps its construction number at this (nfpa-1142).
    #[arg(long, value_name = "NUMBER")]
    dwelling_cap: Option<f64>,
    /// Buildings exposed to the fire.
    #[arg(long, value_name = "N", default_value_t = 0)]
    exposures: u32,
    /// How exposures count in nfa, on which sources disagree [default: added-in-full].
    #[arg(long, value_enum)]
    exposure_rule: Option<RuleArg>,
    /// The building has sprinklers: nfpa-1142 and iso are not for it.
    #[arg(long)]
    sprinklered: bool,
    /// Largest open space, feet (iowa) [default: the whole building].
    #[arg(long, num_args = 3, value_names = ["LENGTH", "WIDTH", "HEIGHT"])]
    open_space_ft: Option<Vec<f64>>,
    /// Effective area, square feet (iso) [default: one floor and half of each other].
    #[arg(long, value_name = "FT2")]
    iso_area_ft2: Option<f64>,
    /// Construction (iso) [default: what the class stands for].
    #[arg(long, value_enum)]
    iso_construction: Option<IsoArg>,
    /// Occupancy factor, 0.75 (light) to 1.25 (rapid burning) (iso) [default: 1].
    #[arg(long, value_name = "FACTOR")]
    iso_occupancy: Option<f64>,
    /// What exposures add, 0 to 1 (iso); asked for where there are any.
    #[arg(long, value_name = "FACTOR")]
    iso_exposure: Option<f64>,
    /// What openings towards neighbours add, 0 to 1 (iso) [default: 0].
    #[arg(long, value_name = "FACTOR")]
    iso_communication: Option<f64>,
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Units of the text output; JSON names its units.
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
}

#[derive(Clone, Copy, ValueEnum)]
enum RuleArg {
    /// A quarter of one whole floor's flow each, whatever share burns.
    AddedInFull,
    /// A quarter each, before share and floors multiply.
    ScaledByShare,
}

#[derive(Clone, Copy, ValueEnum)]
enum IsoArg {
    Frame,
    JoistedMasonry,
    Noncombustible,
    FireResistive,
}

pub fn run(args: Args) -> Outcome<ExitCode> {
    let figures = building(&args).figures().map_err(refusal)?;
    let text = match args.format {
        Format::Text => need::write(&figures, args.units.into()),
        Format::Json => format!("{:#}\n", need::json(&figures)),
    };
    shown::write(None, text.as_bytes())?;
    Ok(ExitCode::SUCCESS)
}

/// The number by its flag; a product of several has no flag and keeps its name.
fn refusal(e: BadInput) -> Refusal {
    let what = if e.what.contains(' ') { e.what.to_string() } else { need::flag(e.what) };
    let cause = format!("{what} is {}", e.found);
    Refusal(vec![Finding::new(Code::InputInvalid, Where::default().named("building"), cause, e.remedy)])
}

fn building(args: &Args) -> FireBuilding {
    let open_space_ft = args.open_space_ft.as_deref().and_then(|sides| match sides {
        [length, width, height] => Some([Feet(*length), Feet(*width), Feet(*height)]),
        _ => None,
    });
    FireBuilding {
        length_ft: Feet(args.length_ft),
        width_ft: Feet(args.width_ft),
        height_ft: args.height_ft.map(Feet),
        floors: args.floors,
        burning_floors: args.burning_floors,
        involved: args.involved,
        occupancy_class: args.occupancy_class,
        construction_class: args.construction_class,
        construction_number: args.construction_number,
        dwelling_cap: args.dwelling_cap,
        exposures: args.exposures,
        exposure_rule: match args.exposure_rule {
            None => ExposureRule::default(),
            Some(RuleArg::AddedInFull) => ExposureRule::AddedInFull,
            Some(RuleArg::ScaledByShare) => ExposureRule::ScaledByShare,
        },
        sprinklered: args.sprinklered,
        open_space_ft,
        iso_area_ft2: args.iso_area_ft2,
        iso_construction: args.iso_construction.map(|construction| match construction {
            IsoArg::Frame => IsoConstruction::Frame,
            IsoArg::JoistedMasonry => IsoConstruction::JoistedMasonry,
            IsoArg::Noncombustible => IsoConstruction::Noncombustible,
            IsoArg::FireResistive => IsoConstruction::FireResistive,
        }),
        iso_occupancy: args.iso_occupancy,
        iso_exposure: args.iso_exposure,
        iso_communication: args.iso_communication,
    }
}
