//! Pictures of shafts that were called something they are not, for the model's card.

use std::io::Cursor;
use std::path::Path;

use super::terminal::said;
use crate::exports::{Format, from_record};
use crate::finding::{Look, Model};
use crate::maths::picture::Picture;
use crate::pipeline::{self, Want};
use crate::settings::{Asked, Settings};
use crate::training::scenes::{Measured, look};
use crate::training::tracing::FOUND_COVERED;

/// Longest side of a picture, pixels.
const LONGEST_PX: u32 = 480;

/// What is shown around a shaft, a share of the longer side of the box it fills.
const MARGIN: f64 = 0.12;

/// Quality of a picture: a few tens of kilobytes each.
const JPEG_QUALITY: u8 = 82;

/// Captions beside the pictures, one a line: file, what is seen.
pub(super) const CAPTIONS: &str = "captions.txt";

/// Writes a picture of each misjudged shaft of a scene into a folder; returns a caption a picture.
///
/// # Errors
/// A sentence, when the photo cannot be read or a picture not be written.
pub(super) fn pictures(measured: &Measured, bytes: &[u8], model: &Model, folder: &Path) -> Result<Vec<String>, String> {
    let seed = measured.scene.seed;
    // As the scene was measured: with its scale for every second seed.
    let um_per_px = seed.is_multiple_of(2).then_some(measured.scene.um_per_px);
    let asked = Asked { um_per_px, ..Asked::default() };
    let settings = Settings::check(asked).map_err(|error| error.to_string())?;
    let reading = pipeline::read("scene", bytes, &settings, model, Want::Picture).map_err(|error| error.to_string())?;
    let (entry, Some(picture)) = (reading.entry, reading.picture) else { return Ok(Vec::new()) };
    let marked = ::image::load_from_memory(&from_record(&entry, Some(&picture), Format::Marked))
        .map_err(|error| error.to_string())?
        .to_rgb8();
    let mut captions = Vec::new();
    for pair in measured.pairs(FOUND_COVERED) {
        let truth = &measured.scene.shafts[measured.truths[pair.truth].id - 1];
        let shaft = &entry.shafts[pair.found];
        let Some(called) = shaft.look.filter(|&called| called != look(truth.look)) else { continue };
        let name = format!("{}-{}-called-{}-{seed}.jpg", look(truth.look).code(), truth.kind, called.code());
        let [left, top, width, height] = cut(&shaft.centreline, &picture, marked.width(), marked.height());
        let seen = ::image::imageops::crop_imm(&marked, left, top, width, height).to_image();
        let shrink = f64::from(LONGEST_PX) / f64::from(width.max(height)).max(f64::from(LONGEST_PX));
        let smaller = |side: u32| ((f64::from(side) * shrink).round() as u32).max(1);
        let filter = ::image::imageops::FilterType::CatmullRom;
        let seen = ::image::imageops::resize(&seen, smaller(width), smaller(height), filter);
        let mut jpeg = Cursor::new(Vec::new());
        let mut encoder = ::image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, JPEG_QUALITY);
        encoder.encode_image(&seen).map_err(|error| error.to_string())?;
        let path = folder.join(&name);
        std::fs::write(&path, jpeg.into_inner()).map_err(|error| format!("{}: {}", path.display(), said(&error)))?;
        let p = 100.0 * shaft.probability[called as usize];
        captions.push(format!(
            "{name}: Shaft {} is {} ({}) and was called {}, with {p:.0} %. Simulated, scene {seed} of `{}`.",
            shaft.id,
            words(look(truth.look)),
            truth.kind.replace('-', " "),
            words(called),
            measured.scene.set,
        ));
    }
    Ok(captions)
}

fn words(look: Look) -> &'static str {
    match look {
        Look::Infected => "infected",
        Look::Normal => "an ordinary hair",
        Look::Coated => "a coated hair",
        Look::Fibre => "no hair but a fibre",
    }
}

/// The box around a line in the picture with its margin: left, top, width, height, all within the picture.
fn cut(line: &[crate::maths::point::Point], picture: &Picture, width: u32, height: u32) -> [u32; 4] {
    let places: Vec<_> = line.iter().map(|&point| picture.from_photo(point)).collect();
    let ends = |values: Vec<f64>| {
        (values.iter().copied().fold(f64::MAX, f64::min), values.iter().copied().fold(f64::MIN, f64::max))
    };
    let (x0, x1) = ends(places.iter().map(|p| p.x).collect());
    let (y0, y1) = ends(places.iter().map(|p| p.y).collect());
    let margin = MARGIN * (x1 - x0).max(y1 - y0).max(100.0);
    // A thin box shows nothing of the surroundings: at least half as high as wide, and the other way round.
    let grow = |low: f64, high: f64, other: f64| {
        let lack = (0.5 * other - (high - low)).max(0.0) / 2.0;
        (low - margin - lack, high + margin + lack)
    };
    let (left, right) = grow(x0, x1, y1 - y0);
    let (top, bottom) = grow(y0, y1, x1 - x0);
    let picture_height = f64::from(height).min(picture.height as f64);
    let (left, right) = (left.max(0.0), right.min(f64::from(width) - 1.0));
    let (top, bottom) = (top.max(0.0), bottom.min(picture_height - 1.0));
    [left as u32, top as u32, (right - left).max(1.0) as u32, (bottom - top).max(1.0) as u32]
}
