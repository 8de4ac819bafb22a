//! Cases confirmed by culture, out of a record: which slide has an answer, which shafts have a label, and how far the
//! program's findings agree.
//!
//! Which culture answers for which slide the record says ([`answered`](crate::store::answered)); `labels` says which
//! shafts are confirmed to be what, `agreement` counts animals. Nothing is written. The rules stand in
//! docs/confirmed.md.

pub mod agreement;

pub mod labels;

pub use agreement::{Agreement, FEWEST_TO_TELL, agreement};

pub use labels::{Confirmed, ConfirmedError, FEWEST_OF_EACH, confirmed};
