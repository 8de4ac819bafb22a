//! A consistent copy of a record while it is in use, learners' answers with it; and the photos on another disk.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use serde::Serialize;

use super::database::{Database, Mode};
use super::error::StoreError;
use super::photos::{Photos, sync_folder};
use super::{Store, learners, models, place};

/// The copy of the database before it is whole.
const UNFINISHED: &str = "record.unfinished.db";

/// What may lie in a backup already. A backup is a record of its own, so somebody may have opened a desk on it.
const OURS: [&str; 9] = [
    place::DATABASE,
    place::PHOTOS,
    UNFINISHED,
    super::lock::LOCK,
    place::LEARNERS,
    learners::UNFINISHED,
    models::FOLDER,
    place::DESK_KEY,
    place::DESK_QUEUE,
];

/// What a backup copied.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct BackupReport {
    /// Facts in the copy.
    pub n_facts: u64,
    /// Photos in the copy.
    pub n_photos: u64,
    /// Those of them that were not there from an earlier backup.
    pub n_new_photos: u64,
    /// Photos that people answered in practice and that are in the copy.
    pub n_answers: u64,
    /// Photos that could not be copied because they are damaged or missing here; each a sentence.
    pub damaged: Vec<String>,
}

impl Store {
    /// Copies the record to a folder, which then holds a record of its own; an earlier backup there is brought up to
    /// date, and stays as it was until the new one is whole.
    ///
    /// # Errors
    /// When the folder cannot be written, lies in the record, holds something else or a record that is in use. Damaged
    /// photos are no error but are told.
    pub fn backup(&self, to: &Path) -> Result<BackupReport, StoreError> {
        let failed = |error| StoreError::io(to, &error);
        let unusable = |sentence: String| Err(StoreError::Unusable(sentence));
        fs::create_dir_all(to).map_err(failed)?;
        let (from, to_whole) = (self.folder.canonicalize().map_err(failed)?, to.canonicalize().map_err(failed)?);
        let photos_from = self.photos.folder().canonicalize().ok();
        if to_whole.starts_with(&from) || photos_from.is_some_and(|photos| to_whole.starts_with(photos)) {
            return unusable(format!(
                "{} lies in the record itself; name a folder outside, best on another disk",
                to.display()
            ));
        }
        let path = to.join(place::DATABASE);
        let others = fs::read_dir(to).map_err(failed)?.flatten().any(|entry| {
            let name = entry.file_name();
            !OURS.iter().chain(&place::IN_USE).any(|ours| name == *ours)
        });
        if others {
            return unusable(format!(
                "{} holds something else; name an empty folder or an earlier backup",
                to.display()
            ));
        }
        if path.exists() {
            // Opened for writing, so that what an ended desk left in the log goes into the file before it is replaced:
            // a log that outlived its database would be taken for the new one's.
            let there = Database::open(&path, Mode::Write)?;
            self.is_earlier(&there, to)?;
            drop(there);
            if place::IN_USE.iter().any(|name| to.join(name).exists()) {
                return unusable(format!(
                    "somebody has the record in {} open; end the desk or command that uses it and back up again",
                    to.display()
                ));
            }
        }
        let answers = learners::to_copy(&self.folder, to)?;
        let unfinished = to.join(UNFINISHED);
        if unfinished.exists() {
            fs::remove_file(&unfinished).map_err(failed)?;
        }
        // The facts first, as they are at one moment: whatever they name was on the disk by then.
        self.database.copy_to(&unfinished)?;
        let copy = Database::open(&unfinished, Mode::Read)?;
        let mut named = BTreeSet::new();
        copy.every(|row| {
            named.extend(row.ok().and_then(|row| row.sha256));
        });
        let photos = Photos::new(to.join(place::PHOTOS));
        let mut report = BackupReport { n_facts: copy.counts()?.total(), ..BackupReport::default() };
        drop(copy);
        for sha256 in named {
            if photos.bytes(&sha256).is_ok() {
                report.n_photos += 1;
                continue;
            }
            match self.photos.bytes(&sha256) {
                Ok(bytes) => {
                    photos.keep(&bytes)?;
                    report.n_photos += 1;
                    report.n_new_photos += 1;
                }
                Err(error @ StoreError::DamagedPhoto { .. }) => report.damaged.push(error.to_string()),
                Err(error) => return Err(error),
            }
        }
        report.n_answers = answers.as_deref().map_or(Ok(0), |text| learners::copy(text, to))?;
        models::copy(&self.folder, to).map_err(failed)?;
        fs::rename(&unfinished, &path).map_err(failed)?;
        sync_folder(to).map_err(failed)?;
        Ok(report)
    }

    /// Refuses to replace the backup of another record: each fact there must be here too.
    fn is_earlier(&self, there: &Database, to: &Path) -> Result<(), StoreError> {
        let mut lost = 0_u64;
        let mut error = None;
        there.every(|row| match row.map(|row| self.database.fact(&row.id)) {
            Ok(Ok(Some(_))) | Err(_) => (),
            Ok(Ok(None)) => lost += 1,
            Ok(Err(failure)) => error = Some(failure),
        });
        match (error, lost) {
            (Some(error), _) => Err(error),
            (None, 0) => Ok(()),
            (None, lost) => Err(StoreError::Unusable(format!(
                "{} holds {lost} facts that this record has not, so it is a backup of another; name another folder",
                to.display()
            ))),
        }
    }

    /// Moves the photos to another folder, such as one on another disk: copies them, proves the copies, and only then
    /// makes the record look there. The old files are left where they are. Returns the number of photos.
    ///
    /// # Errors
    /// When a photo is damaged or the folder cannot be written; the record then goes on with the old folder.
    pub fn move_photos(&mut self, to: &Path) -> Result<u64, StoreError> {
        let lock = self.lock()?;
        fs::create_dir_all(to).map_err(|error| StoreError::io(to, &error))?;
        let to = to.canonicalize().map_err(|error| StoreError::io(to, &error))?;
        let photos = Photos::new(to.clone());
        let mut named = BTreeSet::new();
        self.database.every(|row| {
            named.extend(row.ok().and_then(|row| row.sha256));
        });
        for sha256 in &named {
            if photos.bytes(sha256).is_err() {
                photos.keep(&self.photos.bytes(sha256)?)?;
            }
        }
        let failed = |error: std::io::Error| StoreError::io(&self.folder, &error);
        let mut file = tempfile::NamedTempFile::new_in(&self.folder).map_err(failed)?;
        std::io::Write::write_all(&mut file, to.to_string_lossy().as_bytes()).map_err(failed)?;
        file.as_file().sync_all().map_err(failed)?;
        file.persist(self.folder.join(place::LOCATION)).map_err(|error| failed(error.error))?;
        sync_folder(&self.folder).map_err(failed)?;
        self.photos = photos;
        drop(lock);
        Ok(named.len() as u64)
    }
}
