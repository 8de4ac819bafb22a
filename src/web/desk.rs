//! An open desk: the record it works on, the model it judges by, its key, its queue and its memory.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use tokio::sync::Semaphore;

use super::answer::Refusal;
use super::guard::Names;
use super::learning::Learning;
use super::queue::Queue;
use super::rulings::RulingsAtHand;
use super::scaling::Scaling;
use super::standing::Standing;
use crate::finding::Model;
use crate::settings::{self, Settings};
use crate::setups::{SetupsError, SetupsFile};
use crate::store::{DESK_KEY, Stamp, Store, StoreError, digest};

/// Bytes of a key's digest that are shown in the link, hexadecimal digits: 128 bits.
const KEY_DIGITS: usize = 32;

/// What a desk is opened with.
#[derive(Clone, Debug)]
pub struct Asked {
    /// Folder of the record; begun where there is none.
    pub record: PathBuf,
    /// The file of setups; absent: the one in the folder of a user's data.
    pub setups: Option<PathBuf>,
    /// Who tells things unless a page says otherwise; may be empty.
    pub by: String,
    /// Largest photo, millions of pixels; absent: the program's default.
    pub max_megapixels: Option<f64>,
    /// How the model compared with the one before, Markdown, where it was grown with the record's own confirmed cases.
    pub own_model: Option<String>,
    /// Largest file that is taken, bytes.
    pub max_bytes: usize,
    /// How many photos are read at once.
    pub n_readers: usize,
}

/// An open desk; a clone is the same desk.
#[derive(Clone, Debug)]
pub struct Desk {
    inner: Arc<Inner>,
    names: Arc<Names>,
}

#[derive(Debug)]
struct Inner {
    asked: Asked,
    model: Model,
    key: String,
    queue: Queue,
    standing: Standing,
    learning: Learning,
    rulings: RulingsAtHand,
    /// Photos that may be unpacked at once to be checked or shown, beside those that the readers read.
    unpacking: Semaphore,
}

impl Desk {
    /// Opens the desk on a record, begins to read what waits there.
    ///
    /// # Errors
    /// When the record cannot be opened or begun.
    pub fn open(asked: Asked, model: Model, names: Names) -> Result<Desk, StoreError> {
        drop(Store::open_or_create(&asked.record)?);
        let key = key(&asked.record)?;
        let queue = Queue::open(&asked.record);
        let unpacking = Semaphore::new(asked.n_readers.max(1));
        let inner = Inner {
            model,
            key,
            queue,
            standing: Standing::default(),
            learning: Learning::new(),
            rulings: RulingsAtHand::default(),
            unpacking,
            asked,
        };
        let desk = Desk { inner: Arc::new(inner), names: Arc::new(names) };
        for _ in 0..desk.inner.asked.n_readers {
            let desk = desk.clone();
            std::thread::spawn(move || super::queue::work(&desk));
        }
        Ok(desk)
    }

    /// The key that lets a browser in; whoever knows it may do everything.
    pub fn key(&self) -> &str {
        &self.inner.key
    }

    /// The token that a page sends with whatever changes something.
    pub fn token(&self) -> String {
        digest(format!("token of {}", self.inner.key).as_bytes())
    }

    /// Lets the readers end after what they are reading.
    pub fn close(&self) {
        self.inner.queue.close();
    }

    pub(super) fn is_key(&self, given: &str) -> bool {
        // Digests are compared, so that the time it takes tells nothing of the key.
        digest(given.as_bytes()) == digest(self.inner.key.as_bytes())
    }

    pub(super) fn is_token(&self, given: &str) -> bool {
        digest(given.as_bytes()) == digest(self.token().as_bytes())
    }

    pub(super) fn names(&self) -> &Names {
        &self.names
    }

    pub(super) fn asked(&self) -> &Asked {
        &self.inner.asked
    }

    pub(super) fn model(&self) -> &Model {
        &self.inner.model
    }

    pub(super) fn queue(&self) -> &Queue {
        &self.inner.queue
    }

    pub(super) fn learning(&self) -> &Learning {
        &self.inner.learning
    }

    pub(super) fn standing(&self) -> &Standing {
        &self.inner.standing
    }

    /// Photos of a micrometer that were measured and wait for a name.
    pub(super) fn rulings(&self) -> &RulingsAtHand {
        &self.inner.rulings
    }

    /// The file of setups.
    pub(super) fn setups(&self) -> Result<SetupsFile, SetupsError> {
        SetupsFile::at(self.inner.asked.setups.clone())
    }

    /// The record. It is opened anew each time, a millisecond, for a store cannot be shared by threads.
    pub(super) fn store(&self) -> Result<Store, StoreError> {
        Store::open_or_create(&self.inner.asked.record)
    }

    /// What photos are read with.
    pub(super) fn settings(&self, scaling: &Scaling) -> Result<Settings, Refusal> {
        let asked = settings::Asked {
            um_per_px: scaling.given(),
            setup: scaling.setup().cloned(),
            max_megapixels: self.inner.asked.max_megapixels,
        };
        Settings::check(asked).map_err(|error| Refusal::unusable(error.to_string()))
    }

    /// Who and when; `named` is what the page says.
    pub(super) fn stamp(&self, named: Option<&str>) -> Stamp {
        Stamp::now(named.map(str::trim).filter(|name| !name.is_empty()).unwrap_or(&self.inner.asked.by))
    }

    /// Does something with a photo's pixels, beside the threads that answer. So many photos at once as there are
    /// readers; the others wait, so that fifty photos that come together take the memory of a few.
    pub(super) async fn unpacking<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Desk) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let desk = self.clone();
        let done = tokio::spawn(async move {
            // The permit stays with the work: who asked may be gone before it is done. It is never closed.
            let _turn = desk.inner.unpacking.acquire().await;
            desk.apart(work).await
        });
        done.await.unwrap_or_else(|_| Err(failed()))
    }

    /// Does something that waits for the disk or computes, beside the threads that answer.
    pub(super) async fn apart<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Desk) -> Result<T, Refusal> + Send + 'static,
    ) -> Result<T, Refusal> {
        let desk = self.clone();
        let done = tokio::task::spawn_blocking(move || work(&desk)).await;
        done.unwrap_or_else(|_| Err(failed()))
    }
}

fn failed() -> Refusal {
    Refusal::broken("the desk failed at this; try again, and report it if it stays")
}

/// The key of a record's desk; made where there is none. It is kept so that browsers that were let in stay in after a
/// restart.
fn key(record: &Path) -> Result<String, StoreError> {
    let path = record.join(DESK_KEY);
    let known = fs::read_to_string(&path).unwrap_or_default();
    let is_key = |text: &str| text.len() == KEY_DIGITS && text.bytes().all(|byte| byte.is_ascii_hexdigit());
    if is_key(known.trim()) {
        return Ok(known.trim().to_owned());
    }
    // Version 4 UUIDs are random; two hold more than the digits that are kept.
    let random = format!("{}{}", uuid::Uuid::new_v4(), uuid::Uuid::new_v4());
    let key = digest(random.as_bytes())[..KEY_DIGITS].to_owned();
    let failed = |error: std::io::Error| StoreError::Io { path: path.clone(), said: error.to_string() };
    let mut file = tempfile::NamedTempFile::new_in(record).map_err(failed)?;
    file.write_all(key.as_bytes()).map_err(failed)?;
    file.persist(&path).map_err(|error| failed(error.error))?;
    Ok(key)
}
