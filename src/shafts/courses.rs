//! Supposed courses of whole shafts: followed by the edges from where a shaft lies alone, or found as chains of
//! strands; and how well the edges bear each of them out.

use super::centreline::Trace;
use super::edges::{Edges, Pose, Sharpest, Sides, likeness, middle_of, sharpest, strength};
use super::stretches::Stretch;
use super::walks::{Sight, Start, Step, step_px, walk};
use crate::maths::point::{Point, Vec2};
use crate::maths::polyline::{Polyline, boxes_touch};
use crate::maths::raster::Raster;

/// Likeness from which a place of a course counts as seen.
pub(super) const SEEN: f64 = 0.35;
/// Directions in which something is looked for before a free end, radians.
const AHEAD: [f64; 7] = [-0.5, -0.3, -0.15, 0.0, 0.15, 0.3, 0.5];
/// How far it is looked for, widths and pixels: as gaps of the mask are wide.
const AHEAD_WIDTHS: f64 = 4.0;
/// See [`AHEAD_WIDTHS`].
const AHEAD_PX: f64 = 40.0;
/// A course runs along a stretch when it lies within this share of the thinner of both widths of its middle.
const BESIDE: f64 = 0.35;
/// And with this cosine of the angle between them.
const ALONG: f64 = 0.9;
/// And with widths no further apart than this ratio.
const WIDTHS_APART: f64 = 1.67;
/// Share of a stretch that it must run along.
const COVERED: f64 = 0.7;
/// Places of a stretch that are asked.
const PLACES: usize = 12;

/// A supposed course of a shaft.
#[derive(Clone, Debug)]
pub(super) struct Course {
    pub(super) steps: Vec<Step>,
    /// Width of the mask, reduced pixels.
    pub(super) mask_width_px: f64,
    /// Mean likeness of its edges to what they are for the most part along it, 0 to 1.
    pub(super) steady: f64,
    /// Corners of the box about it.
    pub(super) bounds: [Point; 2],
    /// How surprising its dearest joint is, see `links::cost`; 0 of one that was followed.
    pub(super) doubt: f64,
}

impl Course {
    pub(super) fn new(steps: Vec<Step>, mask_width_px: f64, edges: &Edges) -> Course {
        let bounds = bounds(&steps);
        let steady = steadiness(&steps, edges);
        Course { steps, mask_width_px, steady, bounds, doubt: 0.0 }
    }

    /// A stretch, followed on from both ends where something is before them.
    pub(super) fn followed(stretch: &Stretch, sight: &Sight) -> Course {
        let length = stretch.line.length();
        let reach = (1.5 * stretch.width_px).max(8.0).min(0.5 * length);
        // The last part of a stretch leans to what it meets.
        let back = (0.6 * stretch.width_px).min(0.25 * length);
        let halves = [0, 1].map(|end| {
            let line = if end == 1 { stretch.line.clone() } else { stretch.line.reversed() };
            if !stretch.at_knot[end] && !is_something_ahead(&line, stretch, sight.mask) {
                return Vec::new();
            }
            let s = length - back;
            let along = line.tangent(s - reach, reach);
            let before = line.tangent((s - 2.0 * reach).max(0.0), reach);
            let edges = if end == 1 { stretch.edges } else { [stretch.edges[1], stretch.edges[0]] };
            let bend = 0.5 * before.cross(along).atan2(before.dot(along)) / reach.max(1.0);
            let pose = Pose { at: line.at(s), along, width_px: stretch.width_px };
            walk(&Start { pose, edges, typical: stretch.typical, bend }, sight)
        });
        let mut steps: Vec<Step> = halves[0].iter().rev().map(turned).collect();
        if let Some(inner) = stretch.line.part(back, length - back) {
            let n = ((inner.length() / step_px(stretch.width_px)) as usize).max(2);
            steps.extend((0..=n).map(|k| {
                let s = inner.length() * k as f64 / n as f64;
                let pose = Pose { at: inner.at(s), along: inner.tangent(s, reach), width_px: stretch.width_px };
                Step { pose, like: 1.0 }
            }));
        }
        steps.extend(halves[1].iter().copied());
        Course::new(steps, stretch.mask_width_px, sight.edges)
    }

    /// A trace that was chained of strands.
    pub(super) fn chained(trace: &Trace, edges: &Edges) -> Course {
        let length = trace.line.length();
        let step = step_px(trace.width_px);
        let n = ((length / step) as usize).max(2);
        let reach = trace.width_px.max(6.0).min(length);
        let poses = |width_px: f64| -> Vec<Pose> {
            (0..=n)
                .map(|k| {
                    let s = length * k as f64 / n as f64;
                    let along = trace.line.tangent((s - 0.5 * reach).clamp(0.0, length - reach), reach);
                    Pose { at: trace.line.at(s), along, width_px }
                })
                .collect()
        };
        let look =
            |width_px: f64| -> Vec<Sides> { poses(width_px).iter().map(|pose| edges.across(pose, step)).collect() };
        let both = |middle: &Sides| strength(&middle[0]) + strength(&middle[1]);
        let Sharpest { width_px, edges: middle, seen } = sharpest(trace.width_px, look, middle_of, both);
        let steps = poses(width_px)
            .into_iter()
            .zip(&seen)
            .map(|(pose, seen)| Step { pose, like: likeness(seen, &middle) })
            .collect();
        Course { doubt: trace.doubt, ..Course::new(steps, trace.width_px, edges) }
    }

    /// The same with other steps: a part of them, or more.
    pub(super) fn with(&self, steps: Vec<Step>) -> Course {
        Course { bounds: bounds(&steps), steps, ..*self }
    }

    /// Share of its places at which its edges are seen.
    pub(super) fn share_seen(&self) -> f64 {
        self.steps.iter().filter(|step| step.like >= SEEN).count() as f64 / self.steps.len().max(1) as f64
    }

    /// Whether it runs along a stretch.
    pub(super) fn covers(&self, stretch: &Stretch) -> bool {
        if !boxes_touch(&self.bounds, &stretch.line.bounds(), 2.0 * stretch.width_px) {
            return false;
        }
        let on = (0..PLACES)
            .filter(|&k| {
                let s = stretch.line.length() * (k as f64 + 0.5) / PLACES as f64;
                let (at, along) = (stretch.line.at(s), stretch.line.tangent(s, stretch.width_px.max(6.0)));
                self.steps.iter().any(|step| runs_along(&step.pose, at, along, stretch.width_px))
            })
            .count();
        on as f64 >= COVERED * PLACES as f64
    }
}

/// A step walked the other way.
pub(super) fn turned(step: &Step) -> Step {
    Step { pose: Pose { along: -step.pose.along, ..step.pose }, ..*step }
}

fn runs_along(pose: &Pose, at: Point, along: Vec2, width_px: f64) -> bool {
    let gap = at - pose.at;
    let ratio = pose.width_px / width_px;
    gap.cross(pose.along).abs() <= BESIDE * pose.width_px.min(width_px) + 1.0
        && gap.dot(pose.along).abs() <= 0.5 * pose.width_px.max(6.0)
        && pose.along.dot(along).abs() > ALONG
        && ratio < WIDTHS_APART
        && ratio * WIDTHS_APART > 1.0
}

/// Whether something stands out before the last end of a line: what the shaft may go on in, or lie under.
fn is_something_ahead(line: &Polyline, stretch: &Stretch, mask: &Raster<bool>) -> bool {
    let length = line.length();
    let reach = (1.5 * stretch.width_px).max(8.0).min(0.5 * length);
    let way = line.tangent(length - reach, reach).angle();
    let (near, far) = (1.2 * stretch.mask_width_px + 4.0, AHEAD_WIDTHS * stretch.mask_width_px + AHEAD_PX);
    let places = ((far - near) / 2.0).max(0.0) as usize;
    AHEAD.iter().any(|turn| {
        let way = Vec2::from_angle(way + turn);
        (0..places).any(|k| {
            let at = line.last() + way * (near + 2.0 * k as f64);
            mask.get(at.x.round() as isize, at.y.round() as isize) == Some(true)
        })
    })
}

fn steadiness(steps: &[Step], edges: &Edges) -> f64 {
    let Some(first) = steps.first() else { return 0.0 };
    let step = step_px(first.pose.width_px);
    let seen: Vec<Sides> = steps.iter().map(|s| edges.across(&s.pose, step)).collect();
    let middle = middle_of(&seen);
    seen.iter().map(|seen| likeness(seen, &middle).max(0.0)).sum::<f64>() / steps.len() as f64
}

fn bounds(steps: &[Step]) -> [Point; 2] {
    let first = steps.first().map_or(Point::default(), |step| step.pose.at);
    steps.iter().fold([first, first], |[low, high], step| {
        let at = step.pose.at;
        [Point::new(low.x.min(at.x), low.y.min(at.y)), Point::new(high.x.max(at.x), high.y.max(at.y))]
    })
}
