//! Robust statistics: median, quantiles, spread, mode.

/// The standard deviation of a normal distribution divided by its median absolute deviation
/// (1 / Φ⁻¹(3/4), closed form).
pub const SD_PER_MAD: f64 = 1.482_602_218_505_602;

/// The `q` quantile (0 to 1) with linear interpolation between order statistics; reorders `values`.
/// `None` when empty.
pub fn quantile(values: &mut [f64], q: f64) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let at = q.clamp(0.0, 1.0) * (values.len() - 1) as f64;
    let low = at as usize;
    let (_, &mut below, above) = values.select_nth_unstable_by(low, f64::total_cmp);
    let share = at - low as f64;
    if share == 0.0 {
        return Some(below);
    }
    let next = above.iter().copied().fold(f64::INFINITY, f64::min);
    Some(below + (next - below) * share)
}

/// The median; reorders `values`. `None` when empty.
pub fn median(values: &mut [f64]) -> Option<f64> {
    quantile(values, 0.5)
}

/// Robust standard deviation: 1.4826 times the median absolute deviation from the median; reorders `values`.
/// `None` when empty.
pub fn robust_sd(values: &mut [f64]) -> Option<f64> {
    let middle = median(values)?;
    for value in values.iter_mut() {
        *value = (*value - middle).abs();
    }
    Some(median(values)? * SD_PER_MAD)
}

/// The half-sample mode: the place where sorted values crowd most. `None` when empty; sorts `values`.
///
/// D. R. Bickel, R. Frühwirth, "On a fast, robust estimator of the mode", 2006 (from memory): halve the sample
/// to its densest half until few values are left.
pub fn half_sample_mode(values: &mut [f64]) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    let mut sample: &[f64] = values;
    while sample.len() > 3 {
        let half = sample.len().div_ceil(2);
        let best = (0..=sample.len() - half).min_by(|&i, &j| {
            let width = |k: usize| sample[k + half - 1] - sample[k];
            width(i).total_cmp(&width(j))
        })?;
        sample = &sample[best..best + half];
    }
    if sample.is_empty() { None } else { Some(sample.iter().sum::<f64>() / sample.len() as f64) }
}

#[cfg(test)]
mod tests {
    use super::{half_sample_mode, median, quantile, robust_sd};

    #[test]
    fn quantiles_interpolate() {
        assert_eq!(quantile(&mut [4.0, 1.0, 3.0, 2.0], 0.5), Some(2.5));
        assert_eq!(median(&mut [3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(quantile(&mut [], 0.5), None);
    }

    #[test]
    fn one_wild_value_moves_nothing() {
        let sd = robust_sd(&mut [1.0, 2.0, 3.0, 4.0, 1e9]).unwrap();
        assert!((sd - 1.4826).abs() < 1e-3, "{sd}");
    }

    #[test]
    fn the_mode_is_where_values_crowd() {
        let mut values: Vec<f64> = (0..50).map(|i| 10.0 + 0.01 * f64::from(i)).collect();
        values.extend((0..60).map(|i| 20.0 + f64::from(i)));
        let mode = half_sample_mode(&mut values).unwrap();
        assert!((9.9..10.6).contains(&mode), "{mode}");
    }
}
