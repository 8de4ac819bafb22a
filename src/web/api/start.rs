//! What the start page shows: what is due, which cases were last worked on, what waits.

use axum::Json;
use axum::extract::State;
use serde_json::{Value, json};

use super::super::answer::Refusal;
use super::super::desk::Desk;
use super::super::spanish;
use crate::store::{Due, Page, Stamp};

/// Days ahead that the start page looks.
const AHEAD_DAYS: u16 = 3;

/// Days ahead that the list of what is due looks.
const FAR_AHEAD_DAYS: u16 = 30;

/// Most cases that are looked through for the latest; a record has thousands at most.
const CASES_LISTED: usize = 8;

pub(super) async fn start(State(desk): State<Desk>) -> Result<Json<Value>, Refusal> {
    desk.apart(|desk| {
        let store = desk.store()?;
        let today = Stamp::now("").today;
        let mut animals = store.animals(Page::default())?;
        animals.retain(|line| !line.animal.withdrawn);
        animals.sort_by_key(|line| std::cmp::Reverse(line.animal.order));
        let n_cases = animals.len();
        animals.truncate(CASES_LISTED);
        Ok(Json(json!({
            "today": today,
            "by": desk.asked().by,
            "cases": animals,
            "n_cases": n_cases,
            "due": due_words(&store.due(today, AHEAD_DAYS)?),
            "queue": desk.queue().jobs(),
            "max_bytes": desk.asked().max_bytes,
            "read_only": store.is_read_only(),
        })))
    })
    .await
}

pub(super) async fn due(State(desk): State<Desk>) -> Result<Json<Value>, Refusal> {
    desk.apart(|desk| {
        let today = Stamp::now("").today;
        Ok(Json(json!({ "today": today, "due": due_words(&desk.store()?.due(today, FAR_AHEAD_DAYS)?) })))
    })
    .await
}

/// What is due, each in words of every language.
pub(super) fn due_words(due: &[Due]) -> Vec<Value> {
    let one = |one: &Due| {
        let mut told = json!(one);
        told["words"] = json!({ "en": one.sentence, "es": spanish::due(&one.says) });
        told["source_words"] = json!({ "en": one.source, "es": spanish::source(&one.source) });
        told
    };
    due.iter().map(one).collect()
}
