//! What is answered besides plans, and errors.

use crate::finding::{Code, Finding, Refusal};
use axum::Json;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;

/// What the page begins with.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct State {
    pub version: &'static str,
    /// Name of the scenario.
    pub scenario: String,
    /// Units shown at first: us or metric.
    pub units: &'static str,
    /// West, south, east, north of the roads, degrees.
    pub bbox: [f64; 4],
    pub incident: IncidentAt,
    /// Where the officer wants the dump site, longitude first.
    pub dump: Option<[f64; 2]>,
    pub need_gpm: f64,
    /// The method that found it: given, nfpa-1142, iowa, nfa, iso.
    pub need_by: &'static str,
    pub reliability: f64,
    pub period_s: f64,
    pub replications: u32,
    pub seed: u64,
    pub month: Option<u8>,
    pub when: Option<String>,
    /// drought or normal.
    pub water: &'static str,
    pub tankers: Vec<TankerTold>,
    pub sites: Vec<SiteTold>,
    /// Said with every answer.
    pub cautions: Vec<&'static str>,
    /// Owed wherever the roads are shown.
    pub attribution: &'static str,
    /// Whether printed sheets can be had.
    pub sheet: bool,
}

#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct IncidentAt {
    pub name: String,
    /// Longitude first; null where the scenario names none.
    pub at: Option<[f64; 2]>,
}

#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct TankerTold {
    pub id: String,
    /// Nominal tank, US gallons.
    pub tank_gal: f64,
    /// What mutual aid is called with; null for what comes by itself.
    pub call: Option<String>,
}

#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct SiteTold {
    pub name: String,
    pub kind: &'static str,
    pub at: [f64; 2],
    pub in_service: bool,
    /// Listed by the department; false for sites from map tags.
    pub listed: bool,
}

#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct PlaceRead {
    pub lon: f64,
    pub lat: f64,
    /// How the text was read.
    pub read_as: &'static str,
}

/// A road, all of its way.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct WayTold {
    /// OpenStreetMap way id, as closed_ways takes it.
    pub way: i64,
    /// Empty where it has none.
    pub name: String,
    /// Class of the road.
    pub class: &'static str,
    /// Its stretches, junction to junction, longitude first.
    pub lines: Vec<Vec<[f64; 2]>>,
    /// From the place asked for, metres.
    pub distance_m: f64,
    /// Whether the scenario's overlay closes all of it both ways.
    pub closed: bool,
}

/// Why there is no answer.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Trouble {
    /// One line for people.
    pub error: String,
    /// Each with code, severity, where, cause, action, as in an answer.
    #[schema(value_type = Vec<Object>)]
    pub findings: Vec<Finding>,
}

impl From<&Refusal> for Trouble {
    fn from(refusal: &Refusal) -> Trouble {
        let lines: Vec<String> = refusal.0.iter().map(Finding::to_string).collect();
        Trouble { error: lines.join(" "), findings: refusal.0.clone() }
    }
}

/// An error with its status.
pub struct Failed {
    pub status: StatusCode,
    pub trouble: Trouble,
}

impl Failed {
    pub fn new(status: StatusCode, error: impl Into<String>) -> Failed {
        Failed { status, trouble: Trouble { error: error.into(), findings: Vec::new() } }
    }
    /// More waits than will be done in time.
    pub fn busy() -> Failed {
        Failed::new(StatusCode::SERVICE_UNAVAILABLE, "too many requests are waiting; ask again in a moment")
    }
    pub fn too_long() -> Failed {
        Failed::new(
            StatusCode::GATEWAY_TIMEOUT,
            "it took too long; ask for fewer replications, or on the command line",
        )
    }
}

impl From<Refusal> for Failed {
    fn from(refusal: Refusal) -> Failed {
        let called_off = refusal.0.iter().any(|finding| finding.code == Code::CalledOff);
        if called_off {
            return Failed::too_long();
        }
        Failed { status: StatusCode::UNPROCESSABLE_ENTITY, trouble: Trouble::from(&refusal) }
    }
}

/// Seconds after which whoever was turned away may ask again.
const RETRY_AFTER_S: &str = "2";

impl IntoResponse for Failed {
    fn into_response(self) -> Response {
        let mut response = (self.status, Json(self.trouble)).into_response();
        if self.status == StatusCode::SERVICE_UNAVAILABLE {
            response.headers_mut().insert(header::RETRY_AFTER, HeaderValue::from_static(RETRY_AFTER_S));
        }
        response
    }
}
