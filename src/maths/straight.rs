//! A picture laid straight along a line.

use super::picture::Picture;
use super::point::Point;
use super::polyline::Polyline;

/// Reach of the tangent along the line, in half widths: less shows every wobble, more cuts the corners of a curl.
const TANGENT_REACH: f64 = 0.5;

/// The neighbourhood of `line` (pixels of the photo) laid straight: first point on the left, `half_width_px` pixels of
/// the photo to each side, resampled bilinearly to `columns` × `rows`. Beyond the photo its border goes on.
///
/// `None` when the line has no length or the picture no pixel.
pub fn straightened(
    picture: &Picture,
    line: &Polyline,
    half_width_px: f64,
    columns: usize,
    rows: usize,
) -> Option<Picture> {
    let length = line.length();
    let usable = length > 0.0 && half_width_px > 0.0 && columns > 0 && rows > 0;
    if !usable || picture.width == 0 || picture.height == 0 {
        return None;
    }
    let (along, across) = (length / columns as f64, 2.0 * half_width_px / rows as f64);
    let mut rgb = Vec::with_capacity(3 * columns * rows);
    let places: Vec<_> = (0..columns)
        .map(|x| {
            let s = (x as f64 + 0.5) * along;
            (line.at(s), line.tangent(s, (TANGENT_REACH * half_width_px).max(1.0)).normal())
        })
        .collect();
    for y in 0..rows {
        let side = (y as f64 + 0.5) * across - half_width_px;
        for &(middle, normal) in &places {
            rgb.extend(between(picture, picture.from_photo(middle + normal * side)));
        }
    }
    let shrink = [along, across];
    Some(Picture { width: columns, height: rows, rgb, shrink, gain: picture.gain })
}

fn between(picture: &Picture, at: Point) -> [u8; 3] {
    let (x, y) = (at.x.clamp(0.0, (picture.width - 1) as f64), at.y.clamp(0.0, (picture.height - 1) as f64));
    let (x0, y0) = (x as usize, y as usize);
    let (x1, y1) = ((x0 + 1).min(picture.width - 1), (y0 + 1).min(picture.height - 1));
    let (fx, fy) = (x - x0 as f64, y - y0 as f64);
    let value = |x: usize, y: usize, c: usize| f64::from(picture.rgb[3 * (y * picture.width + x) + c]);
    [0, 1, 2].map(|c| {
        let top = value(x0, y0, c) * (1.0 - fx) + value(x1, y0, c) * fx;
        let bottom = value(x0, y1, c) * (1.0 - fx) + value(x1, y1, c) * fx;
        (top * (1.0 - fy) + bottom * fy).round() as u8
    })
}

#[cfg(test)]
mod tests {
    use super::{Picture, Point, Polyline, straightened};

    /// Red grows to the right, green downwards.
    fn ramp() -> Picture {
        let rgb = (0..40 * 30).flat_map(|i| [(i % 40) as u8 * 5, (i / 40) as u8 * 5, 7]).collect();
        Picture { width: 40, height: 30, rgb, shrink: [1.0, 1.0], gain: 1.0 }
    }

    #[test]
    fn a_level_line_is_a_cut_out() {
        let line = Polyline::new(vec![Point::new(4.5, 10.0), Point::new(24.5, 10.0)]).unwrap();
        let strip = straightened(&ramp(), &line, 2.5, 20, 5).unwrap();
        for x in 0..20 {
            for y in 0..5 {
                let at = 3 * (y * 20 + x);
                assert_eq!(strip.rgb[at..at + 3], [(5 + x) as u8 * 5, (8 + y) as u8 * 5, 7]);
            }
        }
    }

    #[test]
    fn a_line_upwards_turns_the_picture() {
        let line = Polyline::new(vec![Point::new(10.0, 24.5), Point::new(10.0, 4.5)]).unwrap();
        let strip = straightened(&ramp(), &line, 2.5, 20, 5).unwrap();
        assert_eq!(strip.rgb[1], 24 * 5, "its beginning lies on the left");
        assert_eq!(strip.rgb[3 * 19 + 1], 5 * 5);
        // The normal points to the right of the direction of travel, which is where rows grow.
        assert!(strip.rgb[0] < strip.rgb[3 * (4 * 20)], "the photo's left stays on the traveller's left");
    }

    #[test]
    fn nothing_to_lay_straight_is_none() {
        let line = Polyline::new(vec![Point::new(1.0, 1.0), Point::new(9.0, 1.0)]).unwrap();
        assert!(straightened(&ramp(), &line, 2.0, 0, 5).is_none());
        assert!(straightened(&ramp(), &line, 0.0, 5, 5).is_none());
        let beyond = Polyline::new(vec![Point::new(-50.0, 1.0), Point::new(90.0, 1.0)]).unwrap();
        assert!(straightened(&ramp(), &beyond, 50.0, 9, 9).is_some());
    }
}
