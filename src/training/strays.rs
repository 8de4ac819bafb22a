//! Traces of shafts and traces of debris to the trees that tell them apart.

use super::boost::{BoostSettings, GrowingRows, grow_ensemble};
use super::grow::{GrowError, REBALANCE, VotingFeature};
use super::pairing::most_on;
use super::rebalance::rebalance;
use super::scenes::Measured;
use crate::finding::debris_model::{DebrisFeature, DebrisFile};
use crate::finding::ensemble::Ensemble;
use crate::finding::model::{measured, numbers_from_tree};

/// Share of a trace on one true shaft from which it follows a shaft, and below which it follows none. What lies between
/// follows a shaft and something else, and teaches neither.
const ON: f64 = 0.8;
/// See [`ON`].
const OFF: f64 = 0.3;

/// How these trees are boosted: two classes, told apart by few measurements.
const BOOST: BoostSettings = BoostSettings {
    n_trees: 120,
    shrinkage: 0.08,
    max_depth: 3,
    min_leaf_shafts: 10,
    scene_share: 0.6,
    feature_share: 0.4,
    pull: 2.0,
};

/// A trace of a simulated photo.
#[derive(Clone, Debug, PartialEq)]
pub struct TracedRow {
    /// The scene it is from.
    pub scene: u64,
    /// Whether it follows a shaft.
    pub is_shaft: bool,
    /// Its features in the order of the catalogue.
    pub values: Vec<Option<f64>>,
}

/// The traces of a scene that follow one shaft or none.
pub fn traced(measured: &Measured) -> Vec<TracedRow> {
    let of = |(profile, row): (&crate::profiles::Profile, &crate::features::Row)| {
        let on = most_on(&profile.centreline, &measured.true_lines);
        let is_shaft = on >= ON;
        (is_shaft || on < OFF).then(|| TracedRow { scene: measured.scene.seed, is_shaft, values: row.values.clone() })
    };
    measured.features.profiles.shafts.iter().zip(&measured.features.rows).filter_map(of).collect()
}

/// Grows the trees on traces whose values are in the order of the catalogue; the same traces give the same trees.
///
/// # Errors
/// When there are no traces of one of the two kinds.
pub fn grow_debris(traces: &[TracedRow], voting: &[VotingFeature], seed: u64) -> Result<DebrisFile, GrowError> {
    let value = |row: &TracedRow, column: usize| measured(row.values.get(column).copied().flatten());
    let mut rows: Vec<(u64, Vec<Option<f64>>)> = traces
        .iter()
        .map(|row| (row.scene, voting.iter().map(|feature| value(row, feature.column)).collect()))
        .collect();
    rebalance(rows.iter_mut().map(|(scene, values)| (*scene, values)), voting, REBALANCE, seed);
    let class: Vec<usize> = traces.iter().map(|row| usize::from(!row.is_shaft)).collect();
    let n_debris = class.iter().sum::<usize>();
    if n_debris == 0 || n_debris == traces.len() {
        return Err(GrowError::NoDebris { found: n_debris, of: traces.len() });
    }
    let values: Vec<&[Option<f64>]> = rows.iter().map(|(_, values)| values.as_slice()).collect();
    let scene: Vec<u64> = rows.iter().map(|(scene, _)| *scene).collect();
    let ensemble =
        grow_ensemble(&GrowingRows { values: &values, class: &class, scene: &scene, n_classes: 2 }, seed, &BOOST)?;
    let mut scenes = scene.clone();
    scenes.sort_unstable();
    scenes.dedup();
    Ok(file(&ensemble, voting, seed, scenes.len(), [traces.len() - n_debris, n_debris]))
}

fn file(ensemble: &Ensemble, voting: &[VotingFeature], seed: u64, scenes: usize, traces: [usize; 2]) -> DebrisFile {
    let cuts = |at: usize| ensemble.cuts()[at].iter().map(|&cut| cut as f32).collect();
    let feature = |(at, feature): (usize, &VotingFeature)| DebrisFeature {
        key: feature.key.to_owned(),
        unit: feature.unit.to_owned(),
        cuts: cuts(at),
    };
    let trees = |class: usize| ensemble.trees()[class].iter().map(numbers_from_tree).collect();
    DebrisFile {
        format: DebrisFile::format_now(),
        seed,
        scenes,
        traces,
        features: voting.iter().enumerate().map(feature).collect(),
        start: [0, 1].map(|class| ensemble.start()[class]),
        trees: [0, 1].map(trees),
    }
}

#[cfg(test)]
mod tests {
    use super::{TracedRow, grow_debris};
    use crate::features::catalogue::CATALOGUE;
    use crate::finding::debris_model::DebrisModel;
    use crate::finding::model::Column;
    use crate::training::grow::debris_features;

    /// Debris has twice as much of the first voting feature as shafts have, and a spread.
    fn traces(n_scenes: u64) -> Vec<TracedRow> {
        let column = debris_features()[0].column;
        (0..n_scenes * 8)
            .map(|i| {
                let is_shaft = i % 4 != 0;
                let mut values = vec![None; CATALOGUE.len()];
                values[column] = Some(if is_shaft { 1.0 } else { 2.0 } + 0.05 * (i % 7) as f64);
                TracedRow { scene: i / 8, is_shaft, values }
            })
            .collect()
    }

    #[test]
    fn debris_and_shafts_are_told_apart_and_the_same_traces_give_the_same_trees() {
        let grown = grow_debris(&traces(40), &debris_features(), 1).unwrap();
        assert_eq!(grown, grow_debris(&traces(40), &debris_features(), 1).unwrap());
        assert_eq!((grown.scenes, grown.traces), (40, [240, 80]));
        let columns: Vec<Column> = CATALOGUE.iter().map(|e| Column { key: e.key, unit: e.unit }).collect();
        let model = DebrisModel::from_bytes(&serde_json::to_vec(&grown).unwrap(), &columns).unwrap();
        for row in traces(3) {
            assert_eq!(model.probability(&row.values) < 0.5, row.is_shaft);
        }
    }

    #[test]
    fn one_kind_alone_teaches_nothing() {
        let shafts: Vec<TracedRow> = traces(40).into_iter().filter(|row| row.is_shaft).collect();
        let error = grow_debris(&shafts, &debris_features(), 1).unwrap_err();
        assert_eq!(error.to_string(), "0 of 240 traces follow no shaft; traces of both kinds are needed");
    }
}
