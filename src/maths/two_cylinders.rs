//! Light through a cylinder with a denser one on its axis: how wide the inner one is.
//!
//! By Lambert and Beer's law the share that passes at distance y from the axis is exp(−a h(y / R) − b h(y / r)), h the
//! half chord √(1 − y²) of a circle of radius 1, R and r the radii, a and b what the middle of each takes away. What
//! is seen is that blurred by a Gaussian. R is known; for each r and blur of a grid, height, a and b are drawn in by
//! Gauss and Newton's method, and the least sum of squares counts, between grid points by a parabola.

use nalgebra::{Matrix3, Vector3};

/// Inner radii that are tried, shares of the outer one: from a thread to nearly all.
const INNER: [f64; 2] = [0.08, 0.96];
/// Steps between them.
const INNER_STEPS: usize = 45;
/// Factors on the blur that are tried: what is known of it is known to about that.
const BLUR_FACTORS: [f64; 3] = [0.75, 1.0, 1.35];
/// Rounds of drawing in; squares change in the sixth digit after the fifth.
const ROUNDS: usize = 8;
/// Fewest places that four numbers are fitted to.
const LEAST_PLACES: usize = 12;
/// Reach of the blur's weights, sigmas.
const BLUR_REACH: f64 = 3.5;

/// What fits best.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Inner {
    /// Inner radius over the outer one.
    pub share: f64,
    /// What the outer cylinder takes away on its axis by itself, as −ln of what passes.
    pub outer_loss: f64,
    /// What the inner one takes away beyond that.
    pub inner_loss: f64,
    /// Sum of squares without an inner cylinder over that with it, at least 1.
    pub better: f64,
}

/// The inner cylinder that fits best. `passed` holds the share of light at each of `at` (distances from the axis, outer
/// radii, evenly spaced), `blur` the Gaussian sigma in outer radii. `None` with too few places, when nothing finite
/// comes out, or when the inner one takes nothing away.
pub fn inner(at: &[f64], passed: &[f64], blur: f64) -> Option<Inner> {
    if at.len() != passed.len() || at.len() < LEAST_PLACES || blur.is_nan() || blur <= 0.0 {
        return None;
    }
    let shares: Vec<f64> =
        (0..=INNER_STEPS).map(|i| INNER[0] + (INNER[1] - INNER[0]) * i as f64 / INNER_STEPS as f64).collect();
    let mut best: Option<(f64, Inner)> = None;
    let mut alone = f64::INFINITY;
    for factor in BLUR_FACTORS {
        let seen = Seen::new(at, passed, blur * factor);
        alone = alone.min(seen.fit(None)?.0);
        let fits: Vec<Option<(f64, Vector3<f64>)>> = shares.iter().map(|share| seen.fit(Some(*share))).collect();
        let squares = |i: usize| fits.get(i).and_then(|fit| fit.as_ref()).map(|fit| fit.0);
        let Some(i) = (0..fits.len())
            .filter(|i| squares(*i).is_some())
            .min_by(|&i, &j| squares(i).unwrap_or(f64::INFINITY).total_cmp(&squares(j).unwrap_or(f64::INFINITY)))
        else {
            continue;
        };
        let Some((sum, numbers)) = fits[i] else { continue };
        let step = (INNER[1] - INNER[0]) / INNER_STEPS as f64;
        let off = match (i.checked_sub(1).and_then(squares), squares(i + 1)) {
            (Some(before), Some(after)) if before + after > 2.0 * sum => {
                0.5 * (before - after) / (before + after - 2.0 * sum)
            }
            _ => 0.0,
        };
        let found = Inner {
            share: shares[i] + step * off.clamp(-1.0, 1.0),
            outer_loss: numbers[1],
            inner_loss: numbers[2],
            better: 1.0,
        };
        if best.as_ref().is_none_or(|(least, _)| sum < *least) {
            best = Some((sum, found));
        }
    }
    let (sum, found) = best?;
    let finite = [found.share, found.outer_loss, found.inner_loss].iter().all(|v| v.is_finite());
    (finite && found.inner_loss > 0.0).then(|| Inner { better: (alone / sum.max(1e-12)).max(1.0), ..found })
}

/// A section with the blur it is seen through.
struct Seen<'a> {
    at: &'a [f64],
    passed: &'a [f64],
    weights: Vec<f64>,
}

impl Seen<'_> {
    fn new<'a>(at: &'a [f64], passed: &'a [f64], blur: f64) -> Seen<'a> {
        let step = (at[at.len() - 1] - at[0]) / (at.len() - 1) as f64;
        let reach = ((BLUR_REACH * blur / step).ceil() as usize).min(at.len());
        let mut weights: Vec<f64> =
            (0..=2 * reach).map(|i| (-0.5 * ((i as f64 - reach as f64) * step / blur).powi(2)).exp()).collect();
        let total: f64 = weights.iter().sum();
        weights.iter_mut().for_each(|w| *w /= total);
        Seen { at, passed, weights }
    }

    /// Least sum of squares and height, outer and inner loss; without an inner cylinder its loss is 0.
    fn fit(&self, share: Option<f64>) -> Option<(f64, Vector3<f64>)> {
        let half_chord = |y: f64, radius: f64| (1.0 - (y / radius).powi(2)).max(0.0).sqrt();
        let outer: Vec<f64> = self.at.iter().map(|y| half_chord(*y, 1.0)).collect();
        let within: Vec<f64> = self.at.iter().map(|y| share.map_or(0.0, |share| half_chord(*y, share))).collect();
        let mut now = Vector3::new(1.0, 0.1, if share.is_some() { 0.3 } else { 0.0 });
        let mut last = f64::INFINITY;
        for _ in 0..ROUNDS {
            let sharp: Vec<f64> = outer.iter().zip(&within).map(|(o, i)| (-now[1] * o - now[2] * i).exp()).collect();
            let light = self.blurred(&sharp);
            let by_outer = self.blurred(&sharp.iter().zip(&outer).map(|(s, o)| -s * o * now[0]).collect::<Vec<_>>());
            let by_inner = self.blurred(&sharp.iter().zip(&within).map(|(s, i)| -s * i * now[0]).collect::<Vec<_>>());
            let mut matrix = Matrix3::identity() * 1e-6;
            let mut right = Vector3::zeros();
            let mut sum = 0.0;
            for (i, seen) in self.passed.iter().enumerate() {
                let left = seen - now[0] * light[i];
                let row = Vector3::new(light[i], by_outer[i], by_inner[i]);
                matrix += row * row.transpose();
                right += row * left;
                sum += left * left;
            }
            last = sum;
            let step = matrix.cholesky()?.solve(&right);
            now += step.map(|v| v.clamp(-0.7, 0.7));
            now[1] = now[1].clamp(-0.5, 8.0);
            now[2] = now[2].clamp(-0.5, 12.0);
        }
        last.is_finite().then_some((last, now))
    }

    /// Blurred, the ends repeated.
    fn blurred(&self, sharp: &[f64]) -> Vec<f64> {
        let reach = (self.weights.len() / 2) as isize;
        let last = sharp.len() as isize - 1;
        (0..sharp.len() as isize)
            .map(|x| self.weights.iter().zip(-reach..).map(|(w, i)| w * sharp[(x + i).clamp(0, last) as usize]).sum())
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::inner;

    /// The slow twin: exact shares on a grid forty times finer, blurred by summing.
    fn seen(share: f64, outer_loss: f64, inner_loss: f64, blur: f64) -> (Vec<f64>, Vec<f64>) {
        let at: Vec<f64> = (0..65).map(|i| 1.6 * (f64::from(i) / 32.0 - 1.0)).collect();
        let chord = |y: f64, r: f64| (1.0 - (y / r).powi(2)).max(0.0).sqrt();
        let passed = at
            .iter()
            .map(|y| {
                let (mut sum, mut total) = (0.0, 0.0);
                for k in -400..=400 {
                    let u = f64::from(k) * 0.01;
                    let weight = (-0.5 * u * u).exp();
                    let place = y + u * blur;
                    sum += weight * (-outer_loss * chord(place, 1.0) - inner_loss * chord(place, share)).exp();
                    total += weight;
                }
                0.97 * sum / total
            })
            .collect();
        (at, passed)
    }

    #[test]
    fn the_inner_radius_is_found_through_the_blur() {
        for (share, outer_loss, inner_loss, blur) in
            [(0.5, 0.1, 1.0, 0.08), (0.33, 0.4, 0.6, 0.1), (0.7, 0.05, 2.0, 0.15), (0.25, 1.0, 0.8, 0.06)]
        {
            let (at, passed) = seen(share, outer_loss, inner_loss, blur);
            let found = inner(&at, &passed, blur).expect("fits");
            assert!((found.share - share).abs() < 0.02, "{found:?} for {share}");
            assert!(found.better > 10.0, "{found:?}");
        }
    }

    #[test]
    fn a_plain_cylinder_is_not_much_better_with_one_inside() {
        let (at, passed) = seen(0.5, 0.5, 0.0, 0.1);
        let noisy: Vec<f64> =
            passed.iter().enumerate().map(|(i, p)| p + 0.004 * ((i * 7919 % 13) as f64 / 6.0 - 1.0)).collect();
        assert!(inner(&at, &noisy, 0.1).is_none_or(|found| found.better < 1.5), "{:?}", inner(&at, &noisy, 0.1));
        assert!(inner(&at[..5], &passed[..5], 0.1).is_none());
    }
}
