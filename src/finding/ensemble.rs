//! The boosted trees and their sum: flat, binned, one row of trees a class, absent values sent where each node learnt.
//!
//! Each class has trees of its own; a class's score is what it starts with plus what the leaf reached in each of its
//! trees adds. Scores are logits: of a softmax over the classes before anything is calibrated (see `calibration`).

/// The bin of an absent value; present values have bins 0 to 254.
pub const ABSENT: u8 = u8::MAX;

/// Cuts a feature may have: its bins are one more and must stay below [`ABSENT`].
pub const MAX_CUTS: usize = ABSENT as usize - 1;

/// Marks a leaf in [`Node::feature`].
pub const LEAF: u16 = u16::MAX;

/// Questions on the way to a leaf at most: as many features as `shapley` is exact for, and far too few to exhaust the
/// stack of what walks a tree by recursion.
pub const MAX_DEPTH: usize = 16;

/// Steps of a leaf's value in one logit: values are whole numbers of them, so that what is written is exactly what was
/// grown. A hundred-thousandth of a logit moves a probability by at most 2.5e-6.
pub const STEPS_A_LOGIT: f64 = 1e5;

/// The farthest that all trees of a class together may take its score from 0, in logits. What is grown stays below a
/// tenth of it; a file beyond it is damaged.
const FARTHEST_LOGITS: f64 = 500.0;

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
    /// Shafts that this node saw.
    pub seen: u32,
    /// What a leaf adds to the score, in steps of [`STEPS_A_LOGIT`]; 0 for a question.
    pub adds: i32,
}

impl Node {
    /// A node that asks nothing.
    pub fn leaf(seen: u32, adds: i32) -> Node {
        Node { feature: LEAF, below: 0, absent_left: false, right: 0, seen, adds }
    }

    /// A node that asks whether `feature` lies in a bin below `below`. What it saw and where its right child stands,
    /// [`Tree::from_leaves`] finds.
    pub fn question(feature: u16, below: u8, absent_left: bool) -> Node {
        Node { feature, below, absent_left, right: 0, seen: 0, adds: 0 }
    }

    /// Whether the node asks nothing.
    pub fn is_leaf(&self) -> bool {
        self.feature == LEAF
    }

    /// Shafts that this node saw, as a weight.
    pub fn cover(&self) -> f64 {
        f64::from(self.seen)
    }

    /// What a leaf adds to the score, in logits.
    pub fn logits(&self) -> f64 {
        f64::from(self.adds) / STEPS_A_LOGIT
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
    /// A tree from nodes in preorder of which only the leaves know what they saw: the others saw what their leaves did.
    ///
    /// `None` unless they form one whole tree that asks only for features below `n_features`, is at most [`MAX_DEPTH`]
    /// deep, and in which every node saw a shaft.
    pub fn from_leaves(mut nodes: Vec<Node>, n_features: usize) -> Option<Tree> {
        // From the last node back, every finished subtree waits on a stack; a question takes the two nearest.
        let mut finished: Vec<u32> = Vec::new();
        for node in nodes.iter_mut().rev() {
            if !node.is_leaf() {
                let (left, right) = (finished.pop()?, finished.pop()?);
                node.seen = left.checked_add(right)?;
                node.adds = 0;
            }
            finished.push(node.seen);
        }
        Tree::checked(nodes, n_features)
    }

    fn checked(mut nodes: Vec<Node>, n_features: usize) -> Option<Tree> {
        // In preorder the right child of the innermost node that still waits for it stands after each leaf.
        let mut waiting: Vec<(usize, usize)> = Vec::new();
        let mut depth = 0;
        for at in 0..nodes.len() {
            if nodes[at].seen == 0 {
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

    /// What the tree adds to the score of `bins`, in logits.
    pub fn adds(&self, bins: &[u8]) -> f64 {
        self.leaf(bins).logits()
    }

    /// What it adds in the mean over the shafts that it saw: to somebody of whom nothing is known, in logits.
    pub fn base(&self) -> f64 {
        let leaves = self.nodes.iter().filter(|node| node.is_leaf());
        leaves.map(|leaf| leaf.cover() * leaf.logits()).sum::<f64>() / self.nodes[0].cover()
    }

    /// The farthest from 0 that it adds, in logits.
    fn farthest(&self) -> f64 {
        self.nodes.iter().map(|node| node.logits().abs()).fold(0.0, f64::max)
    }
}

/// Trees of every class, what each class starts with, and the cuts that turn values into bins.
#[derive(Clone, Debug, PartialEq)]
pub struct Ensemble {
    /// Ascending cuts of each feature; a value equal to a cut lies below it.
    cuts: Vec<Vec<f64>>,
    /// The score of each class before any tree, in logits.
    start: Vec<f64>,
    /// The trees of each class.
    trees: Vec<Vec<Tree>>,
}

impl Ensemble {
    /// An ensemble; `None` when a feature has too many cuts or cuts that do not ascend, when there is no class or not a
    /// start for each, or when a score could leave ±500 logits.
    pub fn new(cuts: Vec<Vec<f64>>, start: Vec<f64>, trees: Vec<Vec<Tree>>) -> Option<Ensemble> {
        let ascending = |cuts: &Vec<f64>| {
            cuts.len() <= MAX_CUTS && cuts.iter().all(|cut| cut.is_finite()) && cuts.windows(2).all(|w| w[0] < w[1])
        };
        let bounded = |(start, trees): (&f64, &Vec<Tree>)| {
            start.abs() + trees.iter().map(Tree::farthest).sum::<f64>() <= FARTHEST_LOGITS
        };
        let sound = cuts.iter().all(ascending)
            && !trees.is_empty()
            && start.len() == trees.len()
            && start.iter().zip(&trees).all(bounded);
        sound.then_some(Ensemble { cuts, start, trees })
    }

    /// The cuts of each feature.
    pub fn cuts(&self) -> &[Vec<f64>] {
        &self.cuts
    }

    /// The score of each class before any tree, in logits.
    pub fn start(&self) -> &[f64] {
        &self.start
    }

    /// The trees of each class.
    pub fn trees(&self) -> &[Vec<Tree>] {
        &self.trees
    }

    /// The bin of each value, [`ABSENT`] for absent or not finite ones.
    pub fn bins(&self, values: &[Option<f64>]) -> Vec<u8> {
        self.cuts.iter().zip(values).map(|(cuts, &value)| bin_of(cuts, value)).collect()
    }

    /// The score of each class, in logits.
    pub fn scores(&self, bins: &[u8]) -> Vec<f64> {
        self.per_class(|tree| tree.adds(bins))
    }

    /// The score of each class when nothing is known, in logits.
    pub fn base(&self) -> Vec<f64> {
        self.per_class(Tree::base)
    }

    fn per_class(&self, adds: impl Fn(&Tree) -> f64) -> Vec<f64> {
        self.start.iter().zip(&self.trees).map(|(start, trees)| start + trees.iter().map(&adds).sum::<f64>()).collect()
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
    use super::{ABSENT, Ensemble, Node, Tree, bin_of};

    /// Feature 0 below bin 2 adds 0.5; else feature 1 absent adds 1, present takes 2. Saw 4, 3 and 3 shafts.
    fn small_tree() -> Tree {
        let leaf = |seen: u32, logits: f64| Node::leaf(seen, (logits * super::STEPS_A_LOGIT) as i32);
        let nodes =
            vec![Node::question(0, 2, true), leaf(4, 0.5), Node::question(1, 0, true), leaf(3, 1.0), leaf(3, -2.0)];
        Tree::from_leaves(nodes, 2).unwrap()
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
        assert_eq!(tree.adds(&[ABSENT, 5]), 0.5);
        assert_eq!(tree.adds(&[9, ABSENT]), 1.0);
        assert_eq!(tree.adds(&[9, 0]), -2.0);
    }

    #[test]
    fn a_score_is_the_start_and_what_trees_add() {
        let ensemble =
            Ensemble::new(vec![vec![], vec![]], vec![-1.0, 0.25], vec![vec![small_tree(); 2], vec![]]).unwrap();
        assert_eq!(ensemble.scores(&[9, 0]), [-5.0, 0.25]);
        // (4 · 0.5 + 3 · 1 − 3 · 2) / 10 a tree, by hand.
        assert!((ensemble.base()[0] - (-1.0 - 0.2)).abs() < 1e-12);
        assert_eq!(small_tree().nodes()[0].seen, 10);
    }

    #[test]
    fn broken_trees_are_refused() {
        let good: Vec<Node> = small_tree().nodes().to_vec();
        assert!(Tree::from_leaves(good.clone(), 1).is_none(), "asks for a feature that is not there");
        assert!(Tree::from_leaves(good[..4].to_vec(), 2).is_none(), "cut short");
        assert!(Tree::from_leaves([good.clone(), vec![Node::leaf(1, 1)]].concat(), 2).is_none(), "a leaf too many");
        let chain = [vec![Node::question(0, 1, true); 100_000], vec![Node::leaf(1, 1); 100_001]].concat();
        assert!(Tree::from_leaves(chain, 2).is_none(), "too deep to walk");
        assert!(Tree::from_leaves(vec![], 2).is_none());
        assert!(Tree::from_leaves(vec![Node::leaf(0, 0)], 2).is_none(), "saw nothing");
        let ensemble = |cuts: Vec<f64>, start: Vec<f64>| Ensemble::new(vec![cuts], start, vec![vec![small_tree()]]);
        assert!(ensemble(vec![1.0, 2.0], vec![0.0]).is_some());
        assert!(ensemble(vec![2.0, 1.0], vec![0.0]).is_none(), "cuts must ascend");
        assert!(ensemble(vec![1.0], vec![]).is_none(), "a class without a start");
        assert!(ensemble(vec![1.0], vec![f64::NAN]).is_none(), "a start that is no number");
        let wild = Tree::from_leaves(vec![Node::leaf(1, i32::MIN)], 1).unwrap();
        assert!(Ensemble::new(vec![vec![]], vec![0.0], vec![vec![wild]]).is_none(), "beyond any score that is grown");
    }
}
