//! Fill sites at open water that the map shows and nobody has listed: candidates, never more.

use crate::finding::{OsmRef, Where};
use crate::place::Place;
use crate::roads::tags::{OpenWater, OpenWaterKind};
use crate::sites::fill::{Details, FillSite, Kind, MappedSites, Season};
use crate::units::{CubicFeet, Feet, Gallons};

/// Depth above the intake that standing water is taken to have where none is mapped (common practice, no source:
/// the least at which a strainer with two feet of water over it is worth the trouble).
pub const ASSUMED_DEPTH: Feet = Feet(3.0);

/// Open water beside a road.
pub struct Waterside<'w> {
    pub water: &'w OpenWater,
    pub osm: OsmRef,
    /// Surface of standing water.
    pub acres: Option<f64>,
    /// On the road, where the pump stands.
    pub place: Place,
    pub name: String,
    pub note: String,
}

/// Water above the intake at the depth assumed.
pub fn volume(acres: f64) -> Gallons {
    CubicFeet::under_acres(acres, ASSUMED_DEPTH).gallons()
}

/// A site that the source model rates: by its pump at the lift assumed; of standing water the surface counts at
/// the depth assumed, and running water is taken to carry what the pump draws, which is told.
pub fn from_waterside(found: Waterside, settings: &MappedSites) -> FillSite {
    let Waterside { water, osm, acres, place, name, note } = found;
    let kind = match water.kind {
        OpenWaterKind::Still => Kind::Pond,
        OpenWaterKind::River | OpenWaterKind::Canal | OpenWaterKind::Stream => Kind::Stream,
        OpenWaterKind::Sea => Kind::Draft,
    };
    // To a hundredth of an acre of a small pond: the map is no finer.
    let rounded = |acres: f64| (acres * 100.0).round().max(1.0) / 100.0;
    let pond = acres.filter(|_| kind == Kind::Pond).map(|acres| (rounded(acres), ASSUMED_DEPTH));
    FillSite {
        name,
        kind,
        place,
        flow: None,
        static_pressure: None,
        residual_pressure: None,
        volume: None,
        berths: 1,
        season: Season::ALL_YEAR,
        handling: None,
        lift: None,
        assumed_lift: settings.lift_ft,
        details: Details { pond, ..Details::default() },
        in_service: true,
        verified: false,
        note,
        origin: Where::osm(osm),
    }
}
