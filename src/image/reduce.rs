//! The mean light over square blocks of pixels.

use super::{Image, Samples};
use crate::maths::raster::Raster;
use rayon::prelude::*;

impl Image {
    /// Mean linear light over blocks of `factor` × `factor` pixels: red, green, blue.
    ///
    /// Each plane is `width / factor` × `height / factor` pixels, rounded up; a block cut by the right or lower edge
    /// is averaged over the pixels it has. A factor of 0 is taken as 1. Pixel (x, y) of a plane covers the centres
    /// from `factor * x` to `factor * x + factor - 1` of the full picture.
    pub fn reduced(&self, factor: usize) -> [Raster<f32>; 3] {
        let factor = factor.max(1);
        let table = self.linear.as_slice();
        // Tables of known length spare a check at each of millions of look-ups.
        match (&self.samples, table.first_chunk::<256>(), table.first_chunk::<65_536>()) {
            (Samples::Eight(v), Some(table), _) => self.block_means(v, factor, |value| table[usize::from(value)]),
            (Samples::Eight(v), ..) => self.block_means(v, factor, |value| table[usize::from(value)]),
            (Samples::Sixteen(v), _, Some(table)) => self.block_means(v, factor, |value| table[usize::from(value)]),
            (Samples::Sixteen(v), ..) => self.block_means(v, factor, |value| table[usize::from(value)]),
        }
    }

    fn block_means<T: Copy + Sync>(
        &self,
        samples: &[T],
        factor: usize,
        light: impl Fn(T) -> f32 + Sync,
    ) -> [Raster<f32>; 3] {
        match factor {
            // The common factors with their length known to the compiler, so that it unrolls the block.
            2 => self.means_of::<T, 2>(samples, factor, light),
            4 => self.means_of::<T, 4>(samples, factor, light),
            _ => self.means_of::<T, 0>(samples, factor, light),
        }
    }

    /// `FIXED` is the factor where it is known when compiling, else 0.
    fn means_of<T: Copy + Sync, const FIXED: usize>(
        &self,
        samples: &[T],
        factor: usize,
        light: impl Fn(T) -> f32 + Sync,
    ) -> [Raster<f32>; 3] {
        let factor = if FIXED > 0 { FIXED } else { factor };
        let (width, height) = (self.width.div_ceil(factor), self.height.div_ceil(factor));
        let row_len = 3 * self.width;
        let mut planes = [0, 1, 2].map(|_| vec![0.0f32; width * height]);
        let [red, green, blue] = &mut planes;
        let bands = samples.par_chunks(row_len * factor);
        let rows = (red.par_chunks_mut(width), green.par_chunks_mut(width), blue.par_chunks_mut(width), bands);
        rows.into_par_iter().for_each(|(red, green, blue, band)| {
            let out = red.iter_mut().zip(green.iter_mut()).zip(blue.iter_mut());
            for (x, ((red, green), blue)) in out.enumerate() {
                let from = 3 * factor * x;
                let to = (from + 3 * factor).min(row_len);
                let mut sums = [0.0f32; 3];
                for row in band.chunks_exact(row_len) {
                    for pixel in row[from..to].as_chunks::<3>().0 {
                        (0..3).for_each(|c| sums[c] += light(pixel[c]));
                    }
                }
                let scale = 3.0 / ((to - from) * (band.len() / row_len)) as f32;
                [*red, *green, *blue] = sums.map(|sum| sum * scale);
            }
        });
        planes.map(|plane| Raster::from_data(width, height, plane))
    }
}

#[cfg(test)]
mod tests {
    use crate::image::{Image, Samples, Tags};

    fn picture(width: usize, height: usize, deep: bool) -> Image {
        let value = |i: usize| (i * 7919 + i / 7 * 104_729) % 65_536;
        let n = width * height * 3;
        let (samples, linear) = if deep {
            let samples = Samples::Sixteen((0..n).map(|i| value(i) as u16).collect());
            (samples, (0..65_536).map(|v| (v as f32 / 65_535.0).powi(2)).collect())
        } else {
            let samples = Samples::Eight((0..n).map(|i| value(i) as u8).collect());
            (samples, (0..256).map(|v| (v as f32 / 255.0).powi(2)).collect())
        };
        Image { width, height, samples, linear, monochrome: false, tags: Tags::default(), concerns: Vec::new() }
    }

    /// The slow obvious twin: every block summed in double precision through `light`.
    #[test]
    fn block_means_equal_the_obvious_sum() {
        for deep in [false, true] {
            for (width, height) in [(1, 1), (1, 9), (9, 1), (13, 7), (16, 8), (33, 34)] {
                let image = picture(width, height, deep);
                for factor in [1, 2, 3, 4, 5, 8, 40] {
                    let planes = image.reduced(factor);
                    assert_eq!(planes[0].width(), width.div_ceil(factor));
                    assert_eq!(planes[0].height(), height.div_ceil(factor));
                    for by in 0..height.div_ceil(factor) {
                        for bx in 0..width.div_ceil(factor) {
                            let (mut sum, mut n) = ([0.0f64; 3], 0.0);
                            for y in by * factor..((by + 1) * factor).min(height) {
                                for x in bx * factor..((bx + 1) * factor).min(width) {
                                    let light = image.light(x, y);
                                    (0..3).for_each(|c| sum[c] += f64::from(light[c]));
                                    n += 1.0;
                                }
                            }
                            for c in 0..3 {
                                let error = (f64::from(planes[c].at(bx, by)) - sum[c] / n).abs();
                                assert!(error < 2e-6, "{width} × {height} by {factor} at {bx}, {by}: {error}");
                            }
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn factor_nought_is_one() {
        let image = picture(3, 2, false);
        assert_eq!(image.reduced(0), image.reduced(1));
    }
}
