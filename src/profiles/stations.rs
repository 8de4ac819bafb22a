//! Where the stations of a shaft lie, and the pixels each of them sees.

use rayon::prelude::*;

use super::bins::{Bins, Mix, Window, gather};
use super::course::{Course, Look, within};
use super::neighbours::Surroundings;
use super::scene::Scene;
use crate::maths::cross_section::bound::{Unknowns, bound};
use crate::maths::cross_section::{Section, Shape};
use crate::maths::point::{Point, Vec2};
use crate::maths::polyline::Polyline;

/// Length of a station, widths: short enough for a sheath's lumps, long enough for stations to be few.
const STATION_WIDTHS: f64 = 0.25;
/// Least length of a station, pixels.
const LEAST_STATION_PX: f64 = 3.0;
/// Greatest length of a station, widths, however dim the shaft.
const MOST_STATION_WIDTHS: f64 = 2.0;
/// Relative standard deviation of a width that stations of a dim or thin shaft are lengthened for. Above about a
/// tenth a non-linear fit's errors are no longer symmetric, and the median is biased.
const WANTED_SPREAD: f64 = 0.06;
/// How far a station looks to each side, radii and pixels: the outline, the blur, and as much ground again.
const VIEW_RADII: f64 = 1.8;
const VIEW_PX: f64 = 8.0;
/// Width of a bin: a thirty-second of the width within these limits, pixels. A bin blurs by a twelfth of its square.
const BIN_RANGE_PX: [f64; 2] = [0.5, 0.75];
/// Blur assumed before it is known, pixels.
const ASSUMED_BLUR_PX: f64 = 1.5;
/// Share of clipped or masked pixels inside the outline from which on a station is not clear.
const SPOILT_SHARE: f64 = 0.02;
/// Stations that are gathered in one go; fewer are not worth another thread.
const LEAST_AT_ONCE: usize = 16;

/// Fewest unclipped clear stations that a shaft is measured on by themselves.
const LEAST_UNCLIPPED: usize = 5;

/// One station with what it sees.
#[derive(Clone, Debug)]
pub(super) struct Sight {
    /// Its place on the course's line.
    pub(super) at: Point,
    /// Unit normal of the course's line.
    pub(super) normal: Vec2,
    /// Radius to start from, pixels.
    pub(super) radius_px: f64,
    /// How the channels are mixed here.
    pub(super) mix: Mix,
    /// Variance of the mixed light of one pixel on the ground and what the shaft's light adds at its height.
    pub(super) variance: [f64; 2],
    /// The pixels.
    pub(super) bins: Bins,
    /// Whether it lies clear of other shafts, ends, border and clipped pixels.
    pub(super) clear: bool,
    /// Whether nothing but an end or clipping stands against it: its light is this shaft's own.
    pub(super) in_sight: bool,
    /// Whether nothing but clipped pixels keeps it from being clear.
    only_clipped: bool,
    /// Share of the outline's pixels that are clipped.
    pub(super) clipped: f64,
}

/// All stations of a shaft, evenly spaced.
#[derive(Clone, Debug)]
pub(super) struct Sights {
    /// The stations in order.
    pub(super) sights: Vec<Sight>,
    /// Their distance, pixels of arc length of the course's line.
    pub(super) spacing_px: f64,
}

impl Course {
    /// What was seen nearest to arc length `s` of the refined line; `offset` is the arc length at which the looks'
    /// line began.
    pub(super) fn look_at(&self, s: f64, offset: f64) -> Look {
        let place = ((s - offset) / self.spacing_px - 0.5).round().clamp(0.0, self.looks.len() as f64 - 1.0);
        self.looks.get(place as usize).copied().unwrap_or_default()
    }
}

/// The channels' mix for a look: signal over variance, scaled to unit noise. `None` where there is no signal.
pub(super) fn mix_of(scene: &Scene, look: &Look) -> Option<(Mix, [f64; 2])> {
    let variance = [0, 1, 2].map(|c| scene.noise[c].variance(look.ground[c] + 0.5 * look.height[c]));
    let raw = [0, 1, 2].map(|c| look.height[c] / variance[c]);
    let norm = raw.iter().zip(variance).map(|(w, v)| w * w * v).sum::<f64>().sqrt();
    if norm <= 0.0 || !norm.is_finite() {
        return None;
    }
    let weights = raw.map(|w| w / norm);
    let mixed = |light: &dyn Fn(usize) -> f64| (0..3).map(|c| weights[c] * light(c)).sum::<f64>();
    let offset = mixed(&|c| look.ground[c] + 0.5 * look.height[c]);
    let variance_at = |share: f64| {
        (0..3)
            .map(|c| weights[c].powi(2) * scene.noise[c].variance(look.ground[c] + share * look.height[c]))
            .sum::<f64>()
    };
    let ground = variance_at(0.0);
    let mix = Mix { weights: weights.map(|w| w as f32), offset: offset as f32 };
    Some((mix, [ground, variance_at(1.0) - ground]))
}

/// Mixed height of a look, in standard deviations of a pixel's noise.
pub(super) fn signal(mix: &Mix, look: &Look) -> f64 {
    (0..3).map(|c| f64::from(mix.weights[c]) * look.height[c]).sum()
}

/// Places stations along `line`, whose start lies `offset` before that of the course's looks, and gathers their pixels.
pub(super) fn sights(
    scene: &Scene,
    around: &Surroundings,
    course: &Course,
    line: &Polyline,
    offset: f64,
    free_ends: [bool; 2],
    overlaps: &[(f64, f64)],
) -> Sights {
    let width = 2.0 * course.radius_px;
    let length = line.length();
    let n = (length / station_length(scene, course)).round().clamp(1.0, 20_000.0) as usize;
    let spacing_px = length / n as f64;
    let sights = (0..n).into_par_iter().with_min_len(LEAST_AT_ONCE).map(|i| {
        let s_px = (i as f64 + 0.5) * spacing_px;
        let look = course.look_at(s_px, offset);
        let radius_px = if look.radius_px > 0.0 { look.radius_px } else { course.radius_px };
        let reach = (spacing_px / 2.0).max(0.5 * course.radius_px).max(1.0);
        let along = line.tangent(s_px, reach);
        let at = line.at(s_px);
        let turn = (line.tangent(s_px + reach, reach) - line.tangent(s_px - reach, reach)).dot(along.normal());
        // Curvature above a quarter of 1 / R is no hair's but a fault of the line.
        let bend_per_px = (turn / (2.0 * reach)).clamp(-0.25 / course.radius_px, 0.25 / course.radius_px);
        let half_across_px = VIEW_RADII * radius_px.max(course.radius_px) + VIEW_PX;
        let window = Window { at, along, half_along_px: spacing_px / 2.0, half_across_px, bend_per_px };
        let (mix, variance) = mix_of(scene, &look).unwrap_or((Mix::default(), [1.0, 0.0]));
        let bin = (width / 32.0).clamp(BIN_RANGE_PX[0], BIN_RANGE_PX[1]);
        let bins = gather(&scene.photo, around, &window, bin, mix, 1);
        let (clipped, foreign) = spoilt(&bins, radius_px);
        let from_ends = [s_px, length - s_px];
        let near_end = (0..2).any(|e| from_ends[e] < if free_ends[e] { width } else { 0.5 * spacing_px });
        let inside = scene.distance_to_border(at) > radius_px + 2.0;
        let overlapped = within(overlaps, s_px - offset, 0.25 * width);
        let in_sight = scene.distance_to_border(at) > 0.5 * radius_px && !overlapped && foreign <= SPOILT_SHARE;
        let but_for_clipping = in_sight && inside && !near_end;
        let clear = but_for_clipping && clipped <= SPOILT_SHARE;
        let only_clipped = but_for_clipping && !clear;
        Sight { at, normal: along.normal(), radius_px, mix, variance, bins, clear, in_sight, only_clipped, clipped }
    });
    let mut sights: Vec<Sight> = sights.collect();
    // A shaft that is clipped nearly all along is measured by its flanks, or not at all.
    if sights.iter().filter(|sight| sight.clear).count() < LEAST_UNCLIPPED {
        for sight in sights.iter_mut().filter(|sight| sight.only_clipped) {
            sight.clear = true;
        }
    }
    Sights { sights, spacing_px }
}

/// Shares of clipped and of foreign pixels inside the outline, 0 to 1.
fn spoilt(bins: &Bins, radius_px: f64) -> (f64, f64) {
    let (mut all, mut clipped, mut foreign) = (0.0, 0.0, 0.0);
    for (i, bin) in bins.bins.iter().enumerate() {
        if bins.middle_px(i).abs() <= radius_px {
            all += f64::from(bin.count() + bin.foreign());
            clipped += f64::from(bin.clipped());
            foreign += f64::from(bin.foreign());
        }
    }
    if all > 0.0 { (clipped / all, foreign / all) } else { (0.0, 1.0) }
}

/// How long a station must be for its width to be told well enough, pixels.
fn station_length(scene: &Scene, course: &Course) -> f64 {
    let width = 2.0 * course.radius_px;
    let shortest = (STATION_WIDTHS * width).max(LEAST_STATION_PX);
    let mut signals: Vec<f64> =
        course.looks.iter().filter_map(|look| mix_of(scene, look).map(|(mix, _)| signal(&mix, look))).collect();
    signals.sort_by(f64::total_cmp);
    // The dimmer part of the shaft counts.
    let Some(height) = signals.get(signals.len() / 4).copied().filter(|h| *h > 0.0) else { return shortest };
    let section = Section { centre_px: 0.0, radius_px: course.radius_px, height, ground: 0.0, slope: 0.0 };
    let shape = Shape { blur_px: ASSUMED_BLUR_PX, flatness: 0.0, core: None };
    let half = VIEW_RADII * course.radius_px + VIEW_PX;
    let known = Unknowns { blur: false, flatness: false, core: false };
    let spread = bound(shape, &section, half, 1.0, 1, known).map_or(1.0, |b| b.station_radius_px / course.radius_px);
    (spread / WANTED_SPREAD).powi(2).clamp(shortest, (MOST_STATION_WIDTHS * width).max(shortest))
}
