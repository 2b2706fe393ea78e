//! The flow search on one core, with and without narrow road: `cargo bench --bench shuttle`.

use divan::Bencher;
use tankerloop::shuttle::*;
use tankerloop::units::{Gallons, GallonsPerMinute, Seconds};

fn main() {
    divan::main();
}

/// Twelve tankers on cycles of 17 to 21 minutes, two berths at two fill sites and at the dump site, and
/// so many lanes of 20 to 45 s on both legs of each.
fn twelve(lanes: usize) -> Shuttle {
    let leg = |forward: bool| -> Vec<Passage> {
        let mut at_s = 10.0;
        (0..lanes)
            .map(|i| {
                let lane = if forward { i } else { lanes - 1 - i };
                let take_s = if lanes > 8 { 15.0 } else { 20.0 + 5.0 * lane as f64 };
                let passage = Passage { lane, forward, after: Seconds(at_s), take: Seconds(take_s) };
                at_s += take_s + 8.0;
                passage
            })
            .collect()
    };
    let tanker = |i: usize| Tanker {
        name: format!("T{i}"),
        load: Gallons(1350.0 + 150.0 * (i % 6) as f64),
        fill: i % 2,
        arrives: Seconds(300.0 + 60.0 * i as f64),
        empty_travel: Seconds(320.0 + 10.0 * (i % 4) as f64),
        loaded_travel: Seconds(350.0 + 10.0 * (i % 4) as f64),
        empty_lanes: leg(true),
        loaded_lanes: leg(false),
        intake: GallonsPerMinute(1000.0),
        dump_rate: GallonsPerMinute(1200.0),
        fill_handling: Seconds(90.0),
        dump_handling: Seconds(60.0),
    };
    let fill = |i: usize| Fill {
        name: format!("site {i}"),
        berths: 2,
        flow: GallonsPerMinute(1500.0),
        volume: None,
    };
    Shuttle {
        tankers: (0..12).map(tanker).collect(),
        fills: (0..2).map(fill).collect(),
        dump: Dump { berths: 2, tank_room: Gallons(9000.0), draw_limits: vec![] },
        lanes: (0..lanes).map(|i| Lane { name: format!("lane {i}") }).collect(),
        spread: Spread::default(),
    }
}

fn three_hours() -> Terms {
    Terms { period: Seconds(10_800.0), ..Terms::default() }
}

fn on_one_core<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap().install(work)
}

/// The whole search for the sustained flow: 400 replications of three hours.
#[divan::bench(args = [0, 1, 3, 6, 12], sample_count = 30)]
fn flow_search_by_lanes(bencher: Bencher, lanes: usize) {
    let shuttle = twelve(lanes);
    bencher.bench(|| on_one_core(|| sustained_flow(&shuttle, &three_hours()).unwrap()));
}

/// One draw asked of 400 replications of three hours: replications per second on one core.
#[divan::bench(args = [0, 6], sample_count = 30)]
fn replications(bencher: Bencher, lanes: usize) {
    let shuttle = twelve(lanes);
    let terms = three_hours();
    let flow = sustained_flow(&shuttle, &terms).unwrap();
    let bencher = bencher.counter(divan::counter::ItemsCount::new(terms.replications));
    bencher.bench(|| on_one_core(|| holds_share(&shuttle, &terms, flow).unwrap()));
}

/// A plan's full simulation of one option: sustained flow, from when on it is held, waiting, timeline. 12 tankers,
/// 3 h, 400 replications; the target is 50 ms on one core.
#[divan::bench(args = [0, 6], sample_count = 30)]
fn full_simulation(bencher: Bencher, lanes: usize) {
    let shuttle = twelve(lanes);
    bencher.bench(|| on_one_core(|| sustained(&shuttle, &three_hours()).unwrap()));
}

/// Milestones, each tanker withdrawn, the series: what an option costs besides.
#[divan::bench(sample_count = 10)]
fn in_time(bencher: Bencher) {
    let shuttle = twelve(0);
    let held = sustained(&shuttle, &three_hours()).unwrap();
    bencher.bench(|| {
        on_one_core(|| {
            let losses = withdrawn(&shuttle, &three_hours()).unwrap();
            (milestones(&shuttle, &three_hours(), &held).unwrap(), losses)
        })
    });
}

/// What holds it back: every relief that could help simulated.
#[divan::bench(args = [0, 6], sample_count = 10)]
fn limiter_by_lanes(bencher: Bencher, lanes: usize) {
    let shuttle = twelve(lanes);
    let held = sustained(&shuttle, &three_hours()).unwrap();
    bencher.bench(|| on_one_core(|| limiter_of(&shuttle, &three_hours(), &held).unwrap()));
}

/// The estimate by formula.
#[divan::bench(args = [0, 6, 12])]
fn expected_flow_by_lanes(bencher: Bencher, lanes: usize) {
    let shuttle = twelve(lanes);
    bencher.bench(|| expected_flow(&shuttle, Seconds(10_800.0)).unwrap());
}
