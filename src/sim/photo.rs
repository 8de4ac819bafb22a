//! A scene's photo: its samples, and its bytes as a file.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder};

use super::camera::develop;
use super::cross_section::{Grain, sight};
use super::family::FAMILIES;
use super::optics::channels;
use super::scene::{Scene, Shaft};

/// Dimmest light that an exposure is set by when the slide holds only dark shafts: cameras stop brightening somewhere.
const DIMMEST_REFERENCE: f64 = 0.3;
/// Light that the exposure of a slide without shafts is set by: as if ordinary pale hair lay there.
const EMPTY_REFERENCE: f64 = 0.7;

/// A photo: 8-bit red, green, blue, row by row.
#[derive(Clone, Debug, PartialEq)]
pub struct Photo {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Three bytes a pixel.
    pub rgb: Vec<u8>,
}

/// Why a photo could not be written.
#[derive(Debug, thiserror::Error)]
#[error("the photo could not be encoded: {0}")]
pub struct PhotoError(#[from] image::ImageError);

/// Takes the photo of a scene.
pub fn photo(scene: &Scene) -> Photo {
    Photo {
        width: scene.width_px,
        height: scene.height_px,
        rgb: develop(scene, channels(scene), scene.camera.exposure / brightest(scene)),
    }
}

/// Light of the brightest shaft on its axis in the camera's strongest channel, white balance included.
pub(super) fn brightest(scene: &Scene) -> f64 {
    if scene.shafts.is_empty() {
        return EMPTY_REFERENCE;
    }
    let family = &FAMILIES[scene.camera.family];
    let of_shaft = |shaft: &Shaft| {
        let (own, extra) = (family.response(&shaft.own_spectrum), family.response(&shaft.extra_spectrum));
        let n = shaft.makes.len();
        let mut axis: Vec<f64> = (0..n)
            .step_by((n / 64).max(1))
            .map(|i| {
                let make = &shaft.makes[i];
                let seen =
                    sight(make, Grain { air: 0.7, ..Grain::EVEN }, 0.5 * make.edge_px[1], scene.um_per_px as f32);
                (0..3)
                    .map(|c| (seen.own as f64 * own[c] + seen.extra as f64 * extra[c]) * scene.camera.white_balance[c])
                    .fold(0.0, f64::max)
            })
            .collect();
        axis.sort_by(f64::total_cmp);
        axis[axis.len() * 3 / 4]
    };
    scene.shafts.iter().map(of_shaft).fold(DIMMEST_REFERENCE, f64::max)
}

impl Photo {
    /// The photo as a JPEG file of this quality, 1 to 100.
    ///
    /// # Errors
    /// When the encoder refuses (a side beyond 65,535 pixels).
    pub fn encode_jpeg(&self, quality: u8) -> Result<Vec<u8>, PhotoError> {
        let mut bytes = Vec::new();
        JpegEncoder::new_with_quality(&mut bytes, quality).write_image(
            &self.rgb,
            self.width as u32,
            self.height as u32,
            ExtendedColorType::Rgb8,
        )?;
        Ok(bytes)
    }

    /// The photo as a PNG file.
    ///
    /// # Errors
    /// When the encoder refuses.
    pub fn encode_png(&self) -> Result<Vec<u8>, PhotoError> {
        let mut bytes = Cursor::new(Vec::new());
        image::write_buffer_with_format(
            &mut bytes,
            &self.rgb,
            self.width as u32,
            self.height as u32,
            ExtendedColorType::Rgb8,
            image::ImageFormat::Png,
        )?;
        Ok(bytes.into_inner())
    }

    /// The photo as the scene's camera writes it, and the ending of the file's name: `jpg` or `png`.
    ///
    /// # Errors
    /// When the encoder refuses.
    pub fn encode_as(&self, scene: &Scene) -> Result<(Vec<u8>, &'static str), PhotoError> {
        match scene.camera.jpeg_quality {
            Some(quality) => Ok((self.encode_jpeg(quality)?, "jpg")),
            None => Ok((self.encode_png()?, "png")),
        }
    }
}
