//! Rims of bubbles: circles and ellipses that are seen most of the way round, found from the arcs that tracing made of
//! them.
//!
//! A bubble's rim is a thin line like a shaft, and where it is faint or crossed by something it is traced in pieces
//! that are no rounder than many a hair. What tells it is that the line goes on round. So each arc that bends evenly is
//! grown: along the circle through what is known so far, one step at either end, a line is looked for close to where
//! it should be, and the circle is fitted again. An arc that grows most of the way round was a rim, and so is every
//! trace that lies on it, or inside it about the same middle (the inner rim that refraction makes).
//! Weakness: a hair that closes a full loop is taken for a rim.

use std::f64::consts::TAU;

use super::centreline::Trace;
use super::contrast::Contrast;
use crate::maths::oval::Oval;
use crate::maths::point::{Point, Vec2};
use crate::maths::polyline::Polyline;
use crate::maths::stats::median;

/// Steps round a circle, 5 degrees each.
const STEPS: usize = 72;
/// Least turn of an arc that is grown, radians: flatter ones do not tell their circle.
const LEAST_TURN: f64 = 0.35;
/// Root mean square distance of an arc from its circle, as a share of the radius: rims are a little out of round.
const ROUND: f64 = 0.06;
/// The same of a grown rim.
const GROWN_ROUND: f64 = 0.12;
/// Turn of an arc from which on it tells an ellipse, radians, and how drawn out a bubble may be: ratio of the axes.
const OVAL_TURN: f64 = 2.0;
/// See [`OVAL_TURN`].
const MOST_RATIO: f64 = 2.0;
/// Smallest and, against the photo's diagonal, largest radius, reduced pixels.
const LEAST_RADIUS_PX: f64 = 5.0;
/// See [`LEAST_RADIUS_PX`].
const MOST_RADIUS_SHARE: f64 = 0.6;
/// How far from where it should be the line may lie, shares of the radius and reduced pixels.
const ASTRAY_SHARE: f64 = 0.07;
/// See [`ASTRAY_SHARE`].
const ASTRAY_PX: f64 = 2.5;
/// Contrast of a line that is there, noise units: of some ten independent places looked at, chance reaches this at one
/// step in several hundred.
const SEEN: f64 = 3.5;
/// Share of the line's contrast that must be lost on both sides of it: else it is an area, or the halo of a shaft.
const BESIDE_SHARE: f64 = 0.75;
/// Fewest points of an arc, and how many times a line is parted into halves to find arcs in it.
const LEAST_POINTS: usize = 6;
/// See [`LEAST_POINTS`].
const PARTINGS: usize = 3;
/// Gaps that growing steps over, steps.
const MOST_GAP: usize = 4;
/// Share of the circle within the photo and beyond the arc itself that must be seen.
const LEAST_SEEN: f64 = 0.6;
/// Fewest steps of that part.
const LEAST_STEPS: usize = 14;
/// Share of a trace that must lie on the rim.
const LEAST_ON: f64 = 0.7;
/// Contrast of that part against the arc's own, below which it is chance beside a hair.
const LEAST_OF_OWN: f64 = 0.5;
/// The same, above which it is something else.
const MOST_OF_OWN: f64 = 4.0;
/// Most that the distance from the middle jogs from step to step: pixels, and a share of the radius.
const JOG_PX: f64 = 2.0;
/// See [`JOG_PX`].
const JOG_SHARE: f64 = 0.006;
/// Fewest steps of the circle within the photo: of the wide circles through slightly bowed hairs less is in view.
const LEAST_IN_PHOTO: usize = 36;
/// How many times as strong or as wide as the arc that the rim was grown from a part of it may be.
const MOST_OF_RIM: f64 = 2.5;
/// How far out a line may run over two pixels and still lie along a rim, pixels.
const ALONG_SLOPE: f64 = 0.6;
/// How far the middle of an inner rim may lie from the outer one's, shares of the radius.
const CONCENTRIC: f64 = 0.35;

/// A rim.
#[derive(Clone, Debug)]
pub(super) struct Rim {
    /// In reduced pixels.
    oval: Oval,
    /// Distance of the line from the middle in the oval's plane, reduced pixels, a step; absent where it was not seen.
    radii_px: Vec<Option<f64>>,
    /// Width of the arc it was grown from, reduced pixels.
    width_px: f64,
    /// Contrast along it, noise units.
    strength: f64,
}

/// The rims that `traces` are parts of.
pub(super) fn rims<'a>(traces: impl Iterator<Item = &'a Trace>, contrast: &Contrast) -> Vec<Rim> {
    let mut rims: Vec<Rim> = Vec::new();
    for trace in traces {
        let mut arcs = Vec::new();
        add_arcs(&spaced(&trace.line), PARTINGS, &mut arcs);
        for (own, oval) in arcs {
            if !rims.iter().any(|rim| rim.holds(trace, contrast)) {
                rims.extend(grown(oval, &own, trace.width_px, contrast));
            }
        }
    }
    rims
}

/// The parts of a line that bend evenly, the whole first: a line may run from one rim into another or into a hair.
/// A part that goes far round is held against a circle and against an ellipse.
fn add_arcs(points: &[Point], partings: usize, arcs: &mut Vec<(Vec<Point>, Oval)>) {
    if points.len() < LEAST_POINTS {
        return;
    }
    let turn = turn(points).abs();
    let even = |oval: &Oval| turn >= LEAST_TURN && oval.circle.off < ROUND * oval.circle.radius;
    let round = Oval::round(points).filter(is_more_than_noise);
    let drawn_out = (turn >= OVAL_TURN).then(|| Oval::through(points, MOST_RATIO)).flatten();
    arcs.extend([round, drawn_out].into_iter().flatten().filter(even).map(|oval| (points.to_vec(), oval)));
    if partings > 0 {
        let middle = points.len() / 2;
        add_arcs(&points[..=middle], partings - 1, arcs);
        add_arcs(&points[middle..], partings - 1, arcs);
    }
}

/// The circle of points in reduced pixels, or the ellipse where a line turns far enough to tell one.
pub(super) fn oval_of(points: &[Point], turn: f64) -> Option<Oval> {
    let oval = if turn.abs() < OVAL_TURN { Oval::round(points) } else { Oval::through(points, MOST_RATIO) };
    oval.filter(is_more_than_noise)
}

/// A circle of one pixel or less is noise.
fn is_more_than_noise(oval: &Oval) -> bool {
    oval.circle.radius > 1.0
}

/// The middle of the circle of a line that bends evenly.
fn middle_of(points: &[Point]) -> Option<Point> {
    let oval = Oval::round(points).filter(is_more_than_noise)?;
    let even = oval.circle.off < ROUND * oval.circle.radius;
    (turn(points).abs() >= LEAST_TURN && even).then_some(oval.centre())
}

fn spaced(line: &Polyline) -> Vec<Point> {
    line.resampled((line.length() / 60.0).max(2.0)).points().to_vec()
}

/// Sum of the bends along a line, radians, left turns less right turns.
pub(super) fn turn(points: &[Point]) -> f64 {
    points
        .windows(3)
        .map(|w| {
            let (a, b) = (w[1] - w[0], w[2] - w[1]);
            a.cross(b).atan2(a.dot(b))
        })
        .sum()
}

fn grown(mut oval: Oval, own: &[Point], width_px: f64, contrast: &Contrast) -> Option<Rim> {
    let (width, height) = (contrast.mask.width() as f64, contrast.mask.height() as f64);
    let largest = MOST_RADIUS_SHARE * width.hypot(height);
    let is_round = oval.is_round();
    let mut seen: Vec<Point> = own.to_vec();
    let mut radii = by_step(&oval, &seen);
    for _ in 0..STEPS {
        if !(LEAST_RADIUS_PX..largest).contains(&oval.circle.radius)
            || oval.circle.off > GROWN_ROUND * oval.circle.radius
        {
            return None;
        }
        let more: Vec<Point> = (0..STEPS)
            .filter(|&step| radii[step].is_none())
            .filter_map(|step| seen_at(&oval, &radii, step, width_px, contrast))
            .collect();
        if more.is_empty() {
            break;
        }
        seen.extend(more);
        let fitted = if is_round { Oval::round(&seen) } else { Oval::through(&seen, MOST_RATIO) };
        oval = fitted.filter(is_more_than_noise)?;
        radii = by_step(&oval, &seen);
    }
    let in_photo = |step: &usize| {
        let p = at(&oval, *step, oval.circle.radius);
        p.x >= 2.0 && p.y >= 2.0 && p.x <= width - 3.0 && p.y <= height - 3.0
    };
    // What the arc itself covers proves nothing: a hair that bows covers as much.
    let covered = by_step(&oval, own);
    let beyond: Vec<usize> = (0..STEPS).filter(|&step| covered[step].is_none()).filter(in_photo).collect();
    let strength =
        |points: &[Point]| median(&mut points.iter().map(|p| f64::from(contrast.best(p.x, p.y))).collect::<Vec<_>>());
    let there: Vec<Point> =
        beyond.iter().filter_map(|&step| radii[step].map(|radius_px| at(&oval, step, radius_px))).collect();
    let n_in_photo = (0..STEPS).filter(in_photo).count();
    let enough = n_in_photo >= LEAST_IN_PHOTO
        && beyond.len() >= LEAST_STEPS
        && there.len() as f64 >= LEAST_SEEN * beyond.len() as f64;
    let (own, rest) = (strength(own)?, strength(&there)?);
    let strength = own.max(rest);
    let alike = rest > LEAST_OF_OWN * own && rest < MOST_OF_OWN * own;
    (enough && alike && is_one_line(&radii, oval.circle.radius)).then_some(Rim {
        oval,
        radii_px: radii,
        width_px,
        strength,
    })
}

/// Whether what was seen at neighbouring steps is one line: chance, and things that only lie about there, are found now
/// farther out and now farther in.
fn is_one_line(radii: &[Option<f64>], radius: f64) -> bool {
    let mut jogs: Vec<f64> = (0..STEPS)
        .filter_map(|step| {
            let [before, here, after] = [step, step + 1, step + 2].map(|step| radii[step % STEPS]);
            Some((before? - 2.0 * here? + after?).abs())
        })
        .collect();
    median(&mut jogs).is_some_and(|jog| jog <= JOG_PX + JOG_SHARE * radius)
}

/// Mean distance from the middle of the points in each step.
fn by_step(oval: &Oval, points: &[Point]) -> Vec<Option<f64>> {
    let mut sums = vec![(0.0, 0.0); STEPS];
    for point in points {
        let sum = &mut sums[step_of(oval, *point)];
        *sum = (sum.0 + oval.radius_at(*point), sum.1 + 1.0);
    }
    sums.into_iter().map(|(sum, n)| (n > 0.0).then(|| sum / n)).collect()
}

/// The line at this step, if neighbouring steps have it and it is there.
fn seen_at(oval: &Oval, radii: &[Option<f64>], step: usize, width_px: f64, contrast: &Contrast) -> Option<Point> {
    let near: Vec<f64> =
        (1..=MOST_GAP).flat_map(|d| [radii[(step + d) % STEPS], radii[(step + STEPS - d) % STEPS]]).flatten().collect();
    if near.is_empty() {
        return None;
    }
    let expected = 0.5 * (near.iter().sum::<f64>() / near.len() as f64 + oval.circle.radius);
    let astray = (ASTRAY_SHARE * oval.circle.radius).max(ASTRAY_PX);
    let strength = |r: f64| {
        let p = at(oval, step, r);
        f64::from(contrast.best(p.x, p.y))
    };
    let n = (2.0 * astray).ceil() as usize;
    let (found, most) = (0..=n)
        .map(|i| expected - astray + 2.0 * astray * i as f64 / n as f64)
        .map(|r| (r, strength(r)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    let beside = 1.5 * width_px.max(2.0);
    let is_line = strength(found + beside).min(strength(found - beside)) < BESIDE_SHARE * most;
    (most > SEEN && is_line).then(|| at(oval, step, found))
}

impl Rim {
    /// Whether `trace` is part of this rim or of its inner one.
    pub(super) fn holds(&self, trace: &Trace, contrast: &Contrast) -> bool {
        let points = spaced(&trace.line);
        let mut strengths: Vec<f64> = points.iter().map(|p| f64::from(contrast.best(p.x, p.y))).collect();
        let stronger = median(&mut strengths).is_some_and(|s| s > MOST_OF_RIM * self.strength);
        if stronger || trace.width_px > MOST_OF_RIM * self.width_px {
            return false;
        }
        let radius = self.oval.circle.radius;
        let near = (ASTRAY_SHARE * radius).max(0.7 * trace.width_px).max(ASTRAY_PX);
        let beyond = |p: &Point| self.oval.radius_at(*p) - self.radius_at(*p);
        let on = points.iter().filter(|p| beyond(p).abs() <= near).count();
        if on as f64 >= LEAST_ON * points.len() as f64 {
            return true;
        }
        let inside = points.iter().all(|p| beyond(p) <= near);
        inside && middle_of(&points).is_some_and(|own| own.distance(self.oval.centre()) < CONCENTRIC * radius)
    }

    /// Whether a line of this width that runs through a place in a direction lies along the rim where it was seen.
    pub(super) fn lies_along(&self, p: Point, way: Vec2, width_px: f64) -> bool {
        let Some(radius) = self.radii_px[step_of(&self.oval, p)] else { return false };
        let out = self.oval.radius_at(p + way) - self.oval.radius_at(p - way);
        (self.oval.radius_at(p) - radius).abs() <= (0.7 * width_px).max(ASTRAY_PX) && out.abs() < ALONG_SLOPE
    }

    /// Distance of the line from the middle in the direction of `p`, reduced pixels.
    fn radius_at(&self, p: Point) -> f64 {
        let step = step_of(&self.oval, p);
        self.radii_px[step].unwrap_or(self.oval.circle.radius)
    }
}

/// The place at a step round an oval, so far from its middle.
fn at(oval: &Oval, step: usize, radius_px: f64) -> Point {
    oval.at(step as f64 / STEPS as f64 * TAU, radius_px)
}

/// The step round an oval in whose direction a place lies.
fn step_of(oval: &Oval, p: Point) -> usize {
    let turns = oval.angle_of(p) / TAU;
    (turns.rem_euclid(1.0) * STEPS as f64).round() as usize % STEPS
}

#[cfg(test)]
mod tests {
    use super::rims;
    use crate::maths::point::{Point, Vec2};
    use crate::maths::polyline::Polyline;
    use crate::maths::raster::Raster;
    use crate::shafts::centreline::Trace;
    use crate::shafts::contrast::Contrast;

    /// Contrast of a line of strength 8 and width 3 where `off(p)` (distance from the line) is small.
    fn contrast(off: impl Fn(Point) -> f64) -> Contrast {
        let strength = Raster::from_fn(300, 300, |x, y| {
            let d = off(Point::new(x as f64, y as f64)) / 1.5;
            (8.0 * (-0.5 * d * d).exp()) as f32
        });
        let mask = Raster::from_fn(300, 300, |x, y| strength.at(x, y) > 4.0);
        let excess = [0, 1, 2].map(|_| Raster::filled(mask.width(), mask.height(), 0.0));
        Contrast { strengths: vec![strength], excess, mask }
    }

    fn arc(centre: Point, radius: f64, from: f64, to: f64) -> Trace {
        let points = (0..=40).map(|i| centre + Vec2::from_angle(from + (to - from) * f64::from(i) / 40.0) * radius);
        let line = Polyline::new(points).expect("an arc");
        Trace { line, width_px: 3.0, overlaps: Vec::new(), doubt: 0.0 }
    }

    const MIDDLE: Point = Point { x: 150.0, y: 150.0 };

    #[test]
    fn pieces_of_a_rim_out_of_round_and_an_inner_rim_are_told_from_a_hair_that_bows() {
        let round = |p: Point| {
            let angle = (p - MIDDLE).y.atan2((p - MIDDLE).x);
            p.distance(MIDDLE) - 90.0 * (1.0 + 0.03 * (2.0 * angle).cos())
        };
        let rim = contrast(round);
        let piece = arc(MIDDLE, 91.0, 0.2, 0.9);
        let found = rims([&piece].into_iter(), &rim);
        assert_eq!(found.len(), 1);
        assert!(found[0].holds(&piece, &rim) && found[0].holds(&arc(MIDDLE, 90.0, 3.0, 4.0), &rim), "another piece");
        assert!(found[0].holds(&arc(MIDDLE, 72.0, 1.0, 2.2), &rim), "the inner rim");
        let across = Polyline::new([Point::new(30.0, 140.0), Point::new(270.0, 165.0)]).expect("a line");
        let across = Trace { line: across, width_px: 6.0, overlaps: Vec::new(), doubt: 0.0 };
        assert!(!found[0].holds(&across, &rim), "a hair that lies across the bubble");

        let bow = arc(MIDDLE, 90.0, 0.2, 2.0);
        let hair = contrast(|p| {
            let angle = (p - MIDDLE).y.atan2((p - MIDDLE).x);
            if (0.2..2.0).contains(&angle) { p.distance(MIDDLE) - 90.0 } else { 99.0 }
        });
        assert!(rims([&bow].into_iter(), &hair).is_empty(), "a third of a circle and nothing beyond");
    }
}
