//! Files to take away: a reading as it stands, and the whole case.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};

use super::super::answer::Refusal;
use super::super::desk::Desk;
use super::super::scaling::Scaling;
use super::super::standing;
use super::photos::newest;
use crate::corrected::Corrected;
use crate::exports::{Format, Table, from_record};
use crate::pipeline;
use crate::settings::Settings;
use crate::store::{Kept, Photo, Stamp, Store};

/// A photo, read as it stands.
pub(super) struct Read {
    pub(super) store: Store,
    pub(super) photo: Kept<Photo>,
    pub(super) bytes: Vec<u8>,
    pub(super) settings: Settings,
    pub(super) corrected: Arc<Corrected>,
    /// The file's name without its ending.
    pub(super) stem: String,
}

/// Reads a photo as it stands.
pub(super) fn read(desk: &Desk, id: &str) -> Result<Read, Refusal> {
    let store = desk.store()?;
    let photo = store.photo(id)?;
    let Some(reading) = newest(&store, &photo)? else {
        return Err(Refusal::unknown("this photo was not read yet; wait for it or have it read"));
    };
    let bytes = store.photo_bytes(&photo.id)?;
    let evaluation = store.evaluation(&reading.id)?;
    let settings = desk.settings(&Scaling::of_evaluation(desk, &evaluation))?;
    let said = standing::of_shafts(&reading);
    let corrected = desk.standing().corrected(desk, &reading.id, &bytes, &evaluation, &said)?;
    let stem = photo.fact.file.rsplit_once('.').map_or(photo.fact.file.as_str(), |(stem, _)| stem).to_owned();
    Ok(Read { store, photo, bytes, settings, corrected, stem })
}

/// A reading as it stands: `json`, `csv` or `marked`.
pub(super) async fn of_photo(
    State(desk): State<Desk>,
    Path((id, kind)): Path<(String, String)>,
) -> Result<Response, Refusal> {
    desk.apart(move |desk| {
        let Read { bytes, settings, corrected, stem, .. } = read(desk, &id)?;
        let entry = &corrected.entry;
        let (kind, ending, bytes) = match kind.as_str() {
            "json" => ("application/json", ".json", from_record(entry, None, Format::Json)),
            "csv" => {
                let mut table = Table::Shafts.head(&entry.catalogue);
                table.extend(Table::Shafts.rows(entry, &stem));
                ("text/csv; charset=utf-8", ".shafts.csv", table)
            }
            "marked" => {
                let picture = pipeline::picture(&bytes, &settings, pipeline::PICTURE_SIDE_PX)?;
                ("image/png", ".marked.png", from_record(entry, Some(&picture), Format::Marked))
            }
            _ => return Err(Refusal::unknown("there is no such file of a reading; take one the page offers")),
        };
        Ok(download(kind, &format!("{stem}{ending}"), bytes))
    })
    .await
}

/// Everything about an animal in one file.
pub(super) async fn pack(State(desk): State<Desk>, Path(id): Path<String>) -> Result<Response, Refusal> {
    desk.apart(move |desk| {
        let store = desk.store()?;
        let name = store.animal(&id)?.fact.name;
        let failed = |error: std::io::Error| {
            Refusal::broken(format!("the pack cannot be written: {error}; make room and try again"))
        };
        let place = tempfile::tempdir().map_err(failed)?;
        let file = place.path().join("case.zip");
        store.pack(&id, &file, &Stamp::now("desk"))?;
        Ok(download("application/zip", &format!("{name}.zip"), std::fs::read(&file).map_err(failed)?))
    })
    .await
}

/// An answer that is saved and not shown (RFC 6266); the name is written so that every letter survives.
pub(super) fn download(kind: &'static str, name: &str, bytes: Vec<u8>) -> Response {
    let letter = |byte: u8| match byte {
        b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'.' | b'-' | b'_' => char::from(byte).to_string(),
        other => format!("%{other:02X}"),
    };
    let encoded: String = name.bytes().map(letter).collect();
    let disposition = HeaderValue::from_str(&format!("attachment; filename*=UTF-8''{encoded}"));
    let disposition = disposition.unwrap_or(HeaderValue::from_static("attachment"));
    let heads = [(header::CONTENT_TYPE, HeaderValue::from_static(kind)), (header::CONTENT_DISPOSITION, disposition)];
    (heads, bytes).into_response()
}
