//! The whole measurement, top to bottom: bytes to an entry and a picture of the photo.

use sha2::{Digest, Sha256};

use crate::features::Features;
use crate::finding::{Look, Model};
use crate::image::{Image, ImageError};
use crate::maths::picture::Picture;
use crate::maths::point::Point;
use crate::maths::polyline::{Polyline, lying_on};
use crate::profiles::Profiles;
use crate::record::{Entry, Program, Provenance};
use crate::registration::{self, Mismatch};
use crate::settings::Settings;
use crate::{features, field, finding, image, profiles, record, shafts, visible_light};

/// Longest side of the picture that marks are drawn on, pixels: 25 cm of paper at 300 dots an inch.
pub const PICTURE_SIDE_PX: usize = 3000;

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
    let (image, sha256) = decoded(bytes, settings);
    let image = image?;
    let picture = picture_of(&image, want);
    let provenance = provenance(file, sha256, &image, settings, model);
    let features = finding::without_debris(measure(image, settings), &settings.features, model);
    let finding = finding::from_features(features, model);
    let entry = record::from_finding(&finding, provenance);
    Ok(Reading { entry, picture })
}

/// A second photo of the same field in visible light.
#[derive(Clone, Copy, Debug)]
pub struct VisiblePhoto<'a> {
    /// Its name without the folder.
    pub file: &'a str,
    /// The bytes of its file.
    pub bytes: &'a [u8],
}

/// Why a photo with a second one in visible light could not be read.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PairError {
    /// The photo under the UV lamp is no picture that can be read.
    #[error(transparent)]
    Uv(ImageError),
    /// The photo in visible light is none.
    #[error("the visible photo cannot be read: {0}")]
    Visible(ImageError),
    /// Both can be read, but do not show one field.
    #[error(transparent)]
    Apart(#[from] Mismatch),
}

impl PairError {
    /// What to do about it, one sentence.
    pub fn help(&self) -> &'static str {
        match self {
            PairError::Uv(error) | PairError::Visible(error) => error.help(),
            PairError::Apart(mismatch) => mismatch.help(),
        }
    }
}

/// Reads one photo as [`read`] does, and measures its shafts on a second photo of the field in visible light as well.
/// What is judged is the photo under the UV lamp: the second adds measurements that do not vote.
///
/// # Errors
/// When one of them is no picture that can be read, or they do not show one field.
pub fn read_with_visible(
    file: &str,
    bytes: &[u8],
    visible: VisiblePhoto,
    settings: &Settings,
    model: &Model,
    want: Want,
) -> Result<Reading, PairError> {
    let ((uv, sha256), (second, visible_sha256)) =
        rayon::join(|| decoded(bytes, settings), || decoded(visible.bytes, settings));
    let uv = uv.map_err(PairError::Uv)?;
    let second = second.map_err(PairError::Visible)?;
    let rough = registration::aligned(&registration::structure(&uv), &registration::structure(&second))?;
    let picture = picture_of(&uv, want);
    let mut provenance = provenance(file, sha256, &uv, settings, model);
    let middle = Point::new(0.5 * (uv.width as f64 - 1.0), 0.5 * (uv.height as f64 - 1.0));
    let shafts = shafts::from_field(field::from_image(uv, &settings.field), &settings.shafts);
    let mut profiles = profiles::from_shafts(&shafts, &settings.profiles);
    drop(shafts);
    let second = field::from_image(second, &settings.field);
    let laid = visible_light::measured(&mut profiles, second, &rough)?;
    let shift = laid.by.shift_at(middle);
    provenance.visible = Some(record::VisiblePhoto {
        file: visible.file.to_owned(),
        sha256: visible_sha256,
        shift_px: [shift.x, shift.y],
        turn_deg: laid.by.turn().to_degrees(),
        factor: laid.by.factor(),
        residual_px: laid.residual_px,
        n_shafts: laid.n_shafts,
        n_stations: laid.n_stations,
        agreement: laid.agreement,
        peak_quality: laid.peak_quality,
    });
    let features = features::from_profiles(profiles, &settings.features);
    let features = finding::without_debris(features, &settings.features, model);
    let finding = finding::from_features(features, model);
    Ok(Reading { entry: record::from_finding(&finding, provenance), picture })
}

/// One of two photos of a field laid on the other by the edges in both, for people who look at them in turn: at each
/// place it shows what the other shows there. `visible_on_uv` tells which is laid; the other stays.
///
/// # Errors
/// When one of them is no picture that can be read, or they do not show one field.
pub fn laid(uv: &[u8], visible: &[u8], visible_on_uv: bool, settings: &Settings) -> Result<Picture, PairError> {
    let uv = image::from_bytes(uv, &settings.image).map_err(PairError::Uv)?;
    let visible = image::from_bytes(visible, &settings.image).map_err(PairError::Visible)?;
    let found = registration::aligned_by_edges(&registration::structure(&uv), &registration::structure(&visible))?;
    let whole = |image: &Image| image.picture(image.width.max(image.height));
    if visible_on_uv {
        return Ok(whole(&visible).laid(&found.by));
    }
    let back = found.by.inverse().ok_or(Mismatch::OtherField { agreement: Some(found.agreement) })?;
    Ok(whole(&uv).laid(&back))
}

/// Looks whether bytes are a photo that can be read.
///
/// # Errors
/// When they are not, as reading them would say.
pub fn check(bytes: &[u8], settings: &Settings) -> Result<(), ImageError> {
    image::from_bytes(bytes, &settings.image).map(|_| ())
}

/// The photo as it is shown to people, no side longer than `max_side_px`.
///
/// # Errors
/// When the bytes are no picture that can be read.
pub fn picture(bytes: &[u8], settings: &Settings, max_side_px: usize) -> Result<Picture, ImageError> {
    Ok(image::from_bytes(bytes, &settings.image)?.picture(max_side_px))
}

/// The photo as a reading comes with it; `None` when only numbers are wanted.
///
/// # Errors
/// When the bytes are no picture that can be read.
pub fn pictured(bytes: &[u8], settings: &Settings, want: Want) -> Result<Option<Picture>, ImageError> {
    if want == Want::Numbers {
        return Ok(None);
    }
    Ok(picture_of(&image::from_bytes(bytes, &settings.image)?, want))
}

fn picture_of(image: &Image, want: Want) -> Option<Picture> {
    match want {
        Want::Numbers => None,
        Want::Picture => Some(image.picture(PICTURE_SIDE_PX)),
        Want::WholePicture => Some(image.whole_picture()),
    }
}

/// What a person said of the shafts of a photo; each by its line in an earlier reading, full-resolution pixels.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Said {
    /// The shafts that stand. Others than these and the missed ones are left out: with a shaft taken away or added, a
    /// streak beside it may look like a shaft, and nobody said that it is one.
    pub stand: Vec<Vec<Point>>,
    /// What the program saw is no shaft.
    pub none: Vec<Vec<Point>>,
    /// Places along shafts that the program missed.
    pub missed: Vec<Vec<Point>>,
    /// The shafts to compare with; `None` leaves them to the program.
    pub comparison: Option<Vec<Vec<Point>>>,
    /// Where a shaft's base is: its line, and the place of its base end.
    pub base: Vec<(Vec<Point>, Point)>,
    /// A shaft's look; `None` within when the person cannot say either. The last word on a shaft counts.
    pub looks: Vec<(Vec<Point>, Option<Look>)>,
}

/// Reads one photo as [`read`] does, doing what a person said of its shafts.
///
/// # Errors
/// When the bytes are no picture that can be read.
pub fn read_as_said(
    file: &str,
    bytes: &[u8],
    settings: &Settings,
    model: &Model,
    said: &Said,
) -> Result<Entry, ImageError> {
    let (image, sha256) = decoded(bytes, settings);
    let image = image?;
    let provenance = provenance(file, sha256, &image, settings, model);
    let field = field::from_image(image, &settings.field);
    let of_shafts = shafts::Settings { none: said.none.clone(), missed: said.missed.clone() };
    let shafts = shafts::from_field(field, &of_shafts);
    let mut profiles = profiles::from_shafts(&shafts, &settings.profiles);
    keep_lying_on(&mut profiles, said.stand.iter().chain(&said.missed));
    let lines = lines_of(&profiles);
    let index = |line: &Vec<Point>| lying_on(line, &lines);
    let of_features = features::Settings {
        comparison: said.comparison.as_ref().map(|lines| lines.iter().filter_map(index).collect()),
        base_end: said
            .base
            .iter()
            .filter_map(|(line, base)| {
                let index = index(line)?;
                let line = &profiles.shafts[index].centreline;
                Some((index, base.distance(line.first()) <= base.distance(line.last())))
            })
            .collect(),
    };
    let looks: Vec<(usize, Option<Look>)> =
        said.looks.iter().filter_map(|(line, look)| Some((index(line)?, *look))).collect();
    let features = features::from_profiles(profiles, &of_features);
    let finding = finding::with_looks(finding::from_features(features, model), &looks);
    Ok(record::from_finding(&finding, provenance))
}

/// Leaves out the shafts that lie on none of these lines: they were held to be debris when the photo was first read.
fn keep_lying_on<'a>(profiles: &mut Profiles, lines: impl Iterator<Item = &'a Vec<Point>>) {
    let all = lines_of(profiles);
    let kept: Vec<usize> = lines.filter_map(|line| lying_on(line, &all)).collect();
    let mut index = 0;
    let rejects = &mut profiles.rejects;
    profiles.shafts.retain(|shaft| {
        index += 1;
        let stays = kept.contains(&(index - 1));
        if !stays {
            rejects.push(finding::as_debris(&shaft.centreline));
        }
        stays
    });
}

/// The centrelines of shafts with their widths, pixels; 0 where there is none.
fn lines_of(profiles: &Profiles) -> Vec<(&Polyline, f64)> {
    let width = |shaft: &profiles::Profile| shaft.median_width().map_or(0.0, |width| width.px);
    profiles.shafts.iter().map(|shaft| (&shaft.centreline, width(shaft))).collect()
}

/// A picture to named numbers, without a judgement: what the ensemble is grown on.
pub fn measure(image: Image, settings: &Settings) -> Features {
    let field = field::from_image(image, &settings.field);
    let shafts = shafts::from_field(field, &settings.shafts);
    let profiles = profiles::from_shafts(&shafts, &settings.profiles);
    features::from_profiles(profiles, &settings.features)
}

/// The photo and the digest of its file; decoding runs on one thread, so another may as well.
fn decoded(bytes: &[u8], settings: &Settings) -> (Result<Image, ImageError>, String) {
    rayon::join(|| image::from_bytes(bytes, &settings.image), || digest(bytes))
}

fn provenance(file: &str, sha256: String, image: &Image, settings: &Settings, model: &Model) -> Provenance {
    Provenance {
        file: file.to_owned(),
        sha256,
        setup: settings.setup_name().map(str::to_owned),
        format: image.tags.format,
        captured_at: image.tags.captured_at.clone(),
        camera: image.tags.camera.clone(),
        visible: None,
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
