//! What the page for learners asks: the next photo, marking, the standing, and a learner's results to take away.

use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use serde_json::{Value, json};

use super::super::answer::Refusal;
use super::super::desk::Desk;
use super::files::download;
use crate::exports::{Language, reasons_told};
use crate::finding::Look;
use crate::learn::{
    Answer, Asked, ItemName, Level, Marked, MarkedShaft, Prepared, Results, between_readers, next_item, standing,
};
use crate::store::Stamp;

/// Who asks, and on which level.
#[derive(Deserialize)]
pub(super) struct Learner {
    learner: String,
    #[serde(default)]
    level: u8,
}

/// Answers to a photo.
#[derive(Deserialize)]
pub(super) struct Answered {
    learner: String,
    answers: Vec<Answer>,
}

/// A file of the atlas.
pub(in super::super) async fn atlas(State(desk): State<Desk>, Path(name): Path<String>) -> Result<Response, Refusal> {
    desk.apart(move |desk| {
        let file = desk.learning().atlas(&name, desk.model());
        let (kind, bytes) =
            file.ok_or_else(|| Refusal::unknown("there is no such page in the atlas; go to its beginning"))?;
        Ok(([(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, "private, max-age=3600")], bytes).into_response())
    })
    .await
}

/// The beginning of the atlas.
pub(in super::super) async fn atlas_start() -> axum::response::Redirect {
    axum::response::Redirect::to("/atlas/index.html")
}

/// The photo that a learner is shown next.
pub(super) async fn next(State(desk): State<Desk>, Query(asked): Query<Learner>) -> Result<Json<Value>, Refusal> {
    desk.apart(move |desk| {
        let learner = named(&asked.learner)?;
        let level =
            Level::of(asked.level).ok_or_else(|| Refusal::unusable("there is no such level; choose 1, 2 or 3"))?;
        let all = desk.learning().results(&desk.asked().record)?;
        let next = next_item(level, history(&all, &learner));
        let prepared = desk.learning().prepared(next.name, desk.model())?;
        let item = &prepared.item;
        let [width, height] = item.size_px();
        let shafts: Vec<Value> = item.shafts.iter().map(shown).collect();
        Ok(Json(json!({
            "item": item.name.to_string(),
            "back": next.back,
            "width_px": width,
            "height_px": height,
            "um_per_px": item.um_per_px(),
            "shafts": shafts,
        })))
    })
    .await
}

/// A shaft as it is shown before it is answered: nothing of what is true.
fn shown(shaft: &Asked) -> Value {
    let place = |p: &crate::maths::point::Point| json!([(p.x * 10.0).round() / 10.0, (p.y * 10.0).round() / 10.0]);
    json!({
        "number": shaft.number,
        "line_px": shaft.line.iter().map(place).collect::<Vec<Value>>(),
        "ends_in_view": shaft.in_view,
        "tag_px": place(&shaft.tag),
    })
}

/// The photo of an item.
pub(super) async fn photo(State(desk): State<Desk>, Path(name): Path<String>) -> Result<Response, Refusal> {
    desk.apart(move |desk| {
        let name: ItemName = name.parse().map_err(Refusal::unknown)?;
        let prepared = desk.learning().prepared(name, desk.model())?;
        Ok(([(header::CONTENT_TYPE, "image/jpeg")], prepared.photo.clone()).into_response())
    })
    .await
}

/// Marks a photo's answers, keeps them, and tells what is true and what the program measured.
pub(super) async fn answer(
    State(desk): State<Desk>,
    Path(name): Path<String>,
    Json(body): Json<Value>,
) -> Result<Json<Value>, Refusal> {
    desk.apart(move |desk| {
        let answered: Answered = serde_json::from_value(body).map_err(|error| {
            Refusal::unusable(format!("these answers cannot be marked: {error}; load the page again"))
        })?;
        let learner = named(&answered.learner)?;
        let name: ItemName = name.parse().map_err(Refusal::unknown)?;
        let prepared = desk.learning().prepared(name, desk.model())?;
        let shafts = prepared.item.marked(&answered.answers).ok_or_else(|| {
            Refusal::unusable("each shaft must be answered once; say of every shaft what it looks like")
        })?;
        let all = desk.learning().results(&desk.asked().record)?;
        let item = name.to_string();
        let back = history(&all, &learner).iter().any(|marked| marked.item == item);
        let marked = Marked { item, at: Stamp::now("").at.to_string(), back, shafts };
        desk.learning().keep(&desk.asked().record, &learner, &marked)?;
        let told: Vec<Value> = (0..).zip(&marked.shafts).map(|(index, shaft)| truth(&prepared, index, shaft)).collect();
        Ok(Json(json!({ "item": marked.item, "back": back, "missed": marked.was_missed(), "shafts": told })))
    })
    .await
}

fn truth(prepared: &Prepared, index: usize, marked: &MarkedShaft) -> Value {
    let asked = &prepared.item.shafts[index];
    let found = prepared.found[index].and_then(|at| prepared.entry.as_ref()?.shafts.get(at));
    let program = found.map(|shaft| {
        let most = shaft.probability.iter().copied().fold(0.0, f64::max);
        let likeliest = (0..Look::COUNT).find(|i| shaft.probability[*i] == most).map(|i| Look::ALL[i].code());
        json!({
            "look": shaft.look.map_or("undetermined", |look| look.code()),
            "likeliest": likeliest,
            "probability": most,
            "zone": shaft.zone,
            "width_um": shaft.width.median_um.filter(|_| !shaft.is_too_thin()),
            "width_sd_um": shaft.width.sd_um,
            "reasons": {
                "en": reasons_told(shaft, Language::English),
                "es": reasons_told(shaft, Language::Spanish),
            },
        })
    });
    json!({
        "number": asked.number,
        "truth": marked.truth,
        "answer": marked.answer,
        "look_right": marked.look_is_right(),
        "place_right": marked.place_is_right(),
        "base_right": marked.base_is_right(),
        "width_um": asked.width_um,
        "kind": asked.kind,
        "build": asked.build,
        "program": program,
    })
}

/// How everybody stands, and how far they agree.
pub(super) async fn all_standing(State(desk): State<Desk>) -> Result<Json<Value>, Refusal> {
    desk.apart(|desk| {
        let all = desk.learning().results(&desk.asked().record)?;
        let readers: Vec<(String, &[Marked])> =
            all.iter().map(|one| (one.learner.clone(), one.marked.as_slice())).collect();
        let between = between_readers(&readers);
        let learners: Vec<Value> =
            all.iter().map(|one| json!({ "learner": one.learner, "standing": standing(&one.marked) })).collect();
        Ok(Json(json!({ "learners": learners, "between": between })))
    })
    .await
}

/// A learner's results file.
pub(super) async fn results(State(desk): State<Desk>, Query(asked): Query<Learner>) -> Result<Response, Refusal> {
    desk.apart(move |desk| {
        let learner = named(&asked.learner)?;
        let all = desk.learning().results(&desk.asked().record)?;
        let found = all.into_iter().find(|one| one.learner == learner);
        let found = found.ok_or(Refusal {
            status: StatusCode::NOT_FOUND,
            sentence: "nobody of that name has practised here".into(),
        })?;
        Ok(download("application/json", &format!("{learner}.learning.json"), found.to_json()))
    })
    .await
}

fn named(learner: &str) -> Result<String, Refusal> {
    Results::of(learner, Vec::new())
        .map(|results| results.learner)
        .map_err(|error| Refusal::unusable(error.to_string()))
}

fn history<'a>(all: &'a [Results], learner: &str) -> &'a [Marked] {
    all.iter().find(|one| one.learner == learner).map_or(&[], |one| one.marked.as_slice())
}
