//! DOOR: a picture to the field that shows the slide.

use super::{Disc, Noise};
use crate::concerns::Concern;
use crate::image::Image;
use crate::maths::raster::Raster;
use crate::units::Scale;

/// The photo with its background, noise, trusted pixels and scale. Keeps the full-resolution picture,
/// because profiles need its pixels.
#[derive(Clone, Debug)]
pub struct Field {
    /// The full-resolution picture.
    pub picture: Image,
    /// Micrometres per pixel, where known.
    pub scale: Option<Scale>,
    /// The bright disc of an eyepiece photo.
    pub disc: Option<Disc>,
    /// How many full-resolution pixels make one pixel of `planes`, along each axis (1, 2, 4, ...).
    pub reduction: usize,
    /// Linear light at the reduced size, red, green, blue; means over `reduction`² pixels.
    pub planes: [Raster<f32>; 3],
    /// Light of tape and lamp without shafts, at the reduced size.
    pub background: [Raster<f32>; 3],
    /// Noise of one full-resolution pixel against brightness, a channel.
    pub noise: [Noise; 3],
    /// Reduced pixels that may be trusted: inside the field and not clipped.
    pub trusted: Raster<bool>,
    /// Share of the field's pixels that are clipped, 0 to 1.
    pub clipped_share: f64,
    /// What a person should know about the photo.
    pub concerns: Vec<Concern>,
}

/// What a user may set of this stage.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Settings {
    /// Micrometres per pixel as given or from a setup; overrides what the file states.
    pub scale: Option<Scale>,
}

/// The field of a picture: background and noise estimated, untrustworthy pixels masked, concerns noted.
pub fn from_image(picture: Image, settings: &Settings) -> Field {
    let _ = (picture, settings);
    unimplemented!("being written")
}
