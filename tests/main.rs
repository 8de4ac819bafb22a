//! The one test binary.

mod image;
