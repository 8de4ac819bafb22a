//! The fit of what stations share together with what is each one's own.
//!
//! Own numbers of different stations have no common term in the normal equations, which are therefore solved by the
//! Schur complement, station by station; Levenberg's damping on all numbers.

use nalgebra::{SMatrix, SVector};

use super::station::{Curves, Normal, OWN, SHARED, moved, normal};
use super::templates::FLATNESS_MIN;
use super::{Core, Samples, Section, Shape};

/// Rounds before a joint fit is given up.
const ROUNDS: usize = 150;
/// Round from which on χ² may fall by no more than its own noise, for the last place to count although it did not settle.
const LATE_ROUND: usize = 100;
/// A step that promises less than this (χ², in units of its residual variance) ends the fit.
const SETTLED: f64 = 0.02;
/// Damping up to which a step is as good as free.
const LIGHT_DAMPING: f64 = 2e-3;
/// Damping at which not even the smallest step improves anything: rounding is all that is left.
const STUCK_DAMPING: f64 = 1e6;
/// Stands for the spread of a number that is held fixed.
const FIXED: f64 = 1e-9;
/// Range of the blur, pixels: pixel integration alone makes 0.29.
const BLUR_RANGE_PX: [f64; 2] = [0.25, 40.0];
/// Range of a core's radius share; thinner is no core, thicker no shell.
const CORE_RANGE: [f64; 2] = [0.12, 0.97];
/// Most that each shared number moves in a round.
const MAX_STEP: [f64; SHARED] = [0.4, 0.3, 0.4, 0.3];

const ALL: usize = OWN + SHARED;

/// How much of the core is free.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Freedom {
    /// There is none.
    None,
    /// A hole: its strength is minus its radius share, which takes all light out of it.
    Hole,
    /// Strength and radius share.
    Full,
}

/// Mean and standard deviation of the shared numbers before anything is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Prior {
    pub(super) ln_blur: [f64; 2],
    pub(super) flatness: [f64; 2],
    pub(super) strength: [f64; 2],
    pub(super) ln_core: [f64; 2],
}

/// Which of the shared numbers may move, and what is held of them beforehand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Model {
    /// Present when flatness is free.
    pub(super) flatness: Option<()>,
    pub(super) core: Freedom,
    pub(super) prior: Prior,
    pub(super) shares: Shares,
}

/// Weights of a shape before anything is seen, 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Shares {
    /// How often it is met: for the width and its uncertainty.
    pub(super) met: f64,
    /// How readily it is told: the plainer, the more.
    pub(super) told: f64,
}

impl Model {
    /// Mean and spread of each shared number; what is held fixed keeps the value given.
    fn priors(&self, held: &SVector<f64, SHARED>) -> [[f64; 2]; SHARED] {
        [
            self.prior.ln_blur,
            if self.flatness.is_some() { self.prior.flatness } else { [held[1], FIXED] },
            if self.core == Freedom::Full { self.prior.strength } else { [held[2], FIXED] },
            if self.core == Freedom::None { [held[3], FIXED] } else { self.prior.ln_core },
        ]
    }
}

/// A joint fit.
#[derive(Clone, Debug)]
pub(super) struct Solution {
    pub(super) shape: Shape,
    pub(super) sections: Vec<Section>,
    /// χ² plus the prior's, in units of the variances given.
    pub(super) objective: f64,
    pub(super) chi2: f64,
    /// Residual variance over that given.
    pub(super) noise_factor: f64,
    /// Covariance of the shared numbers for the variances given.
    pub(super) covariance: SMatrix<f64, SHARED, SHARED>,
    /// Mean change of the stations' ln radius with each shared number.
    pub(super) ln_radius_by: SVector<f64, SHARED>,
}

impl Solution {
    /// Laplace's ln of the evidence, up to what all models have in common; `noise` is the residual variance.
    pub(super) fn ln_evidence(&self, model: &Model, noise: f64) -> f64 {
        let free = model.priors(&SVector::zeros()).map(|p| p[1] > FIXED);
        let spreads: f64 = model.priors(&SVector::zeros()).iter().filter(|p| p[1] > FIXED).map(|p| p[1].ln()).sum();
        let n_free = free.iter().filter(|f| **f).count();
        let reduced = SMatrix::<f64, SHARED, SHARED>::from_fn(|i, j| {
            if free[i] && free[j] {
                self.covariance[(i, j)]
            } else if i == j {
                1.0
            } else {
                0.0
            }
        });
        -0.5 * self.objective / noise
            + 0.5 * (reduced.determinant().max(f64::MIN_POSITIVE).ln() + n_free as f64 * noise.ln())
            - spreads
    }
}

fn shared_of(shape: &Shape) -> SVector<f64, SHARED> {
    let core = shape.core.unwrap_or(Core { radius_share: 0.5, strength: 0.0 });
    SVector::from([shape.blur_px.ln(), shape.flatness, core.strength, core.radius_share.ln()])
}

fn shape_of(shared: &SVector<f64, SHARED>, freedom: Freedom) -> Shape {
    let radius_share = shared[3].exp().clamp(CORE_RANGE[0], CORE_RANGE[1]);
    Shape {
        blur_px: shared[0].exp().clamp(BLUR_RANGE_PX[0], BLUR_RANGE_PX[1]),
        flatness: shared[1].clamp(FLATNESS_MIN, 1.0),
        core: match freedom {
            Freedom::None => None,
            Freedom::Hole => Some(Core { strength: -radius_share, radius_share }),
            Freedom::Full => Some(Core { strength: shared[2], radius_share }),
        },
    }
}

/// The stations' normal equations reduced to the shared numbers.
struct Reduced {
    matrix: SMatrix<f64, SHARED, SHARED>,
    gradient: SVector<f64, SHARED>,
    /// Own step if the shared numbers stand still, and its change with them.
    own: Vec<(SVector<f64, OWN>, SMatrix<f64, OWN, SHARED>)>,
}

fn reduce(parts: &[Normal<ALL>], damping: f64) -> Option<Reduced> {
    let mut reduced =
        Reduced { matrix: SMatrix::zeros(), gradient: SVector::zeros(), own: Vec::with_capacity(parts.len()) };
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

/// The stations' normal equations at one place.
fn parts_at(stations: &[(Samples, Section)], sections: &[Section], shape: Shape, freedom: Freedom) -> Vec<Normal<ALL>> {
    let mut curves = Curves::new(shape);
    let mut parts: Vec<Normal<ALL>> =
        stations.iter().zip(sections).map(|((samples, _), section)| normal(*samples, section, &mut curves)).collect();
    if let (Freedom::Hole, Some(core)) = (freedom, shape.core) {
        parts.iter_mut().for_each(|part| tie_strength(part, core.radius_share));
    }
    parts
}

/// Lets ln core radius share carry the strength with it: strength = −share, so d strength / d ln share = −share.
fn tie_strength(part: &mut Normal<ALL>, share: f64) {
    let mut change = SMatrix::<f64, ALL, ALL>::identity();
    change[(OWN + 2, OWN + 3)] = -share;
    change[(OWN + 2, OWN + 2)] = 0.0;
    part.matrix = change.transpose() * part.matrix * change;
    part.gradient = change.transpose() * part.gradient;
}

/// Fits a shape of this model to the stations, from their own numbers and the shape given.
///
/// `None` when it does not settle or a height turns out to be nothing.
pub(super) fn solve(stations: &[(Samples, Section)], shape: Shape, model: &Model) -> Option<Solution> {
    let held = shared_of(&shape);
    let prior = model.priors(&held);
    let means = SVector::<f64, SHARED>::from(prior.map(|p| p[0]));
    let precision = SMatrix::<f64, SHARED, SHARED>::from_diagonal(&SVector::from(prior.map(|p| 1.0 / (p[1] * p[1]))));
    let penalty = |shared: &SVector<f64, SHARED>| {
        let off = shared - means;
        (off.transpose() * precision * off)[(0, 0)]
    };
    let freedom: f64 = stations.iter().map(|(s, _)| s.weight.len() as f64 - OWN as f64).sum::<f64>().max(1.0);
    let mut shared = held;
    let mut sections: Vec<Section> = stations.iter().map(|(_, section)| *section).collect();
    let mut parts = parts_at(stations, &sections, shape, model.core);
    let chi2_of = |parts: &[Normal<ALL>]| parts.iter().map(|p| p.chi2).sum::<f64>();
    let mut chi2 = chi2_of(&parts);
    let mut damping = 1e-3;
    let mut done = false;
    let mut late_chi2 = chi2;
    for round in 0..ROUNDS {
        if round == LATE_ROUND {
            late_chi2 = chi2;
        }
        // Where the noise is larger than stated the prior must not drown with it, so it grows as well.
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
        let tried_shape = shape_of(&(shared + step), model.core);
        let mut tried_shared = shared_of(&tried_shape);
        for k in 1..SHARED {
            // What is held must not move by rounding: its prior is as stiff as can be.
            if prior[k][1] <= FIXED {
                tried_shared[k] = held[k];
            }
        }
        let tried_sections: Vec<Section> =
            sections.iter().zip(&reduced.own).map(|(s, (still, pull))| moved(s, &(still - pull * step))).collect();
        let tried = parts_at(stations, &tried_sections, tried_shape, model.core);
        let tried_chi2 = chi2_of(&tried);
        let own: f64 = reduced
            .own
            .iter()
            .zip(&parts)
            .map(|((still, _), p)| still.dot(&p.gradient.fixed_view::<OWN, 1>(0, 0)))
            .sum();
        let promised = (gradient.dot(&step) + own) / scale;
        let gain = (chi2 - tried_chi2) / scale + penalty(&shared) - penalty(&tried_shared);
        if gain.is_finite() && gain >= -1e-6 {
            (shared, sections, parts, chi2) = (tried_shared, tried_sections, tried, tried_chi2);
            damping = (damping * if gain > 0.5 * promised { 0.1 } else { 0.5 }).max(1e-9);
            done = longest <= 1.0 && promised < SETTLED && damping <= LIGHT_DAMPING;
        } else {
            // A strongly damped step promises little wherever it stands; only a free one's promise counts.
            done = promised < SETTLED && damping <= LIGHT_DAMPING;
            damping = (damping * 8.0).max(1e-3);
        }
        if done || damping > STUCK_DAMPING {
            done = true;
            break;
        }
    }
    // A section that no shape explains has a rough floor, on which steps never get as small as they should.
    let stands = (late_chi2 - chi2) * freedom < chi2;
    if !(done || stands) || sections.iter().any(|s| s.height <= 0.0 || !s.radius_px.is_finite()) {
        return None;
    }
    let reduced = reduce(&parts, 0.0)?;
    let noise_factor = (chi2 / (freedom - SHARED as f64).max(1.0)).max(f64::MIN_POSITIVE);
    let covariance = (reduced.matrix + precision * noise_factor).cholesky()?.inverse();
    let mut ln_radius_by = SVector::<f64, SHARED>::zeros();
    for (_, pull) in &reduced.own {
        ln_radius_by -= pull.row(1).transpose() / reduced.own.len() as f64;
    }
    Some(Solution {
        shape: shape_of(&shared, model.core),
        objective: chi2 + penalty(&shared) * noise_factor,
        sections,
        chi2,
        noise_factor,
        covariance,
        ln_radius_by,
    })
}
