//! What pages ask for and tell, as JSON. **Register a new answer here**; the guard stands before all of them.

use axum::Router;
use axum::http::HeaderMap;
use axum::routing::{get, post};

use super::desk::Desk;

mod cases;
mod corrections;
mod facts;
mod files;
mod learn;
mod learn_own;
mod paper;
mod photos;
mod reference;
mod setups;
mod start;
mod waiting;

pub(super) use learn::{atlas, atlas_start};

/// Everything under `/api`.
pub(super) fn all() -> Router<Desk> {
    Router::new()
        .route("/start", get(start::start))
        .route("/due", get(start::due))
        .route("/cases", get(cases::list).post(facts::animal))
        .route("/cases/{id}", get(cases::case))
        .route("/cases/{id}/pack", get(files::pack))
        .route("/cases/{id}/exams", post(facts::exam))
        .route("/cases/{id}/slides", post(facts::slide))
        .route("/cases/{id}/cultures", post(facts::culture))
        .route("/cases/{id}/treatments", post(facts::treatment))
        .route("/cases/{id}/contacts", post(facts::contact))
        .route("/cultures/{id}/plates", post(facts::plate))
        .route("/facts/{id}/notes", post(facts::note))
        .route("/facts/{id}/withdraw", post(facts::withdraw))
        .route("/slides/{id}", get(photos::slide))
        .route("/slides/{id}/photos", post(photos::add))
        .route("/photos/{id}/bytes", get(photos::bytes))
        .route("/photos/{id}/small", get(photos::small))
        .route("/photos/{id}/read", post(photos::read))
        .route("/photos/{id}/reading", get(photos::reading))
        .route("/photos/{id}/files/{kind}", get(files::of_photo))
        .route("/photos/{id}/paper/{kind}", get(paper::paper))
        .route("/readings/{id}/corrections", post(corrections::correct))
        .route("/readings/{id}/corrections/{correction}/withdraw", post(corrections::withdraw))
        .route("/demo/bytes", get(photos::demo_bytes))
        .route("/demo/reading", get(photos::demo).post(corrections::demo))
        .route("/queue", get(waiting::jobs))
        .route("/queue/news", get(waiting::news))
        .route("/queue/{photo}/cancel", post(waiting::cancel))
        .route("/learn/next", get(learn::next))
        .route("/learn/items/{name}/photo", get(learn::photo))
        .route("/learn/items/{name}/answers", post(learn::answer))
        .route("/learn/own", get(learn_own::list))
        .route("/learn/own/{number}", get(learn_own::asked))
        .route("/learn/own/{number}/photo", get(learn_own::photo))
        .route("/learn/own/{number}/truth", get(learn_own::truth))
        .route("/learn/standing", get(learn::all_standing))
        .route("/learn/results", get(learn::results))
        .route("/setups", get(setups::list))
        .route("/setups/photos", post(setups::photo))
        .route("/setups/scale", post(setups::scale))
        .route("/setups/remove", post(setups::remove))
        .route("/reference", get(reference::reference))
        .route("/model", get(reference::model))
}

/// Who tells something, as the page says: a name in UTF-8, percent-encoded, for headers hold no other letters.
fn who(headers: &HeaderMap) -> Option<String> {
    let text = headers.get("x-desk-by")?.to_str().ok()?;
    let mut bytes = Vec::new();
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        if byte == b'%' {
            let digit = |byte: Option<u8>| char::from(byte?).to_digit(16);
            bytes.push((digit(rest.next())? * 16 + digit(rest.next())?) as u8);
        } else {
            bytes.push(byte);
        }
    }
    String::from_utf8(bytes).ok()
}

#[cfg(test)]
mod tests {
    use axum::http::{HeaderMap, HeaderValue};

    #[test]
    fn a_name_may_have_any_letters() {
        let named = |text: &'static str| {
            let mut headers = HeaderMap::new();
            headers.insert("x-desk-by", HeaderValue::from_static(text));
            super::who(&headers)
        };
        assert_eq!(named("Zo%C3%AB%20A").as_deref(), Some("Zoë A"));
        assert_eq!(named("%ff%ff"), None);
        assert_eq!(named("%4"), None);
        assert_eq!(super::who(&HeaderMap::new()), None);
    }
}
