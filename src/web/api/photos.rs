//! Photos: taking them in, showing them, and their readings as they stand.

use std::fs::File;
use std::io::{Cursor, Read, Seek};

use axum::Json;
use axum::body::Body;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use http_body_util::LengthLimitError;
use serde::Deserialize;
use serde_json::{Value, json};
use tokio::io::AsyncWriteExt;
use tokio_stream::StreamExt;

use super::super::answer::Refusal;
use super::super::desk::Desk;
use super::super::finding_words;
use super::super::queue::{self, Job, State as JobState};
use super::super::scaling::Scaling;
use super::super::standing;
use super::who;
use crate::corrected::Corrected;
use crate::exports::{Format, from_record};
use crate::maths::picture::Picture;
use crate::pipeline::{self, Want};
use crate::setups::Setup;
use crate::store::{Kept, Light, Photo, Reading, Slide, Store};

/// The demo photo, for newcomers; Quillfeather House is invented and the photo is drawn.
const DEMO: &[u8] = include_bytes!("../../../fixtures/demo/quillfeather-moth-left-pinna.jpg");

/// Its name.
const DEMO_FILE: &str = "quillfeather-moth-left-pinna.jpg";

/// Longest side of the small picture, pixels: twice what lists show, for fine screens.
const SMALL_PX: usize = 264;

/// Longest name of a file that is kept, characters; browsers and systems allow 255.
const MAX_NAME: usize = 255;

/// How a photo comes.
#[derive(Deserialize)]
pub(super) struct Coming {
    file: String,
    #[serde(default)]
    light: Option<Light>,
    #[serde(default)]
    um_per_px: Option<f64>,
    #[serde(default)]
    setup: Option<String>,
}

/// A slide with its photos, their newest readings and their places in the queue.
pub(super) async fn slide(State(desk): State<Desk>, Path(id): Path<String>) -> Result<Json<Value>, Refusal> {
    desk.apart(move |desk| {
        let store = desk.store()?;
        let slide: Kept<Slide> = store.slide(&id)?;
        let animal = store.animal(&slide.animal)?;
        let jobs = queue::by_photo(desk.queue().jobs());
        let mut photos = Vec::new();
        for photo in store.photos_of_slide(&id)?.into_iter().filter(|photo| !photo.withdrawn) {
            let reading = newest(&store, &photo)?;
            photos.push(json!({
                "id": photo.id,
                "file": photo.fact.file,
                "light": photo.fact.light,
                "n_bytes": photo.fact.n_bytes,
                "job": jobs.get(&photo.id),
                "reading": reading.map(|reading| reading.id),
            }));
        }
        Ok(Json(json!({ "slide": slide, "animal": animal, "photos": photos })))
    })
    .await
}

/// Keeps a photo in the record, then puts it into the queue. Answers once both have reached the disk.
///
/// What comes goes to the disk first, so that many or slow ones take no memory; a connection that breaks leaves nothing.
pub(super) async fn add(
    State(desk): State<Desk>,
    Path(slide): Path<String>,
    Query(coming): Query<Coming>,
    headers: HeaderMap,
    body: Body,
) -> Result<Json<Value>, Refusal> {
    let arrived = arrived(&desk, body).await?;
    desk.unpacking(move |desk| {
        let bytes = whole(arrived).map_err(|error| disk(&error))?;
        let file = plain_name(&coming.file)?;
        let scaling = Scaling::asked(desk, coming.um_per_px, coming.setup.as_deref())?;
        let settings = desk.settings(&scaling)?;
        let stamp = desk.stamp(who(&headers).as_deref());
        // What is no photo is refused before anything is kept; limits in pixels are held before pixels are unpacked.
        pipeline::check(&bytes, &settings)?;
        let light = coming.light.unwrap_or(Light::Uv);
        let mut store = desk.store()?;
        let photo = store.add_photo(&slide, &file, &bytes, light, &stamp)?;
        if light == Light::Uv {
            desk.queue().add(job(&photo, stamp.by, &scaling));
        }
        Ok(Json(json!({ "photo": photo })))
    })
    .await
}

/// A body as a file without a name in the record's folder; it vanishes with its handle, even if the program is killed.
pub(super) async fn arrived(desk: &Desk, body: Body) -> Result<File, Refusal> {
    let file = tempfile::tempfile_in(&desk.asked().record).map_err(|error| disk(&error))?;
    let mut file = tokio::fs::File::from_std(file);
    let mut body = body.into_data_stream();
    while let Some(part) = body.next().await {
        let part = part.map_err(broken_off)?;
        file.write_all(&part).await.map_err(|error| disk(&error))?;
    }
    file.flush().await.map_err(|error| disk(&error))?;
    Ok(file.into_std().await)
}

pub(super) fn whole(mut file: File) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::with_capacity(file.metadata()?.len() as usize);
    file.rewind()?;
    file.read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// Why a body did not come whole: it is longer than may be, or the browser went away.
fn broken_off(error: axum::Error) -> Refusal {
    let mut cause: Option<&dyn std::error::Error> = Some(&error);
    while let Some(one) = cause {
        if one.is::<LengthLimitError>() {
            let sentence =
                "the photo's file is larger than the desk takes; start the desk with a higher --max-megabytes";
            return Refusal { status: StatusCode::PAYLOAD_TOO_LARGE, sentence: sentence.to_owned() };
        }
        cause = one.source();
    }
    Refusal::unusable("the photo did not arrive whole; drop it again")
}

pub(super) fn disk(error: &std::io::Error) -> Refusal {
    let status = match error.kind() {
        std::io::ErrorKind::StorageFull => StatusCode::INSUFFICIENT_STORAGE,
        _ => StatusCode::INTERNAL_SERVER_ERROR,
    };
    Refusal {
        status,
        sentence: format!("the photo cannot be put on the disk of the record ({error}); make room and drop it again"),
    }
}

/// Puts a photo that is in the record into the queue, to be read once more.
pub(super) async fn read(
    State(desk): State<Desk>,
    Path(id): Path<String>,
    headers: HeaderMap,
) -> Result<Json<Value>, Refusal> {
    desk.apart(move |desk| {
        let store = desk.store()?;
        let photo = store.photo(&id)?;
        let scaling = match newest(&store, &photo)? {
            Some(reading) => Scaling::of_evaluation(desk, &store.evaluation(&reading.id)?),
            None => Scaling::Unknown,
        };
        let stamp = desk.stamp(who(&headers).as_deref());
        if stamp.by.trim().is_empty() {
            return Err(Refusal::unusable(
                "the record must know who asks for this; write your name at the top of the page",
            ));
        }
        desk.queue().add(job(&photo, stamp.by, &scaling));
        Ok(Json(json!({ "queued": true })))
    })
    .await
}

fn job(photo: &Kept<Photo>, by: String, scaling: &Scaling) -> Job {
    Job {
        photo: photo.id.clone(),
        file: photo.fact.file.clone(),
        slide: photo.parent.clone().unwrap_or_default(),
        by,
        um_per_px: scaling.given(),
        setup: scaling.setup().map(Setup::to_json),
        state: JobState::Waiting,
        sentence: None,
        spanish: None,
    }
}

/// A file's name without folders.
pub(super) fn plain_name(name: &str) -> Result<String, Refusal> {
    let name = name.rsplit(['/', '\\']).next().unwrap_or_default().trim();
    let name: String = name.chars().filter(|c| !c.is_control()).take(MAX_NAME).collect();
    if name.is_empty() || name == "." || name == ".." {
        return Err(Refusal::unusable("the photo has no name; save it under one and drop it again"));
    }
    Ok(name)
}

/// The newest reading of a photo that stands.
pub(super) fn newest(store: &Store, photo: &Kept<Photo>) -> Result<Option<Kept<Reading>>, Refusal> {
    let readings = store.readings_of_photo(&photo.id)?;
    Ok(readings.into_iter().filter(|reading| !reading.withdrawn).max_by_key(|reading| reading.order))
}

/// The newest reading of a photo as it stands; nothing while there is none.
pub(super) async fn reading(State(desk): State<Desk>, Path(id): Path<String>) -> Result<Json<Value>, Refusal> {
    desk.apart(move |desk| {
        let store = desk.store()?;
        let photo = store.photo(&id)?;
        let Some(reading) = newest(&store, &photo)? else { return Ok(Json(json!({ "reading": null }))) };
        standing_reading(desk, &store, &reading).map(Json)
    })
    .await
}

/// A reading as it stands, for a page.
pub(super) fn standing_reading(desk: &Desk, store: &Store, reading: &Kept<Reading>) -> Result<Value, Refusal> {
    let (evaluation, corrected) = match standing::of_reading(desk, store, reading)? {
        None => (store.evaluation(&reading.id)?, None),
        Some(corrected) => (evaluation_of(&corrected), Some(corrected)),
    };
    Ok(json!({
        "reading": reading.id,
        "at": reading.at,
        "by": reading.by,
        "words": finding_words::words(&evaluation),
        "evaluation": evaluation,
        "corrections": reading.corrections,
        "looks_by_people": corrected.as_ref().map(|corrected| corrected.looks_by_people.clone()),
        "added": corrected.as_ref().map(|corrected| corrected.added.clone()),
        "left_out": left_out(reading, corrected.as_deref()),
    }))
}

/// Numbers of shafts that a person said are none.
fn left_out(reading: &Kept<Reading>, corrected: Option<&Corrected>) -> Vec<usize> {
    let Some(corrected) = corrected else { return Vec::new() };
    let there = |id: &usize| corrected.entry.shafts.iter().any(|shaft| shaft.id == *id);
    reading.fact.shafts.iter().map(|shaft| shaft.id).filter(|id| !there(id)).collect()
}

pub(super) fn evaluation_of(corrected: &Corrected) -> Value {
    serde_json::from_slice(&from_record(&corrected.entry, None, Format::Json)).unwrap_or(Value::Null)
}

/// The photo as it came, or as a PNG where browsers cannot show it.
pub(super) async fn bytes(State(desk): State<Desk>, Path(id): Path<String>) -> Result<Response, Refusal> {
    desk.unpacking(move |desk| {
        let bytes = desk.store()?.photo_bytes(&id)?;
        shown(desk, bytes)
    })
    .await
}

fn shown(desk: &Desk, bytes: Vec<u8>) -> Result<Response, Refusal> {
    let kind = match bytes.as_slice() {
        [0xff, 0xd8, 0xff, ..] => "image/jpeg",
        [0x89, b'P', b'N', b'G', ..] => "image/png",
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => "image/webp",
        _ => {
            let picture = pipeline::picture(&bytes, &desk.settings(&Scaling::Unknown)?, pipeline::PICTURE_SIDE_PX)?;
            return encoded(picture, ::image::ImageFormat::Png, "image/png");
        }
    };
    Ok(picture_answer(kind, bytes))
}

/// A photo never changes, so a browser may keep it for itself.
fn picture_answer(kind: &'static str, bytes: Vec<u8>) -> Response {
    ([(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, "private, max-age=86400, immutable")], bytes)
        .into_response()
}

/// A small picture of the photo, for lists.
pub(super) async fn small(State(desk): State<Desk>, Path(id): Path<String>) -> Result<Response, Refusal> {
    desk.unpacking(move |desk| {
        let bytes = desk.store()?.photo_bytes(&id)?;
        let picture = pipeline::picture(&bytes, &desk.settings(&Scaling::Unknown)?, SMALL_PX)?;
        encoded(picture, ::image::ImageFormat::Jpeg, "image/jpeg")
    })
    .await
}

/// A picture as a file that browsers show.
fn encoded(picture: Picture, format: ::image::ImageFormat, kind: &'static str) -> Result<Response, Refusal> {
    let mut file = Cursor::new(Vec::new());
    let drawn = ::image::RgbImage::from_raw(picture.width as u32, picture.height as u32, picture.rgb)
        .is_some_and(|picture| picture.write_to(&mut file, format).is_ok());
    if !drawn {
        return Err(Refusal::broken("the photo cannot be shown; it is in the record all the same"));
    }
    Ok(picture_answer(kind, file.into_inner()))
}

pub(super) async fn demo_bytes() -> Response {
    picture_answer("image/jpeg", DEMO.to_vec())
}

/// The demo photo's reading.
pub(super) async fn demo(State(desk): State<Desk>) -> Result<Json<Value>, Refusal> {
    desk.apart(|desk| {
        let evaluation = demo_evaluation(desk)?;
        let words = finding_words::words(&evaluation);
        Ok(Json(json!({ "reading": "demo", "words": words, "evaluation": evaluation, "corrections": [] })))
    })
    .await
}

pub(super) fn demo_evaluation(desk: &Desk) -> Result<Value, Refusal> {
    let settings = desk.settings(&Scaling::Unknown)?;
    let read = pipeline::read(DEMO_FILE, DEMO, &settings, desk.model(), Want::Numbers)?;
    Ok(serde_json::from_slice(&from_record(&read.entry, None, Format::Json)).unwrap_or(Value::Null))
}

pub(super) fn demo_corrected(desk: &Desk, told: &[crate::store::Told]) -> Result<Value, Refusal> {
    let evaluation = demo_evaluation(desk)?;
    let corrected = desk.standing().corrected(desk, "", DEMO, &evaluation, told)?;
    let evaluation = evaluation_of(&corrected);
    Ok(json!({
        "reading": "demo",
        "words": finding_words::words(&evaluation),
        "evaluation": evaluation,
        "corrections": told,
        "looks_by_people": corrected.looks_by_people,
        "added": corrected.added,
    }))
}

#[cfg(test)]
mod tests {
    use super::plain_name;

    #[test]
    fn names_lose_their_folders() {
        assert_eq!(plain_name("../../etc/passwd").unwrap(), "passwd");
        assert_eq!(plain_name("C:\\fakepath\\a b.jpg").unwrap(), "a b.jpg");
        assert_eq!(plain_name("a\u{0}\u{1b}[2J.jpg").unwrap(), "a[2J.jpg");
        for none in ["", "..", "a/..", "  ", "\n"] {
            assert!(plain_name(none).is_err(), "{none:?}");
        }
    }
}
