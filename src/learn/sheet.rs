//! The answer sheet of a printed series as a table: blank to fill in, and filled in to results.

use super::answer::{Answer, Call, End, Marked, Place};
use super::item::{Item, ItemName, shortened};

/// The columns.
const HEAD: [&str; 5] = ["item", "shaft", "look", "where", "root_end"];

/// Why a filled sheet cannot be used. Lines count from 1, the head included.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FilledError {
    /// It is no such table.
    #[error(
        "this is no answer sheet of a series; fill in the file answers.csv that came with it, and keep its first line"
    )]
    Head,
    /// A line cannot be read.
    #[error("line {line} of the answer sheet: {said}")]
    Line {
        /// Which.
        line: usize,
        /// Why.
        said: String,
    },
    /// Some photo's shafts are not all there.
    #[error("photo {item}: its answers are not complete; it has {n} shafts, each on one line")]
    Incomplete {
        /// Which photo.
        item: String,
        /// How many shafts it has.
        n: usize,
    },
}

/// A blank sheet for these items, CSV.
pub fn blank_sheet(items: &[Item]) -> Vec<u8> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Writing to memory cannot fail.
    let _ = writer.write_record(HEAD);
    for item in items {
        for shaft in &item.shafts {
            let _ = writer.write_record([&item.name.to_string(), &shaft.number.to_string(), "", "", ""]);
        }
    }
    writer.into_inner().unwrap_or_default()
}

/// What a filled sheet says, beside what is true of the items it names. A photo whose lines are all blank was not done and
/// is left out.
///
/// # Errors
/// When it cannot be read; the sentence says where.
pub fn filled_sheet(bytes: &[u8]) -> Result<Vec<Marked>, FilledError> {
    // Spreadsheets of many countries write semicolons, some write a mark of the encoding first.
    let bytes = bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(bytes);
    let first = bytes.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let delimiter = if first.contains(&b';') { b';' } else { b',' };
    let mut reader =
        csv::ReaderBuilder::new().delimiter(delimiter).flexible(true).trim(csv::Trim::All).from_reader(bytes);
    let head = reader.headers().map_err(|_| FilledError::Head)?.clone();
    if head.iter().take(HEAD.len()).ne(HEAD) {
        return Err(FilledError::Head);
    }
    let mut photos: Vec<(ItemName, Vec<Answer>)> = Vec::new();
    for (index, record) in reader.records().enumerate() {
        let line = index + 2;
        let at_line = |said: String| FilledError::Line { line, said };
        let record = record.map_err(|_| at_line("it cannot be read as text; save the sheet as CSV in UTF-8".into()))?;
        let cell = |i: usize| record.get(i).unwrap_or_default();
        if record.iter().all(str::is_empty) || record.iter().skip(2).all(str::is_empty) {
            continue;
        }
        let name: ItemName = cell(0).parse().map_err(at_line)?;
        let shaft =
            cell(1).parse().map_err(|_| at_line(format!("\"{}\" is no number of a shaft", shortened(cell(1)))))?;
        let answer = Answer {
            shaft,
            look: look(cell(2)).ok_or_else(|| at_line(unknown(cell(2), "a look", "1 to 5")))?,
            place: one_of(cell(3), place).map_err(|text| at_line(unknown(&text, "a place", "1 to 6")))?,
            base: one_of(cell(4), end).map_err(|text| at_line(unknown(&text, "an end", "A, B or ?")))?,
        };
        match photos.iter_mut().find(|(known, _)| *known == name) {
            Some((_, answers)) => answers.push(answer),
            None => photos.push((name, vec![answer])),
        }
    }
    photos
        .into_iter()
        .map(|(name, mut answers)| {
            let incomplete = |n: usize| FilledError::Incomplete { item: name.to_string(), n };
            let item = Item::drawn(name).ok_or_else(|| incomplete(0))?;
            answers.sort_by_key(|answer| answer.shaft);
            let shafts = item.marked(&answers).ok_or_else(|| incomplete(item.shafts.len()))?;
            Ok(Marked { item: name.to_string(), at: String::new(), back: false, shafts })
        })
        .collect()
}

fn unknown(text: &str, what: &str, known: &str) -> String {
    format!("\"{}\" is not {what}; write {known}", shortened(text))
}

fn one_of<T>(text: &str, read: impl Fn(&str) -> Option<T>) -> Result<Option<T>, String> {
    if text.is_empty() { Ok(None) } else { read(text).map(Some).ok_or_else(|| text.to_owned()) }
}

/// By its number on the printed sheet, or by its name in files.
fn look(text: &str) -> Option<Call> {
    (1..).zip(Call::ALL).find(|(n, call)| text == n.to_string() || text == call.code()).map(|(_, call)| call)
}

fn place(text: &str) -> Option<Place> {
    (1..).zip(Place::ALL).find(|(n, place)| text == n.to_string() || text == place.code()).map(|(_, place)| place)
}

fn end(text: &str) -> Option<End> {
    match text.to_ascii_lowercase().as_str() {
        "a" => Some(End::A),
        "b" => Some(End::B),
        "?" | "unknown" => Some(End::Unknown),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::{FilledError, blank_sheet, filled_sheet};
    use crate::learn::answer::{Call, End, Place};
    use crate::learn::item::Item;

    fn items() -> Vec<Item> {
        ["p1-1", "p1-2"].map(|name| Item::drawn(name.parse().unwrap()).unwrap()).to_vec()
    }

    #[test]
    fn a_blank_sheet_filled_with_the_truth_is_all_right() {
        let items = items();
        let blank = String::from_utf8(blank_sheet(&items)).unwrap();
        let mut filled = String::from("\u{feff}item;shaft;look;where;root_end\r\n");
        for item in &items {
            for shaft in &item.shafts {
                let look = 1 + Call::ALL.iter().position(|call| *call == shaft.truth.look).unwrap();
                let place = shaft.truth.place.map_or(String::new(), |place| {
                    (1 + Place::ALL.iter().position(|one| *one == place).unwrap()).to_string()
                });
                let base = shaft.truth.base.map_or("", |end| if end == End::A { "a" } else { "B" });
                filled += &format!("{}; {} ;{look};{place};{base}\r\n", item.name, shaft.number);
            }
        }
        assert_eq!(blank.lines().count(), filled.lines().count());
        let marked = filled_sheet(filled.as_bytes()).unwrap();
        assert_eq!(marked.len(), 2);
        for shaft in marked.iter().flat_map(|marked| &marked.shafts) {
            assert!(
                shaft.look_is_right() && shaft.place_is_right() != Some(false) && shaft.base_is_right() != Some(false)
            );
        }
        assert_eq!(filled_sheet(blank.as_bytes()).unwrap(), [], "a blank sheet was not done");
    }

    #[test]
    fn what_cannot_be_read_is_told_with_its_line() {
        let said = |text: &str| filled_sheet(text.as_bytes()).unwrap_err().to_string();
        assert_eq!(filled_sheet(b"a,b\n1,2\n"), Err(FilledError::Head));
        assert_eq!(filled_sheet(b""), Err(FilledError::Head));
        let head = "item,shaft,look,where,root_end\n";
        assert!(
            said(&format!("{head}p9-1,1,1,1,A\n"))
                .starts_with("line 2 of the answer sheet: \"p9-1\" names no practice photo")
        );
        assert!(said(&format!("{head}p1-1,x,1,1,A\n")).contains("\"x\" is no number of a shaft"));
        assert!(said(&format!("{head}p1-1,1,7,1,A\n")).contains("\"7\" is not a look; write 1 to 5"));
        assert!(said(&format!("{head}p1-1,1,1,9,A\n")).contains("is not a place"));
        assert!(said(&format!("{head}p1-1,1,1,1,C\n")).contains("is not an end"));
        assert!(
            said(&format!("{head}p1-1,1,1,1,A\np1-1,1,1,1,A\n")).contains("photo p1-1: its answers are not complete")
        );
        assert!(filled_sheet(b"item,shaft,look,where,root_end\n\xff\xfe,1,1,,\n").is_err());
    }
}
