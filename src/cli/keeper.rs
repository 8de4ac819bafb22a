//! The results of a run in a folder: files of each photo, tables of all photos, and what was there before.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::folder::Folder;
use super::kept_rows::{self, Rows};
use super::photos::file_name;
use super::terminal::{said, shown};
use crate::exports::{Format, Kept, Made, Table, from_record};
use crate::features::catalogue::CATALOGUE;
use crate::finding::Model;
use crate::pipeline::Reading;
use crate::record::Measure;
use crate::settings::Settings;

/// What is kept of each photo in the folder of results: the object first.
const KEPT: [Format; 2] = [Format::Json, Format::Marked];

/// Name of the object of a slide: no photo's results end so, for those bear the photo's name before `.json`.
const SLIDE: &str = "slide.one-slide.json";

/// Keeps the results in a folder. Photos may be kept from several threads; the tables grow on one.
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
    /// Its rows of the tables.
    pub(super) rows: Rows,
}

/// A photo's results that were in the folder already.
pub(super) struct Before {
    /// The evaluation object, one line of JSON without a line end.
    pub(super) object: Vec<u8>,
    /// Shafts in it.
    pub(super) n_shafts: usize,
    /// All of it.
    pub(super) filed: Filed,
}

/// The tables while they grow; without names of their own until they are finished.
pub(super) struct Tables<'a> {
    keeper: &'a Keeper,
    files: Option<[NamedTempFile; 3]>,
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
        let rows = Table::ALL.map(|table| table.rows(&reading.entry, name));
        let [object, marked] = KEPT.map(|format| from_record(&reading.entry, reading.picture.as_ref(), format));
        let [object_file, marked_file] = self.files_of(name);
        let rows_file = kept_rows::place_of(name);
        let put_by = kept_rows::bytes_of(&rows, &object);
        let place = kept_rows::make_place(&self.folder);
        place.map_err(|error| self.sentence(&rows_file, &error))?;
        // The object last: where it is, all else is.
        for (file, bytes) in [(&rows_file, &put_by), (&marked_file, &marked), (&object_file, &object)] {
            self.folder.write(file, bytes).map_err(|error| self.sentence(file, &error))?;
        }
        Ok(Filed { files: self.shown_files(name), rows })
    }

    /// What is kept already of a photo with this digest, read with a photo in visible light with that one; `None` when
    /// it is not there whole, or was made of another photo, by another program or model, or with other settings.
    pub(super) fn before(
        &self,
        index: usize,
        photo: &Path,
        [digest, visible]: [Option<&String>; 2],
        settings: &Settings,
        model: &Model,
    ) -> Option<Before> {
        let name = &self.names[index];
        let [object_file, marked_file] = self.files_of(name).map(|file| self.folder.path().join(file));
        let object = fs::read(object_file).ok()?;
        let made = Made {
            file: &file_name(photo),
            sha256: digest?,
            visible_sha256: visible.map(String::as_str),
            version: env!("CARGO_PKG_VERSION"),
            model_sha256: model.sha256(),
            setup: settings.setup_name(),
            settings: settings.set_by_user(),
        };
        let n_shafts = Kept::of(&object, &made)?.n_shafts();
        let put_by = fs::read(self.folder.path().join(kept_rows::place_of(name))).ok()?;
        let rows = kept_rows::rows_of(&put_by, &object)?;
        let filed = Filed { files: self.shown_files(name), rows };
        marked_file.is_file().then_some(Before { object, n_shafts, filed })
    }

    /// Keeps what the photos of one slide add up to; says under which name.
    ///
    /// # Errors
    /// A sentence, when the file cannot be written.
    pub(super) fn keep_slide(&self, object: &str) -> Result<String, String> {
        self.folder.write(SLIDE, object.as_bytes()).map_err(|error| self.sentence(SLIDE, &error))?;
        Ok(shown(&self.shown.join(SLIDE)))
    }

    /// Tables without rows.
    pub(super) fn tables(&self) -> Tables<'_> {
        Tables { keeper: self, files: None }
    }

    fn files_of(&self, name: &str) -> [String; 2] {
        KEPT.map(|format| format!("{name}{}", format.file_ending()))
    }

    fn shown_files(&self, name: &str) -> String {
        self.files_of(name).map(|file| shown(&self.shown.join(file))).join(", ")
    }

    fn sentence(&self, file: &str, error: &io::Error) -> String {
        let file = shown(&self.shown.join(file));
        format!("{file} cannot be written: {}; make room or name another folder", said(error))
    }
}

impl Tables<'_> {
    /// Adds the rows of a photo.
    ///
    /// # Errors
    /// A sentence, when they cannot be written.
    pub(super) fn add(&mut self, rows: &Rows) -> Result<(), String> {
        let keeper = self.keeper;
        let files = match &mut self.files {
            Some(files) => files,
            empty => empty.insert(begun(keeper)?),
        };
        for ((table, file), rows) in Table::ALL.into_iter().zip(files).zip(rows) {
            file.write_all(rows).map_err(|error| keeper.sentence(table.file(), &error))?;
        }
        Ok(())
    }

    /// Gives the tables their names, and says which; `None` when no photo was added.
    ///
    /// # Errors
    /// A sentence, when one cannot be written.
    pub(super) fn finish(self) -> Result<Option<String>, String> {
        let Some(files) = self.files else { return Ok(None) };
        let mut kept = Vec::new();
        for (table, file) in Table::ALL.into_iter().zip(files) {
            let finished = self.keeper.folder.finish(file, table.file());
            finished.map_err(|error| self.keeper.sentence(table.file(), &error))?;
            kept.push(shown(&self.keeper.shown.join(table.file())));
        }
        Ok(Some(kept.join(", ")))
    }
}

/// The tables with their headers, and their descriptions beside them.
fn begun(keeper: &Keeper) -> Result<[NamedTempFile; 3], String> {
    let measure = |key, unit| Measure { key, unit };
    let catalogue: Vec<Measure> = CATALOGUE.iter().map(|entry| measure(entry.key, entry.unit)).collect();
    let begin = |table: Table| {
        let described = table.description_file();
        let written = keeper.folder.write(&described, &table.description(&catalogue));
        written.map_err(|error| keeper.sentence(&described, &error))?;
        let begun = keeper.folder.begin().and_then(|mut file| file.write_all(&table.head(&catalogue)).map(|()| file));
        begun.map_err(|error| keeper.sentence(table.file(), &error))
    };
    let [shafts, profiles, centrelines] = Table::ALL.map(begin);
    Ok([shafts?, profiles?, centrelines?])
}
