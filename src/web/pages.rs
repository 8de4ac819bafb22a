//! The pages and their files: one shell for all pages, and what it loads. A new page is one line in [`PAGES`].

use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{Html, IntoResponse, Redirect, Response};
use include_dir::{Dir, include_dir};

use super::answer::Refusal;
use super::desk::Desk;
use super::guard::{COOKIE, DOOR};
use axum::extract::Query;
use axum::http::StatusCode;
use serde::Deserialize;

/// Everything that pages load; embedded, so that nothing else is needed beside the program.
static FILES: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/src/web/assets");

/// The pages: path, script under `assets/js/` that fills it, whether the navigation names it (as `nav.NAME` in
/// `assets/text/`, where NAME is the script's). **Register a new page here.**
pub const PAGES: &[(&str, &str, bool)] = &[
    ("/", "start", true),
    ("/cases", "cases", true),
    ("/cases/{id}", "case", false),
    ("/slides/{id}", "slide", false),
    ("/due", "due", true),
    ("/setups", "setups", true),
    ("/learn", "learn", true),
    ("/cautions", "cautions", true),
    ("/model", "model", true),
    ("/help", "help", true),
];

/// How long a browser that was let in stays in, seconds: a year.
const STAYS_S: u64 = 365 * 24 * 3600;

/// The key in the link.
#[derive(Deserialize)]
pub(super) struct Entering {
    #[serde(default)]
    key: String,
}

/// Lets a browser in that brings the key.
pub(super) async fn enter(State(desk): State<Desk>, Query(entering): Query<Entering>) -> Response {
    if !desk.is_key(&entering.key) {
        return Refusal {
            status: StatusCode::UNAUTHORIZED,
            sentence: "this link is not the desk's; copy it again from where the desk was started".into(),
        }
        .into_response();
    }
    let cookie = format!("{COOKIE}={}; Path=/; HttpOnly; SameSite=Strict; Max-Age={STAYS_S}", desk.key());
    ([(header::SET_COOKIE, cookie)], Redirect::to("/")).into_response()
}

/// Path of the door, for the router.
pub(super) const fn door() -> &'static str {
    DOOR
}

/// The page of a script.
pub(super) fn shell(desk: &Desk, script: &str) -> Html<String> {
    let named: Vec<String> =
        PAGES.iter().filter(|page| page.2).map(|(path, name, _)| format!("{name}={path}")).collect();
    let shell = FILES.get_file("shell.html").and_then(|file| file.contents_utf8()).unwrap_or_default();
    // All three are the program's own words: script names, paths, hexadecimal digits.
    Html(shell.replace("{script}", script).replace("{pages}", &named.join(" ")).replace("{token}", &desk.token()))
}

/// One of the files that pages load.
pub(super) async fn file(Path(path): Path<String>) -> Response {
    if let Some(words) = super::words::file(&path) {
        let kind = [(header::CONTENT_TYPE, "application/json"), (header::CACHE_CONTROL, "no-cache")];
        return (kind, words).into_response();
    }
    let Some(file) = FILES.get_file(&path).filter(|_| !path.ends_with("shell.html")) else {
        return Refusal::unknown("there is no such file in the desk").into_response();
    };
    let kind = match path.rsplit('.').next() {
        Some("js") => "text/javascript; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("json") => "application/json",
        Some("svg") => "image/svg+xml",
        Some("webmanifest") => "application/manifest+json",
        _ => "text/plain; charset=utf-8",
    };
    // The same files come with the same program only, so they are asked for again each time.
    ([(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, "no-cache")], file.contents()).into_response()
}
