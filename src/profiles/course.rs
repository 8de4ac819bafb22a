//! Where a shaft really runs: its centreline found again in the full-resolution pixels.
//!
//! Across stations half a width apart, a blurred cylinder is slid over the light; how much of it each place explains,
//! in units of the noise and summed over the channels, whatever their polarity, is its score. The chain of places
//! with the best sum of scores, less a penalty for bends, is found by dynamic programming, its places refined by a
//! parabola and smoothed. Twice, so that the second round's stations stand square on the shaft. The radius that
//! explains most along the whole shaft is kept as a start for the fit.

use rayon::prelude::*;

use super::bins::{Bins, Mix, Window, gather};
use super::neighbours::Surroundings;
use super::scene::Scene;
use crate::maths::cross_section::{Curves, Shape};
use crate::maths::point::{Point, Vec2};
use crate::maths::polyline::Polyline;
use crate::maths::smooth::{penalty_for, smooth_twice};

/// Range of first widths that are taken seriously, pixels.
const WIDTH_RANGE_PX: [f64; 2] = [1.5, 2000.0];
/// Distance of stations, widths.
const SPACING_WIDTHS: f64 = 0.5;
/// Bins a first width; finer bins cost time, coarser ones leave more to the fit's capture range.
const BINS_A_WIDTH: f64 = 12.0;
/// Rows and columns that are read a width: a place is wanted to a twentieth of a width here, not better.
const PIXELS_A_WIDTH: f64 = 10.0;
/// Radii tried, in first radii: the first width may be wrong by a factor of 0.6 to 1.6.
const RADII: [f64; 7] = [0.6, 0.73, 0.88, 1.06, 1.28, 1.55, 1.85];
/// Radii tried at each station afterwards, in the shaft's: infected hair may be twice as broad in places.
const LOCAL_RADII: [f64; 5] = [0.5, 0.71, 1.0, 1.41, 2.0];
/// How far the first centreline may be off, first widths.
const REACH_WIDTHS: f64 = 0.5;
/// Blur assumed for the sliding cylinder, pixels; the score hardly depends on it.
const ASSUMED_BLUR_PX: f64 = 1.5;
/// Stations that choose the radius.
const RADIUS_STATIONS: usize = 24;
/// Stations that are looked at in one go; fewer are not worth another thread.
const LEAST_AT_ONCE: usize = 16;
/// Penalty for a sideways step of one width from station to station (score units). A hair's centreline drawn
/// roughly may turn by a fifth of that; at 40 that costs as much as 1.3 standard deviations of noise.
const BEND_PENALTY: f64 = 40.0;
/// Largest score that one station may bring, so that a bright speck cannot buy a detour.
const SCORE_LIMIT: f64 = 200.0;
/// Waves shorter than this many widths are held to be noise of the trace; crimped hair has waves of ten and more.
const SMOOTHING_WIDTHS: f64 = 3.0;
/// Points of the centreline a station.
const POINTS_A_STATION: usize = 4;

/// A shaft's course.
#[derive(Clone, Debug)]
pub(super) struct Course {
    /// The refined centreline.
    pub(super) line: Polyline,
    /// Outer radius that explains most along the shaft, pixels; to about 15 %.
    pub(super) radius_px: f64,
    /// What was seen along it.
    pub(super) looks: Vec<Look>,
    /// Distance of the looks, pixels of arc length; the first is at half of it.
    pub(super) spacing_px: f64,
}

/// What one station of the course saw.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Look {
    /// Height of the cylinder above the ground, linear light, a channel, averaged over neighbours.
    pub(super) height: [f64; 3],
    /// Light of the ground.
    pub(super) ground: [f64; 3],
    /// Radius that explains most hereabouts, pixels.
    pub(super) radius_px: f64,
}

/// Whether the arc length lies in one of the stretches.
pub(super) fn within(stretches: &[(f64, f64)], s: f64, margin: f64) -> bool {
    stretches.iter().any(|(from, to)| s >= from.min(*to) - margin && s <= from.max(*to) + margin)
}

/// Finds the course of a shaft from its first centreline, width and overlaps; `None` when nothing is there to follow.
pub(super) fn course(
    scene: &Scene,
    around: &Surroundings,
    line: &Polyline,
    width_px: f64,
    overlaps: &[(f64, f64)],
) -> Option<Course> {
    let width = if width_px.is_finite() { width_px } else { 3.0 }.clamp(WIDTH_RANGE_PX[0], WIDTH_RANGE_PX[1]);
    if line.length() < 1.0 || line.points().iter().any(|p| scene.distance_to_border(*p) < -4.0 * width - 1e4) {
        return None;
    }
    let spacing = (width * SPACING_WIDTHS).max(2.0).min(line.length());
    let rough = softened(line, spacing)?;
    let reach = REACH_WIDTHS * width + 1.0;
    let first = Round { scene, around, width, overlaps, scale: rough.length() / line.length() };
    let (seen, offsets, radius) = first.look(&rough, spacing, reach, None)?;
    let line = first.moved(&rough, &seen, &offsets, spacing)?;
    let second = Round { scale: line.length() / rough.length() * first.scale, width: 2.0 * radius, ..first };
    let spacing = (radius * 2.0 * SPACING_WIDTHS).max(2.0).min(line.length());
    let (seen, offsets, radius) = second.look(&line, spacing, 0.3 * radius + 1.0, Some(radius))?;
    let refined = second.moved(&line, &seen, &offsets, spacing)?;
    let looks = second.looks(&seen, &offsets, radius, spacing);
    Some(Course { line: refined, radius_px: radius, looks, spacing_px: spacing })
}

/// The line at even steps, each point the mean of the line around it, so that pixel steps of a trace go.
fn softened(line: &Polyline, spacing: f64) -> Option<Polyline> {
    let n = (line.length() / spacing).round().max(1.0) as usize;
    let step = line.length() / n as f64;
    let mean_at = |s: f64| {
        let reach = step.min(s).min(line.length() - s).max(0.0);
        let offsets = [-1.0, -0.5, 0.0, 0.5, 1.0];
        let sum = offsets.iter().fold(Vec2::default(), |sum, o| sum + (line.at(s + o * reach) - Point::default()));
        Point::default() + sum * (1.0 / offsets.len() as f64)
    };
    Polyline::new((0..=n).map(|i| mean_at(i as f64 * step)))
}

/// Sums over all bins of a station: pixels, distances and their squares; light and light times distance a channel.
#[derive(Clone, Copy, Debug, Default)]
struct Totals {
    n: f64,
    t: f64,
    tt: f64,
    y: [f64; 3],
    ty: [f64; 3],
}

/// What the sliding needs of one station.
struct Seen {
    at: Point,
    normal: Vec2,
    step: f64,
    /// Counts, middle distance, sums of light a bin.
    bins: Vec<(f64, f64, [f64; 3])>,
    totals: Totals,
    variance: [f64; 3],
    free: bool,
}

struct Round<'a> {
    scene: &'a Scene<'a>,
    around: &'a Surroundings<'a>,
    width: f64,
    overlaps: &'a [(f64, f64)],
    /// Arc length of the line in use over that of the line on which the overlaps are given.
    scale: f64,
}

/// How well one cylinder at one place explains a station.
#[derive(Clone, Copy, Debug, Default)]
struct Explained {
    score: f64,
    height: [f64; 3],
    ground: [f64; 3],
}

impl Round<'_> {
    /// The stations of `line`, the best chain of offsets from it, and the radius.
    fn look(
        &self,
        line: &Polyline,
        spacing: f64,
        reach: f64,
        radius: Option<f64>,
    ) -> Option<(Vec<Seen>, Vec<f64>, f64)> {
        let n = (line.length() / spacing).floor().max(1.0) as usize;
        let bin = (self.width / BINS_A_WIDTH).max(0.5);
        let widest = radius.map_or(self.width / 2.0 * RADII[RADII.len() - 1], |r| r * 1.5);
        let across = reach + widest + 0.5 * self.width + 4.0;
        let stride = ((self.width / PIXELS_A_WIDTH) as usize).clamp(1, 64);
        let station = |i: usize| self.station(line, (i as f64 + 0.5) * spacing, spacing, across, bin, stride);
        let seen: Vec<Seen> = (0..n).into_par_iter().with_min_len(LEAST_AT_ONCE).map(station).collect();
        let n_offsets = ((reach / bin).ceil() as usize).max(1);
        let radius = match radius {
            Some(radius) => radius,
            None => self.best_radius(&seen, n_offsets)?,
        };
        let kernel = kernel(radius, bin);
        let scores: Vec<Vec<f64>> = seen.iter().map(|s| scores(s, &kernel, n_offsets)).collect();
        let offsets = chain(&scores, n_offsets, bin, self.width, spacing);
        Some((seen, offsets, radius))
    }

    fn station(&self, line: &Polyline, s: f64, spacing: f64, across: f64, bin: f64, stride: usize) -> Seen {
        let at = line.at(s);
        let along = line.tangent(s, spacing.max(2.0));
        let half_along_px = (spacing / 2.0).max(stride as f64 * 0.75);
        let window = Window { at, along, half_along_px, half_across_px: across, bend_per_px: 0.0 };
        let Bins { bins, half_px, step_px } =
            gather(&self.scene.photo, self.around, &window, bin, Mix::default(), stride);
        let bins: Vec<(f64, f64, [f64; 3])> = bins
            .iter()
            .enumerate()
            .map(|(i, b)| (f64::from(b.count()), (i as f64 + 0.5) * step_px - half_px, b.light().map(f64::from)))
            .collect();
        let mut totals = Totals::default();
        for (count, at, light) in &bins {
            totals.n += count;
            totals.t += count * at;
            totals.tt += count * at * at;
            for (c, light) in light.iter().enumerate() {
                totals.y[c] += light;
                totals.ty[c] += at * light;
            }
        }
        let variance = [0, 1, 2].map(|c| self.scene.noise[c].variance(totals.y[c] / totals.n.max(1.0)));
        let free = !within(self.overlaps, s / self.scale, 0.25 * self.width);
        Seen { at, normal: along.normal(), step: step_px, bins, totals, variance, free }
    }

    fn best_radius(&self, seen: &[Seen], n_offsets: usize) -> Option<f64> {
        let free: Vec<&Seen> = seen.iter().filter(|s| s.free).collect();
        let used = if free.is_empty() { seen.iter().collect() } else { free };
        let every = used.len().div_ceil(RADIUS_STATIONS).max(1);
        let chosen: Vec<&Seen> = used.into_iter().step_by(every).collect();
        let step = chosen.first()?.step;
        let total = |factor: f64| {
            let kernel = kernel(factor * self.width / 2.0, step);
            let best = |s: &Seen| scores(s, &kernel, n_offsets).into_iter().fold(0.0, f64::max).min(1e6);
            chosen.iter().map(|s| best(s)).sum::<f64>()
        };
        let totals: Vec<f64> = RADII.iter().map(|f| total(*f)).collect();
        let best = (0..totals.len()).max_by(|a, b| totals[*a].total_cmp(&totals[*b]))?;
        (totals[best] > 0.0).then_some(RADII[best] * self.width / 2.0)
    }

    /// The line moved to the offsets found, smoothed.
    fn moved(&self, line: &Polyline, seen: &[Seen], offsets: &[f64], spacing: f64) -> Option<Polyline> {
        // The line's own ends are kept as places on straight continuations.
        let n = (seen.len() - 1) * POINTS_A_STATION + 1;
        let pad = POINTS_A_STATION / 2;
        let total = n + 2 * pad;
        let mut weights = vec![0.0; total];
        let mut columns = [vec![0.0; total], vec![0.0; total]];
        for (i, (station, offset)) in seen.iter().zip(offsets).enumerate() {
            let at = station.at + station.normal * *offset;
            let k = pad + i * POINTS_A_STATION;
            weights[k] = if station.free { 1.0 } else { 0.02 };
            columns[0][k] = at.x;
            columns[1][k] = at.y;
        }
        if seen.len() < 3 {
            let along = Vec2::new(seen[0].normal.y, -seen[0].normal.x);
            let (a, b) = (
                seen[0].at + seen[0].normal * offsets[0],
                seen[seen.len() - 1].at + seen[seen.len() - 1].normal * offsets[offsets.len() - 1],
            );
            let before = line.length() / 2.0 - a.distance(b) / 2.0;
            return Polyline::new([a - along * before, b + along * before]);
        }
        let wavelength = SMOOTHING_WIDTHS * self.width / spacing * POINTS_A_STATION as f64;
        let penalty = penalty_for(wavelength) / POINTS_A_STATION as f64;
        let mut smoothed = [Vec::new(), Vec::new()];
        for _ in 0..3 {
            smoothed = [smooth_twice(&columns[0], &weights, penalty)?, smooth_twice(&columns[1], &weights, penalty)?];
            let off = |k: usize| (columns[0][k] - smoothed[0][k]).hypot(columns[1][k] - smoothed[1][k]);
            let places: Vec<usize> = (0..seen.len()).map(|i| pad + i * POINTS_A_STATION).collect();
            let mut sorted: Vec<f64> = places.iter().map(|k| off(*k)).collect();
            sorted.sort_by(f64::total_cmp);
            let scale = (3.0 * sorted[sorted.len() / 2]).max(0.05);
            for (k, station) in places.iter().zip(seen) {
                let free = if station.free { 1.0 } else { 0.02 };
                weights[*k] = free / (1.0 + (off(*k) / scale).powi(4));
            }
        }
        Polyline::new(smoothed[0].iter().zip(&smoothed[1]).map(|(x, y)| Point::new(*x, *y)))
    }

    fn looks(&self, seen: &[Seen], offsets: &[f64], radius: f64, spacing: f64) -> Vec<Look> {
        let step = seen.first().map_or(1.0, |s| s.step);
        let plain = kernel(radius, step);
        let kernels = LOCAL_RADII.map(|f| kernel(f * radius, step));
        let explained: Vec<Explained> =
            seen.iter().zip(offsets).map(|(s, o)| explain(s, &plain, (o / step).round() as isize)).collect();
        let radii: Vec<[f64; 5]> = seen
            .iter()
            .zip(offsets)
            .map(|(s, o)| kernels.each_ref().map(|k| explain(s, k, (o / step).round() as isize).score))
            .collect();
        // Means over two widths to both sides: the weights of the channels must not follow the noise.
        let around = (4.0 * radius / spacing).ceil().max(1.0) as usize;
        let mut looks = Vec::with_capacity(seen.len());
        for i in 0..seen.len() {
            let range = i.saturating_sub(around)..(i + around + 1).min(seen.len());
            let near: Vec<usize> = range.clone().filter(|k| seen[*k].free || *k == i).collect();
            let mean = |value: &dyn Fn(usize) -> f64| near.iter().map(|k| value(*k)).sum::<f64>() / near.len() as f64;
            let tight = i.saturating_sub(1)..(i + 2).min(seen.len());
            let local = |f: usize| tight.clone().map(|k| radii[k][f]).sum::<f64>();
            let best = (0..LOCAL_RADII.len()).max_by(|a, b| local(*a).total_cmp(&local(*b))).unwrap_or(2);
            looks.push(Look {
                height: [0, 1, 2].map(|c| mean(&|k| explained[k].height[c])),
                ground: [0, 1, 2].map(|c| mean(&|k| explained[k].ground[c])),
                radius_px: LOCAL_RADII[best] * radius,
            });
        }
        looks
    }
}

/// A blurred clear cylinder at the middles of bins, from its axis outwards.
fn kernel(radius: f64, step: f64) -> Vec<f64> {
    let blur_px = ASSUMED_BLUR_PX.hypot(step / 12.0_f64.sqrt());
    let n = ((radius + 3.0 * blur_px) / step).ceil() as usize + 1;
    let v: Vec<f64> = (0..n).map(|i| i as f64 * step / radius).collect();
    Curves::new(Shape { blur_px, flatness: 0.2, core: None }).light(radius, &v)
}

/// Scores at offsets of −n to n bins.
fn scores(seen: &Seen, kernel: &[f64], n_offsets: usize) -> Vec<f64> {
    let n = n_offsets as isize;
    (-n..=n).map(|offset| explain(seen, kernel, offset).score).collect()
}

/// Least squares of light on the cylinder and a sloping ground: what the cylinder adds, over the noise.
fn explain(seen: &Seen, kernel: &[f64], offset: isize) -> Explained {
    let Totals { n, t, tt, y, ty } = seen.totals;
    let (mut k, mut kk, mut kt, mut ky) = (0.0, 0.0, 0.0, [0.0; 3]);
    let axis = (seen.bins.len() / 2) as isize + offset;
    let reach = kernel.len() as isize - 1;
    let (from, to) = ((axis - reach).max(0), (axis + reach + 1).min(seen.bins.len() as isize));
    for i in from..to.max(from) {
        let (count, at, light) = &seen.bins[i as usize];
        let value = kernel[(i - axis).unsigned_abs()];
        let weighted = count * value;
        k += weighted;
        kk += weighted * value;
        kt += weighted * at;
        for c in 0..3 {
            ky[c] += value * light[c];
        }
    }
    let determinant = n * tt - t * t;
    if determinant <= 1e-9 || n < 6.0 {
        return Explained::default();
    }
    // Regression of the kernel on the ground.
    let (a, b) = ((tt * k - t * kt) / determinant, (n * kt - t * k) / determinant);
    let own = kk - a * k - b * kt;
    if own <= 1e-3 * kk || own <= 1e-9 {
        return Explained::default();
    }
    let mut explained = Explained::default();
    for c in 0..3 {
        let shared = ky[c] - a * y[c] - b * ty[c];
        explained.height[c] = shared / own;
        explained.score += shared * shared / (own * seen.variance[c]);
        let (left, right) = (y[c] - explained.height[c] * k, ty[c] - explained.height[c] * kt);
        explained.ground[c] = (tt * left - t * right) / determinant;
    }
    explained
}

/// The chain of offsets (pixels) with the best sum of scores less bends, by dynamic programming; each refined by the
/// parabola through its neighbours.
fn chain(scores: &[Vec<f64>], n_offsets: usize, bin: f64, width: f64, spacing: f64) -> Vec<f64> {
    let m = 2 * n_offsets + 1;
    // A step of one width over one width of arc costs the penalty; shorter stations turn less.
    let penalty = BEND_PENALTY * (bin / width).powi(2) * (width / spacing.max(1e-9)) * SPACING_WIDTHS;
    let limited = |row: &[f64], j: usize| {
        let most = row.iter().copied().fold(0.0, f64::max);
        if most > SCORE_LIMIT { row[j] * SCORE_LIMIT / most } else { row[j] }
    };
    let mut best = vec![vec![0.0; m]; scores.len()];
    let mut from = vec![vec![0_usize; m]; scores.len()];
    for i in 0..scores.len() {
        for j in 0..m {
            let own = limited(&scores[i], j);
            if i == 0 {
                best[i][j] = own;
                continue;
            }
            let (mut top, mut back) = (f64::NEG_INFINITY, j);
            for (l, before) in best[i - 1].iter().enumerate() {
                let value = before - penalty * (l as f64 - j as f64).powi(2);
                if value > top {
                    (top, back) = (value, l);
                }
            }
            best[i][j] = own + top;
            from[i][j] = back;
        }
    }
    let last = scores.len() - 1;
    let mut j = (0..m).max_by(|a, b| best[last][*a].total_cmp(&best[last][*b])).unwrap_or(n_offsets);
    let mut places = vec![0; scores.len()];
    for i in (0..=last).rev() {
        places[i] = j;
        j = from[i][j];
    }
    places.iter().zip(scores).map(|(&j, row)| (j as f64 - n_offsets as f64 + peak(row, j)) * bin).collect()
}

/// Place of the parabola's peak relative to `j`, −0.5 to 0.5.
fn peak(row: &[f64], j: usize) -> f64 {
    if j == 0 || j + 1 >= row.len() {
        return 0.0;
    }
    let (a, b, c) = (row[j - 1], row[j], row[j + 1]);
    let curve = a - 2.0 * b + c;
    if curve < 0.0 { (0.5 * (a - c) / curve).clamp(-0.5, 0.5) } else { 0.0 }
}
