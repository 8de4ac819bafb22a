//! Camera families: the sensitivities of the three colour channels, and the matrix to sRGB that such a camera applies.
//!
//! Peaks lie near 460, 535 and 595 nm (facts 3.25c); widths and crosstalk differ by family and are invented, wide enough
//! to hold what colour cameras do. The matrix is fitted as a maker would: least squares from channel values to
//! linear sRGB over smooth spectra, white kept white.

use nalgebra::{Matrix3, Vector3};

use super::spectra::{Band, Spectrum, wavelengths};

/// One make of sensor with its filters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Family {
    /// Name in truth files; invented.
    pub name: &'static str,
    /// (peak nm, FWHM nm) of red, green and blue.
    peaks: [(f64, f64); 3],
    /// Share of the green channel's light in red, of red's in green, of green's in blue, of blue's in green.
    crosstalk: [f64; 4],
    /// Red filter's second window in the violet, relative to its peak.
    violet_in_red: f64,
    /// Wavelength below which the barrier filter or the lens blocks half, nm.
    barrier_nm: f64,
}

/// All families. Which are drawn for which set is said in `Ranges`; the order is part of what a seed means.
pub const FAMILIES: [Family; 11] = [
    family("arden", [(600.0, 75.0), (535.0, 90.0), (460.0, 75.0)], [0.10, 0.08, 0.10, 0.08], 0.08, 405.0),
    family("birch", [(595.0, 90.0), (530.0, 100.0), (455.0, 85.0)], [0.18, 0.14, 0.20, 0.14], 0.18, 400.0),
    family("cedar", [(605.0, 70.0), (540.0, 80.0), (465.0, 70.0)], [0.05, 0.05, 0.06, 0.06], 0.03, 415.0),
    family("dogwood", [(592.0, 95.0), (528.0, 110.0), (452.0, 80.0)], [0.22, 0.18, 0.15, 0.22], 0.25, 395.0),
    family("elder", [(598.0, 80.0), (533.0, 85.0), (462.0, 90.0)], [0.12, 0.06, 0.25, 0.10], 0.02, 420.0),
    family("fir", [(602.0, 85.0), (538.0, 95.0), (458.0, 65.0)], [0.08, 0.10, 0.12, 0.18], 0.15, 408.0),
    family("gorse", [(597.0, 82.0), (531.0, 92.0), (457.0, 78.0)], [0.14, 0.12, 0.14, 0.12], 0.16, 402.0),
    family("hazel", [(603.0, 78.0), (537.0, 88.0), (463.0, 82.0)], [0.09, 0.07, 0.18, 0.09], 0.04, 412.0),
    family("ivy", [(608.0, 72.0), (544.0, 92.0), (450.0, 72.0)], [0.15, 0.10, 0.08, 0.16], 0.22, 398.0),
    family("juniper", [(590.0, 88.0), (526.0, 84.0), (464.0, 95.0)], [0.16, 0.16, 0.24, 0.13], 0.03, 418.0),
    family("larch", [(600.0, 100.0), (536.0, 115.0), (459.0, 92.0)], [0.25, 0.20, 0.22, 0.24], 0.3, 404.0),
];

/// Slope of the barrier filter, nm from a tenth to a half.
const BARRIER_SLOPE_NM: f64 = 6.0;

const fn family(
    name: &'static str,
    peaks: [(f64, f64); 3],
    crosstalk: [f64; 4],
    violet_in_red: f64,
    barrier_nm: f64,
) -> Family {
    Family { name, peaks, crosstalk, violet_in_red, barrier_nm }
}

impl Family {
    /// Red, green and blue channel value of a spectrum; daylight of equal integral gives (1, 1, 1).
    pub fn response(&self, spectrum: &Spectrum) -> [f64; 3] {
        let raw = self.raw(|nm| spectrum.at(nm));
        let white = self.raw(daylight);
        let light: f64 = wavelengths().map(|nm| spectrum.at(nm)).sum();
        let daylight_light: f64 = wavelengths().map(daylight).sum();
        let scale = if light > 0.0 { daylight_light / light } else { 0.0 };
        [0, 1, 2].map(|c| raw[c] / white[c] * scale)
    }

    /// The matrix from channel values (daylight = 1, 1, 1) to linear sRGB, rows summing to 1.
    pub fn to_srgb(&self) -> [[f64; 3]; 3] {
        let mut left = Matrix3::zeros();
        let mut right = Matrix3::zeros();
        for peak in 0..14 {
            for fwhm_nm in [60.0, 120.0] {
                let sample = Spectrum::of(&[(420.0 + 20.0 * peak as f64, fwhm_nm, 1.0)]);
                add_pair(&mut left, &mut right, self.response(&sample), srgb_of(&sample), 1.0);
            }
        }
        // White counts as much as all colours together: makers never let it tint.
        add_pair(&mut left, &mut right, [1.0; 3], [1.0; 3], 28.0);
        let fitted = right * left.try_inverse().unwrap_or_else(Matrix3::identity);
        [0, 1, 2].map(|row| {
            let sum: f64 = (0..3).map(|c| fitted[(row, c)]).sum();
            [0, 1, 2].map(|c| fitted[(row, c)] / sum)
        })
    }

    fn raw(&self, spectrum: impl Fn(f64) -> f64) -> [f64; 3] {
        let mut sums = [0.0; 3];
        for nm in wavelengths() {
            let light = spectrum(nm);
            let sensitivity = self.sensitivity(nm);
            for c in 0..3 {
                sums[c] += light * sensitivity[c];
            }
        }
        sums
    }

    fn sensitivity(&self, nm: f64) -> [f64; 3] {
        let band = |(peak_nm, fwhm_nm)| Band { peak_nm, fwhm_nm, height: 1.0 }.at(nm);
        let [r, g, b] = self.peaks.map(band);
        let violet = self.violet_in_red * band((425.0, 50.0));
        let [g_in_r, r_in_g, g_in_b, b_in_g] = self.crosstalk;
        let barrier = 1.0 / (1.0 + libm::exp(-(nm - self.barrier_nm) / BARRIER_SLOPE_NM));
        [r + g_in_r * g + violet, g + r_in_g * r + b_in_g * b, b + g_in_b * g].map(|s| s * barrier)
    }
}

/// Linear sRGB of a spectrum by the CIE 1931 observer, scaled so that daylight of equal integral gives (1, 1, 1).
///
/// Colour matching functions: the multi-lobe Gaussian fits of "Simple Analytic Approximations to the CIE XYZ Color
/// Matching Functions", Journal of Computer Graphics Techniques 2(2), 2013 (coefficients from memory; the test below
/// holds them against library values).
pub(super) fn srgb_of(spectrum: &Spectrum) -> [f64; 3] {
    let xyz = xyz_of(|nm| spectrum.at(nm));
    let white = srgb_from_xyz(xyz_of(daylight));
    let light: f64 = wavelengths().map(|nm| spectrum.at(nm)).sum();
    let daylight_light: f64 = wavelengths().map(daylight).sum();
    let linear = srgb_from_xyz(xyz);
    [0, 1, 2].map(|c| linear[c] / white[c] * daylight_light / light)
}

pub(super) fn xyz_of(spectrum: impl Fn(f64) -> f64) -> [f64; 3] {
    let lobe = |nm: f64, mean: f64, below: f64, above: f64| {
        let t = (nm - mean) / if nm < mean { below } else { above };
        libm::exp(-0.5 * t * t)
    };
    let mut sums = [0.0; 3];
    for nm in wavelengths() {
        let light = spectrum(nm);
        sums[0] += light
            * (1.056 * lobe(nm, 599.8, 37.9, 31.0) + 0.362 * lobe(nm, 442.0, 16.0, 26.7)
                - 0.065 * lobe(nm, 501.1, 20.4, 26.2));
        sums[1] += light * (0.821 * lobe(nm, 568.8, 46.9, 40.5) + 0.286 * lobe(nm, 530.9, 16.3, 31.1));
        sums[2] += light * (1.217 * lobe(nm, 437.0, 11.8, 36.0) + 0.681 * lobe(nm, 459.0, 26.0, 13.8));
    }
    sums
}

/// The inverse matrix of IEC 61966-2-1 (facts 3.27).
pub(super) fn srgb_from_xyz(xyz: [f64; 3]) -> [f64; 3] {
    let [x, y, z] = xyz;
    [3.2406 * x - 1.5372 * y - 0.4986 * z, -0.9689 * x + 1.8758 * y + 0.0415 * z, 0.0557 * x - 0.2040 * y + 1.0570 * z]
}

/// Relative daylight: a black body at 6504 K (Planck's law; near enough to D65 for a white balance).
fn daylight(nm: f64) -> f64 {
    let exponent = 1.438_776_877e7 / (nm * 6504.0);
    (500.0 / nm).powi(5) / (libm::exp(exponent) - 1.0)
}

fn add_pair(left: &mut Matrix3<f64>, right: &mut Matrix3<f64>, from: [f64; 3], to: [f64; 3], weight: f64) {
    let (from, to) = (Vector3::from(from), Vector3::from(to));
    *left += from * from.transpose() * weight;
    *right += to * from.transpose() * weight;
}

#[cfg(test)]
mod tests {
    use super::{FAMILIES, srgb_from_xyz, xyz_of};
    use crate::sim::spectra::{Spectrum, brightener, infected, keratin};

    /// What colour-science computes of the CIE 1931 2° observer (facts 3.28, 3.29), as fixtures/reference/maths holds it.
    fn library() -> serde_json::Value {
        serde_json::from_str(include_str!("../../fixtures/reference/maths/reference.json")).unwrap()
    }

    fn off(xyz: [f64; 3], row: &serde_json::Value) -> f64 {
        let sum: f64 = xyz.iter().sum();
        let apart = |i: usize| (xyz[i] / sum - row["xy"][i].as_f64().unwrap()).abs();
        apart(0).max(apart(1))
    }

    #[test]
    fn the_observer_agrees_with_library_values() {
        let library = library();
        let bands = library["bands"].as_array().unwrap();
        assert_eq!(bands.len(), 9);
        for row in bands {
            let band = Spectrum::of(&[(row["peak_nm"].as_f64().unwrap(), row["fwhm_nm"].as_f64().unwrap(), 1.0)]);
            let off = off(xyz_of(|nm| band.at(nm)), row);
            assert!(off < 0.01, "{off:.4} off at {row}");
        }
    }

    #[test]
    fn single_wavelengths_lie_near_the_locus() {
        for row in library()["locus"].as_array().unwrap() {
            let at = row["nm"].as_f64().unwrap();
            // One step of the sum, whichever is nearest.
            let off = off(xyz_of(|nm| if (nm - at).abs() < 1e-6 { 1.0 } else { 0.0 }), row);
            assert!(off < 0.02, "{off:.4} off at {row}");
        }
    }

    /// Facts 3.30: green over blue of (1 − f)·G(455, 110) + f·G(500, 80), linear sRGB.
    #[test]
    fn green_over_blue_follows_the_mixing_table() {
        let rows = [(0.0, 0.217), (0.25, 0.359), (0.5, 0.557), (0.75, 0.857), (1.0, 1.359)];
        for (f, expected) in rows {
            let [own, other] = [Spectrum::of(&[(455.0, 110.0, 1.0)]), Spectrum::of(&[(500.0, 80.0, 1.0)])];
            // The table mixes bands of equal height, so each is weighted by its integral.
            let [a, b] = [110.0 * (1.0 - f), 80.0 * f];
            let [_, green, blue] = srgb_from_xyz(xyz_of(|nm| a * own.at(nm) + b * other.at(nm)));
            let ratio = green / blue;
            assert!((ratio / expected - 1.0).abs() < 0.06, "f {f}: {ratio} for {expected}");
        }
    }

    #[test]
    fn every_family_sees_more_green_over_blue_with_more_fungal_light() {
        for family in FAMILIES {
            let mut last = 0.0;
            for i in 0..=10 {
                let f = i as f64 / 10.0;
                let own = family.response(&keratin(0.0));
                let other = family.response(&infected(497.0, 85.0, 0.0));
                let ratio = (own[1] * (1.0 - f) + other[1] * f) / (own[2] * (1.0 - f) + other[2] * f);
                assert!(ratio > last, "{} at f {f}", family.name);
                last = ratio;
            }
        }
    }

    #[test]
    fn every_matrix_keeps_white_and_orders_the_hues() {
        for family in FAMILIES {
            let matrix = family.to_srgb();
            let see = |spectrum: &Spectrum| {
                let raw = family.response(spectrum);
                [0, 1, 2].map(|row| (0..3).map(|c| matrix[row][c] * raw[c]).sum::<f64>())
            };
            for row in matrix {
                assert!((row.iter().sum::<f64>() - 1.0).abs() < 1e-9, "{}: white must stay white", family.name);
            }
            let lint = see(&brightener(438.0, 70.0));
            let green = see(&infected(525.0, 70.0, 0.0));
            assert!(lint[2] > 2.0 * lint[1], "{}: brightener is blue: {lint:?}", family.name);
            assert!(green[1] > 1.5 * green[2], "{}: carpet fibre is green: {green:?}", family.name);
        }
    }
}
