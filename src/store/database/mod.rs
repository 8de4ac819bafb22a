//! The one door to the database: all SQL is in this folder, and nothing outside it names the database's crate.
//!
//! What goes through the door are rows of facts and plain values, so that the same tables on another database are a
//! matter of this folder alone (see docs/decisions/0005-what-would-it-take-to-share-one-record.md).

mod ask;
mod errors;
mod migrate;
mod row;
mod whole;

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags, TransactionBehavior, params};

use super::error::StoreError;
pub(super) use migrate::NEWEST;
pub(super) use row::{Row, RuleRow};

/// How long a statement waits for another program that is just committing. Writers queue at the lock file, so that
/// this only spans one commit or checkpoint; on a slow disk that is a second or two.
const BUSY: Duration = Duration::from_secs(10);

/// Marks the file as a record of this program: "Pilu" in ASCII.
const APPLICATION_ID: i64 = 0x5069_6c75;

/// An open database.
#[derive(Debug)]
pub(super) struct Database {
    connection: Connection,
    path: PathBuf,
    read_only: bool,
}

/// How a database is opened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mode {
    /// For reading and writing; made if it is not there.
    Create,
    /// For reading and writing.
    Write,
    /// For reading; the folder may be on a medium that cannot be written.
    Read,
}

impl Database {
    /// Opens the database file.
    ///
    /// # Errors
    /// When it is not there, cannot be read, is damaged, is none of this program, or of a newer version.
    pub(super) fn open(path: &Path, mode: Mode) -> Result<Database, StoreError> {
        let flags = match mode {
            Mode::Create => OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE,
            Mode::Write => OpenFlags::SQLITE_OPEN_READ_WRITE,
            Mode::Read => OpenFlags::SQLITE_OPEN_READ_ONLY,
        } | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let failed = |error| errors::sentence(path, &error);
        let connection = Connection::open_with_flags(path, flags).map_err(failed)?;
        let database = Database { connection, path: path.to_owned(), read_only: mode == Mode::Read };
        match database.prepare(mode) {
            Ok(()) => Ok(database),
            // A medium that cannot be written has no place for the files that readers and writers share. Nobody can
            // write there now, so it may be read as it lies, unless something is still waiting in the log.
            Err(StoreError::ReadOnly(_) | StoreError::Database { .. }) if mode == Mode::Read && !database.has_log() => {
                drop(database);
                let uri = format!("file:{}?immutable=1", as_uri(path));
                let flags = flags | OpenFlags::SQLITE_OPEN_URI;
                let connection = Connection::open_with_flags(uri, flags).map_err(failed)?;
                let database = Database { connection, path: path.to_owned(), read_only: true };
                database.prepare(mode)?;
                Ok(database)
            }
            Err(error) => Err(error),
        }
    }

    fn has_log(&self) -> bool {
        let mut name = self.path.clone().into_os_string();
        name.push("-wal");
        std::fs::metadata(name).is_ok_and(|about| about.len() > 0)
    }

    fn prepare(&self, mode: Mode) -> Result<(), StoreError> {
        let failed = |error| self.sentence(&error);
        self.connection.busy_timeout(BUSY).map_err(failed)?;
        let (id, version) = (self.number("application_id")?, self.number("user_version")?);
        let folder = self.path.parent().unwrap_or(Path::new("")).to_owned();
        let tables: i64 =
            self.connection.query_row("SELECT count(*) FROM sqlite_master", [], |row| row.get(0)).map_err(failed)?;
        match (id == APPLICATION_ID, tables) {
            (true, _) => (),
            // Begun by a program that was ended before there was anything in it.
            (false, 0) if mode == Mode::Create => (),
            (false, 0) => return Err(StoreError::NoRecord(folder)),
            (false, _) => return Err(StoreError::Foreign(folder)),
        }
        if version > NEWEST {
            return Err(StoreError::Newer { folder, found: version, known: NEWEST });
        }
        if mode != Mode::Read {
            // WAL: readers are not held up by the writer. FULL: what is committed has reached the disk.
            self.set("journal_mode = WAL")?;
            self.set("synchronous = FULL")?;
            self.set("foreign_keys = ON")?;
            // Or a REPLACE would remove a row without asking the trigger that forbids it.
            self.set("recursive_triggers = ON")?;
        }
        self.set("trusted_schema = OFF")?;
        self.set("cell_size_check = ON")
    }

    fn set(&self, pragma: &str) -> Result<(), StoreError> {
        // Some answer with a row and some do not.
        self.connection.execute_batch(&format!("PRAGMA {pragma}")).map_err(|error| self.sentence(&error))
    }

    fn number(&self, pragma: &str) -> Result<i64, StoreError> {
        self.connection
            .query_row(&format!("PRAGMA {pragma}"), [], |row| row.get(0))
            .map_err(|error| self.sentence(&error))
    }

    /// The version of the tables; 0 when there are none yet.
    pub(super) fn version(&self) -> Result<i64, StoreError> {
        self.number("user_version")
    }

    /// Whether it can only be read.
    pub(super) fn is_read_only(&self) -> bool {
        self.read_only
    }

    /// Keeps facts, all of them or none: when this returns without an error they have reached the disk.
    ///
    /// # Errors
    /// When something they name is not there, or the disk does not take them.
    pub(super) fn keep(&mut self, rows: &[(Row, Option<Vec<u8>>)]) -> Result<(), StoreError> {
        let path = self.path.clone();
        let mut work = || -> rusqlite::Result<()> {
            let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            for (row, evaluation) in rows {
                row.insert(&transaction)?;
                if let Some(deflated) = evaluation {
                    transaction
                        .prepare_cached("INSERT INTO evaluation (reading, deflated) VALUES (?1, ?2)")?
                        .execute(params![row.id, deflated])?;
                }
            }
            transaction.commit()
        };
        work().map_err(|error| errors::sentence(&path, &error))
    }

    /// Adds a changed rule.
    pub(super) fn keep_rule(&mut self, rule: &RuleRow) -> Result<(), StoreError> {
        let sql = "INSERT INTO rule (name, value, why, kept_by, kept_at, digest) VALUES (?1, ?2, ?3, ?4, ?5, ?6)";
        self.connection
            .execute(sql, params![rule.name, rule.value, rule.why, rule.by, rule.at, rule.digest_of()])
            .map(|_| ())
            .map_err(|error| self.sentence(&error))
    }

    fn sentence(&self, error: &rusqlite::Error) -> StoreError {
        errors::sentence(&self.path, error)
    }
}

/// A path inside a URI: what has a meaning there is written as its number (RFC 3986, section 2.1).
fn as_uri(path: &Path) -> String {
    let mut uri = String::new();
    for character in path.to_string_lossy().chars() {
        match character {
            '%' => uri.push_str("%25"),
            '?' => uri.push_str("%3f"),
            '#' => uri.push_str("%23"),
            other => uri.push(other),
        }
    }
    uri
}

#[cfg(test)]
mod tests {
    use super::{Database, Mode};
    use crate::store::error::StoreError;

    #[test]
    fn a_database_that_is_full_says_so_and_keeps_nothing_half() {
        let place = tempfile::tempdir().unwrap();
        let mut database = Database::open(&place.path().join("record.db"), Mode::Create).unwrap();
        database.migrate().unwrap();
        let pages = database.number("page_count").unwrap();
        database.connection.query_row(&format!("PRAGMA max_page_count = {pages}"), [], |_| Ok(())).unwrap();
        let row = super::row::tests::animal("x".repeat(100_000));
        let refused = database.keep(&[(row, None)]).unwrap_err();
        assert!(matches!(refused, StoreError::Full(_)), "{refused}");
        assert_eq!(database.counts().unwrap().total(), 0);
    }

    #[test]
    fn facts_are_never_changed_nor_removed() {
        let place = tempfile::tempdir().unwrap();
        let mut database = Database::open(&place.path().join("record.db"), Mode::Create).unwrap();
        database.migrate().unwrap();
        database.keep(&[(super::row::tests::animal("Moth".to_owned()), None)]).unwrap();
        for sql in ["UPDATE fact SET body = '{}'", "DELETE FROM fact", "REPLACE INTO fact SELECT * FROM fact"] {
            assert!(database.connection.execute(sql, []).is_err(), "{sql}");
        }
        assert_eq!(database.counts().unwrap().total(), 1);
    }

    #[test]
    fn commits_reach_the_disk_before_they_are_acknowledged() {
        let place = tempfile::tempdir().unwrap();
        let database = Database::open(&place.path().join("record.db"), Mode::Create).unwrap();
        assert_eq!(database.number("synchronous").unwrap(), 2, "FULL");
        assert_eq!(database.number("foreign_keys").unwrap(), 1);
        let mode: String = database.connection.query_row("PRAGMA journal_mode", [], |row| row.get(0)).unwrap();
        assert_eq!(mode, "wal");
    }
}
