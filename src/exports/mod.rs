//! 8 · The record for other eyes: an entry in, text or bytes out. Nothing here touches a disk.

mod csv;
mod from_record;
mod json;
mod kept;
mod marked;
mod rounded;
mod summary;
mod words;

pub use self::csv::{shafts_head, shafts_rows};
pub use from_record::{Format, from_record};
pub use kept::{Kept, Made};
pub use summary::CAUTION;
pub use words::{SCALE_DECIMALS, uncertain};
