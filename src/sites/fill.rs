//! Fill sites: what each yields, when it can be used, and what is not known about it.

use crate::finding::{Code, Finding, Findings, OsmRef, Where};
use crate::place::Place;
use crate::roads::extract::RawWater;
use crate::roads::tags::WaterKind;
use crate::units::{Feet, Gallons, GallonsPerMinute, LITRES_PER_GALLON, Psi, Seconds};
use crate::water::BadInput;
use crate::water::hydrant::HydrantTest;
use crate::water::source::{Basis, Cistern, Conditions, DraftPoint, Rating, Source, rate};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

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

/// Months in which a site can be used, first and last included; `11..=2` runs over the new year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Season {
    first: u8,
    last: u8,
}

const MONTHS: [&str; 12] =
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

impl Season {
    pub const ALL_YEAR: Season = Season { first: 1, last: 12 };
    pub fn contains(self, month: u8) -> bool {
        if self.first <= self.last {
            (self.first..=self.last).contains(&month)
        } else {
            month >= self.first || month <= self.last
        }
    }
    pub fn is_all_year(self) -> bool {
        (1..=12).all(|m| self.contains(m))
    }
}

impl fmt::Display for Season {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_all_year() {
            return write!(f, "all");
        }
        write!(f, "{}-{}", MONTHS[usize::from(self.first) - 1], MONTHS[usize::from(self.last) - 1])
    }
}

impl FromStr for Season {
    type Err = String;
    fn from_str(text: &str) -> Result<Season, String> {
        let lower = text.trim().to_ascii_lowercase();
        if lower.is_empty() || lower == "all" {
            return Ok(Season::ALL_YEAR);
        }
        let month = |word: &str| MONTHS.iter().position(|m| *m == word.trim()).map(|i| i as u8 + 1);
        lower
            .split_once('-')
            .and_then(|(first, last)| Some(Season { first: month(first)?, last: month(last)? }))
            .ok_or_else(|| format!("\"{text}\" is not a season (\"all\" or two months such as \"apr-nov\")"))
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
    pub lift: Option<Feet>,
    pub in_service: bool,
    /// Listed by the department, not just tagged on the map.
    pub verified: bool,
    pub note: String,
    /// File and row, or the map element.
    pub origin: Where,
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
        lift: settings.lift_ft.filter(|_| kind != Kind::Hydrant),
        in_service: raw.tags.in_service,
        verified: false,
        note: String::new(),
        origin: Where::osm(raw.osm),
    }
}

/// A site ready for use, or the reason why not.
#[derive(Clone, Debug, PartialEq)]
pub enum Readiness {
    Ready { flow: GallonsPerMinute, volume: Option<Gallons>, basis: Basis },
    Not { reason: String },
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
            let name = MONTHS[usize::from(month.clamp(1, 12)) - 1];
            let reason = format!("out of season in {name} (usable {})", site.season);
            return not(Code::SiteOutOfSeason, reason, "Use another site in this season");
        }
        None if !site.season.is_all_year() => {
            let reason = format!("usable {} only and the request names no month", site.season);
            return not(Code::SiteOutOfSeason, reason, "Give `month` in the scenario");
        }
        _ => {}
    }
    let rating = rate_site(site, conditions)?;
    for note in rating.notes {
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
        Some(flow) if flow.0 > 0.0 => Readiness::Ready { flow, volume: rating.volume, basis: rating.basis },
        Some(_) => Readiness::Not { reason: "gives no flow under these conditions".into() },
        None => Readiness::Not { reason: "not rated: its flow is not known and cannot be worked out".into() },
    })
}

fn rate_site(site: &FillSite, conditions: &Conditions) -> Result<Rating, BadInput> {
    let mut rating = match (site.kind, site.flow, site.static_pressure) {
        (Kind::Hydrant, Some(flow_gpm), Some(static_psi)) => rate(
            &Source::HydrantTest(HydrantTest {
                static_psi,
                residual_psi: site.residual_pressure,
                flow_gpm: Some(flow_gpm),
                pitot: None,
            }),
            conditions,
        )?,
        (_, Some(flow), _) => {
            let basis = if site.verified { Basis::Measured } else { Basis::Assumed };
            Rating { flow: Some(flow), volume: None, basis, notes: Vec::new() }
        }
        (Kind::Hydrant, None, _) => Rating {
            flow: None,
            volume: None,
            basis: Basis::Unknown,
            notes: vec![crate::water::source::Note {
                code: Code::SiteNotRated,
                cause: "no flow is given; neither colour nor main size is a flow".into(),
                action: "Flow-test the hydrant (NFPA 291)".into(),
            }],
        },
        (Kind::Cistern | Kind::Pond, None, _) if site.volume.is_some() => rate(
            &Source::Cistern(Cistern {
                usable_gal: site.volume.unwrap_or_default(),
                pump_gpm: None,
                lift_ft: site.lift,
            }),
            conditions,
        )?,
        (_, None, _) => rate(&Source::Draft(DraftPoint { pump_gpm: None, lift_ft: site.lift }), conditions)?,
    };
    rating.volume = rating.volume.or(site.volume);
    Ok(rating)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_season_may_run_over_the_new_year() {
        let winter: Season = "nov-mar".parse().unwrap();
        assert!(winter.contains(12) && winter.contains(1) && !winter.contains(6));
        let summer: Season = "apr-nov".parse().unwrap();
        assert!(summer.contains(4) && !summer.contains(3));
        assert!("all".parse::<Season>().unwrap().is_all_year());
        assert!("spring".parse::<Season>().is_err());
        assert_eq!(summer.to_string(), "apr-nov");
    }
}
