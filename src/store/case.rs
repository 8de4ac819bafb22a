//! Everything about one animal, corrections applied, in the order of keeping.

use serde::Serialize;

use super::database::Row;
use super::error::StoreError;
use super::facts::Day;
use super::facts::{
    Animal, Contact, Culture, Exam, Fact, Kind, Note, Photo, PlateReading, Reading, Site, Slide, Treatment,
};
use super::kept::{Kept, kept, short};

/// Everything about one animal. What was withdrawn is there too, and says so.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Case {
    /// The animal.
    pub animal: Kept<Animal>,
    /// Its examinations.
    pub exams: Vec<Kept<Exam>>,
    /// Its slides.
    pub slides: Vec<Kept<Slide>>,
    /// Their photos.
    pub photos: Vec<Kept<Photo>>,
    /// Their readings.
    pub readings: Vec<Kept<Reading>>,
    /// Its treatments and baths.
    pub treatments: Vec<Kept<Treatment>>,
    /// Its cultures.
    pub cultures: Vec<Kept<Culture>>,
    /// The looks at their plates.
    pub plates: Vec<Kept<PlateReading>>,
    /// Notes, on the animal or on any of these.
    pub notes: Vec<Kept<Note>>,
    /// Contacts through which it was exposed.
    pub contacts: Vec<Kept<Contact>>,
}

impl Case {
    /// The case in these rows.
    pub(super) fn of(rows: &[Row], animal: &str) -> Result<Case, StoreError> {
        let said: Vec<Row> = rows.iter().filter(|row| row.kind == Kind::Correction).cloned().collect();
        fn all<T: Fact>(rows: &[Row], said: &[Row]) -> Result<Vec<Kept<T>>, StoreError> {
            rows.iter().filter(|row| row.kind == T::KIND).map(|row| kept(row, said)).collect()
        }
        let unknown = || StoreError::Unknown { what: "animal".to_owned(), reference: short(animal).to_owned() };
        Ok(Case {
            animal: all(rows, &said)?.pop().ok_or_else(unknown)?,
            exams: all(rows, &said)?,
            slides: all(rows, &said)?,
            photos: all(rows, &said)?,
            readings: all(rows, &said)?,
            treatments: all(rows, &said)?,
            cultures: all(rows, &said)?,
            plates: all(rows, &said)?,
            notes: all(rows, &said)?,
            contacts: all(rows, &said)?,
        })
    }

    /// The examinations that stand, by day.
    pub fn standing_exams(&self) -> Vec<&Kept<Exam>> {
        let mut exams: Vec<&Kept<Exam>> = self.exams.iter().filter(|exam| !exam.withdrawn).collect();
        exams.sort_by_key(|exam| (exam.fact.day, exam.order));
        exams
    }

    /// The slides that stand, by day.
    pub fn standing_slides(&self) -> Vec<&Kept<Slide>> {
        let mut slides: Vec<&Kept<Slide>> = self.slides.iter().filter(|slide| !slide.withdrawn).collect();
        slides.sort_by_key(|slide| (slide.fact.day, slide.order));
        slides
    }

    /// The newest standing reading of each standing photo of a slide.
    pub fn readings_of_slide(&self, slide: &str) -> Vec<&Kept<Reading>> {
        let of_slide = self.photos.iter().filter(|photo| !photo.withdrawn && photo.parent.as_deref() == Some(slide));
        of_slide
            .filter_map(|photo| {
                let of_photo = |reading: &&Kept<Reading>| {
                    !reading.withdrawn && reading.parent.as_deref() == Some(photo.id.as_str())
                };
                self.readings.iter().filter(of_photo).max_by_key(|reading| reading.order)
            })
            .collect()
    }

    /// The looks at a culture's plate that stand, by day.
    pub fn plates_of(&self, culture: &str) -> Vec<&Kept<PlateReading>> {
        let mut plates: Vec<&Kept<PlateReading>> =
            self.plates.iter().filter(|plate| !plate.withdrawn && plate.parent.as_deref() == Some(culture)).collect();
        plates.sort_by_key(|plate| (plate.fact.day, plate.order));
        plates
    }

    /// Every site that was looked at or that hair was taken from, by name.
    pub fn sites(&self) -> Vec<Site> {
        let seen =
            self.standing_exams().into_iter().flat_map(|exam| exam.fact.sites.iter().map(|seen| seen.site.clone()));
        let taken = self.standing_slides().into_iter().map(|slide| slide.fact.site.clone());
        let mut sites: Vec<Site> = seen.chain(taken).collect();
        sites.sort();
        sites.dedup();
        sites
    }

    /// The latest day that anything of the case is about.
    pub fn latest_day(&self) -> Option<Day> {
        let exams = self.standing_exams().last().map(|exam| exam.fact.day);
        let slides = self.standing_slides().last().map(|slide| slide.fact.day);
        exams.max(slides)
    }
}
