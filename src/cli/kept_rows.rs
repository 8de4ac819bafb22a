//! Each photo's rows of the tables, put by: so that a run that goes on can make whole tables without reading again.
//!
//! The evaluation object is rounded and leaves out the outline, so that rows cannot be made of it. They lie in a hidden
//! folder beside the results, one file a photo, and name the object they belong to by its digest.

use super::folder::Folder;
use crate::exports::Table;
use crate::pipeline::digest;

/// The hidden folder.
const PLACE: &str = ".pilumen";

/// Name and version of the form.
const FORM: &str = "pilumen/rows/1";

/// A photo's rows, in the order of [`Table::ALL`].
pub(super) type Rows = [Vec<u8>; Table::ALL.len()];

/// Where a photo's rows lie, from the folder of results.
pub(super) fn place_of(name: &str) -> String {
    format!("{PLACE}/{name}.rows")
}

/// Makes room for rows.
pub(super) fn make_place(folder: &Folder) -> std::io::Result<()> {
    std::fs::create_dir_all(folder.path().join(PLACE))
}

/// Rows as a file's bytes; `object` is the evaluation object they belong to.
pub(super) fn bytes_of(rows: &Rows, object: &[u8]) -> Vec<u8> {
    let lengths: Vec<String> = rows.iter().map(|rows| rows.len().to_string()).collect();
    let mut bytes = format!("{FORM} {} {}\n", digest(object), lengths.join(" ")).into_bytes();
    rows.iter().for_each(|rows| bytes.extend(rows));
    bytes
}

/// The rows in a file's bytes; `None` when they are not whole or belong to another object.
pub(super) fn rows_of(bytes: &[u8], object: &[u8]) -> Option<Rows> {
    let end = bytes.iter().position(|byte| *byte == b'\n')?;
    let head: Vec<&str> = std::str::from_utf8(&bytes[..end]).ok()?.split(' ').collect();
    let [form, of, lengths @ ..] = head.as_slice() else { return None };
    if *form != FORM || *of != digest(object) || lengths.len() != Table::ALL.len() {
        return None;
    }
    let mut rest = &bytes[end + 1..];
    let mut rows = Rows::default();
    for (rows, length) in rows.iter_mut().zip(lengths) {
        let (own, after) = rest.split_at_checked(length.parse().ok()?)?;
        *rows = own.to_vec();
        rest = after;
    }
    rest.is_empty().then_some(rows)
}

#[cfg(test)]
mod tests {
    use super::{bytes_of, rows_of};

    #[test]
    fn rows_come_back_whole_or_not_at_all() {
        let rows = [b"a,b\r\n\"c\nd\",e\r\n".to_vec(), Vec::new(), b"x\r\n".to_vec()];
        let bytes = bytes_of(&rows, b"{}");
        assert_eq!(rows_of(&bytes, b"{}"), Some(rows));
        assert_eq!(rows_of(&bytes, b"[]"), None, "rows of another object");
        for cut in 0..bytes.len() {
            assert_eq!(rows_of(&bytes[..cut], b"{}"), None, "cut at {cut}");
        }
        let longer = [bytes.as_slice(), b"more"].concat();
        assert_eq!(rows_of(&longer, b"{}"), None);
    }
}
