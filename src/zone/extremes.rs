//! What is worked out over all roads, once a zone.

use crate::plan::ground::{Class, Ground};
use crate::roads::network::Arc;
use crate::routing::graph::RoadGraph;
use std::sync::OnceLock;

/// The fastest and the longest there is.
pub struct Extremes {
    pub fastest_mps: f64,
    /// By class, worked out when first asked for.
    longest_step_ms: Vec<OnceLock<u32>>,
}

impl Extremes {
    pub fn of(ground: &Ground) -> Extremes {
        let longest_step_ms = ground.classes.iter().map(|_| OnceLock::new()).collect();
        Extremes { fastest_mps: fastest_mps(ground), longest_step_ms }
    }

    /// Of a class, full.
    pub fn longest_step_ms(&self, ground: &Ground, class: usize) -> u32 {
        *self.longest_step_ms[class].get_or_init(|| ground.classes[class].full.longest_step_ms())
    }
}

/// The fastest that any class drives an arc.
fn fastest_mps(ground: &Ground) -> f64 {
    let network = &ground.roads.network;
    let fastest = |class: &Class| {
        let speed = |graph: &RoadGraph| {
            let of = |arc: Arc| {
                let metres = f64::from(network.segment(arc).length_m);
                // Of shorter ones the time is mostly rounding.
                if graph.is_open(arc) && metres > 10.0 {
                    metres / (f64::from(graph.ms(arc)) / 1000.0)
                } else {
                    0.0
                }
            };
            network.arcs().map(of).fold(0.0, f64::max)
        };
        speed(&class.full).max(speed(&class.empty))
    };
    ground.classes.iter().map(fastest).fold(0.0, f64::max)
}
