//! A slide and its photos.

use serde::{Deserialize, Serialize};

use super::{Day, Fact, Kind, Site, joined, not_after, short_text, some_text, words};

/// One tape preparation.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Slide {
    /// Where the hairs were taken.
    pub site: Site,
    /// The day they were taken.
    pub day: Day,
    /// Which hairs were plucked, free words: `fluorescing, with the root`, `at the border of the bald spot`.
    #[serde(default)]
    pub plucked: Option<String>,
    /// Whether ordinary hairs of the same animal lie on it, and which.
    #[serde(default)]
    pub comparison_hairs: Option<String>,
    /// What is written on the glass.
    #[serde(default)]
    pub label: Option<String>,
}

impl Fact for Slide {
    const KIND: Kind = Kind::Slide;

    fn check(&self, today: Day) -> Result<(), String> {
        short_text("which hairs were plucked", self.plucked.as_deref())?;
        short_text("the comparison hairs", self.comparison_hairs.as_deref())?;
        short_text("the label", self.label.as_deref())?;
        not_after("the day of the slide", self.day, today)
    }

    fn day(&self) -> Option<Day> {
        Some(self.day)
    }

    fn words(&self) -> Option<String> {
        joined([self.label.as_deref(), Some(self.site.name())])
    }
}

words! {
    /// What a photo was lit by.
    Light {
        /// The UV lamp only.
        Uv = "uv",
        /// Visible light.
        Visible = "visible",
    }
}

/// One photo of a slide; its bytes lie in the folder of photos under their digest.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Photo {
    /// Name of the file it came as, without its folder.
    pub file: String,
    /// Digest of the bytes, SHA-256, 64 hexadecimal digits.
    pub sha256: String,
    /// Number of bytes.
    pub n_bytes: u64,
    /// What it was lit by.
    pub light: Light,
}

impl Fact for Photo {
    const KIND: Kind = Kind::Photo;

    fn check(&self, _today: Day) -> Result<(), String> {
        some_text("the photo's file name", &self.file)?;
        if self.file.contains(['/', '\\']) {
            return Err(format!("the photo's name \"{}\" holds a folder; give the name alone", self.file));
        }
        if !super::super::photos::is_digest(&self.sha256) {
            return Err(format!("\"{}\" is no SHA-256 digest of a photo; it has 64 hexadecimal digits", self.sha256));
        }
        Ok(())
    }

    fn words(&self) -> Option<String> {
        Some(self.file.clone())
    }

    /// `uv` or `visible`.
    fn state(&self) -> Option<String> {
        Some(self.light.word().to_owned())
    }
}
