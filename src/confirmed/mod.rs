//! Cases confirmed by culture, out of a record: which slide has an answer, which shafts have a label, and how far the
//! program's findings agree.
//!
//! The rules stand in docs/confirmed.md and here in code: `answers` says which culture answers for which slide,
//! `labels` which shafts are confirmed to be what, `agreement` counts animals. Nothing is written.

pub mod agreement;

pub mod answers;

pub mod labels;

pub use agreement::{Agreement, FEWEST_TO_TELL, agreement};

pub use answers::{Answered, Outcome, Unclear, answered};

pub use labels::{Confirmed, ConfirmedError, FEWEST_OF_EACH, confirmed};
