//! 5 · Named numbers, one row a shaft.

use crate::concerns::Concern;

pub mod catalogue;

mod signals;

mod stretches;

mod comparison;

mod smoothed;

mod own_measure;

mod zone;

mod subject;

mod width;

mod fluorescence;

mod colour;

mod across;

mod structure;

mod shape;

mod ends;

mod visible;

mod quality;

mod branching;

mod rim_colour;

mod from_profiles;

pub use from_profiles::{Features, Settings, from_profiles};

#[cfg(test)]
mod behaviour;

/// What was measured of one shaft, in the order of the catalogue.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// One value a catalogue entry; absent where it cannot be told, never a stand-in.
    pub values: Vec<Option<f64>>,
    /// Where along the shaft it fluoresces.
    pub zone: Zone,
    /// Share of the measured length that fluoresces, 0 to 1.
    pub fluorescing_share: f64,
    /// Whether the base end is known, and how.
    pub orientation: Orientation,
    /// Whether the centreline must be reversed to begin at the base end.
    pub reversed: bool,
    /// Whether it serves as a comparison shaft on this photo.
    pub comparison: bool,
    /// What a person should know about this shaft (the profile's concerns and this stage's).
    pub concerns: Vec<Concern>,
}

impl Row {
    /// The value of the feature with this key; `None` where it is absent or no such feature exists.
    pub fn value(&self, key: &str) -> Option<f64> {
        self.values.get(catalogue::position(key)?).copied().flatten()
    }
}

/// Where along the shaft it fluoresces.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Zone {
    /// Nowhere above an ordinary shaft's glow.
    None,
    /// From the base end on, not to the tip.
    Base,
    /// All along.
    Whole,
    /// Towards the tip end only.
    Tip,
    /// In patches.
    Patchy,
    /// It fluoresces in part, but base and tip are not known, or too little is in view.
    Unknown,
}

impl Zone {
    /// Stable name for files and programs.
    pub fn code(self) -> &'static str {
        match self {
            Zone::None => "none",
            Zone::Base => "base",
            Zone::Whole => "whole",
            Zone::Tip => "tip",
            Zone::Patchy => "patchy",
            Zone::Unknown => "unknown",
        }
    }
}

/// How the base end is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Orientation {
    /// A person set it.
    Given,
    /// Told from the ends' shapes, the taper or the scales.
    Measured,
    /// Not known; the centreline's direction says nothing.
    Unknown,
}

impl Orientation {
    /// Stable name for files and programs.
    pub fn code(self) -> &'static str {
        match self {
            Orientation::Given => "given",
            Orientation::Measured => "measured",
            Orientation::Unknown => "unknown",
        }
    }
}

impl Features {
    /// The names and units of the values of every row, in their order.
    pub fn catalogue(&self) -> &'static [catalogue::Entry] {
        catalogue::CATALOGUE
    }
}
