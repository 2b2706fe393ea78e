//! The answer written out. Reads answers, computes nothing.

pub mod backdrop;
mod digits;
pub mod export;
pub mod geojson;
pub mod in_time;
pub mod need;
pub mod page;
pub mod rig;
pub mod rig_site;
pub mod series;
pub mod sheet;
pub mod steps;
pub mod table;
pub mod walk;
pub mod zone;
pub mod zone_csv;
pub mod zone_page;
pub mod zone_table;

/// Said with every answer.
pub const CAUTIONS: [&str; 4] = [
    "This is a planning aid. Local codes, the authority having jurisdiction and the officer on the \
     ground decide.",
    "Roads, limits and water are as mapped and as listed; unknown is not safe. Drive every loop with \
     a full tanker and flow-test every source before relying on it.",
    "Sustained flow is a computed figure under stated assumptions; a drill with a watch is better.",
    "No speed above the posted, a spotter when backing, and a second firefighter aboard.",
];

/// Owed wherever the roads are shown (Open Database License 1.0, section 4.3).
pub const ATTRIBUTION: &str =
    "Road data © OpenStreetMap contributors, Open Database License 1.0, unless the road file says otherwise";
