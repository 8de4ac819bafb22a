//! PNG, all its kinds of samples.

use super::png_chunks::Chunks;
use super::{Decoded, Transfer, error_of, samples_of};
use crate::image::formats::Format;
use crate::image::from_bytes::{ImageError, Settings};
use crate::image::limits::{self, Claim};
use crate::image::{colour, tags};
use ::image::codecs::png::PngDecoder;
use ::image::{DynamicImage, ImageDecoder, Limits};
use std::io::Cursor;

const FORMAT: Format = Format::Png;

/// Deflate cannot do better than this (258 bytes in 2 bits, RFC 1951): fewer bytes cannot hold the picture.
pub(super) const MAX_DEFLATE_RATIO: u64 = 1032;

/// Memory for profiles and notes, all together. The largest real profiles have 4 MB.
const MAX_NOTES_BYTES: u64 = 32 << 20;

pub(super) fn decode(bytes: &[u8], settings: &Settings) -> Result<Decoded, ImageError> {
    let header = Header::read(bytes).ok_or(ImageError::CutShort { format: FORMAT })?;
    limits::check(header.claim(), settings)?;
    let chunks = Chunks::read(bytes);
    let too_few = chunks.idat_bytes.saturating_mul(MAX_DEFLATE_RATIO) < header.packed_bytes();
    if !chunks.ended || too_few {
        return Err(ImageError::CutShort { format: FORMAT });
    }
    let mut limits = Limits::no_limits();
    limits.max_alloc = Some(MAX_NOTES_BYTES + header.packed_bytes().min(MAX_NOTES_BYTES));
    let error = |e| error_of(e, FORMAT);
    let mut decoder = PngDecoder::with_limits(Cursor::new(bytes), limits).map_err(error)?;
    let icc = decoder.icc_profile().map_err(error)?;
    let exif = decoder.exif_metadata().map_err(error)?;
    let (width, height) = decoder.dimensions();
    let (icc, transfer) = encoding(&chunks, icc)?;
    let (samples, channels) = samples_of(DynamicImage::from_decoder(decoder).map_err(error)?, FORMAT)?;
    let per_cm = |px_per_m: u32| f64::from(px_per_m) / 100.0;
    Ok(Decoded {
        width: width as usize,
        height: height as usize,
        samples,
        channels,
        premultiplied: false,
        transfer,
        icc,
        stated: exif.map(|block| tags::from_exif(&block)).unwrap_or_default(),
        scale: chunks.px_per_m.and_then(|(x, y)| tags::scale_from_resolution(per_cm(x), per_cm(y))),
        several: chunks.n_frames.is_some_and(|n| n > 1),
        jpeg_quality: None,
    })
}

/// What the colour chunks say, in the order of the standard (section 13.14): cICP, iCCP, sRGB, gAMA.
fn encoding(chunks: &Chunks, icc: Option<Vec<u8>>) -> Result<(Option<Vec<u8>>, Transfer), ImageError> {
    /// What writers of sRGB put into gAMA, rounded in different ways; the true curve is then meant.
    const SRGB_GAMMA: std::ops::RangeInclusive<f64> = 0.45..=0.46;
    /// Exponents that a file can mean; others are nonsense.
    const GAMMA_RANGE: std::ops::RangeInclusive<f64> = 0.1..=2.0;
    if let Some([primaries, transfer, ..]) = chunks.code_points {
        // Recommendation ITU-T H.273: 16 and 18 are the two curves of high dynamic range.
        if matches!(transfer, 16 | 18) {
            return Err(ImageError::Unsupported { format: FORMAT, what: "is coded for a high-dynamic-range screen" });
        }
        if let Some(profile) = colour::profile_from_code_points(primaries, transfer) {
            return Ok((Some(profile), Transfer::Srgb));
        }
    }
    let gamma = chunks.encoding_gamma.filter(|g| GAMMA_RANGE.contains(g) && !SRGB_GAMMA.contains(g));
    let transfer = match gamma {
        Some(gamma) if !chunks.is_srgb => Transfer::Gamma(1.0 / gamma),
        _ => Transfer::Srgb,
    };
    Ok((icc, transfer))
}

/// The header chunk, which the standard puts first.
struct Header {
    width: u32,
    height: u32,
    bits: u8,
    kind: u8,
}

impl Header {
    fn read(bytes: &[u8]) -> Option<Header> {
        let data = bytes.get(16..26).filter(|_| bytes.get(12..16) == Some(b"IHDR"))?;
        let number = |at: usize| u32::from_be_bytes([data[at], data[at + 1], data[at + 2], data[at + 3]]);
        Some(Header { width: number(0), height: number(4), bits: data[8], kind: data[9] })
    }

    /// Samples of a stored pixel.
    fn channels(&self) -> u64 {
        match self.kind {
            2 => 3,
            4 => 2,
            6 => 4,
            _ => 1,
        }
    }

    /// Bytes of the picture before compression, at least (filter bytes left out).
    fn packed_bytes(&self) -> u64 {
        let bits_per_row = u64::from(self.width) * self.channels() * u64::from(self.bits);
        bits_per_row.div_ceil(8).saturating_mul(u64::from(self.height))
    }

    fn claim(&self) -> Claim {
        let depth_bytes = if self.bits == 16 { 2 } else { 1 };
        // Decoded with opacity (a palette or a transparent colour may bring one), then RGB, and RGB again to be turned;
        // opacity taken apart needs two bytes.
        let decoded = depth_bytes * if matches!(self.kind, 0 | 4) { 2 } else { 4 };
        let peak_bytes_per_px = (decoded + 2).max(6 * depth_bytes);
        Claim { width: self.width.into(), height: self.height.into(), peak_bytes_per_px }
    }
}
