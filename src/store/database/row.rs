//! A fact as a row: its columns, its digest, and how it goes in and out.

use rusqlite::{Connection, params};
use sha2::{Digest, Sha256};

use crate::store::facts::Kind;

/// A fact as it is kept. `day`, `sha256` and `state` repeat what is in `body`, so that lists can ask for them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::store) struct Row {
    /// The order of keeping; 0 before it is kept.
    pub(in crate::store) seq: i64,
    pub(in crate::store) id: String,
    pub(in crate::store) kind: Kind,
    pub(in crate::store) animal: String,
    pub(in crate::store) parent: Option<String>,
    pub(in crate::store) day: Option<String>,
    pub(in crate::store) sha256: Option<String>,
    pub(in crate::store) state: Option<String>,
    /// What a search finds it by; absent when read back.
    pub(in crate::store) words: Option<String>,
    pub(in crate::store) body: String,
    pub(in crate::store) by: String,
    pub(in crate::store) at: String,
    pub(in crate::store) digest: String,
}

/// A changed rule as a row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::store) struct RuleRow {
    pub(in crate::store) name: String,
    pub(in crate::store) value: String,
    pub(in crate::store) why: String,
    pub(in crate::store) by: String,
    pub(in crate::store) at: String,
}

impl RuleRow {
    /// The digest that is kept with a rule: SHA-256 of the JSON list of its parts.
    pub(in crate::store) fn digest_of(&self) -> String {
        digest_of_parts(&[&self.name, &self.value, &self.why, &self.by, &self.at].map(|part| Some(part.as_str())))
    }
}

/// SHA-256 of the JSON list of texts; a list of texts always serialises.
fn digest_of_parts(parts: &[Option<&str>]) -> String {
    let text = serde_json::to_string(parts).unwrap_or_default();
    Sha256::digest(text.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The columns of a fact in the order that [`Row::of`] reads them.
pub(super) const COLUMNS: &str =
    "f.seq, f.id, f.kind, f.animal, f.parent, f.day, f.sha256, f.state, f.body, f.kept_by, f.kept_at, f.digest";

impl Row {
    /// The digest that is kept with a fact: SHA-256 of the JSON list of id, kind, animal, parent, body, who and when.
    /// It finds a changed byte that the database itself would not notice.
    pub(in crate::store) fn digest_of(&self) -> String {
        digest_of_parts(&[
            Some(&self.id),
            Some(self.kind.word()),
            Some(&self.animal),
            self.parent.as_deref(),
            Some(&self.body),
            Some(&self.by),
            Some(&self.at),
        ])
    }

    /// The row of a result with [`COLUMNS`].
    pub(super) fn of(row: &rusqlite::Row<'_>) -> rusqlite::Result<Row> {
        let kind: String = row.get(2)?;
        let kind = kind.parse().map_err(|said: String| {
            rusqlite::Error::FromSqlConversionFailure(2, rusqlite::types::Type::Text, said.into())
        })?;
        Ok(Row {
            seq: row.get(0)?,
            id: row.get(1)?,
            kind,
            animal: row.get(3)?,
            parent: row.get(4)?,
            day: row.get(5)?,
            sha256: row.get(6)?,
            state: row.get(7)?,
            words: None,
            body: row.get(8)?,
            by: row.get(9)?,
            at: row.get(10)?,
            digest: row.get(11)?,
        })
    }

    /// Puts the row in, with its words.
    pub(super) fn insert(&self, connection: &Connection) -> rusqlite::Result<()> {
        let sql = "INSERT INTO fact (id, kind, animal, parent, day, sha256, state, body, kept_by, kept_at, digest)
                   VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)";
        connection.prepare_cached(sql)?.execute(params![
            self.id,
            self.kind.word(),
            self.animal,
            self.parent,
            self.day,
            self.sha256,
            self.state,
            self.body,
            self.by,
            self.at,
            self.digest,
        ])?;
        if let Some(words) = &self.words {
            insert_words(connection, connection.last_insert_rowid(), words)?;
        }
        Ok(())
    }
}

/// Puts in what a fact is found by.
pub(super) fn insert_words(connection: &Connection, seq: i64, words: &str) -> rusqlite::Result<()> {
    let sql = "INSERT INTO words (seq, text) VALUES (?1, ?2)";
    connection.prepare_cached(sql)?.execute(params![seq, words.to_lowercase()]).map(|_| ())
}

#[cfg(test)]
pub(super) mod tests {
    use super::Row;
    use crate::store::facts::Kind;

    /// An animal's row with this name.
    pub(in crate::store::database) fn animal(name: String) -> Row {
        let id = "a0000000-0000-4000-8000-000000000000".to_owned();
        let mut row = Row {
            seq: 0,
            animal: id.clone(),
            id,
            kind: Kind::Animal,
            parent: None,
            day: None,
            sha256: None,
            state: None,
            words: Some(name.clone()),
            body: format!("{{\"name\":\"{name}\"}}"),
            by: "Quillfeather House (invented)".to_owned(),
            at: "2026-01-01T00:00:00Z".to_owned(),
            digest: String::new(),
        };
        row.digest = row.digest_of();
        row
    }

    #[test]
    fn the_digest_depends_on_each_part() {
        let row = animal("Moth".to_owned());
        let others = [
            Row { id: "b".into(), ..row.clone() },
            Row { kind: Kind::Note, ..row.clone() },
            Row { animal: "b".into(), ..row.clone() },
            Row { parent: Some("b".into()), ..row.clone() },
            Row { body: "{}".into(), ..row.clone() },
            Row { by: "b".into(), ..row.clone() },
            Row { at: "b".into(), ..row.clone() },
        ];
        for other in others {
            assert_ne!(other.digest_of(), row.digest);
        }
        assert_eq!(Row { seq: 9, ..row.clone() }.digest_of(), row.digest, "the order is this record's alone");
    }
}
