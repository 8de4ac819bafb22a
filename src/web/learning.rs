//! What the page for learners keeps: answers as lines of a file in the record's folder, and what was drawn or unpacked
//! already.

use std::collections::VecDeque;
use std::fs::{self, File, OpenOptions};
use std::io::{ErrorKind, Read, Seek, SeekFrom, Write};
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

use super::answer::Refusal;
use crate::finding::Model;
use crate::learn::{Atlas, Home, Item, ItemName, Marked, OwnPhoto, Prepared, Results, results_line};
use crate::store::{LEARNERS, Store};

/// How many practice photos are remembered; each is a few hundred kilobytes.
const REMEMBERED: usize = 12;

/// Largest file that is read: two hundred thousand photos answered.
const MOST_BYTES: u64 = 200_000_000;

/// Atlas, practice photos and the file of answers.
#[derive(Debug)]
pub(super) struct Learning {
    atlas: Atlas,
    prepared: Mutex<VecDeque<Arc<Prepared>>>,
    own: Mutex<VecDeque<Arc<OwnPhoto>>>,
    // Held while the file is appended to, so that lines do not mix.
    writing: Mutex<()>,
}

impl Learning {
    pub(super) fn new() -> Learning {
        Learning {
            atlas: Atlas::new(Home::Desk),
            prepared: Mutex::default(),
            own: Mutex::default(),
            writing: Mutex::default(),
        }
    }

    /// A file of the atlas with its media type.
    pub(super) fn atlas(&self, name: &str, model: &Model) -> Option<(&'static str, Vec<u8>)> {
        self.atlas.file(name, model)
    }

    /// A practice photo with what is true of it and what the program reads.
    pub(super) fn prepared(&self, name: ItemName, model: &Model) -> Result<Arc<Prepared>, Refusal> {
        let known =
            self.prepared.lock().unwrap_or_else(PoisonError::into_inner).iter().find(|p| p.item.name == name).cloned();
        if let Some(known) = known {
            return Ok(known);
        }
        let item =
            Item::drawn(name).ok_or_else(|| Refusal::unknown("there is no such practice photo; take the next one"))?;
        let made = Arc::new(Prepared::of(item, model));
        let mut all = self.prepared.lock().unwrap_or_else(PoisonError::into_inner);
        all.push_back(made.clone());
        if all.len() > REMEMBERED {
            all.pop_front();
        }
        Ok(made)
    }

    /// A photo of the house's own cases, as long as the record has it among those that can be practised on.
    pub(super) fn own(&self, store: &Store, number: u32) -> Result<Arc<OwnPhoto>, Refusal> {
        let found = store.confirmed()?.into_iter().find(|one| one.number == number);
        let one = found
            .ok_or_else(|| Refusal::unknown("this photo is no longer among those to practise on; take the next one"))?;
        let named: Vec<(&[[f64; 2]], &str)> =
            one.shafts.iter().map(|shaft| (shaft.line_px.as_slice(), shaft.look.as_str())).collect();
        let same = |own: &OwnPhoto| own.number == number && own.grew == one.grew && own.shafts.len() == named.len();
        let looks = |own: &OwnPhoto| own.shafts.iter().zip(&named).all(|(shaft, (_, look))| shaft.look.code() == *look);
        let mut all = self.own.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = all.iter().find(|own| same(own) && looks(own)) {
            return Ok(known.clone());
        }
        let made =
            OwnPhoto::of(number, &store.photo_bytes(&one.photo)?, one.grew, &named).map_err(Refusal::unusable)?;
        let made = Arc::new(made);
        all.retain(|own| own.number != number);
        all.push_back(made.clone());
        if all.len() > REMEMBERED {
            all.pop_front();
        }
        Ok(made)
    }

    /// Everybody's answers, oldest first, by name.
    pub(super) fn results(&self, record: &Path) -> Result<Vec<Results>, Refusal> {
        let path = record.join(LEARNERS);
        match fs::metadata(&path) {
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(unreadable(&path, &error.to_string())),
            Ok(found) if found.len() > MOST_BYTES => return Err(unreadable(&path, "it is too large")),
            Ok(_) => {}
        }
        let bytes = fs::read(&path).map_err(|error| unreadable(&path, &error.to_string()))?;
        // A line torn by a power cut may end within a letter.
        let text = String::from_utf8_lossy(&bytes);
        Results::of_lines(&text).map(|(all, _)| all).map_err(|error| unreadable(&path, &error.to_string()))
    }

    /// Keeps an answered photo; it is on the disk when this returns.
    pub(super) fn keep(&self, record: &Path, learner: &str, marked: &Marked) -> Result<(), Refusal> {
        let line = results_line(learner, marked).map_err(|error| Refusal::unusable(error.to_string()))?;
        let _alone = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        let path = record.join(LEARNERS);
        append(&path, &line).map_err(|error| {
            Refusal::broken(format!(
                "the answers cannot be kept in {}: {error}; make room and answer again",
                path.display()
            ))
        })
    }
}

/// Appends a line. A torn last line, as a power cut leaves it, is cut off first: it was never told to be kept.
fn append(path: &Path, line: &str) -> std::io::Result<()> {
    let mut file = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(path)?;
    let whole = whole_length(&mut file)?;
    file.set_len(whole)?;
    file.seek(SeekFrom::Start(whole))?;
    file.write_all(line.as_bytes())?;
    file.sync_all()
}

/// Bytes up to and with the last line's end.
fn whole_length(file: &mut File) -> std::io::Result<u64> {
    let length = file.metadata()?.len();
    // Lines are far shorter than this.
    let tail = length.min(1 << 20);
    file.seek(SeekFrom::Start(length - tail))?;
    let mut bytes = vec![0; tail as usize];
    file.read_exact(&mut bytes)?;
    Ok(bytes.iter().rposition(|byte| *byte == b'\n').map_or(length - tail, |at| length - tail + at as u64 + 1))
}

fn unreadable(path: &Path, said: &str) -> Refusal {
    Refusal::broken(format!(
        "the learners' answers in {} cannot be read: {said}; move that file away and keep it",
        path.display()
    ))
}

#[cfg(test)]
mod tests {
    use super::append;

    #[test]
    fn a_torn_line_does_not_spoil_the_next() {
        let place = tempfile::tempdir().unwrap();
        let path = place.path().join("lines");
        append(&path, "one\n").unwrap();
        std::fs::write(&path, "one\ntw").unwrap();
        append(&path, "three\n").unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "one\nthree\n");
    }
}
