//! The case record: every animal, exam, slide, photo, reading and culture, kept for good in one folder.
//!
//! A record is a folder with one SQLite database for the facts and one file a photo, named by its digest. Nothing is
//! overwritten: corrections and re-readings are added beside what they correct. See docs/record-format.md.
//!
//! [`Store::open`] gives a [`Store`]; ask it with [`Store::animals`], [`Store::case`], [`Store::due`], add to it with
//! [`Store::add_animal`] and its sisters. A [`Store`] may be sent to another thread but not shared: open one a thread,
//! it costs a millisecond. Writers queue for each single write, so that a page and a command may have one record open.
//!
//! Weakness: the database's log needs shared memory, so that a record on a network drive must be used from one
//! computer at a time (sqlite.org, "Write-Ahead Logging", section 1).

mod add;
mod answers;
mod ask;
mod backup;
mod case;
mod check;
mod coincidence;
mod confirmed;
mod course;
mod database;
mod due;
mod due_says;
mod error;
mod facts;
mod find;
mod kept;
mod learners;
mod lock;
mod models;
mod pack;
mod photos;
mod place;
mod rules;
mod shafts;

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use database::{Database, Mode};
use lock::WriterLock;
use photos::Photos;

pub use answers::{APART_DAYS, Answered, Outcome, Unclear, answered};
pub use ask::{AnimalLine, Found, Page};
pub use backup::BackupReport;
pub use case::Case;
pub use check::{CheckReport, Fault, check};
pub use coincidence::{Coincidence, Suggestion};
pub use confirmed::{Confirmed, NamedShaft};
pub use course::{Course, CoursePoint, Happening, Share};
pub use due::{Due, DueKind};
pub use due_says::{CultureSaid, DueSays};
pub use error::StoreError;
pub use facts::{
    AgeClass, Animal, Answer, BODY_MAP, Change, CoatLength, Contact, Correction, Culture, Day, End, Evenness, Exam,
    Fact, Growth, Identifier, Kind, LampKind, Light, MAX_TEXT_BYTES, Neuter, Note, Photo, PlateReading, Program,
    Reading, Sex, ShaftRead, Site, SitePlace, SiteSeen, Slide, Treatment, TreatmentKind,
};
pub use kept::{Kept, Stamp, Told, short};
pub use models::{About, OwnModel, OwnModels};
pub use pack::{Packed, Unpacked};
pub use photos::digest;
pub use place::{DESK_KEY, DESK_QUEUE, LEARNERS, RECORD_VARIABLE, record_folder};
pub use rules::{Rule, Rules};
pub use shafts::ShaftSeen;

use add::words_of;

/// How long a writer waits for others before it gives up, unless told otherwise.
const PATIENCE: Duration = Duration::from_secs(10);

/// An open record.
#[derive(Debug)]
pub struct Store {
    folder: PathBuf,
    database: Database,
    photos: Photos,
    patience: Duration,
}

impl Store {
    /// Opens the record in a folder; an older one is brought to the newest form. On a medium that cannot be written
    /// the record opens all the same, and refuses what would be added.
    ///
    /// # Errors
    /// When there is none, it is damaged, of a newer version, or cannot be read.
    pub fn open(folder: &Path) -> Result<Store, StoreError> {
        let path = folder.join(place::DATABASE);
        if !path.is_file() {
            return Err(StoreError::NoRecord(folder.to_owned()));
        }
        let database = match Database::open(&path, Mode::Write) {
            Err(StoreError::ReadOnly(_)) => Database::open(&path, Mode::Read)?,
            opened => opened?,
        };
        Store::with(folder, database)
    }

    /// The same; begins an empty record where there is none.
    ///
    /// # Errors
    /// As [`Store::open`], or when the folder cannot be made.
    pub fn open_or_create(folder: &Path) -> Result<Store, StoreError> {
        match Store::open(folder) {
            Err(StoreError::NoRecord(_)) => (),
            opened => return opened,
        }
        let path = folder.join(place::DATABASE);
        fs::create_dir_all(folder).map_err(|error| StoreError::io(folder, &error))?;
        // Two programs may begin the same record at once.
        let lock = WriterLock::take(folder, PATIENCE)?;
        let mut database = Database::open(&path, Mode::Create)?;
        database.migrate()?;
        photos::sync_folder(folder).map_err(|error| StoreError::io(folder, &error))?;
        drop(lock);
        Store::with(folder, database)
    }

    fn with(folder: &Path, mut database: Database) -> Result<Store, StoreError> {
        if database.version()? < database::NEWEST {
            if database.is_read_only() {
                return Err(StoreError::ReadOnly(folder.to_owned()));
            }
            let _lock = WriterLock::take(folder, PATIENCE)?;
            database.migrate()?;
        }
        let photos = Photos::new(place::photos_folder(folder));
        Ok(Store { folder: folder.to_owned(), database, photos, patience: PATIENCE })
    }

    /// How long writes wait for other programs before they give up; 10 seconds unless set.
    pub fn set_patience(&mut self, patience: Duration) {
        self.patience = patience;
    }

    /// The folder of the record.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The folder of the photos.
    pub fn photos_folder(&self) -> &Path {
        self.photos.folder()
    }

    /// Whether the record can only be read.
    pub fn is_read_only(&self) -> bool {
        self.database.is_read_only()
    }

    /// The lock that every write takes.
    fn lock(&self) -> Result<WriterLock, StoreError> {
        if self.database.is_read_only() {
            return Err(StoreError::ReadOnly(self.folder.clone()));
        }
        WriterLock::take(&self.folder, self.patience)
    }
}
