//! Sites on the animal: a closed list on a body map, and free words beside it.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// A place on the animal that was looked at or that hair was taken from.
///
/// One of [`BODY_MAP`], or free words written `other: behind the left elbow`. Two sites are the same when they are
/// written the same.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Site(String);

/// One site on the map.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SitePlace {
    /// As it is written and shown.
    pub name: &'static str,
    /// Which drawing it is on: `face`, `left`, `right` or `under`.
    pub view: &'static str,
    /// Place on that drawing, shares of its width and height from the top left.
    pub at: [f64; 2],
}

/// The body map: a drawing of the face, of both sides and of the underside. Places are ours, roughly where they are.
#[rustfmt::skip]
pub const BODY_MAP: &[SitePlace] = &[
    place("left pinna", "face", 0.78, 0.14), place("right pinna", "face", 0.22, 0.14),
    place("forehead", "face", 0.50, 0.28), place("left eye", "face", 0.66, 0.44),
    place("right eye", "face", 0.34, 0.44), place("nose", "face", 0.50, 0.60),
    place("muzzle", "face", 0.50, 0.72), place("chin", "face", 0.50, 0.88),
    place("left cheek", "face", 0.78, 0.62), place("right cheek", "face", 0.22, 0.62),
    place("neck", "left", 0.26, 0.34), place("back", "left", 0.52, 0.22),
    place("left shoulder", "left", 0.32, 0.44), place("left flank", "left", 0.55, 0.46),
    place("left hip", "left", 0.76, 0.42), place("left forelimb", "left", 0.32, 0.70),
    place("left forepaw", "left", 0.31, 0.92), place("left hindlimb", "left", 0.76, 0.70),
    place("left hindpaw", "left", 0.77, 0.92), place("tail", "left", 0.95, 0.34),
    place("tail tip", "left", 0.98, 0.60), place("right shoulder", "right", 0.68, 0.44),
    place("right flank", "right", 0.45, 0.46), place("right hip", "right", 0.24, 0.42),
    place("right forelimb", "right", 0.68, 0.70), place("right forepaw", "right", 0.69, 0.92),
    place("right hindlimb", "right", 0.24, 0.70), place("right hindpaw", "right", 0.23, 0.92),
    place("chest", "under", 0.50, 0.25), place("belly", "under", 0.50, 0.55),
    place("left axilla", "under", 0.64, 0.28), place("right axilla", "under", 0.36, 0.28),
    place("groin", "under", 0.50, 0.80), place("whole coat", "left", 0.50, 0.05),
];

const fn place(name: &'static str, view: &'static str, x: f64, y: f64) -> SitePlace {
    SitePlace { name, view, at: [x, y] }
}

/// What free words for a site begin with.
const OTHER: &str = "other:";

/// Longest free words for a site, characters.
const MAX_OTHER: usize = 80;

impl Site {
    /// As it is written and shown.
    pub fn name(&self) -> &str {
        &self.0
    }

    /// Its place on the body map; absent for free words.
    pub fn place(&self) -> Option<&'static SitePlace> {
        BODY_MAP.iter().find(|place| place.name == self.0)
    }
}

impl FromStr for Site {
    type Err = String;

    fn from_str(text: &str) -> Result<Site, String> {
        let name = text.trim().to_lowercase().replace(['-', '_'], " ");
        if BODY_MAP.iter().any(|place| place.name == name) {
            return Ok(Site(name));
        }
        if let Some(words) = text.trim().strip_prefix(OTHER).map(str::trim) {
            let fits = !words.is_empty() && words.chars().count() <= MAX_OTHER && !words.contains(char::is_control);
            return if fits { Ok(Site(format!("{OTHER} {words}"))) } else { Err(Site::refusal(text)) };
        }
        Err(Site::refusal(text))
    }
}

impl Site {
    fn refusal(text: &str) -> String {
        let names: Vec<&str> = BODY_MAP.iter().map(|place| place.name).collect();
        format!(
            "\"{}\" is no site on the body map; give one of {}, or \"{OTHER} up to {MAX_OTHER} characters of your own\"",
            text.replace(char::is_control, "?"),
            names.join(", ")
        )
    }
}

impl TryFrom<String> for Site {
    type Error = String;

    fn try_from(text: String) -> Result<Site, String> {
        text.parse()
    }
}

impl From<Site> for String {
    fn from(site: Site) -> String {
        site.0
    }
}

impl fmt::Display for Site {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::{BODY_MAP, Site};

    #[test]
    fn sites_are_told_apart_however_they_are_typed() {
        let site: Site = "Left-Pinna".parse().unwrap();
        assert_eq!(site.name(), "left pinna");
        assert_eq!(site.place().unwrap().view, "face");
        let own: Site = "other: behind the left elbow".parse().unwrap();
        assert!(own.place().is_none());
        for wrong in ["elbow", "", "other:", "other: a\u{1b}[2J"] {
            assert!(wrong.parse::<Site>().unwrap_err().contains("body map"), "{wrong}");
        }
    }

    #[test]
    fn the_map_names_each_site_once_and_within_the_drawing() {
        for (i, place) in BODY_MAP.iter().enumerate() {
            assert!(BODY_MAP[..i].iter().all(|other| other.name != place.name), "{}", place.name);
            assert!(place.at.iter().all(|share| (0.0..=1.0).contains(share)));
        }
    }
}
