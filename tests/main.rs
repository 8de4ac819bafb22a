//! The one test binary.

mod image;
//! All tests that use the program from outside, in one binary.

mod reference_forest;
