//! The one test binary: what it holds, in the order of reading.

mod cli;
mod docs;
mod exports;
mod formats;
mod image;
mod record;
mod reference_forest;
mod report;
mod sample;
mod schema;
mod tidy;
mod web;
