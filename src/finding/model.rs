//! A model file, checked once; asks for features by key.
//!
//! What is written is [`ModelFile`], what is used is [`Model`]: nothing of a file is believed before it was checked.

use std::collections::HashMap;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use thiserror::Error;

use super::Look;
use super::calibration::Calibration;
use super::conformal::ConformalSets;
use super::ensemble::{Ensemble, Node, Tree};
use super::novelty::{FeatureScale, ReferenceShaft, ReferenceSpace};
use super::reasons::by_look;

/// Opens the name of the format; a number follows.
const FORMAT: &str = "pilumen/model/";

/// The version written, and the only one that is read: version 1 held trees that voted, and this program sums trees.
const VERSION: u32 = 2;

/// Before the digest in a card.
const CARD_DIGEST: &str = "SHA-256 of the model file: ";

/// Marks a leaf among the numbers of a tree.
const LEAF_NUMBER: i64 = -1;

/// Why a model file cannot be used.
#[derive(Debug, Error, PartialEq, Eq)]
pub enum ModelError {
    /// The file ends early.
    #[error("the model file ends early, after {bytes} bytes; copy it again")]
    Cut {
        /// Bytes read.
        bytes: usize,
    },
    /// The file is no model file.
    #[error("the file is not a model file of this program ({problem})")]
    NotAModel {
        /// What was met.
        problem: String,
    },
    /// A newer program wrote it.
    #[error("the model file has version {found}, and this program reads up to {VERSION}; use a newer program")]
    Newer {
        /// Its version.
        found: u32,
    },
    /// An older program wrote it.
    #[error("the model file has version {found}, and this program reads version {VERSION}; grow the model anew")]
    Older {
        /// Its version.
        found: u32,
    },
    /// It asks for features that this program does not measure.
    #[error("the model file asks for features that this program does not measure: {}; grow the model anew", .keys.join(", "))]
    UnknownFeatures {
        /// Their keys.
        keys: Vec<String>,
    },
    /// It was grown on another unit.
    #[error(
        "the model file was grown on {key} in {found}, and this program measures it in {expected}; grow the model anew"
    )]
    Unit {
        /// The feature.
        key: String,
        /// The file's unit.
        found: String,
        /// The program's unit.
        expected: String,
    },
    /// A part of it cannot be right.
    #[error("the model file is damaged: {part} cannot be right; copy it again")]
    Damaged {
        /// Which part.
        part: &'static str,
    },
    /// The card beside it describes another file.
    #[error("the model file has digest {found}, and its card describes {expected}; put the card beside its own file")]
    CardDiffers {
        /// The file's digest.
        found: String,
        /// The card's digest; `no digest` when it has none.
        expected: String,
    },
}

/// The model as written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ModelFile {
    /// `pilumen/model/` and the version.
    pub format: String,
    /// The seed it was grown from.
    pub seed: u64,
    /// SHA-256 of the table of labelled features it was grown from, 64 hexadecimal digits.
    pub table_sha256: String,
    /// Scenes in that table.
    pub scenes: usize,
    /// Shafts in that table by look, in the order of [`Look::ALL`].
    pub shafts: [usize; Look::COUNT],
    /// The features it asks for.
    pub features: Vec<FeatureWire>,
    /// The trees of each look, in the order of [`Look::ALL`].
    pub ensemble: Vec<TreesWire>,
    /// Scores to probabilities.
    pub calibration: CalibrationWire,
    /// Bounds of the sets of plausible looks.
    pub conformal: ConformalWire,
    /// What novelty is measured from.
    pub novelty: NoveltyWire,
}

/// One feature as written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FeatureWire {
    /// Key in the catalogue.
    pub key: String,
    /// Unit it was grown on.
    pub unit: String,
    /// Ascending cuts between bins; a value equal to a cut lies below it.
    pub cuts: Vec<f32>,
    /// Median among ordinary shafts.
    pub ordinary: Option<f64>,
    /// Middle of the space of novelty.
    pub middle: f64,
    /// Spread of the space of novelty; 0 when it takes no part.
    pub spread: f64,
}

/// The trees of a look as written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TreesWire {
    /// The look's code.
    pub look: String,
    /// The look's score before any tree, in logits.
    pub start: f64,
    /// Each tree as numbers, node by node in preorder, three numbers a node. A question: feature, how many of
    /// its bins go left, 1 if absent values go left or else 0. A leaf: −1, shafts it saw, what it adds to the look's
    /// score in hundred-thousandths of a logit.
    pub trees: Vec<Vec<i64>>,
}

/// See [`Calibration`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CalibrationWire {
    /// See [`Calibration::weight`].
    pub weight: [[f64; Look::COUNT]; Look::COUNT],
    /// See [`Calibration::offset`].
    pub offset: [f64; Look::COUNT],
}

/// See [`ConformalSets`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ConformalWire {
    /// See [`ConformalSets::level`].
    pub level: f64,
    /// See [`ConformalSets::scenes`].
    pub scenes: [usize; Look::COUNT],
    /// See [`ConformalSets::largest`].
    pub largest: [Option<f64>; Look::COUNT],
}

/// See [`ReferenceSpace`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NoveltyWire {
    /// See [`ReferenceSpace::unit`].
    pub unit: f64,
    /// The reference shafts.
    pub references: Vec<ReferenceWire>,
}

/// See [`ReferenceShaft`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReferenceWire {
    /// See [`ReferenceShaft::scene`].
    pub scene: u64,
    /// The look's code.
    pub look: String,
    /// See [`ReferenceShaft::kind`].
    pub kind: String,
    /// See [`ReferenceShaft::values`].
    pub values: Vec<Option<f32>>,
}

impl ModelFile {
    /// The name of the format as written now.
    pub fn format_now() -> String {
        format!("{FORMAT}{VERSION}")
    }

    /// The bytes of the file: JSON and a final line end.
    ///
    /// # Errors
    /// Never in practice: a model holds nothing that JSON cannot.
    pub fn to_bytes(&self) -> Result<Vec<u8>, serde_json::Error> {
        let mut bytes = serde_json::to_vec(self)?;
        bytes.push(b'\n');
        Ok(bytes)
    }

    /// Reads what [`ModelFile::to_bytes`] wrote; only its form is checked.
    ///
    /// # Errors
    /// When the bytes are cut, no model file, or of a newer version.
    pub fn from_bytes(bytes: &[u8]) -> Result<ModelFile, ModelError> {
        #[derive(Deserialize)]
        struct Header {
            format: String,
        }
        let named = |error: serde_json::Error| {
            if error.is_eof() {
                ModelError::Cut { bytes: bytes.len() }
            } else {
                ModelError::NotAModel { problem: error.to_string() }
            }
        };
        let header: Header = serde_json::from_slice(bytes).map_err(named)?;
        let version = header.format.strip_prefix(FORMAT).and_then(|version| version.parse::<u32>().ok());
        match version {
            Some(VERSION) => serde_json::from_slice(bytes).map_err(named),
            Some(found) if found > VERSION => Err(ModelError::Newer { found }),
            Some(found) => Err(ModelError::Older { found }),
            _ => Err(ModelError::NotAModel { problem: format!("its format is {:?}", header.format) }),
        }
    }
}

/// A feature that the program measures: its name and unit, in the order of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Column {
    /// Key in the catalogue.
    pub key: &'static str,
    /// Its unit.
    pub unit: &'static str,
}

/// A feature that the model asks for.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct ModelFeature {
    pub(super) column: usize,
    pub(super) key: &'static str,
    pub(super) unit: &'static str,
    pub(super) ordinary: Option<f64>,
}

/// A model that was checked.
#[derive(Debug)]
pub struct Model {
    pub(super) features: Vec<ModelFeature>,
    pub(super) ensemble: Ensemble,
    pub(super) base_scores: [f64; Look::COUNT],
    pub(super) calibration: Calibration,
    pub(super) conformal: ConformalSets,
    pub(super) references: ReferenceSpace,
    sha256: String,
}

impl Model {
    /// Reads and checks a model file against the features that the program measures.
    ///
    /// # Errors
    /// When the file is cut, damaged, from a newer version, or asks for features or units that `columns` lack.
    pub fn from_bytes(bytes: &[u8], columns: &[Column]) -> Result<Model, ModelError> {
        let file = ModelFile::from_bytes(bytes)?;
        let damaged = |part: &'static str| ModelError::Damaged { part };
        let features = features(&file, columns)?;
        let n_features = features.len();
        let looks_in_order = file.ensemble.iter().map(|trees| trees.look.as_str()).eq(Look::ALL.map(Look::code));
        if !looks_in_order {
            return Err(damaged("the list of looks"));
        }
        let tree = |numbers: &Vec<i64>| tree_from_numbers(numbers, n_features).ok_or(damaged("a tree"));
        let trees = |look: &TreesWire| look.trees.iter().map(tree).collect::<Result<Vec<Tree>, ModelError>>();
        let trees = file.ensemble.iter().map(trees).collect::<Result<Vec<_>, _>>()?;
        let cuts = file.features.iter().map(|f| f.cuts.iter().map(|&cut| f64::from(cut)).collect()).collect();
        let start = file.ensemble.iter().map(|look| look.start).collect();
        let ensemble = Ensemble::new(cuts, start, trees).ok_or(damaged("the ensemble"))?;
        let CalibrationWire { weight, offset } = file.calibration;
        if !weight.iter().flatten().chain(&offset).all(|number| number.is_finite()) {
            return Err(damaged("the calibration"));
        }
        let ConformalWire { level, scenes, largest } = file.conformal;
        if !(0.0..=1.0).contains(&level) || !largest.iter().flatten().all(|bound| (0.0..=1.0).contains(bound)) {
            return Err(damaged("the bounds of plausible looks"));
        }
        let scales = file.features.iter().map(|f| FeatureScale { middle: f.middle, spread: f.spread }).collect();
        let references = file.novelty.references.iter().map(reference).collect::<Option<Vec<_>>>();
        let references = references
            .and_then(|references| ReferenceSpace::new(scales, references, file.novelty.unit))
            .ok_or(damaged("the reference shafts"))?;
        Ok(Model {
            features,
            base_scores: by_look(&ensemble.base()),
            ensemble,
            calibration: Calibration { weight, offset },
            conformal: ConformalSets { level, scenes, largest },
            references,
            sha256: sha256(bytes),
        })
    }

    /// SHA-256 of the file it was read from, 64 hexadecimal digits.
    pub fn sha256(&self) -> &str {
        &self.sha256
    }

    /// The shafts that novelty is measured from.
    pub fn references(&self) -> &[ReferenceShaft] {
        self.references.references()
    }

    /// Keys of the features it asks for, in its own order.
    pub fn feature_keys(&self) -> impl Iterator<Item = &'static str> {
        self.features.iter().map(|feature| feature.key)
    }
}

/// A value as a model takes it: absent unless it is a number that single precision can hold, as the file keeps
/// cuts and reference shafts in it. Nothing that is measured comes near its end.
pub fn measured(value: Option<f64>) -> Option<f64> {
    value.filter(|value| (*value as f32).is_finite())
}

/// The line of a card that names the digest of its model file.
pub fn card_digest_line(model_bytes: &[u8]) -> String {
    format!("{CARD_DIGEST}`{}`", sha256(model_bytes))
}

/// Whether a text is the card of some model file.
pub fn is_card(text: &str) -> bool {
    text.lines().any(|line| line.starts_with(CARD_DIGEST))
}

/// Checks that a card describes this model file.
///
/// # Errors
/// When the card names another digest or none.
pub fn check_card(model_bytes: &[u8], card: &str) -> Result<(), ModelError> {
    let found = sha256(model_bytes);
    let named = card.lines().find_map(|line| line.split_once(CARD_DIGEST)).map(|(_, rest)| rest);
    let expected = named.map_or("no digest", |rest| rest.trim().trim_matches('`'));
    if expected == found { Ok(()) } else { Err(ModelError::CardDiffers { found, expected: expected.into() }) }
}

/// SHA-256 of `bytes`, 64 hexadecimal digits.
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// A tree as numbers; see [`TreesWire::trees`].
pub fn numbers_from_tree(tree: &Tree) -> Vec<i64> {
    let numbers = |node: &Node| {
        if node.is_leaf() {
            [LEAF_NUMBER, i64::from(node.seen), i64::from(node.adds)]
        } else {
            [i64::from(node.feature), i64::from(node.below), i64::from(node.absent_left)]
        }
    };
    tree.nodes().iter().flat_map(numbers).collect()
}

pub(super) fn tree_from_numbers(numbers: &[i64], n_features: usize) -> Option<Tree> {
    let node = |triple: &[i64]| {
        let &[first, second, third] = triple else { return None };
        if first == LEAF_NUMBER {
            return Some(Node::leaf(u32::try_from(second).ok()?, i32::try_from(third).ok()?));
        }
        let absent_left = match third {
            0 => false,
            1 => true,
            _ => return None,
        };
        let feature = u16::try_from(first).ok()?;
        Some(Node::question(feature, u8::try_from(second).ok()?, absent_left))
    };
    let nodes = numbers.chunks(3).map(node).collect::<Option<Vec<Node>>>()?;
    Tree::from_leaves(nodes, n_features)
}

fn features(file: &ModelFile, columns: &[Column]) -> Result<Vec<ModelFeature>, ModelError> {
    let known: HashMap<&str, usize> = columns.iter().enumerate().map(|(i, column)| (column.key, i)).collect();
    let unknown = |feature: &&FeatureWire| !known.contains_key(feature.key.as_str());
    let keys: Vec<String> = file.features.iter().filter(unknown).map(|feature| feature.key.clone()).collect();
    if !keys.is_empty() {
        return Err(ModelError::UnknownFeatures { keys });
    }
    let feature = |feature: &FeatureWire| {
        let column = known[feature.key.as_str()];
        let Column { key, unit } = columns[column];
        if feature.unit != unit {
            let (found, expected) = (feature.unit.clone(), unit.into());
            return Err(ModelError::Unit { key: feature.key.clone(), found, expected });
        }
        Ok(ModelFeature { column, key, unit, ordinary: feature.ordinary })
    };
    file.features.iter().map(feature).collect()
}

fn reference(wire: &ReferenceWire) -> Option<ReferenceShaft> {
    let look = Look::ALL.into_iter().find(|look| look.code() == wire.look)?;
    let values = wire.values.iter().map(|value| value.map(f64::from)).collect();
    Some(ReferenceShaft { scene: wire.scene, look, kind: wire.kind.clone(), values })
}
