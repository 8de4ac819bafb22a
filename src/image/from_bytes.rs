//! DOOR: bytes to a picture; the only way pixels come in.

use super::Image;

/// What a user may set of this stage.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// The largest number of pixels that will be decoded.
    pub max_pixels: u64,
    /// The largest width or height, pixels.
    pub max_side_px: u32,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings { max_pixels: 200_000_000, max_side_px: 50_000 }
    }
}

/// Why a picture could not be read. The sentence says what is wrong; [`ImageError::help`] what to do.
#[derive(Debug, thiserror::Error)]
pub enum ImageError {
    /// Not a format that is read.
    #[error("it is no JPEG, PNG, WebP or TIFF picture")]
    UnknownFormat,
}

impl ImageError {
    /// What to do about it, one sentence.
    pub fn help(&self) -> &'static str {
        "Save the photo as JPEG, PNG, WebP or TIFF."
    }
}

/// Decodes a picture.
///
/// # Errors
/// When the bytes are no picture of a format that is read, are damaged, or exceed the limits.
pub fn from_bytes(bytes: &[u8], settings: &Settings) -> Result<Image, ImageError> {
    let _ = (bytes, settings);
    unimplemented!("being written")
}
