//! A kept slide as it is handed on: what its case tells of it, and its photos as they stand.

use serde_json::Value;

use crate::corrected;
use crate::exports::Language;
use crate::finding::Model;
use crate::image::ImageError;
use crate::pipeline::{self, Reading, Want};
use crate::record::{CaseFacts, Sex, Visit};
use crate::settings::Settings;
use crate::store::{self, Answer, Case, Happening, Kept, Light, Photo, Slide, Store, StoreError, Told};
use crate::web::words;

/// A photo of a slide with its newest reading, where it was read.
#[derive(Clone, Debug)]
pub struct HandedPhoto {
    /// The photo.
    pub photo: Kept<Photo>,
    /// Its bytes, as they came.
    pub bytes: Vec<u8>,
    /// Its newest reading that stands, as an evaluation object, and what was said against it; absent before the first.
    reading: Option<(Value, Vec<Told>)>,
}

impl HandedPhoto {
    /// The photo of this id.
    ///
    /// # Errors
    /// When it is not in the record, or it or its reading is damaged.
    pub fn of(store: &Store, photo: &str) -> Result<HandedPhoto, StoreError> {
        let photo = store.photo(photo)?;
        let bytes = store.photo_bytes(&photo.id)?;
        let readings = store.readings_of_photo(&photo.id)?;
        let newest = readings.into_iter().filter(|reading| !reading.withdrawn).max_by_key(|reading| reading.order);
        let reading = match newest {
            Some(reading) => {
                let said = reading.corrections.into_iter().filter(|told| told.change.is_about_shafts()).collect();
                Some((store.evaluation(&reading.id)?, said))
            }
            None => None,
        };
        Ok(HandedPhoto { photo, bytes, reading })
    }

    /// The scale that its newest reading was made with, micrometres per pixel; absent where nobody gave one.
    pub fn um_per_px(&self) -> Option<f64> {
        let (evaluation, _) = self.reading.as_ref()?;
        let settings = &evaluation["program"]["settings"];
        ["um_per_px", "setup_um_per_px"].iter().find_map(|name| settings[name].as_f64())
    }

    /// Reads it as it stands: with what people said of its shafts, and the numbers they have in its newest reading.
    ///
    /// # Errors
    /// When its bytes are no picture that can be read.
    pub fn read(&self, settings: &Settings, model: &Model, want: Want) -> Result<Reading, ImageError> {
        let Some((evaluation, said)) = &self.reading else {
            return pipeline::read(&self.photo.fact.file, &self.bytes, settings, model, want);
        };
        let entry = corrected::read(&self.bytes, settings, model, evaluation, said)?.entry;
        Ok(Reading { entry, picture: pipeline::pictured(&self.bytes, settings, want)? })
    }
}

/// The photos of a slide that stand and were lit by the lamp, in the order of keeping.
///
/// # Errors
/// When the record cannot be read.
pub fn photos_of(store: &Store, slide: &str) -> Result<Vec<Kept<Photo>>, StoreError> {
    let mut photos = store.photos_of_slide(slide)?;
    photos.retain(|photo| !photo.withdrawn && photo.fact.light == Light::Uv);
    Ok(photos)
}

/// The newest slide of a case that has photos to hand on; `None` while there is none.
///
/// # Errors
/// When the record cannot be read.
pub fn newest_slide(store: &Store, case: &Case) -> Result<Option<Kept<Slide>>, StoreError> {
    for slide in case.standing_slides().into_iter().rev() {
        if !photos_of(store, &slide.id)?.is_empty() {
            return Ok(Some(slide.clone()));
        }
    }
    Ok(None)
}

/// What the case tells of a slide, in the words of a language: nothing that was not told, and no owner, whom the
/// record does not know. Free words stay as they were written.
pub fn facts(case: &Case, slide: &Kept<Slide>, language: Language) -> CaseFacts {
    let animal = &case.animal.fact;
    let site = &slide.fact.site;
    let exams = case.standing_exams();
    let exam = exams.iter().rev().find(|exam| exam.fact.day <= slide.fact.day);
    let seen = exam.and_then(|exam| exam.fact.sites.iter().find(|seen| seen.site == *site));
    let say = |key: &str| words(language).get(key).cloned().unwrap_or_default();
    let answered = |answer: Answer| format!("{} {}", say("exam.fluorescence"), say(&format!("answer.{answer}")));
    let visits = case.course(site).points.into_iter().filter(|point| point.day < slide.fact.day);
    let treated: Vec<String> = case
        .treatments
        .iter()
        .filter(|one| !one.withdrawn && one.fact.day <= slide.fact.day)
        .map(|one| format!("{} {}: {}", one.fact.day, say(&format!("treatment.{}", one.fact.kind)), one.fact.with))
        .collect();
    CaseFacts {
        animal: Some(animal.name.clone()),
        animal_number: animal.identifiers.first().map(|one| format!("{} {}", one.kind, one.value)),
        sex: animal.sex.map(|sex| match sex {
            store::Sex::Female => Sex::Female,
            store::Sex::Male => Sex::Male,
        }),
        neutered: animal.neuter.map(|neuter| neuter == store::Neuter::Neutered),
        age: animal.age_class.map(|age| say(&format!("age.{age}"))),
        coat: animal.coat_colour.clone(),
        site: Some(language.terms().site(site.name())),
        exam_day: exam.map(|exam| exam.fact.day),
        lamp_nm: exam.and_then(|exam| exam.fact.lamp_nm),
        lamp_seen: seen.map(|seen| match &seen.colour {
            Some(colour) => format!("{}, {colour}", answered(seen.fluorescence)),
            None => answered(seen.fluorescence),
        }),
        treated: (!treated.is_empty()).then(|| treated.join("; ")),
        sampled: Some(slide.fact.day),
        sampling: slide.fact.plucked.clone(),
        slide: slide.fact.label.clone(),
        sender: Some(slide.by.clone()),
        visits: visits
            .filter_map(|point| {
                let Happening::Slide { infected, infected_zones, .. } = point.happening else { return None };
                let zone = infected_zones.into_iter().max_by_key(|(_, n)| *n).map(|(zone, _)| zone);
                let share = infected.map(|share| (share.of, share.n));
                Some(Visit {
                    day: point.day,
                    hairs: share.map(|share| share.0),
                    infected: share.map(|share| share.1),
                    zone,
                    remark: None,
                })
            })
            .collect(),
        ..CaseFacts::default()
    }
}
