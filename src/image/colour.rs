//! Code values to light: ICC profiles, the sRGB curve, and what is assumed where a file says nothing.
//!
//! In order of precedence: an embedded ICC profile; for PNG its own colour chunks; then the convention
//! - OME-TIFF, and TIFF with one channel of 16 bits or of floating point: already proportional to light, as
//!   scientific cameras write it;
//! - everything else: sRGB (IEC 61966-2-1:1999), as cameras and phones write it.
//!
//! A profile whose primaries are sRGB's costs nothing: its curve becomes the table. Any other RGB profile is converted
//! to sRGB by relative colorimetry without black-point compensation, at the depth of the file.
//!
//! Weakness: light outside the sRGB gamut is clipped (a narrow green emission has negative red in sRGB). A profile
//! that does not fit the picture (a grey picture with an ink profile) or cannot be parsed is ignored, and so are bare
//! chromaticities (cHRM) of a PNG. A phone's own
//! tone curve is not in the profile and is not undone.

use super::Samples;
use super::decode::Transfer;
use moxcms::{
    CicpColorPrimaries, CicpProfile, ColorProfile, DataColorSpace, Layout, MatrixCoefficients, RenderingIntent,
    ToneReprCurve, TransferCharacteristics, TransformExecutor, TransformOptions,
};
use rayon::prelude::*;

/// Linear light, 0 to 1, of an sRGB code value, 0 to 1. IEC 61966-2-1:1999, 5.2.
pub(super) fn srgb_decode(value: f64) -> f64 {
    if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
}

/// Linear light for each of `n_values` sRGB code values.
pub(super) fn srgb_table(n_values: usize) -> Vec<f32> {
    table(n_values, srgb_decode)
}

fn table(n_values: usize, light: impl Fn(f64) -> f64) -> Vec<f32> {
    let full = (n_values - 1) as f64;
    (0..n_values).map(|v| light(v as f64 / full).clamp(0.0, 1.0) as f32).collect()
}

/// Linear light to the nearest 8-bit sRGB code value, by a table that is exact.
pub(super) struct SrgbEncoder {
    /// The least light that is nearer to code value i + 1 than to i, in code values.
    thresholds: [f32; 255],
    /// The code value of the light at the start of each of equal steps of light, to start the search from.
    start: Vec<u8>,
}

impl SrgbEncoder {
    /// Steps of light in the first table. One step is less than the narrowest code value near black
    /// (1 / 255 / 12.92 = 1 / 3295), so that at most two comparisons follow.
    const N_STEPS: usize = 4096;

    pub(super) fn new() -> SrgbEncoder {
        let mut thresholds = [0.0f32; 255];
        for (i, threshold) in thresholds.iter_mut().enumerate() {
            *threshold = srgb_decode((i as f64 + 0.5) / 255.0) as f32;
        }
        let start = (0..=Self::N_STEPS)
            .map(|step| thresholds.partition_point(|t| *t <= step as f32 / Self::N_STEPS as f32) as u8)
            .collect();
        SrgbEncoder { thresholds, start }
    }

    /// The code value nearest to `light`; 0 below black, 255 above white.
    pub(super) fn encode(&self, light: f32) -> u8 {
        let light = light.clamp(0.0, 1.0);
        let mut value = self.start[(light * Self::N_STEPS as f32) as usize];
        while value < 255 && self.thresholds[usize::from(value)] <= light {
            value += 1;
        }
        value
    }
}

/// Pixels after colour management: one or three channels, with the table that turns them into light.
pub(super) struct Managed {
    pub(super) samples: Samples,
    pub(super) linear: Vec<f32>,
}

/// Brings samples of one (`channels` = 1) or three interleaved channels to the sRGB primaries.
pub(super) fn managed(samples: Samples, channels: usize, icc: Option<&[u8]>, transfer: Transfer) -> Managed {
    let n_values = match &samples {
        Samples::Eight(_) => 256,
        Samples::Sixteen(_) => 65_536,
    };
    let profile = icc.and_then(|bytes| ColorProfile::new_from_slice(bytes).ok());
    let linear = match (&profile, channels) {
        (Some(profile), 1) => grey_table(profile, n_values),
        (Some(profile), _) if has_srgb_primaries(profile) => shared_curve(profile, n_values),
        _ => None,
    };
    if let Some(linear) = linear {
        return Managed { samples, linear };
    }
    let to_convert = profile.filter(|p| channels == 3 && p.color_space == DataColorSpace::Rgb);
    match to_convert.and_then(|profile| Converter::new(&profile, &samples)) {
        Some(converter) => Managed { samples: converter.apply(samples), linear: srgb_table(n_values) },
        None => {
            let linear = transfer_table(transfer, &samples, n_values);
            Managed { samples, linear }
        }
    }
}

fn transfer_table(transfer: Transfer, samples: &Samples, n_values: usize) -> Vec<f32> {
    match transfer {
        Transfer::Srgb => srgb_table(n_values),
        Transfer::Gamma(exponent) => table(n_values, |v| v.powf(exponent)),
        Transfer::Linear { significant_bits } => {
            let full = match samples {
                Samples::Eight(_) => 255,
                Samples::Sixteen(v) => full_scale(v.par_iter().copied().max().unwrap_or(0), significant_bits),
            };
            (0..n_values).map(|v| (v as f32 / full as f32).min(1.0)).collect()
        }
    }
}

/// The sample value that stands for full scale in a 16-bit file proportional to light.
///
/// Cameras of 12 and 14 bits are common and leave the upper bits empty: then the full scale is 4095 or 16,383, the
/// least of these not below the brightest sample. A brightest sample of exactly 255 or 1023 is a clipped camera of 8
/// or 10 bits; a brightest sample merely below those is more often a dim picture of a deeper camera. What the file
/// itself states (`significant_bits`) goes before the guess, unless the samples contradict it. A dim picture of a true
/// 16-bit camera is so taken for one of 12 bits and its light is overstated by up to 16: ratios within the picture,
/// which are all that is measured, are not touched.
fn full_scale(brightest: u16, significant_bits: Option<u8>) -> u16 {
    let full_of = |bits: u8| ((1u32 << bits) - 1) as u16;
    let stated = significant_bits.filter(|bits| (1..=16).contains(bits)).map(full_of).filter(|full| *full >= brightest);
    stated.unwrap_or_else(|| match brightest {
        255 | 1023 => brightest,
        _ => [12, 14, 16].map(full_of).into_iter().find(|full| brightest <= *full).unwrap_or(u16::MAX),
    })
}

/// An ICC profile for code points of Recommendation ITU-T H.273; `None` where they name no colour space or sRGB.
pub(super) fn profile_from_code_points(primaries: u8, transfer: u8) -> Option<Vec<u8>> {
    const SRGB: (u8, u8) = (1, 13);
    if (primaries, transfer) == SRGB {
        return None;
    }
    let color_primaries = CicpColorPrimaries::try_from(primaries).ok()?;
    let transfer_characteristics = TransferCharacteristics::try_from(transfer).ok()?;
    let code_points = CicpProfile {
        color_primaries,
        transfer_characteristics,
        matrix_coefficients: MatrixCoefficients::Bt709,
        full_range: true,
    };
    let profile = ColorProfile::new_from_cicp(code_points);
    // Left without curves or colorants where the code points name none.
    if profile.is_matrix_shaper() { profile.encode().ok() } else { None }
}

/// How far a colorant of a profile may lie from sRGB's (D50, XYZ) and still be sRGB's: profiles round to 1/65536 and
/// differ in how they adapt the white, by up to 0.0005; the nearest other space (Display P3) is 0.08 away.
const SAME_COLORANT: f64 = 0.002;

fn has_srgb_primaries(profile: &ColorProfile) -> bool {
    let srgb = ColorProfile::new_srgb();
    let pairs = [
        (profile.red_colorant, srgb.red_colorant),
        (profile.green_colorant, srgb.green_colorant),
        (profile.blue_colorant, srgb.blue_colorant),
    ];
    profile.is_matrix_shaper()
        && profile.pcs == DataColorSpace::Xyz
        && pairs.iter().all(|(a, b)| [a.x - b.x, a.y - b.y, a.z - b.z].iter().all(|d| d.abs() < SAME_COLORANT))
}

/// The table of a profile whose three channels have one curve.
fn shared_curve(profile: &ColorProfile, n_values: usize) -> Option<Vec<f32>> {
    let curve = profile.green_trc.as_ref()?;
    let one_curve = profile.red_trc.as_ref() == Some(curve) && profile.blue_trc.as_ref() == Some(curve);
    if one_curve { curve_table(curve, n_values) } else { None }
}

/// The table for a picture of one channel: its grey profile, or an RGB profile with one curve.
fn grey_table(profile: &ColorProfile, n_values: usize) -> Option<Vec<f32>> {
    match profile.color_space {
        DataColorSpace::Gray => curve_table(profile.gray_trc.as_ref()?, n_values),
        DataColorSpace::Rgb => shared_curve(profile, n_values),
        _ => None,
    }
}

/// How far a curve may lie from sRGB's, in light, and be taken for it: the 1024-entry curve of the common sRGB profile
/// is rounded to 1/65536. The exact table then keeps values equal to IEC 61966-2-1 to the last bit.
const SAME_CURVE: f32 = 0.0005;

/// Light for each code value through a profile's curve; `None` where the curve is no curve (falls, or is not finite).
fn curve_table(curve: &ToneReprCurve, n_values: usize) -> Option<Vec<f32>> {
    let curve = curve.make_linear_evaluator().ok()?;
    let full = (n_values - 1) as f32;
    let light: Vec<f32> = (0..n_values).map(|v| curve.evaluate_value(v as f32 / full)).collect();
    if !light.iter().all(|l| l.is_finite()) || light.windows(2).any(|pair| pair[1] < pair[0] - SAME_CURVE) {
        return None;
    }
    let srgb = srgb_table(n_values);
    let is_srgb = light.iter().zip(&srgb).all(|(a, b)| (a - b).abs() < SAME_CURVE);
    if is_srgb {
        return Some(srgb);
    }
    // A steep curve is evaluated with small falls; more must not be less light.
    let most_so_far = light.into_iter().scan(0.0_f32, |most, l| {
        *most = most.max(l.clamp(0.0, 1.0));
        Some(*most)
    });
    Some(most_so_far.collect())
}

/// A conversion of interleaved RGB to sRGB at one depth.
enum Converter {
    Eight(std::sync::Arc<dyn TransformExecutor<u8> + Send + Sync>),
    Sixteen(std::sync::Arc<dyn TransformExecutor<u16> + Send + Sync>),
}

/// Pixels converted at a time: source and result together stay in a core's cache.
const BAND_PX: usize = 8192;

impl Converter {
    fn new(profile: &ColorProfile, samples: &Samples) -> Option<Converter> {
        let srgb = ColorProfile::new_srgb();
        let mut profile = profile.clone();
        // A profile with one table for all intents keeps it where the perceptual one stands (ICC.1:2022, 8.3).
        profile.lut_a_to_b_colorimetric = profile.lut_a_to_b_colorimetric.or(profile.lut_a_to_b_perceptual.clone());
        let options = |prefer_fixed_point| TransformOptions {
            rendering_intent: RenderingIntent::RelativeColorimetric,
            prefer_fixed_point,
            ..TransformOptions::default()
        };
        Some(match samples {
            Samples::Eight(_) => {
                Converter::Eight(profile.create_transform_8bit(Layout::Rgb, &srgb, Layout::Rgb, options(true)).ok()?)
            }
            // Fixed point keeps 13 bits only: too few here.
            Samples::Sixteen(_) => Converter::Sixteen(
                profile.create_transform_16bit(Layout::Rgb, &srgb, Layout::Rgb, options(false)).ok()?,
            ),
        })
    }

    /// The converted samples, in the same memory.
    fn apply(&self, mut samples: Samples) -> Samples {
        match (self, &mut samples) {
            (Converter::Eight(executor), Samples::Eight(v)) => convert_in_bands(v, executor.as_ref()),
            (Converter::Sixteen(executor), Samples::Sixteen(v)) => convert_in_bands(v, executor.as_ref()),
            _ => (),
        }
        samples
    }
}

fn convert_in_bands<T: Copy + Default + Send + Sync>(
    samples: &mut [T],
    executor: &(dyn TransformExecutor<T> + Send + Sync),
) {
    samples.par_chunks_mut(3 * BAND_PX).for_each_with(Vec::new(), |source, band| {
        source.clear();
        source.extend_from_slice(band);
        // Fails only on lengths that do not fit, which these do.
        let _ = executor.transform(source, band);
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The sRGB code value, 0 to 1, of linear light, 0 to 1. IEC 61966-2-1:1999, 5.2: the inverse of `srgb_decode`.
    fn srgb_encode(light: f64) -> f64 {
        if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 }
    }

    /// facts.md 3.27: values of IEC 61966-2-1:1999 as a colour library computes them, 8 decimals.
    #[test]
    fn srgb_agrees_with_the_standard() {
        let encoded = [(0.18, 0.461_356_13), (0.5, 0.735_356_98), (0.01, 0.099_852_82), (0.003_130_8, 0.040_449_94)];
        for (light, value) in encoded {
            assert!((srgb_encode(light) - value).abs() < 1e-8, "{light}");
            // The two halves of the standard meet to 1e-8 only (facts.md 3.26).
            assert!((srgb_decode(value) - light).abs() < 2e-8, "{value}");
        }
        assert!((srgb_decode(0.5) - 0.214_041_14).abs() < 1e-8);
        assert!((srgb_decode(128.0 / 255.0) - 0.215_860_50).abs() < 1e-8);
        assert!((srgb_table(256)[128] - 0.215_860_5).abs() < 1e-7);
        for n_values in [256, 65_536] {
            let table = srgb_table(n_values);
            assert_eq!((table[0], table[n_values - 1]), (0.0, 1.0));
            assert!(table.is_sorted());
        }
    }

    #[test]
    fn the_fast_encoder_rounds_to_the_nearest_code_value() {
        let encoder = SrgbEncoder::new();
        for step in 0..=100_000 {
            let light = step as f32 / 100_000.0;
            let exact = 255.0 * srgb_encode(f64::from(light));
            let error = (f64::from(encoder.encode(light)) - exact).abs();
            assert!(error < 0.5 + 1e-4, "{light}: {exact}");
        }
        assert_eq!([encoder.encode(-1.0), encoder.encode(2.0), encoder.encode(1.0)], [0, 255, 255]);
    }

    #[test]
    fn the_evident_depth_sets_full_scale() {
        let cases = [
            (0, None, 4095),
            (900, None, 4095),
            (4095, None, 4095),
            (4096, None, 16_383),
            (16_384, None, 65_535),
            (65_535, None, 65_535),
            (1023, None, 1023),
            (255, None, 255),
            (900, Some(10), 1023),
            (900, Some(16), 65_535),
            (900, Some(8), 4095),
            (900, Some(77), 4095),
        ];
        for (brightest, stated, full) in cases {
            assert_eq!(full_scale(brightest, stated), full, "{brightest} {stated:?}");
        }
    }

    #[test]
    fn linear_light_reaches_one_at_full_scale_and_stays_there() {
        let samples = Samples::Sixteen(vec![0, 2048, 4095]);
        let managed = managed(samples, 1, None, Transfer::Linear { significant_bits: None });
        assert_eq!(managed.linear[4095], 1.0);
        assert_eq!(managed.linear[65_535], 1.0);
        assert!((managed.linear[2048] - 2048.0 / 4095.0).abs() < 1e-7);
    }

    #[test]
    fn nonsense_profiles_are_ignored() {
        for icc in [&b""[..], b"not a profile", &[0u8; 200]] {
            let managed = managed(Samples::Eight(vec![1, 2, 3]), 3, Some(icc), Transfer::Srgb);
            assert_eq!(managed.linear, srgb_table(256));
            assert!(matches!(managed.samples, Samples::Eight(v) if v == [1, 2, 3]));
        }
    }
}
