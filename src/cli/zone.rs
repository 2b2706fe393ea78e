//! `tankerloop zone`: every road of a response zone.

use crate::cli::drive::Units;
use crate::cli::propose::propose_sites;
use crate::cli::shown;
use crate::cli::what_if::WhatIf;
use crate::finding::{Code, Findings, Outcome, Refusal, Where};
use crate::output::{export, page, zone as output, zone_csv, zone_page};
use crate::plan::terrain::Terrain;
use crate::plan::{Overrides, Problem};
use crate::routing::Roads;
use crate::units::Metres;
use crate::zone::compare::Variant;
use crate::zone::gaps;
use crate::zone::parts::{self, Parts};
use crate::zone::record::Record;
use crate::zone::summary::Summary;
use crate::zone::{Area, Ask, Zone, block, buildings, sample};
use clap::ValueHint;
use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::str::FromStr;

/// Every road of a response zone: what flow the fleet sustains there, and what holds it back.
///
/// Takes each stretch of road as the incident, with the tanks set beside it, and works out the closed
/// form for all of them: the ceiling, a flow the fleet cannot pass, and a flow it holds even if every
/// tanker always waits for all others. A sample is simulated, and the difference told. What `plan` adds
/// (dump sites out on better roads, hose, narrow lanes) is not in it: ask `plan` for a place that matters.
///
/// Exit code 0: every stretch meets the needed flow by its ceiling; 1: some do not; 2: an error.
///
/// Example: tankerloop zone out/scenario.toml --need 500 -o zone.geojson --page zone.html
#[derive(clap::Args)]
pub struct Args {
    /// Scenario file (TOML); its incident is not used.
    #[arg(value_name = "SCENARIO.toml", value_hint = ValueHint::FilePath)]
    scenario: PathBuf,
    /// OpenStreetMap extract (.osm.pbf or saved by prepare) in place of the scenario's.
    #[arg(long, value_name = "FILE")]
    roads: Option<PathBuf>,
    /// Outline of the zone (GeoJSON polygons); all roads of the extract if not given.
    #[arg(long, value_name = "ZONE.geojson", value_hint = ValueHint::FilePath)]
    area: Option<PathBuf>,
    /// Longest stretch, in metres.
    #[arg(long, value_name = "M", default_value_t = 250.0)]
    longest: f64,
    /// Stretches simulated.
    #[arg(long, value_name = "N", default_value_t = 40)]
    sample: usize,
    /// Needed flow in US gallons per minute in place of the scenario's.
    #[arg(long, value_name = "GPM", allow_hyphen_values = true)]
    need: Option<f64>,
    /// Month of the year, 1 to 12, for seasonal sites.
    #[arg(long)]
    month: Option<u8>,
    /// Local time, without a zone, for roads closed or limited at times.
    #[arg(long, value_name = "2026-01-15T14:00")]
    when: Option<String>,
    /// Overlay (GeoJSON) beside the scenario's; may be given more than once.
    #[arg(long, value_name = "FILE.geojson")]
    overlay: Vec<PathBuf>,
    /// Work one block of N only, such as 3/64, and leave it in the folder of --parts.
    #[arg(long, value_name = "K/N", requires = "parts", conflicts_with_all = ["gather", "output"])]
    block: Option<BlockOf>,
    /// Blocks that a single run is cut into; a run that was stopped loses no more than one.
    #[arg(long, value_name = "N", conflicts_with_all = ["block", "gather"], value_parser = clap::value_parser!(u32).range(1..=99_999))]
    blocks: Option<u32>,
    /// Keep what is worked out in this folder: a run that was stopped goes on where it was when it is
    /// called again with the same options. Without it the folder is the output's name with `.parts`, and
    /// goes when the output is written.
    #[arg(long, value_name = "DIR")]
    parts: Option<PathBuf>,
    /// Join the blocks of a folder, all of which must be there, worked with the same scenario and options.
    #[arg(long, value_name = "DIR", conflicts_with = "parts")]
    gather: Option<PathBuf>,
    /// The same stretches under another request beside, as NAME: CHANGE, CHANGE; may be given more than
    /// once. Changes: month=1, when=2026-01-15T14:00, overlay=FILE.geojson, without=SITE, tankers=T1+T2,
    /// water=drought or normal, scenario=FILE.toml. Example: --compare "winter: month=1".
    #[arg(long, value_name = "NAME: CHANGE")]
    compare: Vec<WhatIf>,
    /// Propose so many new fill sites, in the order of what each closes of the gaps.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1_000))]
    propose: Option<u32>,
    /// Places for --propose, a list of fill sites as `sites` of a scenario names them. If not given: the road
    /// beside open water that the extract shows (lakes, ponds, rivers, canals, streams with a name or width), no
    /// farther from it than suction hose reaches, and the water tagged for the fire service. Whether a pump can
    /// draft there is not known: ask before relying.
    #[arg(long, value_name = "FILE", requires = "propose", value_hint = ValueHint::FilePath)]
    candidates: Option<PathBuf>,
    /// Write the GeoJSON here instead of to stdout. A name that ends in .csv gets CSV, a row a stretch; one that ends
    /// in .gpkg a GeoPackage, a table a layer, as `tankerloop export` makes it of the GeoJSON.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Also write a map page: one HTML file for any browser, that needs no network.
    #[arg(long, value_name = "FILE.html", conflicts_with = "block", value_hint = ValueHint::FilePath)]
    page: Option<PathBuf>,
    /// Units of the page at first; the GeoJSON names its units.
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
    /// Say nothing on stderr but errors.
    #[arg(short, long)]
    quiet: bool,
}

pub fn run(args: Args) -> Outcome<ExitCode> {
    let overrides = Overrides {
        roads: args.roads.clone(),
        need: args.need,
        month: args.month,
        when: args.when.clone(),
        overlay: args.overlay.clone(),
        ..Overrides::default()
    };
    if !(args.longest.is_finite() && (10.0..=5_000.0).contains(&args.longest)) {
        return Err(Refusal::new(
            Code::InputInvalid,
            Where::default().named("--longest"),
            format!("a stretch of {} m is none", args.longest),
            "give a length from 10 to 5000 m",
        ));
    }
    if args.page.is_some() && !page::built() {
        let (cause, action) = page::MISSING;
        return Err(Refusal::new(Code::InputInvalid, Where::default().named("--page"), cause, action));
    }
    let area = args.area.as_deref().map(Area::read).transpose()?;
    let problem = Problem::read_zone(&args.scenario, &overrides)?;
    let roads = problem.roads.read(&mut shown::reading(&problem.roads.file))?;
    let ask = Ask { longest: Metres(args.longest), area };
    // Other requests beside this one go over the same roads.
    let shared = (!args.compare.is_empty() || args.propose.is_some()).then(|| Terrain::new(&roads));
    let mut zone = match &shared {
        Some(terrain) => Zone::survey_on(&problem, terrain, &ask)?,
        None => Zone::survey(&problem, &roads, &ask)?,
    };
    if let (Some(block), Some(folder)) = (args.block, &args.parts) {
        let parts = Parts::open(folder, &zone, block.of)?;
        if parts.known(block.number).is_none() {
            parts.make(&zone, block.number)?;
        }
        return Ok(ExitCode::SUCCESS);
    }
    let mut findings = Findings::new();
    let (judged, buildings) =
        rayon::join(|| judge(&args, &zone), || buildings::count(&zone, &ask, &mut findings));
    let judged = judged?;
    zone.findings.extend(findings);
    let sampled = sample::simulate(&zone, args.sample)?;
    if args.compare.is_empty() && args.propose.is_none() {
        zone.search_no_more();
    }
    let summary = Summary::of(&zone, &judged, &sampled);
    let gaps = gaps::find(&zone, &judged.ceiling_gpm);
    let mut variants = Vec::new();
    for what_if in &args.compare {
        let problem = what_if.problem(&args.scenario, &overrides)?;
        let terrain = shared.as_ref().filter(|_| problem.roads == zone.problem.roads);
        let variant = match terrain {
            Some(terrain) => Variant::of(&what_if.name, &zone, &zone.beside(&problem, terrain)?),
            None => {
                let roads = problem.roads.read(&mut |_, _| {})?;
                Variant::of(&what_if.name, &zone, &zone.beside(&problem, &Terrain::new(&roads))?)
            }
        };
        variants.push(variant?);
    }
    let mut proposals = Vec::new();
    if let (Some(count), Some(terrain)) = (args.propose, &shared) {
        let list = args.candidates.as_deref();
        let (found, findings) = propose_sites(&zone, terrain, &judged.ceiling_gpm, list, count as usize)?;
        proposals = found;
        zone.findings.extend(findings);
    }
    let found = output::Found {
        zone: &zone,
        judged: &judged,
        buildings: buildings.as_deref(),
        sampled: &sampled,
        summary: &summary,
        gaps: &gaps,
        variants: &variants,
        proposals: &proposals,
    };
    if let Some(path) = &args.page {
        let text = text_of(&found, path)?;
        write_page(path, &text, &problem, &roads, args.units)?;
    }
    let held = write_output(args.output.as_deref(), &found)?;
    if args.parts.is_none() && args.gather.is_none() {
        judged.remove_parts();
    }
    if !args.quiet {
        eprint!("{}", crate::output::zone_table::write(&found));
        eprint!("{held}");
        eprintln!("\n{}", crate::output::CAUTIONS[0]);
    }
    let met = summary.meets_need_m >= summary.total_m;
    // The process ends: what the system takes back at once need not be taken apart list by list.
    std::mem::forget((judged, variants, proposals, zone, shared));
    std::mem::forget(roads);
    Ok(ExitCode::from(u8::from(!met)))
}

/// Writes the zone as the ending of the name tells, and says what the file holds.
fn write_output(path: Option<&Path>, found: &output::Found) -> Outcome<String> {
    let ending = path.and_then(Path::extension).map(|e| e.to_string_lossy().to_ascii_lowercase());
    let Some((path, ending)) = path.zip(ending).filter(|(_, e)| ["csv", "gpkg"].contains(&e.as_str())) else {
        shown::write_by(path, |out| output::write(found, out))?;
        let held = "stretches, fill sites, gaps, proposals, findings";
        return Ok(path.map_or(String::new(), |path| format!("{}: {held}\n", path.display())));
    };
    if ending == "csv" {
        shown::write_by(Some(path), |out| zone_csv::write(found, out))?;
        let held = format!("{} stretches, a row each with the number of its gap", found.judged.len());
        return Ok(format!("{}: {held}; no fill sites, proposals and findings\n", path.display()));
    }
    // The very GeoJSON, so that this is what `export` makes of it.
    let text = text_of(found, path)?;
    let document = export::read(&text, &path.display().to_string())?;
    drop(text);
    let written = export::write(&document, export::Format::GeoPackage, path)
        .map_err(|e| shown::unwritable(path.display().to_string(), e))?;
    let layers: Vec<String> = written.held.iter().map(|(layer, count)| format!("{count} {layer}")).collect();
    Ok(format!("{}: {}, and a table about the whole\n", path.display(), layers.join(", ")))
}

/// The GeoJSON whole, for what `path` is made of it.
fn text_of(found: &output::Found, path: &Path) -> Outcome<String> {
    let mut text = Vec::new();
    output::write(found, &mut text)
        .and_then(|()| String::from_utf8(text).map_err(io::Error::other))
        .map_err(|e| shown::unwritable(path.display().to_string(), e))
}

fn write_page(path: &Path, text: &str, problem: &Problem, roads: &Roads, units: Units) -> Outcome<()> {
    let own = |e: serde_json::Error| {
        Refusal::new(Code::VerifyFailed, Where::default(), e.to_string(), "report it with its scenario")
    };
    let zone = serde_json::from_str(text).map_err(own)?;
    let html = zone_page::write(&zone, &roads.network, &problem.roads.file, units.into());
    shown::write(Some(path), html.as_bytes())
}

/// All stretches judged: gathered, gone on with, or worked anew.
fn judge(args: &Args, zone: &Zone) -> Outcome<Record> {
    let all = zone.stretches.len();
    let mut tell = progress(all, args.quiet);
    if let Some(folder) = &args.gather {
        return Parts::open(folder, zone, Parts::count(folder)?)?.gather(&mut tell);
    }
    let beside = |output: &PathBuf| {
        let mut folder = output.clone().into_os_string();
        folder.push(".parts");
        PathBuf::from(folder)
    };
    let cut = args.blocks.map_or_else(|| usual(all), |n| (n as usize).min(all));
    let Some(folder) = args.parts.clone().or_else(|| args.output.as_ref().map(beside)) else {
        let mut judged = Vec::with_capacity(all);
        for number in 1..=cut {
            judged.extend(block::work(zone, &zone.stretches[block::part(all, number, cut)])?);
            tell(judged.len());
        }
        return Ok(Record::at_hand(judged));
    };
    Parts::open(&folder, zone, cut)?.all(zone, &mut tell)
}

/// Parts of a single run.
fn usual(stretches: usize) -> usize {
    stretches.div_ceil(parts::USUAL).max(1)
}

/// Block K of N.
#[derive(Clone, Copy)]
struct BlockOf {
    number: usize,
    of: usize,
}

impl FromStr for BlockOf {
    type Err = String;
    fn from_str(text: &str) -> Result<BlockOf, String> {
        let parts = text.split_once('/').and_then(|(k, n)| Some((k.parse().ok()?, n.parse().ok()?)));
        match parts {
            Some((number, of)) if (1..=of).contains(&number) && of <= 99_999 => Ok(BlockOf { number, of }),
            _ => Err("write K/N with K from 1 to N, such as 3/64".into()),
        }
    }
}

/// A line on a terminal that tells how far the work is.
fn progress(all: usize, quiet: bool) -> impl FnMut(usize) {
    let terminal = !quiet && std::io::stderr().is_terminal();
    move |done| {
        if terminal {
            let end = if done >= all { "\n" } else { "" };
            eprint!("\r{done} of {all} stretches{end}");
        }
    }
}
