//! One writer at a time: a lock file that the system frees when its holder ends, however it ends.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::{Duration, Instant};

use super::error::StoreError;

/// The lock file in the folder of a record.
pub(super) const LOCK: &str = "writer.lock";

/// How long between two tries: short enough that nobody notices, long enough to cost nothing.
const PAUSE: Duration = Duration::from_millis(20);

/// Held while something is written; freed when dropped.
#[derive(Debug)]
pub(super) struct WriterLock {
    _file: File,
}

impl WriterLock {
    /// Waits up to `patience` for the other writers, then refuses.
    ///
    /// # Errors
    /// When another program writes all that time, or the folder cannot be written.
    pub(super) fn take(folder: &Path, patience: Duration) -> Result<WriterLock, StoreError> {
        let path: PathBuf = folder.join(LOCK);
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&path)
            .map_err(|error| StoreError::io(folder, &error))?;
        let begun = Instant::now();
        loop {
            match file.try_lock() {
                Ok(()) => break,
                Err(TryLockError::WouldBlock) if begun.elapsed() < patience => sleep(PAUSE),
                Err(TryLockError::WouldBlock) => {
                    let mut number = String::new();
                    let _ = file.read_to_string(&mut number);
                    let number = number.trim();
                    let known = !number.is_empty() && number.bytes().all(|byte| byte.is_ascii_digit());
                    let holder = if known { format!(" (process {number})") } else { String::new() };
                    return Err(StoreError::Busy { folder: folder.to_owned(), holder });
                }
                Err(TryLockError::Error(error)) => return Err(StoreError::io(&path, &error)),
            }
        }
        // Who holds it is a courtesy; on a full disk it stays unsaid.
        let _ = file.set_len(0);
        let _ = file.seek(SeekFrom::Start(0));
        let _ = write!(file, "{}", std::process::id());
        Ok(WriterLock { _file: file })
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::WriterLock;

    #[test]
    fn the_second_writer_is_refused_and_told_whom_to_wait_for() {
        let place = tempfile::tempdir().unwrap();
        let first = WriterLock::take(place.path(), Duration::ZERO).unwrap();
        let refused = WriterLock::take(place.path(), Duration::from_millis(50)).unwrap_err();
        assert!(refused.is_busy());
        assert!(refused.to_string().contains(&format!("(process {})", std::process::id())), "{refused}");
        drop(first);
        WriterLock::take(place.path(), Duration::ZERO).unwrap();
    }
}
