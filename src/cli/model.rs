//! The model that judges: the one that comes with the program, or one that was grown from other shafts.

use std::fs;
use std::path::Path;

use super::terminal::{said, shown, small};
use crate::finding::{Model, model_from_bytes};

/// The model that comes with the program.
const OWN: &[u8] = include_bytes!("../../models/shaft-v1.json");

/// The model in a file, or the program's own; or a sentence on why there is none.
pub(super) fn model(path: Option<&Path>) -> Result<Model, String> {
    let Some(path) = path else {
        return model_from_bytes(OWN).map_err(|error| format!("the program's own model: {error}"));
    };
    let bytes = fs::read(path)
        .map_err(|error| format!("{}: the model cannot be read: {}; name another file", shown(path), said(&error)))?;
    model_from_bytes(&bytes).map_err(|error| format!("{}: {}", shown(path), small(&error.to_string())))
}
