//! The queue as a page sees it: what is in it, news of it as they happen, and taking something out.

use std::convert::Infallible;

use axum::Json;
use axum::extract::{Path, State};
use axum::response::Sse;
use axum::response::sse::{Event, KeepAlive};
use serde_json::{Value, json};
use tokio_stream::wrappers::BroadcastStream;
use tokio_stream::{Stream, StreamExt};

use super::super::answer::Refusal;
use super::super::desk::Desk;

pub(super) async fn jobs(State(desk): State<Desk>) -> Json<Value> {
    Json(json!({ "queue": desk.queue().jobs() }))
}

/// Server-sent events (HTML Living Standard, section 9.2): one `job` for each step, `all` when the page should ask for
/// the whole queue because it missed some.
pub(super) async fn news(State(desk): State<Desk>) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let news = BroadcastStream::new(desk.queue().news()).map(|news| {
        let event = match news {
            Ok(job) => Event::default().event("job").data(serde_json::to_string(&job).unwrap_or_default()),
            Err(_) => Event::default().event("all").data("missed"),
        };
        Ok(event)
    });
    Sse::new(news).keep_alive(KeepAlive::default())
}

pub(super) async fn cancel(State(desk): State<Desk>, Path(photo): Path<String>) -> Result<Json<Value>, Refusal> {
    if !desk.queue().cancel(&photo) {
        return Err(Refusal::unknown("this photo does not wait any more; it was read or taken out already"));
    }
    Ok(Json(json!({ "cancelled": true })))
}
