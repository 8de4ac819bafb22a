//! Intervals by resampling whole groups, for cases that are not independent within their group.

use rand::Rng;

use super::proportion::Interval;
use super::seeds;
use super::stats;

/// Says in the seed's purpose that numbers are drawn for resampling.
const PURPOSE: u64 = 0x7265_7361;

/// How often each case counts in one resample of whole groups.
///
/// `group` holds the group of each case, numbered 0 to `n_groups` − 1. As many groups as there are get drawn with
/// replacement; a case counts as often as its group was drawn.
pub fn resampled_weights(group: &[usize], n_groups: usize, seed: u64, resample: u64) -> Vec<f64> {
    let mut rng = seeds::generator(seed, &[PURPOSE, resample]);
    let mut drawn = vec![0.0; n_groups];
    for _ in 0..n_groups {
        drawn[rng.gen_range(0..n_groups)] += 1.0;
    }
    group.iter().map(|&g| drawn[g]).collect()
}

/// The middle 95 % of what `statistic` gives over `n_resamples` resamples of whole groups (percentile bootstrap).
///
/// `statistic` gets the weight of each case. `None` when it is absent in more than half of the resamples or there is
/// no group. B. Efron, "Bootstrap methods: another look at the jackknife", 1979 (from memory), with the group as the
/// unit drawn. Weakness: with fewer than about 20 groups the interval is too narrow.
pub fn interval(
    group: &[usize],
    n_groups: usize,
    seed: u64,
    n_resamples: usize,
    statistic: impl Fn(&[f64]) -> Option<f64>,
) -> Option<Interval> {
    if n_groups == 0 {
        return None;
    }
    let mut values: Vec<f64> = (0..n_resamples as u64)
        .filter_map(|resample| statistic(&resampled_weights(group, n_groups, seed, resample)))
        .collect();
    if values.len() * 2 <= n_resamples {
        return None;
    }
    Some(Interval { low: stats::quantile(&mut values, 0.025)?, high: stats::quantile(&mut values, 0.975)? })
}

#[cfg(test)]
mod tests {
    use super::interval;

    /// Weighted mean of the cases.
    fn mean(values: &[f64]) -> impl Fn(&[f64]) -> Option<f64> + '_ {
        |weight| {
            let all: f64 = weight.iter().sum();
            (all > 0.0).then(|| values.iter().zip(weight).map(|(v, w)| v * w).sum::<f64>() / all)
        }
    }

    #[test]
    fn the_interval_of_a_mean_is_as_wide_as_theory_says() {
        // 400 groups of one, values 0 and 1 in turn: sd of the mean is 0.5 / 20, the interval 4 × 1.96 / 2 sd wide.
        let values: Vec<f64> = (0..400).map(|i| f64::from(i % 2)).collect();
        let group: Vec<usize> = (0..400).collect();
        let got = interval(&group, 400, 3, 2000, mean(&values)).unwrap();
        let width = got.high - got.low;
        assert!((width - 2.0 * 1.96 * 0.025).abs() < 0.01, "{width}");
        assert!(got.low < 0.5 && 0.5 < got.high);
    }

    #[test]
    fn repeating_every_case_within_its_group_tells_nothing_new() {
        let values: Vec<f64> = (0..50).map(|i| f64::from(i % 7)).collect();
        let once: Vec<usize> = (0..50).collect();
        let tenfold_values: Vec<f64> = (0..500).map(|i| values[i / 10]).collect();
        let tenfold: Vec<usize> = (0..500).map(|i| i / 10).collect();
        let one = interval(&once, 50, 3, 500, mean(&values)).unwrap();
        let ten = interval(&tenfold, 50, 3, 500, mean(&tenfold_values)).unwrap();
        assert!((one.low - ten.low).abs() < 1e-9 && (one.high - ten.high).abs() < 1e-9);
    }
}
