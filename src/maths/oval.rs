//! The ellipse that lies closest to points, no more drawn out than a limit.

use std::f64::consts::PI;

use super::circle::Circle;
use super::point::{Point, Vec2};

/// Directions of the long axis and ratios of the axes that are tried, between a circle and the limit; and how often the
/// steps between them are then halved about the best.
const DIRECTIONS: usize = 12;
/// See [`DIRECTIONS`].
const RATIOS: usize = 5;
/// See [`DIRECTIONS`].
const HALVINGS: usize = 4;

/// An ellipse: a circle in the plane that is squeezed along one direction and widened across it, areas kept.
#[derive(Clone, Copy, Debug)]
pub struct Oval {
    /// The circle in that plane; its radius is the root of the product of the half axes.
    pub circle: Circle,
    /// Unit vector along the long axis.
    along: Vec2,
    /// Root of the ratio of the long axis to the short one, 1 and more.
    squeeze: f64,
}

impl Oval {
    /// The circle closest to the points. `None` as of [`Circle::through`].
    pub fn round(points: &[Point]) -> Option<Oval> {
        Some(Oval { circle: Circle::through(points)?, along: Vec2::new(1.0, 0.0), squeeze: 1.0 })
    }

    /// The ellipse closest to the points whose axes have a ratio of at most `most_ratio`: of all planes tried the one
    /// in which a circle lies closest. `None` as of [`Circle::through`].
    ///
    /// Weakness: an arc of less than about half a turn lies close to many ellipses.
    pub fn through(points: &[Point], most_ratio: f64) -> Option<Oval> {
        let most = most_ratio.max(1.0).ln();
        let in_plane = |direction: f64, ln_ratio: f64| {
            let (along, squeeze) = (Vec2::from_angle(direction), (0.5 * ln_ratio).exp());
            let plane: Vec<Point> = points.iter().map(|p| squeezed(*p, along, squeeze)).collect();
            Some(Oval { circle: Circle::through(&plane)?, along, squeeze })
        };
        let off = |oval: &Oval| oval.circle.off / oval.circle.radius;
        let (mut turn, mut step) = (PI / DIRECTIONS as f64, most / RATIOS as f64);
        let grid = (1..=RATIOS).flat_map(|k| (0..DIRECTIONS).map(move |i| (i as f64, k as f64)));
        let mut best = Oval::round(points)?;
        let mut at = None;
        for (direction, ln_ratio) in grid.map(|(i, k)| (i * turn, k * step)) {
            if let Some(oval) = in_plane(direction, ln_ratio).filter(|oval| off(oval) < off(&best)) {
                (best, at) = (oval, Some((direction, ln_ratio)));
            }
        }
        let Some(mut at) = at else { return Some(best) };
        for _ in 0..HALVINGS {
            (turn, step) = (0.5 * turn, 0.5 * step);
            let (direction, ln_ratio) = at;
            for (i, k) in [-1.0, 0.0, 1.0].iter().flat_map(|i| [-1.0, 0.0, 1.0].map(|k| (i * turn, k * step))) {
                let place = (direction + i, (ln_ratio + k).clamp(0.0, most));
                if let Some(oval) = in_plane(place.0, place.1).filter(|oval| off(oval) < off(&best)) {
                    (best, at) = (oval, place);
                }
            }
        }
        Some(best)
    }

    /// Whether it is a circle.
    pub fn is_round(&self) -> bool {
        self.squeeze <= 1.0
    }

    /// Its middle.
    pub fn centre(&self) -> Point {
        squeezed(self.circle.centre, self.along, 1.0 / self.squeeze)
    }

    /// Distance of a point from the middle in units of the ellipse's own half axis that way, times the circle's radius:
    /// the circle's radius on the ellipse.
    pub fn radius_at(&self, p: Point) -> f64 {
        self.in_plane(p).distance(self.circle.centre)
    }

    /// The direction of a point from the middle in the plane where the ellipse is a circle, radians, −π to π.
    pub fn angle_of(&self, p: Point) -> f64 {
        (self.in_plane(p) - self.circle.centre).angle()
    }

    /// The point in that direction whose [`Oval::radius_at`] is `radius`.
    pub fn at(&self, angle: f64, radius: f64) -> Point {
        squeezed(self.circle.centre + Vec2::from_angle(angle) * radius, self.along, 1.0 / self.squeeze)
    }

    fn in_plane(&self, p: Point) -> Point {
        squeezed(p, self.along, self.squeeze)
    }
}

fn squeezed(p: Point, along: Vec2, by: f64) -> Point {
    let from = p - Point::default();
    let across = along.normal();
    Point::default() + along * (from.dot(along) / by) + across * (from.dot(across) * by)
}

#[cfg(test)]
mod tests {
    use super::Oval;
    use crate::maths::point::{Point, Vec2};

    /// Points of the ellipse with half axes 60 and 40 about (150, −30), the long one turned by 0.6.
    fn ellipse(from: f64, to: f64) -> Vec<Point> {
        let along = Vec2::from_angle(0.6);
        (0..61)
            .map(|i| from + (to - from) * f64::from(i) / 60.0)
            .map(|t| Point::new(150.0, -30.0) + along * (60.0 * t.cos()) + along.normal() * (40.0 * t.sin()))
            .collect()
    }

    #[test]
    fn an_ellipse_and_most_of_one_give_it_back() {
        for (from, to) in [(0.0, 6.2), (0.5, 4.6)] {
            let points = ellipse(from, to);
            let oval = Oval::through(&points, 2.0).unwrap();
            assert!(oval.circle.off < 0.01 * oval.circle.radius, "{oval:?}");
            assert!(oval.centre().distance(Point::new(150.0, -30.0)) < 1.0, "{:?}", oval.centre());
            assert!((oval.circle.radius / (60.0 * 40.0_f64).sqrt() - 1.0).abs() < 0.02, "{oval:?}");
            let round = Oval::round(&points).unwrap();
            assert!(oval.circle.off < 0.1 * round.circle.off, "{round:?}");
        }
    }

    #[test]
    fn places_in_the_plane_and_back_are_the_same() {
        let oval = Oval::through(&ellipse(0.0, 6.0), 2.0).unwrap();
        for p in [Point::new(170.0, 10.0), Point::new(90.0, -60.0)] {
            assert!(oval.at(oval.angle_of(p), oval.radius_at(p)).distance(p) < 1e-9);
        }
    }

    #[test]
    fn no_ellipse_is_more_drawn_out_than_the_limit_and_a_line_has_none() {
        let drawn_out: Vec<Point> = ellipse(0.0, 6.2).iter().map(|p| Point::new(3.0 * p.x, p.y)).collect();
        let oval = Oval::through(&drawn_out, 1.3).unwrap();
        assert!(oval.circle.off > 0.1 * oval.circle.radius, "{oval:?}");
        assert!(Oval::through(&[Point::new(0.0, 0.0), Point::new(1.0, 1.0), Point::new(2.0, 2.0)], 2.0).is_none());
    }
}
