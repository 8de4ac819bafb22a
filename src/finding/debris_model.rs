//! Trees that tell a traced shaft from traced debris, and the file they come in.
//!
//! The same measurements that tell one look from another tell rims of bubbles, edges of puddles and flakes, and streaks
//! of adhesive from shafts. No look is given by these trees: they only say how likely a trace follows no shaft at all.
//! They are grown on simulated photos (`pilumen train`), never with a record's own cases, which hold shafts only.

use std::collections::HashMap;

use serde::{Deserialize, Serialize};

use super::ensemble::{Ensemble, Tree};
use super::model::{Column, ModelError, measured, tree_from_numbers};
use crate::maths::softmax::softmax_in_place;

/// The file that comes with the program.
pub const OWN: &[u8] = include_bytes!("../../models/debris-v1.json");

/// The format as written and read.
const FORMAT: &str = "pilumen/debris/1";

/// The trees as written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DebrisFile {
    /// `pilumen/debris/1`.
    pub format: String,
    /// The seed they were grown from.
    pub seed: u64,
    /// Scenes they were grown on.
    pub scenes: usize,
    /// Traces of shafts and of debris among them.
    pub traces: [usize; 2],
    /// What they ask for.
    pub features: Vec<DebrisFeature>,
    /// What the scores of a shaft and of debris start with, in logits.
    pub start: [f64; 2],
    /// The trees of a shaft and of debris, as numbers; see [`super::model::TreesWire::trees`].
    pub trees: [Vec<Vec<i64>>; 2],
}

/// A feature as written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DebrisFeature {
    /// Key in the catalogue.
    pub key: String,
    /// Unit it was grown on.
    pub unit: String,
    /// Ascending cuts between bins; a value equal to a cut lies below it.
    pub cuts: Vec<f32>,
}

impl DebrisFile {
    /// The name of the format.
    pub fn format_now() -> String {
        FORMAT.to_owned()
    }

    /// Reads the file, unchecked but for its form.
    ///
    /// # Errors
    /// When it is no such file.
    pub fn from_bytes(bytes: &[u8]) -> Result<DebrisFile, ModelError> {
        let file: DebrisFile =
            serde_json::from_slice(bytes).map_err(|error| ModelError::NotAModel { problem: error.to_string() })?;
        if file.format != FORMAT {
            return Err(ModelError::NotAModel { problem: format!("its format is {:?}", file.format) });
        }
        Ok(file)
    }

    /// The bytes of the file: JSON and a final line end.
    ///
    /// # Errors
    /// Never in practice: the trees hold nothing that JSON cannot.
    pub fn to_bytes(&self) -> Result<Vec<u8>, serde_json::Error> {
        let mut bytes = serde_json::to_vec(self)?;
        bytes.push(b'\n');
        Ok(bytes)
    }
}

/// Trees that were checked.
#[derive(Debug)]
pub struct DebrisModel {
    columns: Vec<usize>,
    ensemble: Ensemble,
}

impl DebrisModel {
    /// Reads and checks a file against the features that the program measures.
    ///
    /// # Errors
    /// When it is no such file, is damaged, or asks for features or units that `columns` lack.
    pub fn from_bytes(bytes: &[u8], columns: &[Column]) -> Result<DebrisModel, ModelError> {
        let file = DebrisFile::from_bytes(bytes)?;
        let known: HashMap<(&str, &str), usize> =
            columns.iter().enumerate().map(|(i, column)| ((column.key, column.unit), i)).collect();
        let at = |feature: &DebrisFeature| known.get(&(feature.key.as_str(), feature.unit.as_str())).copied();
        let unknown: Vec<String> =
            file.features.iter().filter(|f| at(f).is_none()).map(|feature| feature.key.clone()).collect();
        if !unknown.is_empty() {
            return Err(ModelError::UnknownFeatures { keys: unknown });
        }
        let n_features = file.features.len();
        let tree = |numbers: &Vec<i64>| tree_from_numbers(numbers, n_features);
        let trees = file.trees.iter().map(|trees| trees.iter().map(tree).collect::<Option<Vec<Tree>>>());
        let trees = trees.collect::<Option<Vec<_>>>().ok_or(ModelError::Damaged { part: "a tree" })?;
        let cuts = file.features.iter().map(|f| f.cuts.iter().map(|&cut| f64::from(cut)).collect()).collect();
        let ensemble = Ensemble::new(cuts, file.start.to_vec(), trees);
        Ok(DebrisModel {
            columns: file.features.iter().filter_map(at).collect(),
            ensemble: ensemble.ok_or(ModelError::Damaged { part: "the ensemble" })?,
        })
    }

    /// How likely a trace with these measurements (all features, in the order of the catalogue) follows no shaft, 0 to 1.
    pub fn probability(&self, values: &[Option<f64>]) -> f64 {
        let asked: Vec<Option<f64>> =
            self.columns.iter().map(|&column| values.get(column).copied().flatten()).map(measured).collect();
        let mut scores = self.ensemble.scores(&self.ensemble.bins(&asked));
        softmax_in_place(&mut scores);
        scores.get(1).copied().unwrap_or(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::{DebrisFile, DebrisModel, OWN};
    use crate::features::catalogue::CATALOGUE;
    use crate::finding::model::{Column, ModelError};

    fn columns() -> Vec<Column> {
        CATALOGUE.iter().map(|entry| Column { key: entry.key, unit: entry.unit }).collect()
    }

    #[test]
    fn the_trees_that_come_with_the_program_are_whole() {
        let own = DebrisModel::from_bytes(OWN, &columns()).expect("whole");
        let nothing_known = own.probability(&vec![None; CATALOGUE.len()]);
        assert!((0.0..=1.0).contains(&nothing_known));
        let file: DebrisFile = serde_json::from_slice(OWN).unwrap();
        assert!(file.traces.iter().all(|&n| n > 100) && file.trees.iter().all(|trees| trees.len() > 20));
    }

    #[test]
    fn what_is_damaged_is_refused() {
        let file: DebrisFile = serde_json::from_slice(OWN).unwrap();
        let refused = |change: &dyn Fn(&mut DebrisFile)| {
            let mut file = file.clone();
            change(&mut file);
            DebrisModel::from_bytes(&serde_json::to_vec(&file).unwrap(), &columns()).unwrap_err()
        };
        assert!(matches!(refused(&|f| f.format = "pilumen/debris/9".into()), ModelError::NotAModel { .. }));
        assert!(matches!(refused(&|f| f.features[0].key = "glow.taste".into()), ModelError::UnknownFeatures { .. }));
        assert!(matches!(refused(&|f| f.features[0].unit = "furlong".into()), ModelError::UnknownFeatures { .. }));
        assert!(matches!(refused(&|f| f.trees[1][0] = vec![9_999, 1, 0]), ModelError::Damaged { .. }));
        assert!(matches!(refused(&|f| f.start[0] = 1e9), ModelError::Damaged { .. }));
        assert!(DebrisModel::from_bytes(&OWN[..OWN.len() / 2], &columns()).is_err());
    }
}
