//! Scores of the trees to probabilities that mean what they say.

use super::Look;
use crate::maths::softmax::softmax;

/// Probabilities = softmax(weight · scores + offset), where scores are the logits that the trees sum to.
///
/// Temperature scaling (weight a multiple of the identity, no offset), vector scaling (weight diagonal) and matrix
/// scaling are the three shapes it can have: C. Guo, G. Pleiss, Y. Sun, K. Q. Weinberger, "On calibration of modern
/// neural networks", 2017 (from memory). Which one, training decides on scenes of their own.
#[derive(Clone, Debug, PartialEq)]
pub struct Calibration {
    /// How much the score of a look (second index) adds to a look (first index).
    pub weight: [[f64; Look::COUNT]; Look::COUNT],
    /// What is added to each look.
    pub offset: [f64; Look::COUNT],
}

impl Calibration {
    /// The calibrated probability of each look; sums to 1.
    pub fn probability(&self, scores: &[f64; Look::COUNT]) -> [f64; Look::COUNT] {
        let mut sums = self.offset;
        for (sum, weights) in sums.iter_mut().zip(&self.weight) {
            *sum += weights.iter().zip(scores).map(|(w, s)| w * s).sum::<f64>();
        }
        softmax(sums)
    }
}

#[cfg(test)]
mod tests {
    use super::Calibration;

    #[test]
    fn even_scores_with_even_weights_are_even() {
        let mut weight = [[0.0; 4]; 4];
        (0..4).for_each(|i| weight[i][i] = 1.3);
        let p = Calibration { weight, offset: [0.0; 4] }.probability(&[0.3; 4]);
        assert!(p.iter().all(|p| (p - 0.25).abs() < 1e-12));
        let sure = Calibration { weight, offset: [0.0; 4] }.probability(&[9.0, -9.0, -9.0, -500.0]);
        assert!(sure[0] > 0.999 && sure.iter().all(|p| p.is_finite()));
    }
}
