//! Fill sites: what each yields, when it can be used, and what is not known about it.

use crate::finding::{Code, Finding, Findings, OsmRef, Where};
use crate::place::Place;
use crate::roads::extract::RawWater;
use crate::roads::tags::WaterKind;
use crate::sites::rate::rate_site;
use crate::units::{Feet, Gallons, GallonsPerMinute, Inches, LITRES_PER_GALLON, Psi, Seconds};
use crate::water::BadInput;
use crate::water::source::{Basis, Conditions};
use serde::{Deserialize, Serialize};
use std::str::FromStr;

pub use crate::sites::season::Season;

/// What a fill site is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    Hydrant,
    DryHydrant,
    /// A place where a pump drafts from water without practical end.
    Draft,
    Stream,
    Pond,
    Cistern,
}

impl Kind {
    pub const ALL: [Kind; 6] =
        [Kind::Hydrant, Kind::DryHydrant, Kind::Draft, Kind::Stream, Kind::Pond, Kind::Cistern];
    pub fn as_str(self) -> &'static str {
        match self {
            Kind::Hydrant => "hydrant",
            Kind::DryHydrant => "dry-hydrant",
            Kind::Draft => "draft",
            Kind::Stream => "stream",
            Kind::Pond => "pond",
            Kind::Cistern => "cistern",
        }
    }
}

impl FromStr for Kind {
    type Err = String;
    fn from_str(text: &str) -> Result<Kind, String> {
        Kind::ALL.into_iter().find(|k| k.as_str() == text).ok_or_else(|| {
            let known: Vec<&str> = Kind::ALL.iter().map(|k| k.as_str()).collect();
            format!("\"{text}\" is not a kind of fill site (one of {})", known.join(", "))
        })
    }
}

/// A fill site as listed or mapped, before it is rated.
#[derive(Clone, Debug, PartialEq)]
pub struct FillSite {
    pub name: String,
    pub kind: Kind,
    pub place: Place,
    pub flow: Option<GallonsPerMinute>,
    pub static_pressure: Option<Psi>,
    pub residual_pressure: Option<Psi>,
    pub volume: Option<Gallons>,
    pub berths: u32,
    pub season: Season,
    /// Time to approach, connect, disconnect; the tanker's own where not given.
    pub handling: Option<Seconds>,
    /// Water at its normal level to the pump's intake.
    pub lift: Option<Feet>,
    /// Lift to assume where none is given.
    pub assumed_lift: Option<Feet>,
    pub details: Details,
    pub in_service: bool,
    /// Listed by the department, not just tagged on the map.
    pub verified: bool,
    pub note: String,
    /// File and row, or the map element.
    pub origin: Where,
}

/// What else was measured at a site. Every part is optional; [`super::rate`] makes a source of them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Details {
    /// A hydrant's outlet and its pitot pressure in the flow test, in place of the flow.
    pub pitot: Option<(Inches, Psi)>,
    /// Rating of a pump that is always at the site.
    pub pump: Option<GallonsPerMinute>,
    /// Water at its lowest expected level to the pump's intake.
    pub drought_lift: Option<Feet>,
    /// Suction hose: diameter and number of lines.
    pub suction: Option<(Inches, u32)>,
    /// A dry hydrant's pipe.
    pub pipe: Option<Pipe>,
    /// A stream by a float: width, mean depth, the float's way and time.
    pub stream: Option<(Feet, Feet, Feet, Seconds)>,
    /// A pond's surface in acres, and its depth above the intake at drought level.
    pub pond: Option<(f64, Feet)>,
    /// Months in which ice is to be expected.
    pub ice: Option<Season>,
    /// Name of the main or pond that sites share, and what it gives them together, where known.
    pub shares: Option<String>,
    pub shared_flow: Option<GallonsPerMinute>,
}

/// Pipe of a dry hydrant, standpipe included, and its fittings.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pipe {
    pub diameter: Inches,
    pub length: Feet,
    pub elbows_90: u32,
    pub elbows_45: u32,
    pub reducers: u32,
}

/// What a plan assumes of sites taken from map tags.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct MappedSites {
    /// Take hydrants, suction points, tanks and ponds from the extract's tags.
    #[serde(rename = "use")]
    pub wanted: bool,
    /// Flow assumed at an untested hydrant; none leaves it unrated. A main's diameter is no flow.
    pub hydrant_gpm: Option<GallonsPerMinute>,
    /// Lift assumed where a pump drafts.
    pub lift_ft: Option<Feet>,
}

impl Default for MappedSites {
    fn default() -> Self {
        MappedSites { wanted: false, hydrant_gpm: None, lift_ft: Some(Feet(10.0)) }
    }
}

/// A site made from map tags: unverified, whatever the map says.
pub fn from_map(raw: &RawWater, settings: &MappedSites) -> FillSite {
    let kind = match raw.tags.kind {
        WaterKind::Hydrant => Kind::Hydrant,
        WaterKind::SuctionHydrant => Kind::DryHydrant,
        WaterKind::SuctionPoint => Kind::Draft,
        WaterKind::WaterTank => Kind::Cistern,
        WaterKind::Pond => Kind::Pond,
    };
    let word = match raw.osm {
        OsmRef::Node(id) | OsmRef::Way(id) | OsmRef::Relation(id) => format!("{} {id}", kind.as_str()),
    };
    FillSite {
        name: raw.tags.name.clone().map_or(word.clone(), |name| format!("{name} ({word})")),
        kind,
        place: raw.place,
        flow: settings.hydrant_gpm.filter(|_| kind == Kind::Hydrant),
        static_pressure: None,
        residual_pressure: None,
        volume: raw.tags.volume_litres.map(|l| Gallons(l / LITRES_PER_GALLON)),
        berths: 1,
        season: Season::ALL_YEAR,
        handling: None,
        lift: None,
        assumed_lift: settings.lift_ft.filter(|_| kind != Kind::Hydrant),
        details: Details::default(),
        in_service: raw.tags.in_service,
        verified: false,
        note: String::new(),
        origin: Where::osm(raw.osm),
    }
}

/// A site ready for use, or the reason why not.
#[derive(Clone, Debug, PartialEq)]
pub enum Readiness {
    /// `told`: what of it was measured, computed, assumed, and is unknown.
    Ready {
        flow: GallonsPerMinute,
        volume: Option<Gallons>,
        basis: Basis,
        told: String,
    },
    Not {
        reason: String,
    },
}

/// Rates a site for a month of the year. What is assumed or unknown is told in `findings`.
pub fn ready(
    site: &FillSite,
    month: Option<u8>,
    conditions: &Conditions,
    findings: &mut Findings,
) -> Result<Readiness, BadInput> {
    let place = || site.origin.clone().named(site.name.clone());
    let mut not = |code: Code, reason: String, action: &str| {
        findings.add(Finding::new(code, place(), reason.clone(), action));
        Ok(Readiness::Not { reason })
    };
    if !site.in_service {
        return not(
            Code::SiteOutOfService,
            "out of service".into(),
            "Put it back in service or strike it off",
        );
    }
    match month {
        Some(month) if !site.season.contains(month) => {
            let name = Season::name_of(month);
            let reason = format!("out of season in {name} (usable {})", site.season);
            return not(Code::SiteOutOfSeason, reason, "Use another site in this season");
        }
        None if !site.season.is_all_year() => {
            let reason = format!("usable {} only and the request names no month", site.season);
            return not(Code::SiteOutOfSeason, reason, "Give `month` in the scenario");
        }
        _ => {}
    }
    if let Some(ice) = site.details.ice {
        // A pipe below the ice, a main or a tank still gives water; an open surface does not.
        let open =
            matches!(site.kind, Kind::Draft | Kind::Stream | Kind::Pond) && site.details.pipe.is_none();
        match month {
            Some(month) if ice.contains(month) && open => {
                let reason = format!("ice is to be expected in {} ({ice})", Season::name_of(month));
                return not(
                    Code::SiteIce,
                    reason,
                    "Keep a hole open or set a dry hydrant below the ice, and say so",
                );
            }
            None if open => {
                let reason = format!("ice is to be expected {ice} and the request names no month");
                return not(Code::SiteIce, reason, "Give `month` in the scenario");
            }
            Some(month) if ice.contains(month) => findings.add(Finding::new(
                Code::SiteIce,
                place(),
                format!(
                    "ice is to be expected in {} ({ice}); it is counted on all the same",
                    Season::name_of(month)
                ),
                "Check that the intake lies below the ice, and that head and outlet drain",
            )),
            _ => {}
        }
    }
    let mut rating = rate_site(site, conditions)?;
    let told = rating.told_text();
    for note in std::mem::take(&mut rating.notes) {
        findings.add(note.finding(place()));
    }
    if !site.verified {
        findings.add(Finding::new(
            Code::SiteUnverified,
            place(),
            "it comes from map tags and was never tested",
            "Inspect and flow-test it before relying on it",
        ));
    }
    if !site.verified && site.kind == Kind::Hydrant && site.flow.is_some() {
        findings.add(Finding::new(
            Code::SiteFlowAssumed,
            place(),
            format!("its flow is the request's assumption of {:.0}", rating.flow.unwrap_or_default()),
            "Flow-test the hydrant (NFPA 291)",
        ));
    }
    Ok(match rating.flow {
        Some(flow) if flow.0 > 0.0 => {
            Readiness::Ready { flow, volume: rating.volume, basis: rating.basis, told }
        }
        Some(_) => Readiness::Not { reason: "gives no flow under these conditions".into() },
        None => Readiness::Not { reason: "not rated: its flow is not known and cannot be worked out".into() },
    })
}
