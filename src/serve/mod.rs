//! The live page and its API over HTTP: `tankerloop serve`. Requests become [`crate::plan::Overrides`], the
//! answers are those of the command line, byte for byte.
//!
//! # Routes
//!
//! All under one origin, `http://127.0.0.1:PORT`. `GET /api/openapi.json` describes them from the types in
//! [`ask`], [`tell`] and [`stream`].
//!
//! | route | takes | gives |
//! | --- | --- | --- |
//! | `GET /` | | the map page with `<script type="application/json" id="data-live">{"live": true, ...}</script>` and no answer |
//! | `GET /api/state` | | what the page begins with, below |
//! | `GET /api/backdrop` | nothing, or all of `west`, `south`, `east`, `north` in degrees | what `data-map` of the page holds (`output::backdrop`): of the area asked for, else around the scenario's incident |
//! | `POST /api/plan` | a request, below | `application/geo+json`, the bytes that `plan` writes; with `Accept: application/x-ndjson` a stream, below |
//! | `POST /api/page` | the same request, and `?units=us` or `metric` | `text/html`, what `plan --page` writes |
//! | `POST /api/sheet` | the same request, and `?units=`, `paper=letter` or `a4`, `option=` its number | `text/html`, what `sheet --roads` writes of that plan |
//! | `GET /api/place` | `?text=` coordinates as typed | `{"lon": -34.01, "lat": 31.02, "read_as": "decimal degrees"}` |
//! | `GET /api/way` | `?lon=&lat=` | the nearest road: `{"way": 12, "name": "Mill Road", "class": "tertiary", "lines": [[[lon, lat], ...], ...], "distance_m": 3.2, "closed": false}`; all of the way in `lines`, a stretch each |
//! | `GET /api/openapi.json` | | OpenAPI 3.1 |
//!
//! # `GET /api/state`
//!
//! ```json
//! {
//!   "version": "0.1.0",
//!   "scenario": "Barn fire, farm road",
//!   "units": "us",
//!   "bbox": [-34.3, 30.9, -33.8, 31.2],
//!   "incident": {"name": "barn fire", "at": [-34.01, 31.02]},
//!   "dump": null,
//!   "need_gpm": 500.0, "need_by": "given",
//!   "reliability": 0.9, "period_s": 7200.0, "replications": 400, "seed": 1,
//!   "month": 6, "when": null, "water": "drought",
//!   "tankers": [{"id": "T1", "tank_gal": 1500.0, "call": null}],
//!   "sites": [{"name": "Reservoir landing", "kind": "draft", "at": [-34.0, 31.0], "in_service": true, "listed": true}],
//!   "cautions": ["This is a planning aid. ..."],
//!   "attribution": "Road data © OpenStreetMap contributors, ...",
//!   "sheet": true
//! }
//! ```
//!
//! `incident.at` is null where the scenario names none, `call` is what mutual aid is called with, `listed` is
//! false for sites from map tags. `sheet` tells that `POST /api/sheet` is there.
//!
//! # A request
//!
//! A JSON object; whatever is left out is as the scenario has it, and a key that is not one of these is
//! refused.
//!
//! ```json
//! {
//!   "incident": [-34.01, 31.02],
//!   "dump": "31°01.2'N 34°00.6'W",
//!   "need_gpm": 500,
//!   "tankers": ["T1", "T2"],
//!   "without": ["Braskisk hydrant"],
//!   "closed_ways": [1234],
//!   "month": 1,
//!   "when": "2026-01-15T14:00",
//!   "water": "normal",
//!   "replications": 400,
//!   "seed": 1,
//!   "simulate": true
//! }
//! ```
//!
//! Places are `[lon, lat]` or text as `GET /api/place` takes it. `simulate: false` stops at the closed form:
//! the answer has `simulated: false`, its options have a ceiling and null where a figure would be simulated.
//!
//! # The stream
//!
//! One JSON object a line, in this order:
//!
//! ```json
//! {"event": "ceilings", "answer": {"type": "FeatureCollection"}}
//! {"event": "simulated", "done": 1, "of": 9, "option": 2, "sustained_flow_gpm": 514.0}
//! {"event": "answer", "answer": {"type": "FeatureCollection"}}
//! ```
//!
//! `ceilings` comes first and has the answer as `simulate: false` gives it, so one way of showing it does for
//! both. `simulated` comes once for each that is simulated, in the order they are done; `option` is its
//! number in `ceilings`, null where it is not shown there. `answer` is the last: its `answer` is, up to the
//! line's end, what is written without a stream. Where it cannot go on the last is `refused`, with what an
//! error holds.
//!
//! # Errors
//!
//! `{"error": "one line for people", "findings": [{"code", "severity", "where", "cause", "action"}]}` with
//! 400 (no request), 403 (foreign Host or Origin), 404, 413 (body too large), 422 (a request that cannot be
//! planned: what the command line refuses with exit code 2), 503 with `Retry-After` (too much is waiting),
//! 504 (took too long).

mod ask;
mod guard;
mod lands;
mod routes;
mod site;
mod stream;
mod tell;
mod work;

use crate::finding::{Code, Outcome, Refusal, Where};
use crate::plan::Overrides;
use crate::units::Shown;
use axum::extract::DefaultBodyLimit;
use axum::middleware;
use guard::Names;
use site::Site;
use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
pub use work::Limits;
use work::Queue;

/// What is served, and where.
#[derive(Clone, Debug)]
pub struct Config {
    pub scenario: PathBuf,
    /// What the command line overrides for every request.
    pub base: Overrides,
    pub units: Shown,
    pub bind: IpAddr,
    /// 0 for any that is free.
    pub port: u16,
    pub limits: Limits,
}

/// What is still open when the server stops gets this long.
const LAST_CALL: Duration = Duration::from_secs(2);

/// Opens the scenario and serves it until the process is asked to stop. `tell` hears the address once it
/// answers there.
///
/// Errors: what is wrong with the scenario, its roads, or the address.
pub fn run(config: Config, progress: &mut dyn FnMut(u64, u64), tell: impl FnOnce(SocketAddr)) -> Outcome<()> {
    let queue = Queue::new(config.limits.clone());
    let site = Site::open(config.scenario, config.base, config.units, queue, progress)?;
    let address = SocketAddr::new(config.bind, config.port);
    let refuse = |e: std::io::Error| {
        Refusal::new(
            Code::InputInvalid,
            Where::default().named(address.to_string()),
            format!("nothing can be served at this address ({e})"),
            "choose another --port, or --port 0 for any that is free",
        )
    };
    let runtime =
        tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().map_err(refuse)?;
    let served = runtime.block_on(serve(Arc::new(site), address, config.limits, tell)).map_err(refuse);
    runtime.shutdown_timeout(LAST_CALL);
    served
}

async fn serve(
    site: Arc<Site>,
    address: SocketAddr,
    limits: Limits,
    tell: impl FnOnce(SocketAddr),
) -> std::io::Result<()> {
    let listener = tokio::net::TcpListener::bind(address).await?;
    let bound = listener.local_addr()?;
    // Longer than the queue takes, which tells better what was slow.
    let patience = limits.time + LAST_CALL;
    let router = routes::all(site.clone())
        .layer(DefaultBodyLimit::max(limits.body))
        .layer(middleware::from_fn_with_state(Arc::new((Names { bound }, patience)), guard::guard));
    tell(bound);
    let stopping = async move {
        asked_to_stop().await;
        site.queue.close();
    };
    let (served, late) = (axum::serve(listener, router).with_graceful_shutdown(stopping), asked_to_stop());
    tokio::select! {
        result = std::future::IntoFuture::into_future(served) => result,
        // A client that keeps its connection busy does not keep the server.
        () = async { late.await; tokio::time::sleep(LAST_CALL).await } => Ok(()),
    }
}

/// Ctrl-C, or the system's polite request.
async fn asked_to_stop() {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut terminate) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = terminate.recv() => return,
                _ = tokio::signal::ctrl_c() => return,
            }
        }
    }
    // Without a handler the signal ends the process by itself.
    if tokio::signal::ctrl_c().await.is_err() {
        std::future::pending::<()>().await;
    }
}
