//! What a lens of a known aperture can show, against the size of a pixel.
//!
//! Closed forms for a dry lens and incoherent light: Rayleigh's distance 0.61 λ / A, the coarsest pixel that records all
//! a lens passes λ / 4 A (Nyquist: half the period of the cut-off 2 A / λ), and the depth in focus λ / A² + e / A with
//! A the numerical aperture and e the pixel on the slide.

use super::Found;
use crate::concerns::{Concern, ConcernKind};

/// Thickness of the hair that depth in focus is compared with, micrometres: a thick guard hair of a cat.
const HAIR_UM: f64 = 40.0;

/// Wavelength that resolution is stated for, micrometres: the glow of infected hair peaks broadly near 0.49 to 0.52.
const WAVELENGTH_UM: f64 = 0.51;

/// Rayleigh's factor: first zero of the Airy pattern, 3.8317 / 2π.
const RAYLEIGH: f64 = 0.61;

/// Numerical aperture of an objective used without immersion, above 0 and below 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aperture(f64);

/// What a lens can show at a scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Resolution {
    /// Smallest distance of two points that are told apart, micrometres (Rayleigh).
    pub rayleigh_um: f64,
    /// Coarsest pixel that records all that the lens passes, micrometres (Nyquist).
    pub nyquist_um: f64,
    /// Depth that is in focus at once, micrometres.
    pub depth_um: f64,
    /// Whether pixels are coarser than that, so that the camera and not the lens limits what is seen.
    pub undersampled: bool,
}

impl Found {
    /// What a person should know about the scale, and about a lens of this aperture at that scale.
    pub fn all_concerns(&self, aperture: Option<Aperture>) -> Vec<Concern> {
        let mut concerns = self.concerns.clone();
        let Some(seen) = aperture.map(|aperture| aperture.resolution(self.um_per_px)) else { return concerns };
        if seen.undersampled {
            concerns.push(Concern::with(ConcernKind::CoarsePixels, seen.nyquist_um));
        }
        if seen.depth_um < HAIR_UM {
            concerns.push(Concern::with(ConcernKind::ShallowFocus, seen.depth_um));
        }
        concerns
    }
}

impl Aperture {
    /// An aperture; `None` unless above 0 and below 1, where dry lenses end.
    pub fn new(aperture: f64) -> Option<Aperture> {
        (aperture > 0.0 && aperture < 1.0).then_some(Aperture(aperture))
    }

    /// The number.
    pub fn value(self) -> f64 {
        self.0
    }

    /// What a lens of this aperture shows with pixels of this size on the slide.
    pub fn resolution(self, um_per_px: f64) -> Resolution {
        let nyquist_um = WAVELENGTH_UM / (4.0 * self.0);
        Resolution {
            rayleigh_um: RAYLEIGH * WAVELENGTH_UM / self.0,
            nyquist_um,
            depth_um: WAVELENGTH_UM / self.0.powi(2) + um_per_px / self.0,
            undersampled: um_per_px > nyquist_um,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Aperture;

    #[test]
    fn the_tables_of_four_common_lenses() {
        // Computed by hand from the closed forms above at 510 nm, pixels of 3.45 µm on the camera: magnification,
        // aperture, Rayleigh, depth with such pixels, Nyquist.
        let table = [
            (4.0, 0.10, 3.11, 59.6, 1.275),
            (10.0, 0.25, 1.24, 9.54, 0.510),
            (20.0, 0.40, 0.778, 3.62, 0.319),
            (40.0, 0.65, 0.479, 1.34, 0.196),
        ];
        for (magnification, aperture, rayleigh, depth, nyquist) in table {
            let found = Aperture::new(aperture).unwrap().resolution(3.45 / magnification);
            assert!((found.rayleigh_um / rayleigh - 1.0).abs() < 4e-3, "{found:?}");
            assert!((found.depth_um / depth - 1.0).abs() < 4e-3, "{found:?}");
            assert!((found.nyquist_um / nyquist - 1.0).abs() < 2e-3, "{found:?}");
            assert!(!found.undersampled);
        }
        assert!(Aperture::new(0.25).unwrap().resolution(0.6).undersampled);
        assert!([0.0, -0.1, 1.0, f64::NAN].iter().all(|&bad| Aperture::new(bad).is_none()));
    }

    #[test]
    fn depth_agrees_with_a_published_table() {
        // λ / A² at 550 nm, photomacrography.net: 55.0, 8.80, 3.44, 1.30, 0.98 µm; ours is at 510 nm without pixels.
        for (aperture, published) in [(0.10, 55.0), (0.25, 8.80), (0.40, 3.44), (0.65, 1.30), (0.75, 0.98)] {
            let ours = Aperture::new(aperture).unwrap().resolution(0.0).depth_um * 0.55 / super::WAVELENGTH_UM;
            assert!((ours - published).abs() < 0.006, "{aperture}: {ours}");
        }
    }
}
