//! Photos that wait to be read: kept in the record's folder, so that neither a closed browser nor a restart loses one.
//!
//! A photo is in the record before it is in the queue. A reader takes the oldest one that waits; what was being read
//! when the program ended waits again. A reading that has begun cannot be stopped, but what is cancelled meanwhile is
//! not kept.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

use serde::{Deserialize, Serialize};
use tokio::sync::broadcast;

use super::answer::with_help;
use super::desk::Desk;
use super::scaling::Scaling;
use super::spanish;
use crate::exports::{Format, from_record};
use crate::pipeline::{self, Want};
use crate::store::{DESK_QUEUE, Stamp};

/// Finished ones that are still listed; older ones are forgotten, their photos and readings are in the record.
const FINISHED_LISTED: usize = 60;

/// Messages that a slow page may lie behind before it misses some; it then asks for the whole queue.
const BACKLOG: usize = 256;

/// One photo in the queue.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct Job {
    /// Id of the photo in the record.
    pub(super) photo: String,
    /// Name of its file.
    pub(super) file: String,
    /// Id of its slide.
    pub(super) slide: String,
    /// Who asked.
    pub(super) by: String,
    /// Micrometres per pixel, where given.
    pub(super) um_per_px: Option<f64>,
    /// The setup it was taken with, where one was chosen, as it is written in the file of setups: it may be removed
    /// there while the photo waits.
    #[serde(default)]
    pub(super) setup: Option<String>,
    /// How far it is.
    pub(super) state: State,
    /// Why it failed; absent otherwise.
    pub(super) sentence: Option<String>,
    /// The same in Spanish, where it has words there.
    #[serde(default)]
    pub(super) spanish: Option<String>,
}

/// How far a photo in the queue is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum State {
    /// Others are before it.
    Waiting,
    /// It is being read.
    Reading,
    /// It was read, and the reading kept.
    Done,
    /// It could not be read.
    Failed,
    /// A person did not want it read.
    Cancelled,
}

impl State {
    fn is_finished(self) -> bool {
        matches!(self, State::Done | State::Failed | State::Cancelled)
    }
}

/// The queue.
#[derive(Debug)]
pub(super) struct Queue {
    path: PathBuf,
    kept: Mutex<Kept>,
    wake: Condvar,
    news: broadcast::Sender<Job>,
}

#[derive(Debug, Default)]
struct Kept {
    jobs: Vec<Job>,
    closed: bool,
}

impl Queue {
    /// The queue of a record; what was being read waits again. A queue that cannot be understood is begun anew: its
    /// photos are in the record and can be asked for again.
    pub(super) fn open(record: &Path) -> Queue {
        let path = record.join(DESK_QUEUE);
        let text = fs::read_to_string(&path).unwrap_or_default();
        let mut jobs: Vec<Job> = serde_json::from_str(&text).unwrap_or_default();
        for job in jobs.iter_mut().filter(|job| job.state == State::Reading) {
            job.state = State::Waiting;
        }
        let (news, _) = broadcast::channel(BACKLOG);
        Queue { path, kept: Mutex::new(Kept { jobs, closed: false }), wake: Condvar::new(), news }
    }

    /// All that wait or are being read, and those finished last, oldest first.
    pub(super) fn jobs(&self) -> Vec<Job> {
        self.lock().jobs.clone()
    }

    /// What happens from now on.
    pub(super) fn news(&self) -> broadcast::Receiver<Job> {
        self.news.subscribe()
    }

    /// Puts a photo at the end; once only.
    pub(super) fn add(&self, job: Job) {
        let mut kept = self.lock();
        kept.jobs.retain(|known| known.photo != job.photo || !known.state.is_finished());
        if kept.jobs.iter().all(|known| known.photo != job.photo) {
            kept.jobs.push(job.clone());
            self.keep(&mut kept);
            self.tell(job);
            self.wake.notify_one();
        }
    }

    /// Takes a photo out; whether it was waiting or being read.
    pub(super) fn cancel(&self, photo: &str) -> bool {
        self.set(photo, State::Cancelled, None, |state| !state.is_finished())
    }

    /// Wakes the readers so that they end.
    pub(super) fn close(&self) {
        self.lock().closed = true;
        self.wake.notify_all();
    }

    /// The next photo to read; waits for one. `None` once the queue is closed.
    fn next(&self) -> Option<Job> {
        let mut kept = self.lock();
        loop {
            if kept.closed {
                return None;
            }
            if let Some(job) = kept.jobs.iter_mut().find(|job| job.state == State::Waiting) {
                job.state = State::Reading;
                let job = job.clone();
                self.keep(&mut kept);
                self.tell(job.clone());
                return Some(job);
            }
            kept = self.wake.wait(kept).unwrap_or_else(PoisonError::into_inner);
        }
    }

    fn is_being_read(&self, photo: &str) -> bool {
        self.lock().jobs.iter().any(|job| job.photo == photo && job.state == State::Reading)
    }

    fn set(&self, photo: &str, state: State, sentence: Option<String>, from: impl Fn(State) -> bool) -> bool {
        let mut kept = self.lock();
        let Some(job) = kept.jobs.iter_mut().find(|job| job.photo == photo && from(job.state)) else { return false };
        job.state = state;
        job.spanish = sentence.as_deref().and_then(spanish::refused);
        job.sentence = sentence;
        let job = job.clone();
        self.keep(&mut kept);
        self.tell(job);
        true
    }

    /// Forgets what finished long ago and writes the rest down, whole or not at all.
    fn keep(&self, kept: &mut Kept) {
        let n_finished = kept.jobs.iter().filter(|job| job.state.is_finished()).count();
        let mut too_many = n_finished.saturating_sub(FINISHED_LISTED);
        kept.jobs.retain(|job| {
            let forget = job.state.is_finished() && too_many > 0;
            too_many -= usize::from(forget);
            !forget
        });
        let folder = self.path.parent().unwrap_or(Path::new("."));
        let write = || -> std::io::Result<()> {
            let mut file = tempfile::NamedTempFile::new_in(folder)?;
            file.write_all(&serde_json::to_vec(&kept.jobs)?)?;
            file.as_file().sync_data()?;
            file.persist(&self.path).map_err(|error| error.error)?;
            Ok(())
        };
        // A full disk must not stop the readers; the photos themselves are in the record already.
        let _ = write();
    }

    fn tell(&self, job: Job) {
        // Nobody may be listening.
        let _ = self.news.send(job);
    }

    fn lock(&self) -> MutexGuard<'_, Kept> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Reads photos until the desk is closed.
pub(super) fn work(desk: &Desk) {
    let queue = desk.queue();
    while let Some(job) = queue.next() {
        let read = catch_unwind(AssertUnwindSafe(|| read(desk, &job)));
        let broke = || Err("the program broke down on this photo; please report it".to_owned());
        let (state, sentence) = match read.unwrap_or_else(|_| broke()) {
            Ok(()) => (State::Done, None),
            Err(sentence) => (State::Failed, Some(sentence)),
        };
        queue.set(&job.photo, state, sentence, |state| state == State::Reading);
    }
}

/// Reads one photo and keeps the reading.
fn read(desk: &Desk, job: &Job) -> Result<(), String> {
    let sentence = |error: crate::store::StoreError| error.to_string();
    let mut store = desk.store().map_err(sentence)?;
    let bytes = store.photo_bytes(&job.photo).map_err(sentence)?;
    let settings = desk.settings(&Scaling::of_job(job)).map_err(|refusal| refusal.sentence)?;
    let read = pipeline::read(&job.file, &bytes, &settings, desk.model(), Want::Numbers);
    let read = read.map_err(|error| with_help(&error, error.help()))?;
    if !desk.queue().is_being_read(&job.photo) {
        return Ok(());
    }
    let evaluation = String::from_utf8_lossy(&from_record(&read.entry, None, Format::Json)).into_owned();
    store.add_reading(&job.photo, &evaluation, &Stamp::now(&job.by)).map_err(sentence)?;
    Ok(())
}

/// Jobs by the photo they are of.
pub(super) fn by_photo(jobs: Vec<Job>) -> BTreeMap<String, Job> {
    jobs.into_iter().map(|job| (job.photo.clone(), job)).collect()
}

#[cfg(test)]
mod tests {
    use super::{FINISHED_LISTED, Job, Queue, State};

    fn job(photo: &str) -> Job {
        let text = str::to_owned;
        Job {
            photo: text(photo),
            file: text("x.jpg"),
            slide: text("s"),
            by: text("y"),
            um_per_px: None,
            setup: None,
            state: State::Waiting,
            sentence: None,
            spanish: None,
        }
    }

    #[test]
    fn what_was_being_read_waits_again_after_a_restart() {
        let place = tempfile::tempdir().unwrap();
        let queue = Queue::open(place.path());
        queue.add(job("one"));
        queue.add(job("two"));
        queue.add(job("two"));
        assert_eq!(queue.next().unwrap().photo, "one");
        drop(queue);
        let queue = Queue::open(place.path());
        assert_eq!(queue.jobs().len(), 2);
        assert!(queue.jobs().iter().all(|job| job.state == State::Waiting));
        assert_eq!(queue.next().unwrap().photo, "one", "in the order they came");
        assert!(queue.cancel("two") && !queue.cancel("two") && !queue.cancel("three"));
        queue.close();
        assert!(queue.next().is_none());
    }

    #[test]
    fn finished_ones_are_forgotten_and_waiting_ones_are_not() {
        let place = tempfile::tempdir().unwrap();
        let queue = Queue::open(place.path());
        queue.add(job("first"));
        for i in 0..FINISHED_LISTED + 5 {
            queue.add(job(&i.to_string()));
            queue.cancel(&i.to_string());
        }
        let jobs = queue.jobs();
        assert_eq!(jobs.len(), FINISHED_LISTED + 1);
        assert_eq!(jobs[0].photo, "first");
        std::fs::write(place.path().join("desk.queue.json"), "[{").unwrap();
        assert!(Queue::open(place.path()).jobs().is_empty(), "a damaged queue is begun anew");
    }
}
