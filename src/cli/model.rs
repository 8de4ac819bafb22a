//! The model that judges: the one that comes with the program, or one that was grown from other shafts.

use std::fs;
use std::path::Path;

use super::terminal::{said, shown, small};
use crate::finding::{Model, model_from_bytes};

/// The model that comes with the program.
const OWN: &[u8] = include_bytes!("../../models/shaft-v1.json");

/// The model in a file, or the program's own; or a sentence on why there is none.
pub(super) fn model(path: Option<&Path>) -> Result<Model, String> {
    let bytes = model_bytes(path)?;
    model_from_bytes(&bytes).map_err(|error| match path {
        None => format!("the program's own model: {error}"),
        Some(path) => format!("{}: {}", shown(path), small(&error.to_string())),
    })
}

/// The bytes of the same.
pub(super) fn model_bytes(path: Option<&Path>) -> Result<Vec<u8>, String> {
    let Some(path) = path else { return Ok(OWN.to_vec()) };
    fs::read(path)
        .map_err(|error| format!("{}: the model cannot be read: {}; name another file", shown(path), said(&error)))
}
