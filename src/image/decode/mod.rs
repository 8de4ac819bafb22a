//! The formats that are read: bytes to samples as they are stored, with what the file says of them.
//!
//! The only folder that names a picture codec. Codecs are given bytes whose claims have been checked
//! ([`super::limits`]); what they report is turned into an [`ImageError`] by who can act.

mod jpeg;

mod jpeg_markers;

mod png;

mod png_chunks;

mod size;

mod tiff;

mod tiff_samples;

mod webp;

mod webp_frames;

pub(super) use size::stated_size;

use super::Samples;
use super::formats::Format;
use super::from_bytes::{ImageError, Settings};
use super::tags::Stated;
use crate::units::Scale;

/// A picture as its file stores it.
pub(super) struct Decoded {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Interleaved.
    pub(super) samples: Samples,
    /// 1 grey, 2 grey and opacity, 3 RGB, 4 RGB and opacity.
    pub(super) channels: usize,
    /// The opacity has already been multiplied into the other channels.
    pub(super) premultiplied: bool,
    /// How samples relate to light where there is no profile.
    pub(super) transfer: Transfer,
    /// Embedded ICC profile.
    pub(super) icc: Option<Vec<u8>>,
    /// Orientation, time, camera.
    pub(super) stated: Stated,
    /// Size of a pixel, where the file plainly states one.
    pub(super) scale: Option<Scale>,
    /// There are further pictures in the file.
    pub(super) several: bool,
    /// Estimated JPEG quality, 1 to 100.
    pub(super) jpeg_quality: Option<f64>,
}

/// How samples relate to light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Transfer {
    /// IEC 61966-2-1.
    Srgb,
    /// Light is the sample, 0 to 1, to this power.
    Gamma(f64),
    /// Light is proportional to the sample.
    Linear {
        /// Bits of a sample that carry light, where the file says so.
        significant_bits: Option<u8>,
    },
}

/// Decodes a picture whose format is known.
pub(super) fn decode(format: Format, bytes: &[u8], settings: &Settings) -> Result<Decoded, ImageError> {
    match format {
        Format::Jpeg => jpeg::decode(bytes, settings),
        Format::Png => png::decode(bytes, settings),
        Format::WebP => webp::decode(bytes, settings),
        Format::Tiff => tiff::decode(bytes, settings),
    }
}

/// Samples and channels of what the general picture crate decoded.
fn samples_of(picture: ::image::DynamicImage, format: Format) -> Result<(Samples, usize), ImageError> {
    use ::image::DynamicImage as Picture;
    Ok(match picture {
        Picture::ImageLuma8(p) => (Samples::Eight(p.into_raw()), 1),
        Picture::ImageLumaA8(p) => (Samples::Eight(p.into_raw()), 2),
        Picture::ImageRgb8(p) => (Samples::Eight(p.into_raw()), 3),
        Picture::ImageRgba8(p) => (Samples::Eight(p.into_raw()), 4),
        Picture::ImageLuma16(p) => (Samples::Sixteen(p.into_raw()), 1),
        Picture::ImageLumaA16(p) => (Samples::Sixteen(p.into_raw()), 2),
        Picture::ImageRgb16(p) => (Samples::Sixteen(p.into_raw()), 3),
        Picture::ImageRgba16(p) => (Samples::Sixteen(p.into_raw()), 4),
        _ => return Err(ImageError::Unsupported { format, what: "keeps its samples in an unusual form" }),
    })
}

/// What an error of the general picture crate means to a person.
fn error_of(error: ::image::ImageError, format: Format) -> ImageError {
    use ::image::ImageError as Error;
    let cut = std::iter::successors(Some(&error as &dyn std::error::Error), |e| e.source())
        .filter_map(|e| e.downcast_ref::<std::io::Error>())
        .any(|io| io.kind() == std::io::ErrorKind::UnexpectedEof);
    match error {
        _ if cut => ImageError::CutShort { format },
        Error::Unsupported(_) => ImageError::Unsupported { format, what: "uses a rare variety of the format" },
        Error::Limits(_) => ImageError::Unsupported { format, what: "carries more notes than a photo should" },
        error => ImageError::Damaged { format, detail: error.to_string() },
    }
}
