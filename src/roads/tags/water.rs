//! Tags of water features mapped for the fire service.

use super::{Tags, get};
use serde::{Deserialize, Serialize};

/// A water feature mapped for the fire service.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum WaterKind {
    Hydrant,
    /// A hydrant that must be drafted from: no pressure of its own.
    SuctionHydrant,
    SuctionPoint,
    WaterTank,
    Pond,
}

/// A water feature as tagged; its yield is not tagged and never assumed from a diameter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WaterTags {
    pub kind: WaterKind,
    pub name: Option<String>,
    /// `water_tank:volume` or `capacity`, litres unless a unit is given.
    pub volume_litres: Option<f64>,
    pub in_service: bool,
}

/// Reads a water feature from a node or a closed way.
pub fn water(tags: &Tags) -> Option<WaterTags> {
    let (word, in_service) = match (get(tags, "emergency"), get(tags, "disused:emergency")) {
        (Some(word), _) => (word, get(tags, "operational_status").is_none_or(|s| s != "out_of_order")),
        (None, Some(word)) => (word, false),
        (None, None) => return None,
    };
    let kind = match word {
        "fire_hydrant" => match (get(tags, "fire_hydrant:type"), get(tags, "fire_hydrant:pressure")) {
            (Some("pond"), _) | (_, Some("suction")) => WaterKind::SuctionHydrant,
            _ => WaterKind::Hydrant,
        },
        "suction_point" => WaterKind::SuctionPoint,
        "water_tank" => WaterKind::WaterTank,
        "fire_water_pond" => WaterKind::Pond,
        _ => return None,
    };
    let name = get(tags, "name").or_else(|| get(tags, "ref")).map(str::to_string);
    let volume_litres = get(tags, "water_tank:volume").or_else(|| get(tags, "capacity")).and_then(litres);
    Some(WaterTags { kind, name, volume_litres, in_service })
}

/// "30000", "30000 l", "30 m3", "8000 gal"; a bare number is litres (OSM wiki, Tag:emergency=water_tank).
fn litres(value: &str) -> Option<f64> {
    let end = value.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(value.len());
    let (number, unit) = value.trim().split_at(end.min(value.trim().len()));
    let number: f64 = number.parse().ok()?;
    let factor = match unit.trim() {
        "" | "l" | "L" => 1.0,
        "m3" | "m³" | "cbm" => 1000.0,
        "gal" | "gallons" => crate::units::LITRES_PER_GALLON,
        _ => return None,
    };
    Some(number * factor)
}
