//! The table of shafts: one row a shaft, units in the header, RFC 4180 with line ends as that says.
//!
//! A value that could not be measured is an empty cell.

use csv::{Terminator, WriterBuilder};

use super::from_record::{Entry, Look, Measure, Shaft};
use super::rounded::{measurement, probabilities};

/// The header, with its line end. `catalogue` names the measurements that follow the fixed columns.
pub fn shafts_head(catalogue: &[Measure]) -> Vec<u8> {
    let fixed = FIXED.iter().map(|column| column.name.to_owned());
    written([fixed.chain(catalogue.iter().map(column_name)).collect()])
}

/// The rows of one photo's shafts, each with its line end; nothing for a photo without shafts.
///
/// `reading` is the name under which the photo's other files are kept: two photos of one name stay apart by it.
pub fn shafts_rows(entry: &Entry, reading: &str) -> Vec<u8> {
    written(entry.shafts.iter().map(|shaft| {
        let row = Row { entry, shaft, reading };
        let fixed = FIXED.iter().map(|column| (column.cell)(&row));
        fixed.chain(shaft.measures.iter().map(|&value| number(value))).collect::<Vec<String>>()
    }))
}

/// The names of the fixed columns, in their order.
pub(super) const FIXED_NAMES: [&str; FIXED.len()] = {
    let mut names = [""; FIXED.len()];
    let mut i = 0;
    while i < FIXED.len() {
        names[i] = FIXED[i].name;
        i += 1;
    }
    names
};

struct Row<'a> {
    entry: &'a Entry,
    shaft: &'a Shaft,
    reading: &'a str,
}

struct Column {
    name: &'static str,
    cell: fn(&Row) -> String,
}

const fn column(name: &'static str, cell: fn(&Row) -> String) -> Column {
    Column { name, cell }
}

/// The columns before the catalogue's measurements. Widths come in pixels and micrometres, lengths as well; what
/// has no unit in its name is a word, a count or a share.
const FIXED: &[Column] = &[
    column("photo", |row| row.entry.photo.file.clone()),
    column("reading", |row| row.reading.to_owned()),
    column("shaft", |row| row.shaft.id.to_string()),
    column("class", |row| row.shaft.class().to_owned()),
    column("probability_infected", |row| probability(row, Look::Infected)),
    column("probability_normal", |row| probability(row, Look::Normal)),
    column("probability_coated", |row| probability(row, Look::Coated)),
    column("probability_fibre", |row| probability(row, Look::Fibre)),
    column("plausible", |row| row.shaft.plausible.iter().map(|look| look.code()).collect::<Vec<_>>().join(" ")),
    column("novelty", |row| number(Some(row.shaft.novelty))),
    column("comparison", |row| if row.shaft.comparison { "yes" } else { "no" }.to_owned()),
    column("length_px", |row| number(Some(row.shaft.length_px))),
    column("length_um", |row| number(row.entry.photo.scale.map(|scale| scale.um_from_px(row.shaft.length_px)))),
    column("width_px", |row| number(row.shaft.width.median_px)),
    column("width_sd_px", |row| number(row.shaft.width.sd_px)),
    column("width_spread_px", |row| number(row.shaft.width.spread_px)),
    column("width_um", |row| number(row.shaft.width.median_um)),
    column("width_sd_um", |row| number(row.shaft.width.sd_um)),
    column("width_stations", |row| row.shaft.width.n_measured.to_string()),
    column("base_end", |row| row.shaft.base.to_owned()),
    column("tip_end", |row| row.shaft.tip.to_owned()),
    column("orientation", |row| row.shaft.orientation.to_owned()),
    column("glow_zone", |row| row.shaft.zone.to_owned()),
    column("glow_fraction", |row| number(Some(row.shaft.fluorescing_share))),
    column("glow_contrast", |row| number(row.shaft.glow.contrast)),
    column("concerns", |row| row.shaft.concerns.iter().map(|c| c.code()).collect::<Vec<_>>().join(" ")),
];

fn probability(row: &Row, look: Look) -> String {
    let at = Look::ALL.iter().position(|&known| known == look).unwrap_or(0);
    probabilities(row.shaft.probability)[at].to_string()
}

/// `width.taper` in `px/mm` is headed `width.taper [px/mm]`; a key that ends in its unit, or a ratio, stays as it is.
fn column_name(measure: &Measure) -> String {
    let suffix = format!("_{}", measure.unit.replace('µ', "u"));
    let bare = measure.unit == "1" || measure.unit.is_empty() || measure.key.ends_with(&suffix);
    if bare { measure.key.to_owned() } else { format!("{} [{}]", measure.key, measure.unit) }
}

/// A number as a cell shows it; nothing when it is absent.
pub(super) fn number(value: Option<f64>) -> String {
    value.and_then(measurement).map_or(String::new(), |value| {
        // Tiny values would be long rows of zeros.
        if value != 0.0 && value.abs() < 1e-4 { format!("{value:e}") } else { value.to_string() }
    })
}

/// Rows as bytes, each with its line end.
pub(super) fn written(rows: impl IntoIterator<Item = Vec<String>>) -> Vec<u8> {
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    for row in rows {
        // Writing to memory cannot fail, and all rows have the header's number of cells.
        let _ = writer.write_record(&row);
    }
    writer.into_inner().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::{Measure, number, shafts_head, written};

    #[test]
    fn units_stand_in_the_header() {
        let catalogue = [
            Measure { key: "width.level_px", unit: "px" },
            Measure { key: "width.taper", unit: "px/mm" },
            Measure { key: "structure.roughness", unit: "1" },
        ];
        let head = String::from_utf8(shafts_head(&catalogue)).unwrap();
        assert!(head.starts_with("photo,reading,shaft,class,"), "{head}");
        assert!(head.ends_with(",width.level_px,width.taper [px/mm],structure.roughness\r\n"), "{head}");
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
