//! DOOR: named numbers to what the shafts are held to be.

use super::{SlideFinding, Verdict};
use crate::concerns::Concern;
use crate::features::Features;

/// What is held of every shaft, and what they add up to.
#[derive(Clone, Debug)]
pub struct Finding {
    /// What was measured.
    pub features: Features,
    /// One verdict a shaft, in the same order.
    pub verdicts: Vec<Verdict>,
    /// What the shafts add up to.
    pub slide: SlideFinding,
    /// Whether the photo is fit to be judged.
    pub usable: bool,
    /// Always: send a culture; one or two sentences.
    pub advice: String,
    /// What a person should know about the photo (all stages').
    pub concerns: Vec<Concern>,
}

/// Judges the shafts.
pub fn from_features(features: Features) -> Finding {
    let _ = features;
    unimplemented!("being written")
}
