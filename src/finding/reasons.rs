//! Which measurements moved the vote, and by how much.
//!
//! 1. Each feature's share in each look's score, in logits: exact Shapley values of the trees (`shapley`).
//! 2. From scores to calibrated probabilities: the gradient, averaged along the straight line from the base to the
//!    shaft (M. Sundararajan, A. Taly, Q. Yan, "Axiomatic attribution for deep networks", 2017, from memory; the same
//!    as Aumann and Shapley's value of 1974).
//!
//! What every feature moved thus sums, look by look, to the look's probability less its base rate, and for every
//! feature, what it gives one look it takes from the others.

use super::Look;
use super::calibration::Calibration;
use super::ensemble::Ensemble;
use super::shapley;
use crate::maths::quadrature::{PLACES, WEIGHTS};

/// Reasons given at least, as far as there are measurements that moved anything.
const FEWEST: usize = 3;

/// Reasons given at most: more than a person weighs at once.
const MOST: usize = 5;

/// Beyond the first three a reason must have moved the probability by this much to be worth reading.
const WORTH_READING: f64 = 0.02;

/// Pieces into which the line from base to shaft is cut for the average: scores differ by some 20 logits at most, and
/// on a piece 1.5 long eight nodes integrate a softmax to better than 1e-12.
const PIECES: usize = 16;

/// What each feature moved.
#[derive(Clone, Debug, PartialEq)]
pub struct Moves {
    /// The probability of each look for somebody of whom nothing is known.
    pub base: [f64; Look::COUNT],
    /// How much each feature moved each look's probability; sums to probability less base.
    pub moved: Vec<[f64; Look::COUNT]>,
}

/// What each feature moved in the judgement of a shaft with `bins`.
pub fn moves(ensemble: &Ensemble, base_scores: &[f64; Look::COUNT], calibration: &Calibration, bins: &[u8]) -> Moves {
    let to = by_look(&ensemble.scores(bins));
    let mut moved = shapley::contributions::<{ Look::COUNT }>(ensemble, bins);
    let gradient = mean_gradient(calibration, base_scores, &to);
    for row in &mut moved {
        let in_logits = *row;
        for (to_look, gradients) in row.iter_mut().zip(&gradient) {
            *to_look = gradients.iter().zip(&in_logits).map(|(g, l)| g * l).sum();
        }
    }
    Moves { base: calibration.probability(base_scores), moved }
}

/// The features that moved `look` most, strongest first: three to five, fewer when fewer moved anything.
///
/// `present` says which features were measured; what an absent one moved is left out, as there is nothing to show.
pub fn strongest(moves: &Moves, look: Look, present: &[bool]) -> Vec<usize> {
    let strength = |feature: usize| moves.moved[feature][look as usize].abs();
    let mut order: Vec<usize> = (0..moves.moved.len()).filter(|&f| present[f] && strength(f) > 0.0).collect();
    order.sort_by(|&a, &b| strength(b).total_cmp(&strength(a)).then(a.cmp(&b)));
    let worth = order.iter().enumerate().filter(|&(i, &f)| i < FEWEST || strength(f) >= WORTH_READING).count();
    order.truncate(worth.min(MOST));
    order
}

/// The look that a feature spoke for, and how much it moved that look's probability, 0 to 1.
pub fn spoke_for(moved: &[f64; Look::COUNT]) -> (Look, f64) {
    let best = (0..Look::COUNT).fold(0, |best, i| if moved[i] > moved[best] { i } else { best });
    (Look::ALL[best], moved[best])
}

/// Scores of an ensemble whose classes are the looks.
pub fn by_look(scores: &[f64]) -> [f64; Look::COUNT] {
    let mut of_looks = [0.0; Look::COUNT];
    for (to, from) in of_looks.iter_mut().zip(scores) {
        *to = *from;
    }
    of_looks
}

/// The mean over the line between two places of d probability (first index) / d score (second index).
fn mean_gradient(
    calibration: &Calibration,
    from: &[f64; Look::COUNT],
    to: &[f64; Look::COUNT],
) -> [[f64; Look::COUNT]; Look::COUNT] {
    let mut mean = [[0.0; Look::COUNT]; Look::COUNT];
    for piece in 0..PIECES {
        for (place, weight) in PLACES.iter().zip(WEIGHTS) {
            let t = (piece as f64 + place) / PIECES as f64;
            let mut at = *from;
            at.iter_mut().zip(to).for_each(|(a, b)| *a += t * (b - *a));
            let p = calibration.probability(&at);
            for (c, gradients) in mean.iter_mut().enumerate() {
                for (j, gradient) in gradients.iter_mut().enumerate() {
                    let average: f64 = p.iter().zip(&calibration.weight).map(|(p, weight)| p * weight[j]).sum();
                    *gradient += weight / PIECES as f64 * p[c] * (calibration.weight[c][j] - average);
                }
            }
        }
    }
    mean
}

#[cfg(test)]
mod tests {
    use super::super::calibration::Calibration;
    use super::{Look, Moves, mean_gradient, spoke_for, strongest};

    #[test]
    fn the_mean_gradient_leads_from_base_to_probability() {
        let mut weight = [[0.1; 4]; 4];
        (0..4).for_each(|i| weight[i][i] = 1.7);
        let calibration = Calibration { weight, offset: [0.2, -0.3, 0.0, 0.5] };
        let (from, to) = ([-2.0, -0.5, -1.0, -3.0], [6.5, -6.0, -4.0, -6.9]);
        let gradient = mean_gradient(&calibration, &from, &to);
        let (before, after) = (calibration.probability(&from), calibration.probability(&to));
        for c in 0..4 {
            let moved: f64 = (0..4).map(|j| gradient[c][j] * (to[j] - from[j])).sum();
            assert!((moved - (after[c] - before[c])).abs() < 1e-10, "look {c}");
        }
    }

    #[test]
    fn three_to_five_reasons_strongest_first() {
        let row = |infected: f64| [infected, -infected, 0.0, 0.0];
        let moved = [0.001, -0.3, 0.05, 0.03, 0.025, 0.021, 0.4].map(row).to_vec();
        let moves = Moves { base: [0.25; 4], moved };
        assert_eq!(strongest(&moves, Look::Infected, &[true; 7]), [6, 1, 2, 3, 4]);
        let few = [true, true, true, false, false, false, false];
        assert_eq!(strongest(&moves, Look::Infected, &few), [1, 2, 0]);
        assert_eq!(spoke_for(&moves.moved[1]), (Look::Normal, 0.3));
    }
}
