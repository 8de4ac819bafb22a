//! Grows the forest: our own bagging by scene around the tree crate's two-class trees.
//!
//! What the tree crate does not do and how it is met here (each was tried on its version 0.8.1):
//! - It keeps no class counts: every tree is flattened and its own shafts are sent down it to count.
//! - It merges leaves with the same majority, which loses differences in probability: trees weigh the class at five
//!   levels in turn (`LEVELS`), so that majorities change at five different probabilities.
//! - With more than two classes its result depends on hash order: each class gets trees against the rest.
//! - With two classes an exact tie of majority would still be broken by hash order: weights of the class are a prime
//!   number above the number of rows, times a power of two, so that a tie cannot occur (`TIE_BREAKER`).
//! - Values that are not numbers abort it, near values count as equal: it sees whole bins only.
//! - It knows no absent values: a feature with absent ones is offered twice, once with the absent below all bins and
//!   once above; the tree takes whichever side parts the shafts better.
//! - It draws no features: every tree gets features of its own.

use linfa::traits::Fit;
use linfa::{Dataset, DatasetBase};
use linfa_trees::{DecisionTree, TreeNode};
use ndarray::{Array1, Array2};
use rand::seq::{SliceRandom, index};
use rand::{Rng, RngCore};
use rayon::prelude::*;
use thiserror::Error;

use super::bins;
use crate::finding::ensemble::{ABSENT, Forest, Node, Tree, bin_of};
use crate::maths::seeds;

/// Says in the seed's purpose that trees are grown.
const PURPOSE: u64 = 0x7472_6565;

/// A prime above any number of rows a tree may have ([`MOST_ROWS`]): rows of the class times it can equal no smaller
/// number of other rows times a power of two. Below 2¹² so that all sums of weights are exact in single precision.
const TIE_BREAKER: u32 = 4001;

/// Rows a tree may have. Growing takes time in proportion to rows times nodes, and 4,000 rows a tree were as good as
/// 20,000 where it was tried.
const MOST_ROWS: usize = 4000;

/// How much more than the others, in powers of two, the class weighs in the trees by turns. Wider levels would waste
/// trees on splits among certain shafts, none would leave probabilities in between coarse.
const LEVELS: [i32; 5] = [0, -1, 1, -2, 2];

/// How a forest is grown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ForestSettings {
    /// Trees for each class.
    pub n_trees: usize,
    /// Rows a tree is grown on at most; 4,000 at most.
    pub max_rows: usize,
    /// Features offered to a tree at most.
    pub n_features: usize,
    /// Questions on the way to a leaf at most.
    pub max_depth: usize,
    /// Shafts that a leaf needs, in shafts of mean weight.
    pub min_leaf_rows: usize,
}

impl Default for ForestSettings {
    /// Small enough for a file below 1 MiB: 10,000 invented shafts of 15 features gave 290 kB.
    fn default() -> ForestSettings {
        ForestSettings { n_trees: 60, max_rows: MOST_ROWS, n_features: 14, max_depth: 9, min_leaf_rows: 4 }
    }
}

/// What a forest grows on: rows in an order of their own (not that of chance).
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

/// Why a forest could not be grown.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum ForestError {
    /// There is nothing to grow on.
    #[error("there are no labelled shafts to grow on")]
    Nothing,
    /// Something met a limit of the tree crate or of the flat form.
    #[error("a tree could not be grown: {0}")]
    Tree(String),
}

/// Grows a forest; the same rows and seed give the same forest on any number of threads.
///
/// # Errors
/// When there are no rows.
pub fn grow_forest(rows: &GrowingRows, seed: u64, settings: &ForestSettings) -> Result<Forest, ForestError> {
    let n_features = rows.values.first().ok_or(ForestError::Nothing)?.len();
    let cuts: Vec<Vec<f64>> = (0..n_features)
        .map(|feature| bins::cuts(rows.values.iter().map(|row| row[feature])).into_iter().map(f64::from).collect())
        .collect();
    let bins: Vec<Vec<u8>> = rows
        .values
        .iter()
        .map(|row| cuts.iter().zip(row.iter()).map(|(cuts, &value)| bin_of(cuts, value)).collect())
        .collect();
    let by_scene = rows_by_scene(rows.scene);
    let jobs: Vec<(usize, usize)> =
        (0..rows.n_classes).flat_map(|class| (0..settings.n_trees).map(move |tree| (class, tree))).collect();
    let grown: Vec<Tree> = jobs
        .par_iter()
        .map(|&(class, tree)| {
            let mut rng = seeds::generator(seed, &[PURPOSE, class as u64, tree as u64]);
            let inside: Vec<bool> = rows.class.iter().map(|&c| c == class).collect();
            let bag = Bag::draw(&by_scene, &inside, settings.max_rows.min(MOST_ROWS), &mut rng);
            grow_tree(&bins, &inside, &bag, LEVELS[tree % LEVELS.len()], settings, &mut rng)
        })
        .collect::<Result<_, _>>()?;
    let trees: Vec<Vec<Tree>> = grown.chunks(settings.n_trees.max(1)).map(<[Tree]>::to_vec).collect();
    without_unused_cuts(&cuts, &trees, n_features)
}

/// The rows that a tree grows on and how often each was drawn, in the order of rows.
struct Bag {
    rows: Vec<usize>,
    times: Vec<u32>,
}

impl Bag {
    /// Draws as many scenes as there are, with replacement, and then at most `max_rows` of their shafts: all of the
    /// class up to half, so that a rare class is not thinned out.
    fn draw(by_scene: &[Vec<usize>], inside: &[bool], max_rows: usize, rng: &mut impl RngCore) -> Bag {
        let mut drawn: Vec<usize> = Vec::new();
        for _ in 0..by_scene.len() {
            drawn.extend(&by_scene[rng.gen_range(0..by_scene.len())]);
        }
        let (mut of_class, mut others): (Vec<usize>, Vec<usize>) = drawn.into_iter().partition(|&row| inside[row]);
        of_class.shuffle(rng);
        others.shuffle(rng);
        let n_class = of_class.len().min((max_rows / 2).max(max_rows.saturating_sub(others.len())));
        of_class.truncate(n_class);
        others.truncate(max_rows - n_class);
        let mut drawn = [of_class, others].concat();
        drawn.sort_unstable();
        let mut bag = Bag { rows: Vec::new(), times: Vec::new() };
        for row in drawn {
            if bag.rows.last() == Some(&row) {
                *bag.times.last_mut().expect("as long as rows") += 1;
            } else {
                bag.rows.push(row);
                bag.times.push(1);
            }
        }
        bag
    }
}

/// A column offered to the tree crate.
#[derive(Clone, Copy)]
struct Offered {
    feature: usize,
    /// Whether absent values stand below all bins or above.
    absent_below: bool,
}

impl Offered {
    /// The number that stands for a bin: bins from 1 on with the absent at 0, or from 0 on with the absent at 255.
    fn number(self, bin: u8) -> f32 {
        match (self.absent_below, bin) {
            (true, ABSENT) => 0.0,
            (true, bin) => f32::from(bin) + 1.0,
            (false, bin) => f32::from(bin),
        }
    }
}

fn grow_tree(
    bins: &[Vec<u8>],
    inside: &[bool],
    bag: &Bag,
    level: i32,
    settings: &ForestSettings,
    rng: &mut impl RngCore,
) -> Result<Tree, ForestError> {
    let n_features = bins[0].len();
    let count = |want: bool| -> u32 {
        bag.rows.iter().zip(&bag.times).filter(|&(&row, _)| inside[row] == want).map(|(_, times)| times).sum()
    };
    let (n_inside, n_outside) = (count(true), count(false));
    let mut offered: Vec<Offered> = Vec::new();
    let mut drawn = index::sample(rng, n_features, settings.n_features.min(n_features)).into_vec();
    drawn.sort_unstable();
    for feature in drawn {
        offered.push(Offered { feature, absent_below: true });
        if bag.rows.iter().any(|&row| bins[row][feature] == ABSENT) {
            offered.push(Offered { feature, absent_below: false });
        }
    }
    if n_inside == 0 || n_outside == 0 || offered.is_empty() {
        let leaf = vec![Node::leaf(n_inside, n_outside)];
        return Tree::new(leaf, n_features).ok_or(ForestError::Nothing);
    }
    let weight = class_weight(n_inside, n_outside, level);
    let records = Array2::from_shape_fn((bag.rows.len(), offered.len()), |(i, j)| {
        offered[j].number(bins[bag.rows[i]][offered[j].feature])
    });
    let targets = Array1::from_iter(bag.rows.iter().map(|&row| inside[row]));
    let weights = Array1::from_iter(
        bag.rows.iter().zip(&bag.times).map(|(&row, &times)| times as f32 * if inside[row] { weight } else { 1.0 }),
    );
    let total = n_inside as f32 * weight + n_outside as f32;
    let least = settings.min_leaf_rows.max(1) as f32 * total / (n_inside + n_outside) as f32;
    let dataset: DatasetBase<_, _> = Dataset::new(records, targets).with_weights(weights);
    let tree = DecisionTree::params()
        .max_depth(Some(settings.max_depth))
        .min_weight_leaf(least)
        .min_weight_split(2.0 * least)
        .fit(&dataset)
        .map_err(|error| ForestError::Tree(error.to_string()))?;
    let mut nodes = Vec::new();
    flatten(tree.root_node(), &offered, &mut nodes)?;
    count_shafts(&mut nodes, bins, inside, bag);
    Tree::new(nodes, n_features).ok_or(ForestError::Tree("its flat form is broken".into()))
}

/// The weight of a row of the class: makes both sides weigh about the same, times 2 to the power of `level`, rounded
/// to a prime times a power of two (see [`TIE_BREAKER`]).
fn class_weight(n_inside: u32, n_outside: u32, level: i32) -> f32 {
    let wanted = f64::from(n_outside) / f64::from(n_inside) * 2f64.powi(level);
    let power = (wanted / f64::from(TIE_BREAKER)).log2().round() as i32;
    (f64::from(TIE_BREAKER) * 2f64.powi(power)) as f32
}

fn flatten(from: &TreeNode<f32, bool>, offered: &[Offered], nodes: &mut Vec<Node>) -> Result<(), ForestError> {
    let children = from.children();
    let (Some(Some(left)), Some(Some(right)), false) = (children.first(), children.get(1), from.is_leaf()) else {
        nodes.push(Node::leaf(0, 0));
        return Ok(());
    };
    let (column, split, _) = from.split();
    let Offered { feature, absent_below } = offered[column];
    // Growing sends numbers up to and including the split left; numbers are whole. With the absent below, bin b is
    // the number b + 1 and goes left when b < floor(split); else when b < floor(split) + 1.
    let below = split.floor() as u32 + u32::from(!absent_below);
    let at = nodes.len();
    nodes.push(Node {
        feature: u16::try_from(feature).map_err(|_| ForestError::Tree("too many features".into()))?,
        below: u8::try_from(below).map_err(|_| ForestError::Tree("too many bins".into()))?,
        absent_left: absent_below,
        right: 0,
        inside: 0,
        outside: 0,
    });
    flatten(left, offered, nodes)?;
    nodes[at].right = nodes.len() as u32;
    flatten(right, offered, nodes)
}

/// Sends every shaft of the bag down the tree and counts; then decides for every question whose shafts all had the
/// feature that an absent value goes where most of them went.
fn count_shafts(nodes: &mut [Node], bins: &[Vec<u8>], inside: &[bool], bag: &Bag) {
    let mut absent_seen = vec![false; nodes.len()];
    for (&row, &times) in bag.rows.iter().zip(&bag.times) {
        let mut at = 0;
        loop {
            let node = &mut nodes[at];
            if inside[row] {
                node.inside += times;
            } else {
                node.outside += times;
            }
            if node.is_leaf() {
                break;
            }
            let bin = bins[row][usize::from(node.feature)];
            absent_seen[at] |= bin == ABSENT;
            at = if node.goes_left(bin) { at + 1 } else { node.right as usize };
        }
    }
    for at in 0..nodes.len() {
        if !nodes[at].is_leaf() && !absent_seen[at] {
            nodes[at].absent_left = nodes[at + 1].cover() >= nodes[nodes[at].right as usize].cover();
        }
    }
}

/// The forest with only those cuts that some question uses.
fn without_unused_cuts(cuts: &[Vec<f64>], trees: &[Vec<Tree>], n_features: usize) -> Result<Forest, ForestError> {
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
        Tree::new(nodes, n_features)
    };
    let trees: Option<Vec<Vec<Tree>>> = trees.iter().map(|trees| trees.iter().map(rebuilt).collect()).collect();
    let kept = |(cuts, used): (&Vec<f64>, &Vec<bool>)| -> Vec<f64> {
        cuts.iter().zip(used).filter(|(_, used)| **used).map(|(cut, _)| *cut).collect()
    };
    let cuts = cuts.iter().zip(&used).map(kept).collect();
    trees.and_then(|trees| Forest::new(cuts, trees)).ok_or(ForestError::Tree("its flat form is broken".into()))
}

fn rows_by_scene(scene: &[u64]) -> Vec<Vec<usize>> {
    let mut order: Vec<usize> = (0..scene.len()).collect();
    order.sort_by_key(|&row| (scene[row], row));
    order.chunk_by(|&a, &b| scene[a] == scene[b]).map(<[usize]>::to_vec).collect()
}
