//! Photos of a stage micrometer that were measured and wait for a pitch and a name: only what was measured of them is
//! remembered, not the photos.

use std::collections::VecDeque;
use std::sync::{Mutex, PoisonError};

use crate::scale::Rulings;

/// How many photos are remembered; a setup takes one or two.
const REMEMBERED: usize = 32;

/// One measured photo.
#[derive(Clone, Debug)]
pub(super) struct AtHand {
    /// How pages name it.
    pub(super) id: String,
    /// Name of its file.
    pub(super) file: String,
    /// What is ruled on it.
    pub(super) rulings: Rulings,
}

/// The photos measured last, the latest at the end.
#[derive(Debug, Default)]
pub(super) struct RulingsAtHand {
    known: Mutex<VecDeque<AtHand>>,
}

impl RulingsAtHand {
    /// Remembers what was measured; the id under which it is found again.
    pub(super) fn add(&self, file: String, rulings: Rulings) -> String {
        let id = uuid::Uuid::new_v4().to_string();
        let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if known.len() >= REMEMBERED {
            known.pop_front();
        }
        known.push_back(AtHand { id: id.clone(), file, rulings });
        id
    }

    /// The photos of these ids, in their order; `None` when one is not at hand any more.
    pub(super) fn of(&self, ids: &[String]) -> Option<Vec<AtHand>> {
        let known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        ids.iter().map(|id| known.iter().find(|one| one.id == *id).cloned()).collect()
    }
}
