//! A kept evaluation object read again: whether it still holds, and its rows of the table of shafts.
//!
//! So a backlog that was broken off goes on where it was, without reading photos twice.

use serde_json::Value;

use super::csv::{FIXED_NAMES, number, written};
use super::json::SCHEMA;

/// What must be the same for a kept evaluation to hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Made<'a> {
    /// File name of the photo without its folder.
    pub file: &'a str,
    /// Digest of the photo's bytes.
    pub sha256: &'a str,
    /// Version of the program.
    pub version: &'a str,
    /// Digest of the model.
    pub model_sha256: &'a str,
    /// Name of the setup.
    pub setup: Option<&'a str>,
    /// What the user set, by name.
    pub settings: &'a [(&'static str, f64)],
}

/// A kept evaluation object.
#[derive(Clone, Debug)]
pub struct Kept {
    object: Value,
}

impl Kept {
    /// The object in the bytes of a file; `None` when there is none of this version, or it was made otherwise.
    pub fn of(bytes: &[u8], made: &Made) -> Option<Kept> {
        let object: Value = serde_json::from_slice(bytes).ok()?;
        let (photo, program) = (&object["photo"], &object["program"]);
        let settings = program["settings"].as_object()?;
        let as_set = settings.len() == made.settings.len()
            && made.settings.iter().all(|(name, value)| settings.get(*name).and_then(Value::as_f64) == Some(*value));
        let holds = object["schema"] == SCHEMA
            && photo["file"] == made.file
            && photo["sha256"] == made.sha256
            && photo["setup"].as_str() == made.setup
            && program["version"] == made.version
            && program["model_sha256"] == made.model_sha256
            && object["shafts"].is_array()
            && as_set;
        holds.then_some(Kept { object })
    }

    /// How many shafts it holds.
    pub fn n_shafts(&self) -> usize {
        self.object["shafts"].as_array().map_or(0, Vec::len)
    }

    /// The rows of its shafts in the table, as they were when it was made; `measures` are the keys of the catalogue in
    /// their order, `reading` the name under which it is kept.
    pub fn rows<'a>(&self, measures: impl Iterator<Item = &'a str> + Clone, reading: &str) -> Vec<u8> {
        let shafts = self.object["shafts"].as_array().map(Vec::as_slice).unwrap_or_default();
        written(shafts.iter().map(|shaft| {
            let fixed = FIXED_NAMES.iter().map(|name| self.cell(shaft, name, reading));
            let measured = measures.clone().map(|key| number(shaft["features"][key]["value"].as_f64()));
            fixed.chain(measured).collect::<Vec<String>>()
        }))
    }

    fn cell(&self, shaft: &Value, column: &str, reading: &str) -> String {
        let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
        let float = |value: &Value| number(value.as_f64());
        let (width, glow, ends) = (&shaft["width"], &shaft["glow"], &shaft["ends"]);
        match column {
            "photo" => text(&self.object["photo"]["file"]),
            "reading" => reading.to_owned(),
            "shaft" => shaft["id"].to_string(),
            "class" => text(&shaft["class"]),
            "plausible" => words(&shaft["plausible"], |one| one),
            "novelty" => float(&shaft["novelty"]),
            "comparison" => if shaft["comparison"] == true { "yes" } else { "no" }.to_owned(),
            "length_px" => float(&shaft["length_px"]),
            "length_um" => float(&shaft["length_um"]),
            "width_px" => float(&width["median_px"]),
            "width_sd_px" => float(&width["sd_px"]),
            "width_spread_px" => float(&width["spread_px"]),
            "width_um" => float(&width["median_um"]),
            "width_sd_um" => float(&width["sd_um"]),
            "width_stations" => width["stations"].to_string(),
            "base_end" => text(&ends["base"]),
            "tip_end" => text(&ends["tip"]),
            "orientation" => text(&ends["orientation"]),
            "glow_zone" => text(&glow["zone"]),
            "glow_fraction" => float(&glow["fraction"]),
            "glow_contrast" => float(&glow["contrast"]),
            "concerns" => words(&shaft["concerns"], |one| &one["code"]),
            _ => match column.strip_prefix("probability_") {
                Some(look) => {
                    shaft["probability"][look].as_f64().map_or(String::new(), |probability| probability.to_string())
                }
                // A column that this does not know would be seen by the test that holds both tables equal.
                None => String::new(),
            },
        }
    }
}

fn words(list: &Value, word: impl Fn(&Value) -> &Value) -> String {
    let list = list.as_array().map(Vec::as_slice).unwrap_or_default();
    list.iter().filter_map(|one| word(one).as_str()).collect::<Vec<_>>().join(" ")
}
