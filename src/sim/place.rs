//! Where a shaft lies: the curve of its middle line, and whether it fits among those already there.

use std::f64::consts::{PI, TAU};

use crate::maths::point::{Point, Vec2};

use super::course::{Course, scouted_px};
use super::dice::Dice;
use super::ranges::Crossings;
use super::scene::{Build, Scene, Shaft};

/// How much of a shaft is in view.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum View {
    /// Both ends.
    Both,
    /// The root end.
    Base,
    /// The tip end.
    Tip,
    /// Neither.
    Through,
}

/// A placed middle line with the arc lengths at which the shaft begins and ends.
pub(super) struct Placed {
    pub(super) course: Course,
    pub(super) from_px: f64,
    pub(super) to_px: f64,
}

/// Run-out of a course beyond both ends, in half widths: ragged ends and their blur lie on it.
const RUN_OUT_HALF_WIDTHS: f64 = 4.0;
/// How far the blur of a shaft beyond the border may reach into the photo, pixels.
const MOST_BLUR_REACH_PX: f64 = 30.0;
/// Tightest bend, radius over greatest half width: beyond it feet are no longer unique near the edge.
const TIGHTEST_BEND: f64 = 4.0;
/// Least angle at which shafts may cross, radians: flatter ones are no crossings but bundles.
const FLATTEST_CROSSING: f64 = 0.3;

/// Draws a middle line; `None` when this draw does not fit the photo (draw again).
pub(super) fn place(
    dice: &mut Dice,
    scene: &Scene,
    build: Build,
    view: View,
    half_px: f64,
    short: bool,
) -> Option<Placed> {
    let bend = Bend::drawn(dice, build, scene.um_per_px, half_px, scene.half_diagonal_px());
    let edge_px = (2.0 * half_px + 6.0).min(0.12 * scene.height_px as f64);
    let anchor = anchor(dice, scene, edge_px)?;
    let heading = dice.uniform(-PI, PI);
    let far = 3.0 * scene.half_diagonal_px();
    let run_out = RUN_OUT_HALF_WIDTHS * half_px + 4.0;
    let side = scene.width_px.min(scene.height_px) as f64;
    let (before, after) = match view {
        View::Both => {
            let least = (if short { 6.0 } else { 12.0 }) * 2.0 * half_px;
            let most = if short { 0.35 * side } else { 0.95 * side };
            let length = dice.uniform(least.max(0.18 * side).min(most), most.max(least * 1.2));
            (0.5 * length, 0.5 * length)
        }
        View::Base => (0.0, far),
        View::Tip => (far, 0.0),
        View::Through => (far, far),
    };
    // Of a far side only what can touch the photo is kept; a coarse walk tells where that ends, and whether ends show.
    let margin_px = if view == View::Both { edge_px } else { -(half_px + MOST_BLUR_REACH_PX) };
    let within = |place: Point| scene.shows(place, margin_px);
    let scout = |sign: f64, length: f64| scouted_px(anchor, heading, sign, length, |s| bend.at(s), within);
    let (back, on) = (scout(-1.0, before), scout(1.0, after));
    if view == View::Both && (back < before || on < after) {
        return None;
    }
    let course = Course::grown(anchor, heading, back + run_out, on + run_out, |s| bend.at(s));
    let (from_px, to_px) = (run_out, course.length_px() - run_out);
    let shown_px = match view {
        View::Both => {
            let ends_shown = scene.shows(course.at(from_px), edge_px) && scene.shows(course.at(to_px), edge_px);
            ends_shown.then_some(to_px - from_px)?
        }
        _ => 0.0,
    };
    let runs = shown_runs(scene, &course, from_px, to_px);
    let longest = runs.iter().map(|r| r.1 - r.0).fold(0.0, f64::max);
    let others: f64 = runs.iter().map(|r| r.1 - r.0).sum::<f64>() - longest;
    let long_enough = longest >= (8.0 * half_px).max(0.15 * side).min(0.9 * side);
    let whole = view != View::Both || (longest - shown_px).abs() < 3.0;
    (long_enough && others < 1.0 && whole && !crosses_itself(&course, from_px, to_px, half_px)).then_some(Placed {
        course,
        from_px,
        to_px,
    })
}

/// Stretches of the course that the photo and the eyepiece show, arc lengths.
pub(super) fn shown_runs(scene: &Scene, course: &Course, from_px: f64, to_px: f64) -> Vec<(f64, f64)> {
    let mut runs: Vec<(f64, f64)> = Vec::new();
    let mut open: Option<f64> = None;
    let n = (to_px - from_px).floor().max(1.0) as usize;
    let mut last = from_px;
    for i in 0..=n {
        let s = from_px + (to_px - from_px) * i as f64 / n as f64;
        let shown = scene.shows(course.at(s), 0.0);
        match (shown, open) {
            (true, None) => open = Some(s),
            (false, Some(start)) => {
                runs.push((start, last));
                open = None;
            }
            _ => {}
        }
        last = s;
    }
    runs.extend(open.map(|start| (start, to_px)));
    runs
}

/// Whether a new shaft fits among those already placed.
pub(super) fn fits(
    scene: &Scene,
    placed: &Placed,
    half_px: f64,
    blur_px: f64,
    others: &[Shaft],
    rule: Crossings,
) -> bool {
    let mine = samples(scene, &placed.course, (placed.from_px, placed.to_px), half_px);
    let ends = [placed.from_px, placed.to_px].map(|s| placed.course.at(s));
    for other in others {
        let other_half = other.reach_px();
        let gap = 6.0 + 3.0 * (blur_px + other.blur_px[0].max(other.blur_px[1])) + 0.3 * (half_px + other_half);
        let theirs = samples(scene, &other.course, (other.from_px, other.to_px), other_half);
        let other_ends = [other.from_px, other.to_px].map(|s| other.course.at(s));
        let touching = half_px + other_half + gap;
        for (at, tangent) in &mine {
            for (there, direction) in &theirs {
                let off = *there - *at;
                if off.dot(off) > touching * touching {
                    continue;
                }
                // Apart, or crossing at a fair angle and not near an end.
                let sine = tangent.cross(*direction).abs();
                if rule == Crossings::None || sine < FLATTEST_CROSSING {
                    return false;
                }
                let near_end = |end: &Point| {
                    let d = *end - *at;
                    d.dot(d) < (1.6 * touching) * (1.6 * touching)
                };
                if ends.iter().any(near_end) || other_ends.iter().any(near_end) {
                    return false;
                }
            }
        }
    }
    true
}

/// Number of other shafts that a line comes near, out of those placed.
pub(super) fn n_met(scene: &Scene, placed: &Placed, half_px: f64, others: &[Shaft]) -> usize {
    let mine = samples(scene, &placed.course, (placed.from_px, placed.to_px), half_px);
    others
        .iter()
        .filter(|other| {
            let other_half = other.reach_px();
            let reach = half_px + other_half;
            samples(scene, &other.course, (other.from_px, other.to_px), other_half).iter().any(|(there, _)| {
                mine.iter().any(|(at, _)| {
                    let off = *there - *at;
                    off.dot(off) < reach * reach
                })
            })
        })
        .count()
}

/// Places on a line near the photo, about half a width apart, with their tangents.
fn samples(scene: &Scene, course: &Course, (from_px, to_px): (f64, f64), half_px: f64) -> Vec<(Point, Vec2)> {
    let step = half_px.max(4.0);
    let margin = 2.0 * half_px;
    let n = ((to_px - from_px) / step).ceil().max(1.0) as usize;
    (0..=n)
        .map(|i| from_px + (to_px - from_px) * i as f64 / n as f64)
        .map(|s| (course.at(s), course.tangent(s)))
        .filter(|(p, _)| {
            p.x > -margin
                && p.y > -margin
                && p.x < scene.width_px as f64 + margin
                && p.y < scene.height_px as f64 + margin
        })
        .collect()
}

fn anchor(dice: &mut Dice, scene: &Scene, edge_px: f64) -> Option<Point> {
    (0..40).find_map(|_| {
        let at = Point::new(
            dice.uniform(edge_px, scene.width_px as f64 - edge_px),
            dice.uniform(edge_px, scene.height_px as f64 - edge_px),
        );
        scene.shows(at, edge_px).then_some(at)
    })
}

fn crosses_itself(course: &Course, from_px: f64, to_px: f64, half_px: f64) -> bool {
    let step = half_px.max(6.0);
    let n = ((to_px - from_px) / step).ceil() as usize;
    let points: Vec<Point> = (0..=n).map(|i| course.at(from_px + step * i as f64)).collect();
    let apart = 3.0 * half_px + 12.0;
    let skip = (3.0 * apart / step).ceil() as usize;
    points.iter().enumerate().any(|(i, p)| {
        points.iter().skip(i + skip).any(|q| {
            let off = *q - *p;
            off.dot(off) < apart * apart
        })
    })
}

/// Curvature along a shaft: an even bend and up to three waves.
struct Bend {
    even: f64,
    waves: Vec<(f64, f64, f64)>,
    most: f64,
}

impl Bend {
    fn drawn(dice: &mut Dice, build: Build, um_per_px: f64, half_px: f64, half_diagonal_px: f64) -> Bend {
        // Turn over half a diagonal, radians; heading swing and length of the crimp (facts 1.6: down hair is crimped).
        let (turn, swing, crimp_um) = match build {
            Build::Down => (0.5, 0.22, (250.0, 900.0)),
            Build::Awn => (0.35, 0.08, (700.0, 2500.0)),
            Build::Guard | Build::Human => (0.25, 0.04, (1500.0, 5000.0)),
            Build::Cotton => (0.9, 0.3, (200.0, 900.0)),
            Build::Polyester => (0.6, 0.12, (600.0, 3000.0)),
            Build::Carpet => (0.5, 0.15, (800.0, 4000.0)),
        };
        let even = turn * dice.standard_normal() / half_diagonal_px;
        let n_waves = dice.whole(1, 3);
        let waves = (0..n_waves)
            .map(|_| {
                let length_px = (dice.log_uniform(crimp_um.0, crimp_um.1) / um_per_px).max(30.0 * half_px).max(120.0);
                let amplitude = swing * dice.standard_normal() * TAU / length_px;
                (amplitude, TAU / length_px, dice.uniform(0.0, TAU))
            })
            .collect();
        Bend { even, waves, most: 1.0 / (TIGHTEST_BEND * half_px + 4.0) }
    }

    fn at(&self, s_px: f64) -> f64 {
        let waves: f64 = self.waves.iter().map(|(a, k, phase)| a * libm::sin(k * s_px + phase)).sum();
        (self.even + waves).clamp(-self.most, self.most)
    }
}
