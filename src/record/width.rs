//! The outer diameter of a whole shaft, as it is kept.

use crate::maths::robust;
use crate::units::Scale;

/// Below this many stations a spread says nothing about the shaft.
const LEAST_FOR_SPREAD: usize = 3;

/// Standard uncertainties that an upper bound lies above the median. Of 90 shafts of tuning scenes that were too thin
/// for their width to be told 84 were thinner than that bound (seeds 1301 to 1380).
const BOUND_SDS: f64 = 2.0;

/// A median and its standard uncertainty, pixels, from the shaft's unobstructed stations.
#[derive(Clone, Copy, Debug)]
pub(super) struct Middle {
    pub(super) px: f64,
    pub(super) sd_px: f64,
    pub(super) common_sd_px: f64,
}

/// The outer diameter of a shaft: what a cylinder of that diameter would have given in this photo.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Width {
    /// Median over the unobstructed stations, pixels; absent when there are too few.
    pub median_px: Option<f64>,
    /// Standard uncertainty of `median_px`, pixels.
    pub sd_px: Option<f64>,
    /// The part of `sd_px` that a second photo of the same shaft would share, pixels; the rest is independent.
    pub common_sd_px: Option<f64>,
    /// Spread along the shaft: standard deviation estimated from the median absolute deviation, pixels.
    /// Holds both the shaft's own unevenness and the stations' noise. Absent below three stations.
    pub spread_px: Option<f64>,
    /// Median in micrometres; absent without a scale.
    pub median_um: Option<f64>,
    /// Standard uncertainty of `median_um`, the scale's own included where it is known.
    pub sd_um: Option<f64>,
    /// Unobstructed stations whose width was measured.
    pub n_measured: usize,
}

/// What a diameter is at most, given its median and standard uncertainty in any one unit; see [`Width::at_most`].
pub fn upper_bound(median: f64, sd: f64) -> Option<f64> {
    (sd < median).then_some(median + BOUND_SDS * sd)
}

impl Width {
    /// Spread divided by median; absent where either is.
    pub fn cv(&self) -> Option<f64> {
        Some(self.spread_px? / self.median_px.filter(|median| *median > 0.0)?)
    }

    /// What the shaft's diameter is at most, pixels and micrometres: the median and two standard uncertainties. Absent
    /// where it would say nothing, because the median is less than its own uncertainty.
    pub fn at_most(&self) -> [Option<f64>; 2] {
        let bound = |median: Option<f64>, sd: Option<f64>| upper_bound(median?, sd?);
        [bound(self.median_px, self.sd_px), bound(self.median_um, self.sd_um)]
    }

    /// The width of a shaft from its middle and the widths of its unobstructed stations.
    pub(super) fn of(middle: Option<Middle>, widths: &[f64], scale: Option<Scale>) -> Width {
        let middle = middle.filter(|middle| middle.px.is_finite() && middle.sd_px.is_finite());
        Width {
            median_px: middle.map(|middle| middle.px),
            sd_px: middle.map(|middle| middle.sd_px),
            common_sd_px: middle.map(|middle| middle.common_sd_px),
            spread_px: (widths.len() >= LEAST_FOR_SPREAD).then(|| robust::spread(widths)).flatten(),
            median_um: scale.zip(middle).map(|(scale, middle)| scale.um_from_px(middle.px)),
            // Two independent causes: the measurement in pixels, and the scale.
            sd_um: scale.zip(middle).map(|(scale, middle)| {
                scale.um_from_px(middle.sd_px).hypot(middle.px * scale.sd_um_per_px.unwrap_or(0.0))
            }),
            n_measured: widths.len(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Middle, Width};
    use crate::units::{Scale, ScaleSource};

    #[test]
    fn nothing_measured_is_absent_and_not_zero() {
        let width = Width::of(None, &[], None);
        assert_eq!((width.median_px, width.sd_px, width.spread_px, width.cv()), (None, None, None, None));
    }

    #[test]
    fn a_station_out_of_the_row_hardly_moves_the_spread() {
        let widths = [19.0, 20.0, 21.0, 20.5, 19.5, 90.0, 20.0];
        let width = Width::of(Some(Middle { px: 20.0, sd_px: 0.2, common_sd_px: 0.1 }), &widths, None);
        // Distances from 20: 1, 0, 1, 0.5, 0.5, 70, 0; their median is 0.5.
        assert!((width.spread_px.unwrap() - 1.4826 * 0.5).abs() < 1e-4);
        assert!((width.cv().unwrap() - 0.037065).abs() < 1e-5);
    }

    #[test]
    fn micrometres_carry_the_scale_and_its_uncertainty() {
        let scale = Scale { um_per_px: 0.5, sd_um_per_px: Some(0.01), source: ScaleSource::Given };
        let width = Width::of(Some(Middle { px: 40.0, sd_px: 0.6, common_sd_px: 0.3 }), &[40.0], Some(scale));
        assert_eq!((width.median_um, width.spread_px), (Some(20.0), None));
        // 0.6 px · 0.5 = 0.3 µm from the photo, 40 px · 0.01 = 0.4 µm from the scale.
        assert!((width.sd_um.unwrap() - 0.5).abs() < 1e-12);
    }
}
