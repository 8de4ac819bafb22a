//! Moving a case: a BagIt bag (RFC 8493) in a zip file with the photos, the facts and a page to read.

mod bag;
mod case_file;
mod conflicts;
mod page;
mod read;
mod unpack;
mod write;

use std::collections::BTreeMap;

use serde::Serialize;

/// What was packed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Packed {
    /// Id of the animal.
    pub animal: String,
    /// Its name.
    pub name: String,
    /// How many facts of each kind.
    pub facts: BTreeMap<String, u64>,
    /// How many photos.
    pub n_photos: u64,
}

/// What was unpacked.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Unpacked {
    /// Id of the animal.
    pub animal: String,
    /// Its name.
    pub name: String,
    /// How many facts of each kind are new here.
    pub added: BTreeMap<String, u64>,
    /// How many facts were here already.
    pub n_known: u64,
    /// What should be looked at, a sentence each.
    pub remarks: Vec<String>,
}

/// Files of the payload, inside [`bag::PAYLOAD`].
const CASE: &str = "data/case.json";
const CASE_SCHEMA: &str = "data/case.schema.json";
const INDEX: &str = "data/index.html";
const PHOTOS: &str = "data/photos/";
const EVALUATIONS: &str = "data/evaluations/";

/// The description of the facts that goes with them.
const SCHEMA_TEXT: &str = include_str!("../../../docs/case.schema.json");

/// Longest ending of a file's name that is kept in a pack.
const MAX_ENDING: usize = 5;

/// A photo's path in the bag: its digest, and the ending of the name it came with, so that other programs show it.
fn photo_path(sha256: &str, file: &str) -> String {
    let ending = file.rsplit_once('.').map(|(_, ending)| ending.to_lowercase()).unwrap_or_default();
    let fits = (1..=MAX_ENDING).contains(&ending.len()) && ending.bytes().all(|byte| byte.is_ascii_alphanumeric());
    if fits { format!("{PHOTOS}{sha256}.{ending}") } else { format!("{PHOTOS}{sha256}") }
}
