//! What is no shaft, each with its reason.

use super::RejectReason;
use super::centreline::Trace;
use super::contrast::Contrast;
use crate::maths::point::Point;
use crate::maths::raster::Raster;

/// A shaft is at least this many widths long; shorter things are dust or flakes.
const LEAST_WIDTHS: f64 = 3.2;
/// And at least this many reduced pixels.
const LEAST_PX: f64 = 14.0;
/// Middle contrast along a trace that chance does not reach, noise units.
const LEAST_STRENGTH: f64 = 5.5;
/// Light above or below the ground, as a share of the ground, that a trace must pass in some channel: clouds in the
/// haze of the tape are fainter, and a hair that faint could not be measured.
const LEAST_SHARE: f64 = 0.045;
/// Smallest ground that a channel is compared with, as a share of the brightest channel's.
const DARK_CHANNEL: f64 = 0.3;
/// Contrast along a trace from which length alone decides, noise units.
pub(super) const FIRM: f64 = 10.0;
/// Reduced pixels that a trace of no contrast at all must be longer: chance makes short faint clumps.
const FAINT_PX: f64 = 60.0;
/// Widths that a trace of no contrast at all must be longer, for the same reason.
const FAINT_WIDTHS: f64 = 6.0;
/// Width below which a faint trace must be twice as long, reduced pixels.
const FAINT_THIN_PX: f64 = 2.6;
/// Distance between the ends over length that a faint trace must have: chance wanders.
const FAINT_STRAIGHT: f64 = 0.7;
/// A compact thing larger than this share of the photo's diagonal is a flake, smaller is dust.
const FLAKE_SHARE: f64 = 0.02;
/// Turn of a line beyond which it may be the rim of a bubble, radians: hairs that bend that far are not circles.
const BUBBLE_TURN: f64 = 3.6;
/// Root mean square distance from the best circle, as a share of its radius, below which a line is a rim.
const BUBBLE_ROUND: f64 = 0.06;
/// Least turn of an arc that may be part of a rim, radians.
const ARC_TURN: f64 = 0.8;
/// See [`BUBBLE_ROUND`]; a short arc must be rounder to point at its circle.
const ARC_ROUND: f64 = 0.04;
/// Share of the rest of the circle that must be seen.
const ARC_SEEN: f64 = 0.6;
/// Contrast that counts as seen there, noise units.
const RIM_STRENGTH: f64 = 3.5;
/// A rim is thin: its radius in widths is more than this only for shafts that bow.
const MOST_WIDTHS_RADIUS: f64 = 60.0;
/// Light in every channel of a scale bar or caption burnt into the picture, and its largest spread.
const BAR_LIGHT: f32 = 0.85;

/// What the judgement looks at besides the trace.
pub(super) struct Scene<'a> {
    pub(super) planes: &'a [Raster<f32>; 3],
    pub(super) background: &'a [Raster<f32>; 3],
    pub(super) contrast: &'a Contrast,
    /// Centre and radius of the eyepiece disc, reduced pixels.
    pub(super) disc: Option<(Point, f64)>,
}

/// Why `trace` is no shaft; `None` when it may be one.
pub(super) fn reason(trace: &Trace, closed: bool, scene: &Scene) -> Option<RejectReason> {
    let (width, height) = (scene.planes[0].width() as f64, scene.planes[0].height() as f64);
    let length = trace.line.length();
    if let Some((centre, radius)) = scene.disc {
        let n = trace.line.points().len();
        let along =
            trace.line.points().iter().filter(|p| (p.distance(centre) - radius).abs() < 0.02 * radius + 3.0).count();
        if along * 10 > n * 6 {
            return Some(RejectReason::FieldEdge);
        }
    }
    if closed || is_rim(trace, scene) {
        return Some(RejectReason::Bubble);
    }
    let whole = length + trace.width_px;
    let faint = ((FIRM - median_strength(trace, scene)) / FIRM).clamp(0.0, 1.0);
    if median_strength(trace, scene) < LEAST_STRENGTH {
        return Some(RejectReason::Dust);
    }
    if share_of_ground(trace, scene) < LEAST_SHARE {
        return Some(RejectReason::Streak);
    }
    let straight = trace.line.first().distance(trace.line.last()) / length.max(1e-9);
    let curly = faint > 0.3 && straight < FAINT_STRAIGHT;
    let least_widths = LEAST_WIDTHS + FAINT_WIDTHS * faint;
    // Chance makes thin clumps; a faint shaft that is found at all is broad or long.
    let thin = if trace.width_px < FAINT_THIN_PX { 2.0 } else { 1.0 };
    if whole < least_widths * trace.width_px || whole < LEAST_PX + FAINT_PX * thin * faint || curly {
        let large = whole.max(trace.width_px) > FLAKE_SHARE * width.hypot(height);
        return Some(if large { RejectReason::Flake } else { RejectReason::Dust });
    }
    if is_burnt_in(trace, scene) {
        return Some(RejectReason::ScaleBar);
    }
    None
}

/// Middle contrast along a trace, noise units.
pub(super) fn median_strength(trace: &Trace, scene: &Scene) -> f64 {
    let mut values: Vec<f64> = trace.line.points().iter().map(|p| f64::from(scene.contrast.best(p.x, p.y))).collect();
    crate::maths::stats::median(&mut values).unwrap_or(0.0)
}

/// Middle difference from the ground along a trace as a share of the ground, in the channel where it is largest.
fn share_of_ground(trace: &Trace, scene: &Scene) -> f64 {
    (0..3)
        .filter_map(|c| {
            let mut shares: Vec<f64> = trace
                .line
                .points()
                .iter()
                .map(|p| {
                    let grounds = [0, 1, 2].map(|k| f64::from(scene.background[k].bilinear(p.x, p.y)));
                    // A channel in which the ground is all but black would show any trace of haze as much.
                    let brightest = grounds.iter().copied().fold(1e-6, f64::max);
                    let ground = grounds[c].max(DARK_CHANNEL * brightest);
                    (f64::from(scene.planes[c].bilinear(p.x, p.y)) - grounds[c]) / ground
                })
                .collect();
            crate::maths::stats::median(&mut shares)
        })
        .fold(0.0, |most: f64, share| most.max(share.abs()))
}

/// Whether most of `trace` runs within `other`, the same shaft traced twice, or beside it where it is much fainter:
/// the halo of the other.
pub(super) fn is_within(trace: &Trace, other: &Trace, much_fainter: bool) -> bool {
    let reach = if much_fainter { 0.75 * other.width_px + 0.5 * trace.width_px + 3.0 } else { 0.5 * other.width_px };
    let every = (trace.line.points().len() / 40).max(1);
    let (mut n, mut within) = (0, 0);
    for p in trace.line.points().iter().step_by(every) {
        n += 1;
        if other.line.nearest(*p).distance < reach {
            within += 1;
        }
    }
    within * 10 >= n * 7
}

/// The rim of a bubble: part of a circle that goes far round, or whose other part can be seen too.
fn is_rim(trace: &Trace, scene: &Scene) -> bool {
    let line = trace.line.resampled((trace.line.length() / 60.0).max(2.0));
    let points = line.points();
    if points.len() < 8 {
        return false;
    }
    let turn: f64 = points
        .windows(3)
        .map(|w| {
            let (a, b) = (w[1] - w[0], w[2] - w[1]);
            a.cross(b).atan2(a.dot(b))
        })
        .sum();
    if turn.abs() < ARC_TURN {
        return false;
    }
    let Some(circle) = Circle::through(points) else { return false };
    if circle.radius > MOST_WIDTHS_RADIUS * trace.width_px {
        return false;
    }
    let off = circle.off / circle.radius;
    (turn.abs() > BUBBLE_TURN && off < BUBBLE_ROUND)
        || (off < ARC_ROUND && share_seen(&circle, turn.abs(), trace.width_px, scene) > ARC_SEEN)
}

/// A least-squares circle.
struct Circle {
    centre: Point,
    radius: f64,
    /// Root mean square distance of the points from it.
    off: f64,
}

impl Circle {
    fn through(points: &[Point]) -> Option<Circle> {
        let n = points.len() as f64;
        let (cx, cy) = points.iter().fold((0.0, 0.0), |a, p| (a.0 + p.x / n, a.1 + p.y / n));
        let mut normal = nalgebra::Matrix3::<f64>::zeros();
        let mut right = nalgebra::Vector3::<f64>::zeros();
        for p in points {
            let (x, y) = (p.x - cx, p.y - cy);
            let row = nalgebra::Vector3::new(x, y, 1.0);
            normal += row * row.transpose();
            right += row * (x * x + y * y);
        }
        let s = normal.lu().solve(&right)?;
        let centre = Point::new(cx + s[0] / 2.0, cy + s[1] / 2.0);
        let radius = (s[2] + s[0] * s[0] / 4.0 + s[1] * s[1] / 4.0).max(0.0).sqrt();
        let off = (points.iter().map(|p| (p.distance(centre) - radius).powi(2)).sum::<f64>() / n).sqrt();
        (radius > 1.0).then_some(Circle { centre, radius, off })
    }
}

/// Share of the circle beyond the arc itself on which something stands out, where it lies in the photo.
fn share_seen(circle: &Circle, turn: f64, width_px: f64, scene: &Scene) -> f64 {
    let (width, height) = (scene.planes[0].width() as f64, scene.planes[0].height() as f64);
    let reach = (0.6 * width_px).max(2.0);
    let (mut n, mut seen) = (0.0, 0.0);
    for k in 0..120 {
        let out = crate::maths::point::Vec2::from_angle(f64::from(k) / 120.0 * std::f64::consts::TAU);
        let p = circle.centre + out * circle.radius;
        if p.x < 2.0 || p.y < 2.0 || p.x > width - 3.0 || p.y > height - 3.0 {
            continue;
        }
        n += 1.0;
        let strongest = (-2..=2)
            .map(|d| {
                let q = p + out * (f64::from(d) * 0.5 * reach);
                scene.contrast.strengths[0].bilinear(q.x, q.y)
            })
            .fold(0.0, f32::max);
        if f64::from(strongest) > RIM_STRENGTH {
            seen += 1.0;
        }
    }
    let own = turn / std::f64::consts::TAU * 120.0;
    if n - own < 12.0 { 0.0 } else { ((seen - own) / (n - own)).max(0.0) }
}

/// Straight, level or upright, plain white.
fn is_burnt_in(trace: &Trace, scene: &Scene) -> bool {
    let across = trace.line.last() - trace.line.first();
    let level = across.x.abs().min(across.y.abs()) < 0.015 * across.length() + 0.5;
    if !level || trace.line.length() > 1.01 * across.length() {
        return false;
    }
    let n = trace.line.points().len();
    let plain = trace
        .line
        .points()
        .iter()
        .filter(|p| {
            let (x, y) = (p.x.round().max(0.0) as usize, p.y.round().max(0.0) as usize);
            scene.planes.iter().all(|plane| x < plane.width() && y < plane.height() && plane.at(x, y) > BAR_LIGHT)
        })
        .count();
    plain * 10 > n * 8
}
