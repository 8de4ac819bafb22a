//! 2 · The field of view, fit to be measured.

use crate::maths::point::Point;

mod background;

mod disc;

mod from_image;

mod noise;

mod open_ground;

pub use from_image::{Field, Settings, from_image};

/// The bright disc that an eyepiece shows on a dark ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Disc {
    /// Its centre, full-resolution pixels.
    pub centre: Point,
    /// Its radius, full-resolution pixels.
    pub radius_px: f64,
}

/// Standard deviation of one full-resolution pixel in linear light as a function of brightness:
/// sd² = floor² + slope · light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Standard deviation in the dark (read noise and rounding), linear light.
    pub floor: f32,
    /// Growth of the variance with light (photon noise), linear light.
    pub slope: f32,
}

impl Noise {
    /// Standard deviation of one full-resolution pixel at this brightness, linear light.
    pub fn sd(&self, light: f32) -> f32 {
        (self.floor * self.floor + self.slope * light.max(0.0)).sqrt()
    }
}
