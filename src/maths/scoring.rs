//! How good probabilities are: ranking, squared error, logarithmic loss, calibration.

/// Probabilities are kept this far from 0 and 1 before a logarithm is taken: the spacing of doubles at 1, as
/// scikit-learn does it, so that one certain error costs 36 and not infinity.
const SMALLEST_PROBABILITY: f64 = f64::EPSILON;

/// The area under the receiver operating curve of `score` for `truth`, 0 to 1; `None` unless both kinds occur.
///
/// By ranks: the share of pairs (one of each kind) that `score` puts in the right order, ties counting half.
/// `weight` is how often each case counts (1 for plain data, the multiplicity in a resample).
///
/// # Panics
/// When the slices differ in length.
pub fn auroc(score: &[f64], truth: &[bool], weight: &[f64]) -> Option<f64> {
    assert!(score.len() == truth.len() && score.len() == weight.len(), "one truth and one weight a score");
    let mut order: Vec<usize> = (0..score.len()).collect();
    order.sort_by(|&a, &b| score[a].total_cmp(&score[b]));
    auroc_in_order(&order, score, truth, weight)
}

/// [`auroc`] where the ascending `order` of the scores is known already.
pub fn auroc_in_order(order: &[usize], score: &[f64], truth: &[bool], weight: &[f64]) -> Option<f64> {
    let (mut no_below, mut yes_all, mut ordered) = (0.0, 0.0, 0.0);
    let mut at = 0;
    while at < order.len() {
        let (mut yes, mut no) = (0.0, 0.0);
        let level = score[order[at]];
        while at < order.len() && score[order[at]] == level {
            let case = order[at];
            if truth[case] {
                yes += weight[case];
            } else {
                no += weight[case];
            }
            at += 1;
        }
        ordered += yes * (no_below + 0.5 * no);
        no_below += no;
        yes_all += yes;
    }
    (yes_all > 0.0 && no_below > 0.0).then(|| ordered / (yes_all * no_below))
}

/// Mean squared difference between `probability` and what happened, 0 (best) to 1; `None` when empty.
///
/// G. W. Brier, "Verification of forecasts expressed in terms of probability", 1950 (from memory), two-outcome form.
pub fn brier(probability: &[f64], truth: &[bool]) -> Option<f64> {
    let squares = probability.iter().zip(truth).map(|(p, &y)| (p - f64::from(u8::from(y))).powi(2));
    (!probability.is_empty()).then(|| squares.sum::<f64>() / probability.len() as f64)
}

/// Mean of −ln(probability given to what happened), nats, 0 (best) upwards; `None` when empty.
///
/// `probability` holds one row of class probabilities a case, `class` the class that happened.
pub fn log_loss<const N: usize>(probability: &[[f64; N]], class: &[usize]) -> Option<f64> {
    let losses = probability.iter().zip(class).map(|(p, &c)| -kept_from_the_ends(p[c]).ln());
    (!probability.is_empty()).then(|| losses.sum::<f64>() / probability.len() as f64)
}

/// Mean of the two-outcome logarithmic loss, nats; `None` when empty.
pub fn binary_log_loss(probability: &[f64], truth: &[bool]) -> Option<f64> {
    let losses = probability.iter().zip(truth).map(|(&p, &y)| {
        let p = kept_from_the_ends(p);
        if y { -p.ln() } else { -(1.0 - p).ln() }
    });
    (!probability.is_empty()).then(|| losses.sum::<f64>() / probability.len() as f64)
}

/// One bin of a calibration curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CalibrationBin {
    /// Cases in the bin.
    pub weight: f64,
    /// Their mean probability.
    pub said: f64,
    /// The share of them where it happened.
    pub seen: f64,
}

/// Cases gathered in `n_bins` bins of equal width by what was said; empty bins are left out.
///
/// Bin i holds i/n ≤ probability < (i+1)/n, and the last one 1 as well.
pub fn calibration_curve(probability: &[f64], truth: &[bool], weight: &[f64], n_bins: usize) -> Vec<CalibrationBin> {
    let mut sums = vec![(0.0, 0.0, 0.0); n_bins];
    for ((&p, &y), &w) in probability.iter().zip(truth).zip(weight) {
        let bin = ((p * n_bins as f64) as usize).min(n_bins - 1);
        sums[bin].0 += w;
        sums[bin].1 += w * p;
        sums[bin].2 += if y { w } else { 0.0 };
    }
    sums.into_iter()
        .filter(|sum| sum.0 > 0.0)
        .map(|(weight, said, seen)| CalibrationBin { weight, said: said / weight, seen: seen / weight })
        .collect()
}

/// Expected calibration error: the mean over cases of |seen − said| of their bin, 0 (best) to 1; `None` when empty.
pub fn expected_calibration_error(probability: &[f64], truth: &[bool], weight: &[f64], n_bins: usize) -> Option<f64> {
    let curve = calibration_curve(probability, truth, weight, n_bins);
    let all: f64 = curve.iter().map(|bin| bin.weight).sum();
    let off: f64 = curve.iter().map(|bin| bin.weight * (bin.seen - bin.said).abs()).sum();
    (all > 0.0).then(|| off / all)
}

fn kept_from_the_ends(p: f64) -> f64 {
    p.clamp(SMALLEST_PROBABILITY, 1.0 - SMALLEST_PROBABILITY)
}

#[cfg(test)]
mod tests {
    use super::{auroc, brier, expected_calibration_error, log_loss};

    const SAID: [f64; 10] = [0.05, 0.15, 0.15, 0.35, 0.35, 0.55, 0.65, 0.75, 0.85, 0.95];
    const SEEN: [bool; 10] = [false, false, true, false, true, false, true, true, true, true];

    #[test]
    fn squared_error_of_the_teaching_example() {
        let score = brier(&[0.1, 0.9, 0.8, 0.3], &[false, true, true, false]).unwrap();
        assert!((score - 0.0375).abs() < 1e-12, "{score}");
        assert!((brier(&SAID, &SEEN).unwrap() - 0.1805).abs() < 1e-12);
    }

    #[test]
    fn calibration_error_of_the_worked_example() {
        let off = expected_calibration_error(&SAID, &SEEN, &[1.0; 10], 5).unwrap();
        assert!((off - 0.23).abs() < 1e-12, "{off}");
    }

    #[test]
    fn ranking_equals_counting_pairs() {
        // The slow twin: every pair looked at.
        let score = [0.3, 0.1, 0.3, 0.8, 0.5, 0.3, 0.9];
        let truth = [true, false, false, true, false, true, true];
        let (mut right, mut pairs) = (0.0, 0.0);
        for i in (0..7).filter(|&i| truth[i]) {
            for j in (0..7).filter(|&j| !truth[j]) {
                pairs += 1.0;
                right += if score[i] > score[j] {
                    1.0
                } else if score[i] == score[j] {
                    0.5
                } else {
                    0.0
                };
            }
        }
        let area = auroc(&score, &truth, &[1.0; 7]).unwrap();
        assert!((area - right / pairs).abs() < 1e-12, "{area}");
        assert_eq!(auroc(&score, &[true; 7], &[1.0; 7]), None, "one kind only has no curve");
    }

    #[test]
    fn a_weight_is_a_repetition() {
        let area = auroc(&[0.1, 0.4, 0.35, 0.8], &[false, false, true, true], &[2.0, 1.0, 3.0, 1.0]).unwrap();
        let longhand =
            auroc(&[0.1, 0.1, 0.4, 0.35, 0.35, 0.35, 0.8], &[false, false, false, true, true, true, true], &[1.0; 7]);
        assert_eq!(Some(area), longhand);
    }

    #[test]
    fn an_even_guess_among_four_costs_ln_4() {
        let loss = log_loss(&[[0.25; 4], [0.25; 4]], &[0, 3]).unwrap();
        assert!((loss - 4.0_f64.ln()).abs() < 1e-12);
    }
}
