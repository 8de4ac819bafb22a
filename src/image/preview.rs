//! A picture of the photo for people to look at; nothing is measured on it.

use rayon::prelude::*;

use super::Image;
use crate::maths::picture::Picture;

/// A photo whose bright parts stay below this much linear light is shown brighter: on paper it would be black.
const DIM_LIGHT: f64 = 0.08;

/// A dim photo is brightened until its bright parts reach this much linear light; more would clip the brightest.
const SHOWN_LIGHT: f64 = 0.35;

/// Never brightened more than this many times: beyond, only noise is shown.
const MAX_GAIN: f64 = 64.0;

/// What "bright parts" are: the light that this share of the pixels stays below. Shafts cover a few percent.
const BRIGHT_QUANTILE: f64 = 0.998;

/// Entries of the table from the root of linear light to sRGB bytes: steps of 1/20 of a byte where the curve is
/// steepest, so that bytes come out as they went in.
const TABLE: usize = 8192;

/// A picture no longer than `max_side_px` on either side.
///
/// Pixels are means in linear light over whole squares of the photo, encoded as sRGB (IEC 61966-2-1). A dim photo
/// is brightened by a power of two, which the picture states.
pub fn preview(image: &Image, max_side_px: usize) -> Picture {
    let shrink = image.width.max(image.height).div_ceil(max_side_px.max(1)).max(1);
    let (width, height) = (image.width.div_ceil(shrink), image.height.div_ceil(shrink));
    let mut light = vec![0.0_f32; 3 * width * height];
    light.par_chunks_mut(3 * width).enumerate().for_each(|(y, row_of_light)| {
        let rows = y * shrink..((y + 1) * shrink).min(image.height);
        for (x, out) in row_of_light.chunks_exact_mut(3).enumerate() {
            let columns = x * shrink..((x + 1) * shrink).min(image.width);
            let n = (rows.len() * columns.len()) as f32;
            let mut sum = [0.0_f32; 3];
            for row in rows.clone() {
                for column in columns.clone() {
                    let here = image.light(column, row);
                    sum = [0, 1, 2].map(|c| sum[c] + here[c]);
                }
            }
            out.copy_from_slice(&sum.map(|s| s / n));
        }
    });
    let gain = gain(&light);
    let table: Vec<u8> = (0..TABLE).map(|i| srgb_byte((i as f64 / (TABLE - 1) as f64).powi(2))).collect();
    let byte = |light: f32| {
        let root = (light * gain as f32).clamp(0.0, 1.0).sqrt();
        table[(root * (TABLE - 1) as f32).round() as usize]
    };
    Picture { width, height, rgb: light.par_iter().map(|&light| byte(light)).collect(), shrink, gain }
}

/// The power of two by which a dim picture is brightened; 1 for one that is not dim.
fn gain(light: &[f32]) -> f64 {
    let mut brightest: Vec<f32> = light.chunks_exact(3).map(|c| c[0].max(c[1]).max(c[2])).collect();
    if brightest.is_empty() {
        return 1.0;
    }
    let at = ((brightest.len() - 1) as f64 * BRIGHT_QUANTILE) as usize;
    let bright = f64::from(*brightest.select_nth_unstable_by(at, f32::total_cmp).1);
    if bright <= 0.0 || bright >= DIM_LIGHT {
        return 1.0;
    }
    (SHOWN_LIGHT / bright).min(MAX_GAIN).log2().floor().exp2()
}

/// IEC 61966-2-1, linear light to an 8-bit sample.
fn srgb_byte(light: f64) -> u8 {
    let light = light.clamp(0.0, 1.0);
    let encoded = if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
    (255.0 * encoded).round() as u8
}

#[cfg(test)]
mod tests {
    use super::{preview, srgb_byte};
    use crate::image::{Image, Samples, Tags};

    fn photo(width: usize, height: usize, sample: impl Fn(usize, usize) -> u8) -> Image {
        let decode = |s: f64| if s <= 0.040_45 { s / 12.92 } else { ((s + 0.055) / 1.055).powf(2.4) };
        Image {
            width,
            height,
            samples: Samples::Eight((0..width * height).flat_map(|i| [sample(i % width, i / width); 3]).collect()),
            linear: (0..256).map(|s| decode(s as f64 / 255.0) as f32).collect(),
            monochrome: false,
            tags: Tags::default(),
            concerns: Vec::new(),
        }
    }

    #[test]
    fn a_small_bright_photo_is_shown_as_it_is() {
        let image = photo(5, 3, |x, y| (40 * x + 20 * y) as u8);
        let picture = preview(&image, 100);
        assert_eq!((picture.width, picture.height, picture.shrink, picture.gain), (5, 3, 1, 1.0));
        let Samples::Eight(samples) = &image.samples else { unreachable!("made with 8 bits") };
        assert_eq!(&picture.rgb, samples);
    }

    #[test]
    fn black_and_white_mix_in_linear_light() {
        // Half of the light of white is sample 188, not 128 (IEC 61966-2-1).
        let picture = preview(&photo(4, 4, |x, _| if x % 2 == 0 { 0 } else { 255 }), 2);
        assert_eq!((picture.shrink, picture.rgb[0]), (2, 188));
        assert_eq!(srgb_byte(0.5), 188);
    }

    #[test]
    fn the_last_pixels_are_kept_where_the_side_does_not_divide() {
        let picture = preview(&photo(7, 1, |x, _| if x == 6 { 255 } else { 100 }), 4);
        assert_eq!((picture.width, picture.height), (4, 1));
        assert_eq!(picture.rgb[9], 255);
    }

    #[test]
    fn a_dim_photo_is_brightened_and_says_so() {
        let picture = preview(&photo(50, 50, |x, _| if x % 10 == 0 { 40 } else { 4 }), 100);
        assert!(picture.gain > 4.0 && picture.gain.log2().fract() == 0.0, "{}", picture.gain);
        assert!(picture.rgb[0] > 120);
        assert_eq!(preview(&photo(9, 9, |_, _| 0), 100).gain, 1.0, "black stays black");
    }
}
