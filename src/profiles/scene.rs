//! What the measurement needs of the photo, in terms of numbers only.

use super::photo::Photo;
use crate::maths::point::Point;
use crate::maths::raster::Raster;

/// Variance of one pixel against its light: floor² + slope · light.
#[derive(Clone, Copy, Debug)]
pub(super) struct PixelNoise {
    /// Standard deviation in the dark.
    pub(super) floor: f32,
    /// Growth of the variance with light.
    pub(super) slope: f32,
}

impl PixelNoise {
    /// Variance at this light; never 0, so that weights stay finite.
    pub(super) fn variance(&self, light: f64) -> f64 {
        let floor = f64::from(self.floor).max(LEAST_NOISE);
        floor * floor + f64::from(self.slope).max(0.0) * light.max(0.0)
    }
}

/// Noise no picture stays below, linear light: rounding to 16 bits.
const LEAST_NOISE: f64 = 5e-6;

/// The photo with noise, ground and what may be trusted.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scene<'a> {
    /// The pixels.
    pub(super) photo: Photo<'a>,
    /// Noise of one pixel, a channel.
    pub(super) noise: [PixelNoise; 3],
    /// Light without shafts, reduced.
    pub(super) background: &'a [Raster<f32>; 3],
    /// Mean light of blocks of pixels, reduced.
    pub(super) planes: &'a [Raster<f32>; 3],
    /// Pixels inside the field, reduced; clipped ones the photo itself tells.
    pub(super) trusted: &'a Raster<bool>,
    /// Full-resolution pixels a reduced pixel, along each axis.
    pub(super) reduction: usize,
    /// Centre and radius of the disc of an eyepiece photo.
    pub(super) disc: Option<(Point, f64)>,
}

impl Scene<'_> {
    /// Light without shafts at a place of the full-resolution photo; `None` when no background was made.
    pub(super) fn background_at(&self, at: Point) -> Option<[f64; 3]> {
        let has_pixels = self.background.iter().all(|plane| plane.width() > 0 && plane.height() > 0);
        has_pixels.then(|| {
            let (x, y) = self.reduced(at);
            [0, 1, 2].map(|c| f64::from(self.background[c].bilinear(x, y)))
        })
    }

    /// Coordinates of a place in the reduced rasters.
    pub(super) fn reduced(&self, at: Point) -> (f64, f64) {
        let by = self.reduction as f64;
        ((at.x + 0.5) / by - 0.5, (at.y + 0.5) / by - 0.5)
    }

    /// Distance of a place from the border of the photo or disc, pixels; below 0 outside.
    pub(super) fn distance_to_border(&self, at: Point) -> f64 {
        let sides =
            [at.x + 0.5, at.y + 0.5, self.photo.width as f64 - 0.5 - at.x, self.photo.height as f64 - 0.5 - at.y];
        let photo = sides.into_iter().fold(f64::INFINITY, f64::min);
        self.disc.map_or(photo, |(centre, radius)| photo.min(radius - centre.distance(at)))
    }
}
