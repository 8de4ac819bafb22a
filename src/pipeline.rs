//! The whole measurement, top to bottom: bytes to an entry and a picture of the photo.

use sha2::{Digest, Sha256};

use crate::features::Features;
use crate::finding::Model;
use crate::image::{Image, ImageError};
use crate::maths::picture::Picture;
use crate::record::{Entry, Program, Provenance};
use crate::settings::Settings;
use crate::{features, field, finding, image, profiles, record, shafts};

/// Longest side of the picture that marks are drawn on, pixels: 25 cm of paper at 300 dots an inch.
const PICTURE_SIDE_PX: usize = 3000;

/// What reading a photo gives.
#[derive(Clone, Debug)]
pub struct Reading {
    /// What was found, measured and held of it.
    pub entry: Entry,
    /// The photo as it is shown to people, where it was wanted.
    pub picture: Option<Picture>,
}

/// Whether a reading comes with a picture; making one costs time that numbers alone do not need.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Want {
    /// The entry only.
    Numbers,
    /// The entry and a picture to draw marks on.
    Picture,
    /// The entry and the photo itself: every pixel, not brightened.
    WholePicture,
}

/// Reads one photo. `file` is its name without the folder.
///
/// # Errors
/// When the bytes are no picture that can be read.
pub fn read(file: &str, bytes: &[u8], settings: &Settings, model: &Model, want: Want) -> Result<Reading, ImageError> {
    let image = image::from_bytes(bytes, &settings.image)?;
    let picture = match want {
        Want::Numbers => None,
        Want::Picture => Some(image.picture(PICTURE_SIDE_PX)),
        Want::WholePicture => Some(image.whole_picture()),
    };
    let provenance = provenance(file, bytes, &image, settings, model);
    let features = measure(image, settings);
    let finding = finding::from_features(features, model);
    let entry = record::from_finding(&finding, provenance);
    Ok(Reading { entry, picture })
}

/// A picture to named numbers, without a judgement: what the forest is grown on.
pub fn measure(image: Image, settings: &Settings) -> Features {
    let field = field::from_image(image, &settings.field);
    let shafts = shafts::from_field(field, &settings.shafts);
    let profiles = profiles::from_shafts(&shafts, &settings.profiles);
    features::from_profiles(profiles, &settings.features)
}

fn provenance(file: &str, bytes: &[u8], image: &Image, settings: &Settings, model: &Model) -> Provenance {
    Provenance {
        file: file.to_owned(),
        sha256: digest(bytes),
        setup: settings.setup_name().map(str::to_owned),
        format: image.tags.format,
        captured_at: image.tags.captured_at.clone(),
        camera: image.tags.camera.clone(),
        program: Program {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            model_sha256: model.sha256().to_owned(),
            settings: settings.set_by_user().to_vec(),
        },
    }
}

/// Digest of a file's bytes as entries carry it: SHA-256, 64 hexadecimal digits.
pub fn digest(bytes: &[u8]) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::{Digest, Sha256, hexadecimal};

    #[test]
    fn a_digest_is_written_as_the_standard_shows_it() {
        // FIPS 180-4, the published example for the message "abc".
        let expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(hexadecimal(&Sha256::digest(b"abc")), expected);
    }
}
