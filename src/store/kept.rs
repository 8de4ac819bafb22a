//! A fact as it is kept: who told it, when, and what was said against it since.

use jiff::Timestamp;
use serde::Serialize;
use serde_json::Value;

use super::database::Row;
use super::error::StoreError;
use super::facts::{Change, Correction, Day, Fact, Kind};

/// Who tells something, and when: every fact is signed with it. The clock is read where a command begins.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// Who, free words.
    pub by: String,
    /// The moment.
    pub at: Timestamp,
    /// The calendar day where that is.
    pub today: Day,
}

impl Stamp {
    /// A stamp of now, by the computer's clock and time zone.
    pub fn now(by: &str) -> Stamp {
        let now = jiff::ZonedDateTime::now();
        Stamp { by: by.to_owned(), at: now.timestamp(), today: now.date() }
    }
}

/// A fact in the record.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Kept<T> {
    /// Its id, a UUID (RFC 9562, version 4); the first eight digits usually tell it from all others.
    pub id: String,
    /// Its kind.
    pub kind: Kind,
    /// Id of the animal whose case it belongs to; an animal's own.
    pub animal: String,
    /// Id of what it belongs to directly; absent for an animal.
    pub parent: Option<String>,
    /// Who told it.
    pub by: String,
    /// When it was told, by the clock of then (RFC 3339, UTC). The order of facts does not depend on it.
    pub at: String,
    /// The fact as it stands now, corrections of its fields applied.
    pub fact: T,
    /// What was said against it, in order.
    pub corrections: Vec<Told>,
    /// Whether it was withdrawn: entered by mistake. It is then left out of everything but the case itself.
    pub withdrawn: bool,
    /// Its place in the order of keeping, for sorting within this record; not in packs.
    #[serde(skip)]
    pub order: i64,
}

/// A correction, beside what it corrects.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Told {
    /// Id of the correction.
    pub id: String,
    /// Who.
    pub by: String,
    /// When, as in [`Kept::at`].
    pub at: String,
    /// What is otherwise.
    pub change: Change,
    /// Why.
    pub why: String,
    /// What the field said before, for a corrected field; absent otherwise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<Value>,
}

/// The first eight digits of an id: what people type and read.
pub fn short(id: &str) -> &str {
    id.get(..8).unwrap_or(id)
}

impl<T> Kept<T> {
    /// The first eight digits of its id.
    pub fn short(&self) -> &str {
        short(&self.id)
    }
}

/// The fact of a row with the corrections among `others`.
pub(super) fn kept<T: Fact>(row: &Row, others: &[Row]) -> Result<Kept<T>, StoreError> {
    let mut body: Value = parsed(row)?;
    let mut corrections = Vec::new();
    let mut withdrawn = false;
    for correction in
        others.iter().filter(|other| other.kind == Kind::Correction && other.parent.as_ref() == Some(&row.id))
    {
        let Correction { change, why } = parsed(correction)?;
        let mut before = None;
        if !is_withdrawn(&correction.id, others) {
            match &change {
                Change::Field { field, value } => {
                    before = Some(body.get(field).cloned().unwrap_or(Value::Null));
                    body[field] = value.clone();
                }
                Change::Withdrawn => withdrawn = true,
                _ => (),
            }
            let (id, by, at) = (correction.id.clone(), correction.by.clone(), correction.at.clone());
            corrections.push(Told { id, by, at, change, why, before });
        }
    }
    let fact = serde_json::from_value(body).map_err(|error| damaged(row, &error.to_string()))?;
    Ok(Kept {
        id: row.id.clone(),
        kind: row.kind,
        animal: row.animal.clone(),
        parent: row.parent.clone(),
        by: row.by.clone(),
        at: row.at.clone(),
        fact,
        corrections,
        withdrawn,
        order: row.seq,
    })
}

/// The body of a row as what it is, once the row's digest has been held against it.
pub(super) fn parsed<T: serde::de::DeserializeOwned>(row: &Row) -> Result<T, StoreError> {
    if row.digest_of() != row.digest {
        return Err(damaged(row, "it has another digest than when it was kept"));
    }
    serde_json::from_str(&row.body).map_err(|error| damaged(row, &error.to_string()))
}

/// Whether a correction was itself withdrawn.
fn is_withdrawn(id: &str, others: &[Row]) -> bool {
    others.iter().any(|other| {
        other.kind == Kind::Correction
            && other.parent.as_deref() == Some(id)
            && other.state.as_deref() == Some("withdrawn")
    })
}

fn damaged(row: &Row, what: &str) -> StoreError {
    StoreError::DamagedFact { kind: row.kind.word().to_owned(), id: short(&row.id).to_owned(), what: what.to_owned() }
}
