//! What was traced and measured but is debris after all: short, and unlike any shaft the program knows.
//!
//! Rims of bubbles, edges of flakes and puddles, streaks of adhesive pass every test on outlines; measured, they are
//! far from all reference shafts. On tuning scenes 32 of 113 false traces and 1 of 597 true ones were both novel and
//! short. A long novel trace stays: it may be a kind of hair that was never seen, and a person should look.

use super::abstention::NOVELTY_LIMIT;
use super::model::Model;
use crate::concerns::{Concern, ConcernKind};
use crate::features::{self, Features};

/// Length below which something novel is debris, share of the photo's diagonal. Rims and edges are seldom longer; a
/// hair of a new kind that long or longer is kept and called "cannot say".
const SHORT: f64 = 0.18;

/// The name of the reason, beside those of the stage that traces.
pub const UNLIKE: &str = "unlike-shafts";

/// The same photo with its debris among what was rejected. What is left is compared anew, since debris may have served
/// as comparison shaft. `settings` are those the features were made with; where they name shafts by number, nothing is
/// taken away.
pub fn without_debris(features: Features, settings: &features::Settings, model: &Model) -> Features {
    if *settings != features::Settings::default() {
        return features;
    }
    let is_kept: Vec<bool> = (0..features.rows.len()).map(|index| !is_debris(index, &features, model)).collect();
    if is_kept.iter().all(|&kept| kept) {
        return features;
    }
    let mut profiles = features.profiles;
    let mut index = 0;
    let mut rejects = Vec::new();
    profiles.shafts.retain(|shaft| {
        index += 1;
        if !is_kept[index - 1] {
            let line = &shaft.centreline;
            rejects.push((line.at(0.5 * line.length()), line.length(), UNLIKE));
        }
        is_kept[index - 1]
    });
    profiles.rejects.append(&mut rejects);
    if profiles.shafts.is_empty() {
        profiles.concerns.push(Concern::new(ConcernKind::NoShaft));
    }
    features::from_profiles(profiles, settings)
}

fn is_debris(index: usize, features: &Features, model: &Model) -> bool {
    let profiles = &features.profiles;
    let diagonal = (profiles.width_px as f64).hypot(profiles.height_px as f64);
    let values = model.values(&features.rows[index].values);
    profiles.shafts[index].centreline.length() < SHORT * diagonal && model.assess(&values).novelty > NOVELTY_LIMIT
}
