//! Statistics that a few wild values do not move: median, quantile, spread, line, rank correlation.
//!
//! Median absolute deviation and its factor: Rousseeuw and Croux, "Alternatives to the median absolute deviation",
//! J. Am. Stat. Assoc. 88 (1993), section 1 (cited from memory; the factor is the closed form 1/Φ⁻¹(3/4)).
//! Line: the median of pairwise slopes (Theil 1950, Sen 1968; cited from memory).
//! All functions expect finite values; the callers check once, at their stage's door.

use super::stats;

pub use super::stats::SD_PER_MAD;

/// Distance of the first and the last tenth of a normal distribution in standard deviations: 2 Φ⁻¹(0.9).
pub const TENTHS_PER_SD: f64 = 2.563_103_131_089_201;

/// Standard deviation of a median divided by that of a mean, large normal sample: √(π/2).
pub const MEDIAN_SD_FACTOR: f64 = 1.253_314_137_315_500_3;

/// Most points of which all pairs are formed for a line; more points are first condensed into this many blocks.
/// 47 points make 1,081 pairs, a few microseconds; far fewer blocks would follow a wild stretch. Odd, so that
/// the order reversed gives the same blocks.
const LINE_BLOCKS: usize = 47;

/// Middle value of what must keep its order; the mean of the two middle ones for an even number. `None` of nothing.
pub fn median(values: &[f64]) -> Option<f64> {
    quantile(values, 0.5)
}

/// The value below which a share `q` (0 to 1) lies, linear between order statistics
/// (definition 7 of Hyndman and Fan, Am. Stat. 50 (1996), cited from memory). `None` of nothing.
pub fn quantile(values: &[f64], q: f64) -> Option<f64> {
    stats::quantile(&mut values.to_vec(), q)
}

/// Standard deviation estimated by the median absolute deviation from the median. `None` under two values.
pub fn spread(values: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    let middle = median(values)?;
    let away: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
    Some(SD_PER_MAD * median(&away)?)
}

/// Standard deviation estimated by the distance of the first and the last tenth, (q₉₀ − q₁₀) / 2.563. Sees what
/// concerns more than a tenth of the values, where the median absolute deviation sees only what concerns half.
/// `None` under two values.
pub fn wide_spread(values: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    Some((quantile(values, 0.9)? - quantile(values, 0.1)?) / TENTHS_PER_SD)
}

/// [`wide_spread`] less the part that noise of standard deviation `noise_sd` explains; 0 when noise explains all.
pub fn spread_without_noise(values: &[f64], noise_sd: f64) -> Option<f64> {
    let all = wide_spread(values)?;
    Some((all * all - noise_sd * noise_sd).max(0.0).sqrt())
}

/// A straight line `value = middle + slope · (x − centre)`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// The x about which it is written: half-way between the outermost points.
    pub centre: f64,
    /// Its value there.
    pub middle: f64,
    /// Change of the value per unit of x.
    pub slope: f64,
}

impl Line {
    /// Its value at `x`.
    pub fn at(&self, x: f64) -> f64 {
        self.middle + self.slope * (x - self.centre)
    }
}

/// The line through points ordered by x that wild points do not move: the median of pairwise slopes,
/// then the median of what is left. `None` under three points or when they share one x.
pub fn line(points: &[(f64, f64)]) -> Option<Line> {
    if points.len() < 3 {
        return None;
    }
    let blocks = block_medians(points, LINE_BLOCKS);
    let mut slopes = Vec::with_capacity(blocks.len() * blocks.len() / 2);
    for (i, a) in blocks.iter().enumerate() {
        for b in &blocks[i + 1..] {
            if b.0 != a.0 {
                slopes.push((b.1 - a.1) / (b.0 - a.0));
            }
        }
    }
    let slope = median(&slopes)?;
    let centre = 0.5 * (points[0].0 + points[points.len() - 1].0);
    let rest: Vec<f64> = points.iter().map(|(x, y)| y - slope * (x - centre)).collect();
    Some(Line { centre, middle: median(&rest)?, slope })
}

/// Bounds of about equal runs of `n` neighbours: block k is from bound k up to, not including, bound k + 1. As many
/// blocks as there are neighbours when these are fewer than `n_blocks`. Read from the other end an odd number of
/// blocks has the same bounds.
pub fn block_bounds(n: usize, n_blocks: usize) -> Vec<usize> {
    let n_blocks = n_blocks.min(n);
    (0..=n_blocks)
        .map(|bound| {
            if 2 * bound <= n_blocks {
                (bound * n).checked_div(n_blocks).unwrap_or(0)
            } else {
                n - (n_blocks - bound) * n / n_blocks
            }
        })
        .collect()
}

/// Points ordered by x condensed into at most `n_blocks` runs of neighbours, each to its median x and median y.
pub fn block_medians(points: &[(f64, f64)], n_blocks: usize) -> Vec<(f64, f64)> {
    block_bounds(points.len(), n_blocks)
        .windows(2)
        .filter_map(|bounds| {
            let part = &points[bounds[0]..bounds[1]];
            let x = median(&part.iter().map(|p| p.0).collect::<Vec<_>>())?;
            Some((x, median(&part.iter().map(|p| p.1).collect::<Vec<_>>())?))
        })
        .collect()
}

/// Correlation of pairs, −1 to 1 (the product-moment coefficient). `None` under three pairs or when one side does not vary.
pub fn correlation(pairs: &[(f64, f64)]) -> Option<f64> {
    if pairs.len() < 3 {
        return None;
    }
    let n = pairs.len() as f64;
    let (mean_a, mean_b) = (pairs.iter().map(|p| p.0).sum::<f64>() / n, pairs.iter().map(|p| p.1).sum::<f64>() / n);
    let (mut aa, mut bb, mut ab) = (0.0, 0.0, 0.0);
    for (a, b) in pairs {
        let (a, b) = (a - mean_a, b - mean_b);
        aa += a * a;
        bb += b * b;
        ab += a * b;
    }
    let product = (aa * bb).sqrt();
    (product > 0.0).then(|| (ab / product).clamp(-1.0, 1.0))
}

/// Correlation of the ranks of pairs (equal values share the mean rank), −1 to 1. `None` as for [`correlation`].
pub fn rank_correlation(pairs: &[(f64, f64)]) -> Option<f64> {
    let a = ranks(pairs.iter().map(|p| p.0).collect());
    let b = ranks(pairs.iter().map(|p| p.1).collect());
    correlation(&a.into_iter().zip(b).collect::<Vec<_>>())
}

fn ranks(values: Vec<f64>) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|&i, &j| values[i].total_cmp(&values[j]));
    let mut ranks = vec![0.0; values.len()];
    let mut from = 0;
    while from < order.len() {
        let mut to = from;
        while to + 1 < order.len() && values[order[to + 1]] == values[order[from]] {
            to += 1;
        }
        for &at in &order[from..=to] {
            ranks[at] = 0.5 * (from + to) as f64;
        }
        from = to + 1;
    }
    ranks
}

#[cfg(test)]
mod tests {
    use super::{
        block_bounds, block_medians, correlation, line, median, quantile, rank_correlation, spread,
        spread_without_noise, wide_spread,
    };

    #[test]
    fn medians_and_quantiles_of_small_samples() {
        assert_eq!(median(&[]), None);
        assert_eq!(median(&[3.0]), Some(3.0));
        assert_eq!(median(&[9.0, 1.0, 4.0, 2.0]), Some(3.0));
        assert_eq!(quantile(&[0.0, 10.0, 20.0, 30.0], 0.25), Some(7.5), "closed form: 0.75 of the way to 10");
        assert_eq!(quantile(&[5.0, 1.0], 1.0), Some(5.0));
    }

    #[test]
    fn spread_of_normal_quantiles_is_their_standard_deviation() {
        // Eleven values, median 0, middle absolute deviation exactly 3: closed form 3 · 1.4826.
        let values = [-50.0, -9.0, -5.0, -3.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0, 900.0];
        assert!((spread(&values).unwrap() - 3.0 * 1.482_602_218_505_602).abs() < 1e-12);
        assert_eq!(spread(&[1.0]), None);
    }

    #[test]
    fn wide_spread_sees_a_fifth_and_not_a_wild_one() {
        // Eleven values: q₁₀ and q₉₀ are the second and the last but one, here −9 and 4.
        let values = [-50.0, -9.0, -5.0, -3.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0, 900.0];
        assert!((wide_spread(&values).unwrap() - 13.0 / 2.563_103_131_089_201).abs() < 1e-12);
        let corrected = spread_without_noise(&values, 3.0).unwrap();
        assert!((corrected - ((13.0 / 2.563_103_131_089_201f64).powi(2) - 9.0).sqrt()).abs() < 1e-12);
        assert_eq!(spread_without_noise(&values, 100.0), Some(0.0), "noise explains all of it");
        assert_eq!(wide_spread(&[1.0]), None);
    }

    #[test]
    fn a_line_survives_a_wild_quarter() {
        let points: Vec<(f64, f64)> =
            (0..200).map(|i| (f64::from(i), if i % 4 == 0 { 1e6 } else { 5.0 - 0.25 * f64::from(i) })).collect();
        let fitted = line(&points).unwrap();
        assert!((fitted.slope + 0.25).abs() < 0.01, "slope {}", fitted.slope);
        let exact: Vec<(f64, f64)> = (0..9).map(|i| (f64::from(i), 5.0 - 0.25 * f64::from(i))).collect();
        let fitted = line(&exact).unwrap();
        assert_eq!((fitted.slope, fitted.centre, fitted.middle), (-0.25, 4.0, 4.0));
        assert!(line(&[(1.0, 2.0), (1.0, 3.0), (1.0, 4.0)]).is_none(), "one x has no slope");
    }

    #[test]
    fn blocks_keep_every_point_once() {
        let points: Vec<(f64, f64)> = (0..10).map(|i| (f64::from(i), f64::from(i * i))).collect();
        let blocks = block_medians(&points, 5);
        assert_eq!(blocks, [(0.5, 0.5), (2.5, 6.5), (4.5, 20.5), (6.5, 42.5), (8.5, 72.5)]);
        assert_eq!(block_medians(&points[..3], 5).len(), 3);
        assert!(block_medians(&[], 5).is_empty());
        for (n, n_blocks) in [(301, 47), (10, 3), (7, 7), (4, 9), (100, 15)] {
            let bounds = block_bounds(n, n_blocks);
            let turned: Vec<usize> = bounds.iter().rev().map(|bound| n - bound).collect();
            assert_eq!(bounds, turned, "{n} in {n_blocks} from either end");
            assert!(bounds[0] == 0 && bounds[bounds.len() - 1] == n && bounds.windows(2).all(|b| b[0] < b[1]));
        }
    }

    #[test]
    fn correlations_in_closed_form() {
        let straight = [(1.0, 2.0), (2.0, 4.0), (3.0, 6.0), (10.0, 20.0)];
        assert!((correlation(&straight).unwrap() - 1.0).abs() < 1e-15);
        let bent = [(1.0, 1.0), (2.0, 8.0), (3.0, 27.0), (4.0, 64.0)];
        assert!((rank_correlation(&bent).unwrap() - 1.0).abs() < 1e-15, "any rising curve has rank correlation 1");
        // Ranks 0,1,2,3 against 1,0,3,2: 1 − 6·4/(4·15) = 0.6.
        let swapped = [(0.0, 1.0), (1.0, 0.0), (2.0, 3.0), (3.0, 2.0)];
        assert!((rank_correlation(&swapped).unwrap() - 0.6).abs() < 1e-15);
        assert_eq!(correlation(&[(1.0, 5.0), (2.0, 5.0), (3.0, 5.0)]), None, "one side does not vary");
    }
}
