//! What pages show of the program itself: the body map, the features, the model's card.

use axum::Json;
use axum::extract::State;
use pulldown_cmark::{Event, Options, Parser, html};
use serde_json::{Value, json};

use super::super::desk::Desk;
use crate::features::catalogue::CATALOGUE;
use crate::store::BODY_MAP;

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
        other => other,
    });
    let mut card = String::new();
    html::push_html(&mut card, parser);
    // Alignments would be inline styles, which the page forbids.
    Json(
        json!({ "card": card, "own": own.is_some(), "sha256": desk.model().sha256(), "version": env!("CARGO_PKG_VERSION") }),
    )
}
