//! Gaussian smoothing of a whole three-channel picture, edges held.

use rayon::prelude::*;

/// How far the kernel goes, in sigmas: enough for camera processing, where nothing is measured to 0.1 %.
const REACH_SIGMA: f32 = 3.0;

/// Smooths in place, rows first.
pub(super) fn smooth_rows_and_columns(pixels: &mut [[f32; 3]], width: usize, height: usize, sigma_px: f32) {
    let reach = (REACH_SIGMA * sigma_px).ceil().max(1.0) as isize;
    let weights: Vec<f32> =
        (-reach..=reach).map(|i| libm::expf(-0.5 * (i as f32 / sigma_px) * (i as f32 / sigma_px))).collect();
    let sum: f32 = weights.iter().sum();
    let weights: Vec<f32> = weights.iter().map(|w| w / sum).collect();
    let within = |i: isize, n: usize| i.clamp(0, n as isize - 1) as usize;

    let mut rows_done = vec![[0.0f32; 3]; pixels.len()];
    rows_done.par_chunks_mut(width).zip(pixels.par_chunks(width)).for_each(|(out, row)| {
        for (x, pixel) in out.iter_mut().enumerate() {
            for (k, weight) in weights.iter().enumerate() {
                let source = row[within(x as isize + k as isize - reach, width)];
                for c in 0..3 {
                    pixel[c] += weight * source[c];
                }
            }
        }
    });
    pixels.par_chunks_mut(width).enumerate().for_each(|(y, out)| {
        out.fill([0.0; 3]);
        for (k, weight) in weights.iter().enumerate() {
            let source = within(y as isize + k as isize - reach, height) * width;
            for (pixel, from) in out.iter_mut().zip(&rows_done[source..source + width]) {
                for c in 0..3 {
                    pixel[c] += weight * from[c];
                }
            }
        }
    });
}
