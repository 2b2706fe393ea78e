//! The bridges of an option that no sign rates, each with the heaviest tanker that crosses it.

use crate::finding::{Finding, OsmRef, Where};
use crate::place::Place;
use crate::roads::network::Network;
use crate::routing::bridge::{Weight, weight};
use crate::routing::path;
use crate::routing::search::Drive;
use crate::units::Kilograms;
use crate::vehicle::{Chassis, Load};

/// A bridge without a posted weight on a loop.
#[derive(Clone, Debug, PartialEq)]
pub struct CrossedBridge {
    pub way: i64,
    /// Empty where it has no name.
    pub road: String,
    pub place: Place,
    pub weight: Weight,
    pub tanker: String,
    pub load: Load,
    pub mass: Kilograms,
}

impl CrossedBridge {
    pub fn finding(&self) -> Finding {
        let place = Where::osm(OsmRef::Way(self.way)).at(self.place);
        let place = if self.road.is_empty() { place } else { place.named(self.road.clone()) };
        let (tanker, load, tonnes) = (&self.tanker, self.load.as_str(), self.mass.tonnes());
        self.weight.finding(place, &format!("the heaviest to cross it is {tanker}, {load}, at {tonnes:.1} t"))
    }
}

/// Adds what one drive crosses; of each bridge the heaviest crossing is kept.
pub fn cross(network: &Network, drive: &Drive, by: &Chassis, load: Load, found: &mut Vec<CrossedBridge>) {
    let mass = by.body(load).mass;
    for (arc, from, to) in path::stretches(drive).filter(|(_, from, to)| to > from) {
        let way = network.way(arc);
        let Some(weight) = weight(&way.tags) else { continue };
        let known = found.iter_mut().find(|b| b.way == way.id);
        if let Some(known) = known {
            if mass.0 > known.mass.0 {
                (known.tanker, known.load, known.mass) = (by.id.clone(), load, mass);
            }
            continue;
        }
        found.push(CrossedBridge {
            way: way.id,
            road: network.name(way).to_string(),
            place: path::stretch_points(network, arc, (from + to) / 2.0, to)[0],
            weight,
            tanker: by.id.clone(),
            load,
            mass,
        });
    }
}
