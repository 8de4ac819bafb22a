//! Learning to see: an atlas of looks, practice on drawn photos, and how far a reader can be trusted.
//!
//! Plates and practice photos are drawn by the simulator, so what is true of them is known; the program reads them as
//! it reads any photo. Photos of a house's own cases may go with them, where the house agrees ([`OwnPhoto`]). Nothing here touches a disk or a clock: `cli` and `web` do.
//!
//! **What practice is drawn from**: the ranges of [`Ranges::practice`](crate::sim::Ranges::practice), one for each
//! [`Level`], with salts of their own (1001 to 1003). No scene of them is a scene of training, tuning or appraisal.

mod answer;
mod atlas;
mod callouts;
mod days;
mod drawn;
mod gather;
mod item;
mod own;
mod pages;
mod plates;
mod print;
mod results;
mod sheet;
mod shows;
mod sources;
mod spacing;
mod standing;
mod strip;
mod svg;
mod words;

pub use answer::{Answer, Call, End, Marked, MarkedShaft, Place, Truth};
pub use atlas::{Atlas, Home, atlas_files};
pub use callouts::{Callout, Part, callouts};
pub use days::{days_of_infection, days_of_recovery, hair_of_day};
pub use gather::{Between, between_readers, gathered_csv};
pub use item::{Asked, Item, ItemName, Level, Prepared};
pub use own::{OwnPhoto, OwnShaft, own_name};
pub use plates::{Group, Plate, plates};
pub use print::{Asking, PrintedSeries, printed_series, series_files};
pub use results::{RESULTS_SCHEMA, Results, ResultsError, results_line};
pub use sheet::{FilledError, blank_sheet, filled_sheet};
pub use spacing::{Next, next_item};
pub use standing::{Agreement, Share, Standing, standing};
pub use words::{Language, Phrase};
