//! How large a picture says it is, from its head alone.

use std::io::Cursor;

/// Columns and rows that the head of a file states; `None` where it cannot be told. Nothing is decoded, and what is
/// stated may be a lie: good for planning, not for trust.
pub(in crate::image) fn stated_size(bytes: &[u8]) -> Option<(u32, u32)> {
    ::image::ImageReader::new(Cursor::new(bytes)).with_guessed_format().ok()?.into_dimensions().ok()
}
