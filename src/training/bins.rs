//! Cuts between bins: values of any size become small whole numbers before a tree sees them.
//!
//! The tree crate takes values nearer than 1e-5 to each other for equal, whatever their unit, and aborts on what is
//! not a number. Bins end both: they are 1 apart and always whole.

use crate::finding::ensemble::MAX_CUTS;

/// Ascending cuts that part the present `values` into bins of about equal number, at most [`MAX_CUTS`].
///
/// With few distinct values, a cut between each two neighbours. Cuts are single precision, as the model file keeps
/// them; a value equal to a cut lies below it.
pub fn cuts(values: impl Iterator<Item = Option<f64>>) -> Vec<f32> {
    let mut sorted: Vec<f64> = values.flatten().filter(|value| value.is_finite()).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let changes: Vec<usize> = (1..sorted.len()).filter(|&i| sorted[i - 1] < sorted[i]).collect();
    let wanted: Vec<usize> = if changes.len() <= MAX_CUTS {
        changes
    } else {
        // The change of value nearest above each quantile.
        let quantiles = (1..=MAX_CUTS).map(|k| k * sorted.len() / (MAX_CUTS + 1));
        quantiles.filter_map(|at| changes.get(changes.partition_point(|&change| change < at)).copied()).collect()
    };
    let mut cuts: Vec<f32> = Vec::new();
    for at in wanted {
        let cut = (0.5 * sorted[at - 1] + 0.5 * sorted[at]) as f32;
        // Neighbours closer than single precision tells apart give one cut, not two equal ones.
        if cut.is_finite() && cuts.last().is_none_or(|&last| last < cut) {
            cuts.push(cut);
        }
    }
    cuts
}

#[cfg(test)]
mod tests {
    use super::{MAX_CUTS, cuts};
    use crate::finding::ensemble::bin_of;

    #[test]
    fn few_values_are_parted_between_neighbours() {
        assert_eq!(cuts([Some(3.0), None, Some(1.0), Some(1.0), Some(f64::NAN)].into_iter()), [2.0]);
        assert!(cuts([Some(3.0), None, Some(3.0)].into_iter()).is_empty());
        assert!(cuts([None, None].into_iter()).is_empty());
    }

    #[test]
    fn many_values_fill_bins_evenly() {
        let values: Vec<f64> = (0..10_000).map(|i| (f64::from(i) / 1000.0).exp() * 1e-6).collect();
        let cuts: Vec<f64> = cuts(values.iter().map(|&v| Some(v))).into_iter().map(f64::from).collect();
        assert_eq!(cuts.len(), MAX_CUTS);
        let mut count = vec![0; MAX_CUTS + 1];
        values.iter().for_each(|&value| count[usize::from(bin_of(&cuts, Some(value)))] += 1);
        assert!(count.iter().all(|&n| (38..=41).contains(&n)), "{count:?}");
    }

    #[test]
    fn a_crowd_of_equal_values_takes_one_bin() {
        let mut values = vec![0.0; 5000];
        values.extend((0..5000).map(f64::from));
        let cuts = cuts(values.into_iter().map(Some));
        assert!(cuts.len() <= MAX_CUTS && cuts.windows(2).all(|w| w[0] < w[1]));
        assert!(cuts[0] > 0.0 && cuts.len() > 100);
    }
}
