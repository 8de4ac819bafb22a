//! Asking: one fact, what belongs to it, lists and searches.

use std::collections::BTreeMap;
use std::io::Read;

use flate2::read::ZlibDecoder;
use serde::Serialize;
use serde_json::Value;

use super::Store;
use super::case::Case;
use super::database::Row;
use super::error::StoreError;
use super::facts::{Animal, Correction, Culture, Exam, Fact, Kind, Photo, PlateReading, Reading, Slide};
use super::kept::{Kept, kept, short};
use super::photos;

/// Longest evaluation that is unpacked, bytes: 2,500 million pixels hold no more shafts than fit in this.
const MAX_EVALUATION_BYTES: u64 = 1 << 30;

/// A part of a list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Page {
    /// How many are left out before it.
    pub skip: usize,
    /// How many there are at most.
    pub most: usize,
}

impl Default for Page {
    /// Everything.
    fn default() -> Page {
        Page { skip: 0, most: usize::MAX }
    }
}

/// One animal in a list.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AnimalLine {
    /// The animal.
    #[serde(flatten)]
    pub animal: Kept<Animal>,
    /// How many facts of each kind its case has, by the kind's name; withdrawn ones are counted too.
    pub counts: BTreeMap<String, u64>,
}

/// One fact that a search found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Found {
    /// Its id.
    pub id: String,
    /// Its kind.
    pub kind: Kind,
    /// Id of the animal.
    pub animal: String,
    /// Name of the animal as it stands now.
    pub name: String,
    /// The day it is about, where it is about one.
    pub day: Option<String>,
    /// The words it was found by.
    pub words: String,
}

impl Store {
    pub(super) fn row(&self, id: &str) -> Result<Row, StoreError> {
        let unknown = || StoreError::Unknown { what: "fact".to_owned(), reference: short(id).to_owned() };
        self.database.fact(id)?.ok_or_else(unknown)
    }

    /// The fact of this id, which must be of the kind that is asked for.
    ///
    /// # Errors
    /// When there is none, it is of another kind, or damaged.
    pub fn get<T: Fact>(&self, id: &str) -> Result<Kept<T>, StoreError> {
        let row = self.row(id)?;
        if row.kind != T::KIND {
            return Err(StoreError::Unusable(format!("{} is a {}, not a {}", short(id), row.kind, T::KIND)));
        }
        kept(&row, &self.said_against(&[&row])?)
    }

    /// The corrections of facts, and the corrections of those.
    fn said_against(&self, rows: &[&Row]) -> Result<Vec<Row>, StoreError> {
        let mut said = Vec::new();
        for row in rows {
            for correction in self.database.children(&row.id, Kind::Correction)? {
                said.extend(self.database.children(&correction.id, Kind::Correction)?);
                said.push(correction);
            }
        }
        Ok(said)
    }

    /// What belongs to a fact directly, in the order of keeping, what was withdrawn included.
    ///
    /// # Errors
    /// When the record cannot be read.
    pub fn belonging<T: Fact>(&self, parent: &str) -> Result<Vec<Kept<T>>, StoreError> {
        let rows = self.database.children(parent, T::KIND)?;
        let said = self.said_against(&rows.iter().collect::<Vec<_>>())?;
        rows.iter().map(|row| kept(row, &said)).collect()
    }

    /// The kind of the fact of this id. Errors: when there is none.
    pub fn kind_of(&self, id: &str) -> Result<Kind, StoreError> {
        Ok(self.row(id)?.kind)
    }

    /// An animal. Errors: as [`Store::get`].
    pub fn animal(&self, id: &str) -> Result<Kept<Animal>, StoreError> {
        self.get(id)
    }

    /// An exam. Errors: as [`Store::get`].
    pub fn exam(&self, id: &str) -> Result<Kept<Exam>, StoreError> {
        self.get(id)
    }

    /// A slide. Errors: as [`Store::get`].
    pub fn slide(&self, id: &str) -> Result<Kept<Slide>, StoreError> {
        self.get(id)
    }

    /// A photo. Errors: as [`Store::get`].
    pub fn photo(&self, id: &str) -> Result<Kept<Photo>, StoreError> {
        self.get(id)
    }

    /// A reading. Errors: as [`Store::get`].
    pub fn reading(&self, id: &str) -> Result<Kept<Reading>, StoreError> {
        self.get(id)
    }

    /// A culture. Errors: as [`Store::get`].
    pub fn culture(&self, id: &str) -> Result<Kept<Culture>, StoreError> {
        self.get(id)
    }

    /// The looks at a culture's plate. Errors: as [`Store::belonging`].
    pub fn plates_of_culture(&self, culture: &str) -> Result<Vec<Kept<PlateReading>>, StoreError> {
        self.belonging(culture)
    }

    /// The photos of a slide. Errors: as [`Store::belonging`].
    pub fn photos_of_slide(&self, slide: &str) -> Result<Vec<Kept<Photo>>, StoreError> {
        self.belonging(slide)
    }

    /// The readings of a photo, the newest last. Errors: as [`Store::belonging`].
    pub fn readings_of_photo(&self, photo: &str) -> Result<Vec<Kept<Reading>>, StoreError> {
        self.belonging(photo)
    }

    /// All readings of all photos of a slide, in the order of keeping. Errors: as [`Store::belonging`].
    pub fn readings_of_slide(&self, slide: &str) -> Result<Vec<Kept<Reading>>, StoreError> {
        let mut readings = Vec::new();
        for photo in self.photos_of_slide(slide)? {
            readings.extend(self.readings_of_photo(&photo.id)?);
        }
        readings.sort_by_key(|reading| reading.order);
        Ok(readings)
    }

    /// The corrections of a fact, in the order of keeping, withdrawn ones included. Errors: as [`Store::belonging`].
    pub fn corrections(&self, target: &str) -> Result<Vec<Kept<Correction>>, StoreError> {
        self.belonging(target)
    }

    /// The whole evaluation object of a reading, as it was kept.
    ///
    /// # Errors
    /// When the reading is not there or its evaluation is damaged.
    pub fn evaluation(&self, reading: &str) -> Result<Value, StoreError> {
        let text = self.evaluation_text(reading)?;
        serde_json::from_str(&text).map_err(|error| StoreError::DamagedFact {
            kind: Kind::Reading.word().to_owned(),
            id: short(reading).to_owned(),
            what: error.to_string(),
        })
    }

    /// The same as the text that was kept, byte for byte. Errors: as [`Store::evaluation`].
    pub fn evaluation_text(&self, reading: &str) -> Result<String, StoreError> {
        let kept = self.reading(reading)?;
        let damaged = |what: &str| StoreError::DamagedFact {
            kind: Kind::Reading.word().to_owned(),
            id: short(reading).to_owned(),
            what: what.to_owned(),
        };
        let deflated = self.database.evaluation(reading)?.ok_or_else(|| damaged("its evaluation is missing"))?;
        let text = inflated(&deflated).ok_or_else(|| damaged("its evaluation cannot be unpacked"))?;
        if photos::digest(text.as_bytes()) != kept.fact.evaluation_sha256 {
            return Err(damaged("its evaluation has another digest than when it was kept"));
        }
        Ok(text)
    }

    /// The bytes of a photo, as they came.
    ///
    /// # Errors
    /// When the photo is not in the record, or its file is gone or damaged.
    pub fn photo_bytes(&self, photo: &str) -> Result<Vec<u8>, StoreError> {
        self.photos.bytes(&self.photo(photo)?.fact.sha256)
    }

    /// The photo with these bytes' digest, where it is in the record. Errors: when the record cannot be read.
    pub fn photo_of_digest(&self, sha256: &str) -> Result<Option<Kept<Photo>>, StoreError> {
        self.database.photo(sha256)?.map(|row| self.get(&row.id)).transpose()
    }

    /// Everything about one animal. Errors: as [`Store::get`].
    pub fn case(&self, animal: &str) -> Result<Case, StoreError> {
        Case::of(&self.database.case(animal)?, animal)
    }

    /// The animals by name, without those that were withdrawn.
    ///
    /// # Errors
    /// When the record cannot be read.
    pub fn animals(&self, page: Page) -> Result<Vec<AnimalLine>, StoreError> {
        let corrections = self.database.corrections_of_animals()?;
        let mut animals: Vec<(String, Kept<Animal>)> = Vec::new();
        for row in self.database.animals()? {
            // Few animals were ever corrected, and all corrections need not be looked through for each.
            let own: Vec<Row> = corrections.iter().filter(|other| other.animal == row.id).cloned().collect();
            let animal: Kept<Animal> = kept(&row, &own)?;
            if !animal.withdrawn {
                animals.push((animal.fact.name.to_lowercase(), animal));
            }
        }
        animals.sort_by(|a, b| (&a.0, a.1.order).cmp(&(&b.0, b.1.order)));
        let mut tallies = self.database.tallies()?;
        let part = animals.into_iter().skip(page.skip).take(page.most).map(|(_, animal)| animal);
        Ok(part.map(|animal| AnimalLine { counts: tallies.remove(&animal.id).unwrap_or_default(), animal }).collect())
    }

    /// Facts that contain all of these words, the newest first, at most `most`: names, colours, groups, identifiers,
    /// labels, sites of slides, notes, treatments, cultures, contacts, names of photos' files, and corrections of such.
    ///
    /// # Errors
    /// When the record cannot be read.
    pub fn search(&self, words: &str, most: usize) -> Result<Vec<Found>, StoreError> {
        let mut names: BTreeMap<String, String> = BTreeMap::new();
        let mut found = Vec::new();
        for row in self.database.search(words, most)? {
            let name = match names.get(&row.animal) {
                Some(name) => name.clone(),
                None => {
                    let name = self.animal(&row.animal)?.fact.name;
                    names.insert(row.animal.clone(), name.clone());
                    name
                }
            };
            let words = super::words_of(&row).unwrap_or_default();
            found.push(Found { id: row.id, kind: row.kind, animal: row.animal, name, day: row.day, words });
        }
        Ok(found)
    }

    /// How many facts of each kind the record holds, by the kind's name. Errors: when the record cannot be read.
    pub fn counts(&self) -> Result<BTreeMap<String, u64>, StoreError> {
        Ok(self.database.counts()?.0)
    }
}

/// A deflated text; `None` when it is none.
pub(super) fn inflated(deflated: &[u8]) -> Option<String> {
    let mut text = String::new();
    ZlibDecoder::new(deflated).take(MAX_EVALUATION_BYTES).read_to_string(&mut text).ok()?;
    Some(text)
}
