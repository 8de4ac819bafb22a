//! `case.json`: the facts of one case as they are kept, by kind, described by docs/case.schema.json.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;

use crate::store::add::derived;
use crate::store::database::Row;
use crate::store::facts::{Day, Kind};

/// Name and version of the form; additions are allowed within a version.
pub(super) const SCHEMA: &str = "pilumen/case/1";

/// The facts of a case.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct CaseFile {
    /// Name and version of the form.
    pub(super) schema: String,
    /// Version of the program that wrote it.
    pub(super) program: String,
    /// Id of the animal.
    pub(super) animal: String,
    /// The facts, by kind.
    pub(super) facts: BTreeMap<String, Vec<FactFile>>,
}

/// One fact.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct FactFile {
    /// Its place in the case; what it belongs to has a smaller one.
    pub(super) order: usize,
    pub(super) id: String,
    pub(super) parent: Option<String>,
    pub(super) by: String,
    pub(super) at: String,
    pub(super) digest: String,
    /// As it was kept, letter by letter: its digest depends on that.
    pub(super) fact: Box<RawValue>,
}

impl CaseFile {
    /// The case in these rows.
    pub(super) fn of(animal: &str, rows: &[Row]) -> Result<CaseFile, serde_json::Error> {
        let mut facts: BTreeMap<String, Vec<FactFile>> = BTreeMap::new();
        for (order, row) in rows.iter().enumerate() {
            facts.entry(row.kind.word().to_owned()).or_default().push(FactFile {
                order,
                id: row.id.clone(),
                parent: row.parent.clone(),
                by: row.by.clone(),
                at: row.at.clone(),
                digest: row.digest.clone(),
                fact: RawValue::from_string(row.body.clone())?,
            });
        }
        let program = env!("CARGO_PKG_VERSION").to_owned();
        Ok(CaseFile { schema: SCHEMA.to_owned(), program, animal: animal.to_owned(), facts })
    }

    /// The rows of the case in their order, each checked by itself.
    ///
    /// # Errors
    /// A sentence when the form is another, or a fact is damaged or impossible.
    pub(super) fn rows(self, today: Day) -> Result<Vec<Row>, String> {
        if self.schema != SCHEMA {
            return Err(format!(
                "its form is {:?} and not {SCHEMA:?}; a newer version of this program may know it",
                self.schema
            ));
        }
        let mut rows: Vec<(usize, Row)> = Vec::new();
        for (kind, facts) in self.facts {
            let kind: Kind =
                kind.parse().map_err(|said| format!("it has facts of a kind that is not known: {said}"))?;
            for fact in facts {
                let name = format!("its {kind} {:?}", fact.id);
                let body = fact.fact.get().to_owned();
                let value = serde_json::from_str(&body).map_err(|error| format!("{name} is no JSON: {error}"))?;
                let derived = derived(kind, value, today).map_err(|said| format!("{name} cannot be so: {said}"))?;
                if uuid::Uuid::try_parse(&fact.id).map(|id| id.to_string()) != Ok(fact.id.clone()) {
                    return Err(format!("{name} has no id that is one"));
                }
                if fact.at.parse::<jiff::Timestamp>().is_err() || fact.by.trim().is_empty() {
                    return Err(format!("{name} does not say who told it and when"));
                }
                let row = Row {
                    seq: 0,
                    id: fact.id,
                    kind,
                    animal: self.animal.clone(),
                    parent: fact.parent,
                    day: derived.day,
                    sha256: derived.sha256,
                    state: derived.state,
                    words: derived.words,
                    body,
                    by: fact.by,
                    at: fact.at,
                    digest: fact.digest,
                };
                if row.digest_of() != row.digest {
                    return Err(format!("{name} has another digest than when it was kept"));
                }
                rows.push((fact.order, row));
            }
        }
        rows.sort_by_key(|(order, _)| *order);
        Ok(rows.into_iter().map(|(_, row)| row).collect())
    }
}
