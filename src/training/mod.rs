//! Labelled shafts to a model file, and what the model is worth on scenes it never saw.
//!
//! Reads `features` for the catalogue and `finding` for what a model is; nothing of the program reads it but the
//! commands that train and appraise.

pub mod appraisal;

pub mod bins;

pub mod calibrate;

pub mod card;

pub mod check;

pub mod comparison;

pub mod folds;

pub mod boost;

pub mod groups;

pub mod grow;

pub mod one_photo;

pub mod pairing;

pub mod prototypes;

mod rebalance;

pub mod scenes;

pub mod strays;

mod split;

pub mod table;

pub mod tracing;

pub use appraisal::{Appraisal, Judged, appraise_looks, judged};

pub use groups::{LeftOut, leave_one_group_out};

pub use grow::{GrowError, GrowSettings, grow};

pub use table::{LabelledRow, Table};

#[cfg(test)]
mod invented;

#[cfg(test)]
mod grow_tests;
