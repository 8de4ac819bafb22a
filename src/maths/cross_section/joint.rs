//! Shape and blur of a shaft from several of its stations at once.
//!
//! All stations' own numbers and the shared ones are fitted together; because own numbers of different stations have
//! no common term, the normal equations are solved by the Schur complement, station by station.
//! Several shapes are tried (clear cylinder, flattened, with a core, both) and the one with the least Bayesian
//! information criterion is kept (Schwarz 1978, "Estimating the dimension of a model"; from memory): a richer shape
//! must explain more than noise would. Where two shapes explain the light about equally well, how far their widths
//! differ is added to the uncertainty.

use nalgebra::{SMatrix, SVector};

use super::station::{Curves, Normal, OWN, SHARED, moved, normal};
use super::templates::FLATNESS_MIN;
use super::{Core, Samples, Section, Shape};

/// Rounds before a joint fit is given up.
const ROUNDS: usize = 25;
/// A step that promises less than this (χ², in units of its residual variance) ends the fit.
const SETTLED: f64 = 0.02;
/// What a microscope photo's blur is like before anything is seen: ln of 1.4 pixels, give or take a factor of 2.2.
const PRIOR_LN_BLUR: [f64; 2] = [0.336, 0.8];
/// Flatness before anything is seen; wide, so that it only holds what the light does not tell.
const PRIOR_FLATNESS: [f64; 2] = [0.2, 0.5];
/// Core strength before anything is seen.
const PRIOR_STRENGTH: [f64; 2] = [0.0, 0.7];
/// ln of a core's radius share before anything is seen: between a third and nearly all.
const PRIOR_LN_CORE: [f64; 2] = [-0.6, 0.5];
/// Stands for a number that is held fixed.
const FIXED: f64 = 1e-9;
/// Range of the blur, pixels: pixel integration alone makes 0.29.
const BLUR_RANGE_PX: [f64; 2] = [0.25, 40.0];
/// Range of a core's radius share; thinner is no core, thicker no shell.
const CORE_RANGE: [f64; 2] = [0.12, 0.97];
/// Most that each shared number moves in a round.
const MAX_STEP: [f64; SHARED] = [0.4, 0.3, 0.4, 0.3];
/// Shapes whose criterion is within this of the best still speak for the uncertainty.
const STILL_PLAUSIBLE: f64 = 8.0;

/// Shape, blur and what they do to the width.
#[derive(Clone, Debug)]
pub struct Joint {
    /// Shape and blur.
    pub shape: Shape,
    /// The stations' own numbers, in the order given.
    pub sections: Vec<Section>,
    /// One standard deviation of ln blur.
    pub ln_blur_sd: f64,
    /// Standard deviation that shape and blur together put on every station's ln radius alike.
    pub ln_radius_sd: f64,
    /// Residual variance over that given with the samples, the richest shape fitted.
    pub noise_factor: f64,
}

/// Which of the shared numbers a fit may move.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Free {
    flatness: bool,
    core: bool,
}

#[derive(Clone, Debug)]
struct Solution {
    shape: Shape,
    sections: Vec<Section>,
    objective: f64,
    chi2: f64,
    n_free: usize,
    covariance: SMatrix<f64, SHARED, SHARED>,
    ln_radius_by: SVector<f64, SHARED>,
}

/// Fits shape and blur to stations whose own numbers are known roughly.
///
/// `prior_ln_blur` is mean and standard deviation of ln blur (pixels) where something is known of it, from the
/// photo's other shafts for one. `correlation` is by how much the variance of a fitted number exceeds that for
/// independent noise. `None` without stations or when nothing settles.
pub fn fit_joint(
    stations: &[(Samples, Section)],
    prior_ln_blur: Option<[f64; 2]>,
    start_blur_px: f64,
) -> Option<Joint> {
    let prior_blur = prior_ln_blur.unwrap_or(PRIOR_LN_BLUR);
    let sections: Vec<Section> = stations.iter().map(|(_, section)| *section).collect();
    let n_samples: usize = stations.iter().map(|(s, _)| s.weight.iter().filter(|w| **w > 0.0).count()).sum();
    if stations.is_empty() || n_samples <= OWN * stations.len() + SHARED {
        return None;
    }
    let solve = |shape: Shape, sections: &[Section], free: Free| solve(stations, sections, shape, free, prior_blur);
    let clear = Shape { blur_px: start_blur_px, flatness: 0.0, core: None };
    let mut found: Vec<Solution> = Vec::new();
    let plain = solve(clear, &sections, Free { flatness: false, core: false });
    let flat_start = plain.as_ref().map_or(clear, |s| Shape { flatness: 0.3, ..s.shape });
    let near = |solution: &Option<Solution>| solution.as_ref().map_or(sections.clone(), |s| s.sections.clone());
    let flat = solve(flat_start, &near(&plain), Free { flatness: true, core: false });
    for core in [Core { radius_share: 0.45, strength: -0.2 }, Core { radius_share: 0.85, strength: -0.6 }] {
        let blur_px = plain.as_ref().map_or(start_blur_px, |s| s.shape.blur_px);
        let hollow = Shape { blur_px, flatness: 0.0, core: Some(core) };
        let cored = solve(hollow, &near(&plain), Free { flatness: false, core: true });
        let both_start = flat.as_ref().map_or(hollow, |s| Shape { core: Some(core), ..s.shape });
        let both = solve(both_start, &near(&flat), Free { flatness: true, core: true });
        found.extend(cored);
        found.extend(both);
    }
    found.extend(plain);
    found.extend(flat);
    choose(found, n_samples as f64 - (OWN * stations.len()) as f64)
}

fn choose(mut found: Vec<Solution>, freedom: f64) -> Option<Joint> {
    let least = found.iter().map(|s| s.chi2).fold(f64::INFINITY, f64::min);
    let noise_factor = least / (freedom - SHARED as f64).max(1.0);
    if !noise_factor.is_finite() || noise_factor <= 0.0 {
        return None;
    }
    let criterion = |s: &Solution| s.objective / noise_factor + s.n_free as f64 * freedom.ln();
    found.sort_by(|a, b| criterion(a).total_cmp(&criterion(b)));
    let best = found.first()?.clone();
    let mean_ln = |s: &Solution| s.sections.iter().map(|s| s.radius_px.ln()).sum::<f64>() / s.sections.len() as f64;
    let (mut spread, mut total) = (0.0, 0.0);
    for other in &found {
        let behind = criterion(other) - criterion(&best);
        if behind < STILL_PLAUSIBLE {
            let weight = (-0.5 * behind).exp();
            spread += weight * (mean_ln(other) - mean_ln(&best)).powi(2);
            total += weight;
        }
    }
    let fitted = (best.ln_radius_by.transpose() * best.covariance * best.ln_radius_by)[(0, 0)] * noise_factor;
    Some(Joint {
        shape: best.shape,
        ln_blur_sd: (best.covariance[(0, 0)] * noise_factor).sqrt(),
        ln_radius_sd: (fitted + spread / total).sqrt(),
        noise_factor,
        sections: best.sections,
    })
}

fn shared_of(shape: &Shape) -> SVector<f64, SHARED> {
    let core = shape.core.unwrap_or(Core { radius_share: 0.5, strength: 0.0 });
    SVector::from([shape.blur_px.ln(), shape.flatness, core.strength, core.radius_share.ln()])
}

fn shape_of(shared: &SVector<f64, SHARED>, has_core: bool) -> Shape {
    let core = Core { strength: shared[2], radius_share: shared[3].exp().clamp(CORE_RANGE[0], CORE_RANGE[1]) };
    Shape {
        blur_px: shared[0].exp().clamp(BLUR_RANGE_PX[0], BLUR_RANGE_PX[1]),
        flatness: shared[1].clamp(FLATNESS_MIN, 1.0),
        core: has_core.then_some(core),
    }
}

/// The stations' normal equations reduced to the shared numbers.
struct Reduced {
    matrix: SMatrix<f64, SHARED, SHARED>,
    gradient: SVector<f64, SHARED>,
    /// Own step if the shared numbers stand still, and its change with them.
    own: Vec<(SVector<f64, OWN>, SMatrix<f64, OWN, SHARED>)>,
    chi2: f64,
}

fn reduce(parts: &[Normal<{ OWN + SHARED }>], damping: f64) -> Option<Reduced> {
    let mut reduced = Reduced {
        matrix: SMatrix::zeros(),
        gradient: SVector::zeros(),
        own: Vec::with_capacity(parts.len()),
        chi2: parts.iter().map(|p| p.chi2).sum(),
    };
    for part in parts {
        let mut own: SMatrix<f64, OWN, OWN> = part.matrix.fixed_view::<OWN, OWN>(0, 0).into_owned();
        for i in 0..OWN {
            own[(i, i)] *= 1.0 + damping;
        }
        let mixed: SMatrix<f64, OWN, SHARED> = part.matrix.fixed_view::<OWN, SHARED>(0, OWN).into_owned();
        let gradient: SVector<f64, OWN> = part.gradient.fixed_view::<OWN, 1>(0, 0).into_owned();
        let solver = own.cholesky()?;
        let (still, pull) = (solver.solve(&gradient), solver.solve(&mixed));
        reduced.matrix += part.matrix.fixed_view::<SHARED, SHARED>(OWN, OWN) - mixed.transpose() * pull;
        reduced.gradient += part.gradient.fixed_view::<SHARED, 1>(OWN, 0) - mixed.transpose() * still;
        reduced.own.push((still, pull));
    }
    Some(reduced)
}

fn solve(
    stations: &[(Samples, Section)],
    sections: &[Section],
    shape: Shape,
    free: Free,
    prior_blur: [f64; 2],
) -> Option<Solution> {
    let has_core = shape.core.is_some();
    let held = shared_of(&shape);
    let prior: [[f64; 2]; SHARED] = [
        prior_blur,
        if free.flatness { PRIOR_FLATNESS } else { [held[1], FIXED] },
        if free.core { PRIOR_STRENGTH } else { [held[2], FIXED] },
        if free.core { PRIOR_LN_CORE } else { [held[3], FIXED] },
    ];
    let means = SVector::<f64, SHARED>::from(prior.map(|p| p[0]));
    let precision = SMatrix::<f64, SHARED, SHARED>::from_diagonal(&SVector::from(prior.map(|p| 1.0 / (p[1] * p[1]))));
    // The prior is in units of true variance; noise that is larger than stated must not drown it, so it is scaled
    // with the residual variance of the round.
    let freedom: f64 = stations.iter().map(|(s, _)| s.weight.len() as f64 - OWN as f64).sum::<f64>().max(1.0);
    let parts_at = |sections: &[Section], shape: Shape| -> Vec<Normal<{ OWN + SHARED }>> {
        let mut curves = Curves::new(shape);
        stations.iter().zip(sections).map(|((samples, _), section)| normal(*samples, section, &mut curves)).collect()
    };
    let mut shared = held;
    let mut sections = sections.to_vec();
    let mut parts = parts_at(&sections, shape_of(&shared, has_core));
    let mut chi2: f64 = parts.iter().map(|p| p.chi2).sum();
    let mut damping = 1e-3;
    let penalty = |shared: &SVector<f64, SHARED>| {
        let off = shared - means;
        (off.transpose() * precision * off)[(0, 0)]
    };
    let mut settled = false;
    for _ in 0..ROUNDS {
        let scale = (chi2 / freedom).max(f64::MIN_POSITIVE);
        let reduced = reduce(&parts, damping)?;
        let mut matrix = reduced.matrix + precision * scale;
        for i in 0..SHARED {
            matrix[(i, i)] *= 1.0 + damping;
        }
        let gradient = reduced.gradient + precision * (means - shared) * scale;
        let full = matrix.cholesky()?.solve(&gradient);
        let longest = full.iter().zip(MAX_STEP).map(|(s, max)| s.abs() / max).fold(1.0, f64::max);
        let step = full / longest;
        let tried_shape = shape_of(&(shared + step), has_core);
        let tried_shared = if has_core {
            shared_of(&tried_shape)
        } else {
            let mut kept = shared_of(&tried_shape);
            kept[2] = held[2];
            kept[3] = held[3];
            kept
        };
        let tried_sections: Vec<Section> =
            sections.iter().zip(&reduced.own).map(|(s, (still, pull))| moved(s, &(still - pull * step))).collect();
        let tried = parts_at(&tried_sections, tried_shape);
        let tried_chi2: f64 = tried.iter().map(|p| p.chi2).sum();
        let promised = gradient.dot(&step) / scale
            + reduced
                .own
                .iter()
                .zip(&parts)
                .map(|((still, _), p)| still.dot(&p.gradient.fixed_view::<OWN, 1>(0, 0)))
                .sum::<f64>()
                / scale;
        let gain = (chi2 - tried_chi2) / scale + penalty(&shared) - penalty(&tried_shared);
        if gain.is_finite() && gain >= -1e-6 {
            (shared, sections, parts, chi2) = (tried_shared, tried_sections, tried, tried_chi2);
            damping = (damping * 0.1).max(1e-9);
            settled = longest <= 1.0 && (promised < SETTLED || gain < SETTLED * 0.1);
        } else {
            settled = promised < SETTLED;
            damping = (damping * 20.0).max(1e-2);
        }
        if settled || damping > 1e8 {
            break;
        }
    }
    if !settled || sections.iter().any(|s| s.height <= 0.0 || !s.radius_px.is_finite()) {
        return None;
    }
    let reduced = reduce(&parts, 0.0)?;
    let scale = (reduced.chi2 / freedom).max(f64::MIN_POSITIVE);
    let covariance = (reduced.matrix + precision * scale).cholesky()?.inverse();
    let mut ln_radius_by = SVector::<f64, SHARED>::zeros();
    for (_, pull) in &reduced.own {
        ln_radius_by -= pull.row(1).transpose() / reduced.own.len() as f64;
    }
    Some(Solution {
        shape: shape_of(&shared, has_core),
        sections,
        objective: chi2 + penalty(&shared) * scale,
        chi2,
        n_free: 1 + usize::from(free.flatness) + 2 * usize::from(free.core),
        covariance,
        ln_radius_by,
    })
}
