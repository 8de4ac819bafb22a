//! What the commands that read photos and write papers ask alike.

use super::typed::{day, number};
use std::path::PathBuf;

use jiff::ZonedDateTime;
use jiff::civil::Date;

use crate::exports::Language;

/// How photos are read for a paper, and what it says of itself.
#[derive(clap::Args)]
pub(super) struct MadeOptions {
    /// Language of the report: en or es
    #[arg(long, default_value_t = Language::English)]
    pub(super) language: Language,

    /// Day it is made on [default: today]
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    made_on: Option<Date>,

    /// Micrometres per pixel, measured once with a stage micrometer for this objective and camera
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = number)]
    pub(super) um_per_px: Option<f64>,

    /// Judge by this model instead of the one in use: the program's own, or the one accepted in your record
    #[arg(long, value_name = "FILE")]
    pub(super) model: Option<PathBuf>,
}

impl MadeOptions {
    /// The day it is made on.
    pub(super) fn made_on(&self) -> Date {
        self.made_on.unwrap_or_else(|| ZonedDateTime::now().date())
    }
}
