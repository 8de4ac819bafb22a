//! Who may ask the desk, and what every answer forbids the browser to do.
//!
//! A page elsewhere can make a browser ask this machine; another person's program on this machine can ask it too.
//! Against the first: the Host must be one of the desk's own names (a name elsewhere can be pointed at this machine),
//! the Origin must be the desk itself, the cookie is SameSite=Strict, and whatever changes something must bring a
//! token that only the desk's own pages were given. Against the second: nothing is answered without the cookie, which
//! is given for the key in the link that the desk prints where it was started.

use std::net::{IpAddr, SocketAddr};

use axum::extract::{Request, State};
use axum::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{Html, IntoResponse, Response};

use super::answer::Refusal;
use super::desk::Desk;

/// The cookie that holds the key.
pub(super) const COOKIE: &str = "pilumen_desk";

/// The header that holds the token, with whatever changes something.
pub(super) const TOKEN: HeaderName = HeaderName::from_static("x-desk-token");

/// Where the link with the key leads; the only path that is answered without a cookie.
pub(super) const DOOR: &str = "/enter";

/// What pages may load and do: their own files and nothing else, no script or style in the page, no frame around it.
/// `blob:` pictures are photos that the page holds already.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; \
                      connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'self'; \
                      frame-ancestors 'none'";

/// The names under which the desk may be asked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Names {
    address: SocketAddr,
    more: Vec<String>,
}

impl Names {
    /// Names of a desk at this address: `localhost` and the loopback numbers for a loopback address; for another one
    /// any number (a number cannot be pointed elsewhere), and the names that are given.
    pub fn new(address: SocketAddr, more: Vec<String>) -> Names {
        Names { address, more: more.into_iter().map(|name| name.to_lowercase()).collect() }
    }

    /// Whether a Host header names the desk.
    pub fn includes(&self, host: &str) -> bool {
        let host = host.to_lowercase();
        let (name, port) = match host.rsplit_once(':') {
            Some((name, port)) if !name.is_empty() && !port.contains(']') => (name, port.parse::<u16>().ok()),
            // Without a port it is that of plain HTTP.
            _ => (host.as_str(), Some(80)),
        };
        if port != Some(self.address.port()) {
            return false;
        }
        if name == "localhost" || self.more.iter().any(|known| known == name) {
            return true;
        }
        let number = name.strip_prefix('[').and_then(|name| name.strip_suffix(']')).unwrap_or(name);
        let Ok(number) = number.parse::<IpAddr>() else { return false };
        number.is_loopback() || !self.address.ip().is_loopback()
    }
}

/// Lets a request through, or answers it here; and marks every answer.
pub(super) async fn guard(State(desk): State<Desk>, request: Request, next: Next) -> Response {
    let mut response = match check(&desk, &request) {
        Ok(()) => next.run(request).await,
        Err(refusal) if wants_a_page(request.headers()) => page(&refusal),
        Err(refusal) => refusal.into_response(),
    };
    let headers = response.headers_mut();
    let set = [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
        (HeaderName::from_static("permissions-policy"), "camera=(self), microphone=(), geolocation=()"),
    ];
    for (name, value) in set {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    response
}

fn check(desk: &Desk, request: &Request) -> Result<(), Refusal> {
    let headers = request.headers();
    let host = text(headers, &header::HOST).or_else(|| request.uri().authority().map(|at| at.as_str()));
    let Some(host) = host.filter(|host| desk.names().includes(host)) else {
        return Err(Refusal {
            status: StatusCode::MISDIRECTED_REQUEST,
            sentence: "this desk is not known under that name; open it by the link it printed when it was started"
                .into(),
        });
    };
    if headers.get_all(header::HOST).iter().count() > 1 {
        return Err(Refusal::forbidden("the request names two hosts; open the desk by its link"));
    }
    let foreign = || Refusal::forbidden("another page asked for this; open the desk by its link");
    if let Some(origin) = text(headers, &header::ORIGIN)
        && origin.to_lowercase() != format!("http://{}", host.to_lowercase())
    {
        return Err(foreign());
    }
    let changes = !matches!(*request.method(), Method::GET | Method::HEAD);
    let site = text(headers, &HeaderName::from_static("sec-fetch-site"));
    let navigates = text(headers, &HeaderName::from_static("sec-fetch-mode")) == Some("navigate") && !changes;
    if site.is_some_and(|site| site != "same-origin" && site != "none") && !navigates {
        return Err(foreign());
    }
    if request.uri().path() == DOOR {
        return if changes { Err(foreign()) } else { Ok(()) };
    }
    if !cookies(headers).any(|(name, value)| name == COOKIE && desk.is_key(value)) {
        return Err(Refusal {
            status: StatusCode::UNAUTHORIZED,
            sentence: "this browser was not let in yet; open the link that `pilumen desk` printed when it was started"
                .into(),
        });
    }
    if changes && !headers.get(&TOKEN).and_then(|token| token.to_str().ok()).is_some_and(|token| desk.is_token(token)) {
        return Err(Refusal::forbidden("the page is out of date; load it again"));
    }
    Ok(())
}

fn text<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    // What cannot be read as text is no name of ours.
    headers.get(name).map(|value| value.to_str().unwrap_or("?"))
}

fn cookies(headers: &HeaderMap) -> impl Iterator<Item = (&str, &str)> {
    let all = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
    all.flat_map(|line| line.split(';')).filter_map(|one| one.trim().split_once('='))
}

fn wants_a_page(headers: &HeaderMap) -> bool {
    text(headers, &header::ACCEPT).is_some_and(|accept| accept.contains("text/html"))
}

/// A refusal for a person. Its sentences are the program's own, so nothing in them needs to be escaped.
fn page(refusal: &Refusal) -> Response {
    let html = format!(
        "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><title>Pilumen</title><h1>Pilumen</h1><p>{}</p></html>",
        refusal.sentence.replace('`', "")
    );
    (refusal.status, Html(html)).into_response()
}

#[cfg(test)]
mod tests {
    use super::Names;

    #[test]
    fn only_the_desks_own_names_are_its_names() {
        let names = Names::new("127.0.0.1:4321".parse().unwrap(), vec!["Shelter-PC".into()]);
        for own in ["127.0.0.1:4321", "localhost:4321", "[::1]:4321", "LOCALHOST:4321", "shelter-pc:4321"] {
            assert!(names.includes(own), "{own}");
        }
        for foreign in [
            "127.0.0.1",
            "127.0.0.1:80",
            "example.org:4321",
            "localhost.example.org:4321",
            "192.0.2.7:4321",
            "",
            ":4321",
            "localhost:4321:4321",
            "[::1]",
            "127.0.0.1:4321@example.org",
            "127.1:4321x",
        ] {
            assert!(!names.includes(foreign), "{foreign}");
        }
        let open = Names::new("0.0.0.0:80".parse().unwrap(), Vec::new());
        assert!(open.includes("192.0.2.7") && open.includes("localhost") && !open.includes("example.org"));
    }
}
