//! What is asked of the database: facts by id, by case, by kind; lists, searches and what is waiting.

use std::collections::BTreeMap;

use rusqlite::{OptionalExtension, Params, params};

use super::row::{COLUMNS, Row};
use super::{Database, RuleRow};
use crate::store::error::StoreError;
use crate::store::facts::Kind;

/// Facts by kind.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(in crate::store) struct Counts(pub(in crate::store) BTreeMap<String, u64>);

impl Counts {
    /// All facts.
    pub(in crate::store) fn total(&self) -> u64 {
        self.0.values().sum()
    }
}

/// Animals that may have something due, each once.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(in crate::store) struct Waiting(pub(in crate::store) Vec<String>);

/// Facts that were withdrawn do not count; a withdrawal that was itself withdrawn does not count either.
const STANDS: &str = "NOT EXISTS (
    SELECT 1 FROM fact w WHERE w.parent = f.id AND w.kind = 'correction' AND w.state = 'withdrawn'
    AND NOT EXISTS (SELECT 1 FROM fact v WHERE v.parent = w.id AND v.kind = 'correction' AND v.state = 'withdrawn'))";

impl Database {
    fn rows(&self, rest: &str, params: impl Params) -> Result<Vec<Row>, StoreError> {
        let work = || {
            let mut statement = self.connection.prepare_cached(&format!("SELECT {COLUMNS} FROM fact f {rest}"))?;
            statement.query_map(params, Row::of)?.collect::<rusqlite::Result<Vec<Row>>>()
        };
        work().map_err(|error| self.sentence(&error))
    }

    /// The fact of this id.
    pub(in crate::store) fn fact(&self, id: &str) -> Result<Option<Row>, StoreError> {
        Ok(self.rows("WHERE f.id = ?1", [id])?.pop())
    }

    /// The photo of this digest.
    pub(in crate::store) fn photo(&self, sha256: &str) -> Result<Option<Row>, StoreError> {
        Ok(self.rows("WHERE f.sha256 = ?1", [sha256])?.pop())
    }

    /// Facts of a kind whose id begins so, at most `most`.
    pub(in crate::store) fn ids_from(
        &self,
        kind: Option<Kind>,
        start: &str,
        most: usize,
    ) -> Result<Vec<Row>, StoreError> {
        // Ids are hexadecimal digits and hyphens, which all sort before "g".
        let end = format!("{start}g");
        match kind {
            Some(kind) => self.rows(
                "WHERE f.id >= ?1 AND f.id < ?2 AND f.kind = ?3 ORDER BY f.id LIMIT ?4",
                params![start, end, kind.word(), most as i64],
            ),
            None => {
                self.rows("WHERE f.id >= ?1 AND f.id < ?2 ORDER BY f.id LIMIT ?3", params![start, end, most as i64])
            }
        }
    }

    /// Photos whose digest begins so, at most `most`.
    pub(in crate::store) fn photos_from(&self, start: &str, most: usize) -> Result<Vec<Row>, StoreError> {
        let end = format!("{start}g");
        self.rows("WHERE f.sha256 >= ?1 AND f.sha256 < ?2 ORDER BY f.sha256 LIMIT ?3", params![start, end, most as i64])
    }

    /// Everything that belongs to an animal, itself included, in the order of keeping.
    pub(in crate::store) fn case(&self, animal: &str) -> Result<Vec<Row>, StoreError> {
        self.rows("WHERE f.animal = ?1 ORDER BY f.seq", [animal])
    }

    /// The same without photos and readings, of which there are most.
    pub(in crate::store) fn case_without_photos(&self, animal: &str) -> Result<Vec<Row>, StoreError> {
        self.rows("WHERE f.animal = ?1 AND f.kind NOT IN ('photo', 'reading') ORDER BY f.seq", [animal])
    }

    /// All animals, in the order of keeping.
    pub(in crate::store) fn animals(&self) -> Result<Vec<Row>, StoreError> {
        self.rows("WHERE f.kind = 'animal' ORDER BY f.seq", [])
    }

    /// The corrections of all animals themselves, and of those corrections.
    pub(in crate::store) fn corrections_of_animals(&self) -> Result<Vec<Row>, StoreError> {
        self.rows(
            "WHERE f.kind = 'correction' AND (f.parent = f.animal OR f.parent IN (
                 SELECT c.id FROM fact c WHERE c.kind = 'correction' AND c.parent = c.animal)) ORDER BY f.seq",
            [],
        )
    }

    /// What belongs to a fact directly, of a kind, in the order of keeping.
    pub(in crate::store) fn children(&self, parent: &str, kind: Kind) -> Result<Vec<Row>, StoreError> {
        self.rows("WHERE f.parent = ?1 AND f.kind = ?2 ORDER BY f.seq", [parent, kind.word()])
    }

    /// The whole evaluation of a reading, deflated.
    pub(in crate::store) fn evaluation(&self, reading: &str) -> Result<Option<Vec<u8>>, StoreError> {
        self.connection
            .prepare_cached("SELECT deflated FROM evaluation WHERE reading = ?1")
            .and_then(|mut statement| statement.query_row([reading], |row| row.get(0)).optional())
            .map_err(|error| self.sentence(&error))
    }

    /// Number of facts of each kind, animal by animal, and the latest day.
    pub(in crate::store) fn tallies(&self) -> Result<BTreeMap<String, BTreeMap<String, u64>>, StoreError> {
        let work = || -> rusqlite::Result<_> {
            let mut tallies: BTreeMap<String, BTreeMap<String, u64>> = BTreeMap::new();
            let sql = "SELECT animal, kind, count(*) FROM fact GROUP BY animal, kind";
            let mut statement = self.connection.prepare_cached(sql)?;
            let mut rows = statement.query([])?;
            while let Some(row) = rows.next()? {
                let n: i64 = row.get(2)?;
                tallies.entry(row.get(0)?).or_default().insert(row.get(1)?, n.unsigned_abs());
            }
            Ok(tallies)
        };
        work().map_err(|error| self.sentence(&error))
    }

    /// Number of facts of each kind.
    pub(in crate::store) fn counts(&self) -> Result<Counts, StoreError> {
        let work = || -> rusqlite::Result<_> {
            let mut statement = self.connection.prepare_cached("SELECT kind, count(*) FROM fact GROUP BY kind")?;
            let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get::<_, i64>(1)?.unsigned_abs())))?;
            rows.collect::<rusqlite::Result<BTreeMap<String, u64>>>()
        };
        work().map(Counts).map_err(|error| self.sentence(&error))
    }

    /// Facts whose words contain all of the given ones, newest first, at most `most`.
    pub(in crate::store) fn search(&self, text: &str, most: usize) -> Result<Vec<Row>, StoreError> {
        let words: Vec<String> = text.to_lowercase().split_whitespace().map(str::to_owned).collect();
        if words.is_empty() {
            return Ok(Vec::new());
        }
        let each: Vec<String> = (1..=words.len()).map(|n| format!("instr(text, ?{n}) > 0")).collect();
        let rest = format!(
            "JOIN (SELECT seq FROM words WHERE {} ORDER BY seq DESC LIMIT {most}) w ON w.seq = f.seq ORDER BY f.seq DESC",
            each.join(" AND ")
        );
        self.rows(&rest, rusqlite::params_from_iter(&words))
    }

    /// Animals that may have something due on `today`: exposed since `exposed_since`, with a culture that is not at
    /// its end, with an exam that fluoresced or was unsure since `exam_since`, or whose latest reading has one of
    /// these findings. Where a correction may have changed the answer, the animal is among them.
    pub(in crate::store) fn waiting(
        &self,
        exposed_since: &str,
        exam_since: &str,
        findings: &[&str],
    ) -> Result<Waiting, StoreError> {
        let list = findings.iter().map(|code| format!("'{}'", code.replace('\'', ""))).collect::<Vec<_>>().join(", ");
        let sql = format!(
            "SELECT animal FROM fact f WHERE kind = 'contact' AND day >= ?1 AND {STANDS}
             UNION SELECT animal FROM fact f WHERE kind = 'culture' AND {STANDS} AND NOT EXISTS (
                 SELECT 1 FROM fact p WHERE p.parent = f.id AND p.kind = 'plate' AND p.state = 'last')
             UNION SELECT animal FROM fact f WHERE kind = 'exam' AND state IN ('fluoresces', 'unsure')
                 AND day >= ?2 AND {STANDS}
             UNION SELECT a.id FROM fact a JOIN fact f ON f.seq = (
                 SELECT max(seq) FROM fact r WHERE r.animal = a.id AND r.kind = 'reading')
                 WHERE a.kind = 'animal' AND f.state IN ({list})
             UNION SELECT animal FROM fact WHERE kind = 'correction' AND state IN ('field', 'withdrawn')
                 AND parent <> animal"
        );
        let work = || -> rusqlite::Result<Vec<String>> {
            let mut statement = self.connection.prepare(&sql)?;
            statement.query_map([exposed_since, exam_since], |row| row.get(0))?.collect()
        };
        work().map(Waiting).map_err(|error| self.sentence(&error))
    }

    /// When the newest fact was kept, by the clock of then.
    pub(in crate::store) fn newest_at(&self) -> Result<Option<String>, StoreError> {
        self.connection
            .query_row("SELECT kept_at FROM fact ORDER BY seq DESC LIMIT 1", [], |row| row.get(0))
            .optional()
            .map_err(|error| self.sentence(&error))
    }

    /// Rules that were changed, in the order of changing.
    pub(in crate::store) fn rules(&self) -> Result<Vec<RuleRow>, StoreError> {
        let work = || -> rusqlite::Result<Vec<RuleRow>> {
            let sql = "SELECT name, value, why, kept_by, kept_at FROM rule ORDER BY seq";
            let mut statement = self.connection.prepare_cached(sql)?;
            let rows = statement.query_map([], |row| {
                Ok(RuleRow {
                    name: row.get(0)?,
                    value: row.get(1)?,
                    why: row.get(2)?,
                    by: row.get(3)?,
                    at: row.get(4)?,
                })
            })?;
            rows.collect()
        };
        work().map_err(|error| self.sentence(&error))
    }
}
