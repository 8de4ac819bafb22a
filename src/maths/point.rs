//! A point and a vector in the picture plane, and the one coordinate convention.
//!
//! x points right, y points down, and (0, 0) is the *centre* of the top-left pixel, so that the picture
//! covers −0.5 to width − 0.5. All lengths are pixels of the full-resolution photo unless a name says otherwise.
//! Angles are measured from +x towards +y, in radians.

use std::ops::{Add, Mul, Neg, Sub};

/// A place in the picture, in pixels.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Point {
    /// Pixels to the right of the centre of the top-left pixel.
    pub x: f64,
    /// Pixels below the centre of the top-left pixel.
    pub y: f64,
}

/// A displacement between two places, in pixels. Two points do not add; a point and a vector do.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Vec2 {
    /// Pixels to the right.
    pub x: f64,
    /// Pixels downwards.
    pub y: f64,
}

impl Point {
    /// The place `x` pixels right and `y` pixels below the centre of the top-left pixel.
    pub const fn new(x: f64, y: f64) -> Point {
        Point { x, y }
    }

    /// Distance to `other`, in pixels.
    pub fn distance(self, other: Point) -> f64 {
        (other - self).length()
    }

    /// The place a share `t` of the way to `other` (0 = here, 1 = there).
    pub fn lerp(self, other: Point, t: f64) -> Point {
        self + (other - self) * t
    }
}

impl Vec2 {
    /// The displacement `x` pixels right and `y` pixels down.
    pub const fn new(x: f64, y: f64) -> Vec2 {
        Vec2 { x, y }
    }

    /// The unit vector at `angle` radians from +x towards +y.
    pub fn from_angle(angle: f64) -> Vec2 {
        Vec2::new(angle.cos(), angle.sin())
    }

    /// Euclidean length, in pixels.
    pub fn length(self) -> f64 {
        // Pixels neither overflow nor vanish when squared, and a root is the same on every machine.
        self.dot(self).sqrt()
    }

    /// Inner product.
    pub fn dot(self, other: Vec2) -> f64 {
        self.x * other.x + self.y * other.y
    }

    /// z component of the outer product; above 0 when `other` lies clockwise on screen.
    pub fn cross(self, other: Vec2) -> f64 {
        self.x * other.y - self.y * other.x
    }

    /// The same direction with length 1; the zero vector stays zero.
    pub fn unit(self) -> Vec2 {
        let length = self.length();
        if length > 0.0 { self * (1.0 / length) } else { self }
    }

    /// Turned by a quarter: the normal on the side of growing y for a vector along +x.
    pub fn normal(self) -> Vec2 {
        Vec2::new(-self.y, self.x)
    }

    /// Angle from +x towards +y, −π to π.
    pub fn angle(self) -> f64 {
        self.y.atan2(self.x)
    }
}

impl Sub for Point {
    type Output = Vec2;
    fn sub(self, other: Point) -> Vec2 {
        Vec2::new(self.x - other.x, self.y - other.y)
    }
}

impl Add<Vec2> for Point {
    type Output = Point;
    fn add(self, by: Vec2) -> Point {
        Point::new(self.x + by.x, self.y + by.y)
    }
}

impl Sub<Vec2> for Point {
    type Output = Point;
    fn sub(self, by: Vec2) -> Point {
        Point::new(self.x - by.x, self.y - by.y)
    }
}

impl Add for Vec2 {
    type Output = Vec2;
    fn add(self, other: Vec2) -> Vec2 {
        Vec2::new(self.x + other.x, self.y + other.y)
    }
}

impl Sub for Vec2 {
    type Output = Vec2;
    fn sub(self, other: Vec2) -> Vec2 {
        Vec2::new(self.x - other.x, self.y - other.y)
    }
}

impl Mul<f64> for Vec2 {
    type Output = Vec2;
    fn mul(self, by: f64) -> Vec2 {
        Vec2::new(self.x * by, self.y * by)
    }
}

impl Neg for Vec2 {
    type Output = Vec2;
    fn neg(self) -> Vec2 {
        Vec2::new(-self.x, -self.y)
    }
}

#[cfg(test)]
mod tests {
    use super::{Point, Vec2};

    #[test]
    fn the_normal_of_rightwards_is_downwards() {
        assert_eq!(Vec2::new(1.0, 0.0).normal(), Vec2::new(0.0, 1.0));
    }

    #[test]
    fn a_point_moves_by_a_vector_and_back() {
        let moved = Point::new(1.0, 2.0) + Vec2::new(3.0, -1.0);
        assert_eq!(moved - Point::new(1.0, 2.0), Vec2::new(3.0, -1.0));
    }
}
