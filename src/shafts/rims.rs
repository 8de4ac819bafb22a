//! Rims of bubbles: circles that are seen most of the way round, found from the arcs that tracing made of them.
//!
//! A bubble's rim is a thin line like a shaft, and where it is faint or crossed by something it is traced in pieces
//! that are no rounder than many a hair. What tells it is that the line goes on round. So each arc that bends evenly is
//! grown: along the circle through what is known so far, one step at either end, a line is looked for close to where
//! it should be, and the circle is fitted again. An arc that grows most of the way round was a rim, and so is every
//! trace that lies on it, or inside it about the same middle (the inner rim that refraction makes).
//! Weakness: a hair that closes a full loop is taken for a rim.

use super::centreline::Trace;
use super::contrast::Contrast;
use crate::maths::circle::Circle;
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
/// Fewest steps of the circle within the photo: of the wide circles through slightly bowed hairs less is in view.
const LEAST_IN_PHOTO: usize = 36;
/// How many times as strong or as wide as the arc that the rim was grown from a part of it may be.
const MOST_OF_RIM: f64 = 2.5;
/// How far the middle of an inner rim may lie from the outer one's, shares of the radius.
const CONCENTRIC: f64 = 0.35;

/// A rim.
#[derive(Clone, Debug)]
pub(super) struct Rim {
    /// In reduced pixels.
    circle: Circle,
    /// Distance of the line from the middle, reduced pixels, a step; absent where it was not seen.
    radii_px: Vec<Option<f64>>,
    /// Width of the arc it was grown from, reduced pixels.
    width_px: f64,
    /// Contrast along it, noise units.
    strength: f64,
}

/// The rims that `traces` are parts of.
pub(super) fn rims(traces: &[&Trace], contrast: &Contrast) -> Vec<Rim> {
    let mut rims: Vec<Rim> = Vec::new();
    for trace in traces {
        let mut arcs = Vec::new();
        add_arcs(&spaced(&trace.line), PARTINGS, &mut arcs);
        for (own, circle) in arcs {
            if !rims.iter().any(|rim| rim.holds(trace, contrast)) {
                rims.extend(grown(circle, &own, trace.width_px, contrast));
            }
        }
    }
    rims
}

/// The parts of a line that bend evenly, the whole first: a line may run from one rim into another or into a hair.
fn add_arcs(points: &[Point], partings: usize, arcs: &mut Vec<(Vec<Point>, Circle)>) {
    if points.len() < LEAST_POINTS {
        return;
    }
    if let Some(circle) = arc(points) {
        arcs.push((points.to_vec(), circle));
    }
    if partings > 0 {
        let middle = points.len() / 2;
        add_arcs(&points[..=middle], partings - 1, arcs);
        add_arcs(&points[middle..], partings - 1, arcs);
    }
}

/// The circle of points in reduced pixels; none of one pixel or less, which is noise.
pub(super) fn circle_of(points: &[Point]) -> Option<Circle> {
    Circle::through(points).filter(|circle| circle.radius > 1.0)
}

/// The circle of a line that bends evenly.
fn arc(points: &[Point]) -> Option<Circle> {
    let circle = circle_of(points)?;
    let even = circle.off < ROUND * circle.radius;
    (turn(points).abs() >= LEAST_TURN && even).then_some(circle)
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

fn grown(mut circle: Circle, own: &[Point], width_px: f64, contrast: &Contrast) -> Option<Rim> {
    let (width, height) = (contrast.mask.width() as f64, contrast.mask.height() as f64);
    let largest = MOST_RADIUS_SHARE * width.hypot(height);
    let mut seen: Vec<Point> = own.to_vec();
    let mut radii = by_step(&circle, &seen);
    for _ in 0..STEPS {
        if !(LEAST_RADIUS_PX..largest).contains(&circle.radius) || circle.off > GROWN_ROUND * circle.radius {
            return None;
        }
        let more: Vec<Point> = (0..STEPS)
            .filter(|&step| radii[step].is_none())
            .filter_map(|step| seen_at(&circle, &radii, step, width_px, contrast))
            .collect();
        if more.is_empty() {
            break;
        }
        seen.extend(more);
        circle = circle_of(&seen)?;
        radii = by_step(&circle, &seen);
    }
    let in_photo = |step: &usize| {
        let p = at(&circle, *step, circle.radius);
        p.x >= 2.0 && p.y >= 2.0 && p.x <= width - 3.0 && p.y <= height - 3.0
    };
    // What the arc itself covers proves nothing: a hair that bows covers as much.
    let covered = by_step(&circle, own);
    let beyond: Vec<usize> = (0..STEPS).filter(|&step| covered[step].is_none()).filter(in_photo).collect();
    let strength =
        |points: &[Point]| median(&mut points.iter().map(|p| f64::from(contrast.best(p.x, p.y))).collect::<Vec<_>>());
    let there: Vec<Point> =
        beyond.iter().filter_map(|&step| radii[step].map(|radius_px| at(&circle, step, radius_px))).collect();
    let n_in_photo = (0..STEPS).filter(in_photo).count();
    let enough = n_in_photo >= LEAST_IN_PHOTO
        && beyond.len() >= LEAST_STEPS
        && there.len() as f64 >= LEAST_SEEN * beyond.len() as f64;
    let (own, rest) = (strength(own)?, strength(&there)?);
    let strength = own.max(rest);
    let alike = rest > LEAST_OF_OWN * own && rest < MOST_OF_OWN * own;
    (enough && alike).then_some(Rim { circle, radii_px: radii, width_px, strength })
}

/// Mean distance from the middle of the points in each step.
fn by_step(circle: &Circle, points: &[Point]) -> Vec<Option<f64>> {
    let mut sums = vec![(0.0, 0.0); STEPS];
    for point in points {
        let sum = &mut sums[step_of(circle, *point)];
        *sum = (sum.0 + point.distance(circle.centre), sum.1 + 1.0);
    }
    sums.into_iter().map(|(sum, n)| (n > 0.0).then(|| sum / n)).collect()
}

/// The line at this step, if neighbouring steps have it and it is there.
fn seen_at(circle: &Circle, radii: &[Option<f64>], step: usize, width_px: f64, contrast: &Contrast) -> Option<Point> {
    let near: Vec<f64> =
        (1..=MOST_GAP).flat_map(|d| [radii[(step + d) % STEPS], radii[(step + STEPS - d) % STEPS]]).flatten().collect();
    if near.is_empty() {
        return None;
    }
    let expected = 0.5 * (near.iter().sum::<f64>() / near.len() as f64 + circle.radius);
    let astray = (ASTRAY_SHARE * circle.radius).max(ASTRAY_PX);
    let strength = |r: f64| {
        let p = at(circle, step, r);
        f64::from(contrast.best(p.x, p.y))
    };
    let n = (2.0 * astray).ceil() as usize;
    let (found, most) = (0..=n)
        .map(|i| expected - astray + 2.0 * astray * i as f64 / n as f64)
        .map(|r| (r, strength(r)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    let beside = 1.5 * width_px.max(2.0);
    let is_line = strength(found + beside).min(strength(found - beside)) < BESIDE_SHARE * most;
    (most > SEEN && is_line).then(|| at(circle, step, found))
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
        let radius = self.circle.radius;
        let near = (ASTRAY_SHARE * radius).max(0.7 * trace.width_px).max(ASTRAY_PX);
        let beyond = |p: &Point| p.distance(self.circle.centre) - self.radius_at(*p);
        let on = points.iter().filter(|p| beyond(p).abs() <= near).count();
        if on as f64 >= LEAST_ON * points.len() as f64 {
            return true;
        }
        let inside = points.iter().all(|p| beyond(p) <= near);
        inside && arc(&points).is_some_and(|own| own.centre.distance(self.circle.centre) < CONCENTRIC * radius)
    }

    /// Distance of the line from the middle in the direction of `p`, reduced pixels.
    fn radius_at(&self, p: Point) -> f64 {
        let step = step_of(&self.circle, p);
        self.radii_px[step].unwrap_or(self.circle.radius)
    }
}

/// The place at a step round a circle, so far from its middle.
fn at(circle: &Circle, step: usize, radius_px: f64) -> Point {
    circle.centre + Vec2::from_angle(step as f64 / STEPS as f64 * std::f64::consts::TAU) * radius_px
}

/// The step round a circle in whose direction a place lies.
fn step_of(circle: &Circle, p: Point) -> usize {
    let out = p - circle.centre;
    let turns = out.y.atan2(out.x) / std::f64::consts::TAU;
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
        let found = rims(&[&piece], &rim);
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
        assert!(rims(&[&bow], &hair).is_empty(), "a third of a circle and nothing beyond");
    }
}
