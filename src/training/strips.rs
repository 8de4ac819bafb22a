//! Strips of a model's reference shafts, drawn again from their seeds.
//!
//! A model keeps of each reference shaft its scene's seed and its measurements. The scene is drawn and measured again,
//! and the shaft whose measurements are those that the model keeps is laid out straight. Where none has them (another
//! program drew it, or it is a shaft of a record), there is no strip.

use crate::finding::model::{ModelFile, ReferenceWire, measured as as_kept};
use crate::image;
use crate::maths::polyline::Polyline;
use crate::maths::straight::straightened;
use crate::settings::Settings;
use crate::sim::Ranges;

use super::scenes::{SceneError, measured_photo};

/// Columns of a strip.
pub const STRIP_COLUMNS: usize = 160;

/// Rows of a strip.
pub const STRIP_ROWS: usize = 18;

/// Bytes of a strip: red, green, blue of each pixel.
pub const STRIP_BYTES: usize = 3 * STRIP_COLUMNS * STRIP_ROWS;

/// How many widths of the shaft a strip shows across.
const WIDTHS_ACROSS: f64 = 3.0;

/// Least half height of a strip, pixels of the photo.
const LEAST_HALF_PX: f64 = 5.0;

/// Longest side of the picture strips are cut from, pixels: simulated photos of growing are smaller.
const PICTURE_SIDE_PX: usize = 4000;

/// The strips of the reference shafts that are of this scene, by their places in the model: red, green, blue of each
/// pixel, base on the left where it is known.
///
/// # Errors
/// When the scene cannot be drawn or measured.
pub fn strips_of_scene(model: &ModelFile, seed: u64, ranges: &Ranges) -> Result<Vec<(usize, Vec<u8>)>, SceneError> {
    let wanted: Vec<(usize, &ReferenceWire)> =
        model.novelty.references.iter().enumerate().filter(|(_, reference)| reference.scene == seed).collect();
    let (measured, bytes) = measured_photo(seed, ranges)?;
    let picture = image::from_bytes(&bytes, &Settings::default().image)?.picture(PICTURE_SIDE_PX);
    let columns: Vec<Option<usize>> = model
        .features
        .iter()
        .map(|feature| measured.features.catalogue().iter().position(|entry| entry.key == feature.key))
        .collect();
    let mut strips = Vec::new();
    for (place, reference) in wanted {
        let is_it = |values: &[Option<f64>]| {
            let value = |column: &Option<usize>| column.and_then(|column| as_kept(values[column])).map(|v| v as f32);
            columns.iter().map(value).eq(reference.values.iter().copied())
        };
        let Some(at) = measured.features.rows.iter().position(|row| is_it(&row.values)) else { continue };
        let profile = &measured.features.profiles.shafts[at];
        let mut line = profile.centreline.points().to_vec();
        if measured.features.rows[at].reversed {
            line.reverse();
        }
        let width_px = profile.median_width().map_or(0.0, |width| width.px);
        let half = (0.5 * WIDTHS_ACROSS * width_px).max(LEAST_HALF_PX);
        let straight =
            Polyline::new(line).and_then(|line| straightened(&picture, &line, half, STRIP_COLUMNS, STRIP_ROWS));
        strips.extend(straight.map(|strip| (place, strip.rgb)));
    }
    Ok(strips)
}

/// The scenes of a model's reference shafts, each once, growing.
pub fn scenes_of_references(model: &ModelFile) -> Vec<u64> {
    let mut scenes: Vec<u64> = model.novelty.references.iter().map(|reference| reference.scene).collect();
    scenes.sort_unstable();
    scenes.dedup();
    scenes
}
