//! 7 · What is kept of one read photo.
//!
//! An [`Entry`] is plain words and numbers: no pixel, no tree, no reference to an earlier stage's types other
//! than the looks. Whatever shows or files a reading (exports, a store, a page) needs nothing but this.

use crate::concerns::{Concern, ConcernKind};
use crate::maths::point::Point;
use crate::units::Scale;

mod case;
mod from_finding;
mod glow;
mod one_slide;
mod width;
mod wire;

pub use case::{CaseFacts, Sex, Visit};
pub use from_finding::{CULTURE, Look, from_finding, together};
pub use glow::{Glow, GlowColour};
pub use one_slide::{OnPhotos, OneSlide, one_slide};
pub use width::{Width, upper_bound};
pub use wire::FactsError;

/// Everything one read photo yields.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// The photo that was read.
    pub photo: Photo,
    /// Whether the photo is fit to be judged.
    pub usable: bool,
    /// What a person should know about the photo.
    pub concerns: Vec<Concern>,
    /// Blur of the photo where shafts lie, Gaussian sigma in pixels; absent when no shaft could tell.
    pub blur_px: Option<f64>,
    /// Whether the photo has one channel only.
    pub monochrome: bool,
    /// The shafts, numbered from 1 in this order.
    pub shafts: Vec<Shaft>,
    /// What was held to be no shaft.
    pub rejects: Vec<Reject>,
    /// The names and units of every shaft's `measures`, in their order.
    pub catalogue: Vec<Measure>,
    /// What the shafts add up to.
    pub slide: Slide,
    /// Always: send a culture; one or two sentences.
    pub advice: String,
    /// What made this entry.
    pub program: Program,
}

/// The photo that was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Photo {
    /// File name without its folder.
    pub file: String,
    /// Digest of the file's bytes, 64 hexadecimal digits.
    pub sha256: String,
    /// Columns.
    pub width_px: usize,
    /// Rows.
    pub height_px: usize,
    /// Micrometres per pixel, where known.
    pub scale: Option<Scale>,
    /// Name of the setup that `scale` comes from; absent when it comes from elsewhere.
    pub setup: Option<String>,
    /// `jpeg`, `png`, `webp` or `tiff`.
    pub format: &'static str,
    /// Local time of capture as the camera wrote it; absent when the file does not say.
    pub captured_at: Option<String>,
    /// Maker and model of the camera; absent when the file does not say.
    pub camera: Option<String>,
    /// The second photo of the field in visible light, where one was given.
    pub visible: Option<VisiblePhoto>,
}

/// A second photo of the same field in visible light, and how it lies to the first.
#[derive(Clone, Debug, PartialEq)]
pub struct VisiblePhoto {
    /// File name without its folder.
    pub file: String,
    /// Digest of the file's bytes, 64 hexadecimal digits.
    pub sha256: String,
    /// How far what lies in the middle of the first photo lies further right and down in the second, pixels.
    pub shift_px: [f64; 2],
    /// How far it is turned, degrees from right towards down.
    pub turn_deg: f64,
    /// How many times larger it is.
    pub factor: f64,
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

/// What made an entry, so that it can be made again.
#[derive(Clone, Debug, PartialEq)]
pub struct Program {
    /// Version of this program.
    pub version: String,
    /// Digest of the model, 64 hexadecimal digits.
    pub model_sha256: String,
    /// What the user set, by name with its unit, in the order of names.
    pub settings: Vec<(&'static str, f64)>,
}

/// Where a reading comes from: what the stages before cannot know.
#[derive(Clone, Debug, PartialEq)]
pub struct Provenance {
    /// File name without its folder.
    pub file: String,
    /// Digest of the file's bytes, 64 hexadecimal digits.
    pub sha256: String,
    /// Name of the setup that the scale comes from.
    pub setup: Option<String>,
    /// `jpeg`, `png`, `webp` or `tiff`.
    pub format: &'static str,
    /// Local time of capture as the camera wrote it.
    pub captured_at: Option<String>,
    /// Maker and model of the camera.
    pub camera: Option<String>,
    /// The second photo of the field in visible light.
    pub visible: Option<VisiblePhoto>,
    /// What made the entry.
    pub program: Program,
}

/// One shaft: measured and judged.
#[derive(Clone, Debug, PartialEq)]
pub struct Shaft {
    /// Its number on this photo, from 1.
    pub id: usize,
    /// Centreline in full-resolution pixels, base end first where it is known; at least two points.
    pub centreline: Vec<Point>,
    /// Length of the centreline in view, pixels.
    pub length_px: f64,
    /// Its cross-sections in the direction of the centreline.
    pub stations: Vec<Station>,
    /// Its outer diameter.
    pub width: Width,
    /// What is seen at the base end (the first point where the base is not known):
    /// `root`, `broken`, `cut`, `outside` or `unknown`.
    pub base: &'static str,
    /// What is seen at the tip end (the last point where the tip is not known):
    /// `tapered`, `broken`, `cut`, `outside` or `unknown`.
    pub tip: &'static str,
    /// How the base end is known: `given`, `measured` or `unknown`.
    pub orientation: &'static str,
    /// Where along the shaft it fluoresces: `none`, `base`, `whole`, `tip`, `patchy` or `unknown`.
    pub zone: &'static str,
    /// Share of the measured length that fluoresces, 0 to 1.
    pub fluorescing_share: f64,
    /// Its fluorescence above the background.
    pub glow: Glow,
    /// Whether it serves as a comparison shaft on this photo.
    pub comparison: bool,
    /// Every measurement, in the order of the entry's `catalogue`; absent where it cannot be told.
    pub measures: Vec<Option<f64>>,
    /// The look; `None` when the program cannot say.
    pub look: Option<Look>,
    /// Calibrated probability of each look, in the order of [`Look::ALL`]; sums to 1.
    pub probability: [f64; 4],
    /// The looks that cannot be ruled out at 90 %.
    pub plausible: Vec<Look>,
    /// Distance from the reference shafts; 1 = as far as 99 % of them are from each other.
    pub novelty: f64,
    /// The reference shafts that it is most like, nearest first; at most two.
    pub nearest: Vec<Nearest>,
    /// The measurements that moved the vote most, strongest first.
    pub reasons: Vec<Reason>,
    /// What a person should know about this shaft, each kind once.
    pub concerns: Vec<Concern>,
}

/// One cross-section of a shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Station {
    /// Distance along the centreline from its first point, pixels.
    pub at_px: f64,
    /// Outer diameter, pixels; absent where it could not be measured.
    pub width_px: Option<f64>,
    /// One standard deviation of `width_px`, pixels.
    pub width_sd_px: Option<f64>,
    /// The outline's two places here, full-resolution pixels; absent where the width is.
    pub edges: Option<[Point; 2]>,
    /// Fluorescence above the background, linear light 0 to 1, mean of the channels;
    /// absent where other shafts, the border or clipped pixels are in the way.
    pub glow: Option<f64>,
}

/// A reference shaft of the model.
#[derive(Clone, Debug, PartialEq)]
pub struct Nearest {
    /// Its number among the model's reference shafts, from 1.
    pub id: usize,
    /// What it is.
    pub look: Look,
    /// The kind of shaft within the look, as training named it.
    pub kind: String,
    /// Its distance in the unit of novelty.
    pub distance: f64,
}

/// One measurement that moved the vote.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// Key in the catalogue.
    pub feature: &'static str,
    /// What was measured.
    pub value: f64,
    /// Its unit; `1` for a ratio.
    pub unit: &'static str,
    /// The middle value among ordinary reference shafts, where there is one.
    pub reference: Option<f64>,
    /// The look it speaks for.
    pub towards: Look,
    /// How much it moved that look's probability, −1 to 1.
    pub weight: f64,
}

/// The name and unit of a measurement.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Measure {
    /// Stable name, `family.name`.
    pub key: &'static str,
    /// Unit as shown to people; `1` for a ratio.
    pub unit: &'static str,
}

/// A candidate that is no shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reject {
    /// Its middle, full-resolution pixels.
    pub at: Point,
    /// Its greatest extent, pixels.
    pub extent_px: f64,
    /// Why it is no shaft, a stable name.
    pub reason: &'static str,
}

/// What the shafts of the photo add up to.
#[derive(Clone, Debug, PartialEq)]
pub struct Slide {
    /// Stable name for files and programs.
    pub code: &'static str,
    /// One to three sentences for a person.
    pub sentence: String,
    /// Shafts by look, in the order of [`Look::ALL`].
    pub counts: [usize; 4],
    /// Shafts of which the program cannot say.
    pub undetermined: usize,
}

impl Shaft {
    /// Stable name of its look, `undetermined` when the program cannot say.
    pub fn class(&self) -> &'static str {
        self.look.map_or(UNDETERMINED, Look::code)
    }

    /// Its look as shown to people.
    pub fn look_words(&self) -> &'static str {
        self.look.map_or(UNDETERMINED_WORDS, Look::words)
    }

    /// Whether the photo cannot tell its width, but only what it is at most.
    pub fn is_too_thin(&self) -> bool {
        self.concerns.iter().any(|concern| concern.kind == ConcernKind::TooThin)
    }
}

/// Stable name of "the program cannot say".
pub const UNDETERMINED: &str = "undetermined";

/// "The program cannot say" as shown to people.
pub const UNDETERMINED_WORDS: &str = "cannot say";
