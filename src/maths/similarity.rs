//! A similarity of the plane: a turn, a factor and a shift; and the one that brings lines onto lines.
//!
//! A place on a line tells only how far it lies off across the line, not along it, so that what is fitted are
//! distances along normals (Chen and Medioni, "Object modelling by registration of multiple range images", Image and
//! Vision Computing 10, 1992, 145-155, from memory). With x' = a x − b y + u, y' = b x + a y + v those distances are
//! linear in (a, b, u, v): one solution of normal equations, repeated with Tukey's weights against what does not
//! belong. Where all lines run one way, what they cannot tell stays as it was (a weak tie to the start).

use nalgebra::{Matrix4, Vector4};

use super::point::{Point, Vec2};
use super::robust::SD_PER_MAD;
use super::stats::median;

/// Residuals beyond this many robust standard deviations have no weight (Tukey's biweight, its usual constant, from
/// memory).
const TUKEY: f64 = 4.685;
/// Rounds of weighting; residuals change little after the fifth.
const ROUNDS: usize = 12;
/// Least scale of residuals, pixels: without it an exact fit would give weights to nothing.
const LEAST_SCALE_PX: f64 = 0.02;

/// x' = a x − b y + u, y' = b x + a y + v.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Similarity {
    /// Factor times the cosine of the turn.
    pub a: f64,
    /// Factor times the sine of the turn.
    pub b: f64,
    /// Where the origin goes.
    pub shift: Vec2,
}

/// A place and the line it should lie on after the move.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pull {
    /// The place before the move.
    pub from: Point,
    /// A place on the line.
    pub to: Point,
    /// Unit normal of the line there.
    pub normal: Vec2,
    /// How much it counts.
    pub weight: f64,
}

/// A similarity found from pulls.
#[derive(Clone, Debug, PartialEq)]
pub struct Fitted {
    /// The move.
    pub similarity: Similarity,
    /// Robust standard deviation of what is left across the lines, pixels.
    pub residual_px: f64,
    /// What is left of each pull, pixels along its normal.
    pub left_px: Vec<f64>,
}

impl Similarity {
    /// Nothing moves.
    pub const NONE: Similarity = Similarity { a: 1.0, b: 0.0, shift: Vec2 { x: 0.0, y: 0.0 } };

    /// Turned by `turn` radians (from +x towards +y) and enlarged by `factor` about `pivot`, then shifted.
    pub fn about(pivot: Point, turn: f64, factor: f64, shift: Vec2) -> Similarity {
        let (a, b) = (factor * turn.cos(), factor * turn.sin());
        let moved = Vec2::new(a * pivot.x - b * pivot.y, b * pivot.x + a * pivot.y);
        Similarity { a, b, shift: Vec2::new(pivot.x - moved.x + shift.x, pivot.y - moved.y + shift.y) }
    }

    /// Where a place goes.
    pub fn of(&self, p: Point) -> Point {
        Point::new(self.a * p.x - self.b * p.y + self.shift.x, self.b * p.x + self.a * p.y + self.shift.y)
    }

    /// Where a direction goes; its length changes by the factor.
    pub fn of_direction(&self, v: Vec2) -> Vec2 {
        Vec2::new(self.a * v.x - self.b * v.y, self.b * v.x + self.a * v.y)
    }

    /// How many times longer lengths become.
    pub fn factor(&self) -> f64 {
        self.a.hypot(self.b)
    }

    /// The turn, radians from +x towards +y.
    pub fn turn(&self) -> f64 {
        self.b.atan2(self.a)
    }

    /// How far a place is moved.
    pub fn shift_at(&self, p: Point) -> Vec2 {
        self.of(p) - p
    }

    /// The move back; `None` when everything would fall into one place.
    pub fn inverse(&self) -> Option<Similarity> {
        let square = self.a * self.a + self.b * self.b;
        (square > 1e-12 && square.is_finite()).then(|| {
            let (a, b) = (self.a / square, -self.b / square);
            let shift = Vec2::new(-(a * self.shift.x - b * self.shift.y), -(b * self.shift.x + a * self.shift.y));
            Similarity { a, b, shift }
        })
    }

    /// First this move, then `next`.
    pub fn then(&self, next: &Similarity) -> Similarity {
        Similarity {
            a: next.a * self.a - next.b * self.b,
            b: next.b * self.a + next.a * self.b,
            shift: next.of_direction(self.shift) + next.shift,
        }
    }

    /// The same move for places counted in blocks of `by` × `by` pixels, from one grid of blocks to the other.
    pub fn in_blocks(&self, by: f64) -> Similarity {
        let whole = |p: Point| Point::new((p.x + 0.5) * by - 0.5, (p.y + 0.5) * by - 0.5);
        let origin = self.of(whole(Point::new(0.0, 0.0)));
        Similarity { shift: Vec2::new((origin.x + 0.5) / by - 0.5, (origin.y + 0.5) / by - 0.5), ..*self }
    }

    /// The same move for single pixels, of one found between grids of blocks of `by` × `by` pixels.
    pub fn in_pixels(&self, by: f64) -> Similarity {
        self.in_blocks(1.0 / by)
    }
}

/// Pulls whose errors go together: neighbouring places of a line are off alike.
const TOGETHER: f64 = 20.0;

/// The similarity nearest to what the pulls ask for. `start` holds what they leave open, `tie_px` how far it may be
/// off there, pixels. `None` with fewer than four pulls or when nothing finite comes out.
pub fn fitted(pulls: &[Pull], start: &Similarity, tie_px: f64) -> Option<Fitted> {
    if pulls.len() < 4 {
        return None;
    }
    // About the middle, in units of the spread: the equations are then well conditioned.
    let n = pulls.len() as f64;
    let middle =
        Point::new(pulls.iter().map(|p| p.from.x).sum::<f64>() / n, pulls.iter().map(|p| p.from.y).sum::<f64>() / n);
    let spread = (pulls.iter().map(|p| p.from.distance(middle).powi(2)).sum::<f64>() / n).sqrt().max(1.0);
    let mut now = *start;
    let mut left_px = left(pulls, &now);
    let mut scale = scale_of(&left_px)?;
    for _ in 0..ROUNDS {
        // Tied to the start, not to the last round: or what the pulls hardly tell would wander off round by round.
        let tie = TOGETHER * (scale / tie_px.max(LEAST_SCALE_PX)).powi(2);
        let aside = now.of(middle) - start.of(middle);
        let gone = Vector4::new((now.a - start.a) * spread, (now.b - start.b) * spread, aside.x, aside.y);
        let mut matrix = Matrix4::identity() * tie;
        let mut right = gone * -tie;
        for (pull, left) in pulls.iter().zip(&left_px) {
            let weight = pull.weight * tukey(left / scale);
            let (x, y) = ((pull.from.x - middle.x) / spread, (pull.from.y - middle.y) / spread);
            let normal = pull.normal;
            let row = Vector4::new(normal.x * x + normal.y * y, normal.y * x - normal.x * y, normal.x, normal.y);
            matrix += row * row.transpose() * weight;
            right -= row * (weight * left);
        }
        let step = matrix.cholesky()?.solve(&right);
        let (da, db) = (step[0] / spread, step[1] / spread);
        now.a += da;
        now.b += db;
        now.shift.x += step[2] - (da * middle.x - db * middle.y);
        now.shift.y += step[3] - (db * middle.x + da * middle.y);
        left_px = left(pulls, &now);
        scale = scale_of(&left_px)?;
    }
    let finite = [now.a, now.b, now.shift.x, now.shift.y].iter().all(|v| v.is_finite());
    finite.then_some(Fitted { similarity: now, residual_px: scale, left_px })
}

fn left(pulls: &[Pull], by: &Similarity) -> Vec<f64> {
    pulls.iter().map(|pull| (by.of(pull.from) - pull.to).dot(pull.normal)).collect()
}

/// About nought, not about their own median: a shift that is left is an error as well.
fn scale_of(left_px: &[f64]) -> Option<f64> {
    let mut off: Vec<f64> = left_px.iter().map(|left| left.abs()).collect();
    Some((SD_PER_MAD * median(&mut off)?).max(LEAST_SCALE_PX))
}

fn tukey(deviations: f64) -> f64 {
    let share = deviations / TUKEY;
    if share.abs() >= 1.0 { 0.0 } else { (1.0 - share * share).powi(2) }
}

#[cfg(test)]
mod tests {
    use super::{Pull, Similarity, fitted};
    use crate::maths::point::{Point, Vec2};

    fn near(a: Point, b: Point) -> bool {
        a.distance(b) < 1e-9
    }

    #[test]
    fn a_move_and_its_way_back_and_moves_in_a_row() {
        let first = Similarity::about(Point::new(50.0, 20.0), 0.2, 1.1, Vec2::new(3.0, -4.0));
        assert!(near(first.of(Point::new(50.0, 20.0)), Point::new(53.0, 16.0)), "the pivot is only shifted");
        assert!((first.turn() - 0.2).abs() < 1e-12 && (first.factor() - 1.1).abs() < 1e-12);
        let p = Point::new(7.0, 90.0);
        assert!(near(first.inverse().unwrap().of(first.of(p)), p));
        let second = Similarity::about(Point::new(0.0, 9.0), -0.4, 0.7, Vec2::new(1.0, 2.0));
        assert!(near(first.then(&second).of(p), second.of(first.of(p))));
        assert_eq!(Similarity { a: 0.0, b: 0.0, ..first }.inverse(), None);
    }

    #[test]
    fn blocks_move_as_their_pixels_do() {
        let by = Similarity::about(Point::new(30.0, 40.0), 0.1, 0.9, Vec2::new(8.0, 3.0));
        let blocks = by.in_blocks(4.0);
        // The middle of block (5, 2) covers pixels 20 to 23 and 8 to 11.
        let middle = by.of(Point::new(21.5, 9.5));
        assert!(near(
            blocks.of(Point::new(5.0, 2.0)),
            Point::new((middle.x + 0.5) / 4.0 - 0.5, (middle.y + 0.5) / 4.0 - 0.5)
        ));
        assert!(near(blocks.in_pixels(4.0).of(Point::new(1.0, 2.0)), by.of(Point::new(1.0, 2.0))));
    }

    /// Lines in three directions, a tenth of which belong to nothing.
    fn pulls(by: &Similarity, directions: &[f64]) -> Vec<Pull> {
        let mut all = Vec::new();
        for (k, angle) in directions.iter().enumerate() {
            let along = Vec2::from_angle(*angle);
            for i in 0..60 {
                let from = Point::new(300.0, 200.0 + 70.0 * k as f64) + along * (4.0 * f64::from(i) - 120.0);
                let normal = by.of_direction(along).unit().normal();
                let stray = if i % 10 == 3 { 9.0 } else { 0.0 };
                let slid = by.of_direction(along) * (0.5 * f64::from(i % 7));
                all.push(Pull { from, to: by.of(from) + slid + normal * stray, normal, weight: 1.0 });
            }
        }
        all
    }

    #[test]
    fn lines_in_several_directions_give_the_move_whatever_lies_beside_them() {
        let truth = Similarity::about(Point::new(300.0, 250.0), 0.03, 1.02, Vec2::new(6.0, -11.0));
        let found = fitted(&pulls(&truth, &[0.1, 1.2, 2.2]), &Similarity::NONE, 10.0).unwrap();
        for corner in [Point::new(0.0, 0.0), Point::new(600.0, 0.0), Point::new(0.0, 400.0)] {
            assert!(found.similarity.of(corner).distance(truth.of(corner)) < 0.02, "{found:?}");
        }
        assert!(found.residual_px < 0.05, "{}", found.residual_px);
    }

    #[test]
    fn a_line_that_hardly_bends_does_not_pull_far_along_itself() {
        // Errors of a third of a pixel that go together over many places: least squares alone would slide it by over a
        // hundred pixels, since that turns them into bend.
        let pulls: Vec<Pull> = (0..200)
            .map(|i| {
                let t = f64::from(i) - 100.0;
                let from = Point::new(500.0 + 4.0 * t, 300.0 + 0.0002 * t * t);
                let normal = Vec2::new(4.0, 0.0004 * t).unit().normal();
                Pull { from, to: from + normal * (0.3 * (t / 30.0 + 1.0).sin()), normal, weight: 1.0 }
            })
            .collect();
        let found = fitted(&pulls, &Similarity::NONE, 2.0).unwrap().similarity;
        for x in [100.0, 500.0, 900.0] {
            let moved = found.shift_at(Point::new(x, 300.0));
            assert!(moved.length() < 2.0, "{moved:?}");
        }
    }

    #[test]
    fn lines_in_one_direction_leave_what_they_cannot_tell_as_it_was() {
        let truth = Similarity { shift: Vec2::new(2.0, 3.0), ..Similarity::NONE };
        let found = fitted(&pulls(&truth, &[0.0]), &Similarity::NONE, 10.0).unwrap().similarity;
        let moved = found.shift_at(Point::new(300.0, 200.0));
        assert!((moved.y - 3.0).abs() < 0.02 && moved.x.abs() < 0.1, "{moved:?}");
        assert!(fitted(&[], &Similarity::NONE, 1.0).is_none());
    }
}
