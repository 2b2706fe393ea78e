//! The routes. Each is short: what it asks of the planner is in `site`.

use crate::coordinates;
use crate::finding::{Code, Refusal, Where};
use crate::place::Place;
use crate::serve::ask::{Corners, InUnits, LonLat, OnPaper, PlanAsk, Typed};
use crate::serve::site::Site;
use crate::serve::stream::{Event, Lines, Teller};
use crate::serve::tell::{Failed, PlaceRead, State as Told, Trouble, WayTold};
use axum::body::Body;
use axum::extract::rejection::{JsonRejection, QueryRejection};
use axum::extract::{Query, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::{Json, Router};
use std::sync::Arc;
use tokio::sync::mpsc;
use utoipa::OpenApi;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub type Shared = State<Arc<Site>>;

impl From<JsonRejection> for Failed {
    fn from(rejection: JsonRejection) -> Failed {
        Failed::new(rejection.status(), rejection.body_text())
    }
}

impl From<QueryRejection> for Failed {
    fn from(rejection: QueryRejection) -> Failed {
        Failed::new(rejection.status(), rejection.body_text())
    }
}

/// As it was sent, or why it cannot be read.
type Asked = Result<Json<PlanAsk>, JsonRejection>;
type Queried<T> = Result<Query<T>, QueryRejection>;

#[derive(OpenApi)]
#[openapi(
    info(
        title = "tankerloop",
        description = "Tanker shuttles for rural fire water supply: the live page's API. A planning aid: local \
                       codes, the authority having jurisdiction and the officer on the ground decide."
    ),
    components(schemas(Event, Trouble))
)]
struct Description;

/// All routes with their description.
pub fn all(site: Arc<Site>) -> Router {
    let (router, api) = OpenApiRouter::with_openapi(Description::openapi())
        .routes(routes!(page))
        .routes(routes!(state))
        .routes(routes!(backdrop))
        .routes(routes!(plan))
        .routes(routes!(page_of_plan))
        .routes(routes!(sheet))
        .routes(routes!(place))
        .routes(routes!(way))
        .routes(routes!(openapi))
        .split_for_parts();
    let described: Described = Arc::new(serde_json::to_value(&api).unwrap_or_default());
    router
        .fallback(|| async {
            Failed::new(StatusCode::NOT_FOUND, "there is nothing here; see /api/openapi.json")
        })
        .method_not_allowed_fallback(|| async {
            Failed::new(StatusCode::METHOD_NOT_ALLOWED, "not by this method; see /api/openapi.json")
        })
        .layer(axum::Extension(described))
        .with_state(site)
}

type Described = Arc<serde_json::Value>;

/// The map page, live.
#[utoipa::path(get, path = "/", responses((status = 200, content_type = "text/html", body = String)))]
async fn page(State(site): Shared) -> Response {
    match site.page() {
        Some((html, policy)) => {
            let mut response = html_of(html);
            response.headers_mut().insert(header::CONTENT_SECURITY_POLICY, policy);
            response
        }
        None => Failed::new(StatusCode::NOT_FOUND, crate::output::page::MISSING.0).into_response(),
    }
}

fn html_of(html: String) -> Response {
    ([(header::CONTENT_TYPE, HeaderValue::from_static("text/html; charset=utf-8"))], html).into_response()
}

/// What the page begins with.
#[utoipa::path(get, path = "/api/state", responses((status = 200, body = Told)))]
async fn state(State(site): Shared) -> Json<Told> {
    Json(site.state().clone())
}

/// The background of the map: roads, water, woods, settlements.
#[utoipa::path(get, path = "/api/backdrop", params(Corners), responses(
    (status = 200, body = Object, description = "as in the page's data-map; src/output/backdrop.rs describes it"),
    (status = 422, body = Trouble)
))]
async fn backdrop(State(site): Shared, corners: Queried<Corners>) -> Result<Response, Failed> {
    let Query(corners) = corners?;
    let area = site.area(&corners)?;
    let work = site.clone();
    let json = site.queue.run(move |_| work.backdrop(&area)).await??;
    Ok(([(header::CONTENT_TYPE, HeaderValue::from_static("application/json"))], json).into_response())
}

/// Plans one incident; the bytes that `tankerloop plan` writes, or events while it is worked out.
#[utoipa::path(post, path = "/api/plan", request_body = PlanAsk, responses(
    (status = 200, description = "data/answer.schema.json describes it; the stream's lines are Event", content(
        (Object = "application/geo+json"),
        (Event = "application/x-ndjson"),
    )),
    (status = 400, body = Trouble), (status = 413, body = Trouble), (status = 422, body = Trouble),
    (status = 503, body = Trouble), (status = 504, body = Trouble)
))]
async fn plan(State(site): Shared, headers: HeaderMap, asked: Asked) -> Result<Response, Failed> {
    let Json(asked) = asked?;
    let work = site.clone();
    if !wants_stream(&headers) {
        let text = site.queue.run(move |stop| work.plan(&asked, &Teller { stop, lines: None })).await??;
        return Ok(typed("application/geo+json", text));
    }
    let (send, lines) = mpsc::unbounded_channel();
    let (_, waiting) = site
        .queue
        .start(move |stop| {
            let teller = Teller { stop, lines: Some(send) };
            teller.close(&work.plan(&asked, &teller));
        })
        .await?;
    Ok(typed("application/x-ndjson", Body::from_stream(Lines::new(lines, waiting))))
}

fn typed(what: &'static str, body: impl Into<Body>) -> Response {
    ([(header::CONTENT_TYPE, HeaderValue::from_static(what))], body.into()).into_response()
}

fn wants_stream(headers: &HeaderMap) -> bool {
    let accepted = headers.get_all(header::ACCEPT).iter().filter_map(|value| value.to_str().ok());
    accepted.flat_map(|value| value.split(',')).any(|kind| {
        kind.split(';').next().is_some_and(|kind| kind.trim().eq_ignore_ascii_case("application/x-ndjson"))
    })
}

/// The page of a plan, to keep: what `tankerloop plan --page` writes.
#[utoipa::path(post, path = "/api/page", params(InUnits), request_body = PlanAsk, responses(
    (status = 200, content_type = "text/html", body = String), (status = 422, body = Trouble)
))]
async fn page_of_plan(
    State(site): Shared,
    units: Queried<InUnits>,
    asked: Asked,
) -> Result<Response, Failed> {
    let (Query(units), Json(asked)) = (units?, asked?);
    let shown = units.units.unwrap_or_default().into();
    let work = site.clone();
    let html =
        site.queue.run(move |stop| work.page_of(&asked, &Teller { stop, lines: None }, shown)).await??;
    Ok(html_of(html))
}

/// The sheets of a plan, to print: what `tankerloop sheet` writes of it with the scenario's roads.
#[utoipa::path(post, path = "/api/sheet", params(OnPaper), request_body = PlanAsk, responses(
    (status = 200, content_type = "text/html", body = String), (status = 422, body = Trouble)
))]
async fn sheet(State(site): Shared, paper: Queried<OnPaper>, asked: Asked) -> Result<Response, Failed> {
    let (Query(paper), Json(asked)) = (paper?, asked?);
    let (work, wish) = (site.clone(), paper.into());
    let html =
        site.queue.run(move |stop| work.sheet_of(&asked, &Teller { stop, lines: None }, &wish)).await??;
    Ok(html_of(html))
}

/// Coordinates as people type them.
#[utoipa::path(get, path = "/api/place", params(Typed), responses(
    (status = 200, body = PlaceRead), (status = 422, body = Trouble)
))]
async fn place(State(site): Shared, typed: Queried<Typed>) -> Result<Json<PlaceRead>, Failed> {
    let Query(Typed { text }) = typed?;
    let bad = |cause: String| Failed::new(StatusCode::UNPROCESSABLE_ENTITY, cause);
    let (place, read_as) = coordinates::read(&text).map_err(bad)?;
    if let Some(exchanged) = site.exchanged(place) {
        return Err(bad(format!(
            "{place} is not on these roads, but {exchanged} is: write the longitude first, or add N and W"
        )));
    }
    Ok(Json(PlaceRead { lon: place.lon(), lat: place.lat(), read_as: read_as.as_str() }))
}

/// The road nearest to a place, to close it by tapping.
#[utoipa::path(get, path = "/api/way", params(LonLat), responses(
    (status = 200, body = WayTold), (status = 422, body = Trouble)
))]
async fn way(State(site): Shared, at: Queried<LonLat>) -> Result<Json<WayTold>, Failed> {
    let Query(LonLat { lon, lat }) = at?;
    let place = Place::from_lon_lat(lon, lat).map_err(|e| {
        let action = "give lon and lat in degrees";
        Refusal::new(Code::InputInvalid, Where::default().named("the place"), e.to_string(), action)
    })?;
    Ok(Json(site.way(place)?))
}

/// This description.
#[utoipa::path(get, path = "/api/openapi.json", responses((status = 200, body = Object)))]
async fn openapi(axum::Extension(described): axum::Extension<Described>) -> Json<serde_json::Value> {
    Json((*described).clone())
}
