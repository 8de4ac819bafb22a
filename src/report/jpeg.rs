//! Pictures as JPEG, for pages.

use ::image::codecs::jpeg::JpegEncoder;
use ::image::{ExtendedColorType, ImageEncoder};

use crate::maths::picture::Picture;

/// Quality, 1 to 100: below about 85 blocks show around thin bright shafts, above 95 files double for nothing seen.
const QUALITY: u8 = 90;

/// The picture as JPEG; `None` for a picture without pixels or with a side beyond 65535.
pub(super) fn jpeg(picture: &Picture) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    let encoder = JpegEncoder::new_with_quality(&mut bytes, QUALITY);
    let (width, height) = (u32::try_from(picture.width).ok()?, u32::try_from(picture.height).ok()?);
    if picture.rgb.len() != 3 * picture.width * picture.height || width == 0 || height == 0 {
        return None;
    }
    encoder.write_image(&picture.rgb, width, height, ExtendedColorType::Rgb8).ok()?;
    Some(bytes)
}
