//! Labelled shafts to a model file.

use thiserror::Error;

use super::boost::{BoostSettings, EnsembleError, GrowingRows, grow_ensemble};
use super::calibrate::{Scored, calibrated, conformal_sets};
use super::folds::{Part, folds, parts};
use super::prototypes;
use super::rebalance::rebalance;
use super::table::{LabelledRow, Table, TableError, sort_rows};
use crate::features::catalogue::{CATALOGUE, Entry};
use crate::finding::Look;
use crate::finding::ensemble::Ensemble;
use crate::finding::model::{
    CalibrationWire, ConformalWire, FeatureWire, ModelFile, NoveltyWire, ReferenceWire, TreesWire, measured,
    numbers_from_tree, sha256,
};
use crate::finding::novelty::{FeatureScale, MAX_FEATURES, ReferenceShaft};
use crate::finding::reasons::by_look;
use crate::maths::stats;

/// Scenes needed: fewer leave some part without enough of them to learn anything from.
const FEWEST_SCENES: usize = 20;

/// Share of known shafts from other scenes that lie within novelty 1.
const KNOWN_SHARE: f64 = 0.99;

/// Folds of the scenes for scores by trees that never saw them: with five, those trees know 80 % of the scenes, and
/// growing takes five times as long again as the ensemble alone.
const N_FOLDS: usize = 5;

/// White balances are moved by up to this logarithm of the ratio of two channels either way: a factor of 2.2.
pub(super) const REBALANCE: f64 = 0.8;

/// A feature that the ensemble may use, and where it stands in a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct VotingFeature<'a> {
    /// Key in the catalogue.
    pub key: &'a str,
    /// Its unit.
    pub unit: &'a str,
    /// Its place in a row.
    pub column: usize,
}

/// How a model is grown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GrowSettings {
    /// The trees.
    pub boost: BoostSettings,
    /// Reference shafts kept at most.
    pub n_references: usize,
    /// Coverage of the sets of plausible looks, 0 to 1.
    pub level: f64,
    /// How far white balances are moved at most: logarithm of the ratio of two channels.
    pub rebalance: f64,
}

impl Default for GrowSettings {
    fn default() -> GrowSettings {
        GrowSettings { boost: BoostSettings::default(), n_references: 400, level: 0.9, rebalance: REBALANCE }
    }
}

/// Why no model could be grown.
#[derive(Debug, Error)]
pub enum GrowError {
    /// Too few scenes.
    #[error("{found} scenes are too few to grow a model on; at least {FEWEST_SCENES} are needed")]
    TooFewScenes {
        /// Scenes there are.
        found: usize,
    },
    /// A look does not occur where it must.
    #[error("no shaft that is {look} is left for growing; add scenes with such shafts", look = .look.code())]
    LookMissing {
        /// The look.
        look: Look,
    },
    /// Traces of one kind only.
    #[error("{found} of {of} traces follow no shaft; traces of both kinds are needed")]
    NoDebris {
        /// Traces of debris.
        found: usize,
        /// All traces.
        of: usize,
    },
    /// The rows do not fit the features.
    #[error("a labelled shaft has {found} features where {expected} are expected; measure the shafts anew")]
    RowLength {
        /// Features of the row.
        found: usize,
        /// Features expected.
        expected: usize,
    },
    /// More features than the space of novelty has room for, or none.
    #[error("{found} features may vote; between 1 and {MAX_FEATURES} are possible")]
    FeatureCount {
        /// Features that vote.
        found: usize,
    },
    /// The trees.
    #[error(transparent)]
    Ensemble(#[from] EnsembleError),
    /// The digest of the table.
    #[error(transparent)]
    Table(#[from] TableError),
}

/// Grows a model on rows in the order of the catalogue, using the features that may vote.
///
/// The same rows (in any order), seed and settings give the same bytes, on any number of threads.
///
/// # Errors
/// When there are too few scenes, a look is missing, or rows do not fit the catalogue.
pub fn grow(rows: &[LabelledRow], seed: u64, settings: &GrowSettings) -> Result<ModelFile, GrowError> {
    let keys: Vec<String> = CATALOGUE.iter().map(|entry| entry.key.to_string()).collect();
    grow_with(&Table { keys, rows: rows.to_vec() }, &voting_features(), seed, settings)
}

/// The features of the catalogue that may vote.
pub fn voting_features() -> Vec<VotingFeature<'static>> {
    asked_for(|entry| entry.votes)
}

/// The features that the trees which tell debris may ask for: those that vote, and where a trace branches.
pub fn debris_features() -> Vec<VotingFeature<'static>> {
    asked_for(|entry| entry.votes || entry.key.starts_with("branching."))
}

fn asked_for(is_asked: impl Fn(&Entry) -> bool) -> Vec<VotingFeature<'static>> {
    CATALOGUE
        .iter()
        .enumerate()
        .filter(|(_, entry)| is_asked(entry))
        .map(|(column, entry)| VotingFeature { key: entry.key, unit: entry.unit, column })
        .collect()
}

/// Grows a model on any table, using the features in `voting`; see [`grow`].
///
/// # Errors
/// As [`grow`].
pub fn grow_with(
    table: &Table,
    voting: &[VotingFeature],
    seed: u64,
    settings: &GrowSettings,
) -> Result<ModelFile, GrowError> {
    if let Some(row) = table.rows.iter().find(|row| row.values.len() != table.keys.len()) {
        return Err(GrowError::RowLength { found: row.values.len(), expected: table.keys.len() });
    }
    if voting.is_empty() || voting.len() > MAX_FEATURES {
        return Err(GrowError::FeatureCount { found: voting.len() });
    }
    let mut sorted = table.clone();
    sorted.sort();
    let table_sha256 = digest(&sorted)?;
    let mut rows = voting_rows(&sorted.rows, voting);
    rebalance(rows.iter_mut().map(|row| (row.scene, &mut row.values)), voting, settings.rebalance, seed);
    let scenes: Vec<u64> = rows.iter().map(|row| row.scene).collect();
    let n_scenes = scenes.chunk_by(|a, b| a == b).count();
    if n_scenes < FEWEST_SCENES {
        return Err(GrowError::TooFewScenes { found: n_scenes });
    }
    let growing: Vec<&LabelledRow> = rows.iter().collect();
    if let Some(look) = Look::ALL.into_iter().find(|look| growing.iter().all(|row| row.look != *look)) {
        return Err(GrowError::LookMissing { look });
    }
    let ensemble = ensemble(&growing, seed, &settings.boost)?;
    let scored = left_out_scores(&growing, &scenes, seed, &settings.boost)?;
    let part = parts(&scenes, seed);
    let of = |wanted: Part| scored.iter().zip(&part).filter(move |(_, part)| **part == wanted).map(|(shaft, _)| *shaft);
    let (_, calibration) = calibrated(&of(Part::Calibrating).collect::<Vec<Scored>>(), seed);
    let noted: Vec<(u64, Look, [f64; Look::COUNT])> =
        of(Part::Conforming).map(|shaft| (shaft.scene, shaft.look, calibration.probability(&shaft.scores))).collect();
    let sets = conformal_sets(&noted, settings.level, seed);
    // As the file keeps them, so that the unit is measured on what will be used.
    let scales = prototypes::scales(&growing);
    let references: Vec<ReferenceWire> =
        prototypes::chosen(&growing, &scales, settings.n_references, seed).iter().map(reference_wire).collect();
    let kept: Vec<ReferenceShaft> = references.iter().map(reference_as_kept).collect();
    let unit = prototypes::reach(&growing, &kept, &scales, KNOWN_SHARE).unwrap_or(1.0);
    let mut shafts = [0; Look::COUNT];
    rows.iter().for_each(|row| shafts[row.look as usize] += 1);
    Ok(ModelFile {
        format: ModelFile::format_now(),
        seed,
        table_sha256,
        scenes: n_scenes,
        shafts,
        features: features_wire(voting, &ensemble, &scales, &growing),
        ensemble: ensemble_wire(&ensemble),
        calibration: CalibrationWire { weight: calibration.weight, offset: calibration.offset },
        conformal: ConformalWire { level: sets.level, scenes: sets.scenes, largest: sets.largest },
        // A unit of 0 (all shafts alike) would make everything else infinitely novel.
        novelty: NoveltyWire { unit: if unit > 0.0 { unit } else { 1.0 }, references },
    })
}

/// SHA-256 of a table's CSV, 64 hexadecimal digits.
///
/// # Errors
/// When a row does not fit the table's keys.
pub fn digest(table: &Table) -> Result<String, TableError> {
    let mut bytes = Vec::new();
    table.write(&mut bytes)?;
    Ok(sha256(&bytes))
}

/// The rows with the voting features only, as a model takes them.
fn voting_rows(rows: &[LabelledRow], voting: &[VotingFeature]) -> Vec<LabelledRow> {
    let value = |row: &LabelledRow, column: usize| measured(row.values[column]);
    let mut kept: Vec<LabelledRow> = rows
        .iter()
        .map(|row| LabelledRow {
            values: voting.iter().map(|feature| value(row, feature.column)).collect(),
            ..row.clone()
        })
        .collect();
    sort_rows(&mut kept);
    kept
}

fn ensemble(growing: &[&LabelledRow], seed: u64, settings: &BoostSettings) -> Result<Ensemble, EnsembleError> {
    let values: Vec<&[Option<f64>]> = growing.iter().map(|row| row.values.as_slice()).collect();
    let class: Vec<usize> = growing.iter().map(|row| row.look as usize).collect();
    let scene: Vec<u64> = growing.iter().map(|row| row.scene).collect();
    let rows = GrowingRows { values: &values, class: &class, scene: &scene, n_classes: Look::COUNT };
    grow_ensemble(&rows, seed, settings)
}

/// The scores of each row by trees that never saw its scene: grown on the scenes of all other folds.
///
/// The trees that judge are grown on all scenes. They know a quarter more scenes than those that scored here, so that
/// what is calibrated on these scores errs on the side of caution.
fn left_out_scores(
    rows: &[&LabelledRow],
    scenes: &[u64],
    seed: u64,
    settings: &BoostSettings,
) -> Result<Vec<Scored>, EnsembleError> {
    let fold = folds(scenes, N_FOLDS, seed);
    let mut scored: Vec<Option<Scored>> = vec![None; rows.len()];
    for out in 0..N_FOLDS {
        let rest: Vec<&LabelledRow> =
            rows.iter().zip(&fold).filter(|(_, fold)| **fold != out).map(|(row, _)| *row).collect();
        let ensemble = ensemble(&rest, seed, settings)?;
        for ((row, _), to) in rows.iter().zip(&fold).zip(&mut scored).filter(|((_, fold), _)| **fold == out) {
            let scores = by_look(&ensemble.scores(&ensemble.bins(&row.values)));
            *to = Some(Scored { scene: row.scene, look: row.look, scores });
        }
    }
    Ok(scored.into_iter().flatten().collect())
}

fn features_wire(
    voting: &[VotingFeature],
    ensemble: &Ensemble,
    scales: &[FeatureScale],
    growing: &[&LabelledRow],
) -> Vec<FeatureWire> {
    let ordinary = |at: usize| {
        let of_look = growing.iter().filter(|row| row.look == Look::Normal);
        stats::median(&mut of_look.filter_map(|row| row.values[at]).collect::<Vec<f64>>())
    };
    voting
        .iter()
        .enumerate()
        .map(|(at, feature)| FeatureWire {
            key: feature.key.to_string(),
            unit: feature.unit.to_string(),
            cuts: ensemble.cuts()[at].iter().map(|&cut| cut as f32).collect(),
            ordinary: ordinary(at),
            middle: scales[at].middle,
            spread: scales[at].spread,
        })
        .collect()
}

fn ensemble_wire(ensemble: &Ensemble) -> Vec<TreesWire> {
    let trees = |((look, trees), start): ((Look, &Vec<_>), &f64)| TreesWire {
        look: look.code().to_string(),
        start: *start,
        trees: trees.iter().map(numbers_from_tree).collect(),
    };
    Look::ALL.into_iter().zip(ensemble.trees()).zip(ensemble.start()).map(trees).collect()
}

fn reference_wire(shaft: &ReferenceShaft) -> ReferenceWire {
    ReferenceWire {
        scene: shaft.scene,
        look: shaft.look.code().to_string(),
        kind: shaft.kind.clone(),
        values: shaft.values.iter().map(|value| value.map(|v| v as f32)).collect(),
    }
}

fn reference_as_kept(wire: &ReferenceWire) -> ReferenceShaft {
    ReferenceShaft {
        scene: wire.scene,
        look: Look::ALL.into_iter().find(|look| look.code() == wire.look).unwrap_or(Look::Normal),
        kind: wire.kind.clone(),
        values: wire.values.iter().map(|value| value.map(f64::from)).collect(),
    }
}
