//! A shaft laid out straight for people to look at: from its base (or first point) on the left.

use crate::maths::picture::Picture;
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;
use crate::sim::Photo;

/// Columns of a strip.
const COLUMNS: usize = 1000;

/// Rows of a strip.
const ROWS: usize = 90;

/// How many widths of the shaft a strip shows across.
const WIDTHS_ACROSS: f64 = 3.0;

/// Quality of a strip as a file.
const JPEG_QUALITY: u8 = 88;

/// The strip as JPEG with its columns and rows; without a line, an empty file.
pub(super) fn strip(picture: &Picture, line: &[Point], width_px: f64) -> (Vec<u8>, usize, usize) {
    let Some(line) = Polyline::new(line.iter().copied()) else { return (Vec::new(), COLUMNS, ROWS) };
    let half = (0.5 * WIDTHS_ACROSS * width_px).max(5.0);
    let mut rgb = vec![0u8; 3 * COLUMNS * ROWS];
    for column in 0..COLUMNS {
        let s = line.length() * column as f64 / (COLUMNS - 1) as f64;
        let (at, normal) = (line.at(s), line.tangent(s, width_px.max(2.0)).normal());
        for row in 0..ROWS {
            let across = ((row as f64 + 0.5) / ROWS as f64 - 0.5) * 2.0 * half;
            let place = at + normal * across;
            let pixel = sample(picture, place);
            rgb[3 * (row * COLUMNS + column)..][..3].copy_from_slice(&pixel);
        }
    }
    let bytes = Photo { width: COLUMNS, height: ROWS, rgb }.encode_jpeg(JPEG_QUALITY);
    (bytes.unwrap_or_default(), COLUMNS, ROWS)
}

/// Bilinear value of the picture; black outside.
fn sample(picture: &Picture, at: Point) -> [u8; 3] {
    let (w, h) = (picture.width as f64, picture.height as f64);
    if at.x < 0.0 || at.y < 0.0 || at.x > w - 1.0 || at.y > h - 1.0 {
        return [0; 3];
    }
    let (x0, y0) = (at.x as usize, at.y as usize);
    let (x1, y1) = ((x0 + 1).min(picture.width - 1), (y0 + 1).min(picture.height - 1));
    let (fx, fy) = (at.x - x0 as f64, at.y - y0 as f64);
    let value = |x: usize, y: usize, c: usize| f64::from(picture.rgb[3 * (y * picture.width + x) + c]);
    [0, 1, 2].map(|c| {
        let top = value(x0, y0, c) * (1.0 - fx) + value(x1, y0, c) * fx;
        let bottom = value(x0, y1, c) * (1.0 - fx) + value(x1, y1, c) * fx;
        (top * (1.0 - fy) + bottom * fy).round() as u8
    })
}

#[cfg(test)]
mod tests {
    use super::sample;
    use crate::maths::picture::Picture;
    use crate::maths::point::Point;

    #[test]
    fn values_between_pixels_are_between_their_values() {
        let picture = Picture { width: 2, height: 1, rgb: vec![0, 10, 100, 100, 20, 0], shrink: [1.0; 2], gain: 1.0 };
        assert_eq!(sample(&picture, Point::new(0.5, 0.0)), [50, 15, 50]);
        assert_eq!(sample(&picture, Point::new(-0.1, 0.0)), [0, 0, 0]);
        assert_eq!(sample(&picture, Point::new(1.0, 0.0)), [100, 20, 0]);
    }
}
