//! What a pack says against the record it is unpacked into: shown, never merged in silence.

use std::collections::BTreeSet;

use serde_json::Value;

use crate::store::Store;
use crate::store::ask::Page;
use crate::store::database::Row;
use crate::store::error::StoreError;
use crate::store::facts::{Animal, Change, Correction, Kind};
use crate::store::kept::{parsed, short};

/// What a pack says against a record.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Conflicts {
    /// Both cannot be: never taken in.
    pub(super) hard: Vec<String>,
    /// Both can stand side by side, once a person has said so.
    pub(super) soft: Vec<String>,
}

impl Store {
    /// What `rows` say against this record; `new` are those of them that are not in it yet.
    pub(super) fn conflicts(&self, rows: &[Row], new: &[&Row]) -> Result<Conflicts, StoreError> {
        let mut conflicts = Conflicts::default();
        let packed: BTreeSet<&str> = rows.iter().map(|row| row.id.as_str()).collect();
        for row in rows {
            let name = format!("{} {}", row.kind, short(&row.id));
            if let Some(there) = self.database.fact(&row.id)? {
                if there.digest != row.digest {
                    conflicts.hard.push(format!("{name} says something else here than in the pack"));
                }
                continue;
            }
            if let Some(sha256) = &row.sha256
                && let Some(there) = self.database.photo(sha256)?
            {
                let place = self.place_of(&there)?;
                conflicts.hard.push(format!("the bytes of {name} are kept here as {place} already"));
            }
        }
        for row in new {
            match row.kind {
                Kind::Animal => conflicts.soft.extend(self.same_identifier(row)?),
                Kind::Correction => conflicts.soft.extend(self.other_word(row, &packed)?),
                _ => (),
            }
        }
        Ok(conflicts)
    }

    /// Another animal here that goes by the same number.
    fn same_identifier(&self, row: &Row) -> Result<Vec<String>, StoreError> {
        let animal: Animal = parsed(row)?;
        let mut said = Vec::new();
        for line in self.animals(Page::default())? {
            let here = &line.animal;
            for one in &animal.identifiers {
                let same = |other: &super::super::Identifier| other.value.trim().eq_ignore_ascii_case(one.value.trim());
                if here.id != row.id && here.fact.identifiers.iter().any(same) {
                    said.push(format!(
                        "{} ({}) here has the same {} {} as {} ({}) in the pack: they may be one animal",
                        here.fact.name,
                        here.short(),
                        one.kind,
                        one.value,
                        animal.name,
                        short(&row.id)
                    ));
                }
            }
        }
        Ok(said)
    }

    /// Another word that was said here on the same thing as a correction in the pack, and that the pack does not know.
    fn other_word(&self, row: &Row, packed: &BTreeSet<&str>) -> Result<Vec<String>, StoreError> {
        let ours: Correction = parsed(row)?;
        let Some(parent) = &row.parent else { return Ok(Vec::new()) };
        let mut said = Vec::new();
        for there in self.database.children(parent, Kind::Correction)? {
            let theirs: Correction = parsed(&there)?;
            let same_thing = thing(&ours.change).is_some() && thing(&ours.change) == thing(&theirs.change);
            if same_thing && ours.change != theirs.change && !packed.contains(there.id.as_str()) {
                said.push(format!(
                    "correction {} here, by {}, and {} in the pack, by {}, say different things of the same fact {}",
                    short(&there.id),
                    there.by,
                    short(&row.id),
                    row.by,
                    short(parent)
                ));
            }
        }
        Ok(said)
    }
}

/// What a correction is about, so that two of the same can be told to differ; absent where several may stand.
fn thing(change: &Change) -> Option<Value> {
    match change {
        // Whether it is a shaft, and what it looks like, is one question.
        Change::Look { shaft, .. } | Change::NotAShaft { shaft } => Some(serde_json::json!(["look", shaft])),
        Change::BaseEnd { shaft, .. } => Some(serde_json::json!(["base", shaft])),
        Change::Comparison { shaft, .. } => Some(serde_json::json!(["comparison", shaft])),
        Change::Field { field, .. } => Some(serde_json::json!(["field", field])),
        Change::MissedShaft { .. } | Change::Withdrawn => None,
    }
}
