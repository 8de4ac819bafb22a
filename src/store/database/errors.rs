//! What the database says, as a sentence that says what to do.

use std::path::Path;

use rusqlite::{Error, ErrorCode};

use crate::store::error::StoreError;

/// The sentence for an error of the database in `path`.
pub(super) fn sentence(path: &Path, error: &Error) -> StoreError {
    let folder = || path.parent().unwrap_or(Path::new("")).to_owned();
    let said = || match error {
        Error::SqliteFailure(_, Some(said)) => said.clone(),
        other => other.to_string(),
    };
    match error.sqlite_error_code() {
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            StoreError::Busy { folder: folder(), holder: String::new() }
        }
        Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied | ErrorCode::CannotOpen) => {
            StoreError::ReadOnly(folder())
        }
        Some(ErrorCode::DiskFull) => StoreError::Full(folder()),
        Some(ErrorCode::SystemIoFailure) => {
            StoreError::Io { path: path.to_owned(), said: format!("the disk refused ({}); make room", said()) }
        }
        Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => {
            StoreError::Damaged { path: path.to_owned(), said: said() }
        }
        _ => StoreError::Database { path: path.to_owned(), said: said() },
    }
}
