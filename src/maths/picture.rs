//! A picture for people to look at: 8-bit sRGB, perhaps smaller and brighter than the photo it shows.

use super::point::Point;
use super::similarity::Similarity;

/// Rows of red, green, blue bytes, with what was done to make it out of a photo.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Red, green, blue of a pixel, then the next pixel; `3 * width * height` bytes.
    pub rgb: Vec<u8>,
    /// How many pixels of the photo make one of the picture along x and y, at least 1; nearly the same for both.
    pub shrink: [f64; 2],
    /// How many times brighter than the photo it is, in linear light; 1 = as photographed.
    pub gain: f64,
}

impl Picture {
    /// Where a place of the photo lies in the picture; both count from the centre of the top-left pixel.
    pub fn from_photo(&self, at: Point) -> Point {
        let [across, down] = self.shrink;
        Point::new((at.x + 0.5) / across - 0.5, (at.y + 0.5) / down - 0.5)
    }

    /// The picture with `n` × `n` pixels made into one, their mean; what is left over at the right and below is cut
    /// off. The same picture when it would vanish.
    pub fn reduced(&self, n: usize) -> Picture {
        let (width, height) = (self.width / n.max(1), self.height / n.max(1));
        if n < 2 || width == 0 || height == 0 {
            return self.clone();
        }
        let mut rgb = Vec::with_capacity(3 * width * height);
        for y in 0..height {
            for x in 0..width {
                for c in 0..3 {
                    let rows = (0..n).map(|dy| 3 * ((y * n + dy) * self.width + x * n) + c);
                    let sum: usize =
                        rows.flat_map(|at| (0..n).map(move |dx| at + 3 * dx)).map(|at| usize::from(self.rgb[at])).sum();
                    rgb.push(((sum + n * n / 2) / (n * n)) as u8);
                }
            }
        }
        Picture { width, height, rgb, shrink: self.shrink.map(|shrink| shrink * n as f64), gain: self.gain }
    }

    /// The picture as it lies in another photo of the same size: at each place of the other is what this one shows
    /// where `by` takes the place, both in pixels of the photos. Black where this one shows nothing.
    pub fn laid(&self, by: &Similarity) -> Picture {
        let [across, down] = self.shrink;
        let mut rgb = Vec::with_capacity(self.rgb.len());
        for y in 0..self.height {
            for x in 0..self.width {
                let place = Point::new((x as f64 + 0.5) * across - 0.5, (y as f64 + 0.5) * down - 0.5);
                rgb.extend(self.between(self.from_photo(by.of(place))));
            }
        }
        Picture { rgb, ..*self }
    }

    /// The colour between pixels, by the four about a place; black outside.
    fn between(&self, at: Point) -> [u8; 3] {
        let inside = |v: f64, n: usize| v >= -0.5 && v <= n as f64 - 0.5;
        if !(inside(at.x, self.width) && inside(at.y, self.height)) {
            return [0; 3];
        }
        let low = |v: f64, n: usize| v.clamp(0.0, (n - 1) as f64);
        let (x, y) = (low(at.x, self.width), low(at.y, self.height));
        let (left, top) = (x.floor() as usize, y.floor() as usize);
        let (u, v) = (x - left as f64, y - top as f64);
        let (right, below) = ((left + 1).min(self.width - 1), (top + 1).min(self.height - 1));
        [0, 1, 2].map(|c| {
            let of = |x: usize, y: usize| f64::from(self.rgb[3 * (y * self.width + x) + c]);
            let above = of(left, top) * (1.0 - u) + of(right, top) * u;
            let under = of(left, below) * (1.0 - u) + of(right, below) * u;
            (above * (1.0 - v) + under * v).round() as u8
        })
    }
}

#[cfg(test)]
mod tests {
    use super::{Picture, Point};
    use crate::maths::point::Vec2;
    use crate::maths::similarity::Similarity;

    #[test]
    fn a_reduced_picture_shows_the_same_places() {
        let rgb = (0..5 * 4).flat_map(|i| [(i % 5) as u8, (i / 5) as u8, 100]).collect();
        let picture = Picture { width: 5, height: 4, rgb, shrink: [2.0, 2.0], gain: 3.0 };
        let half = picture.reduced(2);
        assert_eq!((half.width, half.height, half.shrink, half.gain), (2, 2, [4.0, 4.0], 3.0));
        // Means of 0, 1, 0, 1 and of 2, 3, 2, 3, rounded up at one half.
        assert_eq!(half.rgb, [1, 1, 100, 3, 1, 100, 1, 3, 100, 3, 3, 100]);
        assert_eq!(picture.reduced(9), picture);
    }

    #[test]
    fn a_picture_laid_on_another_shows_each_place_where_the_other_does() {
        let rgb = (0..6 * 4).flat_map(|i| [(40 * (i % 6)) as u8, (50 * (i / 6)) as u8, 7]).collect();
        let picture = Picture { width: 6, height: 4, rgb, shrink: [2.0, 2.0], gain: 1.0 };
        assert_eq!(picture.laid(&Similarity::NONE), picture);
        // Half a pixel of the picture right and one down: a pixel and two of the photo.
        let laid = picture.laid(&Similarity { shift: Vec2::new(1.0, 2.0), ..Similarity::NONE });
        let at = |x: usize, y: usize| laid.rgb[3 * (y * 6 + x)..][..3].to_vec();
        assert_eq!((at(0, 0), at(3, 2), at(1, 3)), (vec![20, 50, 7], vec![140, 150, 7], vec![0, 0, 0]));
    }

    #[test]
    fn the_corner_of_the_photo_is_the_corner_of_the_picture() {
        let picture = Picture { width: 2, height: 2, rgb: vec![0; 12], shrink: [4.0, 4.0], gain: 1.0 };
        assert_eq!(picture.from_photo(Point::new(-0.5, -0.5)), Point::new(-0.5, -0.5));
        assert_eq!(picture.from_photo(Point::new(7.5, 7.5)), Point::new(1.5, 1.5));
        assert_eq!(picture.from_photo(Point::new(1.5, 1.5)), Point::new(0.0, 0.0));
    }
}
