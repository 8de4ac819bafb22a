//! Photos of the house's own cases for practice: only when who asks says that it is agreed, the pictures alone, under
//! numbers. Nothing that is answered to them is kept.

use axum::Json;
use axum::extract::{Path, Query, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use serde_json::{Value, json};

use super::super::answer::Refusal;
use super::super::desk::Desk;
use crate::learn::{OwnPhoto, own_name};
use crate::maths::point::Point;

/// Whether it is agreed that photos of the record are shown to learners.
#[derive(Deserialize)]
pub(super) struct Agreed {
    #[serde(default)]
    agreed: bool,
}

impl Agreed {
    fn or_refused(&self) -> Result<(), Refusal> {
        let sentence = "nobody has agreed that photos of your own cases are shown; tick the box on the page for that";
        match self.agreed {
            true => Ok(()),
            false => Err(Refusal { status: StatusCode::FORBIDDEN, sentence: sentence.into() }),
        }
    }
}

/// The numbers of the photos that can be practised on.
pub(super) async fn list(State(desk): State<Desk>, Query(agreed): Query<Agreed>) -> Result<Json<Value>, Refusal> {
    agreed.or_refused()?;
    desk.apart(|desk| {
        let numbers: Vec<u32> = desk.store()?.confirmed()?.iter().map(|one| one.number).collect();
        Ok(Json(json!({ "photos": numbers })))
    })
    .await
}

/// A photo as it is shown before it is answered: nothing of what is held to be true.
pub(super) async fn asked(desk: State<Desk>, number: Path<u32>, agreed: Query<Agreed>) -> Result<Json<Value>, Refusal> {
    told(desk, number, agreed, |own| {
        let place = |p: &Point| json!([p.x.round(), p.y.round()]);
        let shafts: Vec<Value> = own
            .shafts
            .iter()
            .map(|shaft| {
                let line: Vec<Value> = shaft.line.iter().map(place).collect();
                json!({ "number": shaft.number, "line_px": line, "tag_px": place(&shaft.tag), "ends_in_view": [false, false] })
            })
            .collect();
        let [width, height] = own.size_px;
        Json(json!({ "item": own_name(own.number), "width_px": width, "height_px": height, "shafts": shafts }))
    })
    .await
}

/// The picture.
pub(super) async fn photo(desk: State<Desk>, number: Path<u32>, agreed: Query<Agreed>) -> Result<Response, Refusal> {
    told(desk, number, agreed, |own| ([(header::CONTENT_TYPE, "image/jpeg")], own.photo.clone()).into_response()).await
}

/// What is held to be true of it.
pub(super) async fn truth(desk: State<Desk>, number: Path<u32>, agreed: Query<Agreed>) -> Result<Json<Value>, Refusal> {
    told(desk, number, agreed, |own| {
        let shafts: Vec<Value> =
            own.shafts.iter().map(|shaft| json!({ "number": shaft.number, "look": shaft.look.code() })).collect();
        Json(json!({ "grew": own.grew, "shafts": shafts }))
    })
    .await
}

/// What is told of a photo once it is agreed.
async fn told<T: Send + 'static>(
    State(desk): State<Desk>,
    Path(number): Path<u32>,
    Query(agreed): Query<Agreed>,
    tell: impl FnOnce(&OwnPhoto) -> T + Send + 'static,
) -> Result<T, Refusal> {
    agreed.or_refused()?;
    desk.unpacking(move |desk| Ok(tell(&*desk.learning().own(&desk.store()?, number)?))).await
}
