//! A shaft laid out straight for people to look at: from its base (or first point) on the left.

use crate::maths::picture::Picture;
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;
use crate::maths::straight::straightened;
use crate::sim::Photo;

/// Columns of a strip.
const COLUMNS: usize = 1000;

/// Rows of a strip.
const ROWS: usize = 90;

/// How many widths of the shaft a strip shows across.
const WIDTHS_ACROSS: f64 = 3.0;

/// Least half height of a strip, pixels of the photo.
const LEAST_HALF_PX: f64 = 5.0;

/// Quality of a strip as a file.
const JPEG_QUALITY: u8 = 88;

/// The strip as JPEG with its columns and rows; without a line, an empty file.
pub(super) fn strip(picture: &Picture, line: &[Point], width_px: f64) -> (Vec<u8>, usize, usize) {
    let Some(line) = Polyline::new(line.iter().copied()) else { return (Vec::new(), COLUMNS, ROWS) };
    let half = (0.5 * WIDTHS_ACROSS * width_px).max(LEAST_HALF_PX);
    let Some(straight) = straightened(picture, &line, half, COLUMNS, ROWS) else { return (Vec::new(), COLUMNS, ROWS) };
    let bytes = Photo { width: COLUMNS, height: ROWS, rgb: straight.rgb }.encode_jpeg(JPEG_QUALITY);
    (bytes.unwrap_or_default(), COLUMNS, ROWS)
}
