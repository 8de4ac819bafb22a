//! The results of a run in a folder: files of each photo, one table of all shafts, and what was there before.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::folder::Folder;
use super::photos::file_name;
use super::terminal::{said, shown};
use crate::exports::{Format, Kept, Made, from_record, shafts_head, shafts_rows};
use crate::features::catalogue::CATALOGUE;
use crate::finding::Model;
use crate::pipeline::Reading;
use crate::record::Measure;
use crate::settings::Settings;

/// The table of all shafts of a run.
const TABLE: &str = "shafts.csv";

/// What is kept of each photo in the folder of results.
const KEPT: [Format; 2] = [Format::Json, Format::Marked];

/// Keeps the results in a folder. Photos may be kept from several threads; the table grows on one.
pub(super) struct Keeper {
    folder: Folder,
    /// The folder as the user named it.
    shown: PathBuf,
    /// The name of each photo's results, in the order of photos.
    names: Vec<String>,
}

/// A photo's results as they are in the folder now.
pub(super) struct Filed {
    /// Their names, for a person.
    pub(super) files: String,
    /// Its rows of the table.
    pub(super) rows: Vec<u8>,
}

/// The table while it grows; without a name of its own until it is finished.
pub(super) struct Table<'a> {
    keeper: &'a Keeper,
    file: Option<NamedTempFile>,
}

impl Keeper {
    /// A keeper of the results of these photos, in the folder at `path`.
    ///
    /// # Errors
    /// When the folder cannot be made or is no folder.
    pub(super) fn new(path: &Path, photos: &[PathBuf]) -> io::Result<Keeper> {
        let mut folder = Folder::new(path, photos)?;
        let endings = KEPT.map(Format::file_ending);
        let names = photos.iter().map(|photo| folder.name_for(photo, &endings)).collect();
        Ok(Keeper { folder, shown: path.to_owned(), names })
    }

    /// Keeps what a photo yielded.
    ///
    /// # Errors
    /// A sentence, when a file cannot be written.
    pub(super) fn keep(&self, index: usize, reading: &Reading) -> Result<Filed, String> {
        let name = &self.names[index];
        let mut files = Vec::new();
        // The object last: where it is, the picture is too.
        for format in KEPT.iter().rev() {
            let file = format!("{name}{}", format.file_ending());
            let bytes = from_record(&reading.entry, reading.picture.as_ref(), *format);
            self.folder.write(&file, &bytes).map_err(|error| self.sentence(&file, &error))?;
            files.insert(0, shown(&self.shown.join(file)));
        }
        Ok(Filed { files: files.join(", "), rows: shafts_rows(&reading.entry, name) })
    }

    /// What is kept of a photo already: its evaluation object with its shafts' number, and its results. `None` when it
    /// is not there whole, or was made of another photo, by another program or model, or with other settings.
    pub(super) fn kept(
        &self,
        index: usize,
        photo: &Path,
        digest: &str,
        settings: &Settings,
        model: &Model,
    ) -> Option<(Vec<u8>, usize, Filed)> {
        let name = &self.names[index];
        let files = KEPT.map(|format| self.shown.join(format!("{name}{}", format.file_ending())));
        if !files.iter().all(|file| file.is_file()) {
            return None;
        }
        let bytes = fs::read(&files[0]).ok()?;
        let made = Made {
            file: &file_name(photo),
            sha256: digest,
            version: env!("CARGO_PKG_VERSION"),
            model_sha256: model.sha256(),
            setup: settings.setup_name(),
            settings: settings.set_by_user(),
        };
        let kept = Kept::of(&bytes, &made)?;
        let rows = kept.rows(CATALOGUE.iter().map(|entry| entry.key), name);
        let files = files.map(|file| shown(&file)).join(", ");
        Some((bytes, kept.n_shafts(), Filed { files, rows }))
    }

    /// A table without rows.
    pub(super) fn table(&self) -> Table<'_> {
        Table { keeper: self, file: None }
    }

    fn sentence(&self, file: &str, error: &io::Error) -> String {
        let file = shown(&self.shown.join(file));
        format!("{file} cannot be written: {}; make room or name another folder", said(error))
    }
}

impl Table<'_> {
    /// Adds the rows of a photo.
    ///
    /// # Errors
    /// A sentence, when they cannot be written.
    pub(super) fn add(&mut self, rows: &[u8]) -> Result<(), String> {
        let keeper = self.keeper;
        self.added(rows).map_err(|error| keeper.sentence(TABLE, &error))
    }

    fn added(&mut self, rows: &[u8]) -> io::Result<()> {
        let file = match &mut self.file {
            Some(file) => file,
            empty => {
                let file = empty.insert(self.keeper.folder.begin()?);
                let measure = |key, unit| Measure { key, unit };
                let catalogue: Vec<Measure> = CATALOGUE.iter().map(|entry| measure(entry.key, entry.unit)).collect();
                file.write_all(&shafts_head(&catalogue))?;
                file
            }
        };
        file.write_all(rows)
    }

    /// Gives the table its name, and says which; `None` when no photo was added.
    ///
    /// # Errors
    /// A sentence, when it cannot be written.
    pub(super) fn finish(self) -> Result<Option<String>, String> {
        let Some(file) = self.file else { return Ok(None) };
        match self.keeper.folder.finish(file, TABLE) {
            Ok(()) => Ok(Some(shown(&self.keeper.shown.join(TABLE)))),
            Err(error) => Err(self.keeper.sentence(TABLE, &error)),
        }
    }
}
