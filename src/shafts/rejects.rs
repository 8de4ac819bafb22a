//! What is no shaft, each with its reason.

use super::RejectReason;
use super::centreline::Trace;
use super::contrast::Contrast;
use super::rims::{self, Rim};
use crate::maths::oval::Oval;
use crate::maths::point::{Point, Vec2};
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
const BUBBLE_ROUND: f64 = 0.12;
/// Cosine of the angle to the radius below which a line runs along the edge of the eyepiece's field.
const ALONG_EDGE: f64 = 0.5;
/// Light in every channel of a scale bar or caption burnt into the picture, and its largest spread.
const BAR_LIGHT: f32 = 0.85;

/// What the judgement looks at besides the trace.
pub(super) struct Scene<'a> {
    pub(super) planes: &'a [Raster<f32>; 3],
    pub(super) background: &'a [Raster<f32>; 3],
    pub(super) contrast: &'a Contrast,
    /// Centre and radius of the eyepiece disc, reduced pixels.
    pub(super) disc: Option<(Point, f64)>,
    /// Rims of bubbles.
    pub(super) rims: &'a [Rim],
}

impl Scene<'_> {
    /// Whether a place lies at the edge of the eyepiece's field.
    fn is_at_edge(&self, p: Point) -> bool {
        self.disc.is_some_and(|(centre, radius)| (p.distance(centre) - radius).abs() < 0.02 * radius + 3.0)
    }

    /// Whether a line that runs through a place in a direction lies along that edge there.
    pub(super) fn is_along_edge(&self, p: Point, way: Vec2) -> bool {
        self.is_at_edge(p) && self.disc.is_some_and(|(centre, _)| way.dot((p - centre).unit()).abs() < ALONG_EDGE)
    }
}

/// Why `trace` is no shaft; `None` when it may be one.
pub(super) fn reason(trace: &Trace, closed: bool, scene: &Scene) -> Option<RejectReason> {
    let (width, height) = (scene.planes[0].width() as f64, scene.planes[0].height() as f64);
    let length = trace.line.length();
    let along = trace.line.points().iter().filter(|p| scene.is_at_edge(**p)).count();
    if along * 10 > trace.line.points().len() * 6 {
        return Some(RejectReason::FieldEdge);
    }
    if closed || is_rim(trace) || scene.rims.iter().any(|rim| rim.holds(trace, scene.contrast)) {
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

/// The rim of a bubble by itself: a line that goes nearly all round a circle or an ellipse. Pieces of rims: see `rims`.
fn is_rim(trace: &Trace) -> bool {
    let line = trace.line.resampled((trace.line.length() / 60.0).max(2.0));
    let turn = rims::turn(line.points());
    let round = |oval: Oval| oval.circle.off < BUBBLE_ROUND * oval.circle.radius;
    turn.abs() > BUBBLE_TURN && rims::oval_of(line.points(), turn).is_some_and(round)
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
