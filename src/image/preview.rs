//! A small picture for the page, the report and the marked photo, averaged as light and not as code values.

use super::colour::SrgbEncoder;
use super::{Image, Samples};
use crate::maths::raster::Raster;
use rayon::prelude::*;

impl Image {
    /// The picture in sRGB, 8 bits a channel, no side longer than `max_side_px`; never enlarged.
    ///
    /// Each pixel is the mean linear light over its own area of the full picture (box filter with partial pixels at
    /// its edges), encoded by IEC 61966-2-1. The sides keep their ratio to the nearest pixel and are at least 1.
    pub fn preview(&self, max_side_px: usize) -> Raster<[u8; 3]> {
        self.preview_brightened(max_side_px, 1.0)
    }

    /// The same with all light multiplied by `gain` before it is encoded.
    pub(super) fn preview_brightened(&self, max_side_px: usize, gain: f32) -> Raster<[u8; 3]> {
        let scale = (max_side_px.max(1) as f64 / self.width.max(self.height) as f64).min(1.0);
        let side = |full: usize| ((full as f64 * scale).round() as usize).clamp(1, full);
        let (width, height) = (side(self.width), side(self.height));
        match &self.samples {
            Samples::Eight(v) => self.area_means(v, width, height, gain),
            Samples::Sixteen(v) => self.area_means(v, width, height, gain),
        }
    }

    fn area_means<T: Copy + Into<usize> + Sync>(
        &self,
        samples: &[T],
        width: usize,
        height: usize,
        gain: f32,
    ) -> Raster<[u8; 3]> {
        let encoder = SrgbEncoder::new();
        let columns: Vec<Span> = (0..width).map(|x| Span::of(x, width, self.width)).collect();
        let mut data = vec![[0u8; 3]; width * height];
        data.par_chunks_mut(width).enumerate().for_each(|(y, line)| {
            let span = Span::of(y, height, self.height);
            let mut sums = vec![[0.0f32; 3]; self.width];
            for (i, weight) in span.weights() {
                let row = &samples[3 * self.width * i..3 * self.width * (i + 1)];
                for (sum, pixel) in sums.iter_mut().zip(row.as_chunks::<3>().0) {
                    (0..3).for_each(|c| sum[c] += weight * self.linear[pixel[c].into()]);
                }
            }
            for (pixel, column) in line.iter_mut().zip(&columns) {
                let mut light = [0.0f32; 3];
                for (i, weight) in column.weights() {
                    (0..3).for_each(|c| light[c] += weight * sums[i][c]);
                }
                *pixel = light.map(|l| encoder.encode(l * gain));
            }
        });
        Raster::from_data(width, height, data)
    }
}

/// The full pixels that one preview pixel covers along one axis.
#[derive(Clone, Copy, Debug)]
struct Span {
    from: f64,
    to: f64,
}

impl Span {
    /// What pixel `i` of `n` covers of `n_full` pixels.
    fn of(i: usize, n: usize, n_full: usize) -> Span {
        let step = n_full as f64 / n as f64;
        Span { from: i as f64 * step, to: ((i + 1) as f64 * step).min(n_full as f64) }
    }

    /// Full pixels with their share of the span; the shares sum to 1.
    fn weights(self) -> impl Iterator<Item = (usize, f32)> {
        /// A sliver thinner than this is rounding in `of`, not part of a pixel.
        const ROUNDING_PX: f64 = 1e-9;
        let Span { from, to } = self;
        let last = (to - ROUNDING_PX).max(0.0) as usize;
        let first = ((from + ROUNDING_PX) as usize).min(last);
        (first..=last).map(move |i| {
            let covered = (i as f64 + 1.0).min(to) - (i as f64).max(from);
            (i, (covered / (to - from)) as f32)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::Span;
    use crate::image::colour::srgb_table;
    use crate::image::{Image, Samples, Tags};

    fn picture(width: usize, height: usize, value: impl Fn(usize, usize) -> [u8; 3]) -> Image {
        let samples = (0..width * height).flat_map(|i| value(i % width, i / width)).collect();
        Image {
            width,
            height,
            samples: Samples::Eight(samples),
            linear: srgb_table(256),
            monochrome: false,
            tags: Tags::default(),
            concerns: Vec::new(),
        }
    }

    #[test]
    fn shares_of_a_span_sum_to_one() {
        for (n, n_full) in [(1, 1), (3, 10), (7, 7), (640, 4000), (999, 1000)] {
            let mut covered = vec![0.0; n_full];
            for i in 0..n {
                let weights: Vec<_> = Span::of(i, n, n_full).weights().collect();
                let sum: f32 = weights.iter().map(|(_, w)| w).sum();
                assert!((sum - 1.0).abs() < 1e-5, "{n} of {n_full} at {i}: {sum}");
                weights.iter().for_each(|(at, w)| covered[*at] += f64::from(*w) * n_full as f64 / n as f64);
            }
            assert!(covered.iter().all(|c| (c - 1.0).abs() < 1e-4), "every pixel counts once");
        }
    }

    #[test]
    fn a_picture_small_enough_is_kept_to_the_bit() {
        let image = picture(16, 16, |x, y| [(16 * y + x) as u8, 255 - x as u8, y as u8]);
        let preview = image.preview(16);
        let Samples::Eight(samples) = &image.samples else { panic!("made with 8 bits") };
        assert_eq!(preview.data().as_flattened(), samples.as_slice());
    }

    /// IEC 61966-2-1 by facts.md 3.27: the mean of black and white is light 0.5, whose code value is
    /// 0.73535698 × 255 = 187.5; averaging the code values would give 127.5.
    #[test]
    fn black_and_white_average_as_light() {
        let image = picture(64, 32, |x, y| [255 * ((x + y) % 2) as u8; 3]);
        let preview = image.preview(16);
        assert_eq!((preview.width(), preview.height()), (16, 8));
        assert!(preview.data().iter().flatten().all(|v| [187, 188].contains(v)));
    }

    #[test]
    fn sides_keep_their_ratio_and_never_vanish() {
        let preview = picture(1000, 3, |_, _| [9; 3]).preview(100);
        assert_eq!((preview.width(), preview.height()), (100, 1));
        assert!(preview.data().iter().all(|pixel| *pixel == [9; 3]));
        assert_eq!(picture(5, 4, |_, _| [1; 3]).preview(0).data(), [[1; 3]]);
    }
}
