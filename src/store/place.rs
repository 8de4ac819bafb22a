//! Where a record lies, and what lies in it.

use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;

use super::error::StoreError;

/// The database in the folder of a record.
pub(super) const DATABASE: &str = "record.db";

/// The folder of photos beside it, unless [`LOCATION`] names another.
pub(super) const PHOTOS: &str = "photos";

/// The file beside them with what people answered in practice; a line a photo, only ever appended to.
pub const LEARNERS: &str = "learning.jsonl";

/// A text file with the path of the folder of photos, where that lies elsewhere; a path that is not absolute starts
/// at the folder of the record.
pub(super) const LOCATION: &str = "photos.location";

/// The file that holds the key of a desk on the record.
pub const DESK_KEY: &str = "desk.key";

/// The file that holds the queue of a desk on the record.
pub const DESK_QUEUE: &str = "desk.queue.json";

/// The files that SQLite keeps beside the database while somebody has it open.
pub(super) const IN_USE: [&str; 2] = ["record.db-wal", "record.db-shm"];

/// Names the folder when no argument does.
pub const RECORD_VARIABLE: &str = "PILUMEN_RECORD";

/// The folder of the record: what was asked for, else what PILUMEN_RECORD names, else a folder of the platform's for
/// programs' data.
///
/// # Errors
/// When nothing names one.
pub fn record_folder(asked: Option<&Path>) -> Result<PathBuf, StoreError> {
    if let Some(asked) = asked {
        return Ok(asked.to_owned());
    }
    if let Some(named) = std::env::var_os(RECORD_VARIABLE).filter(|named| !named.is_empty()) {
        return Ok(PathBuf::from(named));
    }
    let strategy = etcetera::base_strategy::choose_native_strategy().map_err(|_| StoreError::NoPlace)?;
    Ok(strategy.data_dir().join("pilumen").join("record"))
}

/// The folder of photos of the record in `folder`.
pub(super) fn photos_folder(folder: &Path) -> PathBuf {
    let location = std::fs::read_to_string(folder.join(LOCATION)).unwrap_or_default();
    match location.trim() {
        "" => folder.join(PHOTOS),
        path => folder.join(path),
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::{LOCATION, photos_folder, record_folder};

    #[test]
    fn what_is_asked_for_goes_first() {
        assert_eq!(record_folder(Some(Path::new("here"))).unwrap(), Path::new("here"));
    }

    #[test]
    fn photos_may_lie_elsewhere() {
        let place = tempfile::tempdir().unwrap();
        assert_eq!(photos_folder(place.path()), place.path().join("photos"));
        std::fs::write(place.path().join(LOCATION), "/other/disk\n").unwrap();
        assert_eq!(photos_folder(place.path()), Path::new("/other/disk"));
    }
}
