//! The outer diameter of a whole shaft, from its stations.
//!
//! Weakness: the uncertainty covers what differs from station to station. A fault that all stations share
//! (a wrong scale in pixels, an optic that is not the one the fit assumes) does not show in it; what is known of
//! the scale's own uncertainty is added to the micrometres.

use super::glow::median;
use crate::units::Scale;

/// The standard deviation of normally distributed values is this many times their median absolute deviation
/// (closed form: 1 / Φ⁻¹(3/4)).
const SD_PER_MAD: f64 = 1.482_602_218_505_602;

/// The standard error of the median of n normal values is this many times that of their mean
/// (closed form for large n: √(π/2)).
const MEDIAN_PER_MEAN_ERROR: f64 = 1.253_314_137_315_5;

/// A width at one station and its standard deviation, pixels.
#[derive(Clone, Copy, Debug)]
pub(super) struct Measured {
    width_px: f64,
    sd_px: Option<f64>,
}

/// A station's width, where there is one above 0.
pub(super) fn measured(width_px: Option<f64>, sd_px: Option<f64>) -> Option<Measured> {
    width_px.filter(|width| *width > 0.0).map(|width_px| Measured { width_px, sd_px })
}

/// The outer diameter of a shaft: what a cylinder of that diameter would have given in this photo.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Width {
    /// Median over the measured stations, pixels; absent when no station could be measured.
    pub median_px: Option<f64>,
    /// Standard uncertainty of `median_px`; absent below two stations unless that one states its own.
    pub sd_px: Option<f64>,
    /// Spread along the shaft: standard deviation estimated from the median absolute deviation, pixels.
    /// Holds both the shaft's own unevenness and the stations' noise. Absent below three stations.
    pub spread_px: Option<f64>,
    /// Median in micrometres; absent without a scale.
    pub median_um: Option<f64>,
    /// Standard uncertainty of `median_um`, the scale's own included where it is known.
    pub sd_um: Option<f64>,
    /// Stations whose width was measured.
    pub n_measured: usize,
    /// All stations.
    pub n_stations: usize,
}

impl Width {
    /// Spread divided by median; absent where either is.
    pub fn cv(&self) -> Option<f64> {
        Some(self.spread_px? / self.median_px?)
    }

    /// The width of a shaft from its measured stations in order.
    ///
    /// The uncertainty is that of a median of n_eff independent values. Their noise is the greater of what the
    /// stations state and what neighbouring stations show (von Neumann's mean square successive difference,
    /// which a taper does not enlarge). n_eff is n less for what neighbours have in common: (1 − ρ)/(1 + ρ) n,
    /// with ρ the correlation of neighbours' departures from the median, as for a first-order autoregression
    /// (closed form).
    pub(super) fn of(stations: &[Measured], n_stations: usize, scale: Option<Scale>) -> Width {
        let widths: Vec<f64> = stations.iter().map(|station| station.width_px).collect();
        let Some(middle) = median(&widths) else {
            return Width { n_stations, ..Width::default() };
        };
        let departures: Vec<f64> = widths.iter().map(|width| width - middle).collect();
        let spread = (widths.len() >= 3)
            .then(|| median(&departures.iter().map(|d| d.abs()).collect::<Vec<f64>>()))
            .flatten()
            .map(|mad| SD_PER_MAD * mad);
        let stated: Vec<f64> = stations.iter().filter_map(|station| station.sd_px).collect();
        let noise = [median(&stated), successive_difference(&widths)].into_iter().flatten().reduce(f64::max);
        let n_effective = effective_count(&departures);
        let sd = noise.map(|noise| {
            let of_mean = noise / n_effective.sqrt();
            if widths.len() == 1 { of_mean } else { MEDIAN_PER_MEAN_ERROR * of_mean }
        });
        let median_um = scale.map(|scale| scale.um_from_px(middle));
        let sd_um =
            scale.zip(sd).map(|(scale, sd)| scale.um_from_px(sd).hypot(middle * scale.sd_um_per_px.unwrap_or(0.0)));
        Width {
            median_px: Some(middle),
            sd_px: sd,
            spread_px: spread,
            median_um,
            sd_um,
            n_measured: widths.len(),
            n_stations,
        }
    }
}

/// Standard deviation of the noise from neighbours' differences; absent below two values.
fn successive_difference(values: &[f64]) -> Option<f64> {
    let squares: Vec<f64> = values.windows(2).map(|pair| (pair[1] - pair[0]).powi(2)).collect();
    (!squares.is_empty()).then(|| (squares.iter().sum::<f64>() / squares.len() as f64 / 2.0).sqrt())
}

/// How many independent values the departures are worth: at least 1, at most their number.
fn effective_count(departures: &[f64]) -> f64 {
    let n = departures.len() as f64;
    let power: f64 = departures.iter().map(|d| d * d).sum();
    if departures.len() < 3 || power <= 0.0 {
        return n.max(1.0);
    }
    let shared: f64 = departures.windows(2).map(|pair| pair[0] * pair[1]).sum();
    let correlation = (shared / power).clamp(0.0, 1.0);
    (n * (1.0 - correlation) / (1.0 + correlation)).clamp(1.0, n)
}

#[cfg(test)]
mod tests {
    use super::{Measured, Width, measured};
    use crate::units::{Scale, ScaleSource};
    use rand::{Rng, SeedableRng};

    fn stations(widths: &[f64], sd: f64) -> Vec<Measured> {
        widths.iter().filter_map(|&width| measured(Some(width), Some(sd))).collect()
    }

    #[test]
    fn nothing_measured_is_absent_and_not_zero() {
        let width = Width::of(&[], 7, None);
        assert_eq!((width.median_px, width.sd_px, width.spread_px, width.cv()), (None, None, None, None));
        assert_eq!((width.n_measured, width.n_stations), (0, 7));
    }

    #[test]
    fn one_station_has_its_own_uncertainty_and_no_spread() {
        let width = Width::of(&stations(&[20.0], 0.4), 1, None);
        assert_eq!((width.median_px, width.sd_px, width.spread_px), (Some(20.0), Some(0.4), None));
    }

    #[test]
    fn a_station_out_of_the_row_hardly_moves_median_and_spread() {
        let width = Width::of(&stations(&[19.0, 20.0, 21.0, 20.5, 19.5, 90.0, 20.0], 0.5), 7, None);
        assert_eq!(width.median_px, Some(20.0));
        assert!(width.spread_px.unwrap() < 1.0);
    }

    #[test]
    fn micrometres_carry_the_scale_and_its_uncertainty() {
        let scale = Scale { um_per_px: 0.5, sd_um_per_px: Some(0.01), source: ScaleSource::Given };
        let width = Width::of(&stations(&[40.0], 0.6), 1, Some(scale));
        assert_eq!(width.median_um, Some(20.0));
        // 0.6 px · 0.5 = 0.3 µm from the fit, 40 px · 0.01 = 0.4 µm from the scale.
        assert!((width.sd_um.unwrap() - 0.5).abs() < 1e-12);
    }

    #[test]
    fn the_stated_uncertainty_is_the_scatter_of_repeated_measurements() {
        // Closed-form truth: even shafts of 30 px with noise of 0.8 px at each station. z-scores of the median
        // must have a standard deviation near 1.
        let mut dice = rand_chacha::ChaCha8Rng::seed_from_u64(1);
        let normal = rand_distr::Normal::new(0.0, 0.8).unwrap();
        let z: Vec<f64> = (0..2000)
            .map(|_| {
                let widths: Vec<f64> = (0..81).map(|_| 30.0 + dice.sample::<f64, _>(normal)).collect();
                let width = Width::of(&stations(&widths, 0.8), 81, None);
                (width.median_px.unwrap() - 30.0) / width.sd_px.unwrap()
            })
            .collect();
        let sd = (z.iter().map(|z| z * z).sum::<f64>() / z.len() as f64).sqrt();
        assert!((0.9..1.1).contains(&sd), "z-scores' standard deviation {sd:.3}");
    }

    #[test]
    fn neighbours_in_common_enlarge_the_uncertainty() {
        // Noise smoothed over five stations has less to say than as many independent values.
        let mut dice = rand_chacha::ChaCha8Rng::seed_from_u64(2);
        let raw: Vec<f64> = (0..205).map(|_| dice.gen_range(-1.0..1.0)).collect();
        let smooth: Vec<f64> = raw.windows(5).map(|five| 30.0 + five.iter().sum::<f64>()).collect();
        let mut shuffled = smooth.clone();
        for i in (1..shuffled.len()).rev() {
            shuffled.swap(i, dice.gen_range(0..=i));
        }
        let [smooth, shuffled] = [smooth, shuffled].map(|w| Width::of(&stations(&w, 1.5), 201, None).sd_px.unwrap());
        assert!(smooth > 1.5 * shuffled, "{smooth} against {shuffled}");
    }
}
