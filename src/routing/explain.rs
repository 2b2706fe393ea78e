//! A drive told stretch by stretch: how fast, and what sets the speed there.

use crate::routing::graph::RoadGraph;
use crate::routing::pace::Pace;
use crate::routing::path::{part_length, stretches};
use crate::routing::search::Drive;
use crate::routing::speed::{SetBy, SpeedTable};
use crate::routing::topology::seconds;
use crate::units::{Metres, MetresPerSecond, Seconds};
use crate::vehicle::Load;
use serde::Serialize;

/// A run of arcs of one way in one direction.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stretch {
    pub way: i64,
    pub street: String,
    #[serde(rename = "length_m")]
    pub length: Metres,
    /// Driving time, without turns and stops.
    #[serde(rename = "travel_s")]
    pub travel: Seconds,
    /// Mean over the stretch.
    #[serde(rename = "speed_mps")]
    pub speed: MetresPerSecond,
    /// What sets the speed for most of the time.
    pub set_by: SetBy,
    /// The full tank's factor takes its part of that.
    pub full_factor: bool,
    /// Driving time by what sets the speed, the most first.
    pub shares: Vec<Share>,
    /// Turns and stops at the end of the stretch's arcs.
    #[serde(rename = "delay_s")]
    pub delay: Seconds,
}

#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Share {
    pub set_by: SetBy,
    #[serde(rename = "travel_s")]
    pub travel: Seconds,
}

/// The stretches of a drive. Driving times and delays add up to the drive's time.
pub fn explain(graph: &RoadGraph, table: &SpeedTable, drive: &Drive) -> Vec<Stretch> {
    let network = graph.network;
    let shape = graph.topology.shape(network);
    let pace = Pace::new(network, &shape, table, &graph.body);
    let mut told: Vec<Stretch> = Vec::new();
    let mut last_direction = true;
    for (i, (arc, from, to)) in stretches(drive).enumerate() {
        let way = network.way(arc);
        let ms = graph.part_ms(arc, to).saturating_sub(graph.part_ms(arc, from));
        let delay = match drive.arcs.get(i + 1) {
            Some(next) => graph.turn(arc, *next).unwrap_or(0),
            None => 0,
        };
        let goes_on = told.last().is_some_and(|s| s.way == way.id) && last_direction == arc.forward();
        if !goes_on {
            told.push(Stretch {
                way: way.id,
                street: network.name(way).to_string(),
                length: Metres::ZERO,
                travel: Seconds::ZERO,
                speed: MetresPerSecond::ZERO,
                set_by: SetBy::Class,
                full_factor: false,
                shares: Vec::new(),
                delay: Seconds::ZERO,
            });
        }
        last_direction = arc.forward();
        let Some(stretch) = told.last_mut() else { continue };
        stretch.length = stretch.length + part_length(network, arc, from, to);
        stretch.travel = stretch.travel + seconds(ms);
        stretch.delay = stretch.delay + seconds(delay);
        // A part of an arc takes its part of each share, as it takes its part of the arc's time.
        let whole = f64::from(graph.ms(arc)).max(1.0) / 1000.0;
        for (set_by, share) in pace.shares(arc) {
            let travel = Seconds(share / whole * seconds(ms).0);
            match stretch.shares.iter_mut().find(|s| s.set_by == set_by) {
                Some(known) => known.travel = known.travel + travel,
                None => stretch.shares.push(Share { set_by, travel }),
            }
        }
    }
    for stretch in &mut told {
        stretch.shares.sort_by(|a, b| b.travel.0.total_cmp(&a.travel.0).then(a.set_by.cmp(&b.set_by)));
        if let Some(most) = stretch.shares.first() {
            stretch.set_by = most.set_by;
        }
        stretch.full_factor = graph.load() == Load::Full && stretch.set_by.takes_full_factor();
        if stretch.travel.0 > 0.0 {
            stretch.speed = MetresPerSecond(to_digits(stretch.length.0 / stretch.travel.0, 100.0));
        }
        // Sums of whole milliseconds, and lengths that are no better than a decimetre.
        stretch.length = Metres(to_digits(stretch.length.0, 10.0));
        stretch.travel = Seconds(to_digits(stretch.travel.0, 1_000.0));
        stretch.delay = Seconds(to_digits(stretch.delay.0, 1_000.0));
        for share in &mut stretch.shares {
            share.travel = Seconds(to_digits(share.travel.0, 1_000.0));
        }
    }
    told
}

fn to_digits(value: f64, steps: f64) -> f64 {
    (value * steps).round() / steps
}
