//! `tankerloop serve`: the live page.

use crate::cli::drive::Units;
use crate::cli::shown;
use crate::finding::Outcome;
use crate::plan::Overrides;
use crate::serve::{self, Config, Limits};
use clap::ValueHint;
use std::net::{IpAddr, Ipv4Addr};
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

/// The map page live in a browser: tap the incident, choose tankers, close roads, and see the options change.
///
/// Reads the scenario, opens its roads once (best from a network saved by prepare) and answers on this
/// machine only, at the address it prints, until Ctrl-C. Under /api are the same requests and answers as
/// those of plan, for programs; /api/openapi.json describes them. Nothing is sent anywhere, and no file of
/// this machine is handed out.
///
/// Example: tankerloop serve out/scenario.toml --port 8000
#[derive(clap::Args)]
pub struct Args {
    /// Scenario file (TOML); its incident is where the page begins.
    #[arg(value_name = "SCENARIO.toml", value_hint = ValueHint::FilePath)]
    scenario: PathBuf,
    /// Port to answer on; 0 for any that is free.
    #[arg(long, default_value_t = 8000)]
    port: u16,
    /// Address to answer on. Anything but a loopback address lets others on the network ask: there is no
    /// password and no encryption.
    #[arg(long, value_name = "ADDR", default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST))]
    bind: IpAddr,
    /// OpenStreetMap extract (.osm.pbf or saved by prepare) in place of the scenario's.
    #[arg(long, value_name = "FILE")]
    roads: Option<PathBuf>,
    /// Overlay (GeoJSON) beside the scenario's; may be given more than once.
    #[arg(long, value_name = "FILE.geojson")]
    overlay: Vec<PathBuf>,
    /// Times fitted by `tankerloop drill`, in place of the scenario's.
    #[arg(long, value_name = "FILE.toml")]
    drill: Option<PathBuf>,
    /// Units of the page at first.
    #[arg(long, value_enum, default_value_t = Units::Us)]
    units: Units,
    /// Requests worked out at a time; as many as there are processors if not given.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    workers: Option<u16>,
    /// Requests that may wait for that; more are turned away, to ask again.
    #[arg(long, value_name = "N", default_value_t = 64)]
    queue: u16,
    /// Longest that a request may take, in seconds.
    #[arg(long, value_name = "S", default_value_t = 60, value_parser = clap::value_parser!(u16).range(1..=3_600))]
    time_limit: u16,
}

/// Largest request, bytes: a few hundred closed roads are 10 kB.
const MOST_BODY: usize = 64 * 1024;

pub fn run(args: Args) -> Outcome<ExitCode> {
    let base =
        Overrides { roads: args.roads, overlay: args.overlay, drill: args.drill, ..Overrides::default() };
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let limits = Limits {
        workers: args.workers.map_or(cores, usize::from),
        waiting: usize::from(args.queue),
        time: Duration::from_secs(u64::from(args.time_limit)),
        body: MOST_BODY,
    };
    let config = Config {
        scenario: args.scenario.clone(),
        base,
        units: args.units.into(),
        bind: args.bind,
        port: args.port,
        limits,
    };
    let open = !args.bind.is_loopback();
    serve::run(config, &mut shown::reading(&args.scenario), |address| {
        if open {
            eprintln!(
                "warning: {address} is not this machine alone: whoever reaches it can see the scenario and \
                 keep the machine busy; there is no password and no encryption"
            );
        }
        eprintln!("http://{address}/ (Ctrl-C stops it)\n\n{}", crate::output::CAUTIONS[0]);
    })?;
    Ok(ExitCode::SUCCESS)
}
