//! The database as a whole: whether it fits together, and a consistent copy of it while it is in use.

use std::collections::HashMap;
use std::path::Path;

use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};

use super::RuleRow;
use super::row::{COLUMNS, Row};
use super::{Database, errors};
use crate::store::error::StoreError;

/// All pages in one step: the log lets writers go on meanwhile, and the copy is of one moment.
const ALL_PAGES: i32 = -1;

/// What a check of the pages may list before it stops; more says nothing new.
const MOST_FAULTS: usize = 50;

impl Database {
    /// What does not fit together in the pages, the indexes and the references; empty when everything does.
    pub(in crate::store) fn faults(&self) -> Vec<String> {
        let mut faults = Vec::new();
        let mut ask = |sql: &str, good: &str, say: fn(&rusqlite::Row<'_>) -> rusqlite::Result<String>| {
            let work = || -> rusqlite::Result<Vec<String>> {
                let mut statement = self.connection.prepare(sql)?;
                statement.query_map([], say)?.collect()
            };
            match work() {
                Ok(said) => faults.extend(said.into_iter().filter(|line| line != good)),
                Err(error) => faults.push(error.to_string()),
            }
        };
        ask(&format!("PRAGMA integrity_check({MOST_FAULTS})"), "ok", |row| row.get(0));
        ask("PRAGMA foreign_key_check", "", |row| {
            let (table, seq): (String, Option<i64>) = (row.get(0)?, row.get(1)?);
            Ok(format!("row {} of {table} names something that is not there", seq.unwrap_or_default()))
        });
        ask(
            "SELECT id FROM fact WHERE kind = 'reading' AND id NOT IN (SELECT reading FROM evaluation) LIMIT 50",
            "",
            |row| Ok(format!("reading {} has no evaluation", row.get::<_, String>(0)?)),
        );
        faults
    }

    /// The words that searches look through, by their facts' place in the order of keeping.
    pub(in crate::store) fn words(&self) -> Result<HashMap<i64, String>, StoreError> {
        let work = || -> rusqlite::Result<HashMap<i64, String>> {
            let mut statement = self.connection.prepare("SELECT seq, text FROM words")?;
            statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect()
        };
        work().map_err(|error| self.sentence(&error))
    }

    /// Names of the rules that are not as they were when they were kept.
    pub(in crate::store) fn damaged_rules(&self) -> Result<Vec<String>, StoreError> {
        let work = || -> rusqlite::Result<Vec<(RuleRow, String)>> {
            let sql = "SELECT name, value, why, kept_by, kept_at, digest FROM rule ORDER BY seq";
            let mut statement = self.connection.prepare(sql)?;
            let rows = statement.query_map([], |row| {
                let rule = RuleRow {
                    name: row.get(0)?,
                    value: row.get(1)?,
                    why: row.get(2)?,
                    by: row.get(3)?,
                    at: row.get(4)?,
                };
                Ok((rule, row.get(5)?))
            })?;
            rows.collect()
        };
        let rules = work().map_err(|error| self.sentence(&error))?;
        Ok(rules.into_iter().filter(|(rule, digest)| rule.digest_of() != *digest).map(|(rule, _)| rule.name).collect())
    }

    /// Hands every fact to `see`, in the order of keeping; a row that cannot be read is handed as what went wrong.
    pub(in crate::store) fn every(&self, mut see: impl FnMut(Result<Row, String>)) {
        let sql = format!("SELECT {COLUMNS} FROM fact f ORDER BY f.seq");
        let mut statement = match self.connection.prepare(&sql) {
            Ok(statement) => statement,
            Err(error) => return see(Err(error.to_string())),
        };
        match statement.query_map([], Row::of) {
            Ok(rows) => rows.for_each(|row| see(row.map_err(|error| error.to_string()))),
            Err(error) => see(Err(error.to_string())),
        }
    }

    /// Copies the database as it is at one moment to a file that is not there yet, while others use it.
    ///
    /// # Errors
    /// When the copy cannot be written.
    pub(in crate::store) fn copy_to(&self, path: &Path) -> Result<(), StoreError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let failed = |error| errors::sentence(path, &error);
        let mut copy = Connection::open_with_flags(path, flags).map_err(failed)?;
        {
            let backup = Backup::new(&self.connection, &mut copy).map_err(failed)?;
            if backup.step(ALL_PAGES).map_err(failed)? != StepResult::Done {
                let folder = self.path.parent().unwrap_or(Path::new("")).to_owned();
                return Err(StoreError::Busy { folder, holder: String::new() });
            }
        }
        // One file that needs no log beside it, and on the disk before it gets its name.
        copy.execute_batch("PRAGMA journal_mode = DELETE").map_err(failed)?;
        copy.close().map_err(|(_, error)| failed(error))?;
        let file = std::fs::File::open(path).map_err(|error| StoreError::io(path, &error))?;
        file.sync_all().map_err(|error| StoreError::io(path, &error))
    }
}
