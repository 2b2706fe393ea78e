//! Who may ask, and what browsers may do with the answers.
//!
//! A page of somebody else can make a browser ask this server: from its own address (then the browser names
//! its Origin), or from a name that it has let point here (then Host is that name; "DNS rebinding"). Both
//! are refused. Names are never looked up.

use crate::serve::tell::Failed;
use axum::extract::{Request, State};
use axum::http::uri::Authority;
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;

/// Under what names the server may be asked.
#[derive(Clone, Debug)]
pub struct Names {
    pub bound: SocketAddr,
}

impl Names {
    /// A host with its port, as Host and Origin have it: loopback, the address bound, or, where all addresses
    /// of the machine are bound, any address; names are none but localhost.
    fn knows(&self, host: &str) -> bool {
        let Ok(authority) = host.parse::<Authority>() else { return false };
        if authority.as_str().contains('@') || authority.port_u16().unwrap_or(80) != self.bound.port() {
            return false;
        }
        let name = authority.host();
        if name.eq_ignore_ascii_case("localhost") {
            return true;
        }
        let plain = name.strip_prefix('[').and_then(|n| n.strip_suffix(']')).unwrap_or(name);
        match plain.parse::<IpAddr>() {
            Ok(address) => {
                address.is_loopback() || address == self.bound.ip() || self.bound.ip().is_unspecified()
            }
            Err(_) => false,
        }
    }

    /// Why a request is refused.
    fn objection(&self, request: &Request) -> Option<&'static str> {
        let headers = request.headers();
        let text = |name: &HeaderName| -> Option<Option<&str>> {
            let mut all = headers.get_all(name).iter();
            let first = all.next()?;
            // Two are one too many.
            Some(if all.next().is_some() { None } else { first.to_str().ok() })
        };
        match text(&header::HOST) {
            Some(Some(host)) if self.knows(host) => {}
            _ => return Some("this server answers under its own address only, not under this Host"),
        }
        if request.uri().authority().is_some_and(|authority| !self.knows(authority.as_str())) {
            return Some("this server is no proxy");
        }
        if let Some(origin) = text(&header::ORIGIN) {
            let known = origin.and_then(|o| o.strip_prefix("http://")).is_some_and(|host| self.knows(host));
            if !known {
                return Some("another site's page may not ask here (Origin)");
            }
        }
        // A link from elsewhere may open the page, and nothing else.
        let site = text(&HeaderName::from_static("sec-fetch-site")).flatten();
        let mode = text(&HeaderName::from_static("sec-fetch-mode")).flatten();
        let opens =
            request.method() == Method::GET && request.uri().path() == "/" && mode == Some("navigate");
        if matches!(site, Some("cross-site" | "same-site")) && !opens {
            return Some("another site's page may not ask here (Sec-Fetch-Site)");
        }
        None
    }
}

/// Of everything but the page, which brings its own.
const NO_CONTENT: &str = "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'";

const ALWAYS: [(HeaderName, &str); 6] = [
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::X_FRAME_OPTIONS, "DENY"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::CACHE_CONTROL, "no-store"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
];

fn close(headers: &mut HeaderMap) {
    for (name, value) in ALWAYS {
        headers.insert(name, HeaderValue::from_static(value));
    }
    let policy = headers.entry(header::CONTENT_SECURITY_POLICY);
    policy.or_insert(HeaderValue::from_static(NO_CONTENT));
}

/// What stands before every route.
pub async fn guard(State(names): State<Arc<(Names, Duration)>>, request: Request, next: Next) -> Response {
    let (names, time) = &*names;
    let mut response = match names.objection(&request) {
        Some(why) => Failed::new(StatusCode::FORBIDDEN, why).into_response(),
        // Reading a body that never comes is bounded too.
        None => match tokio::time::timeout(*time, next.run(request)).await {
            Ok(response) => response,
            Err(_) => Failed::too_long().into_response(),
        },
    };
    close(response.headers_mut());
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_own_names_are_known() {
        let names = Names { bound: "127.0.0.1:8080".parse().unwrap() };
        for host in ["127.0.0.1:8080", "localhost:8080", "LOCALHOST:8080", "[::1]:8080", "127.0.0.2:8080"] {
            assert!(names.knows(host), "{host}");
        }
        for host in [
            "evil.example:8080",
            "127.0.0.1",
            "127.0.0.1:80",
            "localhost.evil.example:8080",
            "localhost",
            "10.0.0.1:8080",
            "a@127.0.0.1:8080",
            "127.0.0.1.evil.example:8080",
            "0x7f000001:8080",
            "",
            "null",
        ] {
            assert!(!names.knows(host), "{host}");
        }
        let all = Names { bound: "0.0.0.0:80".parse().unwrap() };
        assert!(all.knows("10.0.0.1") && all.knows("10.0.0.1:80") && !all.knows("evil.example"));
    }
}
