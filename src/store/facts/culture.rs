//! Cultures and other laboratory tests, and each look at their plates.

use serde::{Deserialize, Serialize};

use super::{Day, Fact, Kind, Site, joined, not_after, short_text, some_text, words};

/// A culture or another laboratory test that was sent or set up.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Culture {
    /// The day it was sent or set up.
    pub day: Day,
    /// What it is: the medium, or the name of another test such as `PCR`.
    pub medium: String,
    /// Where the sample was taken; absent for the whole coat.
    #[serde(default)]
    pub site: Option<Site>,
    /// How it was taken, free words: `toothbrush`, `plucked hairs`.
    #[serde(default)]
    pub sampled_by: Option<String>,
    /// Which laboratory, free words.
    #[serde(default)]
    pub laboratory: Option<String>,
    /// Whether it is a test other than a culture: such a test has no plate to be looked at again.
    #[serde(default)]
    pub other_test: bool,
}

impl Fact for Culture {
    const KIND: Kind = Kind::Culture;

    fn check(&self, today: Day) -> Result<(), String> {
        some_text("the medium", &self.medium)?;
        short_text("how it was sampled", self.sampled_by.as_deref())?;
        short_text("the laboratory", self.laboratory.as_deref())?;
        not_after("the day the culture was sent", self.day, today)
    }

    fn day(&self) -> Option<Day> {
        Some(self.day)
    }

    fn words(&self) -> Option<String> {
        joined([Some(self.medium.as_str()), self.laboratory.as_deref()])
    }
}

words! {
    /// What was seen on the plate, or what the laboratory says.
    Growth {
        /// Nothing grew, or nothing was found.
        None = "none",
        /// Something grew that may be a ringworm fungus.
        Suspect = "suspect",
        /// A ringworm fungus grew, or was found.
        Ringworm = "ringworm",
        /// Something else grew, such as a mould.
        Other = "other",
    }
}

/// One look at a plate, or the laboratory's answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlateReading {
    /// The day it was looked at.
    pub day: Day,
    /// What was seen.
    pub growth: Growth,
    /// Whether it was confirmed under the microscope; red medium alone is no proof.
    #[serde(default)]
    pub confirmed_microscopically: Option<bool>,
    /// What was identified, free words.
    #[serde(default)]
    pub species: Option<String>,
    /// Whether this is the last word on this culture.
    #[serde(default)]
    pub last: bool,
    /// Free words.
    #[serde(default)]
    pub remark: Option<String>,
}

impl Fact for PlateReading {
    const KIND: Kind = Kind::Plate;

    fn check(&self, today: Day) -> Result<(), String> {
        short_text("the species", self.species.as_deref())?;
        short_text("the remark", self.remark.as_deref())?;
        if self.growth == Growth::None && (self.confirmed_microscopically == Some(true) || self.species.is_some()) {
            return Err(
                "nothing grew, yet a species or a look through the microscope is told; say what grew".to_owned()
            );
        }
        not_after("the day the plate was looked at", self.day, today)
    }

    fn day(&self) -> Option<Day> {
        Some(self.day)
    }

    fn words(&self) -> Option<String> {
        joined([self.species.as_deref(), self.remark.as_deref()])
    }

    /// `last` when it is the last word, else what grew.
    fn state(&self) -> Option<String> {
        Some(if self.last { "last" } else { self.growth.word() }.to_owned())
    }
}
