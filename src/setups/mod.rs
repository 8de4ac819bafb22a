//! Saved setups: objective and camera by name, each with its scale and how that was found.

mod file;

mod wire;

pub use file::{SetupsError, SetupsFile};

use crate::scale::{Aperture, Found, Pitch};
use crate::units::{Scale, ScaleSource};

/// A named objective and camera with its scale.
#[derive(Clone, Debug, PartialEq)]
pub struct Setup {
    /// What a person calls it, such as `10x phone`; unlike all others but for capitals.
    pub name: String,
    /// Micrometres a pixel.
    pub um_per_px: f64,
    /// Standard uncertainty of that at any place of a photo.
    pub sd_um_per_px: f64,
    /// Columns of the photos that the scale was found on.
    pub width_px: usize,
    /// Rows of them.
    pub height_px: usize,
    /// How the scale was found.
    pub origin: Origin,
    /// Numerical aperture of the objective, where it was given.
    pub aperture: Option<Aperture>,
}

/// How a setup's scale was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Origin {
    /// File names of the photos of the stage micrometer, without their folders.
    pub photos: Vec<String>,
    /// Distance of neighbouring lines as the user gave it, micrometres.
    pub pitch_um: f64,
    /// Its standard uncertainty, where it was given.
    pub pitch_sd_um: Option<f64>,
    /// The longest ruling that was used, micrometres.
    pub span_um: f64,
    /// Lines of all rulings.
    pub n_lines: usize,
    /// Micrometres a pixel along x over those along y, and its standard uncertainty; absent where it was not seen.
    pub squareness: Option<(f64, f64)>,
    /// The largest departure of the local scale from its mean, as a share; absent when none was evident.
    pub distortion_share: Option<f64>,
    /// Version of the program that measured it.
    pub program: String,
}

/// Longest name of a setup, characters: fits a line.
const MOST_CHARACTERS: usize = 60;

impl Setup {
    /// The setup of a scale that was found on photos of these names.
    pub fn new(name: &str, found: &Found, pitch: Pitch, photos: Vec<String>, aperture: Option<Aperture>) -> Setup {
        let longest = found.rulings.iter().map(|ruling| ruling.n_pitches).max().unwrap_or(0);
        Setup {
            name: name.to_owned(),
            um_per_px: found.um_per_px,
            sd_um_per_px: found.sd_um_per_px,
            width_px: found.width_px,
            height_px: found.height_px,
            origin: Origin {
                photos,
                pitch_um: pitch.um(),
                pitch_sd_um: pitch.sd_um(),
                span_um: pitch.um() * longest as f64,
                n_lines: found.rulings.iter().map(|ruling| ruling.n_lines).sum(),
                squareness: found.squareness.map(|square| (square.ratio, square.sd)),
                distortion_share: found.distortion.map(|distortion| distortion.largest_share),
                program: env!("CARGO_PKG_VERSION").to_owned(),
            },
            aperture,
        }
    }

    /// Its scale.
    pub fn scale(&self) -> Scale {
        Scale { um_per_px: self.um_per_px, sd_um_per_px: Some(self.sd_um_per_px), source: ScaleSource::Setup }
    }

    /// Whether a name means this setup: capitals do not matter.
    pub fn is_called(&self, name: &str) -> bool {
        self.name.to_lowercase() == name.trim().to_lowercase()
    }
}

/// A name fit for a setup, without blanks around it; `None` when empty, longer than a line or with control characters.
pub fn fit_name(name: &str) -> Option<&str> {
    let name = name.trim();
    let fit = !name.is_empty() && name.chars().count() <= MOST_CHARACTERS && !name.contains(char::is_control);
    fit.then_some(name)
}

#[cfg(test)]
mod tests {
    use super::fit_name;

    #[test]
    fn names_fit_a_line() {
        assert_eq!(fit_name(" 10x phone "), Some("10x phone"));
        for bad in ["", "   ", "a\nb", "\u{1b}[2J", &"x".repeat(61)] {
            assert_eq!(fit_name(bad), None, "{bad:?}");
        }
    }
}
