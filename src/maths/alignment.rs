//! The turn, factor and shift between two pictures of the same thing that show it in different ways.
//!
//! What is compared are maps of where something begins or ends (values 0 to 1), not brightness: what is bright in one
//! light may be dark in another, but its edges lie in the same places. Turns and factors are tried on coarse maps,
//! each with the shift that phase correlation gives; the best few tries go on to finer maps, where the move is drawn
//! in by Gauss and Newton's method to the least squares of one map against the other, whose height may differ (the
//! idea of Lucas and Kanade, "An iterative image registration technique", 1981; from memory).
//!
//! Weakness: a move is only found within [`MOST_TURN`] and [`MOST_FACTOR`]; a mirrored picture is not.

use nalgebra::{Matrix4, Vector4};
use rayon::prelude::*;

use super::phase_correlation::{Spectrum, Waves};
use super::point::{Point, Vec2};
use super::raster::Raster;
use super::similarity::Similarity;

/// Most turn that is sought, radians (11°): a phone held on again by hand.
pub const MOST_TURN: f64 = 0.192;
/// Most change of size that is sought, as a share.
pub const MOST_FACTOR: f64 = 0.12;
/// Longest side of the maps that turns and factors are tried on, pixels: steps of a degree then move their borders by
/// two pixels.
const COARSE_SIDE_PX: usize = 256;
/// Steps of the turn to each side, and of the factor.
const TURN_STEPS: i32 = 11;
const FACTOR_STEPS: i32 = 6;
/// Waves shorter than about this say little between steps of the turn, pixels of the coarse maps.
const FINEST_PX: f64 = 2.0;
/// Tries that go on: the true one need not be the highest on coarse maps.
const KEPT_TRIES: usize = 6;
/// Rounds of drawing in on each map.
const ROUNDS: usize = 12;
/// A step that moves no corner by more than this ends the rounds, pixels of the map.
const SETTLED_PX: f64 = 0.005;
/// Sigmas of the blur under which maps are drawn in one after the other, pixels: wide for capture, narrow for place.
const BLURS_PX: [f64; 2] = [2.5, 1.0];
/// Least share of the first map that must lie in the second.
const LEAST_OVERLAP: f64 = 0.3;

/// How two maps lie to each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aligned {
    /// From places of the first to places of the second, pixels.
    pub by: Similarity,
    /// Correlation of the maps where both show something, −1 to 1.
    pub agreement: f64,
    /// Height of the coarse peak over the rest, in standard deviations of the rest.
    pub peak_quality: f64,
}

/// The move that brings the first map onto the second; both of one size. `None` when they are too small, show nothing
/// or nothing settles.
pub fn aligned(first: &Raster<f32>, second: &Raster<f32>) -> Option<Aligned> {
    let (width, height) = (first.width(), first.height());
    if (width, height) != (second.width(), second.height()) || width.min(height) < 16 {
        return None;
    }
    let coarser = width.max(height).div_ceil(COARSE_SIDE_PX).max(1);
    let (a, b) = (first.block_means(coarser), second.block_means(coarser));
    let tries = tries(&a, &b)?;
    let finer: Vec<[Raster<f32>; 2]> = BLURS_PX.iter().map(|px| [blurred(first, *px), blurred(second, *px)]).collect();
    let coarse = [&a, &b].map(|map| blurred(map, 1.0));
    // The tries compete once drawn in on the coarse maps, where that costs little.
    let drawn: Vec<(f64, Similarity, f64)> = tries
        .into_par_iter()
        .filter_map(|(by, quality)| {
            let by = drawn_in(&coarse[0], &coarse[1], by)?;
            Some((agreement(&coarse[0], &coarse[1], &by)?, by, quality))
        })
        .collect();
    let (_, by, peak_quality) = drawn.into_iter().max_by(|x, y| x.0.total_cmp(&y.0))?;
    let mut by = by.in_pixels(coarser as f64);
    for [a, b] in &finer {
        by = drawn_in(a, b, by)?;
    }
    let [a, b] = finer.last()?;
    let kept = by.turn().abs() <= 1.2 * MOST_TURN && (by.factor() - 1.0).abs() <= 1.5 * MOST_FACTOR;
    let agreement = agreement(a, b, &by)?;
    kept.then_some(Aligned { by, agreement, peak_quality })
}

/// Moves worth drawing in, in blocks of the coarse maps, each with the quality of its peak, the highest peak first.
fn tries(a: &Raster<f32>, b: &Raster<f32>) -> Option<Vec<(Similarity, f64)>> {
    let waves = Waves::new(a.width(), a.height(), FINEST_PX);
    let of_first = waves.spectrum(&windowed(a))?;
    let middle = middle_of(a);
    let steps: Vec<(i32, i32)> =
        (-TURN_STEPS..=TURN_STEPS).flat_map(|t| (-FACTOR_STEPS..=FACTOR_STEPS).map(move |f| (t, f))).collect();
    let mut found: Vec<(f64, Similarity, f64)> = steps
        .into_par_iter()
        .filter_map(|(t, f)| {
            let turn = MOST_TURN * f64::from(t) / f64::from(TURN_STEPS);
            let factor = 1.0 + MOST_FACTOR * f64::from(f) / f64::from(FACTOR_STEPS);
            let about = Similarity::about(middle, turn, factor, Vec2::new(0.0, 0.0));
            let seen: Spectrum = waves.spectrum(&windowed(&taken_back(b, &about)))?;
            let peak = waves.peak(&of_first, &seen)?;
            // What lies at x of the first lies at x + shift of the second taken back.
            let by = Similarity { shift: peak.shift, ..Similarity::NONE }.then(&about);
            Some((peak.height, by, peak.quality))
        })
        .collect();
    found.sort_by(|x, y| y.0.total_cmp(&x.0));
    found.truncate(KEPT_TRIES);
    (!found.is_empty()).then(|| found.into_iter().map(|(_, by, quality)| (by, quality)).collect())
}

/// The second map as it would lie before the move.
fn taken_back(map: &Raster<f32>, by: &Similarity) -> Raster<f32> {
    Raster::by_rows(map.width(), map.height(), 0.0, |y, row| {
        for (x, value) in row.iter_mut().enumerate() {
            let at = by.of(Point::new(x as f64, y as f64));
            if within(map, at) {
                *value = map.bilinear(at.x, at.y);
            }
        }
    })
}

/// Less its mean, falling to nothing towards the border (Hann's window), so that borders are no edges.
fn windowed(map: &Raster<f32>) -> Raster<f32> {
    let n = map.data().len().max(1) as f64;
    let mean = map.data().iter().map(|&v| f64::from(v)).sum::<f64>() / n;
    let hann = |i: usize, n: usize| (std::f64::consts::PI * (i as f64 + 0.5) / n as f64).sin().powi(2);
    Raster::from_fn(map.width(), map.height(), |x, y| {
        ((f64::from(map.at(x, y)) - mean) * hann(x, map.width()) * hann(y, map.height())) as f32
    })
}

fn middle_of(map: &Raster<f32>) -> Point {
    Point::new(0.5 * (map.width() as f64 - 1.0), 0.5 * (map.height() as f64 - 1.0))
}

fn within(map: &Raster<f32>, at: Point) -> bool {
    at.x >= 0.0 && at.y >= 0.0 && at.x <= (map.width() - 1) as f64 && at.y <= (map.height() - 1) as f64
}

/// The move drawn in to the least squares of `first` against a multiple of `second` after it.
fn drawn_in(first: &Raster<f32>, second: &Raster<f32>, start: Similarity) -> Option<Similarity> {
    let middle = middle_of(first);
    let unit = middle.x.hypot(middle.y).max(1.0);
    let mut by = start;
    for _ in 0..ROUNDS {
        let sums = sums(first, second, &by, middle, unit)?;
        let gain = sums.gain();
        if gain.abs() < 1e-6 {
            return None;
        }
        // d(gain · second)/dp = gain · J, so that the step is the one of J with the rest divided by the gain.
        let right = (sums.rest_first - sums.rest_second * gain) / gain;
        let damped = sums.matrix + Matrix4::from_diagonal(&sums.matrix.diagonal()) * 1e-3;
        let step: Vector4<f64> = damped.cholesky()?.solve(&right);
        if !step.iter().all(|v| v.is_finite()) {
            return None;
        }
        // A step of more than a few pixels leaves what the slopes can tell.
        let most = step.iter().fold(0.0f64, |most, v| most.max(v.abs()));
        let held = step * (3.0 / most.max(3.0));
        let (da, db) = (held[0] / unit, held[1] / unit);
        by.a += da;
        by.b += db;
        by.shift.x += held[2] - (da * middle.x - db * middle.y);
        by.shift.y += held[3] - (db * middle.x + da * middle.y);
        if most < SETTLED_PX {
            break;
        }
    }
    Some(by)
}

/// What one round needs; means are taken away.
struct Sums {
    matrix: Matrix4<f64>,
    rest_first: Vector4<f64>,
    rest_second: Vector4<f64>,
    first_second: f64,
    second_second: f64,
    first_first: f64,
}

impl Sums {
    fn gain(&self) -> f64 {
        self.first_second / self.second_second.max(1e-12)
    }
}

/// Sums that can be added up over rows: of 1, first, second, their products, the slopes and theirs.
#[derive(Clone)]
struct Row {
    n: f64,
    f: f64,
    s: f64,
    ff: f64,
    fs: f64,
    ss: f64,
    j: Vector4<f64>,
    fj: Vector4<f64>,
    sj: Vector4<f64>,
    jj: Matrix4<f64>,
}

impl Row {
    const NONE: Row = Row {
        n: 0.0,
        f: 0.0,
        s: 0.0,
        ff: 0.0,
        fs: 0.0,
        ss: 0.0,
        j: Vector4::new(0.0, 0.0, 0.0, 0.0),
        fj: Vector4::new(0.0, 0.0, 0.0, 0.0),
        sj: Vector4::new(0.0, 0.0, 0.0, 0.0),
        jj: Matrix4::new(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
    };

    fn add(&mut self, other: &Row) {
        self.n += other.n;
        self.f += other.f;
        self.s += other.s;
        self.ff += other.ff;
        self.fs += other.fs;
        self.ss += other.ss;
        self.j += other.j;
        self.fj += other.fj;
        self.sj += other.sj;
        self.jj += other.jj;
    }
}

/// `None` when too little overlaps or the second is even.
fn sums(first: &Raster<f32>, second: &Raster<f32>, by: &Similarity, middle: Point, unit: f64) -> Option<Sums> {
    let (width, height) = (first.width(), first.height());
    // Rows are summed each by itself and added in order: the same sum on any number of threads.
    let rows: Vec<Row> = (0..height)
        .into_par_iter()
        .map(|y| {
            let mut row = Row::NONE;
            for x in 0..width {
                let place = Point::new(x as f64, y as f64);
                let at = by.of(place);
                if !(at.x >= 1.0 && at.y >= 1.0 && at.x <= (width - 2) as f64 && at.y <= (height - 2) as f64) {
                    continue;
                }
                let (f, s) = (f64::from(first.at(x, y)), f64::from(second.bilinear(at.x, at.y)));
                let slope = |dx: f64, dy: f64| {
                    let [ahead, behind] = [1.0, -1.0].map(|k| second.bilinear(at.x + k * dx, at.y + k * dy));
                    0.5 * f64::from(ahead - behind)
                };
                let (gx, gy) = (slope(1.0, 0.0), slope(0.0, 1.0));
                let (u, v) = ((place.x - middle.x) / unit, (place.y - middle.y) / unit);
                let j = Vector4::new(gx * u + gy * v, gy * u - gx * v, gx, gy);
                row.n += 1.0;
                row.f += f;
                row.s += s;
                row.ff += f * f;
                row.fs += f * s;
                row.ss += s * s;
                row.j += j;
                row.fj += j * f;
                row.sj += j * s;
                row.jj += j * j.transpose();
            }
            row
        })
        .collect();
    let mut all = Row::NONE;
    rows.iter().for_each(|row| all.add(row));
    if all.n < LEAST_OVERLAP * (width * height) as f64 {
        return None;
    }
    let (f, s, j) = (all.f / all.n, all.s / all.n, all.j / all.n);
    let second_second = all.ss - all.n * s * s;
    (second_second > 0.0).then(|| Sums {
        matrix: all.jj - j * j.transpose() * all.n,
        rest_first: all.fj - j * (all.n * f),
        rest_second: all.sj - j * (all.n * s),
        first_second: all.fs - all.n * f * s,
        second_second,
        first_first: all.ff - all.n * f * f,
    })
}

/// Correlation of the first with the second after the move.
fn agreement(first: &Raster<f32>, second: &Raster<f32>, by: &Similarity) -> Option<f64> {
    let sums = sums(first, second, by, middle_of(first), 1.0)?;
    let spread = (sums.first_first * sums.second_second).sqrt();
    (spread > 0.0).then(|| sums.first_second / spread)
}

/// Blurred by a Gaussian, borders repeated.
fn blurred(map: &Raster<f32>, sigma_px: f64) -> Raster<f32> {
    let reach = (3.0 * sigma_px).ceil() as isize;
    let mut weights: Vec<f32> = (-reach..=reach).map(|i| (-0.5 * (i as f64 / sigma_px).powi(2)).exp() as f32).collect();
    let total: f32 = weights.iter().sum();
    weights.iter_mut().for_each(|w| *w /= total);
    let (width, height) = (map.width(), map.height());
    let held = |i: isize, n: usize| i.clamp(0, n as isize - 1) as usize;
    let across = Raster::by_rows(width, height, 0.0, |y, row| {
        let from = map.row(y);
        for (x, value) in row.iter_mut().enumerate() {
            *value = weights.iter().zip(-reach..).map(|(w, i)| w * from[held(x as isize + i, width)]).sum();
        }
    });
    Raster::by_rows(width, height, 0.0, |y, row| {
        for (weight, i) in weights.iter().zip(-reach..) {
            for (value, from) in row.iter_mut().zip(across.row(held(y as isize + i, height))) {
                *value += weight * from;
            }
        }
    })
}

#[cfg(test)]
mod tests {
    use super::aligned;
    use crate::maths::point::{Point, Vec2};
    use crate::maths::raster::Raster;
    use crate::maths::similarity::Similarity;

    /// Thin bent lines, as a map: `inverse` takes places of the map to where the lines are defined.
    fn lines(width: usize, height: usize, inverse: &Similarity, strength: f32) -> Raster<f32> {
        Raster::from_fn(width, height, |x, y| {
            let p = inverse.of(Point::new(x as f64, y as f64));
            let off = |a: f64, c: f64, bend: f64| {
                let (u, v) = (p.x * a.cos() + p.y * a.sin(), p.y * a.cos() - p.x * a.sin());
                v - c - bend * (u - 200.0).powi(2)
            };
            let near = |d: f64| (-0.5 * (d / 1.5).powi(2)).exp();
            let all = near(off(0.2, 90.0, 2e-4)) + near(off(1.3, -120.0, -3e-4)) + near(off(-0.5, 260.0, 1e-4));
            (all.min(1.0) as f32) * strength
        })
    }

    #[test]
    fn a_small_move_is_found_to_a_fraction_of_a_pixel_whatever_the_strength() {
        let (width, height) = (420, 320);
        let middle = Point::new(209.5, 159.5);
        for (turn, factor, dx, dy) in [(0.0, 1.0, 13.4, -8.3), (0.06, 0.97, -20.0, 11.0), (-0.11, 1.04, 5.0, 31.0)] {
            let truth = Similarity::about(middle, turn, factor, Vec2::new(dx, dy));
            let first = lines(width, height, &Similarity::NONE, 1.0);
            let second = lines(width, height, &truth.inverse().unwrap(), 0.4);
            let found = aligned(&first, &second).expect("settles");
            for corner in [Point::new(0.0, 0.0), Point::new(419.0, 0.0), Point::new(0.0, 319.0), middle] {
                let off = found.by.of(corner).distance(truth.of(corner));
                assert!(off < 0.1, "{off:.3} px at {corner:?} for {turn} {factor} {dx} {dy}: {found:?}");
            }
            assert!(found.agreement > 0.98, "{found:?}");
        }
    }

    #[test]
    fn other_sizes_and_nothing_are_refused() {
        let map = lines(100, 80, &Similarity::NONE, 1.0);
        assert!(aligned(&map, &Raster::filled(80, 100, 0.0)).is_none());
        assert!(aligned(&map, &Raster::filled(100, 80, 0.0)).is_none());
        assert!(aligned(&Raster::filled(5, 5, 1.0), &Raster::filled(5, 5, 1.0)).is_none());
    }
}
