//! One simulated photo: found, measured and judged as any photo, then held against its truth.

use super::appraisal::Judged;
use super::scenes::{SceneError, look, measured};
use super::tracing::{FOUND_COVERED, SceneScore, score};
use crate::features::Settings;
use crate::finding::{Look, Model, from_features, without_debris};
use crate::sim::Ranges;

/// What was found and how it was judged: the tracing's score, and the shafts that one trace follows.
///
/// # Errors
/// When the photo cannot be encoded or read.
pub fn appraised(seed: u64, ranges: &Ranges, model: &Model) -> Result<(SceneScore, Vec<Judged>), SceneError> {
    let mut measured = measured(seed, ranges)?;
    measured.features = without_debris(measured.features, &Settings::default(), model);
    let scored = score(&measured);
    let pairs = measured.pairs(FOUND_COVERED);
    let truths: Vec<(usize, Look, &str)> = pairs
        .iter()
        .map(|pair| {
            let shaft = &measured.scene.shafts[measured.truths[pair.truth].id - 1];
            (pair.found, look(shaft.look), shaft.kind)
        })
        .collect();
    let finding = from_features(measured.features, model);
    let judged = truths
        .into_iter()
        .map(|(found, truth, kind)| {
            Judged::new(seed, kind, truth, &finding.features.rows[found], &finding.verdicts[found])
        })
        .collect();
    Ok((scored, judged))
}
