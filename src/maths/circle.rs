//! The circle that lies closest to points.

use super::point::Point;

/// A circle fitted to points, lengths in the unit of the points.
#[derive(Clone, Copy, Debug)]
pub struct Circle {
    /// Its middle.
    pub centre: Point,
    /// Its radius, more than 0.
    pub radius: f64,
    /// Root mean square distance of the points from it.
    pub off: f64,
}

impl Circle {
    /// The algebraic fit, linear in the coefficients of x² + y² + ax + by + c = 0 (I. Kåsa, "A circle fitting procedure
    /// and its error analysis", 1976, from memory). `None` for fewer than three points, and for points that tell no
    /// circle: all in one place or on one line.
    ///
    /// Weakness: with noise on a short arc the radius comes out too small, by about the noise's variance over the
    /// arc's height.
    pub fn through(points: &[Point]) -> Option<Circle> {
        if points.len() < 3 {
            return None;
        }
        let n = points.len() as f64;
        let (mx, my) = points.iter().fold((0.0, 0.0), |a, p| (a.0 + p.x / n, a.1 + p.y / n));
        let mut normal = nalgebra::Matrix3::<f64>::zeros();
        let mut right = nalgebra::Vector3::<f64>::zeros();
        for p in points {
            let (x, y) = (p.x - mx, p.y - my);
            let row = nalgebra::Vector3::new(x, y, 1.0);
            normal += row * row.transpose();
            right += row * (x * x + y * y);
        }
        let s = normal.lu().solve(&right)?;
        let centre = Point::new(mx + s[0] / 2.0, my + s[1] / 2.0);
        let radius = (s[2] + s[0] * s[0] / 4.0 + s[1] * s[1] / 4.0).max(0.0).sqrt();
        let off = (points.iter().map(|p| (p.distance(centre) - radius).powi(2)).sum::<f64>() / n).sqrt();
        (radius > 0.0 && radius.is_finite() && off.is_finite()).then_some(Circle { centre, radius, off })
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::Circle;
    use crate::maths::point::{Point, Vec2};

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() < 1e-9 * b.abs().max(1.0)
    }

    #[test]
    fn three_points_give_the_circle_through_their_triangle() {
        // The right triangle of sides 3, 4 and 5: the middle of the longest side, half of it (Thales).
        let circle = Circle::through(&[Point::new(0.0, 0.0), Point::new(4.0, 0.0), Point::new(0.0, 3.0)]).unwrap();
        assert!(near(circle.centre.x, 2.0) && near(circle.centre.y, 1.5), "{circle:?}");
        assert!(near(circle.radius, 2.5) && circle.off < 1e-9, "{circle:?}");
        // Any triangle: radius = abc / (4 × area), wherever it lies.
        let [a, b, c] = [Point::new(913.0, -41.5), Point::new(926.0, -30.0), Point::new(911.5, -18.0)];
        let area = 0.5 * (b - a).cross(c - a).abs();
        let circle = Circle::through(&[a, b, c]).unwrap();
        assert!(near(circle.radius, a.distance(b) * b.distance(c) * c.distance(a) / (4.0 * area)), "{circle:?}");
    }

    #[test]
    fn an_arc_gives_its_circle_back() {
        let middle = Point::new(150.0, -40.0);
        for (from, to) in [(0.0, TAU), (0.3, 1.4), (2.0, 2.2)] {
            let arc: Vec<Point> =
                (0..41).map(|i| middle + Vec2::from_angle(from + (to - from) * f64::from(i) / 40.0) * 80.0).collect();
            let circle = Circle::through(&arc).unwrap();
            assert!(circle.centre.distance(middle) < 1e-6 && (circle.radius - 80.0).abs() < 1e-6, "{circle:?}");
        }
    }

    #[test]
    fn points_evenly_inside_and_outside_have_the_algebraic_radius() {
        // Even numbers of points at radii r ± d, alternating: the fit's radius is √(r² + d²) by its own equations, and
        // the points' distances from it have the mean square (√(r² + d²) − r)² + d².
        let (r, d) = (50.0, 3.0);
        let ring: Vec<Point> = (0..40)
            .map(|i| {
                let out = if i % 2 == 0 { r + d } else { r - d };
                Point::new(7.0, 9.0) + Vec2::from_angle(f64::from(i) / 40.0 * TAU) * out
            })
            .collect();
        let circle = Circle::through(&ring).unwrap();
        let radius = (r * r + d * d).sqrt();
        assert!(near(circle.centre.x, 7.0) && near(circle.centre.y, 9.0), "{circle:?}");
        assert!(near(circle.radius, radius), "{circle:?}");
        assert!(near(circle.off, ((radius - r).powi(2) + d * d).sqrt()), "{circle:?}");
    }

    #[test]
    fn what_is_no_circle_gives_none() {
        assert!(Circle::through(&[]).is_none());
        assert!(Circle::through(&[Point::new(1.0, 2.0), Point::new(3.0, 4.0)]).is_none());
        assert!(Circle::through(&[Point::new(1.0, 2.0); 5]).is_none(), "one place");
        let line: Vec<Point> = (0..8).map(|i| Point::new(f64::from(i), 2.0)).collect();
        assert!(Circle::through(&line).is_none(), "one line");
    }
}
