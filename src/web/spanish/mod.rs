//! What the record and the program say to people, in Spanish, for the desk. What the record says in English it says
//! itself; a sentence without Spanish words fails a test or the compiler.

mod due;
mod refused;

mod sentences;

pub(super) use due::{due, source};
pub(super) use refused::refused;
