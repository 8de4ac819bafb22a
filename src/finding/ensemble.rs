//! The trees and their vote: flat, binned, one group of trees a class, absent values sent where each node learnt.
//!
//! Each class has trees of its own that tell it from all others; a class's score is the mean over its trees of the
//! share of that class in the leaf reached. Scores of different classes do not sum to 1: see `calibration`.

/// The bin of an absent value; present values have bins 0 to 254.
pub const ABSENT: u8 = u8::MAX;

/// Cuts a feature may have: its bins are one more and must stay below [`ABSENT`].
pub const MAX_CUTS: usize = ABSENT as usize - 1;

/// Marks a leaf in [`Node::feature`].
pub const LEAF: u16 = u16::MAX;

/// Weight of the root's share in every leaf, in shafts. Weak on purpose: leaves hold few shafts, and one shaft a
/// class would drown them; without it a leaf of three would claim certainty.
const PRIOR: f64 = 0.5;

/// Questions on the way to a leaf at most: as many features as `shapley` is exact for, and far too few to exhaust the
/// stack of what walks a tree by recursion.
pub const MAX_DEPTH: usize = 16;

/// One node of a tree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Node {
    /// Which feature is asked, or [`LEAF`].
    pub feature: u16,
    /// Bins below this one go left.
    pub below: u8,
    /// Whether an absent value goes left.
    pub absent_left: bool,
    /// Where the right child stands; the left child is the next node.
    pub right: u32,
    /// Shafts of the class among those that this node saw.
    pub inside: u32,
    /// Shafts of other classes that this node saw.
    pub outside: u32,
}

impl Node {
    /// A node that asks nothing.
    pub fn leaf(inside: u32, outside: u32) -> Node {
        Node { feature: LEAF, below: 0, absent_left: false, right: 0, inside, outside }
    }

    /// Whether the node asks nothing.
    pub fn is_leaf(&self) -> bool {
        self.feature == LEAF
    }

    /// Shafts that this node saw.
    pub fn cover(&self) -> f64 {
        f64::from(self.inside) + f64::from(self.outside)
    }

    /// Whether a value in `bin` goes left.
    pub fn goes_left(&self, bin: u8) -> bool {
        if bin == ABSENT { self.absent_left } else { bin < self.below }
    }
}

/// One tree; nodes in preorder, the root first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tree {
    nodes: Vec<Node>,
}

impl Tree {
    /// A tree from its nodes; `None` unless they form one whole tree in preorder that asks only for features below
    /// `n_features`, is at most [`MAX_DEPTH`] deep, and in which every node saw a shaft.
    pub fn new(mut nodes: Vec<Node>, n_features: usize) -> Option<Tree> {
        // In preorder the right child of the innermost node that still waits for it stands after each leaf.
        let mut waiting: Vec<(usize, usize)> = Vec::new();
        let mut depth = 0;
        for at in 0..nodes.len() {
            if nodes[at].cover() <= 0.0 {
                return None;
            }
            if at > 0 && nodes[at - 1].is_leaf() {
                let (parent, parent_depth) = waiting.pop()?;
                nodes[parent].right = u32::try_from(at).ok()?;
                depth = parent_depth + 1;
            }
            if !nodes[at].is_leaf() {
                if usize::from(nodes[at].feature) >= n_features || depth >= MAX_DEPTH {
                    return None;
                }
                waiting.push((at, depth));
                depth += 1;
            }
        }
        let whole = waiting.is_empty() && nodes.last().is_some_and(Node::is_leaf);
        whole.then_some(Tree { nodes })
    }

    /// A tree from nodes of which only the leaves know what they saw: the others saw what their leaves did.
    pub fn from_leaf_counts(nodes: Vec<Node>, n_features: usize) -> Option<Tree> {
        let mut nodes = nodes;
        // From the last node back, every finished subtree waits on a stack; a question takes the two nearest.
        let mut finished: Vec<(u32, u32)> = Vec::new();
        for node in nodes.iter_mut().rev() {
            if !node.is_leaf() {
                let (left, right) = (finished.pop()?, finished.pop()?);
                node.inside = left.0.checked_add(right.0)?;
                node.outside = left.1.checked_add(right.1)?;
            }
            finished.push((node.inside, node.outside));
        }
        Tree::new(nodes, n_features)
    }

    /// The nodes in preorder.
    pub fn nodes(&self) -> &[Node] {
        &self.nodes
    }

    /// The leaf that `bins` reaches.
    pub fn leaf(&self, bins: &[u8]) -> &Node {
        let mut at = 0;
        loop {
            let node = &self.nodes[at];
            if node.is_leaf() {
                return node;
            }
            at = if node.goes_left(bins[usize::from(node.feature)]) { at + 1 } else { node.right as usize };
        }
    }

    /// The probability that a leaf gives to the class, 0 to 1.
    pub fn share(&self, leaf: &Node) -> f64 {
        (f64::from(leaf.inside) + PRIOR * self.root_share()) / (leaf.cover() + PRIOR)
    }

    /// The probability that `bins` get, 0 to 1.
    pub fn score(&self, bins: &[u8]) -> f64 {
        self.share(self.leaf(bins))
    }

    /// Mean probability over the shafts that the tree saw: the score of somebody of whom nothing is known.
    pub fn base(&self) -> f64 {
        let leaves = self.nodes.iter().filter(|node| node.is_leaf());
        leaves.map(|leaf| leaf.cover() * self.share(leaf)).sum::<f64>() / self.nodes[0].cover()
    }

    fn root_share(&self) -> f64 {
        f64::from(self.nodes[0].inside) / self.nodes[0].cover()
    }
}

/// Trees of every class, and the cuts that turn values into bins.
#[derive(Clone, Debug, PartialEq)]
pub struct Forest {
    /// Ascending cuts of each feature; a value equal to a cut lies below it.
    cuts: Vec<Vec<f64>>,
    /// The trees of each class.
    trees: Vec<Vec<Tree>>,
}

impl Forest {
    /// A forest; `None` when a feature has too many cuts or cuts that do not ascend, or a class has no tree.
    pub fn new(cuts: Vec<Vec<f64>>, trees: Vec<Vec<Tree>>) -> Option<Forest> {
        let ascending = |cuts: &Vec<f64>| {
            cuts.len() <= MAX_CUTS && cuts.iter().all(|cut| cut.is_finite()) && cuts.windows(2).all(|w| w[0] < w[1])
        };
        let sound = cuts.iter().all(ascending) && !trees.is_empty() && trees.iter().all(|class| !class.is_empty());
        sound.then_some(Forest { cuts, trees })
    }

    /// The cuts of each feature.
    pub fn cuts(&self) -> &[Vec<f64>] {
        &self.cuts
    }

    /// The trees of each class.
    pub fn trees(&self) -> &[Vec<Tree>] {
        &self.trees
    }

    /// The bin of each value, [`ABSENT`] for absent or not finite ones.
    pub fn bins(&self, values: &[Option<f64>]) -> Vec<u8> {
        self.cuts.iter().zip(values).map(|(cuts, &value)| bin_of(cuts, value)).collect()
    }

    /// The score of each class, 0 to 1 each.
    pub fn scores(&self, bins: &[u8]) -> Vec<f64> {
        self.per_class(|tree| tree.score(bins))
    }

    /// The score of each class when nothing is known.
    pub fn base(&self) -> Vec<f64> {
        self.per_class(Tree::base)
    }

    fn per_class(&self, score: impl Fn(&Tree) -> f64) -> Vec<f64> {
        self.trees.iter().map(|trees| trees.iter().map(&score).sum::<f64>() / trees.len() as f64).collect()
    }
}

/// The bin of `value` among ascending `cuts`.
pub fn bin_of(cuts: &[f64], value: Option<f64>) -> u8 {
    match value {
        // At most MAX_CUTS cuts, so the bin fits below ABSENT.
        Some(value) if value.is_finite() => cuts.partition_point(|&cut| cut < value).min(MAX_CUTS) as u8,
        _ => ABSENT,
    }
}

#[cfg(test)]
mod tests {
    use super::{ABSENT, Forest, Node, Tree, bin_of};

    fn ask(feature: u16, below: u8, absent_left: bool, inside: u32, outside: u32) -> Node {
        Node { feature, below, absent_left, right: 0, inside, outside }
    }

    /// Feature 0 below bin 2 → 1 of 4; else feature 1 absent → 3 of 3, present → 0 of 3.
    fn small_tree() -> Tree {
        let nodes =
            vec![ask(0, 2, true, 4, 6), Node::leaf(1, 3), ask(1, 0, true, 3, 3), Node::leaf(3, 0), Node::leaf(0, 3)];
        Tree::new(nodes, 2).unwrap()
    }

    #[test]
    fn a_value_at_a_cut_lies_below_it() {
        assert_eq!(bin_of(&[1.0, 2.0], Some(1.0)), 0);
        assert_eq!(bin_of(&[1.0, 2.0], Some(1.5)), 1);
        assert_eq!(bin_of(&[1.0, 2.0], Some(9.0)), 2);
        assert_eq!(bin_of(&[1.0, 2.0], None), ABSENT);
        assert_eq!(bin_of(&[1.0, 2.0], Some(f64::NAN)), ABSENT, "what is not a number was not measured");
    }

    #[test]
    fn absent_values_take_the_learnt_side() {
        let tree = small_tree();
        assert_eq!(tree.leaf(&[ABSENT, 5]).outside, 3);
        assert_eq!(tree.leaf(&[9, ABSENT]).inside, 3);
        assert_eq!(tree.leaf(&[9, 0]).outside, 3);
    }

    #[test]
    fn a_leaf_leans_a_little_to_the_root() {
        // (1 + 0.5 · 0.4) / (4 + 0.5) by hand.
        assert!((small_tree().score(&[0, 0]) - 1.2 / 4.5).abs() < 1e-12);
    }

    #[test]
    fn broken_trees_are_refused() {
        let good: Vec<Node> = small_tree().nodes().to_vec();
        assert!(Tree::new(good.clone(), 1).is_none(), "asks for a feature that is not there");
        assert!(Tree::new(good[..4].to_vec(), 2).is_none(), "cut short");
        assert!(Tree::new([good.clone(), vec![Node::leaf(1, 1)]].concat(), 2).is_none(), "a leaf too many");
        let chain = [vec![ask(0, 1, true, 1, 1); 100_000], vec![Node::leaf(1, 1); 100_001]].concat();
        assert!(Tree::new(chain, 2).is_none(), "too deep to walk");
        assert!(Tree::new(vec![], 2).is_none());
        assert!(Tree::new(vec![Node::leaf(0, 0)], 2).is_none(), "saw nothing");
        assert!(Forest::new(vec![vec![2.0, 1.0]], vec![vec![small_tree()]]).is_none(), "cuts must ascend");
    }
}
