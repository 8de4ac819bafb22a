//! DOOR: bytes to a picture; the only way pixels come in.

use super::colour::{self, Managed};
use super::decode::{self, Decoded};
use super::formats::{self, Format, OtherFormat, Recognised};
use super::opacity::{composite_on_black, without_opacity};
use super::orient::upright;
use super::{Image, Samples, Tags};
use crate::concerns::{Concern, ConcernKind};
use rayon::prelude::*;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// What a user may set of this stage. All three hold before memory is taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// The largest number of pixels that will be decoded.
    pub max_pixels: u64,
    /// The largest width or height, pixels.
    pub max_side_px: u32,
    /// The most memory that decoding one picture may take at its peak, bytes, the bytes passed in not counted.
    pub max_memory_bytes: u64,
}

impl Default for Settings {
    /// 100 megapixels, 50,000 pixels a side, 2 GiB: above every phone and microscope camera, below what hurts.
    fn default() -> Settings {
        Settings { max_pixels: 100_000_000, max_side_px: 50_000, max_memory_bytes: 2 << 30 }
    }
}

/// Why a picture could not be read. The sentence says what is wrong; [`ImageError::help`] what to do.
///
/// Split by who can act: the sender of the file (first group), the program that wrote it (second), whoever set the
/// limits (third).
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ImageError {
    /// There are no bytes.
    #[error("the file is empty")]
    Empty,
    /// Not a format that is read, nor one that is recognised.
    #[error("it is no JPEG, PNG, WebP or TIFF picture")]
    UnknownFormat,
    /// Recognised by its content, but not read.
    #[error("it is {}, which is not read", .0.name())]
    OtherFormat(OtherFormat),
    /// The file ends before the picture does.
    #[error("the {} file ends before the picture is complete", .format.name())]
    CutShort {
        /// What kind of file.
        format: Format,
    },

    /// A variety of a format that is otherwise read.
    #[error("it is a {} picture that {what}, which is not read", .format.name())]
    Unsupported {
        /// What kind of file.
        format: Format,
        /// What it does: a verb and the rest of the sentence.
        what: &'static str,
    },
    /// The content contradicts itself.
    #[error("the {} file is damaged: {detail}", .format.name())]
    Damaged {
        /// What kind of file.
        format: Format,
        /// Where the decoder stumbled.
        detail: String,
    },
    /// Width or height is nought.
    #[error("the picture has no pixels")]
    NoPixels,

    /// Beyond the limits of size.
    #[error(
        "the picture has {width} × {height} pixels; the limit is {max_pixels} pixels and {max_side_px} pixels a side"
    )]
    TooLarge {
        /// Columns, as the file claims.
        width: u64,
        /// Rows, as the file claims.
        height: u64,
        /// The limit on pixels.
        max_pixels: u64,
        /// The limit on a side.
        max_side_px: u32,
    },
    /// Beyond the limit of memory.
    #[error("decoding the picture would take {} MB of memory; the limit is {} MB", .needed_bytes >> 20, .max_bytes >> 20)]
    TooMuchMemory {
        /// Bytes that decoding would take.
        needed_bytes: u64,
        /// The limit.
        max_bytes: u64,
    },
}

impl ImageError {
    /// What to do about it, one sentence.
    pub fn help(&self) -> &'static str {
        match self {
            ImageError::Empty => "Copy the photo again; this copy holds nothing.",
            ImageError::UnknownFormat => "Save the photo as JPEG, PNG, WebP or TIFF.",
            ImageError::OtherFormat(format) => format.help(),
            ImageError::CutShort { .. } => "Copy or send the photo again; this copy is not whole.",
            ImageError::Unsupported { .. } => "Open it and save it as a plain PNG, JPEG or TIFF in grey or RGB.",
            ImageError::Damaged { .. } | ImageError::NoPixels => {
                "Copy the photo again from the camera or phone; this copy cannot be trusted."
            }
            ImageError::TooLarge { .. } => "Cut out the part with the hairs at full resolution, or raise the limit.",
            ImageError::TooMuchMemory { .. } => {
                "Cut out the part with the hairs, save it with 8 bits a channel, or raise the limit."
            }
        }
    }
}

/// Decodes a picture: format by content, limits, samples, opacity onto black, colour, orientation.
///
/// Opacity: a see-through pixel counts as black under its own share of light, since no light comes from what is not
/// there. Of several pictures in one file the first is read, with a concern.
///
/// # Errors
/// When the bytes are no picture of a format that is read, are cut short or damaged, or exceed the limits.
pub fn from_bytes(bytes: &[u8], settings: &Settings) -> Result<Image, ImageError> {
    let format = match formats::recognise(bytes) {
        Recognised::Read(format) => format,
        Recognised::Refused(other) => return Err(ImageError::OtherFormat(other)),
        Recognised::Unknown if bytes.is_empty() => return Err(ImageError::Empty),
        Recognised::Unknown => return Err(ImageError::UnknownFormat),
    };
    // Codecs are other people's code and meet hostile bytes: their panic must not end the program. What they worked
    // on is dropped with them, so nothing half-done can be seen.
    let read = || decode::decode(format, bytes, settings).map(|decoded| image_of(format, decoded));
    catch_unwind(AssertUnwindSafe(read)).unwrap_or_else(|_| {
        Err(ImageError::Damaged { format, detail: "the decoder could not make sense of it".into() })
    })
}

/// Pixels that the head of a file states, for planning; `None` where it cannot be told. Nothing is decoded.
pub fn stated_pixels(bytes: &[u8]) -> Option<u64> {
    let size = catch_unwind(|| decode::stated_size(bytes)).ok().flatten();
    size.map(|(width, height)| u64::from(width) * u64::from(height))
}

fn image_of(format: Format, decoded: Decoded) -> Image {
    let Decoded { width, height, samples, channels, premultiplied, transfer, icc, stated, scale, .. } = decoded;
    let (samples, opacity) = match samples {
        Samples::Eight(v) => {
            let (v, opacity) = without_opacity(v, channels, premultiplied, u8::MAX);
            (Samples::Eight(v), opacity.map(|o| (o, u16::from(u8::MAX))))
        }
        Samples::Sixteen(v) => {
            let (v, opacity) = without_opacity(v, channels, premultiplied, u16::MAX);
            (Samples::Sixteen(v), opacity.map(|o| (o, u16::MAX)))
        }
    };
    let monochrome = channels < 3;
    let colours = if monochrome { 1 } else { 3 };
    let mut managed = colour::managed(samples, colours, icc.as_deref(), transfer);
    if let Some((opacity, full)) = opacity {
        composite_on_black(&mut managed, colours, &opacity, full);
    }
    let Managed { samples, linear } = managed;
    let orientation = stated.orientation.unwrap_or(1);
    let (samples, width, height) = match samples {
        Samples::Eight(v) => {
            let (v, width, height) = upright_rgb(v, width, height, orientation, monochrome);
            (Samples::Eight(v), width, height)
        }
        Samples::Sixteen(v) => {
            let (v, width, height) = upright_rgb(v, width, height, orientation, monochrome);
            (Samples::Sixteen(v), width, height)
        }
    };
    let several = decoded.several.then(|| Concern::new(ConcernKind::SeveralPictures));
    let squeezed = decoded.jpeg_quality.filter(|quality| *quality < STRONG_COMPRESSION_QUALITY);
    let squeezed = squeezed.map(|quality| Concern::with(ConcernKind::StronglyCompressed, quality));
    Image {
        width,
        height,
        samples,
        linear,
        monochrome,
        tags: Tags { format: format.tag(), captured_at: stated.captured_at, camera: stated.camera, scale },
        concerns: several.into_iter().chain(squeezed).collect(),
    }
}

/// JPEG quality below which scales, grains and shaft edges drown in the 8 × 8 pattern. Phones and cameras write 85 to
/// 98, messengers 50 to 80. Common practice, no source.
const STRONG_COMPRESSION_QUALITY: f64 = 40.0;

fn upright_rgb<T: Copy + Default + Send + Sync>(
    samples: Vec<T>,
    width: usize,
    height: usize,
    orientation: u8,
    monochrome: bool,
) -> (Vec<T>, usize, usize) {
    if !monochrome {
        return upright::<T, 3>(samples, width, height, orientation);
    }
    let (grey, width, height) = upright::<T, 1>(samples, width, height, orientation);
    let mut rgb = vec![T::default(); 3 * grey.len()];
    rgb.as_chunks_mut::<3>().0.par_iter_mut().zip(&grey).for_each(|(pixel, value)| *pixel = [*value; 3]);
    (rgb, width, height)
}

#[cfg(test)]
mod tests {
    use super::{ImageError, Settings, from_bytes};
    use crate::image::formats::{Format, OtherFormat};

    #[test]
    fn every_error_is_a_sentence_with_help() {
        let all = [
            ImageError::Empty,
            ImageError::UnknownFormat,
            ImageError::OtherFormat(OtherFormat::Heic),
            ImageError::CutShort { format: Format::Jpeg },
            ImageError::Unsupported { format: Format::Tiff, what: "holds JPEG data" },
            ImageError::Damaged { format: Format::Png, detail: "bad".into() },
            ImageError::NoPixels,
            ImageError::TooLarge { width: 1, height: 2, max_pixels: 3, max_side_px: 4 },
            ImageError::TooMuchMemory { needed_bytes: 3 << 30, max_bytes: 2 << 30 },
        ];
        for error in all {
            let sentence = error.to_string();
            assert!(sentence.starts_with(|c: char| c.is_lowercase()) && !sentence.ends_with('.'), "{sentence}");
            let help = error.help();
            assert!(help.starts_with(|c: char| c.is_uppercase()) && help.ends_with('.'), "{help}");
        }
    }

    #[test]
    fn nothing_is_no_picture() {
        assert_eq!(from_bytes(b"", &Settings::default()).unwrap_err(), ImageError::Empty);
        assert_eq!(from_bytes(b"hair", &Settings::default()).unwrap_err(), ImageError::UnknownFormat);
    }
}
