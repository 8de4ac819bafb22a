//! What glows in which colour: emission spectra as sums of Gaussian bands.
//!
//! Sources of the bands stand at each function; "facts" rows are the project's collected facts.
//! Where no spectrum was found the function says so: then only the colour word is published.

/// Shortest wavelength that is summed, nm: below it neither lamp filter nor lens lets light through.
const FIRST_NM: f64 = 380.0;
/// Longest wavelength that is summed, nm: beyond it the colour channels of a camera are filtered off.
const LAST_NM: f64 = 720.0;
/// Step of the sums, nm; a tenth of the narrowest band used (FWHM 12 nm lamp leak is 2.4 steps, still summed to 1 %).
const STEP_NM: f64 = 4.0;

/// One Gaussian band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Wavelength of the peak, nm.
    pub peak_nm: f64,
    /// Full width at half maximum, nm.
    pub fwhm_nm: f64,
    /// Height at the peak relative to the other bands.
    pub height: f64,
}

impl Band {
    /// Height at a wavelength.
    pub fn at(&self, nm: f64) -> f64 {
        // FWHM² / (4 ln 2): closed form for a Gaussian.
        let t = (nm - self.peak_nm) / self.fwhm_nm;
        self.height * libm::exp(-4.0 * std::f64::consts::LN_2 * t * t)
    }
}

/// An emission spectrum whose integral over 380 to 720 nm is 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Spectrum {
    bands: Vec<Band>,
}

impl Spectrum {
    /// A spectrum from (peak nm, FWHM nm, height) of its bands.
    pub fn of(bands: &[(f64, f64, f64)]) -> Spectrum {
        let bands: Vec<Band> =
            bands.iter().map(|&(peak_nm, fwhm_nm, height)| Band { peak_nm, fwhm_nm, height }).collect();
        let mut spectrum = Spectrum { bands };
        let whole: f64 = wavelengths().map(|nm| spectrum.at(nm) * STEP_NM).sum();
        if whole > 0.0 {
            spectrum.bands.iter_mut().for_each(|band| band.height /= whole);
        }
        spectrum
    }

    /// Emission per nm at a wavelength.
    pub fn at(&self, nm: f64) -> f64 {
        self.bands.iter().map(|band| band.at(nm)).sum()
    }

    /// Wavelength of the highest emission, nm.
    pub fn peak_nm(&self) -> f64 {
        let mut best = (FIRST_NM, 0.0);
        for nm in wavelengths() {
            if self.at(nm) > best.1 {
                best = (nm, self.at(nm));
            }
        }
        best.0
    }

    /// The emission seen through a sensitivity: the sum of their product over wavelength.
    pub fn through(&self, sensitivity: impl Fn(f64) -> f64) -> f64 {
        wavelengths().map(|nm| self.at(nm) * sensitivity(nm) * STEP_NM).sum()
    }
}

/// The wavelengths of all sums, nm.
pub(super) fn wavelengths() -> impl Iterator<Item = f64> {
    let n = ((LAST_NM - FIRST_NM) / STEP_NM) as usize;
    (0..=n).map(|i| FIRST_NM + STEP_NM * i as f64)
}

/// Hair with the fungal fluorophore: one broad band (facts 3.1: 490.2 nm; §7: peak 485-525, FWHM 70-100), with a tail
/// towards the red of height `tail`: emission of fluorophores falls off more slowly on that side (from memory; its
/// height has no source). Without it a saturated blue-green would lose all its red in the camera, and "no red" would
/// pass for a mark of infection.
pub fn infected(peak_nm: f64, fwhm_nm: f64, tail: f64) -> Spectrum {
    Spectrum::of(&[(peak_nm, fwhm_nm, 1.0), (peak_nm + 65.0, 1.5 * fwhm_nm, tail)])
}

/// Unpigmented keratin: bands at 395, 420, 460 nm with the shoulder at 495-509 nm that yellowing raises
/// (facts 3.4-3.6). `yellowed` 0 to 1.
pub fn keratin(yellowed: f64) -> Spectrum {
    Spectrum::of(&[
        (420.0, 60.0, 0.35 - 0.15 * yellowed),
        (445.0, 80.0, 0.8 - 0.2 * yellowed),
        (460.0, 90.0, 0.6),
        (497.0, 90.0, 0.2 + 0.75 * yellowed),
        // Long tail: white hair looks whitish blue, not pure blue, to the eye (no source for its height).
        (560.0, 150.0, 0.10 + 0.06 * yellowed),
    ])
}

/// Optical brightener of washed textiles (facts 3.12: 425-450 nm; §7: FWHM 60-80).
pub fn brightener(peak_nm: f64, fwhm_nm: f64) -> Spectrum {
    Spectrum::of(&[(peak_nm, fwhm_nm, 1.0)])
}

/// Tetracycline or doxycycline residue (facts 3.9: 475, 530 the strongest, 650 nm). `shift_nm` moves all bands.
pub fn tetracycline(shift_nm: f64) -> Spectrum {
    Spectrum::of(&[
        (475.0 + shift_nm, 60.0, 0.25),
        (530.0 + shift_nm, 85.0, 1.0),
        (600.0 + shift_nm, 90.0, 0.45),
        (650.0, 60.0, 0.2),
    ])
}

/// Apple-green synthetic carpet fibre (facts 2.27 for the colour, §7 for 520-530 nm).
pub fn carpet_green(peak_nm: f64, fwhm_nm: f64) -> Spectrum {
    Spectrum::of(&[(peak_nm, fwhm_nm, 1.0)])
}

/// Dyed or inked lint: yellow, orange or pink (facts 2.28, 2.30 for the colours; no spectrum found).
pub fn dyed_lint(peak_nm: f64) -> Spectrum {
    Spectrum::of(&[(peak_nm, 75.0, 1.0), (440.0, 70.0, 0.12)])
}

/// Greenish or whitish ointment (facts 2.31 for the colour; no spectrum found). `green` 0 white to 1 green.
pub fn ointment(green: f64) -> Spectrum {
    Spectrum::of(&[(450.0, 95.0, 0.9 - 0.6 * green), (508.0, 90.0, 0.5 + 0.5 * green), (560.0, 100.0, 0.35)])
}

/// Soap or shampoo film: bluish white (brightener-like; no spectrum found).
pub fn soap(whiteness: f64) -> Spectrum {
    Spectrum::of(&[(438.0, 75.0, 1.0), (500.0, 120.0, 0.25 + 0.45 * whiteness), (560.0, 120.0, 0.1 + 0.3 * whiteness)])
}

/// Lime-sulfur residue: yellow to orange to blue (facts 2.28, 3.14; no spectrum found). `warmth` 0 blue to 1 orange.
pub fn lime_sulfur(warmth: f64) -> Spectrum {
    Spectrum::of(&[(445.0, 90.0, 1.0 - 0.85 * warmth), (545.0, 95.0, 0.3 + 0.6 * warmth), (595.0, 90.0, 0.6 * warmth)])
}

/// Dried food: yellowish blue (no spectrum found). `yellow` 0 to 1.
pub fn food(yellow: f64) -> Spectrum {
    Spectrum::of(&[(455.0, 100.0, 1.0), (530.0, 120.0, 0.2 + 0.6 * yellow)])
}

/// Dried urine: yellowish blue-green (no spectrum found). `yellow` 0 to 1.
pub fn urine(yellow: f64) -> Spectrum {
    Spectrum::of(&[(440.0, 90.0, 0.8), (490.0, 100.0, 0.5), (540.0, 110.0, 0.15 + 0.5 * yellow)])
}

/// Skin scale and dander: bluish white keratin (facts 2.27, 2.29, 3.6).
pub fn dander(whiteness: f64) -> Spectrum {
    Spectrum::of(&[(440.0, 85.0, 1.0), (470.0, 100.0, 0.5), (509.0, 110.0, 0.25 + 0.4 * whiteness)])
}

/// Tape backing and adhesive: weak blue (facts 3.13, from memory; unmeasured). `violet` 0 to 1.
pub fn tape(violet: f64) -> Spectrum {
    Spectrum::of(&[(405.0, 40.0, 0.9 * violet), (440.0, 90.0, 1.0), (490.0, 120.0, 0.25)])
}

/// Visible tail of the 365 nm lamp that reflections show: violet (facts 3.15).
pub fn lamp_leak(peak_nm: f64) -> Spectrum {
    Spectrum::of(&[(peak_nm, 24.0, 1.0), (peak_nm + 25.0, 60.0, 0.1)])
}

#[cfg(test)]
mod tests {
    use super::{Band, Spectrum, infected, keratin, tetracycline};

    #[test]
    fn half_maximum_lies_half_a_fwhm_from_the_peak() {
        let band = Band { peak_nm: 500.0, fwhm_nm: 80.0, height: 2.0 };
        assert!((band.at(540.0) - 1.0).abs() < 1e-12, "closed form of a Gaussian");
    }

    #[test]
    fn every_spectrum_sums_to_one() {
        for spectrum in
            [infected(497.0, 85.0, 0.1), keratin(0.3), tetracycline(0.0), Spectrum::of(&[(405.0, 24.0, 3.0)])]
        {
            assert!((spectrum.through(|_| 1.0) - 1.0).abs() < 1e-9, "{spectrum:?}");
        }
    }

    #[test]
    fn peaks_lie_where_the_sources_put_them() {
        // Facts 3.1 (AMA Arch Derm 1955;71(4):511-514): maximum at 4902 Å.
        assert!((infected(490.2, 80.0, 0.1).peak_nm() - 490.2).abs() <= 4.0, "infected peak");
        // Facts 3.9 (Photochem Photobiol Sci 2003, issue 11): 530 nm is the strongest component.
        assert!((tetracycline(0.0).peak_nm() - 530.0).abs() <= 8.0, "tetracycline peak");
        // Facts 3.5, 3.12, §7: keratin in this light is dominated by 440-460 nm.
        assert!((436.0..=464.0).contains(&keratin(0.0).peak_nm()), "keratin peak");
    }

    #[test]
    fn yellowing_raises_the_shoulder_at_495() {
        // Facts 3.4 (Int J Cosmet Sci 2009;31(5)): 3-hydroxykynurenine at 495 nm builds up in yellowed hair.
        let shoulder = |yellowed: f64| keratin(yellowed).at(495.0) / keratin(yellowed).at(450.0);
        assert!(shoulder(0.0) < shoulder(0.5) && shoulder(0.5) < shoulder(1.0), "shoulder must grow");
    }
}
