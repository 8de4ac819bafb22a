//! TIFF: the first page, 8 or 16 bits or floating point, grey or RGB, with or without opacity.

use super::tiff_samples::{self, Layout};
use super::{Decoded, Transfer};
use crate::image::Samples;
use crate::image::formats::{Format, OtherFormat};
use crate::image::from_bytes::{ImageError, Settings};
use crate::image::limits::{self, Claim};
use crate::image::tags::{self, Ome, Stated};
use crate::units::Scale;
use std::io::{Cursor, ErrorKind};
use tiff::decoder::{Decoder, DecodingResult, Limits, ifd::Value};
use tiff::tags::{IfdPointer, Tag};
use tiff::{ColorType, TiffError};

const FORMAT: Format = Format::Tiff;

type Pages<'a> = Decoder<Cursor<&'a [u8]>>;

/// Memory for one tag's value as stored; a value of single bytes takes 32 times as much while it is read. Profiles
/// and OME-XML of real files stay below.
const MAX_TAG_BYTES: usize = 4 << 20;

/// Further pages looked at to tell a second picture from a thumbnail: a hostile chain of pages must end.
const MAX_PAGES_LOOKED_AT: usize = 8;

// Tag numbers that the codec crate has no name for (TIFF 6.0 and its supplements, EXIF, the raw format's own).
const DNG_VERSION: Tag = Tag::Unknown(50_706);
const DATE_TIME_ORIGINAL: Tag = Tag::Unknown(36_867);

pub(super) fn decode(bytes: &[u8], settings: &Settings) -> Result<Decoded, ImageError> {
    let mut tiff_limits = Limits::default();
    tiff_limits.decoding_buffer_size = usize::try_from(settings.max_memory_bytes).unwrap_or(usize::MAX);
    tiff_limits.intermediate_buffer_size = bytes.len();
    tiff_limits.ifd_value_size = MAX_TAG_BYTES;
    let mut pages = Decoder::new(Cursor::new(bytes)).map_err(error_of)?.with_limits(tiff_limits);
    if is_raw(&mut pages) {
        return Err(ImageError::OtherFormat(OtherFormat::CameraRaw));
    }
    let (width, height) = pages.dimensions().map_err(error_of)?;
    let layout = layout(&mut pages)?;
    let (chunk_width, chunk_height) = pages.chunk_dimensions();
    // One strip or tile is never larger than the picture, rounded up to whole tiles: a larger one is a lie.
    let chunk_is_sane = u64::from(chunk_width) <= 2 * u64::from(width) + MAX_TILE_SIDE_PX
        && u64::from(chunk_height.min(height)) <= 2 * u64::from(height) + MAX_TILE_SIDE_PX
        && (chunk_height <= height || u64::from(chunk_height) <= MAX_TILE_SIDE_PX || is_strip(&mut pages));
    if !chunk_is_sane {
        return Err(ImageError::Damaged { format: FORMAT, detail: "its tiles are larger than the picture".into() });
    }
    let peak_bytes_per_px = layout.peak_bytes_per_px();
    limits::check(Claim { width: width.into(), height: height.into(), peak_bytes_per_px }, settings)?;
    let packed_bytes = (u64::from(width) * layout.bits_per_px()).div_ceil(8) * u64::from(height);
    if (bytes.len() as u64).saturating_mul(max_ratio(&mut pages)?) < packed_bytes {
        return Err(ImageError::CutShort { format: FORMAT });
    }
    if !chunks_are_inside(&mut pages, bytes.len() as u64) {
        return Err(ImageError::CutShort { format: FORMAT });
    }
    let mut result = DecodingResult::U8(Vec::new());
    pages.read_image_to_buffer(&mut result).map_err(error_of)?;
    let (samples, channels) = tiff_samples::interleaved(result, &layout, width as usize, height as usize)?;
    let notes = Notes::read(&mut pages);
    let single = channels == 1 && matches!(samples, Samples::Sixteen(_));
    let is_linear = notes.ome.is_some() || single || layout.is_float;
    let significant_bits = if layout.is_float { Some(16) } else { notes.ome.as_ref().and_then(|o| o.significant_bits) };
    Ok(Decoded {
        width: width as usize,
        height: height as usize,
        samples,
        channels,
        premultiplied: layout.premultiplied,
        transfer: if is_linear { Transfer::Linear { significant_bits } } else { Transfer::Srgb },
        icc: notes.icc,
        stated: notes.stated,
        scale: notes.ome.and_then(|o| o.scale).or(notes.resolution),
        several: layout.has_further_channels || has_further_pages(&mut pages),
        jpeg_quality: None,
    })
}

/// Tiles of a small picture may be this large; writers use 512 or less as a rule.
const MAX_TILE_SIDE_PX: u64 = 4096;

fn is_strip(pages: &mut Pages) -> bool {
    pages.strip_count().is_ok()
}

/// The stored layout of a page, or why it is not read.
fn layout(pages: &mut Pages) -> Result<Layout, ImageError> {
    let refused = |what| Err(ImageError::Unsupported { format: FORMAT, what });
    let number = |pages: &mut Pages, tag| pages.find_tag_unsigned::<u16>(tag).ok().flatten();
    if number(pages, Tag::PhotometricInterpretation) == Some(3) {
        return refused("keeps its colours in a palette");
    }
    let color = pages.colortype().map_err(error_of)?;
    let extra = pages.find_tag_unsigned_vec::<u16>(Tag::ExtraSamples).ok().flatten().unwrap_or_default();
    let has_opacity = matches!(extra.first(), Some(1 | 2));
    let (channels, has_further_channels) = match color {
        ColorType::Gray(_) => (1, false),
        ColorType::Multiband { num_samples: 2, .. } if has_opacity => (2, false),
        ColorType::Multiband { .. } => (1, true),
        ColorType::RGB(_) => (3, false),
        ColorType::RGBA(_) => (4, false),
        ColorType::CMYK(_) | ColorType::CMYKA(_) => return refused("is made for print, with four inks (CMYK)"),
        ColorType::YCbCr(_) => return refused("holds JPEG data or colour differences"),
        _ => return refused("has unusual channels"),
    };
    // 6 and 7 are JPEG inside TIFF: its tiles may claim any size, and nothing but virtual slides uses it.
    if matches!(number(pages, Tag::Compression), Some(6 | 7)) {
        return refused("holds JPEG data");
    }
    let stored_channels = usize::from(number(pages, Tag::SamplesPerPixel).unwrap_or(1));
    let is_planar = number(pages, Tag::PlanarConfiguration) == Some(2);
    // The codec drops channels before it undoes the predictor, and so would mix them up.
    let is_predicted = number(pages, Tag::Predictor).is_some_and(|p| p != 1);
    if is_predicted && !is_planar && stored_channels != usize::from(color.num_samples()) {
        return refused("has channels beside red, green and blue");
    }
    let sample_format = pages.find_tag_unsigned_vec::<u16>(Tag::SampleFormat).ok().flatten().unwrap_or_default();
    let is_float = sample_format.first() == Some(&3);
    let bits = color.bit_depth();
    let is_read = match sample_format.first() {
        None | Some(1) => matches!(bits, 8 | 16) || (bits < 8 && channels == 1 && !has_further_channels),
        Some(3) => bits == 32,
        _ => false,
    };
    if !is_read {
        return refused("does not have 8 or 16 bits a sample (nor floating-point numbers of 32 bits)");
    }
    Ok(Layout {
        channels,
        decoded_channels: usize::from(color.num_samples()),
        stored_channels,
        bits,
        is_float,
        is_planar,
        has_further_channels,
        premultiplied: extra.first() == Some(&1),
    })
}

/// Whether every strip or tile lies inside the file, as far as the tags can be read.
///
/// The codec stops reading when it has enough samples, and so would not notice that the end of the last one is missing.
fn chunks_are_inside(pages: &mut Pages, file_bytes: u64) -> bool {
    let mut list = |tag| pages.find_tag_unsigned_vec::<u64>(tag).ok().flatten().unwrap_or_default();
    let pairs = [(Tag::StripOffsets, Tag::StripByteCounts), (Tag::TileOffsets, Tag::TileByteCounts)];
    pairs.into_iter().all(|(offsets, lengths)| {
        list(offsets).iter().zip(list(lengths)).all(|(at, length)| at.saturating_add(length) <= file_bytes)
    })
}

/// How many bytes one byte of the file can become at most.
fn max_ratio(pages: &mut Pages) -> Result<u64, ImageError> {
    Ok(match pages.find_tag_unsigned::<u16>(Tag::Compression).ok().flatten().unwrap_or(1) {
        1 => 1,
        // The longest string of a table of 4096 entries against a code of 12 bits (TIFF 6.0, section 13).
        5 => 2560,
        8 | 32_946 => super::png::MAX_DEFLATE_RATIO,
        // 128 bytes from two (section 9).
        32_773 => 64,
        50_000 => return Err(ImageError::Unsupported { format: FORMAT, what: "is compressed with Zstandard" }),
        // A blank row of any length takes one bit in fax coding.
        2..=4 => u64::from(u32::MAX),
        _ => return Err(ImageError::Unsupported { format: FORMAT, what: "is compressed in a rare way" }),
    })
}

/// Raw files of cameras are TIFF inside: one says so, the others put a thumbnail first and the sensor's data behind it.
fn is_raw(pages: &mut Pages) -> bool {
    let has = |pages: &mut Pages, tag| pages.find_tag(tag).is_ok_and(|value| value.is_some());
    has(pages, DNG_VERSION) || (has(pages, Tag::SubIfd) && is_thumbnail(pages))
}

/// Bit 0 of NewSubfileType: a smaller version of another picture in the file.
fn is_thumbnail(pages: &mut Pages) -> bool {
    pages.find_tag_unsigned::<u32>(Tag::NewSubfileType).ok().flatten().is_some_and(|kind| kind & 1 == 1)
}

/// Whether another page is a picture of its own, or cannot be read. Leaves the decoder on another page.
fn has_further_pages(pages: &mut Pages) -> bool {
    (0..MAX_PAGES_LOOKED_AT).any(|_| pages.more_images() && (pages.next_image().is_err() || !is_thumbnail(pages)))
}

/// What the tags of the first page say.
struct Notes {
    ome: Option<Ome>,
    icc: Option<Vec<u8>>,
    stated: Stated,
    resolution: Option<Scale>,
}

impl Notes {
    fn read(pages: &mut Pages) -> Notes {
        let ome = text(pages, Tag::ImageDescription).and_then(|description| tags::from_ome_xml(&description));
        let icc = pages.get_tag_u8_vec(Tag::IccProfile).ok();
        let (maker, model) = (text(pages, Tag::Make), text(pages, Tag::Model));
        let time = original_time(pages).or_else(|| text(pages, Tag::DateTime));
        let own = Stated {
            orientation: pages.find_tag_unsigned::<u8>(Tag::Orientation).ok().flatten(),
            captured_at: time.and_then(|time| tags::time_from_exif(time.as_bytes())),
            camera: tags::camera(maker.as_deref().map(str::as_bytes), model.as_deref().map(str::as_bytes)),
        };
        let of_ome = Stated { captured_at: ome.as_ref().and_then(|o| o.captured_at.clone()), ..Stated::default() };
        Notes { ome, icc, stated: of_ome.or(own), resolution: resolution(pages) }
    }
}

/// The text of a tag of the page; `None` where it is none, or is longer than a note may be (asked first, because the
/// codec makes room for whatever length a text claims).
fn text(pages: &mut Pages, tag: Tag) -> Option<String> {
    let mut tags = pages.image_ifd();
    tags.find_entry(tag).filter(|entry| entry.count() <= MAX_TAG_BYTES as u64)?;
    tags.find_tag(tag).ok()??.into_string().ok()
}

/// When the shutter opened, from the EXIF directory beside the page.
fn original_time(pages: &mut Pages) -> Option<String> {
    let at = pages.find_tag_unsigned::<u64>(Tag::ExifDirectory).ok()??;
    let directory = pages.read_directory(IfdPointer(at)).ok()?;
    let mut tags = pages.read_directory_tags(&directory);
    tags.find_entry(DATE_TIME_ORIGINAL).filter(|entry| entry.count() <= MAX_TAG_BYTES as u64)?;
    tags.find_tag(DATE_TIME_ORIGINAL).ok()??.into_string().ok()
}

/// The resolution tags as a scale, only with the centimetre as unit and where they plainly mean a microscope.
fn resolution(pages: &mut Pages) -> Option<Scale> {
    const CENTIMETRE: u16 = 3;
    if pages.find_tag_unsigned::<u16>(Tag::ResolutionUnit).ok()?? != CENTIMETRE {
        return None;
    }
    let mut ratio = |tag| match pages.find_tag(tag).ok()?? {
        Value::Rational(above, below) => Some(f64::from(above) / f64::from(below)),
        _ => None,
    };
    tags::scale_from_resolution(ratio(Tag::XResolution)?, ratio(Tag::YResolution)?)
}

fn error_of(error: TiffError) -> ImageError {
    match error {
        TiffError::IoError(e) if e.kind() == ErrorKind::UnexpectedEof => ImageError::CutShort { format: FORMAT },
        TiffError::UnsupportedError(_) => {
            ImageError::Unsupported { format: FORMAT, what: "uses a rare variety of the format" }
        }
        TiffError::LimitsExceeded => {
            ImageError::Damaged { format: FORMAT, detail: "a part is larger than the file".into() }
        }
        error => ImageError::Damaged { format: FORMAT, detail: error.to_string() },
    }
}
