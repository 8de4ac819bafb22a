//! Facts that a page tells: each as the record describes it, checked there.

use axum::Json;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::super::answer::Refusal;
use super::super::desk::Desk;
use super::who;
use crate::store::{
    Animal, Change, Contact, Correction, Culture, Exam, Kept, Note, PlateReading, Slide, Stamp, Store, StoreError,
    Treatment,
};

/// A fact of a page, or a sentence on what is wrong with it.
fn told<T: DeserializeOwned>(body: Value) -> Result<T, Refusal> {
    serde_json::from_value(body)
        .map_err(|error| Refusal::unusable(format!("this cannot be kept: {error}; check what you entered")))
}

/// Keeps what a page tells.
async fn keep<T, U>(
    desk: Desk,
    headers: HeaderMap,
    body: Value,
    add: impl FnOnce(&mut Store, &T, &Stamp) -> Result<Kept<U>, StoreError> + Send + 'static,
) -> Result<Json<Kept<U>>, Refusal>
where
    T: DeserializeOwned,
    U: Serialize + Send + 'static,
{
    desk.apart(move |desk| {
        let fact: T = told(body)?;
        Ok(Json(add(&mut desk.store()?, &fact, &desk.stamp(who(&headers).as_deref()))?))
    })
    .await
}

type Answer<T> = Result<Json<Kept<T>>, Refusal>;

pub(super) async fn animal(State(desk): State<Desk>, headers: HeaderMap, Json(body): Json<Value>) -> Answer<Animal> {
    keep(desk, headers, body, |store, fact: &Animal, stamp| store.add_animal(fact, stamp)).await
}

/// One handler for a fact that belongs to the one in the path.
macro_rules! belonging {
    ($($name:ident: $fact:ty, $add:ident);+ $(;)?) => {
        $(pub(super) async fn $name(
            State(desk): State<Desk>,
            Path(id): Path<String>,
            headers: HeaderMap,
            Json(body): Json<Value>,
        ) -> Answer<$fact> {
            keep(desk, headers, body, move |store, fact: &$fact, stamp| store.$add(&id, fact, stamp)).await
        })+
    };
}

belonging! {
    exam: Exam, add_exam;
    slide: Slide, add_slide;
    culture: Culture, add_culture;
    plate: PlateReading, add_plate;
    treatment: Treatment, add_treatment;
    contact: Contact, add_contact;
    note: Note, add_note;
}

/// Why something is withdrawn.
#[derive(Deserialize)]
pub(super) struct Why {
    why: String,
}

pub(super) async fn withdraw(
    State(desk): State<Desk>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Json(body): Json<Value>,
) -> Answer<Correction> {
    keep(desk, headers, body, move |store, why: &Why, stamp| {
        store.correct(&id, &Correction { change: Change::Withdrawn, why: why.why.clone() }, stamp)
    })
    .await
}
