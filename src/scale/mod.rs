//! The scale of an objective and camera, from photos of a stage micrometer: a slide with lines ruled at a known pitch.
//!
//! A side flow of its own: bytes → image → scale. Lines are sought in any direction (`direction`), read off
//! band by band across the photo (`bands`, `lines`), counted by their even spacing (`comb`), placed with the mean
//! line as a template (`template`), and fitted all together (`joint`); several directions or photos are joined in
//! `combine`. What a lens of a known aperture can show at that scale is in `resolution`.
//!
//! Weakness: that the lines seen lie one `pitch` apart is the user's word. Where a photo shows only the long lines of
//! a scale, every fifth or tenth, the count that is reported lets a person notice.

mod bands;

mod comb;

mod combine;

mod direction;

mod from_image;

mod joint;

mod lines;

mod measure;

mod resolution;

mod template;

pub use combine::{Found, Pitch, Squareness, combine};

pub use from_image::{Rulings, from_image};

pub use resolution::{Aperture, Resolution};

/// One family of parallel lines on one photo, measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Ruling {
    /// Lines a pixel along x and along y: the mean over the photo of the gradient of the line count.
    pub lines_per_px: [f64; 2],
    /// Standard uncertainty of the number of lines a pixel, as a share of it: from the scatter of the lines.
    pub sd_share: f64,
    /// Distance between neighbouring lines, mean over the photo, pixels.
    pub pitch_px: f64,
    /// Direction across the lines, degrees, 0 to 180: 0 for upright lines, growing towards y (downwards).
    pub angle_deg: f64,
    /// Lines that were used.
    pub n_lines: usize,
    /// Places at which lines were read off and used.
    pub n_places: usize,
    /// Pitches between the first and the last line.
    pub n_pitches: usize,
    /// Distance between the first and the last line, pixels.
    pub span_px: f64,
    /// That distance as a share of the photo's extent in the same direction, 0 to 1.
    pub span_share: f64,
    /// How far places lie off the fitted ruling, root mean square, pixels.
    pub residual_px: f64,
    /// How the local scale differs over the photo from its mean; absent when no difference was evident.
    pub distortion: Option<Distortion>,
    /// Whether the lines are darker than what is between them.
    pub dark: bool,
    /// Brightness of the lines against what is between them, as a share of the brighter one, 0 to 1.
    pub contrast: f64,
}

/// How the local scale differs over the photo from its mean, along the direction across the lines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Distortion {
    /// Root mean square over the photo, as a share of the mean scale.
    pub rms_share: f64,
    /// The largest over the photo, as a share of the mean scale.
    pub largest_share: f64,
}

/// Why there is no scale. The sentence says what is wrong; [`ScaleError::help`] what to do.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum ScaleError {
    /// The pitch is no length above 0.
    #[error("{0} micrometres is no pitch of a ruling")]
    Pitch(f64),
    /// The pitch's uncertainty is none.
    #[error("{0} micrometres is no uncertainty of that pitch")]
    PitchSd(f64),
    /// No ruling was seen.
    #[error("no evenly ruled lines of a stage micrometer are seen on the photo")]
    NoRuling,
    /// Photos of different size were given for one setup.
    #[error("the photos differ in size ({} × {} and {} × {} pixels)", .0[0], .0[1], .1[0], .1[1])]
    DifferentSizes([usize; 2], [usize; 2]),
    /// Two rulings in about the same direction give scales that differ by more than their uncertainty.
    #[error("the rulings give scales that disagree: {0:.5} and {1:.5} micrometres a pixel")]
    Disagree(f64, f64),
    /// The scales along x and along y differ too much for one number.
    #[error("the scales along the photo's width and height disagree: {0:.5} and {1:.5} micrometres a pixel")]
    NotSquare(f64, f64),
}

impl ScaleError {
    /// What to do about it, one sentence.
    pub fn help(&self) -> &'static str {
        match self {
            ScaleError::Pitch(_) => {
                "Give the distance between neighbouring lines as the micrometer states it, often --pitch-um 10."
            }
            ScaleError::PitchSd(_) => "Give one standard deviation in micrometres, 0 or more and below the pitch.",
            ScaleError::NoRuling => {
                "Focus on the lines, let at least five of them cross the photo, and photograph them again."
            }
            ScaleError::DifferentSizes(..) => "Photograph with one objective, camera and picture size, uncropped.",
            ScaleError::Disagree(..) => {
                "Photograph the same micrometer with the same objective and zoom, and give its pitch."
            }
            ScaleError::NotSquare(..) => {
                "Check that no photo was stretched and that all were taken with one objective and zoom."
            }
        }
    }
}
