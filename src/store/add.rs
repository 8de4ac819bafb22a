//! Adding: each fact is checked against itself and against what it belongs to, then kept whole.

use std::io::Write;

use flate2::Compression;
use flate2::write::ZlibEncoder;
use serde_json::Value;

use super::database::Row;
use super::error::StoreError;
use super::facts::{
    Animal, Change, Contact, Correction, Culture, Day, Exam, Fact, Kind, Light, Note, Photo, PlateReading, Reading,
    Slide, Treatment,
};
use super::kept::{Kept, Stamp, kept, parsed, short};
use super::{Store, photos};

/// The only field of a photo that a person may correct; the others follow from its bytes.
const PHOTO_FIELDS: [&str; 1] = ["light"];

/// Longest text that says who, bytes.
const MAX_WHO_BYTES: usize = 200;

impl Store {
    /// Adds an animal.
    ///
    /// # Errors
    /// As all adding: when the fact is unusable, what it belongs to is not there, another program writes all the
    /// time, or the disk does not take it. The record is unchanged then.
    pub fn add_animal(&mut self, animal: &Animal, stamp: &Stamp) -> Result<Kept<Animal>, StoreError> {
        self.add(None, animal, stamp)
    }

    /// Adds an examination of an animal. Errors: as [`Store::add_animal`].
    pub fn add_exam(&mut self, animal: &str, exam: &Exam, stamp: &Stamp) -> Result<Kept<Exam>, StoreError> {
        self.add(Some(animal), exam, stamp)
    }

    /// Adds a slide to an exam or an animal. Errors: as [`Store::add_animal`].
    pub fn add_slide(&mut self, parent: &str, slide: &Slide, stamp: &Stamp) -> Result<Kept<Slide>, StoreError> {
        self.add(Some(parent), slide, stamp)
    }

    /// Adds a treatment of an animal. Errors: as [`Store::add_animal`].
    pub fn add_treatment(
        &mut self,
        animal: &str,
        treatment: &Treatment,
        stamp: &Stamp,
    ) -> Result<Kept<Treatment>, StoreError> {
        self.add(Some(animal), treatment, stamp)
    }

    /// Adds a culture to an animal or an exam. Errors: as [`Store::add_animal`].
    pub fn add_culture(&mut self, parent: &str, culture: &Culture, stamp: &Stamp) -> Result<Kept<Culture>, StoreError> {
        self.add(Some(parent), culture, stamp)
    }

    /// Adds a look at a culture's plate. Errors: as [`Store::add_animal`], and when it was looked at before it was sent.
    pub fn add_plate(
        &mut self,
        culture: &str,
        plate: &PlateReading,
        stamp: &Stamp,
    ) -> Result<Kept<PlateReading>, StoreError> {
        let sent: Kept<Culture> = self.get(culture)?;
        if plate.day < sent.fact.day {
            return Err(StoreError::Unusable(format!(
                "the plate was looked at on {}, before the culture was sent on {}; check the days",
                plate.day, sent.fact.day
            )));
        }
        self.add(Some(culture), plate, stamp)
    }

    /// Adds a note to any fact. Errors: as [`Store::add_animal`].
    pub fn add_note(&mut self, parent: &str, note: &Note, stamp: &Stamp) -> Result<Kept<Note>, StoreError> {
        self.add(Some(parent), note, stamp)
    }

    /// Adds a contact through which an animal was exposed. Errors: as [`Store::add_animal`], and when an animal is
    /// said to be exposed to itself.
    pub fn add_contact(&mut self, animal: &str, contact: &Contact, stamp: &Stamp) -> Result<Kept<Contact>, StoreError> {
        if contact.source.as_deref() == Some(animal) {
            return Err(StoreError::Unusable("an animal cannot be exposed to itself; name the other one".to_owned()));
        }
        self.add(Some(animal), contact, stamp)
    }

    /// Keeps a photo of a slide, byte for byte; `file` is its name without the folder. When this returns without an
    /// error, bytes and fact have reached the disk.
    ///
    /// # Errors
    /// As [`Store::add_animal`], and [`StoreError::SamePhoto`] when the bytes are in the record already.
    pub fn add_photo(
        &mut self,
        slide: &str,
        file: &str,
        bytes: &[u8],
        light: Light,
        stamp: &Stamp,
    ) -> Result<Kept<Photo>, StoreError> {
        if bytes.is_empty() {
            return Err(StoreError::Unusable(format!("the photo {file} is empty; copy it from the camera again")));
        }
        let photo = Photo { file: file.to_owned(), sha256: photos::digest(bytes), n_bytes: bytes.len() as u64, light };
        let lock = self.lock()?;
        let row = self.row_of(Some(slide), &photo, stamp)?;
        if let Some(there) = self.database.photo(&photo.sha256)? {
            return Err(StoreError::SamePhoto { file: file.to_owned(), place: self.place_of(&there)? });
        }
        self.photos.tidy();
        self.photos.keep(bytes)?;
        self.database.keep(&[(row.clone(), None)])?;
        drop(lock);
        self.get(&row.id)
    }

    /// Keeps a reading of a photo: the evaluation object as `pilumen read --json` gives it.
    ///
    /// # Errors
    /// As [`Store::add_animal`], and when the evaluation is of another photo or lacks what is needed.
    pub fn add_reading(&mut self, photo: &str, evaluation: &str, stamp: &Stamp) -> Result<Kept<Reading>, StoreError> {
        let unusable = StoreError::Unusable;
        let of: Kept<Photo> = self.get(photo)?;
        let object: Value = serde_json::from_str(evaluation)
            .map_err(|error| unusable(format!("the evaluation is no JSON ({error}); read the photo again")))?;
        if object["photo"]["sha256"].as_str() != Some(of.fact.sha256.as_str()) {
            return Err(unusable(format!("the evaluation is of another photo than {}; read it again", of.short())));
        }
        let reading = Reading::of_evaluation(&object, photos::digest(evaluation.as_bytes())).map_err(unusable)?;
        let lock = self.lock()?;
        let row = self.row_of(Some(photo), &reading, stamp)?;
        self.database.keep(&[(row.clone(), Some(deflated(evaluation)))])?;
        drop(lock);
        self.get(&row.id)
    }

    /// Adds a correction of a fact, beside it.
    ///
    /// # Errors
    /// As [`Store::add_animal`], and when the correction does not fit what it corrects: a shaft that is not in the
    /// reading, a field that is not in the fact, a value that the fact could not have been kept with.
    pub fn correct(
        &mut self,
        target: &str,
        correction: &Correction,
        stamp: &Stamp,
    ) -> Result<Kept<Correction>, StoreError> {
        let row = self.row(target)?;
        self.fits(&row, correction, stamp.today).map_err(StoreError::Unusable)?;
        self.add(Some(target), correction, stamp)
    }

    fn fits(&self, target: &Row, correction: &Correction, today: Day) -> Result<(), String> {
        let what = || format!("{} {}", target.kind, short(&target.id));
        let body: Value = parsed(target).map_err(|error| error.to_string())?;
        match &correction.change {
            Change::Withdrawn => Ok(()),
            change if change.is_about_shafts() => {
                if target.kind != Kind::Reading {
                    return Err(format!("{} has no shafts; name the reading they are on", what()));
                }
                let Some(shaft) = change.shaft() else { return Ok(()) };
                let reading: Reading = serde_json::from_value(body).map_err(|error| error.to_string())?;
                let numbers = reading.shafts.len();
                reading
                    .shaft(shaft)
                    .map(|_| ())
                    .ok_or_else(|| format!("{} has no shaft {shaft}; it has {numbers}, numbered from 1", what()))
            }
            Change::Field { field, value } => {
                match target.kind {
                    Kind::Reading | Kind::Correction => {
                        return Err(format!(
                            "{} has no fields to correct; read the photo again, or withdraw it",
                            what()
                        ));
                    }
                    Kind::Photo if !PHOTO_FIELDS.contains(&field.as_str()) => {
                        return Err(format!(
                            "of a photo only {} can be corrected; add it anew",
                            PHOTO_FIELDS.join(", ")
                        ));
                    }
                    _ => (),
                }
                // As it stands now, earlier corrections applied.
                let others = self.database.case(&target.animal).map_err(|error| error.to_string())?;
                let mut now = standing(target, &others).map_err(|error| error.to_string())?;
                if now.get(field).is_none() {
                    let known: Vec<&str> =
                        now.as_object().into_iter().flatten().map(|(name, _)| name.as_str()).collect();
                    return Err(format!("{} has no field \"{field}\"; it has {}", what(), known.join(", ")));
                }
                now[field] = value.clone();
                derived(target.kind, now, today).map(|_| ())
            }
            _ => Ok(()),
        }
    }

    /// Keeps one fact that has neither bytes nor an evaluation.
    fn add<T: Fact>(&mut self, parent: Option<&str>, fact: &T, stamp: &Stamp) -> Result<Kept<T>, StoreError> {
        let lock = self.lock()?;
        let row = self.row_of(parent, fact, stamp)?;
        self.database.keep(&[(row.clone(), None)])?;
        drop(lock);
        self.get(&row.id)
    }

    /// The row of a new fact, once all that can be checked was checked.
    fn row_of<T: Fact>(&self, parent: Option<&str>, fact: &T, stamp: &Stamp) -> Result<Row, StoreError> {
        let unusable = |sentence: String| StoreError::Unusable(sentence);
        if stamp.by.trim().is_empty() || stamp.by.len() > MAX_WHO_BYTES || stamp.by.contains(char::is_control) {
            return Err(unusable("the record must know who tells this; say so with --by NAME".to_owned()));
        }
        fact.check(stamp.today).map_err(unusable)?;
        let parent = parent.map(|id| self.row(id)).transpose()?;
        fitting(T::KIND, parent.as_ref().map(|row| row.kind)).map_err(unusable)?;
        let id = uuid::Uuid::new_v4().to_string();
        let body = serde_json::to_value(fact).map_err(|error| unusable(error.to_string()))?;
        let derived = derived(T::KIND, body.clone(), stamp.today).map_err(unusable)?;
        let mut row = Row {
            seq: 0,
            kind: T::KIND,
            animal: parent.as_ref().map_or_else(|| id.clone(), |row| row.animal.clone()),
            parent: parent.map(|row| row.id),
            day: derived.day,
            sha256: derived.sha256,
            state: derived.state,
            words: derived.words,
            body: body.to_string(),
            by: stamp.by.trim().to_owned(),
            at: stamp.at.to_string(),
            digest: String::new(),
            id,
        };
        row.digest = row.digest_of();
        Ok(row)
    }

    /// A sentence when the clock stands before the newest fact: the fact is kept all the same, in its order.
    ///
    /// # Errors
    /// When the record cannot be read.
    pub fn clock_note(&self, stamp: &Stamp) -> Result<Option<String>, StoreError> {
        let newest = self.database.newest_at()?.and_then(|at| at.parse::<jiff::Timestamp>().ok());
        Ok(newest.filter(|&newest| newest > stamp.at).map(|newest| {
            format!(
                "the computer's clock says {}, but something was kept at {newest} already; check date and time \
                 (facts stay in the order they were kept in)",
                stamp.at
            )
        }))
    }
}

/// What a row repeats of its body.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Derived {
    pub(super) day: Option<String>,
    pub(super) sha256: Option<String>,
    pub(super) state: Option<String>,
    pub(super) words: Option<String>,
}

/// Reads a body as the kind it is, checks it, and gives what its row repeats of it.
///
/// # Errors
/// A sentence when it is none of that kind, or cannot be so.
pub(super) fn derived(kind: Kind, body: Value, today: Day) -> Result<Derived, String> {
    fn of<T: Fact>(body: Value, today: Day) -> Result<Derived, String> {
        let fact: T = serde_json::from_value(body).map_err(|error| error.to_string())?;
        fact.check(today)?;
        Ok(Derived {
            day: fact.day().map(|day| day.to_string()),
            sha256: None,
            state: fact.state(),
            words: fact.words(),
        })
    }
    match kind {
        Kind::Animal => of::<Animal>(body, today),
        Kind::Exam => of::<Exam>(body, today),
        Kind::Slide => of::<Slide>(body, today),
        Kind::Photo => {
            let sha256 = body["sha256"].as_str().map(str::to_owned);
            of::<Photo>(body, today).map(|derived| Derived { sha256, ..derived })
        }
        Kind::Reading => of::<Reading>(body, today),
        Kind::Correction => of::<Correction>(body, today),
        Kind::Treatment => of::<Treatment>(body, today),
        Kind::Culture => of::<Culture>(body, today),
        Kind::Plate => of::<PlateReading>(body, today),
        Kind::Note => of::<Note>(body, today),
        Kind::Contact => of::<Contact>(body, today),
    }
}

/// What a kept fact is found by; absent when it has no words or cannot be read.
pub(super) fn words_of(row: &Row) -> Option<String> {
    let body = serde_json::from_str(&row.body).ok()?;
    derived(row.kind, body, Day::MAX).ok()?.words
}

/// Whether a fact of a kind may belong to one of another.
pub(super) fn fitting(kind: Kind, parent: Option<Kind>) -> Result<(), String> {
    let may: Vec<&str> = kind.parents().iter().map(|kind| kind.word()).collect();
    match parent {
        None if may.is_empty() => Ok(()),
        Some(parent) if kind.parents().contains(&parent) => Ok(()),
        None => Err(format!("a {kind} must belong to something: {}", may.join(" or "))),
        Some(parent) if may.is_empty() => Err(format!("an {kind} belongs to nothing, not to a {parent}")),
        Some(parent) => Err(format!("a {kind} cannot belong to a {parent}; it belongs to {}", may.join(" or "))),
    }
}

/// The body of a fact with the corrections of its fields applied.
fn standing(row: &Row, others: &[Row]) -> Result<Value, StoreError> {
    fn of<T: Fact>(row: &Row, others: &[Row]) -> Result<Value, StoreError> {
        let fact = kept::<T>(row, others)?.fact;
        serde_json::to_value(fact).map_err(|error| StoreError::Unusable(error.to_string()))
    }
    match row.kind {
        Kind::Animal => of::<Animal>(row, others),
        Kind::Exam => of::<Exam>(row, others),
        Kind::Slide => of::<Slide>(row, others),
        Kind::Photo => of::<Photo>(row, others),
        Kind::Treatment => of::<Treatment>(row, others),
        Kind::Culture => of::<Culture>(row, others),
        Kind::Plate => of::<PlateReading>(row, others),
        Kind::Note => of::<Note>(row, others),
        Kind::Contact => of::<Contact>(row, others),
        Kind::Reading | Kind::Correction => parsed(row),
    }
}

/// A text, deflated (RFC 1950).
pub(super) fn deflated(text: &str) -> Vec<u8> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::default());
    // Writing to memory does not fail.
    let _ = encoder.write_all(text.as_bytes());
    encoder.finish().unwrap_or_default()
}
