//! Smoothing of an evenly spaced series by Whittaker's graduation.
//!
//! Least squares with a penalty on second differences: Σ wᵢ (yᵢ − zᵢ)² + λ Σ (Δ² z)² (Whittaker, "On a new method of
//! graduation", 1923; from memory). Places without weight are filled in; ends go on straight. The equations have five
//! diagonals and are solved in time linear in their number.

/// The penalty at which a wave of `wavelength` samples keeps half of its height, for weights of 1.
pub fn penalty_for(wavelength: f64) -> f64 {
    let root = 2.0 * (std::f64::consts::PI / wavelength.max(2.5)).sin();
    root.powi(-4)
}

/// The smoothed series. `None` when the lengths differ, fewer than two places have weight, or a value is not finite.
pub fn smooth(values: &[f64], weights: &[f64], penalty: f64) -> Option<Vec<f64>> {
    let n = values.len();
    let n_weighted = weights.iter().filter(|w| **w > 0.0).count();
    let finite = values.iter().chain(weights).all(|v| v.is_finite()) && penalty.is_finite() && penalty >= 0.0;
    if weights.len() != n || n_weighted < 2 || !finite {
        return None;
    }
    if n < 3 {
        return Some(values.to_vec());
    }
    // Rows of the symmetric matrix W + λ DᵀD: diagonal, first and second above it.
    let mut rows: Vec<[f64; 3]> = weights.iter().map(|w| [*w, 0.0, 0.0]).collect();
    for i in 0..n - 2 {
        for (a, da) in [1.0, -2.0, 1.0].into_iter().enumerate() {
            for (b, db) in [1.0, -2.0, 1.0].into_iter().enumerate().skip(a) {
                rows[i + a][b - a] += penalty * da * db;
            }
        }
    }
    // L D Lᵀ in place: rows[i] = [dᵢ, l of the row below, l of the second row below].
    let mut solution: Vec<f64> = values.iter().zip(weights).map(|(v, w)| v * w).collect();
    for i in 0..n {
        let [d, first, second] = rows[i];
        if d <= 0.0 {
            return None;
        }
        let (l1, l2) = (first / d, second / d);
        if i + 1 < n {
            rows[i + 1][0] -= l1 * first;
            rows[i + 1][1] -= l1 * second;
            solution[i + 1] -= l1 * solution[i];
        }
        if i + 2 < n {
            rows[i + 2][0] -= l2 * second;
            solution[i + 2] -= l2 * solution[i];
        }
        rows[i] = [d, l1, l2];
    }
    for i in (0..n).rev() {
        let [d, l1, l2] = rows[i];
        let below = if i + 1 < n { l1 * solution[i + 1] } else { 0.0 };
        let second = if i + 2 < n { l2 * solution[i + 2] } else { 0.0 };
        solution[i] = solution[i] / d - below - second;
    }
    Some(solution)
}

/// The smoothed series with what was left smoothed once more and added (twicing; Tukey, "Exploratory data analysis",
/// 1977; from memory): bends and ends are kept better. `None` as for [`smooth`].
pub fn smooth_twice(values: &[f64], weights: &[f64], penalty: f64) -> Option<Vec<f64>> {
    let once = smooth(values, weights, penalty)?;
    let left: Vec<f64> = values.iter().zip(&once).map(|(v, s)| v - s).collect();
    let more = smooth(&left, weights, penalty)?;
    Some(once.iter().zip(&more).map(|(a, b)| a + b).collect())
}

#[cfg(test)]
mod tests {
    use super::{penalty_for, smooth, smooth_twice};

    #[test]
    fn a_straight_line_stays_and_gaps_are_filled() {
        let values: Vec<f64> = (0..20).map(|i| 3.0 + 0.5 * f64::from(i)).collect();
        let mut weights = vec![0.0; 20];
        weights[4] = 1.0;
        weights[9] = 2.0;
        let smoothed = smooth(&values, &weights, 10.0).expect("two places have weight");
        for (a, b) in smoothed.iter().zip(&values) {
            assert!((a - b).abs() < 1e-9, "{a} for {b}");
        }
    }

    #[test]
    fn the_wavelength_is_that_of_half_height() {
        let wave = |i: i32| (std::f64::consts::TAU * f64::from(i) / 24.0).sin();
        let values: Vec<f64> = (0..480).map(wave).collect();
        let smoothed = smooth(&values, &vec![1.0; 480], penalty_for(24.0)).expect("finite");
        assert!((smoothed[246] / values[246] - 0.5).abs() < 1e-3, "closed form: 1 / (1 + λ (2 sin(π/Λ))⁴)");
    }

    #[test]
    fn silly_input_is_refused() {
        assert!(smooth(&[1.0, 2.0], &[1.0], 1.0).is_none());
        assert!(smooth(&[1.0, f64::NAN, 2.0], &[1.0, 1.0, 1.0], 1.0).is_none());
        assert!(smooth(&[1.0, 2.0, 3.0], &[1.0, 0.0, 0.0], 1.0).is_none());
        assert_eq!(smooth(&[1.0, 2.0], &[1.0, 1.0], 1.0), Some(vec![1.0, 2.0]));
    }

    #[test]
    fn twice_keeps_the_end_of_a_bend_better() {
        let values: Vec<f64> = (0..60).map(|i| 0.01 * f64::from(i) * f64::from(i)).collect();
        let weights = vec![1.0; 60];
        let once = smooth(&values, &weights, penalty_for(12.0)).expect("finite");
        let twice = smooth_twice(&values, &weights, penalty_for(12.0)).expect("finite");
        assert!((twice[0] - values[0]).abs() < 0.6 * (once[0] - values[0]).abs());
    }
}
