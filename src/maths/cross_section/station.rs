//! The fit of one station: centre, radius, height and ground, with shape and blur given.
//!
//! Levenberg's damped Gauss-Newton on all five numbers, with weights for outliers once it has settled.
//! Uncertainties are those of the normal matrix for the variances given with the samples.

use nalgebra::{SMatrix, SVector};

use super::{Family, Samples, Shape, Template};

/// Numbers a station has of its own: centre, ln radius, height, ground, slope.
pub(super) const OWN: usize = 5;
/// Numbers the stations of a shaft share: ln blur, flatness, core strength, ln core radius share.
pub(super) const SHARED: usize = 4;
/// Rounds before a fit is given up; a good start needs three to five.
const ROUNDS: usize = 15;
/// A step that promises less improvement than this (χ², units of the residual variance) ends the fit.
const SETTLED: f64 = 1e-3;
/// A step this small, as a share of the radius, ends the fit as well: light without noise never settles otherwise.
const STEP_SETTLED: f64 = 1e-6;
/// Most that ln radius moves in a round; more leaves the range where the model is nearly linear.
const MAX_LN_STEP: f64 = 0.25;
/// Most that the radius may leave its start by, as a factor; further away it is another object.
const MAX_FACTOR: f64 = 3.0;
/// Residuals beyond this many standard deviations lose weight (as 1 / z²). Below 3.5, plain noise would be cut.
const OUTLIER: f64 = 4.0;
/// Templates are kept while ln radius stays within this: what is left out is of second order, 1e-4 of the height.
const NEAR_ENOUGH: f64 = 0.015;
/// Least number of samples a fit is tried with.
const MIN_SAMPLES: usize = 9;

/// One cross-section: what is a station's own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Distance of the axis from the nominal centreline, pixels.
    pub centre_px: f64,
    /// Outer radius, pixels.
    pub radius_px: f64,
    /// Height of the cylinder without its core, units of the light.
    pub height: f64,
    /// Light of the ground at the nominal centreline.
    pub ground: f64,
    /// Growth of the ground a pixel.
    pub slope: f64,
}

/// A fitted station.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StationFit {
    /// The cross-section.
    pub section: Section,
    /// One standard deviation of the centre, pixels, for the variances given.
    pub centre_sd_px: f64,
    /// One standard deviation of the radius, pixels, for the variances given.
    pub radius_sd_px: f64,
    /// Weighted sum of squared residuals.
    pub chi2: f64,
    /// Samples minus fitted numbers.
    pub freedom: f64,
    /// Sum of products of neighbouring normalised residuals at lags 1 to 3, for their correlation.
    pub lagged: [f64; 3],
}

/// The curves of one shape, ready to be evaluated at any radius.
#[derive(Debug)]
pub struct Curves {
    shape: Shape,
    main: Family,
    core: Option<Family>,
    main_now: Template,
    core_now: Template,
    /// Radius the templates were made for, and ln ρ at the radius in use less that.
    made_for_px: f64,
    ln_rho_off: f32,
}

/// A blurred cross-section of unit height at one place, and its derivatives.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct CurveValue {
    pub(super) light: f64,
    pub(super) by_v: f64,
    pub(super) by_ln_radius: f64,
    pub(super) by_shared: [f64; SHARED],
}

impl Curves {
    /// Curves of this shape.
    pub fn new(shape: Shape) -> Curves {
        Curves {
            shape,
            main: Family::new(shape.flatness),
            core: shape.core.map(|_| Family::new(0.0)),
            main_now: Template::default(),
            core_now: Template::default(),
            made_for_px: 0.0,
            ln_rho_off: 0.0,
        }
    }

    /// The shape.
    pub fn shape(&self) -> Shape {
        self.shape
    }

    /// Prepares evaluation at this radius.
    pub(super) fn set_radius(&mut self, radius_px: f64) {
        let off = (self.made_for_px / radius_px).ln();
        if off.abs() < NEAR_ENOUGH {
            self.ln_rho_off = off as f32;
            return;
        }
        self.made_for_px = radius_px;
        self.ln_rho_off = 0.0;
        let rho = self.shape.blur_px / radius_px;
        self.main.template_into(rho, &mut self.main_now);
        if let (Some(family), Some(core)) = (&mut self.core, self.shape.core) {
            family.template_into(rho / core.radius_share, &mut self.core_now);
        }
    }

    /// Blurred light of a cross-section of unit height at distances `v` (radii, ≥ 0) from the axis.
    pub fn light(&mut self, radius_px: f64, v: &[f64]) -> Vec<f64> {
        self.set_radius(radius_px);
        v.iter().map(|&v| self.value::<OWN>(v as f32).light).collect()
    }

    #[inline]
    pub(super) fn value<const N: usize>(&self, v: f32) -> CurveValue {
        let main = self.main_now.at(v);
        let mut value = CurveValue {
            light: f64::from(main.light + self.ln_rho_off * main.by_ln_rho),
            by_v: f64::from(main.by_v),
            by_ln_radius: f64::from(-v * main.by_v - main.by_ln_rho),
            by_shared: [f64::from(main.by_ln_rho), f64::from(main.by_flatness), 0.0, 0.0],
        };
        if let Some(core) = self.shape.core {
            let (share, strength) = (core.radius_share as f32, core.strength);
            let inner = self.core_now.at(v / share);
            let by_ln_size = f64::from(-v / share * inner.by_v - inner.by_ln_rho);
            value.light += strength * f64::from(inner.light + self.ln_rho_off * inner.by_ln_rho);
            value.by_v += strength * f64::from(inner.by_v / share);
            value.by_ln_radius += strength * by_ln_size;
            if N > OWN {
                value.by_shared[0] += strength * f64::from(inner.by_ln_rho);
                value.by_shared[2] = f64::from(inner.light + self.ln_rho_off * inner.by_ln_rho);
                value.by_shared[3] = strength * by_ln_size;
            }
        }
        value
    }
}

/// The normal equations of a station at one place of its parameters.
#[derive(Clone, Debug)]
pub(super) struct Normal<const N: usize> {
    pub(super) matrix: SMatrix<f64, N, N>,
    pub(super) gradient: SVector<f64, N>,
    pub(super) chi2: f64,
}

/// Accumulates the normal equations; `N` is `OWN`, or `OWN + SHARED` when the shared numbers move as well.
pub(super) fn normal<const N: usize>(samples: Samples, section: &Section, curves: &mut Curves) -> Normal<N> {
    curves.set_radius(section.radius_px);
    let inverse_radius = 1.0 / section.radius_px;
    let mut lower = [[0.0_f64; N]; N];
    let mut gradient = [0.0_f64; N];
    let mut chi2 = 0.0;
    for (i, ((&at, &light), &weight)) in samples.at_px.iter().zip(samples.light).zip(samples.weight).enumerate() {
        if weight <= 0.0 {
            continue;
        }
        let (at, weight) = (f64::from(at), f64::from(weight));
        let offset = (at - section.centre_px) * inverse_radius;
        let value = curves.value::<N>(offset.abs() as f32);
        let residual = f64::from(light) - section.ground - section.slope * at - section.height * value.light;
        if residual < 0.0 && samples.is_at_least(i) {
            continue;
        }
        let mut row = [0.0_f64; N];
        row[0] = -section.height * value.by_v * offset.signum() * inverse_radius;
        row[1] = section.height * value.by_ln_radius;
        row[2] = value.light;
        row[3] = 1.0;
        row[4] = at;
        for (k, by) in value.by_shared.iter().enumerate().take(N - OWN) {
            row[OWN + k] = section.height * by;
        }
        chi2 += weight * residual * residual;
        for i in 0..N {
            let weighted = weight * row[i];
            gradient[i] += weighted * residual;
            for j in 0..=i {
                lower[i][j] += weighted * row[j];
            }
        }
    }
    Normal {
        matrix: SMatrix::from_fn(|i, j| if j <= i { lower[i][j] } else { lower[j][i] }),
        gradient: SVector::from(gradient),
        chi2,
    }
}

/// Height and ground by linear least squares for a given centre and radius: a start for the fit.
///
/// `None` when the samples do not determine them.
pub fn start_at(samples: Samples, centre_px: f64, radius_px: f64, curves: &mut Curves) -> Option<Section> {
    let nothing = Section { centre_px, radius_px, height: 0.0, ground: 0.0, slope: 0.0 };
    let all: Normal<OWN> = normal(samples, &nothing, curves);
    // Rows 2, 3, 4 of the equations are height, ground and slope; at height 0 they are linear.
    let matrix: SMatrix<f64, 3, 3> = all.matrix.fixed_view::<3, 3>(2, 2).into_owned();
    let gradient: SVector<f64, 3> = all.gradient.fixed_view::<3, 1>(2, 0).into_owned();
    let found = matrix.cholesky()?.solve(&gradient);
    Some(Section { height: found[0], ground: found[1], slope: found[2], ..nothing })
}

/// Fits one station from a start that is right to about half a radius and a factor of 1.5.
///
/// `None` when there are too few samples, the fit does not settle, leaves the neighbourhood of its start, or the
/// height turns out to be nothing.
pub fn fit_station(samples: Samples, start: &Section, curves: &mut Curves) -> Option<StationFit> {
    let n_samples = samples.weight.iter().filter(|w| **w > 0.0).count();
    if n_samples < MIN_SAMPLES {
        return None;
    }
    let mut settled = settle(samples, start, curves)?;
    let mut z = residuals(samples, &settled.0, curves);
    let mean_square = settled.1.chi2 / (n_samples - OWN) as f64;
    if let Some(weight) = without_outliers(samples, &z, mean_square) {
        let samples = Samples { weight: &weight, ..samples };
        settled = settle(samples, &settled.0, curves)?;
        z = residuals(samples, &settled.0, curves);
    }
    finish(settled, &z, n_samples, start)
}

fn settle(samples: Samples, start: &Section, curves: &mut Curves) -> Option<(Section, Normal<OWN>)> {
    let mut section = *start;
    let mut now: Normal<OWN> = normal(samples, &section, curves);
    let mut damping = 1e-4;
    let scale = samples.weight.len().max(1) as f64;
    for _ in 0..ROUNDS {
        let step = damped_step(&now, damping)?;
        let promised = step.dot(&now.gradient) / (now.chi2 / scale).max(f64::MIN_POSITIVE);
        let small = step[0].abs() < STEP_SETTLED * section.radius_px && step[1].abs() < STEP_SETTLED;
        let done = promised < SETTLED || small;
        let tried = moved(&section, &step);
        let next: Normal<OWN> = normal(samples, &tried, curves);
        if next.chi2.is_finite() && next.chi2 <= now.chi2 * (1.0 + 1e-9) {
            (section, now) = (tried, next);
            damping = (damping * 0.1).max(1e-9);
            if done {
                return Some((section, now));
            }
        } else {
            if done {
                return Some((section, now));
            }
            damping = (damping * 20.0).max(1e-3);
        }
    }
    None
}

fn damped_step(normal: &Normal<OWN>, damping: f64) -> Option<SVector<f64, OWN>> {
    let mut matrix = normal.matrix;
    for i in 0..OWN {
        matrix[(i, i)] *= 1.0 + damping;
    }
    Some(matrix.cholesky()?.solve(&normal.gradient))
}

pub(super) fn moved(section: &Section, step: &SVector<f64, OWN>) -> Section {
    // The whole step shrinks, so that its direction stays one of descent.
    let longest = (step[1].abs() / MAX_LN_STEP).max(step[0].abs() / (0.4 * section.radius_px)).max(1.0);
    let step = step / longest;
    Section {
        centre_px: section.centre_px + step[0],
        radius_px: section.radius_px * step[1].exp(),
        height: section.height + step[2],
        ground: section.ground + step[3],
        slope: section.slope + step[4],
    }
}

/// Weights in which outliers count less; `None` when there are none. `z` are the residuals in units of their noise.
fn without_outliers(samples: Samples, z: &[f32], mean_square: f64) -> Option<Vec<f32>> {
    let squares: Vec<f32> = z.iter().map(|z| z * z).collect();
    // Most stations have none: then the largest is no outlier even by the mean square, which outliers only raise.
    let limit = OUTLIER * OUTLIER;
    let largest = f64::from(squares.iter().copied().fold(0.0, f32::max));
    if largest < limit * mean_square * 0.25 {
        return None;
    }
    let mut sorted: Vec<f32> = squares.iter().zip(samples.weight).filter(|(_, w)| **w > 0.0).map(|(s, _)| *s).collect();
    let middle = sorted.len() / 2;
    // The median of z² is 0.455 for a Gaussian (from memory).
    let scale = f64::from(*sorted.select_nth_unstable_by(middle, f32::total_cmp).1) / 0.455;
    if largest <= limit * scale {
        return None;
    }
    let less = |square: f32| ((limit * scale) as f32 / square).min(1.0);
    Some(squares.iter().zip(samples.weight).map(|(&square, &w)| w * less(square)).collect())
}

/// Residuals in units of their standard deviation; 0 where a sample is left out.
fn residuals(samples: Samples, section: &Section, curves: &mut Curves) -> Vec<f32> {
    curves.set_radius(section.radius_px);
    let one = |(i, ((&at, &light), &weight)): (usize, ((&f32, &f32), &f32))| {
        let at = f64::from(at);
        let v = (at - section.centre_px).abs() / section.radius_px;
        let fitted = section.ground + section.slope * at + section.height * curves.value::<OWN>(v as f32).light;
        let residual = (f64::from(light) - fitted) as f32 * weight.max(0.0).sqrt();
        if samples.is_at_least(i) { residual.max(0.0) } else { residual }
    };
    samples.at_px.iter().zip(samples.light).zip(samples.weight).enumerate().map(one).collect()
}

fn finish(
    (section, normal): (Section, Normal<OWN>),
    z: &[f32],
    n_samples: usize,
    start: &Section,
) -> Option<StationFit> {
    let factor = section.radius_px / start.radius_px;
    let strayed = (section.centre_px - start.centre_px).abs() > start.radius_px.max(section.radius_px);
    if !(1.0 / MAX_FACTOR..=MAX_FACTOR).contains(&factor) || strayed || section.height <= 0.0 {
        return None;
    }
    let covariance = normal.matrix.cholesky()?.inverse();
    let lagged = [1, 2, 3].map(|lag| z.iter().zip(&z[lag.min(z.len())..]).map(|(a, b)| f64::from(a * b)).sum());
    let fit = StationFit {
        section,
        centre_sd_px: covariance[(0, 0)].sqrt(),
        radius_sd_px: covariance[(1, 1)].sqrt() * section.radius_px,
        chi2: normal.chi2,
        freedom: (n_samples - OWN) as f64,
        lagged,
    };
    (fit.radius_sd_px.is_finite() && fit.centre_sd_px.is_finite()).then_some(fit)
}

#[cfg(test)]
mod tests {
    use super::super::{Core, Samples, Shape};
    use super::{Curves, Section, fit_station};

    fn drawn(shape: Shape, truth: Section) -> (Vec<f32>, Vec<f32>) {
        let at: Vec<f32> = (-80..=80).map(|i| i as f32 * 0.5).collect();
        let mut curves = Curves::new(shape);
        let v: Vec<f64> = at.iter().map(|t| (f64::from(*t) - truth.centre_px).abs() / truth.radius_px).collect();
        let curve = curves.light(truth.radius_px, &v);
        let light = at.iter().zip(&curve);
        let light = light.map(|(t, c)| (truth.ground + truth.slope * f64::from(*t) + truth.height * c) as f32);
        (at.clone(), light.collect())
    }

    #[test]
    fn a_noiseless_section_is_found_exactly_from_a_rough_start() {
        for core in [None, Some(Core { radius_share: 0.5, strength: -0.4 })] {
            let shape = Shape { blur_px: 1.7, flatness: 0.3, core };
            let truth = Section { centre_px: 1.3, radius_px: 11.0, height: 5.0, ground: 2.0, slope: 0.02 };
            let (at_px, light) = drawn(shape, truth);
            let weight = vec![1.0; at_px.len()];
            let start = Section { centre_px: -2.5, radius_px: 8.0, height: 3.0, ground: 1.0, slope: 0.0 };
            let samples = Samples { at_px: &at_px, light: &light, weight: &weight, at_least: &[] };
            let fit = fit_station(samples, &start, &mut Curves::new(shape)).expect("it settles");
            assert!((fit.section.radius_px - 11.0).abs() < 1e-3, "{fit:?}");
            assert!((fit.section.centre_px - 1.3).abs() < 1e-3, "{fit:?}");
            assert!((fit.section.slope - 0.02).abs() < 1e-4, "{fit:?}");
        }
    }

    #[test]
    fn a_speck_of_dust_beside_the_shaft_hardly_moves_it() {
        let shape = Shape { blur_px: 1.5, flatness: 0.0, core: None };
        let truth = Section { centre_px: 0.0, radius_px: 10.0, height: 1.0, ground: 0.1, slope: 0.0 };
        let (at_px, mut light) = drawn(shape, truth);
        for (i, light) in light.iter_mut().enumerate() {
            *light += 0.01 * ((i * 7919) as f32 * 0.37).sin();
        }
        for light in &mut light[130..136] {
            *light += 1.5;
        }
        let weight = vec![1e4; at_px.len()];
        let samples = Samples { at_px: &at_px, light: &light, weight: &weight, at_least: &[] };
        let fit = fit_station(samples, &truth, &mut Curves::new(shape)).expect("it settles");
        assert!((fit.section.radius_px - 10.0).abs() < 0.1, "{fit:?}");
    }

    #[test]
    fn nothing_is_no_section() {
        let shape = Shape { blur_px: 1.5, flatness: 0.0, core: None };
        let at_px: Vec<f32> = (-40..=40).map(|i| i as f32).collect();
        let (flat, weight) = (vec![0.3; 81], vec![1.0; 81]);
        let start = Section { centre_px: 0.0, radius_px: 10.0, height: 1.0, ground: 0.1, slope: 0.0 };
        let samples = Samples { at_px: &at_px, light: &flat, weight: &weight, at_least: &[] };
        let fit = fit_station(samples, &start, &mut Curves::new(shape));
        assert!(fit.is_none_or(|fit| fit.section.height.abs() < 1e-3), "{fit:?}");
        let few = Samples { at_px: &at_px[..4], light: &flat[..4], weight: &weight[..4], at_least: &[] };
        assert!(fit_station(few, &start, &mut Curves::new(shape)).is_none());
    }
}
