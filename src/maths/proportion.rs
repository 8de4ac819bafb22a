//! The interval of a proportion.

/// The two-sided 95 % point of the normal distribution.
pub const Z_95: f64 = 1.959_963_984_540_054;

/// An interval from `low` to `high`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Wilson's score interval of `hits` among `n` at `z` standard deviations ([`Z_95`] for 95 %), within 0 to 1;
/// `None` when `n` is 0 or `hits` is larger.
///
/// E. B. Wilson, "Probable inference, the law of succession, and statistical inference", 1927 (from memory), without
/// continuity correction. Unlike the plain normal interval it never leaves 0 to 1 and is not empty at 0 of n.
pub fn wilson(hits: usize, n: usize, z: f64) -> Option<Interval> {
    if n == 0 || hits > n {
        return None;
    }
    let (x, n) = (hits as f64, n as f64);
    let share = x / n;
    let denominator = 1.0 + z * z / n;
    let centre = (share + z * z / (2.0 * n)) / denominator;
    let half = z / denominator * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).sqrt();
    // At the ends rounding may leave a hair's breadth outside of what the formula gives exactly.
    let low = if hits == 0 { 0.0 } else { (centre - half).max(0.0) };
    let high = if x == n { 1.0 } else { (centre + half).min(1.0) };
    Some(Interval { low, high })
}

#[cfg(test)]
mod tests {
    use super::{Z_95, wilson};

    fn assert_wilson(hits: usize, n: usize, low: f64, high: f64, tolerance: f64) {
        let interval = wilson(hits, n, Z_95).unwrap();
        assert!((interval.low - low).abs() <= tolerance, "{hits}/{n}: low {} and not {low}", interval.low);
        assert!((interval.high - high).abs() <= tolerance, "{hits}/{n}: high {} and not {high}", interval.high);
    }

    #[test]
    fn intervals_printed_in_papers() {
        // Vet World 2020;13(12):2798-2805 prints 21.2-57.3 and 90.4-98.5 % (counts inferred).
        assert_wilson(9, 24, 0.2116, 0.5729, 5e-5);
        assert_wilson(99, 103, 0.9044, 0.9848, 5e-5);
        // rstudio-pubs 1367507, eight digits.
        assert_wilson(6, 32, 0.088_895_45, 0.353_091_55, 5e-9);
        // Stat Med 1998;17:857-872.
        assert_wilson(81, 263, 0.2553, 0.3662, 5e-5);
        assert_wilson(15, 148, 0.0624, 0.1605, 5e-5);
        assert_wilson(0, 20, 0.0, 0.1611, 5e-5);
        assert_wilson(1, 29, 0.0061, 0.1718, 5e-5);
    }

    #[test]
    fn intervals_of_counts_met_in_this_field() {
        // Computed once with an independent library.
        for (hits, n, low, high) in [
            (32, 45, 0.5663, 0.8227),
            (23, 25, 0.7503, 0.9778),
            (34, 70, 0.3725, 0.6005),
            (45, 70, 0.5259, 0.7450),
            (21, 36, 0.4220, 0.7286),
            (335, 371, 0.8686, 0.9291),
            (202, 202, 0.9813, 1.0),
            (19, 19, 0.8318, 1.0),
            (20, 21, 0.7733, 0.9915),
            (23, 60, 0.2709, 0.5098),
            (0, 10, 0.0, 0.2775),
            (10, 10, 0.7225, 1.0),
        ] {
            assert_wilson(hits, n, low, high, 5e-5);
        }
    }

    #[test]
    fn nothing_of_nothing_has_no_interval() {
        assert_eq!(wilson(0, 0, Z_95), None);
        assert_eq!(wilson(3, 2, Z_95), None);
    }
}
