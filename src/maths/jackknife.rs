//! Uncertainty of a statistic from leaving out one group at a time.

use super::proportion::{Interval, Z_95};

/// A statistic with its uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The statistic of all groups.
    pub value: f64,
    /// One standard deviation of it; `None` with fewer than two groups or where it is absent without one of them.
    pub sd: Option<f64>,
}

impl Estimate {
    /// The 95 % interval of a statistic that lies between `least` and `most`; `None` where there is no deviation.
    pub fn interval(&self, least: f64, most: f64) -> Option<Interval> {
        let half = Z_95 * self.sd?;
        Some(Interval { low: (self.value - half).max(least), high: (self.value + half).min(most) })
    }
}

/// The delete-a-group jackknife: `statistic` is asked once with nothing left out, then without each group.
///
/// J. W. Tukey, "Bias and confidence in not-quite large samples", 1958 (from memory): the variance is
/// (g − 1)/g · Σ(θᵢ − mean θᵢ)². For kappa: J. L. Fleiss and M. Davies, "Jackknifing functions of multinomial frequencies, with
/// an application to a measure of concordance", 1982 (from memory). Deterministic, and honest where cases within a group
/// are alike. Weakness: with fewer than about ten groups the interval is rough.
pub fn jackknife(n_groups: usize, statistic: impl Fn(Option<usize>) -> Option<f64>) -> Option<Estimate> {
    let value = statistic(None)?;
    let without: Option<Vec<f64>> = (0..n_groups).map(|group| statistic(Some(group))).collect();
    let sd = without.filter(|values| values.len() > 1).map(|values| {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        ((n - 1.0) / n * values.iter().map(|v| (v - mean).powi(2)).sum::<f64>()).sqrt()
    });
    Some(Estimate { value, sd })
}

#[cfg(test)]
mod tests {
    use super::jackknife;

    #[test]
    fn of_a_mean_it_is_the_standard_error() {
        // Closed form: the jackknife's deviation of a mean is s / √n.
        let values = [3.0, 5.0, 4.0, 9.0, 1.0, 4.5];
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let s = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        let estimate = jackknife(values.len(), |out| {
            let kept: Vec<f64> = values.iter().enumerate().filter(|(i, _)| Some(*i) != out).map(|(_, v)| *v).collect();
            Some(kept.iter().sum::<f64>() / kept.len() as f64)
        })
        .unwrap();
        assert!((estimate.value - mean).abs() < 1e-12);
        assert!((estimate.sd.unwrap() - s / n.sqrt()).abs() < 1e-12);
        let interval = estimate.interval(0.0, 5.0).unwrap();
        assert!(interval.high == 5.0 && interval.low < mean);
    }

    #[test]
    fn one_group_has_no_deviation() {
        let estimate = jackknife(1, |out| out.is_none().then_some(2.0)).unwrap();
        assert_eq!((estimate.value, estimate.sd), (2.0, None));
        assert!(jackknife(3, |_| None).is_none());
    }
}
