//! What people answered in practice, in copies of a record: whole lines only, and never fewer than a copy had.

use std::fs;
use std::io::{ErrorKind, Write};
use std::path::Path;

use super::error::StoreError;
use super::place::LEARNERS;

/// The copy before it is whole.
pub(super) const UNFINISHED: &str = "learning.unfinished.jsonl";

/// The answers of the record in `folder`, to be copied to `to`; `None` where nobody has practised. A last line that a power
/// cut tore, or that is being written now, is left out.
///
/// # Errors
/// When they cannot be read, or `to` holds answers that are not here.
pub(super) fn to_copy(folder: &Path, to: &Path) -> Result<Option<Vec<u8>>, StoreError> {
    let here = whole_lines(&folder.join(LEARNERS))?;
    let there = whole_lines(&to.join(LEARNERS))?;
    // The file is only ever appended to, so that an earlier copy of it is its beginning.
    if there.as_ref().is_some_and(|there| !here.as_deref().unwrap_or_default().starts_with(there)) {
        return Err(StoreError::Unusable(format!(
            "{} holds learners' answers that this record has not, so it is a backup of another; name another folder",
            to.display()
        )));
    }
    Ok(here)
}

/// Writes the copy; returns how many lines it has.
///
/// # Errors
/// When the disk does not take it; an earlier copy is then as it was.
pub(super) fn copy(text: &[u8], to: &Path) -> Result<u64, StoreError> {
    let unfinished = to.join(UNFINISHED);
    let written = fs::File::create(&unfinished).and_then(|mut file| {
        file.write_all(text)?;
        file.sync_all()
    });
    written
        .and_then(|()| fs::rename(&unfinished, to.join(LEARNERS)))
        .map_err(|error| StoreError::io(&to.join(LEARNERS), &error))?;
    Ok(text.iter().filter(|byte| **byte == b'\n').count() as u64)
}

fn whole_lines(path: &Path) -> Result<Option<Vec<u8>>, StoreError> {
    match fs::read(path) {
        Ok(mut text) => {
            let whole = text.iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
            text.truncate(whole);
            Ok(Some(text))
        }
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
        Err(error) => Err(StoreError::io(path, &error)),
    }
}
