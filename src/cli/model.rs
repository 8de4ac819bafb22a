//! The model that judges: the one that comes with the program, one that was grown from other shafts, or the record's
//! own, where somebody accepted one.

use std::fs;
use std::path::Path;

use super::terminal::{complain, said, shown, small};
use crate::finding::model::{check_card, is_card};
use crate::finding::{Model, model_from_bytes};
use crate::store::{OwnModel, OwnModels, record_folder, short};

/// The model that comes with the program.
const OWN: &[u8] = include_bytes!("../../models/shaft-v1.json");

/// Name of a model's card, beside the model.
const CARD: &str = "README.md";

/// The model in a file, or the program's own; or a sentence on why there is none. A card beside the file
/// (`README.md`) must describe it.
pub(super) fn model(path: Option<&Path>) -> Result<Model, String> {
    let bytes = model_bytes(path)?;
    let model = model_in(&bytes, path)?;
    let card = path.and_then(|path| fs::read_to_string(path.with_file_name(CARD)).ok());
    match (path, card) {
        (Some(path), Some(card)) if is_card(&card) => {
            let describes = check_card(&bytes, &card).map(|()| model);
            describes.map_err(|error| format!("{}: {}", shown(path), small(&error.to_string())))
        }
        _ => Ok(model),
    }
}

/// The same, whatever the card beside it says: for those who write one.
pub(super) fn model_without_card(path: Option<&Path>) -> Result<Model, String> {
    model_in(&model_bytes(path)?, path)
}

fn model_in(bytes: &[u8], path: Option<&Path>) -> Result<Model, String> {
    model_from_bytes(bytes).map_err(|error| match path {
        None => format!("the program's own model: {error}"),
        Some(path) => format!("{}: {}", shown(path), small(&error.to_string())),
    })
}

/// The bytes of the model in a file, or of the program's own.
pub(super) fn model_bytes(path: Option<&Path>) -> Result<Vec<u8>, String> {
    let Some(path) = path else { return Ok(OWN.to_vec()) };
    fs::read(path)
        .map_err(|error| format!("{}: the model cannot be read: {}; name another file", shown(path), said(&error)))
}

/// What judges readings now.
pub(super) struct Judging {
    /// The model.
    pub(super) model: Model,
    /// Where it is the record's own: what is kept of it.
    pub(super) own: Option<OwnModel>,
}

/// The model in a file where one is named; else the one that was accepted in the record in `record` (in the usual
/// place, where none is named); else the program's own. Says on standard error when it is the record's.
pub(super) fn judging(path: Option<&Path>, record: Option<&Path>) -> Result<Judging, String> {
    if path.is_some() {
        return Ok(Judging { model: model(path)?, own: None });
    }
    // Without a place for records there is no accepted model either.
    let Ok(folder) = record_folder(record) else { return Ok(Judging { model: model(None)?, own: None }) };
    let Some(own) = OwnModels::of(&folder).in_use().map_err(|error| error.to_string())? else {
        return Ok(Judging { model: model(None)?, own: None });
    };
    let model = model_from_bytes(&own.bytes).map_err(|error| {
        format!(
            "the model {} grown with your own cases: {}; go back to the program's own with \
             `pilumen train --with-record {} --back`, then grow one with your cases anew",
            short(&own.sha256),
            small(&error.to_string()),
            folder.display()
        )
    })?;
    complain(&format!("pilumen: judging by the model grown with your own confirmed cases, digest {}", own.sha256));
    Ok(Judging { model, own: Some(own) })
}
