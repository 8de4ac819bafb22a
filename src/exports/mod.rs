//! 8 · The record for other eyes: an entry in, text or bytes out. Nothing here touches a disk.

mod csv;
mod dicom;
mod from_record;
mod json;
mod kept;
mod language;
mod marked;
mod ome_tiff;
mod reasons;
mod rounded;
mod slide;
mod summary;
mod terms;
mod words;

pub use self::csv::Table;
pub use self::dicom::{DicomCase, DicomError, DicomPhoto};
pub use self::marked::{LookMark, Outlined, look_mark, marked_layer, outlined, stamped};
pub use self::ome_tiff::{OmeNotes, ome_tiff};
pub use from_record::{Format, from_record};
pub use kept::{Kept, Made};
pub use language::Language;
pub use reasons::{reasons_told, told};
pub use slide::{slide_json, slide_summary};
pub use summary::CAUTION;
pub use terms::Terms;
pub use words::{SCALE_DECIMALS, concerns_by_kind, plain_scale, ranges, starting_small};
