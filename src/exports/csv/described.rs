//! The description of a table as CSVW: what each column means, its datatype, its unit in UCUM.

use serde_json::{Value, json};

use super::{Described, Table};

/// Where a unit's code is found, QUDT's property for UCUM codes; CSVW lets any address name a property.
const UCUM_CODE: &str = "http://qudt.org/schema/qudt/ucumCode";

/// The description as JSON.
pub(super) fn json(table: Table, columns: Vec<Described>) -> Vec<u8> {
    let columns: Vec<Value> = columns.into_iter().enumerate().map(|(i, described)| column(i, described)).collect();
    let description = json!({
        "@context": ["http://www.w3.org/ns/csvw", { "@language": "en" }],
        "url": table.file(),
        "dc:title": match table {
            Table::Shafts => "Hair shafts, one row each",
            Table::Profiles => "Width and fluorescence along hair shafts, one row a station",
            Table::Centrelines => "Centrelines of hair shafts, one row a point",
        },
        "dc:description": "Read by Pilumen from photos under a UV lamp. Supports a decision, never makes one; send a \
                           fungal culture. An empty cell was not measured.",
        "dialect": { "encoding": "utf-8", "lineTerminators": ["\r\n"], "header": true },
        "tableSchema": { "columns": columns, "primaryKey": key(table) },
    });
    // Nothing in it can fail to be written.
    let mut bytes = serde_json::to_vec_pretty(&description).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}

/// What no two rows share.
fn key(table: Table) -> Vec<&'static str> {
    match table {
        Table::Shafts => vec!["reading", "shaft"],
        Table::Profiles => vec!["reading", "shaft", "station"],
        Table::Centrelines => vec!["reading", "shaft", "point"],
    }
}

fn column(index: usize, described: Described) -> Value {
    let mut column = json!({
        // A name of CSVW must be fit for an address; the title is what stands in the header.
        "name": fit_for_an_address(&described.name),
        "titles": described.name,
        "dc:description": described.about,
    });
    let key_word = index < 4;
    if described.whole {
        column["datatype"] = json!({ "base": "integer", "minimum": if key_word { 1 } else { 0 } });
        column["required"] = json!(true);
    } else if let Some(unit) = described.number {
        column["datatype"] = json!("double");
        column[UCUM_CODE] = json!(unit);
    } else {
        column["datatype"] = json!("string");
    }
    column
}

fn fit_for_an_address(name: &str) -> String {
    // Dots stay: `glow.contrast` of the catalogue is not `glow_contrast`.
    let plain = name.chars().map(|c| if c.is_ascii_alphanumeric() || c == '.' { c } else { '_' }).collect::<String>();
    plain.trim_matches('_').to_owned()
}

#[cfg(test)]
mod tests {
    use super::super::Table;
    use crate::exports::from_record::Measure;

    #[test]
    fn every_column_of_the_header_is_described_in_order() {
        let all =
            crate::features::catalogue::CATALOGUE.iter().map(|entry| Measure { key: entry.key, unit: entry.unit });
        let catalogue: Vec<Measure> = all.chain([Measure { key: "width.taper_made_up", unit: "px/mm" }]).collect();
        for table in Table::ALL {
            let description: serde_json::Value = serde_json::from_slice(&table.description(&catalogue)).unwrap();
            let columns = description["tableSchema"]["columns"].as_array().unwrap();
            let titles: Vec<&str> = columns.iter().map(|column| column["titles"].as_str().unwrap()).collect();
            let head = String::from_utf8(table.head(&catalogue)).unwrap();
            assert_eq!(titles, head.trim_end().split(',').collect::<Vec<_>>(), "{table:?}");
            let names: std::collections::HashSet<&str> =
                columns.iter().map(|column| column["name"].as_str().unwrap()).collect();
            assert_eq!(names.len(), titles.len(), "{table:?}: names differ");
            for column in columns.iter().filter(|column| column["datatype"] == "double") {
                let unit = column[super::UCUM_CODE].as_str().unwrap();
                assert!(!unit.is_empty() && !unit.contains(' '), "{column}");
                let title = column["titles"].as_str().unwrap();
                let expected = match title {
                    t if t.ends_with("_um") => "um",
                    t if t.ends_with("_px") => "{pixel}",
                    t if t.ends_with("[px/mm]") => "{pixel}/mm",
                    t if t.ends_with(']') => continue,
                    _ => "1",
                };
                assert_eq!(unit, expected, "{title}");
            }
            for key in description["tableSchema"]["primaryKey"].as_array().unwrap() {
                assert!(names.contains(key.as_str().unwrap()));
            }
        }
    }
}
