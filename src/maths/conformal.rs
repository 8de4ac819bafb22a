//! The quantile of split conformal prediction.

/// Which of `n` calibration scores, counted from 1 in ascending order, bounds a set of level `level` (0 to 1):
/// ceil((n + 1) · level). `None` when it is above `n`: then only "everything" has the coverage asked for.
///
/// With exchangeable scores the set holds the truth with a probability between `level` and `level` + 1/(n + 1);
/// given the calibration scores, coverage follows a Beta(k, n + 1 − k) law ("Universal distribution of the empirical
/// coverage in split conformal prediction", arXiv 2303.02770).
pub fn rank(n: usize, level: f64) -> Option<usize> {
    // The product is freed from rounding (10 × 0.9 must give 9, not 9.000000000000002).
    let wanted = ((n + 1) as f64 * level * (1.0 - 4.0 * f64::EPSILON)).ceil() as usize;
    (wanted <= n).then_some(wanted.max(1))
}

/// The largest score that still belongs to a set of level `level`, given calibration `scores` (reordered);
/// `None` when every score does.
pub fn threshold(scores: &mut [f64], level: f64) -> Option<f64> {
    let k = rank(scores.len(), level)?;
    let (_, &mut score, _) = scores.select_nth_unstable_by(k - 1, f64::total_cmp);
    Some(score)
}

#[cfg(test)]
mod tests {
    use super::{rank, threshold};
    use crate::maths::seeds;
    use rand::Rng;

    #[test]
    fn the_published_table_of_ranks() {
        for (n, alpha, k) in
            [(9, 0.1, 9), (19, 0.05, 19), (50, 0.1, 46), (99, 0.05, 95), (100, 0.1, 91), (500, 0.1, 451)]
        {
            assert_eq!(rank(n, 1.0 - alpha), Some(k), "n {n}, alpha {alpha}");
        }
        assert_eq!(rank(8, 0.9), None, "eight scores cannot promise 90 %");
        assert_eq!(rank(0, 0.9), None);
    }

    #[test]
    fn coverage_follows_its_beta_law() {
        // Uniform scores: the coverage of a set is its threshold itself, so that its law over many calibrations can
        // be held against Beta(k, n + 1 − k): mean k / (n + 1), variance k (n + 1 − k) / ((n + 1)² (n + 2)).
        let (n, level, trials) = (50, 0.9, 4000);
        let mut rng = seeds::generator(11, &[]);
        let coverage: Vec<f64> = (0..trials)
            .map(|_| {
                let mut scores: Vec<f64> = (0..n).map(|_| rng.r#gen::<f64>()).collect();
                threshold(&mut scores, level).unwrap()
            })
            .collect();
        let mean = coverage.iter().sum::<f64>() / trials as f64;
        let variance = coverage.iter().map(|c| (c - mean).powi(2)).sum::<f64>() / trials as f64;
        let (k, m) = (46.0, 51.0);
        let expected_variance = k * (m - k) / (m * m * (m + 1.0));
        let standard_error = (expected_variance / trials as f64).sqrt();
        assert!((mean - k / m).abs() < 4.0 * standard_error, "mean {mean} against {}", k / m);
        assert!((variance / expected_variance - 1.0).abs() < 0.15, "variance {variance} against {expected_variance}");
        assert!(mean >= level && mean <= level + 1.0 / m + 4.0 * standard_error);
    }
}
