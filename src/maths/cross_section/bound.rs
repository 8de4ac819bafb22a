//! The least uncertainty with which any unbiased method could tell the radius: the Cramér-Rao bound.
//!
//! Light at place tᵢ is m(tᵢ; φ) plus independent Gaussian noise of variance sᵢ². The logarithm of the likelihood is
//! −½ Σ (yᵢ − m(tᵢ; φ))² / sᵢ² + constant, so that Fisher's information, the expectation of the product of its
//! derivatives, is
//!
//! ```text
//! I_jk = Σ (∂m/∂φ_j) (∂m/∂φ_k) / sᵢ²
//! ```
//!
//! and the covariance of an unbiased estimate is at least I⁻¹ (Cramér 1946, Rao 1945; from memory). For samples
//! that lie densely, n a pixel of distance and variance s² each, the sum is an integral times n / s².
//!
//! φ = (own numbers of each station, numbers shared by all). Own numbers of two stations have no common information,
//! so with N alike stations of own information A, shared B and mixed C the shared numbers have information
//! N (B − Cᵀ A⁻¹ C) (the Schur complement), and the mean of the stations' ln R has variance
//! (A⁻¹)_RR / N + g Σ gᵀ, with g = (A⁻¹ C)_R and Σ the shared numbers' covariance: the second part does not fall
//! with more stations other than through Σ, because a wrong blur makes all of them wrong alike.

use nalgebra::{DMatrix, SMatrix};

use super::station::{Curves, Normal, OWN, SHARED, normal};
use super::{Samples, Section, Shape};

/// What is known beforehand of the shared numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unknowns {
    /// Whether the blur must be found.
    pub blur: bool,
    /// Whether the flatness must be found.
    pub flatness: bool,
    /// Whether the core's strength and radius must be found.
    pub core: bool,
}

/// The bounds for a shaft of alike stations.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bound {
    /// Least standard deviation of one station's radius with shape and blur known, pixels.
    pub station_radius_px: f64,
    /// Least standard deviation of the mean radius of all stations, pixels, unknowns found from them.
    pub mean_radius_px: f64,
    /// Least standard deviation of ln blur; 0 when it is known.
    pub ln_blur: f64,
}

/// The bound for `n_stations` stations, each seen out to `half_px` from its axis by samples that carry
/// `per_px` / variance of information a pixel of distance.
///
/// `None` when the information is singular (nothing to see).
pub fn bound(
    shape: Shape,
    section: &Section,
    half_px: f64,
    per_px: f64,
    n_stations: usize,
    unknowns: Unknowns,
) -> Option<Bound> {
    const STEPS_A_PIXEL: f64 = 4.0;
    let n = (2.0 * half_px * STEPS_A_PIXEL).ceil() as usize;
    let at_px: Vec<f32> = (0..n).map(|i| ((i as f64 + 0.5) / STEPS_A_PIXEL - half_px) as f32).collect();
    let weight = vec![(per_px / STEPS_A_PIXEL) as f32; n];
    let light = vec![0.0; n];
    let samples = Samples { at_px: &at_px, light: &light, weight: &weight, at_least: &[] };
    let information: Normal<{ OWN + SHARED }> = normal(samples, section, &mut Curves::new(shape));
    let own: SMatrix<f64, OWN, OWN> = information.matrix.fixed_view::<OWN, OWN>(0, 0).into_owned();
    let own_covariance = own.cholesky()?.inverse();
    let core = unknowns.core && shape.core.is_some();
    let free: Vec<usize> = [unknowns.blur, unknowns.flatness, core, core]
        .iter()
        .enumerate()
        .filter(|(_, f)| **f)
        .map(|(i, _)| i)
        .collect();
    let own_sd = own_covariance[(1, 1)].sqrt() * section.radius_px;
    if free.is_empty() {
        let mean = own_sd / (n_stations as f64).sqrt();
        return Some(Bound { station_radius_px: own_sd, mean_radius_px: mean, ln_blur: 0.0 });
    }
    let q = free.len();
    let mixed = DMatrix::from_fn(OWN, q, |i, j| information.matrix[(i, OWN + free[j])]);
    let shared = DMatrix::from_fn(q, q, |i, j| information.matrix[(OWN + free[i], OWN + free[j])]);
    let own_covariance = DMatrix::from_fn(OWN, OWN, |i, j| own_covariance[(i, j)]);
    let pull = &own_covariance * &mixed;
    let covariance = ((shared - mixed.transpose() * &pull) * n_stations as f64).cholesky()?.inverse();
    let by_shared = pull.row(1).into_owned();
    let common = (&by_shared * &covariance * by_shared.transpose())[(0, 0)];
    let variance = own_covariance[(1, 1)] / n_stations as f64 + common;
    Some(Bound {
        station_radius_px: own_sd,
        mean_radius_px: variance.sqrt() * section.radius_px,
        ln_blur: if unknowns.blur { covariance[(0, 0)].sqrt() } else { 0.0 },
    })
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, StandardNormal};

    use super::super::joint::{Freedom, Model, Prior, Shares, solve};
    use super::super::station::{Curves, fit_station};
    use super::{Unknowns, bound};
    use crate::maths::cross_section::{Samples, Section, Shape};

    const KNOWN: Unknowns = Unknowns { blur: false, flatness: false, core: false };

    /// Closed form: the information on the place of one blurred edge of height h is ∫ (h g)² n/s² = h² n / (s² 2 σ √π),
    /// g the Gaussian. A box has two edges; its radius has the information of both, so its variance is half of
    /// one edge's, when the ground is known well (wide view) and the height too (wide box).
    #[test]
    fn the_bound_of_a_wide_box_is_that_of_two_edges() {
        let (sigma, per_px) = (2.0_f64, 3.0);
        let section = Section { centre_px: 0.0, radius_px: 400.0, height: 1.0, ground: 0.0, slope: 0.0 };
        let shape = Shape { blur_px: sigma, flatness: 1.0, core: None };
        let one_edge = per_px / (2.0 * sigma * std::f64::consts::PI.sqrt());
        let found = bound(shape, &section, 1600.0, per_px, 1, KNOWN).expect("regular");
        let expected = (0.5 / one_edge).sqrt();
        assert!((found.station_radius_px / expected - 1.0).abs() < 0.02, "{found:?}, closed form {expected}");
    }

    #[test]
    fn not_knowing_the_blur_costs_and_more_stations_help() {
        let section = Section { centre_px: 0.0, radius_px: 8.0, height: 1.0, ground: 0.0, slope: 0.0 };
        let shape = Shape { blur_px: 1.5, flatness: 0.0, core: None };
        let all = Unknowns { blur: true, flatness: true, core: false };
        let known = bound(shape, &section, 24.0, 1.0, 10, KNOWN).expect("regular");
        let unknown = bound(shape, &section, 24.0, 1.0, 10, all).expect("regular");
        let more = bound(shape, &section, 24.0, 1.0, 40, all).expect("regular");
        assert!(unknown.mean_radius_px > 1.2 * known.mean_radius_px);
        assert!((more.mean_radius_px / unknown.mean_radius_px - 0.5).abs() < 1e-6);
    }

    /// Light of one station at `at_px` for noise of variance 1 / `weight`.
    fn drawn(shape: Shape, section: &Section, at_px: &[f32], weight: f64, noise: &mut ChaCha8Rng) -> Vec<f32> {
        let mut curves = Curves::new(shape);
        let v: Vec<f64> =
            at_px.iter().map(|&at| (f64::from(at) - section.centre_px).abs() / section.radius_px).collect();
        let clean = curves.light(section.radius_px, &v);
        let one = |(light, &at): (f64, &f32)| {
            let noise: f64 = StandardNormal.sample(noise);
            (section.ground + section.slope * f64::from(at) + section.height * light + noise / weight.sqrt()) as f32
        };
        clean.into_iter().zip(at_px).map(one).collect()
    }

    /// Places four a pixel, as the bound takes them.
    fn places(half_px: f64) -> Vec<f32> {
        (0..(8.0 * half_px) as usize).map(|i| ((i as f64 + 0.5) / 4.0 - half_px) as f32).collect()
    }

    fn sd(values: &[f64]) -> f64 {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (values.len() - 1) as f64).sqrt()
    }

    /// Least squares with Gaussian noise is the most likely estimate, which reaches the bound where the model is nearly
    /// linear over the noise. 400 draws tell a standard deviation to 3.5 %.
    #[test]
    fn least_squares_of_one_station_reaches_the_bound() {
        let mut noise = ChaCha8Rng::seed_from_u64(11);
        for (radius_px, blur_px, flatness, height) in
            [(8.0, 1.5, 0.0, 4.0), (15.0, 1.0, 0.6, 6.0), (5.0, 2.0, 0.2, 20.0)]
        {
            let shape = Shape { blur_px, flatness, core: None };
            let section = Section { centre_px: 0.3, radius_px, height, ground: 2.0, slope: 0.01 };
            let (half_px, per_px) = (3.0 * radius_px, 8.0);
            let at_px = places(half_px);
            let weight = vec![(per_px / 4.0) as f32; at_px.len()];
            let found: Vec<f64> = (0..400)
                .map(|_| {
                    let light = drawn(shape, &section, &at_px, per_px / 4.0, &mut noise);
                    let samples = Samples { at_px: &at_px, light: &light, weight: &weight, at_least: &[] };
                    fit_station(samples, &section, &mut Curves::new(shape)).expect("settles").section.radius_px
                })
                .collect();
            let least = bound(shape, &section, half_px, per_px, 1, KNOWN).expect("regular").station_radius_px;
            let ratio = sd(&found) / least;
            println!("radius {radius_px}, blur {blur_px}, flatness {flatness}: scatter over the bound {ratio:.3}");
            assert!((0.88..1.12).contains(&ratio), "{ratio:.3}");
        }
    }

    /// The same for a shaft of twelve stations whose blur, or blur and flatness, must be found from them, with nothing
    /// held of them beforehand.
    #[test]
    fn least_squares_of_a_shaft_reaches_the_bound_with_blur_and_shape_unknown() {
        const STATIONS: usize = 12;
        let mut noise = ChaCha8Rng::seed_from_u64(12);
        for flat in [false, true] {
            let shape = Shape { blur_px: 1.6, flatness: if flat { 0.5 } else { 0.0 }, core: None };
            let section = Section { centre_px: 0.2, radius_px: 9.0, height: 10.0, ground: 1.0, slope: 0.0 };
            let (half_px, per_px) = (27.0, 12.0);
            let at_px = places(half_px);
            let weight = vec![(per_px / 4.0) as f32; at_px.len()];
            let wide = |middle: f64| [middle, 100.0];
            let prior = Prior {
                ln_blur: wide(shape.blur_px.ln()),
                flatness: wide(shape.flatness),
                strength: wide(0.0),
                ln_core: wide(-0.7),
            };
            let model = Model {
                flatness: flat.then_some(()),
                core: Freedom::None,
                prior,
                shares: Shares { met: 1.0, told: 1.0 },
            };
            let found: Vec<f64> = (0..400)
                .map(|_| {
                    let lights: Vec<Vec<f32>> =
                        (0..STATIONS).map(|_| drawn(shape, &section, &at_px, per_px / 4.0, &mut noise)).collect();
                    let samples = |light| Samples { at_px: &at_px, light, weight: &weight, at_least: &[] };
                    let stations: Vec<(Samples, Section)> = lights.iter().map(|l| (samples(l), section)).collect();
                    let solution = solve(&stations, shape, &model).expect("settles");
                    solution.sections.iter().map(|s| s.radius_px).sum::<f64>() / STATIONS as f64
                })
                .collect();
            let unknowns = Unknowns { blur: true, flatness: flat, core: false };
            let least = bound(shape, &section, half_px, per_px, STATIONS, unknowns).expect("regular").mean_radius_px;
            let ratio = sd(&found) / least;
            println!("flatness unknown {flat}: scatter over the bound {ratio:.3}");
            assert!((0.88..1.12).contains(&ratio), "{ratio:.3}");
        }
    }
}
