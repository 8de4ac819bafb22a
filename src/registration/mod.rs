//! How a second photo of the same field lies to the first: a photo in visible light to the one under the UV lamp.
//!
//! First by maps of where things begin and end, which look alike in any light (`structure`, and
//! [`crate::maths::alignment`]); then by the shafts' middle lines as both photos show them, across which a station
//! tells a tenth of a pixel (`lines`). What does not fit is refused rather than used.

mod from_image;
mod lines;
mod structure;

pub use from_image::{Structure, aligned, aligned_by_edges, structure};
pub use lines::{Seen, refined};

use crate::maths::similarity::Similarity;

/// How the second photo lies to the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Registration {
    /// From places of the first photo to places of the second, full-resolution pixels.
    pub by: Similarity,
    /// What is left across the shafts, robust standard deviation in pixels; absent where no shaft could tell.
    pub residual_px: Option<f64>,
    /// Shafts whose middle lines lie on each other.
    pub n_shafts: usize,
    /// Stations that were compared on them.
    pub n_stations: usize,
    /// Correlation of both photos' maps of edges, −1 to 1.
    pub agreement: f64,
    /// Height of the coarse peak over the rest, in standard deviations of the rest.
    pub peak_quality: f64,
}

/// Why two photos cannot be laid on each other. The sentence says what is wrong; [`Mismatch::help`] what to do.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Mismatch {
    /// They differ in size.
    #[error("the visible photo has {} × {} pixels, the UV photo {} × {} pixels", .visible[0], .visible[1], .uv[0], .uv[1])]
    OtherSize {
        /// Columns and rows of the UV photo.
        uv: [usize; 2],
        /// Columns and rows of the visible photo.
        visible: [usize; 2],
    },
    /// Nothing in one is found in the other.
    #[error("the visible photo does not show the field of the UV photo")]
    OtherField {
        /// Correlation of both photos' maps of edges where they fit best, −1 to 1; absent where they fit nowhere.
        agreement: Option<f64>,
    },
    /// Edges fit, but the shafts do not lie on each other.
    #[error("the shafts of the visible photo do not lie where those of the UV photo do")]
    ShaftsApart {
        /// Correlation of both photos' maps of edges, −1 to 1.
        agreement: f64,
    },
}

impl Mismatch {
    /// What to do about it, one sentence.
    pub fn help(&self) -> &'static str {
        match self {
            Mismatch::OtherSize { .. } => {
                "Take both with the same camera and settings, and send them as they were saved."
            }
            Mismatch::OtherField { .. } => {
                "Switch the light without moving the slide, photograph again, and name the two photos of one field."
            }
            Mismatch::ShaftsApart { .. } => {
                "Keep the slide and the camera still between the two photos, and photograph again."
            }
        }
    }
}
