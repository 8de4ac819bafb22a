//! All places of all lines fitted at once: the number of lines crossed, as a smooth function of the place.
//!
//! The function is a plane, and where the places say so also bent as by a lens (grows with the cube of the distance
//! from the middle) or by a tilted slide (grows with the square). Places on one line share that line's own error (how
//! it was ruled, where it falls between pixels), so lines and not places are what the scale's uncertainty rests on:
//! generalised least squares with a random part for each line, by taking a share of each line's mean away (Fuller and
//! Battese, "Transformations for estimation of linear models with nested-error structure", 1973; cited from memory).

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector};

use super::bands::Frame;
use crate::maths::robust::SD_PER_MAD;
use crate::maths::robust::median;

/// Places farther off than so many robust standard deviations are dust: one in 16,000 good ones is lost.
const OUTLIER_SDS: f64 = 4.0;

/// Nothing nearer than this is dust, pixels: where lines run along the pixels, how each falls between them moves it by
/// up to a tenth where lines are sharp, alike in all its places.
const OUTLIER_LEAST_PX: f64 = 0.15;

/// Fewest lines that can tell a bend of the scale from chance.
const LEAST_LINES_BENT: usize = 12;

/// What the chi-squared statistic of a bend must exceed: four standard deviations for one coefficient, and about as
/// unlikely for three. Less finds bends that are noise, more overlooks some of a tenth of a per cent.
const EVIDENT: [f64; 2] = [16.0, 25.0];

/// Values along each side of the photo at which the local scale is looked at.
const N_GRID: usize = 21;

/// A place at which a line crosses a band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Place {
    /// The line's number.
    pub(super) n: i64,
    /// Distance across the lines, pixels.
    pub(super) u: f64,
    /// Distance along the lines, pixels.
    pub(super) v: f64,
}

/// The number of lines crossed as a function of the place.
#[derive(Clone, Debug)]
pub(super) struct Joint {
    bends: Bends,
    unit_px: f64,
    coefficients: DVector<f64>,
    covariance: DMatrix<f64>,
    /// Factor on all standard deviations for the few lines they rest on.
    few_lines: f64,
    /// Which of the places were used.
    pub(super) used: Vec<bool>,
    /// How far used places lie off, root mean square, pixels.
    pub(super) residual_px: f64,
}

/// The local scale over a photo.
#[derive(Clone, Copy, Debug)]
pub(super) struct OverPhoto {
    /// Mean gradient across and along the lines, lines a pixel.
    pub(super) lines_per_px: (f64, f64),
    /// Standard uncertainty of the first, as a share of it.
    pub(super) sd_share: f64,
    /// Root mean square and largest departure of the local gradient from its mean, as shares; absent for a plane.
    pub(super) departure: Option<(f64, f64)>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Bends {
    lens: bool,
    tilt: bool,
}

impl Bends {
    const NONE: Bends = Bends { lens: false, tilt: false };
    const ALL: Bends = Bends { lens: true, tilt: true };

    fn values(self, u: f64, v: f64) -> Vec<f64> {
        let mut values = vec![1.0, u, v];
        if self.lens {
            values.push(u * (u * u + v * v));
        }
        if self.tilt {
            values.extend([u * u, u * v, v * v]);
        }
        values
    }

    /// The derivatives of the values along u and along v.
    fn slopes(self, u: f64, v: f64) -> [Vec<f64>; 2] {
        let (mut along_u, mut along_v) = (vec![0.0, 1.0, 0.0], vec![0.0, 0.0, 1.0]);
        if self.lens {
            along_u.push(3.0 * u * u + v * v);
            along_v.push(2.0 * u * v);
        }
        if self.tilt {
            along_u.extend([2.0 * u, v, 0.0]);
            along_v.extend([0.0, u, 2.0 * v]);
        }
        [along_u, along_v]
    }

    /// Coefficients that the lines' places against each other tell, and not the course of each line.
    fn n_between_lines(self) -> usize {
        2 + usize::from(self.lens) + usize::from(self.tilt)
    }

    fn n_within_lines(self) -> usize {
        1 + if self.tilt { 2 } else { 0 }
    }
}

/// The fit of all places. `None` when they are too few to be fitted.
pub(super) fn joint(places: &[Place], frame: &Frame) -> Option<Joint> {
    let plain = fitted(places, frame, Bends::NONE)?;
    if lines_of(places, &plain.used).len() < LEAST_LINES_BENT {
        return Some(plain);
    }
    let Some(bent) = fitted(places, frame, Bends::ALL) else { return Some(plain) };
    let evident = |from: usize, n: usize, least: f64| {
        let some = bent.coefficients.rows(from, n).into_owned();
        let covariance = bent.covariance.view((from, from), (n, n)).into_owned() * bent.few_lines.powi(2);
        covariance.try_inverse().is_some_and(|inverse| (some.transpose() * inverse * &some)[(0, 0)] > least)
    };
    let bends = Bends { lens: evident(3, 1, EVIDENT[0]), tilt: evident(4, 3, EVIDENT[1]) };
    match bends {
        Bends::NONE => Some(plain),
        Bends::ALL => Some(bent),
        one => fitted(places, frame, one).or(Some(plain)),
    }
}

fn fitted(places: &[Place], frame: &Frame, bends: Bends) -> Option<Joint> {
    let unit_px = frame.half_diagonal_px();
    let rows: Vec<Vec<f64>> = places.iter().map(|p| bends.values(p.u / unit_px, p.v / unit_px)).collect();
    let k = rows.first()?.len();
    let mut used = vec![true; places.len()];
    let mut rest: Vec<f64> = Vec::new();
    for _ in 0..4 {
        let kept: Vec<usize> = (0..places.len()).filter(|&i| used[i]).collect();
        let coefficients =
            plain_least_squares(&kept.iter().map(|&i| (&rows[i], places[i].n as f64)).collect::<Vec<_>>())?;
        rest = (0..places.len()).map(|i| places[i].n as f64 - dot(&rows[i], &coefficients)).collect();
        let sizes: Vec<f64> = kept.iter().map(|&i| rest[i].abs()).collect();
        let least = OUTLIER_LEAST_PX * coefficients[1].abs() / unit_px;
        let limit = (OUTLIER_SDS * SD_PER_MAD * median(&sizes)?).max(least);
        used.iter_mut().zip(&rest).for_each(|(used, rest)| *used = rest.abs() <= limit);
    }
    let lines = lines_of(places, &used);
    let n_used: usize = lines.values().map(Vec::len).sum();
    let free_lines = lines.len() as f64 - bends.n_between_lines() as f64;
    if n_used <= k + 1 || free_lines < 1.0 {
        return None;
    }
    // Errors of places on a line, and of lines.
    let means: Vec<f64> = lines.values().map(|line| mean(line.iter().map(|&i| rest[i]))).collect();
    let within: f64 =
        lines.values().zip(&means).map(|(line, m)| line.iter().map(|&i| (rest[i] - m).powi(2)).sum::<f64>()).sum();
    let free_places = (n_used - lines.len()) as f64 - bends.n_within_lines() as f64;
    let place_variance = if free_places >= 1.0 { within / free_places } else { 0.0 };
    let between = means.iter().map(|m| m * m).sum::<f64>() / free_lines;
    let line_variance = (between - place_variance * mean(lines.values().map(|line| 1.0 / line.len() as f64))).max(0.0);
    // Each line less a share of its mean: what is left has independent errors of the places' variance.
    let mut whitened: Vec<(Vec<f64>, f64)> = Vec::with_capacity(n_used);
    for line in lines.values() {
        let n = line.len() as f64;
        let all = place_variance + n * line_variance;
        let share = if all > 0.0 { 1.0 - (place_variance / all).sqrt() } else { 0.0 };
        let row_mean: Vec<f64> = (0..k).map(|j| share * mean(line.iter().map(|&i| rows[i][j]))).collect();
        let n_mean = share * mean(line.iter().map(|&i| places[i].n as f64));
        for &i in line {
            let row = rows[i].iter().zip(&row_mean).map(|(value, mean)| value - mean).collect();
            whitened.push((row, places[i].n as f64 - n_mean));
        }
    }
    let (coefficients, inverse) = with_covariance(&whitened.iter().map(|(row, n)| (row, *n)).collect::<Vec<_>>())?;
    let left: f64 = whitened.iter().map(|(row, n)| (n - dot(row, &coefficients)).powi(2)).sum();
    let variance = left / (n_used - k) as f64;
    let gradient = coefficients[1].abs() / unit_px;
    let squares = (0..places.len()).filter(|&i| used[i]);
    let squares = squares.map(|i| (places[i].n as f64 - dot(&rows[i], &coefficients)).powi(2));
    let residual_px = (squares.sum::<f64>() / n_used as f64).sqrt() / gradient;
    // A few lines tell their own scatter poorly: the variance of Student's distribution, ν / (ν − 2), where lines
    // scatter more than their places explain.
    let few_lines = if free_lines > 2.0 { (free_lines / (free_lines - 2.0)).sqrt() } else { 3f64.sqrt() };
    let finite = coefficients.iter().all(|c| c.is_finite()) && residual_px.is_finite();
    finite.then(|| Joint { bends, unit_px, coefficients, covariance: inverse * variance, few_lines, used, residual_px })
}

impl Joint {
    /// Number of lines crossed at (u, v): whole on a line.
    pub(super) fn count(&self, u: f64, v: f64) -> f64 {
        dot(&self.bends.values(u / self.unit_px, v / self.unit_px), &self.coefficients)
    }

    /// Where line `n` crosses the row `v`; `None` when the fit has no such place.
    pub(super) fn place(&self, n: i64, v: f64) -> Option<f64> {
        let mut u = (n as f64 - self.coefficients[0]) * self.unit_px / self.coefficients[1];
        for _ in 0..6 {
            let [slope, _] = self.bends.slopes(u / self.unit_px, v / self.unit_px);
            u += (n as f64 - self.count(u, v)) * self.unit_px / dot(&slope, &self.coefficients);
        }
        (u.is_finite() && (self.count(u, v) - n as f64).abs() < 1e-6).then_some(u)
    }

    /// The local scale over the photo.
    pub(super) fn over_photo(&self, frame: &Frame, width: usize, height: usize) -> OverPhoto {
        // Middles of cells, so that the mean is the photo's and not its border's.
        let side = |n: usize, i: usize| (i as f64 + 0.5) / N_GRID as f64 * n as f64 - 0.5;
        let grid = (0..N_GRID * N_GRID).map(|i| frame.uv(side(width, i % N_GRID), side(height, i / N_GRID)));
        let slopes: Vec<[Vec<f64>; 2]> =
            grid.map(|(u, v)| self.bends.slopes(u / self.unit_px, v / self.unit_px)).collect();
        let k = self.coefficients.len();
        let mean_of = |way: usize| DVector::from_fn(k, |j, _| mean(slopes.iter().map(|s| s[way][j])));
        let (across, along) = (mean_of(0), mean_of(1));
        let gradient = across.dot(&self.coefficients);
        let variance = (across.transpose() * &self.covariance * &across)[(0, 0)];
        let departure = (self.bends != Bends::NONE).then(|| {
            let off = slopes.iter().map(|s| dot(&s[0], &self.coefficients) / gradient - 1.0);
            let (sum, largest) = off.fold((0.0, 0.0f64), |(sum, most), off| (sum + off * off, most.max(off.abs())));
            ((sum / slopes.len() as f64).sqrt(), largest)
        });
        OverPhoto {
            lines_per_px: (gradient / self.unit_px, along.dot(&self.coefficients) / self.unit_px),
            sd_share: self.few_lines * variance.max(0.0).sqrt() / gradient.abs(),
            departure,
        }
    }
}

/// Indices of the used places, by line.
pub(super) fn lines_of(places: &[Place], used: &[bool]) -> BTreeMap<i64, Vec<usize>> {
    let mut lines: BTreeMap<i64, Vec<usize>> = BTreeMap::new();
    for (i, place) in places.iter().enumerate().filter(|(i, _)| used[*i]) {
        lines.entry(place.n).or_default().push(i);
    }
    lines
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values.fold((0.0, 0.0), |(sum, n), value| (sum + value, n + 1.0));
    if n > 0.0 { sum / n } else { 0.0 }
}

fn dot(row: &[f64], coefficients: &DVector<f64>) -> f64 {
    row.iter().zip(coefficients.iter()).map(|(a, b)| a * b).sum()
}

fn plain_least_squares(rows: &[(&Vec<f64>, f64)]) -> Option<DVector<f64>> {
    with_covariance(rows).map(|(coefficients, _)| coefficients)
}

/// Coefficients, and the inverse of the normal matrix.
fn with_covariance(rows: &[(&Vec<f64>, f64)]) -> Option<(DVector<f64>, DMatrix<f64>)> {
    let k = rows.first()?.0.len();
    let mut normal = DMatrix::<f64>::zeros(k, k);
    let mut right = DVector::<f64>::zeros(k);
    for (row, value) in rows {
        for i in 0..k {
            for j in 0..k {
                normal[(i, j)] += row[i] * row[j];
            }
            right[i] += row[i] * value;
        }
    }
    let inverse = normal.cholesky()?.inverse();
    Some((&inverse * right, inverse))
}

#[cfg(test)]
mod tests {
    use super::{Frame, Place, joint};

    /// Places on lines 17.3 pixels apart; the scatter repeats, so that it is the same every time.
    fn places(scatter_px: f64, cubic: f64) -> Vec<Place> {
        let mut seed = 1u64;
        let mut noise = || {
            seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            ((seed >> 33) as f64 / f64::from(1u32 << 31) - 0.5) * 12f64.sqrt() * scatter_px
        };
        (-25..=25i64)
            .flat_map(|n| (-8..=8).map(move |i| (n, f64::from(i) * 30.0)))
            .map(|(n, v)| {
                let u = 17.3 * n as f64 - 0.03 * v;
                Place { n, u: u * (1.0 + cubic * (u * u + v * v)) + noise(), v }
            })
            .collect()
    }

    #[test]
    fn a_plane_is_found_with_its_slant() {
        let frame = Frame::new(1000, 600, 0.0);
        let found = joint(&places(0.05, 0.0), &frame).unwrap();
        let over = found.over_photo(&frame, 1000, 600);
        assert!((over.lines_per_px.0 * 17.3 - 1.0).abs() < 1e-4, "{over:?}");
        assert!((over.lines_per_px.1 * 17.3 - 0.03).abs() < 1e-4 && over.departure.is_none(), "{over:?}");
        assert!((found.residual_px - 0.05).abs() < 0.01);
        assert!((found.place(7, 60.0).unwrap() - (7.0 * 17.3 - 1.8)).abs() < 0.02);
    }

    #[test]
    fn dust_is_left_out() {
        let frame = Frame::new(1000, 600, 0.0);
        let mut places = places(0.05, 0.0);
        (0..places.len()).step_by(9).for_each(|i| places[i].u += 2.0);
        let found = joint(&places, &frame).unwrap();
        assert!((found.over_photo(&frame, 1000, 600).lines_per_px.0 * 17.3 - 1.0).abs() < 1e-4);
        assert!((0..places.len()).all(|i| found.used[i] != i.is_multiple_of(9)));
    }

    #[test]
    fn a_lens_that_distorts_is_told() {
        let frame = Frame::new(1000, 600, 0.0);
        // 1 % at the corner, 583 pixels from the middle.
        let found = joint(&places(0.05, -0.01 / (583.0 * 583.0)), &frame).unwrap();
        let over = found.over_photo(&frame, 1000, 600);
        let (rms, largest) = over.departure.unwrap();
        assert!((0.004..0.012).contains(&rms) && (0.01..0.03).contains(&largest), "{over:?}");
        let two_lines: Vec<Place> = places(0.0, 0.0).into_iter().filter(|p| p.n.abs() < 1).collect();
        assert!(joint(&two_lines, &frame).is_none(), "a single line has no pitch");
    }
}
