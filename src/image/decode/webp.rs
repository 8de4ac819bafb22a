//! WebP, still or moving; of a moving one the first frame.

use super::{Decoded, Transfer, error_of, samples_of, webp_frames};
use crate::image::formats::Format;
use crate::image::from_bytes::{ImageError, Settings};
use crate::image::limits::{self, Claim};
use crate::image::tags;
use ::image::codecs::webp::WebPDecoder;
use ::image::{DynamicImage, ImageDecoder};
use std::io::Cursor;

const FORMAT: Format = Format::WebP;

pub(super) fn decode(bytes: &[u8], settings: &Settings) -> Result<Decoded, ImageError> {
    // The container states the length of what follows its first eight bytes (RFC 9649, 2.4).
    let stated = bytes.get(4..8).map_or(0, |b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]) as usize);
    if bytes.len() < stated.saturating_add(8) {
        return Err(ImageError::CutShort { format: FORMAT });
    }
    let error = |e| error_of(e, FORMAT);
    let mut decoder = WebPDecoder::new(Cursor::new(bytes)).map_err(error)?;
    let (width, height) = decoder.dimensions();
    // Lossless: four bytes of ARGB beside the result; lossy: planes of 1.5 bytes beside it; a moving one: a canvas and
    // a frame beside it. Then opacity and a turn, as for PNG.
    const PEAK_BYTES_PER_PX: u64 = 12;
    limits::check(
        Claim { width: width.into(), height: height.into(), peak_bytes_per_px: PEAK_BYTES_PER_PX },
        settings,
    )?;
    // The coded frames state sizes of their own, and room is made for them before they are compared with the canvas.
    for (frame_width, frame_height) in webp_frames::sizes(bytes) {
        if frame_width > width || frame_height > height {
            return Err(ImageError::Damaged { format: FORMAT, detail: "a frame is larger than the picture".into() });
        }
    }
    let several = decoder.has_animation();
    let icc = decoder.icc_profile().map_err(error)?;
    let exif = decoder.exif_metadata().map_err(error)?;
    let (samples, channels) = samples_of(DynamicImage::from_decoder(decoder).map_err(error)?, FORMAT)?;
    Ok(Decoded {
        width: width as usize,
        height: height as usize,
        samples,
        channels,
        premultiplied: false,
        transfer: Transfer::Srgb,
        icc,
        stated: exif.map(|block| tags::from_exif(&block)).unwrap_or_default(),
        scale: None,
        several,
        jpeg_quality: None,
    })
}
