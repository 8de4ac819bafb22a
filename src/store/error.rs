//! Why the record cannot do what it was asked: one sentence each, with what to do about it.

use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

/// Why the record cannot do what it was asked. Each sentence starts small and ends without a stop; nothing was
/// changed in the record when one is given.
#[derive(Debug, Error)]
pub enum StoreError {
    /// Nowhere to keep a record by default.
    #[error("this computer names no folder for programs' data; say with --record DIR where the record is to lie")]
    NoPlace,
    /// There is no record where one is to be read.
    #[error("there is no record in {0}; check --record, or begin one with `pilumen case animal NAME --by YOU`")]
    NoRecord(PathBuf),
    /// The folder was made by a later version.
    #[error(
        "the record in {folder} was written by a newer version of this program (form {found}, known here up to \
         {known}); install that version, nothing was changed"
    )]
    Newer {
        /// Folder of the record.
        folder: PathBuf,
        /// Version of its form.
        found: i64,
        /// The newest known here.
        known: i64,
    },
    /// A database that is not a record.
    #[error("{0} is no record of this program; name another folder with --record")]
    Foreign(PathBuf),
    /// Another program holds the record.
    #[error("another program{holder} is writing to the record in {folder}; wait until it is done and try again")]
    Busy {
        /// Folder of the record.
        folder: PathBuf,
        /// Which, where known, with a blank in front.
        holder: String,
    },
    /// The folder may not be written.
    #[error(
        "{0} cannot be written: it is read-only or belongs to someone else; change its permissions, or copy the record to a folder of your own"
    )]
    ReadOnly(PathBuf),
    /// No room is left.
    #[error("there is no room left in {0}; make room and repeat the command, nothing of it was kept")]
    Full(PathBuf),
    /// The database's pages do not fit together.
    #[error(
        "the database {path} is damaged ({said}); run `pilumen check` to see what is still whole, then go back to \
         the newest backup"
    )]
    Damaged {
        /// The database file.
        path: PathBuf,
        /// What the database said.
        said: String,
    },
    /// One fact does not have the digest that was kept with it.
    #[error("{kind} {id} in the record is damaged ({what}); run `pilumen check`, then go back to the newest backup")]
    DamagedFact {
        /// Its kind.
        kind: String,
        /// Its id.
        id: String,
        /// What is wrong.
        what: String,
    },
    /// A photo is gone or changed.
    #[error("the photo {sha256} is {what}; run `pilumen check`, then copy it back from a backup or the camera")]
    DamagedPhoto {
        /// Its digest, 64 hexadecimal digits.
        sha256: String,
        /// Missing or damaged.
        what: &'static str,
    },
    /// A name or id that leads nowhere.
    #[error(
        "there is no {what} \"{reference}\" in the record; `pilumen case list` and `pilumen case search` show what there is"
    )]
    Unknown {
        /// What was looked for.
        what: String,
        /// As it was named.
        reference: String,
    },
    /// A name or id that fits several.
    #[error("\"{reference}\" fits several: {fits}; give more of the id")]
    Ambiguous {
        /// As it was named.
        reference: String,
        /// What it fits.
        fits: String,
    },
    /// A fact that cannot be so.
    #[error("{0}")]
    Unusable(String),
    /// A photo that is there already.
    #[error("this photo ({file}) is already in the record: {place}; nothing was added")]
    SamePhoto {
        /// The file as it was named now.
        file: String,
        /// Where it is kept.
        place: String,
    },
    /// A pack that cannot be trusted.
    #[error("{file} is no pack that can be taken in: {why}; ask for it again, nothing was changed")]
    BadPack {
        /// The file.
        file: PathBuf,
        /// Why.
        why: String,
    },
    /// A pack that contradicts the record.
    #[error("{file} contradicts this record, so nothing of it was taken in: {}", .conflicts.join("; "))]
    Conflict {
        /// The file.
        file: PathBuf,
        /// Each contradiction, a sentence.
        conflicts: Vec<String>,
    },
    /// A file could not be read or written for another reason.
    #[error("{path}: {said}; check the disk and the folder's permissions")]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        said: String,
    },
    /// The database could not do it for another reason.
    #[error("the database {path} could not do this: {said}; try again, then run `pilumen check`")]
    Database {
        /// The database file.
        path: PathBuf,
        /// What the database said.
        said: String,
    },
}

impl StoreError {
    /// The sentence for a system's error on a file.
    pub(super) fn io(path: &Path, error: &io::Error) -> StoreError {
        use io::ErrorKind as Kind;
        match error.kind() {
            Kind::PermissionDenied | Kind::ReadOnlyFilesystem => StoreError::ReadOnly(path.to_owned()),
            Kind::StorageFull | Kind::QuotaExceeded | Kind::FileTooLarge => StoreError::Full(path.to_owned()),
            _ => {
                let text = error.to_string();
                let said = text.split(" (os error").next().unwrap_or_default().to_lowercase();
                StoreError::Io { path: path.to_owned(), said }
            }
        }
    }

    /// Whether trying again later may help: another program is at work.
    pub fn is_busy(&self) -> bool {
        matches!(self, StoreError::Busy { .. })
    }
}

#[cfg(test)]
mod tests {
    use std::io;
    use std::path::Path;

    use super::StoreError;

    #[test]
    fn the_system_s_words_become_what_to_do() {
        let sentence = |raw: i32| StoreError::io(Path::new("photos"), &io::Error::from_raw_os_error(raw)).to_string();
        // Numbers of Linux: ENOSPC 28, EACCES 13, EROFS 30, EFBIG 27, EIO 5.
        assert!(sentence(28).contains("make room"));
        assert!(sentence(27).contains("make room"));
        assert!(sentence(13).contains("permissions"));
        assert!(sentence(30).contains("read-only"));
        assert!(!sentence(5).contains("os error"));
    }
}
