//! One width for a shaft out of its stations, with an honest uncertainty.
//!
//! The median of the clear stations. Its uncertainty has two parts. What differs from station to station (noise, and
//! irregularity of the outline) is read from the stations themselves: half the mean square difference of stations d
//! apart, which a slow taper hardly enters. At d = 4 neighbours' errors no longer go together, so that gives the
//! variance; the smaller differences at d = 1 to 3 give the correlation ρ_d = 1 − γ(d) / γ(4), which lowers the number
//! of independent stations by 1 + 2 Σ ρ_d. The median of a Gaussian sample has π/2 times the variance of the mean.
//! What all stations share (a wrong blur or shape makes all of them wrong alike) is added and does not average out, and
//! so is what no model of a shaft holds.

use super::Profile;

/// Least number of clear stations for a median.
const LEAST_STATIONS: usize = 3;
/// Distance at which stations no longer share their errors.
const APART: usize = 4;
/// What the model leaves out (uneven coats, scales, sheaths, sharpening by the camera) makes widths wrong by this share
/// of the width and this many blurs, one standard deviation. Found by comparing with known widths (a type B
/// evaluation, JCGM 100:2008, 4.3, from memory): 519 simulated shafts of tuning ranges asked for 0.009 and 0.40, the scenes of a second renderer with
/// even shafts for next to nothing; with what stands here the errors are 1.2 and 0.5 to 0.75 stated deviations wide.
const MODEL_SHARE: f64 = 0.009;
/// See [`MODEL_SHARE`].
const MODEL_BLURS: f64 = 0.25;

/// A shaft's width.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MedianWidth {
    /// Median outer diameter of the clear stations, pixels.
    pub px: f64,
    /// One standard deviation of `px`: `fit_sd_px`, and that no shaft is quite the model's, pixels.
    pub sd_px: f64,
    /// The part of it that the fit knows: noise of the stations and what shape and blur put on all of them, pixels.
    pub fit_sd_px: f64,
    /// The part of `sd_px` that a second photo of the same shaft would share, pixels: all but the stations' own noise.
    /// What of the shaft is not the model's misleads both alike, and so does a shape or blur that was wrongly chosen for
    /// that: on tuning scenes the errors of two photos' widths had a correlation of 0.8.
    pub common_sd_px: f64,
    /// Stations it rests on.
    pub stations: usize,
}

impl Profile {
    /// The median outer diameter of the clear stations; `None` with fewer than three of them.
    pub fn median_width(&self) -> Option<MedianWidth> {
        let placed: Vec<(usize, f64, f64)> = self
            .stations
            .iter()
            .enumerate()
            .filter(|(_, s)| s.clear)
            .filter_map(|(i, s)| Some((i, s.width_px?, s.width_own_sd_px?)))
            .collect();
        if placed.len() < LEAST_STATIONS {
            return None;
        }
        let mut widths: Vec<f64> = placed.iter().map(|p| p.1).collect();
        widths.sort_by(f64::total_cmp);
        let middle = widths.len() / 2;
        let px = if widths.len() % 2 == 1 { widths[middle] } else { 0.5 * (widths[middle - 1] + widths[middle]) };
        let stated = placed.iter().map(|p| p.2 * p.2).sum::<f64>() / placed.len() as f64;
        let own = variance_of_mean(&placed, stated) * std::f64::consts::FRAC_PI_2;
        let shared = self.width_shared_sd.unwrap_or(0.0) * px;
        let fit_sd_px = (own + shared * shared).sqrt();
        let model_sd_px = model_sd_px(px, self.blur_px);
        let (sd_px, common_sd_px) = (fit_sd_px.hypot(model_sd_px), shared.hypot(model_sd_px));
        Some(MedianWidth { px, sd_px, fit_sd_px, common_sd_px, stations: placed.len() })
    }
}

/// How far widths are off, one standard deviation in pixels, because no shaft is the model's.
pub(super) fn model_sd_px(width_px: f64, blur_px: Option<f64>) -> f64 {
    (MODEL_SHARE * width_px).hypot(MODEL_BLURS * blur_px.unwrap_or(0.0))
}

/// Variance of the mean of the stations' widths; `stated` is the mean of their own variances.
fn variance_of_mean(placed: &[(usize, f64, f64)], stated: f64) -> f64 {
    let n = placed.len() as f64;
    let half_square = |d: usize| {
        let pairs = placed.iter().filter_map(|a| {
            let b = placed.binary_search_by_key(&(a.0 + d), |p| p.0).ok()?;
            Some((placed[b].1 - a.1).powi(2) / 2.0)
        });
        let (sum, count) = pairs.fold((0.0, 0.0), |(s, c), square| (s + square, c + 1.0));
        (count >= 8.0).then(|| sum / count)
    };
    let Some(apart) = half_square(APART).filter(|v| *v > 0.0) else { return stated / n };
    let correlation: f64 = (1..APART).filter_map(half_square).map(|g| 1.0 - g / apart).sum();
    // Of n independent stations the sum of three correlations scatters by about the root of 6 / n; less says nothing.
    let correlation = if correlation > 2.0 * (6.0 / n).sqrt() { correlation.min(3.0) } else { 0.0 };
    apart * (1.0 + 2.0 * correlation) / n
}
