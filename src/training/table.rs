//! The table of labelled features: one row a shaft, as CSV.

use std::io::{Read, Write};

use thiserror::Error;

use crate::finding::Look;

/// Columns before the features.
const FIXED_COLUMNS: [&str; 4] = ["scene", "group", "look", "kind"];

/// One shaft of which it is known what it is.
#[derive(Clone, Debug, PartialEq)]
pub struct LabelledRow {
    /// The scene it is from, the unit that is never split: shafts of one scene share light, camera and animal.
    /// For confirmed cases the animal.
    pub scene: u64,
    /// The condition that a comparison may leave out as a whole (camera family, source), any short name.
    pub group: String,
    /// What it is.
    pub look: Look,
    /// The kind of shaft within the look (guard hair, ointment, carpet fibre, ...), any short name.
    pub kind: String,
    /// Its features in the order of the table's keys; absent where they could not be measured.
    pub values: Vec<Option<f64>>,
}

/// Labelled shafts and the names of their features.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// Keys of the features.
    pub keys: Vec<String>,
    /// The shafts.
    pub rows: Vec<LabelledRow>,
}

/// Why a table cannot be read.
#[derive(Debug, Error)]
pub enum TableError {
    /// The bytes are no CSV or cannot be read or written.
    #[error("the table of labelled features cannot be read: {0}")]
    Csv(#[from] csv::Error),
    /// The first columns are others.
    #[error("the table of labelled features must begin with the columns {}, and begins with {found}", FIXED_COLUMNS.join(", "))]
    Columns {
        /// What the columns are.
        found: String,
    },
    /// A cell cannot be understood.
    #[error("row {row} of the table of labelled features has {found:?} as its {column}; {expected} is needed")]
    Cell {
        /// The row, the header being row 1.
        row: usize,
        /// The column.
        column: String,
        /// What stands there.
        found: String,
        /// What may stand there.
        expected: &'static str,
    },
}

impl Table {
    /// Reads a table: columns scene, group, look, kind, then one column a feature; an empty cell is an absent value.
    ///
    /// # Errors
    /// When it is no CSV, columns are missing, or a cell is no number, no finite number or no look.
    pub fn read(from: impl Read) -> Result<Table, TableError> {
        let mut reader = csv::Reader::from_reader(from);
        let header = reader.headers()?.clone();
        let fixed: Vec<&str> = header.iter().take(FIXED_COLUMNS.len()).collect();
        if fixed != FIXED_COLUMNS {
            return Err(TableError::Columns { found: fixed.join(", ") });
        }
        let keys: Vec<String> = header.iter().skip(FIXED_COLUMNS.len()).map(str::to_string).collect();
        let mut rows = Vec::new();
        for (i, record) in reader.records().enumerate() {
            let record = record?;
            // csv refuses rows of another length than the header, so every cell is there.
            let text = |column: usize| record.get(column).unwrap_or_default();
            let cell = |column: usize, expected: &'static str| TableError::Cell {
                row: i + 2,
                column: header.get(column).unwrap_or_default().to_string(),
                found: text(column).to_string(),
                expected,
            };
            let value = |column: usize| match text(column) {
                "" => Ok(None),
                number => match number.parse::<f64>() {
                    Ok(number) if number.is_finite() => Ok(Some(number)),
                    _ => Err(cell(column, "a finite number or nothing")),
                },
            };
            rows.push(LabelledRow {
                scene: text(0).parse().map_err(|_| cell(0, "a whole number"))?,
                group: text(1).to_string(),
                look: Look::ALL
                    .into_iter()
                    .find(|look| look.code() == text(2))
                    .ok_or_else(|| cell(2, "infected, normal, coated or fibre"))?,
                kind: text(3).to_string(),
                values: (FIXED_COLUMNS.len()..header.len()).map(value).collect::<Result<_, _>>()?,
            });
        }
        Ok(Table { keys, rows })
    }

    /// Writes the table as [`Table::read`] reads it; numbers in the shortest form that reads back the same.
    ///
    /// # Errors
    /// When `to` cannot be written or a row has more or fewer values than there are keys.
    pub fn write(&self, to: impl Write) -> Result<(), TableError> {
        let mut writer = csv::Writer::from_writer(to);
        writer.write_record(FIXED_COLUMNS.iter().copied().chain(self.keys.iter().map(String::as_str)))?;
        for row in &self.rows {
            let values = row.values.iter().map(|value| value.map_or(String::new(), |value| value.to_string()));
            let fixed = [row.scene.to_string(), row.group.clone(), row.look.code().to_string(), row.kind.clone()];
            writer.write_record(fixed.into_iter().chain(values))?;
        }
        writer.flush().map_err(csv::Error::from)?;
        Ok(())
    }

    /// The rows in an order that depends on what they are and not on how they came.
    pub fn sort(&mut self) {
        sort_rows(&mut self.rows);
    }
}

/// Puts rows into an order that depends on what they are and not on how they came.
pub fn sort_rows(rows: &mut [LabelledRow]) {
    let values = |row: &LabelledRow| -> Vec<Option<u64>> { row.values.iter().map(|v| v.map(f64::to_bits)).collect() };
    rows.sort_by(|a, b| {
        let names = (a.scene, a.look, &a.kind, &a.group).cmp(&(b.scene, b.look, &b.kind, &b.group));
        names.then_with(|| values(a).cmp(&values(b)))
    });
}

#[cfg(test)]
mod tests {
    use super::{LabelledRow, Table, sort_rows};
    use crate::finding::Look;

    fn row(scene: u64, values: Vec<Option<f64>>) -> LabelledRow {
        LabelledRow { scene, group: "phone, \"wide\"".into(), look: Look::Coated, kind: "soap".into(), values }
    }

    #[test]
    fn what_was_written_is_read() {
        let keys = vec!["glow.level".to_string(), "width.cv".to_string()];
        let rows = vec![row(u64::MAX, vec![Some(0.1 + 0.2), None]), row(3, vec![Some(-1e-300), Some(4.0)])];
        let table = Table { keys, rows };
        let mut bytes = Vec::new();
        table.write(&mut bytes).unwrap();
        assert_eq!(Table::read(bytes.as_slice()).unwrap(), table);
    }

    #[test]
    fn bad_cells_are_named() {
        let message = |text: &str| Table::read(text.as_bytes()).unwrap_err().to_string();
        let head = "scene,group,look,kind,a\n";
        assert!(message("scene,look,kind,group,a\n").contains("must begin with the columns scene, group"));
        assert!(message(&format!("{head}1,g,lovely,k,1\n")).contains("row 2"), "no such look");
        assert!(message(&format!("{head}1,g,normal,k,NaN\n")).contains("\"NaN\" as its a"));
        assert!(message(&format!("{head}1,g,normal,k,inf\n")).contains("finite"));
        assert!(message(&format!("{head}1,g,normal,k\n")).contains("cannot be read"), "a cell too few");
        assert!(Table::read("".as_bytes()).is_err());
    }

    #[test]
    fn order_is_by_content() {
        let mut one = vec![row(2, vec![None]), row(1, vec![Some(2.0)]), row(1, vec![None]), row(1, vec![Some(1.0)])];
        let mut other: Vec<LabelledRow> = one.iter().rev().cloned().collect();
        sort_rows(&mut one);
        sort_rows(&mut other);
        assert_eq!(one, other);
    }
}
