//! Simulated scenes, measured by the pipeline and labelled from their truth.
//!
//! A scene goes the whole way of a photo: drawn, encoded as its camera would, decoded, measured. Only then is its truth
//! looked at. The scale is given to half of the scenes, as half of the users give one.

use crate::features::{Features, Row};
use crate::finding::Look;
use crate::maths::polyline::Polyline;
use crate::pipeline;
use crate::settings::{Asked, Settings};
use crate::sim::{self, Ranges, Scene, ShaftTruth};

use super::pairing::{Pair, TrueLine, pairs};
use super::table::LabelledRow;

/// Share of a true shaft that a found one must cover to take its label.
const LABEL_COVERED: f64 = 0.4;

/// One scene and what the pipeline made of its photo.
pub struct Measured {
    /// The scene.
    pub scene: Scene,
    /// What is true of its shafts in view.
    pub truths: Vec<ShaftTruth>,
    /// The same as lines.
    pub true_lines: Vec<TrueLine>,
    /// What the pipeline measured.
    pub features: Features,
}

/// Why a scene cannot be measured.
#[derive(Debug, thiserror::Error)]
pub enum SceneError {
    /// The drawn photo cannot be encoded.
    #[error(transparent)]
    Photo(#[from] sim::PhotoError),
    /// The encoded photo cannot be read.
    #[error("the drawn photo cannot be read: {0}")]
    Image(#[from] crate::image::ImageError),
    /// The scene's scale is no scale.
    #[error(transparent)]
    Settings(#[from] crate::settings::SettingsError),
}

/// Draws a scene and measures its photo.
///
/// # Errors
/// When the photo cannot be encoded or read.
pub fn measured(seed: u64, ranges: &Ranges) -> Result<Measured, SceneError> {
    Ok(measured_photo(seed, ranges)?.0)
}

/// [`measured`], with the bytes of the photo.
///
/// # Errors
/// When the photo cannot be encoded or read.
pub fn measured_photo(seed: u64, ranges: &Ranges) -> Result<(Measured, Vec<u8>), SceneError> {
    let scene = Scene::draw(seed, ranges);
    let (bytes, _) = sim::photo(&scene).encode_as(&scene)?;
    let um_per_px = seed.is_multiple_of(2).then_some(scene.um_per_px);
    let settings = Settings::check(Asked { um_per_px, ..Asked::default() })?;
    let image = crate::image::from_bytes(&bytes, &settings.image)?;
    let features = pipeline::measure(image, &settings);
    let truths = sim::shaft_truths(&scene);
    let mut true_lines = Vec::new();
    let mut kept = Vec::new();
    for truth in truths {
        if let Some(line) = Polyline::new(truth.centreline_px.iter().copied()) {
            true_lines.push(TrueLine { line, width_px: truth.median_width_px });
            kept.push(truth);
        }
    }
    Ok((Measured { scene, truths: kept, true_lines, features }, bytes))
}

impl Measured {
    /// Found and true shafts that are the same.
    pub fn pairs(&self, least_covered: f64) -> Vec<Pair> {
        let found: Vec<&Polyline> = self.features.profiles.shafts.iter().map(|p| &p.centreline).collect();
        pairs(&found, &self.true_lines, least_covered)
    }

    /// The found shafts that are known, with their labels.
    pub fn labelled(&self) -> Vec<LabelledRow> {
        self.pairs(LABEL_COVERED)
            .into_iter()
            .map(|pair| {
                let shaft = &self.scene.shafts[self.truths[pair.truth].id - 1];
                let row: &Row = &self.features.rows[pair.found];
                LabelledRow {
                    scene: self.scene.seed,
                    group: family_name(self.scene.camera.family),
                    look: look(shaft.look),
                    kind: shaft.kind.to_string(),
                    values: row.values.clone(),
                }
            })
            .collect()
    }
}

fn family_name(family: usize) -> String {
    sim::family::FAMILIES.get(family).map_or_else(|| family.to_string(), |f| f.name.to_owned())
}

/// The finding's word for a simulated look.
pub fn look(look: sim::Look) -> Look {
    match look {
        sim::Look::Infected => Look::Infected,
        sim::Look::Normal => Look::Normal,
        sim::Look::Coated => Look::Coated,
        sim::Look::Fibre => Look::Fibre,
    }
}
