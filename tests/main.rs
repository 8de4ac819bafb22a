//! The one test binary: what it holds, in the order of reading.

mod cli;
mod docs;
mod exports;
mod folder;
mod image;
mod reference_forest;
mod ruling;
mod sample;
mod scale;
mod schema;
mod setups;
mod tidy;
