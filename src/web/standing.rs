//! Readings as they stand: what was read, or what it comes to with what people said against it; the latest ones are
//! remembered, for a page asks for them again and again.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

use serde_json::Value;

use super::answer::Refusal;
use super::desk::Desk;
use super::scaling::Scaling;
use crate::corrected::{self, Corrected};
use crate::store::{Kept, Reading, Store, Told};

/// How many readings are remembered; each is a few hundred kilobytes.
const REMEMBERED: usize = 8;

/// Readings that were corrected, the latest last.
#[derive(Debug, Default)]
pub(super) struct Standing {
    known: Mutex<VecDeque<(String, Arc<Corrected>)>>,
}

impl Standing {
    /// A photo read again with corrections. `name` and their number and last id tell the reading from others.
    pub(super) fn corrected(
        &self,
        desk: &Desk,
        name: &str,
        bytes: &[u8],
        evaluation: &Value,
        corrections: &[Told],
    ) -> Result<Arc<Corrected>, Refusal> {
        let key = format!("{name} {} {}", corrections.len(), corrections.last().map_or("", |last| last.id.as_str()));
        let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, corrected)) = known.iter().find(|(at, _)| !name.is_empty() && *at == key) {
            return Ok(corrected.clone());
        }
        let settings = desk.settings(&Scaling::of_evaluation(desk, evaluation))?;
        let read = corrected::read(bytes, &settings, desk.model(), evaluation, corrections)?;
        let read = Arc::new(read);
        if known.len() >= REMEMBERED {
            known.pop_front();
        }
        known.push_back((key, read.clone()));
        Ok(read)
    }
}

/// Those corrections of a reading that change what is measured.
pub(super) fn of_shafts(reading: &Kept<Reading>) -> Vec<Told> {
    reading.corrections.iter().filter(|told| told.change.is_about_shafts()).cloned().collect()
}

/// A reading as it stands; `None` when nothing was said against it.
pub(super) fn of_reading(
    desk: &Desk,
    store: &Store,
    reading: &Kept<Reading>,
) -> Result<Option<Arc<Corrected>>, Refusal> {
    let said = of_shafts(reading);
    if said.is_empty() {
        return Ok(None);
    }
    let photo = reading.parent.as_deref().unwrap_or_default();
    let evaluation = store.evaluation(&reading.id)?;
    let bytes = store.photo_bytes(photo)?;
    desk.standing().corrected(desk, &reading.id, &bytes, &evaluation, &said).map(Some)
}
