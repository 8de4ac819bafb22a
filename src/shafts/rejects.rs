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
/// Least light in every channel of a scale bar or caption burnt into the picture.
const BAR_LIGHT: f32 = 0.55;
/// How far the channels of it may differ, and each from its middle along it, shares: it is plain grey or white.
const BAR_PLAIN: f32 = 0.12;
/// Green light over the ground's from which a line is no rim. A rim only bends the light of the tape and of the lamp,
/// which has next to no green; what glows by itself often has several times the ground's. On the photos it was chosen on
/// (of our own and of another renderer) 23 of 27 shafts that had been held for rims are brighter, and 18 of 253 other
/// such lines, 15 of which are shorter than `LEAST_WIDTHS` and no shafts for that.
const GLOWS: f64 = 2.0;
/// How near to the edge of the eyepiece's field a trace is parted where it runs along it, share of the radius.
const NEAR_EDGE: f64 = 0.06;

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

    /// Whether a line that runs through a place in a direction follows that edge, on it or close inside it: there the
    /// light falls off, and a trace is led from one shaft to the next.
    pub(super) fn follows_edge(&self, p: Point, way: Vec2) -> bool {
        self.disc.is_some_and(|(centre, radius)| {
            let out = p - centre;
            out.length() > (1.0 - NEAR_EDGE) * radius - 3.0 && way.dot(out.unit()).abs() < ALONG_EDGE
        })
    }

    /// Whether a trace glows more than a rim can.
    pub(super) fn glows(&self, trace: &Trace) -> bool {
        let mut shares: Vec<f64> = trace
            .line
            .points()
            .iter()
            .map(|p| f64::from(self.planes[1].bilinear(p.x, p.y)) / ground(self.background, *p)[1])
            .collect();
        crate::maths::stats::median(&mut shares).is_some_and(|share| share > GLOWS)
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
    let lies_on_rim = || is_rim(trace) || scene.rims.iter().any(|rim| rim.holds(trace, scene.contrast));
    if closed || (!scene.glows(trace) && lies_on_rim()) {
        return Some(RejectReason::Bubble);
    }
    let whole = length + trace.width_px;
    let strength = median_strength(trace, scene);
    let faint = ((FIRM - strength) / FIRM).clamp(0.0, 1.0);
    if strength < LEAST_STRENGTH {
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
    let shares: Vec<[f64; 3]> = trace
        .line
        .points()
        .iter()
        .map(|p| {
            let ground = ground(scene.background, *p);
            [0, 1, 2].map(|c| {
                let light = |of: &[Raster<f32>; 3]| f64::from(of[c].bilinear(p.x, p.y));
                (light(scene.planes) - light(scene.background)) / ground[c]
            })
        })
        .collect();
    (0..3)
        .filter_map(|c| crate::maths::stats::median(&mut shares.iter().map(|share| share[c]).collect::<Vec<f64>>()))
        .fold(0.0, |most: f64, share| most.max(share.abs()))
}

/// Light of the ground at a place. A channel in which it is all but black would show any trace of haze as much.
fn ground(background: &[Raster<f32>; 3], p: Point) -> [f64; 3] {
    let grounds = [0, 1, 2].map(|c| f64::from(background[c].bilinear(p.x, p.y)));
    let brightest = grounds.iter().copied().fold(1e-6, f64::max);
    grounds.map(|light| light.max(DARK_CHANNEL * brightest))
}

/// Whether most of `trace` runs within `other`, the same shaft traced twice, or beside it where it is much fainter:
/// the halo of the other.
pub(super) fn is_within(trace: &Trace, other: &Trace, much_fainter: bool) -> bool {
    let reach = if much_fainter { 0.75 * other.width_px + 0.5 * trace.width_px + 3.0 } else { 0.5 * other.width_px };
    let [low, high] = other.line.bounds();
    let near =
        |p: &Point| (low.x - reach..=high.x + reach).contains(&p.x) && (low.y - reach..=high.y + reach).contains(&p.y);
    let every = (trace.line.points().len() / 40).max(1);
    let places: Vec<&Point> = trace.line.points().iter().step_by(every).collect();
    // Most traces lie nowhere near each other; a box says so at once.
    if places.iter().filter(|p| near(p)).count() * 10 < places.len() * 7 {
        return false;
    }
    let within = places.iter().filter(|p| near(p) && other.line.nearest(***p).distance < reach).count();
    within * 10 >= places.len() * 7
}

/// The rim of a bubble by itself: a line that goes nearly all round a circle or an ellipse. Pieces of rims: see `rims`.
fn is_rim(trace: &Trace) -> bool {
    let line = trace.line.resampled((trace.line.length() / 60.0).max(2.0));
    let turn = rims::turn(line.points());
    let round = |oval: Oval| oval.circle.off < BUBBLE_ROUND * oval.circle.radius;
    turn.abs() > BUBBLE_TURN && rims::oval_of(line.points(), turn).is_some_and(round)
}

/// Straight, level or upright, plain white or grey.
fn is_burnt_in(trace: &Trace, scene: &Scene) -> bool {
    let across = trace.line.last() - trace.line.first();
    let level = across.x.abs().min(across.y.abs()) < 0.015 * across.length() + 0.5;
    if !level || trace.line.length() > 1.01 * across.length() {
        return false;
    }
    let lights: Vec<[f32; 3]> = trace
        .line
        .points()
        .iter()
        .filter_map(|p| {
            let (x, y) = (p.x.round() as isize, p.y.round() as isize);
            let light = scene.planes.each_ref().map(|plane| plane.get(x, y));
            Some([light[0]?, light[1]?, light[2]?])
        })
        .collect();
    let middle = [0, 1, 2].map(|c| {
        let mut channel: Vec<f64> = lights.iter().map(|light| f64::from(light[c])).collect();
        crate::maths::stats::median(&mut channel).unwrap_or(0.0) as f32
    });
    let is_plain = |light: &&[f32; 3]| {
        let brightest = light[0].max(light[1]).max(light[2]);
        let even = |c: usize| (light[c] - middle[c]).abs() <= BAR_PLAIN * middle[c];
        light.iter().all(|&l| l > BAR_LIGHT && l >= (1.0 - BAR_PLAIN) * brightest) && (0..3).all(even)
    };
    lights.iter().filter(is_plain).count() * 10 > trace.line.points().len() * 8
}

#[cfg(test)]
mod tests {
    use super::{Scene, reason};
    use crate::maths::point::{Point, Vec2};
    use crate::maths::polyline::Polyline;
    use crate::maths::raster::Raster;
    use crate::shafts::RejectReason;
    use crate::shafts::centreline::Trace;
    use crate::shafts::contrast::Contrast;

    const GROUND: [f32; 3] = [0.01, 0.02, 0.05];

    /// Why a line of this light and of width 8, along `points`, is no shaft; elsewhere lies ground.
    fn judged(points: Vec<Point>, light: [f32; 3]) -> Option<RejectReason> {
        let line = Polyline::new(points).expect("a line");
        let on = Raster::from_fn(400, 300, |x, y| line.nearest(Point::new(x as f64, y as f64)).distance < 4.0);
        let planes = [0, 1, 2].map(|c| on.map(|on| if on { light[c] } else { GROUND[c] }));
        let background = GROUND.map(|light| Raster::filled(400, 300, light));
        let strengths = vec![on.map(|on| if on { 30.0 } else { 0.0 })];
        let excess = [0, 1, 2].map(|_| Raster::filled(400, 300, 0.0));
        let contrast = Contrast { strengths, excess, mask: on };
        let scene = Scene { planes: &planes, background: &background, contrast: &contrast, disc: None, rims: &[] };
        let trace = Trace { line, width_px: 8.0, overlaps: Vec::new(), doubt: 0.0 };
        reason(&trace, false, &scene)
    }

    fn ring() -> Vec<Point> {
        (0..=60).map(|i| Point::new(200.0, 150.0) + Vec2::from_angle(0.1 * f64::from(i)) * 100.0).collect()
    }

    fn level(to: f64) -> Vec<Point> {
        (0..=200).map(|x| Point::new(100.0 + f64::from(x), 150.0 + to * f64::from(x) / 200.0)).collect()
    }

    #[test]
    fn a_ring_is_a_rim_unless_it_glows_more_than_a_rim_can() {
        assert_eq!(judged(ring(), [0.03, 0.028, 0.09]), Some(RejectReason::Bubble));
        assert_eq!(judged(ring(), [0.03, 0.1, 0.2]), None, "a curled hair");
        assert_eq!(judged(ring(), [0.2, 0.03, 0.3]), Some(RejectReason::Bubble), "the lamp's violet has no green");
    }

    #[test]
    fn a_level_bar_of_plain_grey_is_burnt_in() {
        assert_eq!(judged(level(0.0), [0.79, 0.79, 0.79]), Some(RejectReason::ScaleBar));
        assert_eq!(judged(level(0.0), [0.6, 0.79, 0.79]), None, "coloured");
        assert_eq!(judged(level(30.0), [0.79, 0.79, 0.79]), None, "aslant");
    }
}
