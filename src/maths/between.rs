//! The mean of measurements of one thing that scatter by more than they say: a random-effects mean.
//!
//! Each value is off by its own error, of known variance, and by one more that differs from measurement to measurement
//! with an unknown variance τ², common to all. τ² is told by how far the values lie apart beyond their own errors
//! (DerSimonian and Laird, "Meta-analysis in clinical trials", Controlled Clinical Trials 7, 1986, 177-188; from
//! memory), and 0 where they lie nearer than their errors. What is off in all values alike is not seen.
//!
//! Weakness: two values tell τ² poorly; it is then often 0 by chance, and the mean told a little too sure.

/// One measurement.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// What was measured.
    pub value: f64,
    /// Variance of its own error, above 0.
    pub variance: f64,
}

/// A mean.
#[derive(Clone, Debug, PartialEq)]
pub struct Mean {
    /// The weighted mean.
    pub value: f64,
    /// Its variance.
    pub variance: f64,
    /// Variance between measurements, beyond their own.
    pub between: f64,
    /// Weight of each value; they sum to 1.
    pub shares: Vec<f64>,
}

/// The mean; `None` without values, or with one whose variance is none.
pub fn mean(values: &[Measured]) -> Option<Mean> {
    if values.is_empty() || values.iter().any(|one| one.variance.is_nan() || one.variance <= 0.0) {
        return None;
    }
    let weighted = |between: f64| {
        let weights: Vec<f64> = values.iter().map(|one| 1.0 / (one.variance + between)).collect();
        let sum = weights.iter().sum::<f64>();
        let mean = values.iter().zip(&weights).map(|(one, w)| one.value * w).sum::<f64>() / sum;
        (weights, sum, mean)
    };
    let (weights, sum, fixed) = weighted(0.0);
    let apart: f64 = values.iter().zip(&weights).map(|(one, w)| w * (one.value - fixed).powi(2)).sum();
    let room = sum - weights.iter().map(|w| w * w).sum::<f64>() / sum;
    let between = if room > 0.0 { ((apart - (values.len() as f64 - 1.0)) / room).max(0.0) } else { 0.0 };
    let (weights, sum, value) = weighted(between);
    let found =
        Mean { value, variance: 1.0 / sum, between, shares: weights.iter().map(|weight| weight / sum).collect() };
    (found.value.is_finite() && found.variance.is_finite()).then_some(found)
}

#[cfg(test)]
mod tests {
    use super::{Measured, mean};

    fn of(values: &[(f64, f64)]) -> Vec<Measured> {
        values.iter().map(|&(value, variance)| Measured { value, variance }).collect()
    }

    #[test]
    fn values_that_agree_are_weighted_by_their_variances() {
        // Weights 1 and 1/4: (10 + 10.5 / 4) / 1.25 = 10.1; variance 1 / 1.25.
        let found = mean(&of(&[(10.0, 1.0), (10.5, 4.0)])).unwrap();
        assert!((found.value - 10.1).abs() < 1e-12 && (found.variance - 0.8).abs() < 1e-12, "{found:?}");
        assert_eq!(found.between, 0.0);
        assert!((found.shares[0] - 0.8).abs() < 1e-12);
    }

    #[test]
    fn values_that_lie_apart_are_told_less_surely() {
        // Q = (2² + 2²) / 1 = 8, one more than room for: between = (8 - 1) / (2 - 1) = 7, variance (1 + 7) / 2.
        let found = mean(&of(&[(8.0, 1.0), (12.0, 1.0)])).unwrap();
        assert!((found.value - 10.0).abs() < 1e-12 && (found.between - 7.0).abs() < 1e-12, "{found:?}");
        assert!((found.variance - 4.0).abs() < 1e-12);
    }

    #[test]
    fn one_value_is_itself_and_none_has_no_mean() {
        assert_eq!(mean(&of(&[(3.0, 0.5)])).map(|found| (found.value, found.variance)), Some((3.0, 0.5)));
        assert_eq!(mean(&[]), None);
        assert_eq!(mean(&of(&[(3.0, 0.0)])), None);
        assert_eq!(mean(&of(&[(f64::NAN, 1.0)])), None);
    }
}
