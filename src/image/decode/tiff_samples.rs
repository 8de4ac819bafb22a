//! From what the TIFF codec hands out to interleaved samples of 8 or 16 bits.

use crate::image::Samples;
use crate::image::formats::Format;
use crate::image::from_bytes::ImageError;
use rayon::prelude::*;
use tiff::decoder::DecodingResult;

/// How a page stores its samples.
pub(super) struct Layout {
    /// Channels that are kept: 1 grey, 2 grey and opacity, 3 RGB, 4 RGB and opacity.
    pub(super) channels: usize,
    /// Channels that the codec hands out.
    pub(super) decoded_channels: usize,
    /// Channels in the file.
    pub(super) stored_channels: usize,
    /// Bits a sample.
    pub(super) bits: u8,
    /// Samples are floating-point numbers.
    pub(super) is_float: bool,
    /// Each channel is stored by itself.
    pub(super) is_planar: bool,
    /// There are channels that are not kept.
    pub(super) has_further_channels: bool,
    /// Opacity is already multiplied into the channels.
    pub(super) premultiplied: bool,
}

impl Layout {
    /// Bits of a stored pixel.
    pub(super) fn bits_per_px(&self) -> u64 {
        u64::from(self.bits) * self.stored_channels as u64
    }

    /// Bytes a pixel while decoding and after: what the codec hands out, then interleaved, widened, turned.
    pub(super) fn peak_bytes_per_px(&self) -> u64 {
        let sample_bytes = u64::from(self.bits.div_ceil(8));
        let decoded = sample_bytes * self.decoded_channels as u64;
        let kept = sample_bytes.min(2) * self.channels as u64;
        (decoded + kept).max(6 * sample_bytes.min(2)).max(kept + 2)
    }
}

/// Samples with the kept channels interleaved, and how many those are.
pub(super) fn interleaved(
    result: DecodingResult,
    layout: &Layout,
    width: usize,
    height: usize,
) -> Result<(Samples, usize), ImageError> {
    let n_px = width * height;
    let samples = match result {
        DecodingResult::U8(v) if layout.bits < 8 => Samples::Eight(unpacked(&v, layout.bits, width, height)),
        DecodingResult::U8(v) => Samples::Eight(kept(v, layout, n_px)),
        DecodingResult::U16(v) => Samples::Sixteen(kept(v, layout, n_px)),
        DecodingResult::F32(v) => Samples::Sixteen(counts(&kept(v, layout, n_px))?),
        _ => {
            let what = "keeps its samples in an unusual form";
            return Err(ImageError::Unsupported { format: Format::Tiff, what });
        }
    };
    let n_samples = match &samples {
        Samples::Eight(v) => v.len(),
        Samples::Sixteen(v) => v.len(),
    };
    if n_samples == n_px * layout.channels {
        Ok((samples, layout.channels))
    } else {
        Err(ImageError::Damaged { format: Format::Tiff, detail: "a channel is missing".into() })
    }
}

/// The kept channels, interleaved.
fn kept<T: Copy + Default>(decoded: Vec<T>, layout: &Layout, n_px: usize) -> Vec<T> {
    let Layout { channels, decoded_channels, is_planar, .. } = *layout;
    if channels == decoded_channels && (channels == 1 || !is_planar) {
        return decoded;
    }
    if !is_planar {
        return decoded.chunks_exact(decoded_channels).flat_map(|pixel| &pixel[..channels]).copied().collect();
    }
    let planes: Vec<&[T]> = decoded.chunks_exact(n_px).take(channels).collect();
    (0..n_px).flat_map(|i| planes.iter().map(move |plane| plane[i])).collect()
}

/// Samples of 1 to 7 bits as 8 bits, full scale at 255; rows begin at whole bytes.
fn unpacked(packed: &[u8], bits: u8, width: usize, height: usize) -> Vec<u8> {
    let full = (1u32 << bits) - 1;
    let row_bytes = (width * usize::from(bits)).div_ceil(8).max(1);
    let sample = |row: &[u8], x: usize| {
        (0..usize::from(bits)).fold(0u32, |value, b| {
            let at = x * usize::from(bits) + b;
            value << 1 | u32::from(row[at / 8] >> (7 - at % 8) & 1)
        })
    };
    let rows = packed.chunks_exact(row_bytes).take(height);
    rows.flat_map(|row| (0..width).map(move |x| (sample(row, x) * 255 / full) as u8)).collect()
}

/// Floating-point light as 16-bit counts: numbers up to 1 are shares of full scale, numbers up to 65,535 the counts of
/// a camera. Rounded to the nearest count, which is finer than the noise of a camera that fills 16 bits.
fn counts(light: &[f32]) -> Result<Vec<u16>, ImageError> {
    const FULL: f32 = 65_535.0;
    // NaN is in no range.
    if !light.par_iter().all(|l| (0.0..=FULL).contains(l)) {
        return Err(ImageError::Unsupported {
            format: Format::Tiff,
            what: "has floating-point numbers below 0, above 65,535, or that are none",
        });
    }
    let scale = if light.par_iter().all(|l| *l <= 1.0) { FULL } else { 1.0 };
    Ok(light.par_iter().map(|l| (l * scale).round() as u16).collect())
}

#[cfg(test)]
mod tests {
    use super::{Layout, counts, kept, unpacked};

    fn layout(channels: usize, decoded_channels: usize, is_planar: bool) -> Layout {
        Layout {
            channels,
            decoded_channels,
            stored_channels: decoded_channels,
            bits: 8,
            is_float: false,
            is_planar,
            has_further_channels: false,
            premultiplied: false,
        }
    }

    #[test]
    fn planes_are_interleaved_and_spare_channels_dropped() {
        assert_eq!(kept(vec![1, 2, 3, 4, 5, 6], &layout(3, 3, true), 2), [1, 3, 5, 2, 4, 6]);
        assert_eq!(kept(vec![1, 2, 3, 4, 5, 6], &layout(3, 3, false), 2), [1, 2, 3, 4, 5, 6]);
        assert_eq!(kept(vec![1, 2, 3, 4, 5, 6], &layout(1, 3, false), 2), [1, 4]);
        assert_eq!(kept(vec![1, 2, 3, 4, 5, 6], &layout(1, 3, true), 2), [1, 2]);
    }

    #[test]
    fn bits_are_unpacked_row_by_row() {
        assert_eq!(unpacked(&[0b1010_0000, 0b0100_0000], 1, 3, 2), [255, 0, 255, 0, 255, 0]);
        assert_eq!(unpacked(&[0xF0, 0x80], 4, 3, 1), [255, 0, 136]);
    }

    #[test]
    fn floating_point_is_a_share_or_a_count() {
        assert_eq!(counts(&[0.0, 0.5, 1.0]).unwrap(), [0, 32_768, 65_535]);
        assert_eq!(counts(&[0.0, 2.4, 4095.0]).unwrap(), [0, 2, 4095]);
        for wrong in [f32::NAN, -0.1, f32::INFINITY, 70_000.0] {
            assert!(counts(&[0.5, wrong]).is_err(), "{wrong}");
        }
    }
}
