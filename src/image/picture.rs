//! The photo as it is shown to people: smaller where it is large, brighter where it is dim; nothing is measured on it.

use super::Image;
use crate::maths::picture::Picture;

/// A photo whose bright parts stay below this much linear light is shown brighter: on paper it would be black.
const DIM_LIGHT: f32 = 0.08;

/// A dim photo is brightened until its bright parts reach this much linear light; more would clip the brightest.
const SHOWN_LIGHT: f32 = 0.35;

/// Never brightened more than this many times: beyond, only noise is shown.
const MAX_GAIN: f32 = 64.0;

/// What "bright parts" are: the light that this share of the pixels stays below. Shafts cover a few percent.
const BRIGHT_QUANTILE: f64 = 0.998;

/// Pixels that are looked at to tell how bright a photo is; enough for its thousandths.
const LOOKED_AT: usize = 200_000;

impl Image {
    /// A picture no longer than `max_side_px` on either side; a dim photo is brightened by a power of two.
    pub fn picture(&self, max_side_px: usize) -> Picture {
        let gain = self.gain();
        let preview = self.preview_brightened(max_side_px, gain);
        let (width, height) = (preview.width(), preview.height());
        Picture {
            width,
            height,
            shrink: [self.width as f64 / width as f64, self.height as f64 / height as f64],
            rgb: preview.data().as_flattened().to_vec(),
            gain: f64::from(gain),
        }
    }

    /// The photo itself as sRGB: every pixel, not brightened.
    pub fn whole_picture(&self) -> Picture {
        let whole = self.preview(usize::MAX);
        let rgb = whole.data().as_flattened().to_vec();
        Picture { width: whole.width(), height: whole.height(), rgb, shrink: [1.0, 1.0], gain: 1.0 }
    }

    /// The power of two by which the photo is brightened; 1 when it is not dim.
    fn gain(&self) -> f32 {
        // A step that shares no factor with the width walks through all columns.
        let n = self.width * self.height;
        let step = (n / LOOKED_AT).max(1) | 1;
        let mut brightest: Vec<f32> = (0..n)
            .step_by(step)
            .map(|i| self.light(i % self.width, i / self.width))
            .map(|[red, green, blue]| red.max(green).max(blue))
            .collect();
        if brightest.is_empty() {
            return 1.0;
        }
        let at = ((brightest.len() - 1) as f64 * BRIGHT_QUANTILE) as usize;
        let bright = *brightest.select_nth_unstable_by(at, f32::total_cmp).1;
        if bright <= 0.0 || bright >= DIM_LIGHT {
            return 1.0;
        }
        (SHOWN_LIGHT / bright).min(MAX_GAIN).log2().floor().exp2()
    }
}

#[cfg(test)]
mod tests {
    use crate::image::colour::srgb_table;
    use crate::image::{Image, Samples, Tags};
    use crate::maths::point::Point;

    fn photo(width: usize, height: usize, sample: impl Fn(usize, usize) -> u8) -> Image {
        Image {
            width,
            height,
            samples: Samples::Eight((0..width * height).flat_map(|i| [sample(i % width, i / width); 3]).collect()),
            linear: srgb_table(256),
            monochrome: false,
            tags: Tags::default(),
            concerns: Vec::new(),
        }
    }

    #[test]
    fn a_small_bright_photo_is_shown_as_it_is() {
        let image = photo(5, 3, |x, y| (40 * x + 20 * y) as u8);
        let picture = image.picture(100);
        assert_eq!((picture.width, picture.height, picture.shrink, picture.gain), (5, 3, [1.0, 1.0], 1.0));
        let Samples::Eight(samples) = &image.samples else { unreachable!("made with 8 bits") };
        assert_eq!(&picture.rgb, samples);
    }

    #[test]
    fn places_are_found_again_where_the_sides_do_not_divide() {
        let picture = photo(1000, 333, |_, _| 200).picture(300);
        assert_eq!((picture.width, picture.height), (300, 100));
        let corner = picture.from_photo(Point::new(999.5, 332.5));
        assert!((corner.x - 299.5).abs() < 1e-9 && (corner.y - 99.5).abs() < 1e-9, "{corner:?}");
    }

    #[test]
    fn a_dim_photo_is_brightened_and_says_so() {
        let picture = photo(50, 50, |x, _| if x % 10 == 0 { 40 } else { 4 }).picture(100);
        assert!(picture.gain > 4.0 && picture.gain.log2().fract() == 0.0, "{}", picture.gain);
        assert!(picture.rgb[0] > 120);
        assert_eq!(photo(9, 9, |_, _| 0).picture(100).gain, 1.0, "black stays black");
    }
}
