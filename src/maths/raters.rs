//! How well more than two readers agree.

/// Fleiss's kappa: agreement beyond chance of several readers who each put every case into one class, −1/(readers − 1)
/// to 1.
///
/// `counts` holds a row a case: how many readers chose each class. Every row must add up to the same number of readers, at
/// least 2. `None` when it does not, when there is no case, or when all readers chose one class throughout.
///
/// J. L. Fleiss, "Measuring nominal scale agreement among many raters", Psychological Bulletin 1971;76:378-382 (from memory).
pub fn fleiss_kappa(counts: &[Vec<f64>]) -> Option<f64> {
    let first = counts.first()?;
    let (n_classes, readers): (usize, f64) = (first.len(), first.iter().sum());
    let even = counts.iter().all(|row| row.len() == n_classes && (row.iter().sum::<f64>() - readers).abs() < 1e-9);
    if !even || readers < 2.0 {
        return None;
    }
    let n = counts.len() as f64;
    let observed: f64 = counts
        .iter()
        .map(|row| (row.iter().map(|c| c * c).sum::<f64>() - readers) / (readers * (readers - 1.0)))
        .sum::<f64>()
        / n;
    let expected: f64 =
        (0..n_classes).map(|class| (counts.iter().map(|row| row[class]).sum::<f64>() / (n * readers)).powi(2)).sum();
    (expected < 1.0 - 1e-12).then(|| (observed - expected) / (1.0 - expected))
}

#[cfg(test)]
mod tests {
    use super::fleiss_kappa;

    #[test]
    fn the_encyclopedic_example() {
        // Ten cases, fourteen readers, five classes; printed as 0.210 in the encyclopedic example (from memory), and
        // held against an independent library in tests/learn.
        let table = [
            [0, 0, 0, 0, 14],
            [0, 2, 6, 4, 2],
            [0, 0, 3, 5, 6],
            [0, 3, 9, 2, 0],
            [2, 2, 8, 1, 1],
            [7, 7, 0, 0, 0],
            [3, 2, 6, 3, 0],
            [2, 5, 3, 2, 2],
            [6, 5, 2, 1, 0],
            [0, 2, 2, 3, 7],
        ];
        let counts: Vec<Vec<f64>> = table.iter().map(|row| row.iter().map(|&c| f64::from(c)).collect()).collect();
        let kappa = fleiss_kappa(&counts).unwrap();
        assert!((kappa - 0.210).abs() < 5e-4, "{kappa}");
    }

    #[test]
    fn full_agreement_is_one_and_none_is_as_low_as_it_can_be() {
        let agreed = [vec![3.0, 0.0], vec![0.0, 3.0]];
        assert!((fleiss_kappa(&agreed).unwrap() - 1.0).abs() < 1e-12);
        // Two readers who never agree: closed form −1.
        let never = [vec![1.0, 1.0], vec![1.0, 1.0]];
        assert!((fleiss_kappa(&never).unwrap() + 1.0).abs() < 1e-12);
    }

    #[test]
    fn what_cannot_be_told_is_absent() {
        assert_eq!(fleiss_kappa(&[]), None);
        assert_eq!(fleiss_kappa(&[vec![1.0, 0.0]]), None, "one reader");
        assert_eq!(fleiss_kappa(&[vec![2.0, 0.0], vec![1.0, 0.0]]), None, "uneven numbers of readers");
        assert_eq!(fleiss_kappa(&[vec![2.0, 0.0], vec![2.0, 0.0]]), None, "one class throughout");
    }
}
