//! DOOR: an entry to what is filed or shown of it; picks the exporter.

use super::{json, marked, summary};
use crate::maths::picture::Picture;

pub(super) use crate::maths::point::Point;
pub(super) use crate::record::{
    CULTURE, CaseFacts, Entry, Glow, Look, Measure, Nearest, OnPhotos, OneSlide, Reason, Sex, Shaft, Station,
    UNDETERMINED_WORDS, VisiblePhoto, Width,
};

/// What one photo's entry can be made into. The table of shafts is made for many photos: [`Table`](super::Table).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// The evaluation object, one line of JSON without a line end.
    Json,
    /// The photo with the shafts marked and a legend, as PNG.
    Marked,
    /// A few lines for a person, each with its line end.
    Summary,
}

impl Format {
    /// All formats.
    pub const ALL: [Format; 3] = [Format::Json, Format::Marked, Format::Summary];

    /// How the names of such files end, with the dot.
    pub fn file_ending(self) -> &'static str {
        match self {
            Format::Json => ".json",
            Format::Marked => ".marked.png",
            Format::Summary => ".txt",
        }
    }
}

/// The entry in a format. `picture` shows the photo that was read; only [`Format::Marked`] looks at it, and gives
/// no bytes without it.
pub fn from_record(entry: &Entry, picture: Option<&Picture>, format: Format) -> Vec<u8> {
    match format {
        Format::Json => json::evaluation(entry).into_bytes(),
        Format::Marked => picture.map(|picture| marked::marked(entry, picture)).unwrap_or_default(),
        Format::Summary => summary::summary(entry).into_bytes(),
    }
}
