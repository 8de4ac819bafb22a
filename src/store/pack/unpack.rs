//! Taking a pack in: proved, held against the record, then kept whole.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::case_file::CaseFile;
use super::read::Pack;
use super::{CASE, EVALUATIONS, Unpacked, photo_path};
use crate::store::Store;
use crate::store::add::{deflated, fitting};
use crate::store::ask::Page;
use crate::store::database::Row;
use crate::store::error::StoreError;
use crate::store::facts::{Kind, Photo, Reading};
use crate::store::kept::{Stamp, parsed};
use crate::store::photos::digest;
use crate::store::rules::later;

impl Store {
    /// Takes in a packed case: elsewhere it gives the same case, twice it gives it once. With `anyway`, what can stand
    /// side by side is taken in although it differs: two animals of one number, two corrections of one thing.
    ///
    /// # Errors
    /// [`StoreError::BadPack`] when the pack cannot be trusted, [`StoreError::Conflict`] when it says something against
    /// this record. The record is unchanged then.
    pub fn unpack(&mut self, file: &Path, anyway: bool, stamp: &Stamp) -> Result<Unpacked, StoreError> {
        let bad = |why: String| StoreError::BadPack { file: file.to_owned(), why };
        let mut pack = Pack::open(file).map_err(bad)?;
        let case: CaseFile = serde_json::from_str(&pack.text(CASE).map_err(bad)?)
            .map_err(|error| bad(format!("its {CASE} is not as it should be ({error})")))?;
        let animal = case.animal.clone();
        // Where it comes from it may be tomorrow already.
        let rows = case.rows(later(stamp.today, 1)).map_err(bad)?;
        let evaluations = self.hold_together(&animal, &rows, &mut pack).map_err(bad)?;

        let lock = self.lock()?;
        let mut new: Vec<&Row> = Vec::new();
        for row in &rows {
            if self.database.fact(&row.id)?.is_none() {
                new.push(row);
            }
        }
        let conflicts = self.conflicts(&rows, &new)?;
        let mut refused = conflicts.hard;
        if !anyway {
            refused.extend(conflicts.soft.iter().cloned());
        }
        if !refused.is_empty() {
            return Err(StoreError::Conflict { file: file.to_owned(), conflicts: refused });
        }
        let mut unpacked = Unpacked { animal: animal.clone(), ..Unpacked::default() };
        unpacked.remarks.extend(conflicts.soft);
        unpacked.n_known = (rows.len() - new.len()) as u64;
        self.photos.tidy();
        let mut keep = Vec::new();
        for row in new {
            *unpacked.added.entry(row.kind.word().to_owned()).or_default() += 1;
            if row.kind == Kind::Photo {
                let photo: Photo = parsed(row)?;
                let bytes = pack.bytes(&photo_path(&photo.sha256, &photo.file)).map_err(bad)?;
                self.photos.keep(&bytes)?;
            }
            keep.push((row.clone(), evaluations.get(&row.id).map(|text| deflated(text))));
        }
        self.database.keep(&keep)?;
        drop(lock);
        let here = self.animal(&animal)?;
        unpacked.name = here.fact.name.clone();
        let same_name = self.animals(Page::default())?.into_iter().any(|line| {
            line.animal.id != animal && line.animal.fact.name.to_lowercase() == here.fact.name.to_lowercase()
        });
        if same_name {
            let name = &here.fact.name;
            unpacked.remarks.push(format!("there are several animals called {name} now; {} is this one", here.short()));
        }
        Ok(unpacked)
    }

    /// Checks that the facts hold together and that what they name is in the pack; gives the evaluations by reading.
    fn hold_together(&self, animal: &str, rows: &[Row], pack: &mut Pack) -> Result<BTreeMap<String, String>, String> {
        let mut kinds: BTreeMap<&str, Kind> = BTreeMap::new();
        let mut seen = BTreeSet::new();
        let mut evaluations = BTreeMap::new();
        for row in rows {
            let name = format!("its {} {:?}", row.kind, row.id);
            match &row.parent {
                None if row.id == animal => fitting(row.kind, None)?,
                None => return Err(format!("{name} belongs to nothing")),
                Some(parent) => {
                    let kind = kinds.get(parent.as_str()).ok_or_else(|| format!("{name} belongs to nothing in it"))?;
                    fitting(row.kind, Some(*kind)).map_err(|said| format!("{name}: {said}"))?;
                }
            }
            if kinds.insert(&row.id, row.kind).is_some() {
                return Err(format!("{name} is in it twice"));
            }
            if row.kind == Kind::Photo {
                let photo: Photo = parsed(row).map_err(|error| error.to_string())?;
                let path = photo_path(&photo.sha256, &photo.file);
                if pack.digests.get(&path) != Some(&photo.sha256) {
                    return Err(format!("the bytes of {name} are not in it, or are others"));
                }
                if !seen.insert(photo.sha256) {
                    return Err(format!("{name} has the bytes of another of its photos"));
                }
            }
            if row.kind == Kind::Reading {
                let reading: Reading = parsed(row).map_err(|error| error.to_string())?;
                let text = pack.text(&format!("{EVALUATIONS}{}.json", row.id))?;
                if digest(text.as_bytes()) != reading.evaluation_sha256 {
                    return Err(format!("the evaluation of {name} is another"));
                }
                evaluations.insert(row.id.clone(), text);
            }
        }
        if !kinds.contains_key(animal) {
            return Err("the animal it is of is not in it".to_owned());
        }
        Ok(evaluations)
    }
}
