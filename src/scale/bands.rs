//! The photo read off in bands that run across the lines: mean light against the distance along each band.

use rayon::prelude::*;

use crate::maths::raster::Raster;

/// Distance between two samples of a band, pixels: half a pixel, so that linear interpolation loses nothing that a
/// line's place needs.
pub(super) const STEP_PX: f64 = 0.5;

/// A photo's plane turned about its middle: `u` runs across the lines, `v` along them, both in pixels.
#[derive(Clone, Copy, Debug)]
pub(super) struct Frame {
    middle: (f64, f64),
    last: (f64, f64),
    cos: f64,
    sin: f64,
}

impl Frame {
    /// The frame of a photo whose lines are crossed by the direction `angle`, radians from x towards y.
    pub(super) fn new(width: usize, height: usize, angle: f64) -> Frame {
        let last = (width.saturating_sub(1) as f64, height.saturating_sub(1) as f64);
        Frame { middle: (0.5 * last.0, 0.5 * last.1), last, cos: angle.cos(), sin: angle.sin() }
    }

    /// The place on the photo of (u, v).
    pub(super) fn xy(&self, u: f64, v: f64) -> (f64, f64) {
        (self.middle.0 + u * self.cos - v * self.sin, self.middle.1 + u * self.sin + v * self.cos)
    }

    /// Where (x, y) of the photo lies in the frame.
    pub(super) fn uv(&self, x: f64, y: f64) -> (f64, f64) {
        let (x, y) = (x - self.middle.0, y - self.middle.1);
        (x * self.cos + y * self.sin, y * self.cos - x * self.sin)
    }

    /// A direction (along u, along v) as one of the photo (along x, along y).
    pub(super) fn direction(&self, along_u: f64, along_v: f64) -> [f64; 2] {
        [along_u * self.cos - along_v * self.sin, along_u * self.sin + along_v * self.cos]
    }

    /// Half the photo's diagonal, pixels.
    pub(super) fn half_diagonal_px(&self) -> f64 {
        self.middle.0.hypot(self.middle.1).max(1.0)
    }

    /// Half the photo's extent along u and along v.
    pub(super) fn half_extent(&self) -> (f64, f64) {
        let (cos, sin) = (self.cos.abs(), self.sin.abs());
        (self.middle.0 * cos + self.middle.1 * sin, self.middle.0 * sin + self.middle.1 * cos)
    }

    /// From where to where along u the row `v` lies on the photo.
    fn row(&self, v: f64) -> Option<(f64, f64)> {
        let (mut from, mut to) = (f64::NEG_INFINITY, f64::INFINITY);
        let (x, y) = self.xy(0.0, v);
        for (start, slope, last) in [(x, self.cos, self.last.0), (y, self.sin, self.last.1)] {
            if slope.abs() < 1e-12 {
                if start < 0.0 || start > last {
                    return None;
                }
                continue;
            }
            let (a, b) = (-start / slope, (last - start) / slope);
            (from, to) = (from.max(a.min(b)), to.min(a.max(b)));
        }
        (to > from && (to - from).is_finite()).then_some((from, to))
    }
}

/// Mean light against u over the rows from `v - height / 2` to `v + height / 2`.
#[derive(Clone, Debug)]
pub(super) struct Band {
    /// The middle row.
    pub(super) v: f64,
    /// u of the first sample.
    pub(super) from_u: f64,
    /// Samples [`STEP_PX`] apart.
    pub(super) light: Vec<f32>,
}

impl Band {
    /// Index of the sample at or before `u`, and what is left over as a share of a step; `None` outside.
    pub(super) fn place(&self, u: f64) -> Option<(usize, f64)> {
        let at = (u - self.from_u) / STEP_PX;
        (at >= 0.0 && at + 1.0 < self.light.len() as f64).then(|| (at as usize, at.fract()))
    }
}

/// The bands of a photo, `height_px` rows each, side by side along v. Bands that are hardly on the photo are left out.
pub(super) fn bands(grey: &Raster<f32>, frame: &Frame, height_px: usize) -> Vec<Band> {
    let height = height_px as f64;
    let n = (2.0 * frame.half_extent().1 / height).floor() as i64;
    let middles: Vec<f64> = (0..n).map(|i| (i as f64 - 0.5 * (n - 1) as f64) * height).collect();
    middles.into_par_iter().filter_map(|v| band(grey, frame, v, height_px)).collect()
}

/// Fewest samples of a band that can hold lines.
const LEAST_SAMPLES: usize = 40;

fn band(grey: &Raster<f32>, frame: &Frame, v: f64, height_px: usize) -> Option<Band> {
    let half = 0.5 * (height_px as f64 - 1.0);
    // The photo is convex: where the first and the last row are on it, all between are.
    let ((a, b), (c, d)) = (frame.row(v - half)?, frame.row(v + half)?);
    let (from_u, to_u) = (a.max(c), b.min(d));
    if to_u <= from_u {
        return None;
    }
    let n = ((to_u - from_u) / STEP_PX) as usize + 1;
    if n < LEAST_SAMPLES {
        return None;
    }
    let mut sums = vec![0.0f32; n];
    let (data, width) = (grey.data(), grey.width());
    let (most_x, most_y) = (width - 2, grey.height() - 2);
    for row in 0..height_px {
        let (x0, y0) = frame.xy(from_u, v - half + row as f64);
        for (i, sum) in sums.iter_mut().enumerate() {
            let along = STEP_PX * i as f64;
            let (x, y) = ((x0 + along * frame.cos).max(0.0), (y0 + along * frame.sin).max(0.0));
            let (column, line) = ((x as usize).min(most_x), (y as usize).min(most_y));
            let (fx, fy) = ((x - column as f64) as f32, (y - line as f64) as f32);
            let at = line * width + column;
            let top = data[at] + fx * (data[at + 1] - data[at]);
            let bottom = data[at + width] + fx * (data[at + width + 1] - data[at + width]);
            *sum += top + fy * (bottom - top);
        }
    }
    sums.iter_mut().for_each(|sum| *sum /= height_px as f32);
    Some(Band { v, from_u, light: sums })
}

#[cfg(test)]
mod tests {
    use super::{Frame, STEP_PX, bands};
    use crate::maths::raster::Raster;

    #[test]
    fn turning_there_and_back() {
        let frame = Frame::new(300, 200, 0.7);
        let (x, y) = frame.xy(12.0, -34.0);
        let (u, v) = frame.uv(x, y);
        assert!((u - 12.0).abs() < 1e-12 && (v + 34.0).abs() < 1e-12);
        assert_eq!(Frame::new(301, 201, 0.0).half_extent(), (150.0, 100.0));
        let [x, y] = Frame::new(5, 5, std::f64::consts::FRAC_PI_2).direction(2.0, 0.0);
        assert!(x.abs() < 1e-12 && (y - 2.0).abs() < 1e-12, "across lies downwards for level lines");
    }

    #[test]
    fn a_plane_is_read_off_exactly() {
        // Light that grows by 3 a pixel along a direction of 30 degrees: closed form 3 u.
        let angle = 30f64.to_radians();
        let frame = Frame::new(240, 160, angle);
        let grey = Raster::from_fn(240, 160, |x, y| (3.0 * frame.uv(x as f64, y as f64).0) as f32);
        let bands = bands(&grey, &frame, 16);
        assert!(bands.len() > 5);
        for band in bands {
            for (i, light) in band.light.iter().enumerate() {
                let u = band.from_u + STEP_PX * i as f64;
                assert!((f64::from(*light) - 3.0 * u).abs() < 1e-3, "{light} at {u}");
            }
        }
    }
}
