//! The case record: through the library and through the commands, with invented animals of Quillfeather House.

mod commands;
mod confirmed;
mod damage;
mod handed;
mod kill;
pub(crate) mod pack;
mod scale;
mod store;
pub(crate) mod world;
