//! A picture for people to look at: 8-bit sRGB, perhaps smaller and brighter than the photo it shows.

use super::point::Point;

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
}

#[cfg(test)]
mod tests {
    use super::{Picture, Point};

    #[test]
    fn the_corner_of_the_photo_is_the_corner_of_the_picture() {
        let picture = Picture { width: 2, height: 2, rgb: vec![0; 12], shrink: [4.0, 4.0], gain: 1.0 };
        assert_eq!(picture.from_photo(Point::new(-0.5, -0.5)), Point::new(-0.5, -0.5));
        assert_eq!(picture.from_photo(Point::new(7.5, 7.5)), Point::new(1.5, 1.5));
        assert_eq!(picture.from_photo(Point::new(1.5, 1.5)), Point::new(0.0, 0.0));
    }
}
