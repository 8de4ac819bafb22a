//! The desk: one page on this machine where everything is done, from a dropped photo to the case.
//!
//! [`Desk::open`] opens a record for it, [`app`] is the whole desk as a function that tests call without a port, and
//! [`serve()`] puts it on one. Nothing is fetched from elsewhere: pages, scripts and words are in the program.
//!
//! What the desk believes: nothing a browser says until its Host, its Origin, its cookie and, for whatever changes
//! something, its token were held against what they must be (`guard`).
//!
//! **Where a new page goes**: one line in `pages::PAGES` and, if it asks for something, one line in `api::all`.

mod answer;
mod api;
mod desk;
mod finding_words;
mod guard;
mod learning;
mod pages;
mod queue;
mod rulings;
mod scaling;
mod serve;
mod spanish;
mod standing;
mod words;

pub use desk::{Asked, Desk};
pub use guard::Names;
pub use pages::PAGES;
pub use serve::{ServeError, app, serve};
pub use words::words;
