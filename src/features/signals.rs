//! One shaft in plain numbers: what the feature functions see, filled by the door.
//!
//! Only stations that lie clear are here. Noise comes with every value, so that a feature can take it away again
//! or refuse. "Light" is one number a station: the three channels added after each was divided by its own noise,
//! so that neither exposure nor white balance changes it.

use crate::maths::polyline::Polyline;
use crate::maths::raster::Raster;
use crate::maths::robust;

use super::ends::End;

/// The least noise a channel is held to have, as a share of the noisiest channel's. A channel that the camera
/// clipped to black shows no noise at all and would otherwise rule the sum; much above a quarter, an honest quiet
/// channel would lose weight.
const LEAST_NOISE_SHARE: f64 = 0.25;

/// A value at a place along a shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Reading {
    /// Arc length, pixels.
    pub(super) s_px: f64,
    /// What was measured.
    pub(super) value: f64,
    /// One standard deviation of it.
    pub(super) sd: f64,
}

/// Both edges of the outline at a place along a shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct EdgePair {
    /// Arc length, pixels.
    pub(super) s_px: f64,
    /// Distance of the left edge from the centreline, pixels.
    pub(super) left_px: f64,
    /// Distance of the right edge from the centreline, pixels.
    pub(super) right_px: f64,
    /// One standard deviation of either, pixels.
    pub(super) sd_px: f64,
}

/// Fluorescence at a place along a shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Glow {
    /// Arc length, pixels.
    pub(super) s_px: f64,
    /// Sum of the channels, each divided by its noise.
    pub(super) light: f64,
    /// One standard deviation of `light`.
    pub(super) light_sd: f64,
    /// The ground's sum, in the same unit.
    pub(super) ground: f64,
    /// Glow above the ground where no channel is clipped: red, green, blue, linear light; 0 where all is clipped.
    pub(super) rgb: [f64; 3],
    /// One standard deviation of `rgb`.
    pub(super) rgb_sd: [f64; 3],
    /// The ground: red, green, blue, linear light.
    pub(super) ground_rgb: [f64; 3],
    /// Width here, pixels, where it is known.
    pub(super) width_px: Option<f64>,
}

/// The shaft resampled straight; brightness in noise units of the background.
#[derive(Clone, Debug)]
pub(super) struct Strip<'a> {
    /// Red, green, blue; column = arc length, middle row = centreline.
    pub(super) channels: &'a [Raster<f32>; 3],
    /// Pixels of the photo per column and row.
    pub(super) step_px: f64,
    /// Whether a column lies clear.
    pub(super) clear: Vec<bool>,
}

/// Everything the feature functions may know of one shaft by itself.
#[derive(Clone, Debug)]
pub(super) struct Signals<'a> {
    /// The shaft's course.
    pub(super) centreline: &'a Polyline,
    /// Distance between stations, pixels.
    pub(super) step_px: f64,
    /// All stations, clear or not.
    pub(super) n_stations: usize,
    /// Widths at clear stations, pixels.
    pub(super) widths: Vec<Reading>,
    /// Edges at clear stations.
    pub(super) edges: Vec<EdgePair>,
    /// Fluorescence at clear stations.
    pub(super) glow: Vec<Glow>,
    /// The same at all stations whose light is this shaft's own, those at its ends and clipped ones too: they say where
    /// it fluoresces, not how brightly.
    pub(super) glow_in_sight: Vec<Glow>,
    /// Glow of the middle divided by that of the rim.
    pub(super) core_to_rim: Vec<f64>,
    /// Glow beside the outline divided by that inside.
    pub(super) spill: Vec<f64>,
    /// Depth of a dark middle line, share of the height.
    pub(super) medulla: Vec<f64>,
    /// What the fitted cross-sections leave, in noise units.
    pub(super) residual: Vec<f64>,
    /// Variance of the light along the shaft within a station over that of the noise.
    pub(super) texture: Vec<f64>,
    /// How light is spread across the shaft, 0 through its volume, 1 flat; where it was fitted.
    pub(super) flatness: Option<f64>,
    /// Height (below 0: depth) of a fitted core, share of the cylinder's height; 0 where the fit found none.
    pub(super) core: Option<f64>,
    /// The shaft resampled straight.
    pub(super) strip: Strip<'a>,
    /// Gaussian sigma of the blur, pixels: this shaft's, else the photo's.
    pub(super) blur_px: Option<f64>,
    /// First and last end.
    pub(super) ends: [End; 2],
    /// Whether there is no colour.
    pub(super) monochrome: bool,
    /// Micrometres per pixel.
    pub(super) um_per_px: Option<f64>,
}

impl Signals<'_> {
    /// Median width, pixels; `None` where fewer than [`MIN_READINGS`] stations have one.
    pub(super) fn width_px(&self) -> Option<f64> {
        enough(&self.widths).and_then(|w| robust::median(&values(w)))
    }

    /// Length of the centreline, pixels.
    pub(super) fn length_px(&self) -> f64 {
        self.centreline.length()
    }
}

/// Fewest stations that a median or a spread may stand on. Under five, one bad station of two neighbours decides.
pub(super) const MIN_READINGS: usize = 5;

/// The readings, where there are enough to condense.
pub(super) fn enough<T>(readings: &[T]) -> Option<&[T]> {
    (readings.len() >= MIN_READINGS).then_some(readings)
}

/// The bare values.
pub(super) fn values(readings: &[Reading]) -> Vec<f64> {
    readings.iter().map(|r| r.value).collect()
}

/// The places of readings, pixels.
pub(super) fn places(readings: &[Reading]) -> Vec<f64> {
    readings.iter().map(|r| r.s_px).collect()
}

/// Places and values, as points.
pub(super) fn points(readings: &[Reading]) -> Vec<(f64, f64)> {
    readings.iter().map(|r| (r.s_px, r.value)).collect()
}

/// Median standard deviation of readings; 0 of none.
pub(super) fn noise(readings: &[Reading]) -> f64 {
    robust::median(&readings.iter().map(|r| r.sd).collect::<Vec<_>>()).unwrap_or(0.0)
}

/// The light along a shaft, as readings.
pub(super) fn light(glow: &[Glow]) -> Vec<Reading> {
    glow.iter().map(|g| Reading { s_px: g.s_px, value: g.light, sd: g.light_sd }).collect()
}

/// One channel along a shaft, as readings.
pub(super) fn channel(glow: &[Glow], channel: usize) -> Vec<Reading> {
    glow.iter().map(|g| Reading { s_px: g.s_px, value: g.rgb[channel], sd: g.rgb_sd[channel] }).collect()
}

/// Median ground light along a shaft, never below 0; 0 of no station.
pub(super) fn ground(glow: &[Glow]) -> f64 {
    robust::median(&glow.iter().map(|g| g.ground).collect::<Vec<_>>()).unwrap_or(0.0).max(0.0)
}

/// What each channel is multiplied with before the three are added: 1 / noise, one set a photo, from the noise of
/// all its clear stations. `None` where no channel shows any noise.
pub(super) fn channel_weights(noise: &[[f64; 3]]) -> Option<[f64; 3]> {
    let of = |channel: usize| robust::median(&noise.iter().map(|sd| sd[channel]).collect::<Vec<_>>());
    let sds = [of(0)?, of(1)?, of(2)?];
    let least = LEAST_NOISE_SHARE * sds.iter().copied().fold(0.0, f64::max);
    (least > 0.0).then(|| sds.map(|sd| 1.0 / sd.max(least)))
}

/// The three channels added with their weights.
pub(super) fn weighted_sum(weights: [f64; 3], rgb: [f64; 3]) -> f64 {
    weights.iter().zip(rgb).map(|(w, c)| w * c).sum()
}

/// Standard deviation of [`weighted_sum`], the channels' noise taken as independent.
pub(super) fn weighted_sd(weights: [f64; 3], sd: [f64; 3]) -> f64 {
    weights.iter().zip(sd).map(|(w, s)| (w * s) * (w * s)).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::{channel_weights, weighted_sd, weighted_sum};

    #[test]
    fn neither_exposure_nor_white_balance_changes_the_light() {
        let noise = [[0.01, 0.02, 0.04]; 3];
        let weights = channel_weights(&noise).unwrap();
        let light = weighted_sum(weights, [0.1, 0.4, 0.2]);
        assert!((light - (10.0 + 20.0 + 5.0)).abs() < 1e-9);
        assert!((weighted_sd(weights, noise[0]) - 3f64.sqrt()).abs() < 1e-12);
        let gains = [3.0, 1.5, 0.75];
        let gained = channel_weights(&noise.map(|sd| [sd[0] * 3.0, sd[1] * 1.5, sd[2] * 0.75])).unwrap();
        let again = weighted_sum(gained, [0.1 * gains[0], 0.4 * gains[1], 0.2 * gains[2]]);
        assert!((again - light).abs() < 1e-9);
    }

    #[test]
    fn a_channel_clipped_to_black_does_not_rule() {
        let weights = channel_weights(&[[0.0, 0.02, 0.02]]).unwrap();
        assert_eq!(weights, [200.0, 50.0, 50.0]);
        assert_eq!(channel_weights(&[[0.0; 3]]), None, "no noise, no unit");
        assert_eq!(channel_weights(&[]), None);
    }
}
