//! The case record: through the library and through the commands, with invented animals of Quillfeather House.

mod store;
mod world;
