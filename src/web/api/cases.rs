//! Cases: the list, searching, and everything about one animal.

use axum::Json;
use axum::extract::{Path, Query, State};
use serde::Deserialize;
use serde_json::{Value, json};

use super::super::answer::Refusal;
use super::super::desk::Desk;
use super::super::queue;
use crate::store::{Course, Page, Stamp};

/// Animals on one page of the list.
const CASES_A_PAGE: usize = 100;

/// Most facts that a search gives.
const FOUND_MOST: usize = 50;

/// What is looked for.
#[derive(Deserialize)]
pub(super) struct Asking {
    #[serde(default)]
    words: String,
    #[serde(default)]
    skip: usize,
}

pub(super) async fn list(State(desk): State<Desk>, Query(asking): Query<Asking>) -> Result<Json<Value>, Refusal> {
    desk.apart(move |desk| {
        let store = desk.store()?;
        let words = asking.words.trim();
        if !words.is_empty() {
            return Ok(Json(json!({ "found": store.search(words, FOUND_MOST)? })));
        }
        let mut animals = store.animals(Page { skip: asking.skip, most: CASES_A_PAGE + 1 })?;
        let more = animals.len() > CASES_A_PAGE;
        animals.truncate(CASES_A_PAGE);
        Ok(Json(json!({ "cases": animals, "more": more })))
    })
    .await
}

pub(super) async fn case(State(desk): State<Desk>, Path(id): Path<String>) -> Result<Json<Value>, Refusal> {
    desk.apart(move |desk| {
        let store = desk.store()?;
        let case = store.case(&id)?;
        let rules = store.rules()?;
        let today = Stamp::now("").today;
        let courses: Vec<Course> = case.sites().iter().map(|site| case.course(site)).collect();
        let jobs = queue::by_photo(desk.queue().jobs());
        let slides: Vec<Value> = case
            .standing_slides()
            .into_iter()
            .map(|slide| {
                let readings = case.readings_of_slide(&slide.id);
                let shafts: Vec<_> = readings.iter().flat_map(|reading| reading.shafts()).collect();
                let photos: Vec<Value> = case
                    .photos
                    .iter()
                    .filter(|photo| !photo.withdrawn && photo.parent.as_deref() == Some(slide.id.as_str()))
                    .map(|photo| json!({ "id": photo.id, "file": photo.fact.file, "job": jobs.get(&photo.id) }))
                    .collect();
                let findings: Vec<&str> = readings.iter().map(|reading| reading.fact.finding.as_str()).collect();
                json!({ "slide": slide, "photos": photos, "shafts": shafts, "findings": findings })
            })
            .collect();
        Ok(Json(json!({
            "today": today,
            "animal": case.animal,
            "exams": case.standing_exams(),
            "slides": slides,
            "cultures": case.cultures.iter().map(|culture| {
                json!({ "culture": culture, "plates": case.plates_of(&culture.id) })
            }).collect::<Vec<_>>(),
            "treatments": case.treatments,
            "contacts": case.contacts,
            "notes": case.notes,
            "courses": courses,
            "coincidences": case.coincidences(&rules),
            "due": super::start::due_words(&case.due(&rules, today)),
        })))
    })
    .await
}
