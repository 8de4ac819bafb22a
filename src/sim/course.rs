//! The middle line of a shaft as the simulator draws it: evenly spaced points with tangent and curvature,
//! and the foot of a place on it.

use crate::maths::point::{Point, Vec2};
use crate::maths::similarity::Similarity;

/// Spacing of the points, pixels: the chord then leaves an arc of radius 20 px by at most 0.0016 px (step² / 8 radius).
pub const COURSE_STEP_PX: f64 = 0.5;

/// A smooth curve sampled every half pixel of arc length.
#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    points: Vec<Point>,
    tangents: Vec<Vec2>,
    curvatures: Vec<f64>,
}

/// Where on a course a place lies: arc length, and signed distance (positive on the side of the normal).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Foot {
    /// Arc length from the course's first point, pixels; may lie before 0 or beyond the end.
    pub s_px: f64,
    /// Signed distance from the course, pixels.
    pub x_px: f64,
}

impl Course {
    /// A course through `anchor`, which lies `before_px` after its start and has the heading `heading`;
    /// `curvature_at(s)` gives the curvature (1/pixel) at arc length s from the anchor.
    pub fn grown(
        anchor: Point,
        heading: f64,
        before_px: f64,
        after_px: f64,
        curvature_at: impl Fn(f64) -> f64,
    ) -> Course {
        let n_before = (before_px / COURSE_STEP_PX).ceil() as usize;
        let n_after = ((after_px / COURSE_STEP_PX).ceil() as usize).max(1);
        let mut backward = walk(anchor, heading, n_before, -COURSE_STEP_PX, &curvature_at);
        backward.reverse();
        backward.pop();
        let mut states = backward;
        states.extend(walk(anchor, heading, n_after, COURSE_STEP_PX, &curvature_at));
        Course {
            points: states.iter().map(|s| s.at).collect(),
            tangents: states.iter().map(|s| direction(s.heading)).collect(),
            curvatures: states.iter().map(|s| s.curvature).collect(),
        }
    }

    /// The course as a move of the plane takes it, sampled anew.
    pub fn moved(&self, by: &Similarity) -> Course {
        let factor = by.factor();
        let n = ((self.length_px() * factor / COURSE_STEP_PX).floor() as usize).max(1);
        let places: Vec<f64> = (0..=n).map(|i| i as f64 * COURSE_STEP_PX / factor).collect();
        Course {
            points: places.iter().map(|s| by.of(self.at(*s))).collect(),
            tangents: places.iter().map(|s| by.of_direction(self.tangent(*s)).unit()).collect(),
            curvatures: places.iter().map(|s| self.curvature(*s) / factor).collect(),
        }
    }

    /// The points, every [`COURSE_STEP_PX`] of arc length.
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// Whole length, pixels.
    pub fn length_px(&self) -> f64 {
        (self.points.len() - 1) as f64 * COURSE_STEP_PX
    }

    /// The place at arc length `s_px`; straight on beyond both ends.
    pub fn at(&self, s_px: f64) -> Point {
        let (i, f) = self.cell(s_px);
        let (a, b) = (self.points[i], self.points[i + 1]);
        Point::new(a.x + (b.x - a.x) * f, a.y + (b.y - a.y) * f)
    }

    /// Unit tangent at arc length `s_px`.
    pub fn tangent(&self, s_px: f64) -> Vec2 {
        let (i, f) = self.cell(s_px);
        let f = f.clamp(0.0, 1.0);
        let (a, b) = (self.tangents[i], self.tangents[i + 1]);
        let mixed = Vec2::new(a.x + (b.x - a.x) * f, a.y + (b.y - a.y) * f);
        mixed * (1.0 / mixed.dot(mixed).sqrt())
    }

    /// Curvature at arc length `s_px`, 1/pixel; positive when the course turns towards its normal.
    pub fn curvature(&self, s_px: f64) -> f64 {
        self.curvatures[self.cell(s_px).0]
    }

    /// The foot of `place` near the arc length `guess_px`, by Newton steps.
    ///
    /// Right to a thousandth of a pixel when the place is nearer than two thirds of the radius of curvature.
    pub fn foot(&self, place: Point, guess_px: f64) -> Foot {
        let mut s_px = guess_px;
        for _ in 0..8 {
            let (i, f) = self.cell(s_px);
            let inside = f.clamp(0.0, 1.0);
            let (a, b) = (self.points[i], self.points[i + 1]);
            let (dx, dy) = (place.x - (a.x + (b.x - a.x) * f), place.y - (a.y + (b.y - a.y) * f));
            let (ta, tb) = (self.tangents[i], self.tangents[i + 1]);
            let (tx, ty) = (ta.x + (tb.x - ta.x) * inside, ta.y + (tb.y - ta.y) * inside);
            let along = dx * tx + dy * ty;
            let across = dy * tx - dx * ty;
            // Lines parallel to the course at distance x are stretched by 1 − curvature · x.
            let stretch = (1.0 - self.curvatures[i] * across).max(0.25);
            if along.abs() < 1e-3 {
                return Foot { s_px: s_px + along / stretch, x_px: across };
            }
            s_px += along / stretch;
        }
        let (at, tangent) = (self.at(s_px), self.tangent(s_px));
        let off = place - at;
        Foot { s_px, x_px: tangent.cross(off) }
    }

    fn cell(&self, s_px: f64) -> (usize, f64) {
        let t = s_px * (1.0 / COURSE_STEP_PX);
        let i = (t.max(0.0) as usize).min(self.points.len() - 2);
        (i, t - i as f64)
    }
}

/// How far one can walk from `from` (in the direction of the heading for a `sign` of 1, against it for −1), at most
/// `length_px`, while all places are `within`; in coarse steps, so right to [`SCOUT_STEP_PX`].
pub(super) fn scouted_px(
    from: Point,
    heading: f64,
    sign: f64,
    length_px: f64,
    curvature_at: impl Fn(f64) -> f64,
    within: impl Fn(Point) -> bool,
) -> f64 {
    let (mut at, mut heading, mut walked) = (from, heading, 0.0);
    while walked < length_px {
        let step_px = sign * SCOUT_STEP_PX.min(length_px - walked);
        let middle = curvature_at(sign * walked + 0.5 * step_px);
        at = at + direction(heading + 0.5 * step_px * middle) * step_px;
        heading += step_px * middle;
        walked += step_px.abs();
        if !within(at) {
            break;
        }
    }
    if within(at) { length_px } else { walked.min(length_px - 1e-9) }
}

/// Step of a coarse walk, pixels: small against every wave a shaft has.
const SCOUT_STEP_PX: f64 = 8.0;

/// The state of a walker on the course.
#[derive(Clone, Copy)]
struct State {
    at: Point,
    heading: f64,
    curvature: f64,
}

fn walk(from: Point, heading: f64, n_steps: usize, step_px: f64, curvature_at: &impl Fn(f64) -> f64) -> Vec<State> {
    let mut states = Vec::with_capacity(n_steps + 1);
    let mut at = from;
    let mut heading = heading;
    states.push(State { at, heading, curvature: curvature_at(0.0) });
    for i in 0..n_steps {
        // Midpoint rule: heading in the middle of the step, so that an arc is followed to third order.
        let middle = curvature_at((i as f64 + 0.5) * step_px);
        let step = direction(heading + 0.5 * step_px * middle);
        at = at + step * step_px;
        heading += step_px * middle;
        states.push(State { at, heading, curvature: curvature_at((i + 1) as f64 * step_px) });
    }
    states
}

fn direction(angle: f64) -> Vec2 {
    Vec2::new(libm::cos(angle), libm::sin(angle))
}

#[cfg(test)]
mod tests {
    use super::Course;
    use crate::maths::point::Point;

    #[test]
    fn a_circle_closes_and_feet_lie_on_it() {
        let radius = 80.0;
        let around = std::f64::consts::TAU * radius;
        let course = Course::grown(Point::new(0.0, 0.0), 0.0, 0.0, around, |_| 1.0 / radius);
        let gap = course.at(around).distance(Point::new(0.0, 0.0));
        assert!(gap < 0.01, "the circle misses its start by {gap} px");
        // The centre lies on the side of the normal at distance `radius` (closed form).
        for angle in [0.3f64, 1.0, 2.5] {
            for off in [-30.0, -3.0, 0.0, 4.0, 40.0] {
                let r = radius - off;
                let place = Point::new(r * angle.sin(), radius - r * angle.cos());
                let foot = course.foot(place, angle * radius + 8.0);
                assert!((foot.x_px - off).abs() < 2e-3, "distance {} for {off}", foot.x_px);
                assert!((foot.s_px - angle * radius).abs() < 5e-3, "arc {} for {}", foot.s_px, angle * radius);
            }
        }
    }

    #[test]
    fn a_course_runs_to_both_sides_of_its_anchor() {
        let course = Course::grown(Point::new(10.0, 5.0), 0.0, 4.0, 6.0, |_| 0.0);
        assert_eq!(course.at(0.0), Point::new(6.0, 5.0));
        assert_eq!(course.length_px(), 10.0);
        assert_eq!(course.at(12.0), Point::new(18.0, 5.0), "straight on beyond the end");
    }
}
