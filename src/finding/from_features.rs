//! DOOR: named numbers to what the shafts are held to be.

use std::sync::OnceLock;

use rayon::prelude::*;

use super::abstention::{NOVELTY_LIMIT, decided, forbids_photo, forbids_shaft, leans_infected};
use super::advice::advice;
use super::debris::{self, Seen};
use super::debris_model::{DebrisModel, OWN};
use super::model::{Column, Model, ModelError};
use super::slide::{self, GlowPlace, SlideShaft};
use super::{Look, SlideFinding, Verdict};
use crate::concerns::{Concern, ConcernKind};
use crate::features::catalogue::CATALOGUE;
use crate::features::{self, Features, Row, Zone};
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;

/// What is held of every shaft, and what they add up to.
#[derive(Clone, Debug)]
pub struct Finding {
    /// What was measured.
    pub features: Features,
    /// One verdict a shaft, in the same order.
    pub verdicts: Vec<Verdict>,
    /// What the shafts add up to.
    pub slide: SlideFinding,
    /// Whether the photo is fit to be judged.
    pub usable: bool,
    /// Always: send a culture; one to three sentences.
    pub advice: String,
    /// What a person should know about the photo (all stages').
    pub concerns: Vec<Concern>,
}

/// Judges the shafts.
///
/// On a photo that is not usable no shaft is judged; probabilities and reasons are still given for those who look.
pub fn from_features(features: Features, model: &Model) -> Finding {
    let usable = !features.concerns.iter().any(forbids_photo);
    let verdicts: Vec<Verdict> = {
        let of = |row| verdict(row, model, usable, debris_probability(row));
        features.rows.par_iter().map(of).collect()
    };
    let shafts: Vec<SlideShaft> = features.rows.iter().zip(&verdicts).map(|(row, v)| slide_shaft(row, v)).collect();
    let code = slide::code(&shafts, usable);
    let concerns = features.concerns.clone();
    Finding { slide: slide::finding(&shafts, usable), features, verdicts, usable, advice: advice(code), concerns }
}

/// The same photo with its debris among what was rejected; see the module of that name. What is left is compared anew, since debris
/// may have served as comparison shaft. `settings` are those the features were made with; where they name shafts by
/// their order, nothing is taken away.
pub fn without_debris(features: Features, settings: &features::Settings, model: &Model) -> Features {
    if *settings != features::Settings::default() {
        return features;
    }
    let of = &features.profiles;
    let diagonal_px = (of.width_px as f64).hypot(of.height_px as f64);
    let is_debris: Vec<bool> = of
        .shafts
        .iter()
        .zip(&features.rows)
        .map(|(shaft, row)| {
            let assessment = model.assess(&model.values(&row.values));
            debris::is_debris(Seen {
                share: shaft.centreline.length() / diagonal_px,
                novelty: assessment.novelty,
                infected: assessment.probability[Look::Infected as usize],
                debris: debris_probability(row),
            })
        })
        .collect();
    if !is_debris.contains(&true) {
        return features;
    }
    let mut profiles = features.profiles;
    let mut shafts = Vec::new();
    for (shaft, is_debris) in profiles.shafts.into_iter().zip(is_debris) {
        if is_debris {
            profiles.rejects.push(as_debris(&shaft.centreline));
        } else {
            shafts.push(shaft);
        }
    }
    profiles.shafts = shafts;
    if profiles.shafts.is_empty() {
        profiles.concerns.push(Concern::new(ConcernKind::NoShaft));
    }
    features::from_profiles(profiles, settings)
}

/// A trace as it is listed among what was rejected.
pub fn as_debris(line: &Polyline) -> (Point, f64, &'static str) {
    (line.at(0.5 * line.length()), line.length(), debris::UNLIKE)
}

/// How likely a trace follows no shaft, 0 to 1.
fn debris_probability(row: &Row) -> f64 {
    debris_model().map_or(0.0, |trees| trees.probability(&row.values))
}

/// The trees that tell debris, as they come with the program. `None` never, as a test of their module proves.
fn debris_model() -> Option<&'static DebrisModel> {
    static READ: OnceLock<Option<DebrisModel>> = OnceLock::new();
    READ.get_or_init(|| DebrisModel::from_bytes(OWN, &columns()).ok()).as_ref()
}

/// What the program measures, in the order of a row.
fn columns() -> Vec<Column> {
    CATALOGUE.iter().map(|entry| Column { key: entry.key, unit: entry.unit }).collect()
}

/// The same with looks that a person gave, by the order of shafts: they count in what the shafts add up to, while
/// probabilities, reasons and concerns stay the program's.
pub fn with_looks(mut finding: Finding, said: &[(usize, Option<Look>)]) -> Finding {
    for &(index, look) in said {
        if let Some(verdict) = finding.verdicts.get_mut(index) {
            verdict.look = look;
        }
    }
    let shafts: Vec<SlideShaft> =
        finding.features.rows.iter().zip(&finding.verdicts).map(|(row, verdict)| slide_shaft(row, verdict)).collect();
    finding.advice = advice(slide::code(&shafts, finding.usable));
    finding.slide = slide::finding(&shafts, finding.usable);
    finding
}

/// Reads a model file and checks it against the catalogue of features.
///
/// # Errors
/// When the file is cut, damaged, from a newer version, or asks for features that the catalogue lacks.
pub fn model_from_bytes(bytes: &[u8]) -> Result<Model, ModelError> {
    Model::from_bytes(bytes, &columns())
}

/// What a shaft adds to the finding of its slide.
pub fn slide_shaft(row: &Row, verdict: &Verdict) -> SlideShaft {
    let glow = match row.zone {
        Zone::None => GlowPlace::Nowhere,
        Zone::Base | Zone::Whole => GlowPlace::BaseOrWhole,
        Zone::Tip => GlowPlace::TipOnly,
        Zone::Patchy | Zone::Unknown => GlowPlace::Elsewhere,
    };
    let leans_infected = leans_infected(verdict.look, &verdict.probability, &verdict.concerns);
    SlideShaft { look: verdict.look, leans_infected, glow, comparison: row.comparison }
}

/// What is held of one shaft; `usable` when its photo is fit to be judged, `debris` how likely it is none.
pub fn verdict(row: &Row, model: &Model, usable: bool, debris: f64) -> Verdict {
    let values = model.values(&row.values);
    let assessment = model.assess(&values);
    let doubtful = debris::may_be_debris(debris);
    let forbidden = !usable || doubtful || row.concerns.iter().any(forbids_shaft);
    let look = decided(&assessment.probability, &assessment.plausible, assessment.novelty, forbidden);
    let mut concerns = row.concerns.clone();
    if assessment.novelty > NOVELTY_LIMIT {
        concerns.push(Concern::with(ConcernKind::Novel, assessment.novelty));
    }
    if doubtful {
        concerns.push(Concern::with(ConcernKind::MaybeNoShaft, debris));
    }
    let nearest = model.nearest_told(&assessment);
    let reasons = model.reasons(&values, look.unwrap_or(assessment.most_probable()));
    Verdict {
        look,
        probability: assessment.probability,
        plausible: assessment.plausible,
        novelty: assessment.novelty,
        nearest,
        reasons,
        concerns,
    }
}
