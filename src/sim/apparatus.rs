//! The lamp, the lens, the eyepiece, the sensor and its processing, as a scene holds them.

use crate::maths::point::Point;

use super::spectra::Spectrum;

/// A bar burnt into the file after the camera.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScaleBar {
    /// Left end.
    pub from: Point,
    /// Length, pixels.
    pub length_px: f64,
    /// Thickness, pixels.
    pub thick_px: f64,
    /// Whether it has upright ends.
    pub ticks: bool,
    /// Its grey value.
    pub value: u8,
}

/// The lamp, the tape and their glow.
#[derive(Clone, Debug)]
pub struct Light {
    /// Glow of the tape, same units as shafts.
    pub haze: f64,
    /// Share of the tape's glow that lies above the shafts.
    pub haze_above: f64,
    /// Colour of the tape's glow.
    pub haze_spectrum: Spectrum,
    /// Colour of the lamp's visible tail.
    pub leak_spectrum: Spectrum,
    /// Strength of the lamp's visible tail where something throws it back, same units as shafts.
    pub leak: f64,
    /// Relative change of the lamp's light over half the photo's diagonal, right and down.
    pub slope: [f64; 2],
    /// A brighter spot: its middle, its sigma as a share of the diagonal, its gain.
    pub hot_spot: Option<(Point, f64, f64)>,
    /// Relative unevenness of the adhesive.
    pub unevenness: f64,
    /// Share of the light that lens and tape scatter far around.
    pub veil: f64,
    /// Seed of the adhesive's texture.
    pub texture: u32,
}

/// Lens, focus and eyepiece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Optics {
    /// Numerical aperture of the objective.
    pub aperture: f64,
    /// Sigma of the lens's blur in best focus, pixels.
    pub lens_blur_px: f64,
    /// Disc of an eyepiece: middle, radius and softness of its edge, pixels.
    pub disc: Option<EyepieceDisc>,
    /// Loss of light in the corners.
    pub vignetting: f64,
}

/// The bright disc that an eyepiece shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EyepieceDisc {
    /// Its middle.
    pub centre: Point,
    /// Its radius, pixels.
    pub radius_px: f64,
    /// Distance over which its edge fades, pixels.
    pub softness_px: f64,
    /// Light outside it, as a share of the tape's glow.
    pub outside: f64,
}

/// Sensor and processing, in the order in which they act.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Camera {
    /// Number of the family in `FAMILIES`.
    pub family: usize,
    /// Light (after white balance) that the brightest shafts reach, 1 = clipping.
    pub exposure: f64,
    /// Electrons at clipping; infinite for no noise at all.
    pub full_electrons: f64,
    /// Read noise, electrons.
    pub read_electrons: f64,
    /// Black level left in the file, linear light.
    pub black: f64,
    /// Colour mosaic and how it is undone.
    pub mosaic: Mosaic,
    /// White-balance gains.
    pub white_balance: [f64; 3],
    /// How far the family's matrix to sRGB is applied: 0 raw colours (pale), 1 fully.
    pub matrix_share: f64,
    /// Turn of all hues, radians.
    pub hue_turn: f64,
    /// Factor on saturation.
    pub saturation: f64,
    /// Sigma of a smoothing against noise, pixels; 0 for none.
    pub denoise_px: f64,
    /// Tone curve.
    pub tone: Tone,
    /// Unsharp mask: sigma in pixels and amount; amount 0 for none.
    pub sharpen: (f64, f64),
    /// Whether colour is stored at half resolution.
    pub halved_colour: bool,
    /// Quality of the JPEG; `None` for PNG.
    pub jpeg_quality: Option<u8>,
}

/// How the colour mosaic is undone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mosaic {
    /// No mosaic: three sensors, or a photo much reduced in size.
    None,
    /// Red-green-green-blue, neighbours averaged.
    Averaged,
    /// Red-green-green-blue, neighbours averaged with the gradient of the own colour.
    Graded,
}

/// Tone curve from linear light to the file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tone {
    /// sRGB as in IEC 61966-2-1.
    Srgb,
    /// sRGB with contrast added around the middle, by this strength (0 none, 1 strong).
    Contrast(f64),
    /// A low-contrast curve: a power of this exponent, blacks lifted.
    Flat(f64),
}
