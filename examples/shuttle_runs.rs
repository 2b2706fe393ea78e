//! Runs shuttles given as JSON on stdin and prints what came of them, for those who want to lay another
//! simulator beside this one: `tests/peers/simpy_shuttle.py` does.
//!
//! In: a list of `{"shuttle": Shuttle, "flow_gpm": .., "from_s": .., "until_s": .., "replications": ..}`;
//! the shuttle as serde writes it. Out: a list of means over the replications.

use serde::Deserialize;
use std::io::Read;
use tankerloop::shuttle::{Draw, Shuttle, ShuttleError, simulate};
use tankerloop::units::{GallonsPerMinute, Seconds};

#[derive(Deserialize)]
struct Job {
    shuttle: Shuttle,
    flow_gpm: f64,
    from_s: f64,
    until_s: f64,
    replications: u32,
}

const SEED: u64 = 7;

fn run(job: &Job) -> Result<serde_json::Value, ShuttleError> {
    let draw =
        Draw { flow: GallonsPerMinute(job.flow_gpm), from: Seconds(job.from_s), until: Seconds(job.until_s) };
    let mut sums = [0.0; 5];
    for replication in 0..job.replications {
        let run = simulate(&job.shuttle, &draw, SEED, replication)?;
        let waited: f64 = run.passages.iter().map(|p| (p.enters - p.reaches).0).sum();
        let values = [run.delivered.0, run.drawn.0, run.level.0, run.filled.0, waited];
        sums.iter_mut().zip(values).for_each(|(sum, value)| *sum += value);
    }
    let [delivered, drawn, level, filled, lane_wait] = sums.map(|sum| sum / f64::from(job.replications));
    Ok(serde_json::json!({
        "delivered_gal": delivered, "drawn_gal": drawn, "level_gal": level, "filled_gal": filled,
        "lane_wait_s": lane_wait,
    }))
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut text = String::new();
    std::io::stdin().read_to_string(&mut text)?;
    let jobs: Vec<Job> = serde_json::from_str(&text)?;
    let all = jobs.iter().map(run).collect::<Result<Vec<_>, _>>()?;
    println!("{}", serde_json::Value::Array(all));
    Ok(())
}
