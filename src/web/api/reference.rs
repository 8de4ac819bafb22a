//! What pages show of the program itself: the body map, the features, the model's card.

use axum::Json;
use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use include_dir::{Dir, include_dir};
use pulldown_cmark::{Event, Options, Parser, Tag, html};
use serde_json::{Value, json};

use super::super::desk::Desk;
use crate::features::catalogue::CATALOGUE;
use crate::reference_strips;
use crate::store::BODY_MAP;

/// The pictures that the card shows.
static PICTURES: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/models/misjudged");

/// The card as it lies beside the model.
const CARD: &str = include_str!("../../../models/README.md");

pub(super) async fn reference() -> Json<Value> {
    let sites: Vec<Value> =
        BODY_MAP.iter().map(|place| json!({ "name": place.name, "view": place.view, "at": place.at })).collect();
    let features: Vec<Value> = CATALOGUE
        .iter()
        .map(|entry| json!({ "key": entry.key, "unit": entry.unit, "meaning": entry.meaning, "absent": entry.absent }))
        .collect();
    Json(json!({ "sites": sites, "features": features, "version": env!("CARGO_PKG_VERSION") }))
}

/// The card as HTML; anything in it that is HTML already is shown as the text it is. Where the record's own model judges,
/// how that compared with the one before comes first.
pub(super) async fn model(State(desk): State<Desk>) -> Json<Value> {
    let own = desk.asked().own_model.as_deref();
    let text = own.map_or_else(|| CARD.to_owned(), |comparison| format!("{comparison}\n\n{CARD}"));
    let parser = Parser::new_ext(&text, Options::ENABLE_TABLES).map(|event| match event {
        Event::Html(text) | Event::InlineHtml(text) => Event::Text(text),
        Event::Start(Tag::Image { link_type, dest_url, title, id }) => {
            let name = dest_url.rsplit('/').next().unwrap_or_default();
            let dest_url = format!("/api/model/pictures/{name}").into();
            Event::Start(Tag::Image { link_type, dest_url, title, id })
        }
        other => other,
    });
    let mut card = String::new();
    html::push_html(&mut card, parser);
    // Alignments would be inline styles, which the page forbids.
    Json(
        json!({ "card": card, "own": own.is_some(), "sha256": desk.model().sha256(), "version": env!("CARGO_PKG_VERSION") }),
    )
}

/// The sheet of strips of a model's reference shafts. No content where it has none, which is no fault.
pub(super) async fn strips(Path(sha256): Path<String>) -> Response {
    match reference_strips::sheet(&sha256) {
        Some(sheet) => ([(header::CONTENT_TYPE, "image/jpeg")], sheet).into_response(),
        None => StatusCode::NO_CONTENT.into_response(),
    }
}

/// A picture of the card.
pub(super) async fn picture(Path(name): Path<String>) -> Response {
    match PICTURES.get_file(&name) {
        Some(file) => ([(header::CONTENT_TYPE, "image/jpeg")], file.contents()).into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}
