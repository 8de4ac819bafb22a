//! From older tables to the newest: numbered steps, each whole or not at all.

use rusqlite::{Connection, TransactionBehavior};

use super::row::{COLUMNS, Row, insert_words};
use super::{APPLICATION_ID, Database, errors};
use crate::store::error::StoreError;
use crate::store::words_of;

/// One step: what makes version `n + 1` of version `n`, where `n` is its place in [`STEPS`].
type Step = fn(&Connection) -> rusqlite::Result<()>;

const STEPS: [Step; 2] = [facts, words_and_rules];

/// The newest version of the tables.
pub(in crate::store) const NEWEST: i64 = STEPS.len() as i64;

fn facts(connection: &Connection) -> rusqlite::Result<()> {
    connection.execute_batch(include_str!("migrations/0001-facts.sql"))
}

fn words_and_rules(connection: &Connection) -> rusqlite::Result<()> {
    connection.execute_batch(include_str!("migrations/0002-words-and-rules.sql"))?;
    let mut facts = connection.prepare(&format!("SELECT {COLUMNS} FROM fact f ORDER BY f.seq"))?;
    let rows = facts.query_map([], Row::of)?;
    for row in rows {
        let row = row?;
        if let Some(words) = words_of(&row) {
            insert_words(connection, row.seq, &words)?;
        }
    }
    Ok(())
}

impl Database {
    /// Brings the tables to the newest version. Every step is one transaction together with its number, so that a
    /// step that is interrupted has never begun.
    ///
    /// # Errors
    /// When the disk does not take it.
    pub(in crate::store) fn migrate(&mut self) -> Result<(), StoreError> {
        self.migrate_to(NEWEST)
    }

    /// The same up to a version.
    pub(in crate::store) fn migrate_to(&mut self, last: i64) -> Result<(), StoreError> {
        let path = self.path.clone();
        let mut work = || -> rusqlite::Result<()> {
            loop {
                // Asked inside the transaction: another program may have taken the step meanwhile.
                let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
                let version: i64 = transaction.query_row("PRAGMA user_version", [], |row| row.get(0))?;
                let step = usize::try_from(version).ok().and_then(|version| STEPS.get(version));
                let Some(step) = step.filter(|_| version < last) else { return Ok(()) };
                step(&transaction)?;
                transaction.execute_batch(&format!(
                    "PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {};",
                    version + 1
                ))?;
                transaction.commit()?;
            }
        };
        work().map_err(|error| errors::sentence(&path, &error))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Mode, row};
    use super::{Database, NEWEST};

    #[test]
    fn an_older_record_becomes_the_newest_with_all_it_holds() {
        let place = tempfile::tempdir().unwrap();
        let path = place.path().join("record.db");
        let mut old = Database::open(&path, Mode::Create).unwrap();
        old.migrate_to(1).unwrap();
        let mut moth = row::tests::animal("Möth".to_owned());
        moth.words = None;
        old.keep(&[(moth, None)]).unwrap();
        drop(old);
        let mut database = Database::open(&path, Mode::Write).unwrap();
        assert_eq!(database.version().unwrap(), 1);
        database.migrate().unwrap();
        database.migrate().unwrap();
        assert_eq!(database.version().unwrap(), NEWEST);
        assert_eq!(database.search("möth", 5).unwrap().len(), 1, "what is derived is there for old facts too");
    }
}
