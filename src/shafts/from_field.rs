//! DOOR: a field to the shafts in it.

use super::{Reject, Shaft};
use crate::concerns::Concern;
use crate::field::Field;

/// The shafts of one photo, and what was held to be none. Keeps its field.
#[derive(Clone, Debug)]
pub struct Shafts {
    /// The field they were found in.
    pub field: Field,
    /// The shafts, longest first.
    pub shafts: Vec<Shaft>,
    /// Candidates that are no shaft, with the reason.
    pub rejects: Vec<Reject>,
    /// What a person should know.
    pub concerns: Vec<Concern>,
}

/// What a user may set of this stage.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Settings {}

/// Finds the shafts of a field.
pub fn from_field(field: Field, settings: &Settings) -> Shafts {
    let _ = (field, settings);
    unimplemented!("being written")
}
