//! Noise of a pixel against its brightness, told from the picture itself.
//!
//! Second differences along rows and columns see noise and almost nothing of smooth light; the smaller of the two
//! keeps edges out. Their robust spread in classes of brightness gives the line sd² = floor² + slope · light.
//! Smoothing and compression hide noise from differences; the spread of the open ground around its background
//! sees it whole, so the line is raised to meet it there.

use super::Noise;
use crate::maths::stats::SD_PER_MAD;

/// Pixels looked at; more do not steady the figures visibly.
const SAMPLES: usize = 60_000;
/// Classes of brightness, equal in count.
const CLASSES: usize = 12;
/// Smallest standard deviation of a sample step in units of the step: rounding, 1/√12.
const ROUNDING: f64 = 0.288_675;

/// One channel of a picture, as the noise sees it.
pub(super) struct Channel<'a> {
    /// Columns.
    pub(super) width: usize,
    /// Rows.
    pub(super) height: usize,
    /// Linear light at (x, y).
    pub(super) light: &'a dyn Fn(usize, usize) -> f32,
    /// Linear light of the darkest step between two sample values.
    pub(super) dark_step: f32,
}

/// Noise of one channel of the full-resolution picture.
pub(super) fn noise(picture: &Channel) -> Noise {
    let rounding = (f64::from(picture.dark_step) * ROUNDING).max(1e-7);
    let mut samples = second_differences(picture);
    if samples.len() < 4 * CLASSES {
        return Noise { floor: rounding as f32, slope: 0.0 };
    }
    samples.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    // Weighted line through (light, variance) of the classes, neither term below zero.
    let mut points = Vec::with_capacity(CLASSES);
    for class in samples.chunks(samples.len().div_ceil(CLASSES)) {
        let light = class[class.len() / 2].0;
        let mut sizes: Vec<f64> = class.iter().map(|s| s.1).collect();
        let middle = crate::maths::stats::median(&mut sizes).unwrap_or(0.0);
        // var(a − 2b + c) = 6 var for independent pixels; the smaller of two is below either, by 0.74 in the median
        // of normal noise (simulated once with a million draws: median of min(|z1|, |z2|) = 0.4394, of |z| = 0.6745).
        let sd = middle * SD_PER_MAD * (0.6745 / 0.4394) / 6f64.sqrt();
        points.push((light, sd * sd));
    }
    let (floor_sq, slope) = line_above_zero(&points);
    let floor = floor_sq.max(rounding * rounding).sqrt();
    Noise { floor: floor as f32, slope: slope as f32 }
}

/// Raises `noise` so that it explains the spread `seen` of full-resolution pixels around a ground of brightness `ground`.
pub(super) fn raised(noise: Noise, ground: f64, seen: f64) -> Noise {
    let told = f64::from(noise.sd(ground as f32));
    let factor = (seen / told.max(1e-9)).clamp(1.0, 4.0) as f32;
    Noise { floor: noise.floor * factor, slope: noise.slope * factor * factor }
}

fn second_differences(picture: &Channel) -> Vec<(f64, f64)> {
    if picture.width < 3 || picture.height < 3 {
        return Vec::new();
    }
    let n_pixels = (picture.width - 2) * (picture.height - 2);
    // A stride without a common factor with the width wanders over all columns.
    let mut stride = (n_pixels / SAMPLES).max(1);
    while stride > 1 && (picture.width - 2).is_multiple_of(stride) {
        stride -= 1;
    }
    (0..n_pixels)
        .step_by(stride)
        .filter_map(|i| {
            let (x, y) = (1 + i % (picture.width - 2), 1 + i / (picture.width - 2));
            let light = |x: usize, y: usize| f64::from((picture.light)(x, y));
            let here = light(x, y);
            let (left, right) = (light(x - 1, y), light(x + 1, y));
            let (up, down) = (light(x, y - 1), light(x, y + 1));
            let size = (left - 2.0 * here + right).abs().min((up - 2.0 * here + down).abs());
            let mean = (left + right + up + down + here) / 5.0;
            // Clipped pixels have no noise to show.
            (mean < 0.97).then_some((mean, size))
        })
        .collect()
}

fn line_above_zero(points: &[(f64, f64)]) -> (f64, f64) {
    let (mut n, mut sx, mut sy, mut sxx, mut sxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for &(x, y) in points {
        // Variances scatter in proportion to themselves.
        let weight = 1.0 / (y * y + 1e-14);
        n += weight;
        sx += weight * x;
        sy += weight * y;
        sxx += weight * x * x;
        sxy += weight * x * y;
    }
    let det = n * sxx - sx * sx;
    let (mut floor, mut slope) =
        if det > 1e-12 * n * sxx { ((sy * sxx - sx * sxy) / det, (n * sxy - sx * sy) / det) } else { (sy / n, 0.0) };
    if slope < 0.0 {
        slope = 0.0;
        floor = sy / n;
    }
    if floor < 0.0 {
        floor = 0.0;
        slope = if sxx > 0.0 { (sxy / sxx).max(0.0) } else { 0.0 };
    }
    (floor, slope)
}
