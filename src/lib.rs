//! tankerloop: one-way tanker shuttles for rural fire water supply, planned on OpenStreetMap roads.
//!
//! The data flow, floor by floor; each may use only what stands above it in this list:
//!
//! 0. [`units`], [`finding`], [`place`], [`coordinates`]: quantities as types, what was noticed, where on earth.
//!    [`replace`] and [`memory`]: files and what is freed.
//! 1. [`vehicle`] reads the fleet; [`water`] is what hose, pumps and sources do; [`drill`] fits times from
//!    a drill's log. None knows a road.
//! 2. [`roads`] reads an extract (`.osm.pbf`) into a network of segments between junctions.
//! 3. [`overlay`] lays on the network what the department knows beside the map; [`routing`] makes of
//!    it what one vehicle at one load can use, and finds drives on it.
//! 4. [`sites`] puts fill sites and dump candidates on the road; [`shuttle`] finds loops and works
//!    out the flow that tankers going round them sustain.
//! 5. [`plan`] puts these together for one incident: options, ranked and explained.
//!    [`zone`] takes every road as the incident.
//! 6. [`output`] writes the answer.
//! 7. [`serve`] answers over HTTP, [`cli`] is the command line.
//!
//! ```text
//! roads.osm.pbf ─► Network ─► Topology ─► RoadGraph (vehicle, full | empty) ─┐
//! sites, fleet, scenario ─► Problem ─────────────────────────────────────────┤
//!                                          Answer ◄─ plan (reach, options) ◄─┘
//!                                             └─► GeoJSON, table
//! ```
pub mod cli;
pub mod coordinates;
pub mod drill;
pub mod finding;
pub mod memory;
pub mod output;
pub mod overlay;
pub mod place;
pub mod plan;
pub mod replace;
pub mod roads;
pub mod routing;
pub mod serve;
pub mod shuttle;
pub mod sites;
pub mod units;
pub mod vehicle;
pub mod verify;
pub mod water;
pub mod zone;

pub use finding::{Finding, Findings, Refusal};
pub use place::Place;
pub use plan::{Answer, Overrides, Problem, plan};
pub use roads::network::Network;
pub use routing::Roads;
pub use vehicle::{Fleet, Load};
