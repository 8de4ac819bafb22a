//! JPEG, grey or three channels, 8 bits.

use super::jpeg_markers::{Frame, Markers};
use super::{Decoded, Transfer};
use crate::image::Samples;
use crate::image::formats::Format;
use crate::image::from_bytes::{ImageError, Settings};
use crate::image::limits::{self, Claim};
use crate::image::tags;
use zune_core::bytestream::ZCursor;
use zune_core::colorspace::ColorSpace;
use zune_core::options::DecoderOptions;
use zune_jpeg::JpegDecoder;

const FORMAT: Format = Format::Jpeg;

pub(super) fn decode(bytes: &[u8], settings: &Settings) -> Result<Decoded, ImageError> {
    let markers = Markers::read(bytes);
    let frame = markers.frame.as_ref().ok_or(ImageError::CutShort { format: FORMAT })?;
    let channels = channels_of(frame)?;
    limits::check(claim(frame, channels), settings)?;
    if !markers.is_whole() {
        return Err(ImageError::CutShort { format: FORMAT });
    }
    let out = if channels == 1 { ColorSpace::Luma } else { ColorSpace::RGB };
    let options = DecoderOptions::default()
        .set_max_width(usize::from(u16::MAX))
        .set_max_height(usize::from(u16::MAX))
        .jpeg_set_out_colorspace(out);
    let guarded = markers.guarded(bytes);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(&guarded[..]), options.set_strict_mode(false));
    let damaged =
        |error: zune_jpeg::errors::DecodeErrors| ImageError::Damaged { format: FORMAT, detail: format!("{error:?}") };
    // Headers are read kindly (some cameras pad them), the picture itself strictly: the kind way fills what is missing
    // with grey and says nothing.
    decoder.decode_headers().map_err(damaged)?;
    decoder.set_options(options.set_strict_mode(true));
    let mut samples = vec![0; usize::from(frame.width) * usize::from(frame.height) * channels];
    decoder.decode_into(&mut samples).map_err(damaged)?;
    Ok(Decoded {
        width: frame.width.into(),
        height: frame.height.into(),
        samples: Samples::Eight(samples),
        channels,
        premultiplied: false,
        transfer: Transfer::Srgb,
        icc: decoder.icc_profile(),
        stated: decoder.exif().map(|block| tags::from_exif(block)).unwrap_or_default(),
        // Dots an inch in JFIF and EXIF are made up by cameras: never a scale.
        scale: None,
        several: false,
        jpeg_quality: markers.quality(),
    })
}

fn channels_of(frame: &Frame) -> Result<usize, ImageError> {
    let refused = |what| Err(ImageError::Unsupported { format: FORMAT, what });
    if !matches!(frame.process, 0..=2) {
        return refused("is compressed in a way that cameras do not use (lossless, hierarchical or arithmetic)");
    }
    if frame.precision_bits != 8 {
        return refused("does not have 8 bits a sample");
    }
    match frame.sampling.len() {
        1 => Ok(1),
        3 => Ok(3),
        // The light cannot be told without knowing the inks.
        4 => refused("is made for print, with four inks (CMYK)"),
        _ => refused("has an unusual number of channels"),
    }
}

fn claim(frame: &Frame, channels: usize) -> Claim {
    let out = channels as u64;
    // A progressive file is kept as 16-bit coefficients until its last scan.
    let coefficients = if frame.process == 2 { 2 * out } else { 0 };
    // Afterwards: grey is widened to three, and a quarter turn needs a second copy.
    let peak_bytes_per_px = (out + coefficients).max(if channels == 1 { 4 } else { 6 });
    Claim { width: frame.width.into(), height: frame.height.into(), peak_bytes_per_px }
}
