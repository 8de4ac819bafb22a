//! Tables of numbers: units in the header, RFC 4180 with line ends as that says, each with its description as CSVW
//! (W3C, "Metadata Vocabulary for Tabular Data", 2015) and units in UCUM.
//!
//! A value that could not be measured is an empty cell.

mod centrelines;
mod described;
mod profiles;
mod shafts;

use csv::{Terminator, WriterBuilder};

use super::from_record::{Entry, Measure, Shaft};
use super::rounded::measurement;

/// The tables that are kept of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Table {
    /// One row a shaft.
    Shafts,
    /// One row a station of a shaft: width and fluorescence along it.
    Profiles,
    /// One row a point of a shaft's centreline.
    Centrelines,
}

impl Table {
    /// All tables.
    pub const ALL: [Table; 3] = [Table::Shafts, Table::Profiles, Table::Centrelines];

    /// Name of its file.
    pub fn file(self) -> &'static str {
        match self {
            Table::Shafts => "shafts.csv",
            Table::Profiles => "profiles.csv",
            Table::Centrelines => "centrelines.csv",
        }
    }

    /// Name of its description's file, where readers of CSVW look for it.
    pub fn description_file(self) -> String {
        format!("{}-metadata.json", self.file())
    }

    /// The header, with its line end. `catalogue` names the measurements that end the table of shafts.
    pub fn head(self, catalogue: &[Measure]) -> Vec<u8> {
        written([self.columns(catalogue).into_iter().map(|described| described.name).collect()])
    }

    /// The rows of one photo, each with its line end; nothing for a photo without shafts.
    ///
    /// `reading` is the name under which the photo's other files are kept: two photos of one name stay apart by it.
    pub fn rows(self, entry: &Entry, reading: &str) -> Vec<u8> {
        match self {
            Table::Shafts => {
                let fixed = shafts::fixed();
                written(entry.shafts.iter().map(|shaft| {
                    let row = shafts::Row { entry, shaft, reading };
                    let fixed = fixed.iter().map(|column| (column.cell)(&row));
                    fixed.chain(shaft.measures.iter().map(|&value| number(value))).collect::<Vec<String>>()
                }))
            }
            Table::Profiles => written(cells(profiles::rows(entry, reading), profiles::columns())),
            Table::Centrelines => written(cells(centrelines::rows(entry, reading), centrelines::columns())),
        }
    }

    /// The description, as JSON.
    pub fn description(self, catalogue: &[Measure]) -> Vec<u8> {
        described::json(self, self.columns(catalogue))
    }

    fn columns(self, catalogue: &[Measure]) -> Vec<Described> {
        match self {
            Table::Shafts => {
                let fixed = shafts::fixed().into_iter().map(Described::of);
                fixed.chain(catalogue.iter().map(Described::of_measure)).collect()
            }
            Table::Profiles => profiles::columns().into_iter().map(Described::of).collect(),
            Table::Centrelines => centrelines::columns().into_iter().map(Described::of).collect(),
        }
    }
}

/// What the cells of a column hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    /// Text.
    Word,
    /// A whole number.
    Count,
    /// A number with its unit, UCUM.
    Number(&'static str),
}

/// A column: its name, what it holds, what that means, and how a row's cell is made.
struct Column<Row> {
    name: &'static str,
    kind: Kind,
    about: &'static str,
    cell: fn(&Row) -> String,
}

const fn column<Row>(name: &'static str, kind: Kind, about: &'static str, cell: fn(&Row) -> String) -> Column<Row> {
    Column { name, kind, about, cell }
}

/// A row that tells of one shaft.
trait OfShaft {
    /// The photo that was read.
    fn entry(&self) -> &Entry;
    /// The shaft.
    fn shaft(&self) -> &Shaft;
    /// Name under which the photo's other files are kept.
    fn reading(&self) -> &str;
}

/// The columns that begin each table: which shaft of which photo.
fn of_which_shaft<Row: OfShaft>() -> [Column<Row>; 3] {
    [
        column("photo", Kind::Word, "File name of the photo, without its folder.", |row| {
            row.entry().photo.file.clone()
        }),
        column("reading", Kind::Word, "Name under which the photo's other files are kept.", |row| {
            row.reading().to_owned()
        }),
        column("shaft", Kind::Count, "Number of the shaft on its photo, from 1.", |row| row.shaft().id.to_string()),
    ]
}

/// A column as it is described.
struct Described {
    name: String,
    about: String,
    number: Option<String>,
    whole: bool,
}

impl Described {
    fn of<Row>(column: Column<Row>) -> Described {
        let number = match column.kind {
            Kind::Number(unit) => Some(unit.to_owned()),
            Kind::Word | Kind::Count => None,
        };
        Described {
            name: column.name.to_owned(),
            about: column.about.to_owned(),
            number,
            whole: column.kind == Kind::Count,
        }
    }

    fn of_measure(measure: &Measure) -> Described {
        let about = "A measurement; docs/measurements.md of the program says what it means.".to_owned();
        Described { name: column_name(measure), about, number: Some(ucum(measure.unit)), whole: false }
    }
}

fn cells<Row>(rows: Vec<Row>, columns: Vec<Column<Row>>) -> impl Iterator<Item = Vec<String>> {
    rows.into_iter().map(move |row| columns.iter().map(|column| (column.cell)(&row)).collect())
}

/// A unit of the catalogue in UCUM: what UCUM has no unit for stands in braces, which it reads as 1.
fn ucum(unit: &str) -> String {
    let part = |part: &str| match part {
        "µm" | "um" => "um".to_owned(),
        "px" => "{pixel}".to_owned(),
        "mm" | "rad" | "1" | "nm" => part.to_owned(),
        "" => "1".to_owned(),
        // Of several, one; blanks are not allowed in a code.
        words => format!("{{{}}}", words.trim_end_matches('s').replace(' ', "_")),
    };
    unit.split('/').map(part).collect::<Vec<_>>().join("/")
}

/// `width.taper` in `px/mm` is headed `width.taper [px/mm]`; a key that ends in its unit, or a ratio, stays as it is.
fn column_name(measure: &Measure) -> String {
    let suffix = format!("_{}", measure.unit.replace('µ', "u"));
    let bare = measure.unit == "1" || measure.unit.is_empty() || measure.key.ends_with(&suffix);
    if bare { measure.key.to_owned() } else { format!("{} [{}]", measure.key, measure.unit) }
}

fn number(value: Option<f64>) -> String {
    value.and_then(measurement).map_or(String::new(), |value| {
        // Tiny values would be long rows of zeros.
        if value != 0.0 && value.abs() < 1e-4 { format!("{value:e}") } else { value.to_string() }
    })
}

fn written(rows: impl IntoIterator<Item = Vec<String>>) -> Vec<u8> {
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    for row in rows {
        // Writing to memory cannot fail, and all rows have the header's number of cells.
        let _ = writer.write_record(&row);
    }
    writer.into_inner().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::{Measure, Table, number, ucum, written};

    #[test]
    fn units_stand_in_the_header() {
        let catalogue = [
            Measure { key: "width.level_px", unit: "px" },
            Measure { key: "width.taper", unit: "px/mm" },
            Measure { key: "structure.roughness", unit: "1" },
        ];
        let head = String::from_utf8(Table::Shafts.head(&catalogue)).unwrap();
        assert!(head.starts_with("photo,reading,shaft,class,"), "{head}");
        assert!(head.ends_with(",width.level_px,width.taper [px/mm],structure.roughness\r\n"), "{head}");
    }

    #[test]
    fn units_are_written_as_ucum_does() {
        let units = ["1", "µm", "px/mm", "rad/width", "widths", "noise units"];
        assert_eq!(units.map(ucum), ["1", "um", "{pixel}/mm", "rad/{width}", "{width}", "{noise_unit}"]);
    }

    #[test]
    fn commas_quotes_and_line_ends_are_quoted_as_rfc_4180_says() {
        let row = ["a,b", "say \"ah\"", "two\nlines", ""].map(str::to_owned).to_vec();
        assert_eq!(String::from_utf8(written([row])).unwrap(), "\"a,b\",\"say \"\"ah\"\"\",\"two\nlines\",\r\n");
    }

    #[test]
    fn a_missing_value_is_an_empty_cell() {
        assert_eq!(number(None), "");
        assert_eq!(number(Some(f64::NAN)), "");
        assert_eq!(number(Some(1.25)), "1.25");
        assert_eq!(number(Some(-1.5e-17)), "-1.5e-17");
    }
}
