//! What a checked model makes of one shaft's features.

use std::num::NonZero;

use super::model::{Model, measured};
use super::novelty::Near;
use super::reasons::{self, Moves};
use super::{Look, Nearest, Reason};

/// Reference shafts shown beside a judged one.
const NEAREST_SHOWN: NonZero<usize> = NonZero::new(2).expect("two is not zero");

/// What the model makes of a shaft, before anything about the photo's quality is weighed.
#[derive(Clone, Debug, PartialEq)]
pub struct Assessment {
    /// Calibrated probability of each look; sums to 1.
    pub probability: [f64; Look::COUNT],
    /// The looks that cannot be ruled out at 90 %.
    pub plausible: Vec<Look>,
    /// Distance from the reference shafts; 1 = as far as 99 % of known shafts are.
    pub novelty: f64,
    /// The nearest two reference shafts (one where the model has one only), nearest first.
    pub nearest: Vec<Near>,
}

impl Assessment {
    /// The look with the highest probability; the first of equals.
    pub fn most_probable(&self) -> Look {
        let p = &self.probability;
        Look::ALL[(0..Look::COUNT).fold(0, |best, i| if p[i] > p[best] { i } else { best })]
    }
}

impl Model {
    /// The values that the model asks for, out of a row in the order of the columns it was checked against.
    /// What is no number or too large for single precision counts as absent.
    pub fn values(&self, row: &[Option<f64>]) -> Vec<Option<f64>> {
        let value = |at: usize| row.get(at).and_then(|&value| measured(value));
        self.features.iter().map(|feature| value(feature.column)).collect()
    }

    /// Judges a shaft by the `values` that the model asks for.
    pub fn assess(&self, values: &[Option<f64>]) -> Assessment {
        let scores = reasons::by_look(&self.ensemble.scores(&self.ensemble.bins(values)));
        let probability = self.calibration.probability(&scores);
        let nearest = self.references.nearest(values, NEAREST_SHOWN);
        Assessment {
            probability,
            plausible: self.conformal.plausible(&probability),
            novelty: nearest.first().map_or(f64::MAX, |near| near.distance),
            nearest,
        }
    }

    /// The nearest reference shafts with what is known of them.
    pub fn nearest_told(&self, assessment: &Assessment) -> Vec<Nearest> {
        let told = |near: &Near| {
            let reference = self.references.references().get(near.reference)?;
            let (look, kind) = (reference.look, reference.kind.clone());
            Some(Nearest { id: near.reference + 1, look, kind, distance: near.distance })
        };
        assessment.nearest.iter().filter_map(told).collect()
    }

    /// How much each feature the model asks for moved each look's probability.
    pub fn moves(&self, values: &[Option<f64>]) -> Moves {
        reasons::moves(&self.ensemble, &self.base_scores, &self.calibration, &self.ensemble.bins(values))
    }

    /// The three to five measurements that moved the probability of `look` most, strongest first.
    pub fn reasons(&self, values: &[Option<f64>], look: Look) -> Vec<Reason> {
        let moves = self.moves(values);
        let present: Vec<bool> = values.iter().map(Option::is_some).collect();
        let reason = |at: usize| {
            let feature = &self.features[at];
            let (towards, weight) = reasons::spoke_for(&moves.moved[at]);
            values[at].map(|value| Reason {
                feature: feature.key,
                value,
                unit: feature.unit,
                reference: feature.ordinary,
                towards,
                weight,
            })
        };
        reasons::strongest(&moves, look, &present).into_iter().filter_map(reason).collect()
    }
}
