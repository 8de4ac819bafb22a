//! Grows the trees: gradient boosting of a softmax over the looks, on bins, drawn by scene.
//!
//! Method: J. H. Friedman, "Greedy function approximation: a gradient boosting machine", 2001, for several classes
//! (his algorithm 6), with the second-order gain and leaf value of T. Chen, C. Guestrin, "XGBoost: a scalable tree
//! boosting system", 2016 (equations 6 and 7), both from memory. In each round every class gets one tree, grown on the
//! same probabilities. With g = 1 or 0 less the probability and h = probability · (1 − probability), a question is
//! worth G²/(H + `PULL`) summed over its two sides less that of the whole, and a leaf adds shrinkage · G/(H + `PULL`).
//!
//! - Scenes are drawn, not shafts: shafts of one scene are alike, and a tree that saw one of them knows the others.
//! - Absent values: a question is tried with the absent on either side, and the better one is kept; "absent or not" is
//!   itself a question. Where no shaft at a node lacked the feature, an absent value goes where most shafts went.
//! - The same rows and seed give the same ensemble on any number of threads: sums run in the order of rows, and of two
//!   equally good questions the first in the order of features and bins is taken.
//!
//! Why the trees are our own: docs/decisions/0008-why-are-the-trees-our-own-and-boosted.md.

use rand::RngCore;
use rand::seq::{SliceRandom, index};
use rayon::prelude::*;
use thiserror::Error;

use super::bins;
use super::split::{Grown, Rows, grow_tree};
use crate::finding::ensemble::{Ensemble, Node, STEPS_A_LOGIT, Tree, bin_of};
use crate::maths::seeds;
use crate::maths::softmax::softmax_in_place;

/// Says in the seed's purpose that trees are grown.
const PURPOSE: u64 = 0x7472_6565;

/// How trees are boosted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoostSettings {
    /// Trees for each class.
    pub n_trees: usize,
    /// Share of what a tree found that is added, 0 to 1: smaller ones need more trees and travel better.
    pub shrinkage: f64,
    /// Questions on the way to a leaf at most.
    pub max_depth: usize,
    /// Shafts that a leaf needs.
    pub min_leaf_shafts: u32,
    /// Share of the scenes drawn for a round, 0 to 1.
    pub scene_share: f64,
    /// Share of the features offered to a tree, 0 to 1.
    pub feature_share: f64,
    /// Added to the sum of h: pulls the values of small leaves towards 0.
    pub pull: f64,
}

impl Default for BoostSettings {
    /// Chosen by cross-validation within the table grown on; docs/decisions has the figures.
    fn default() -> BoostSettings {
        BoostSettings {
            n_trees: 300,
            shrinkage: 0.05,
            max_depth: 4,
            min_leaf_shafts: 10,
            scene_share: 0.6,
            feature_share: 0.4,
            pull: 2.0,
        }
    }
}

/// What an ensemble grows on: rows in an order of their own (not that of chance).
#[derive(Clone, Copy, Debug)]
pub struct GrowingRows<'a> {
    /// The features of each row, all rows equally long.
    pub values: &'a [&'a [Option<f64>]],
    /// The class of each row, 0 to `n_classes` − 1.
    pub class: &'a [usize],
    /// The scene of each row, the unit drawn.
    pub scene: &'a [u64],
    /// Classes there are.
    pub n_classes: usize,
}

/// Why an ensemble could not be grown.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum EnsembleError {
    /// There is nothing to grow on.
    #[error("there are no labelled shafts to grow on")]
    Nothing,
    /// Something met a limit of the flat form.
    #[error("a tree could not be grown: {0}")]
    Tree(&'static str),
}

/// Grows an ensemble; the same rows and seed give the same ensemble on any number of threads.
///
/// # Errors
/// When there are no rows, or more features than a tree can name.
pub fn grow_ensemble(rows: &GrowingRows, seed: u64, settings: &BoostSettings) -> Result<Ensemble, EnsembleError> {
    let n_features = rows.values.first().ok_or(EnsembleError::Nothing)?.len();
    if n_features > usize::from(u16::MAX) - 1 {
        return Err(EnsembleError::Tree("there are too many features"));
    }
    let cuts: Vec<Vec<f64>> = (0..n_features)
        .map(|feature| bins::cuts(rows.values.iter().map(|row| row[feature])).into_iter().map(f64::from).collect())
        .collect();
    // Feature by feature: a tree looks at one feature of all rows at a time.
    let by_feature: Vec<Vec<u8>> = cuts
        .iter()
        .enumerate()
        .map(|(feature, cuts)| rows.values.iter().map(|row| bin_of(cuts, row[feature])).collect())
        .collect();
    let by_scene = rows_by_scene(rows.scene);
    let start = start(rows);
    let mut scores: Vec<Vec<f64>> = start.iter().map(|&start| vec![start; rows.values.len()]).collect();
    let mut trees: Vec<Vec<Tree>> = vec![Vec::new(); rows.n_classes];
    for round in 0..settings.n_trees {
        let mut rng = seeds::generator(seed, &[PURPOSE, round as u64]);
        let drawn = drawn_rows(&by_scene, settings.scene_share, &mut rng);
        let probability: Vec<Vec<f64>> = probabilities(&scores);
        let grown: Vec<(Tree, Vec<f64>)> = (0..rows.n_classes)
            .into_par_iter()
            .map(|class| {
                let mut rng = seeds::generator(seed, &[PURPOSE, round as u64, class as u64]);
                let offered = drawn_features(n_features, settings.feature_share, &mut rng);
                let p = &probability[class];
                let gradient: Vec<f64> =
                    p.iter().zip(rows.class).map(|(p, &c)| f64::from(u8::from(c == class)) - p).collect();
                let curvature: Vec<f64> = p.iter().map(|p| p * (1.0 - p)).collect();
                let seen = Rows { bins: &by_feature, gradient: &gradient, curvature: &curvature };
                let Grown { nodes, adds } = grow_tree(&seen, drawn.clone(), &offered, settings);
                let tree =
                    Tree::from_leaves(nodes, n_features).ok_or(EnsembleError::Tree("its flat form is broken"))?;
                Ok((tree, adds))
            })
            .collect::<Result<_, EnsembleError>>()?;
        for (class, (tree, adds)) in grown.into_iter().enumerate() {
            scores[class].iter_mut().zip(&adds).for_each(|(score, adds)| *score += adds);
            trees[class].push(tree);
        }
    }
    without_unused_cuts(&cuts, start, &trees, n_features)
}

/// The logarithm of each class's share of the rows, in the steps that a file keeps. A class without a row counts half
/// a row, so that it starts low and not at minus infinity.
fn start(rows: &GrowingRows) -> Vec<f64> {
    let n = rows.class.len() as f64;
    (0..rows.n_classes)
        .map(|class| {
            let of_class = rows.class.iter().filter(|&&c| c == class).count() as f64;
            ((of_class.max(0.5) / n).ln() * STEPS_A_LOGIT).round() / STEPS_A_LOGIT
        })
        .collect()
}

fn probabilities(scores: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let n_rows = scores.first().map_or(0, Vec::len);
    let mut probability = vec![vec![0.0; n_rows]; scores.len()];
    let mut of_row = vec![0.0; scores.len()];
    for row in 0..n_rows {
        of_row.iter_mut().zip(scores).for_each(|(to, from)| *to = from[row]);
        softmax_in_place(&mut of_row);
        probability.iter_mut().zip(&of_row).for_each(|(to, p)| to[row] = *p);
    }
    probability
}

/// The rows of a share of the scenes, in the order of rows; at least one scene.
fn drawn_rows(by_scene: &[Vec<usize>], share: f64, rng: &mut impl RngCore) -> Vec<u32> {
    let mut order: Vec<usize> = (0..by_scene.len()).collect();
    order.shuffle(rng);
    let n = ((by_scene.len() as f64 * share).round() as usize).clamp(1, by_scene.len());
    let mut rows: Vec<u32> = order[..n].iter().flat_map(|&scene| &by_scene[scene]).map(|&row| row as u32).collect();
    rows.sort_unstable();
    rows
}

fn drawn_features(n_features: usize, share: f64, rng: &mut impl RngCore) -> Vec<usize> {
    let n = ((n_features as f64 * share).round() as usize).clamp(n_features.min(1), n_features);
    let mut drawn = index::sample(rng, n_features, n).into_vec();
    drawn.sort_unstable();
    drawn
}

/// The ensemble with only those cuts that some question uses.
fn without_unused_cuts(
    cuts: &[Vec<f64>],
    start: Vec<f64>,
    trees: &[Vec<Tree>],
    n_features: usize,
) -> Result<Ensemble, EnsembleError> {
    let mut used: Vec<Vec<bool>> = cuts.iter().map(|cuts| vec![false; cuts.len()]).collect();
    let questions = trees.iter().flatten().flat_map(|tree| tree.nodes()).filter(|node| !node.is_leaf());
    for node in questions {
        // "Bins below k" is "values up to cut k − 1"; k = 0 and k beyond the cuts ask only whether it is absent.
        if let Some(used) = (node.below as usize).checked_sub(1).and_then(|k| used[node.feature as usize].get_mut(k)) {
            *used = true;
        }
    }
    let renumbered = |node: &Node| {
        let used = &used[node.feature as usize];
        let kept = used.iter().take(node.below as usize).filter(|used| **used).count();
        let beyond = usize::from(node.below as usize > used.len());
        Node { below: (kept + beyond) as u8, ..*node }
    };
    let rebuilt = |tree: &Tree| {
        let nodes = tree.nodes().iter().map(|node| if node.is_leaf() { *node } else { renumbered(node) }).collect();
        Tree::from_leaves(nodes, n_features)
    };
    let trees: Option<Vec<Vec<Tree>>> = trees.iter().map(|trees| trees.iter().map(rebuilt).collect()).collect();
    let kept = |(cuts, used): (&Vec<f64>, &Vec<bool>)| -> Vec<f64> {
        cuts.iter().zip(used).filter(|(_, used)| **used).map(|(cut, _)| *cut).collect()
    };
    let cuts = cuts.iter().zip(&used).map(kept).collect();
    trees.and_then(|trees| Ensemble::new(cuts, start, trees)).ok_or(EnsembleError::Tree("its flat form is broken"))
}

fn rows_by_scene(scene: &[u64]) -> Vec<Vec<usize>> {
    let mut order: Vec<usize> = (0..scene.len()).collect();
    order.sort_by_key(|&row| (scene[row], row));
    order.chunk_by(|&a, &b| scene[a] == scene[b]).map(<[usize]>::to_vec).collect()
}
