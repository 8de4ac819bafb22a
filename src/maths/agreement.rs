//! How well two ways of sorting into the same classes agree.

/// How often class i of the first way met class j of the second; row i, column j.
#[derive(Clone, Debug, PartialEq)]
pub struct Confusion {
    n_classes: usize,
    counts: Vec<f64>,
}

/// How well one class was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClassScore {
    /// Of those called so, the share that was; `None` when none was called so.
    pub precision: Option<f64>,
    /// Of those that were, the share called so; `None` when there was none.
    pub recall: Option<f64>,
    /// Harmonic mean, 0 to 1; `None` when the class neither occurred nor was called.
    pub f1: Option<f64>,
}

impl Confusion {
    /// An empty table of `n_classes` by `n_classes`.
    pub fn new(n_classes: usize) -> Confusion {
        Confusion { n_classes, counts: vec![0.0; n_classes * n_classes] }
    }

    /// A table from its rows.
    ///
    /// # Panics
    /// When a row is not as long as there are rows.
    pub fn from_rows(rows: &[Vec<f64>]) -> Confusion {
        assert!(rows.iter().all(|row| row.len() == rows.len()), "a confusion table is square");
        Confusion { n_classes: rows.len(), counts: rows.concat() }
    }

    /// Counts `weight` more meetings of `first` with `second`.
    pub fn add(&mut self, first: usize, second: usize, weight: f64) {
        self.counts[first * self.n_classes + second] += weight;
    }

    /// How often `first` met `second`.
    pub fn at(&self, first: usize, second: usize) -> f64 {
        self.counts[first * self.n_classes + second]
    }

    /// Share of cases on which both agree, 0 to 1; `None` when empty.
    pub fn agreement(&self) -> Option<f64> {
        let all: f64 = self.counts.iter().sum();
        let same: f64 = (0..self.n_classes).map(|class| self.at(class, class)).sum();
        (all > 0.0).then(|| same / all)
    }

    /// Cohen's kappa: agreement beyond what the two ways' own shares would give by chance, −1 to 1.
    /// `None` when empty or when chance alone gives full agreement.
    ///
    /// J. Cohen, "A coefficient of agreement for nominal scales", 1960 (from memory).
    pub fn kappa(&self) -> Option<f64> {
        let observed = self.agreement()?;
        let all: f64 = self.counts.iter().sum();
        let expected: f64 = (0..self.n_classes).map(|c| self.row_sum(c) / all * (self.column_sum(c) / all)).sum();
        (expected < 1.0).then(|| (observed - expected) / (1.0 - expected))
    }

    /// How well class `class` was found, the first way (rows) being the truth.
    pub fn score(&self, class: usize) -> ClassScore {
        let (hit, was, called) = (self.at(class, class), self.row_sum(class), self.column_sum(class));
        ClassScore {
            precision: (called > 0.0).then(|| hit / called),
            recall: (was > 0.0).then(|| hit / was),
            f1: (was + called > 0.0).then(|| 2.0 * hit / (was + called)),
        }
    }

    fn row_sum(&self, class: usize) -> f64 {
        (0..self.n_classes).map(|second| self.at(class, second)).sum()
    }

    fn column_sum(&self, class: usize) -> f64 {
        (0..self.n_classes).map(|first| self.at(first, class)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::Confusion;

    fn assert_kappa(rows: &[Vec<f64>], agreement: f64, kappa: f64) {
        let table = Confusion::from_rows(rows);
        assert!((table.agreement().unwrap() - agreement).abs() < 1e-12);
        assert!((table.kappa().unwrap() - kappa).abs() < 5e-5, "{:?}", table.kappa());
    }

    #[test]
    fn published_examples() {
        // Two readers of 50 grants, in many teaching pages.
        assert_kappa(&[vec![20.0, 5.0], vec![10.0, 15.0]], 0.70, 0.40);
        // The same agreement with differing shares: the so-called paradox pair.
        assert_kappa(&[vec![45.0, 15.0], vec![25.0, 15.0]], 0.60, 0.1304);
        assert_kappa(&[vec![25.0, 35.0], vec![5.0, 35.0]], 0.60, 0.2593);
        // The three-class layout of Cohen 1960.
        let cohen = [vec![88.0, 14.0, 18.0], vec![10.0, 40.0, 10.0], vec![2.0, 6.0, 12.0]];
        assert_kappa(&cohen, 0.70, 0.4915);
    }

    #[test]
    fn a_class_never_called_has_no_precision() {
        let table = Confusion::from_rows(&[vec![3.0, 0.0], vec![2.0, 0.0]]);
        assert_eq!(table.score(1).precision, None);
        assert_eq!(table.score(1).recall, Some(0.0));
        assert_eq!(table.score(1).f1, Some(0.0));
        assert!((table.score(0).f1.unwrap() - 0.75).abs() < 1e-12);
    }
}
