//! Pilumen reads photos of hair shafts on tape under a UV lamp.

pub mod units;

pub mod concerns;

pub mod image;

pub mod field;

pub mod shafts;

pub mod profiles;

pub mod features;

pub mod finding;

pub mod sim;

pub mod cli;
pub mod training;

pub mod maths;
