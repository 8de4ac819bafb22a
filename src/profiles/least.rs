//! The least uncertainty that any unbiased method could reach on a shaft's width: the Cramér-Rao bound for the fitted
//! cross-section and the scene's noise (`maths/cross_section/bound.rs` has the derivation).
//!
//! The shaft is taken as so many alike stations as were fitted, with the median's radius and height and the shape that
//! was found; blur, and flatness and core where the shape has them, are counted as unknown. Noise that is correlated
//! between pixels makes each of them worth less: the bound's variance grows by the same factor as the variances of the
//! fit do, which is read from the fit's residuals.

use super::stations::Sights;
use super::width::Widths;
use crate::maths::cross_section::Section;
use crate::maths::cross_section::bound::{Unknowns, bound};
use crate::maths::stats::median;

/// A shaft's signal and the bound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Least {
    /// Height of the cross-section above the ground, in standard deviations of one pixel's noise.
    pub signal_to_noise: f64,
    /// Least standard deviation of the width, pixels.
    pub width_sd_px: f64,
}

/// The bound for a shaft; `None` where shape or stations were not found, or when nothing could be told.
pub(super) fn least(sights: &Sights, widths: &Widths) -> Option<Least> {
    let shape = widths.joint.as_ref()?.shape;
    let fitted = || sights.sights.iter().zip(&widths.fits).filter(|(sight, _)| sight.clear);
    let sections: Vec<Section> = fitted().filter_map(|(_, fit)| fit.map(|fit| fit.section)).collect();
    let middle = |pick: fn(&Section) -> f64| median(&mut sections.iter().map(pick).collect::<Vec<f64>>());
    let (radius_px, height) = (middle(|s| s.radius_px)?, middle(|s| s.height)?);
    let reach = fitted().map(|(sight, _)| {
        let n = sight.bins.bins.len();
        if n == 0 { 0.0 } else { sight.bins.middle_px(n - 1).abs() }
    });
    let half_px = median(&mut reach.collect::<Vec<f64>>())?;
    let section = Section { centre_px: 0.0, radius_px, height, ground: 0.0, slope: 0.0 };
    let unknowns = Unknowns { blur: true, flatness: shape.flatness != 0.0, core: shape.core.is_some() };
    // Mixed light has unit variance a pixel at half height; a station has as many pixels a pixel across as it is long.
    let found = bound(shape, &section, half_px, sights.spacing_px, sections.len(), unknowns)?;
    let width_sd_px = 2.0 * found.mean_radius_px * widths.inflation.sqrt();
    let signal_to_noise = height / widths.noise_factor.sqrt();
    (width_sd_px.is_finite() && signal_to_noise.is_finite()).then_some(Least { signal_to_noise, width_sd_px })
}
