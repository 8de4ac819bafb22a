//! The light across a blurred cylinder, and what a measured cross-section says of its diameter.
//!
//! # Model
//! A cylinder of radius R is looked at from the side. At distance v·R from its axis the ray runs through a chord
//! c = √(1 − v²) (in units of the diameter). Its light is
//!
//! ```text
//! f(v) = F_p(c(v)) + r · c(v / k)            F_p(c) = (1 − exp(−a c)) / (1 − exp(−a)),   a = 2 p / (1 − p)
//! ```
//!
//! `p`, the flatness, runs from a clear volume emitter (p = 0: F = c) through one that absorbs its own light, or
//! absorbs that of the ground, to an opaque one (p = 1: F = 1); slightly negative p is a profile more peaked than a
//! cylinder's. The core of radius k·R and strength r is a dark or bright medulla, or, with k near 1 and
//! r near −k, the hollow of a shell. This is blurred with a Gaussian of standard deviation σ and laid over a ground
//! b₀ + b₁·t. The *width* is 2 R: where emission ends, not where brightness halves.
//!
//! # Fitting
//! Blur and shape (σ, p, r, k) are one for many stations, because a single station cannot tell a blurred box from a
//! sharper, broader cylinder; see [`choice`]. Given them, each station has five numbers of its own: centre, radius,
//! height, b₀, b₁; see [`station`]. [`bound`] derives the least uncertainty that any unbiased method could have.
//!
//! # Weakness
//! Where σ exceeds about R / 1.5, shape, blur and radius trade off almost freely: the uncertainties say so.

pub mod bound;

pub mod choice;

mod expected;

mod joint;

pub mod station;

pub mod templates;

pub use choice::{Joint, fit_joint};
pub use station::{Curves, Section, StationFit, fit_station, start_at};
pub use templates::{Family, Template};

/// What the stations of a shaft share: how its light is spread across it, and the blur.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shape {
    /// Standard deviation of the blur, pixels, above 0; pixel integration included.
    pub blur_px: f64,
    /// 0 = clear volume emitter, 1 = opaque; from [`templates::FLATNESS_MIN`] to 1.
    pub flatness: f64,
    /// The core, where there is one.
    pub core: Option<Core>,
}

/// A darker or brighter core, coaxial with the cylinder.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Core {
    /// Its radius, share of the outer radius, 0 to 1.
    pub radius_share: f64,
    /// Its height (above 0) or depth (below 0), share of the height of the cylinder without it.
    pub strength: f64,
}

impl Shape {
    /// Light at distance `v` from the axis (in radii) before the blur, in units of the height of the cylinder
    /// without its core; 0 outside.
    pub fn unblurred(&self, v: f64) -> f64 {
        if v.abs() >= 1.0 {
            return 0.0;
        }
        let chord = |v: f64| (1.0 - v * v).max(0.0).sqrt();
        let core = self.core.map_or(0.0, |core| core.strength * chord(v / core.radius_share));
        templates::flattened(self.flatness, chord(v)) + core
    }

    /// Mean of [`Shape::unblurred`] over the outline.
    pub fn mean_inside(&self) -> f64 {
        const STEPS: usize = 64;
        // The midpoint rule in the angle, which removes the square-root edge.
        let step = std::f64::consts::PI / STEPS as f64;
        let sum: f64 = (0..STEPS)
            .map(|i| {
                let (sin, cos) = (-std::f64::consts::FRAC_PI_2 + (i as f64 + 0.5) * step).sin_cos();
                self.unblurred(sin) * cos
            })
            .sum();
        sum * step / 2.0
    }
}

/// Light at places across a station.
#[derive(Clone, Copy, Debug)]
pub struct Samples<'a> {
    /// Distance from the nominal centreline, pixels.
    pub at_px: &'a [f32],
    /// Light.
    pub light: &'a [f32],
    /// One over the variance of `light`; 0 leaves a sample out.
    pub weight: &'a [f32],
    /// Whether `light` is only the least that it can be, because the sensor clipped it; empty where none is.
    pub at_least: &'a [bool],
}

impl Samples<'_> {
    /// Whether sample `i` bears out any model that is brighter than it.
    pub(super) fn is_at_least(&self, i: usize) -> bool {
        self.at_least.get(i).copied().unwrap_or(false)
    }
}

#[cfg(test)]
mod tests {
    use super::{Core, Shape};

    #[test]
    fn the_mean_over_a_clear_cylinder_is_a_quarter_of_pi() {
        let clear = Shape { blur_px: 1.0, flatness: 0.0, core: None };
        assert!((clear.mean_inside() - std::f64::consts::FRAC_PI_4).abs() < 1e-3, "closed form: π/4");
        let opaque = Shape { blur_px: 1.0, flatness: 1.0, core: None };
        assert!((opaque.mean_inside() - 1.0).abs() < 1e-3, "a box");
    }

    #[test]
    fn a_shell_is_hollow() {
        let shell = Shape { blur_px: 1.0, flatness: 0.0, core: Some(Core { radius_share: 0.8, strength: -0.8 }) };
        assert!((shell.unblurred(0.0) - 0.2).abs() < 1e-12, "closed form: 1 − k in the middle");
        assert!((shell.unblurred(0.8) - 0.6).abs() < 1e-12, "closed form: √(1 − k²) at the inner edge");
    }
}
