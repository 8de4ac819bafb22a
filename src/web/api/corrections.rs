//! Corrections of what was read: kept in the record, then the photo is read again with them.

use axum::Json;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use serde::Deserialize;
use serde_json::Value;

use super::super::answer::Refusal;
use super::super::desk::Desk;
use super::photos::{demo_corrected, standing_reading};
use super::who;
use crate::store::{Change, Correction, Stamp, Told};

/// What a person says, in the order it is to be kept.
#[derive(Deserialize)]
pub(super) struct Saying {
    changes: Vec<Change>,
    why: String,
}

/// Most corrections that are told at once: parting a shaft takes three, joining two as many.
const MOST_AT_ONCE: usize = 20;

/// Most that are tried on the demo photo.
const MOST_ON_DEMO: usize = 200;

fn saying(body: Value, most: usize) -> Result<Saying, Refusal> {
    let saying: Saying = serde_json::from_value(body)
        .map_err(|error| Refusal::unusable(format!("this correction cannot be kept: {error}; load the page again")))?;
    if saying.changes.len() > most || saying.changes.iter().any(|change| !change.is_about_shafts()) {
        return Err(Refusal::unusable("these are no corrections of a photo's shafts; load the page again"));
    }
    Ok(saying)
}

pub(super) async fn correct(
    State(desk): State<Desk>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Json(body): Json<Value>,
) -> Result<Json<Value>, Refusal> {
    desk.apart(move |desk| {
        let saying = saying(body, MOST_AT_ONCE)?;
        let stamp = desk.stamp(who(&headers).as_deref());
        let mut store = desk.store()?;
        for change in saying.changes {
            store.correct(&id, &Correction { change, why: saying.why.clone() }, &stamp)?;
        }
        standing_reading(desk, &store, &store.reading(&id)?).map(Json)
    })
    .await
}

/// Takes a correction back; it stays in the record, and so does that it was taken back.
pub(super) async fn withdraw(
    State(desk): State<Desk>,
    Path((id, correction)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Json<Value>, Refusal> {
    desk.apart(move |desk| {
        let stamp = desk.stamp(who(&headers).as_deref());
        let mut store = desk.store()?;
        if !store.reading(&id)?.corrections.iter().any(|told| told.id == correction) {
            return Err(Refusal::unknown("this correction is not of this reading; load the page again"));
        }
        store.correct(&correction, &Correction { change: Change::Withdrawn, why: "taken back".to_owned() }, &stamp)?;
        standing_reading(desk, &store, &store.reading(&id)?).map(Json)
    })
    .await
}

/// The demo photo with corrections, which are kept nowhere.
pub(super) async fn demo(State(desk): State<Desk>, Json(body): Json<Value>) -> Result<Json<Value>, Refusal> {
    desk.apart(move |desk| {
        let saying = saying(body, MOST_ON_DEMO)?;
        let Stamp { by, at, .. } = Stamp::now("you");
        let told = |(index, change): (usize, Change)| Told {
            id: index.to_string(),
            by: by.clone(),
            at: at.to_string(),
            change,
            why: saying.why.clone(),
            before: None,
        };
        let told: Vec<Told> = saying.changes.iter().cloned().enumerate().map(told).collect();
        demo_corrected(desk, &told).map(Json)
    })
    .await
}
