//! One tree of the boosting: the best question at each node by sums over bins, and the values of the leaves.

use super::boost::BoostSettings;
use crate::finding::ensemble::{ABSENT, MAX_DEPTH, Node, STEPS_A_LOGIT};

/// A question must be worth more than this, in logits: what is less is rounding.
const SMALLEST_GAIN: f64 = 1e-9;

/// The most that one tree may add before shrinkage, in logits: where all shafts of a leaf are as good as certain, the
/// quotient of two small sums means nothing.
const LARGEST_STEP_LOGITS: f64 = 5.0;

/// What trees are grown on.
#[derive(Clone, Copy)]
pub(super) struct Rows<'a> {
    /// The bin of each row, feature by feature.
    pub(super) bins: &'a [Vec<u8>],
    /// 1 or 0 less the probability, row by row.
    pub(super) gradient: &'a [f64],
    /// Probability · (1 − probability), row by row.
    pub(super) curvature: &'a [f64],
}

/// A tree that was grown.
pub(super) struct Grown {
    /// Its nodes in preorder; leaves know what they saw and add.
    pub(super) nodes: Vec<Node>,
    /// What it adds to each row, drawn or not, in logits.
    pub(super) adds: Vec<f64>,
}

/// Sums over some rows.
#[derive(Clone, Copy, Default)]
struct Sums {
    gradient: f64,
    curvature: f64,
    shafts: u32,
}

impl Sums {
    fn add(&mut self, other: Sums) {
        self.gradient += other.gradient;
        self.curvature += other.curvature;
        self.shafts += other.shafts;
    }

    fn less(self, other: Sums) -> Sums {
        Sums {
            gradient: self.gradient - other.gradient,
            curvature: self.curvature - other.curvature,
            shafts: self.shafts - other.shafts,
        }
    }

    fn worth(self, pull: f64) -> f64 {
        self.gradient * self.gradient / (self.curvature.max(0.0) + pull)
    }
}

#[derive(Clone, Copy)]
struct Question {
    feature: usize,
    below: u8,
    absent_left: bool,
    gain: f64,
}

struct Growing<'a> {
    rows: &'a Rows<'a>,
    offered: &'a [usize],
    settings: &'a BoostSettings,
    nodes: Vec<Node>,
    adds: Vec<f64>,
}

/// Grows one tree on the `drawn` rows, asking only for `offered` features.
pub(super) fn grow_tree(rows: &Rows, drawn: Vec<u32>, offered: &[usize], settings: &BoostSettings) -> Grown {
    let n_rows = rows.gradient.len();
    let mut growing = Growing { rows, offered, settings, nodes: Vec::new(), adds: vec![0.0; n_rows] };
    let mut is_drawn = vec![false; n_rows];
    drawn.iter().for_each(|&row| is_drawn[row as usize] = true);
    let others = (0..n_rows as u32).filter(|&row| !is_drawn[row as usize]).collect();
    growing.below(drawn, others, 0);
    Grown { nodes: growing.nodes, adds: growing.adds }
}

impl Growing<'_> {
    /// Grows what lies below a node that the `drawn` rows reach; `others` are rows that only want to know their leaf.
    fn below(&mut self, drawn: Vec<u32>, others: Vec<u32>, depth: usize) {
        let sums = self.sums(&drawn);
        let question =
            if depth < self.settings.max_depth.min(MAX_DEPTH) { self.best_question(&drawn, sums) } else { None };
        let Some(Question { feature, below, absent_left, .. }) = question else {
            let step = sums.gradient / (sums.curvature.max(0.0) + self.settings.pull);
            let step = step.clamp(-LARGEST_STEP_LOGITS, LARGEST_STEP_LOGITS) * self.settings.shrinkage;
            let leaf = Node::leaf(sums.shafts, (step * STEPS_A_LOGIT).round() as i32);
            drawn.iter().chain(&others).for_each(|&row| self.adds[row as usize] = leaf.logits());
            self.nodes.push(leaf);
            return;
        };
        let node = Node::question(feature as u16, below, absent_left);
        self.nodes.push(node);
        let bins = &self.rows.bins[feature];
        let parted = |rows: Vec<u32>| -> (Vec<u32>, Vec<u32>) {
            rows.into_iter().partition(|&row| node.goes_left(bins[row as usize]))
        };
        let ((drawn_left, drawn_right), (others_left, others_right)) = (parted(drawn), parted(others));
        self.below(drawn_left, others_left, depth + 1);
        self.below(drawn_right, others_right, depth + 1);
    }

    fn one(&self, row: u32) -> Sums {
        Sums { gradient: self.rows.gradient[row as usize], curvature: self.rows.curvature[row as usize], shafts: 1 }
    }

    fn sums(&self, rows: &[u32]) -> Sums {
        let mut sums = Sums::default();
        rows.iter().for_each(|&row| sums.add(self.one(row)));
        sums
    }

    fn best_question(&self, rows: &[u32], whole: Sums) -> Option<Question> {
        if whole.shafts < 2 * self.settings.min_leaf_shafts.max(1) {
            return None;
        }
        let mut best: Option<Question> = None;
        for &feature in self.offered {
            let mut of_bin = [Sums::default(); ABSENT as usize + 1];
            let bins = &self.rows.bins[feature];
            rows.iter().for_each(|&row| of_bin[usize::from(bins[row as usize])].add(self.one(row)));
            let absent = of_bin[usize::from(ABSENT)];
            // Bins below k go left, for every k; k = 0 asks only whether the feature is absent.
            let mut present_left = Sums::default();
            for below in 0..ABSENT {
                if below > 0 {
                    let added = of_bin[usize::from(below) - 1];
                    if added.shafts == 0 {
                        continue;
                    }
                    present_left.add(added);
                }
                for absent_left in [false, true] {
                    if absent.shafts == 0 && absent_left {
                        continue;
                    }
                    let mut left = present_left;
                    if absent_left {
                        left.add(absent);
                    }
                    let right = whole.less(left);
                    let fewest = self.settings.min_leaf_shafts.max(1);
                    if left.shafts < fewest || right.shafts < fewest {
                        continue;
                    }
                    let pull = self.settings.pull;
                    let gain = left.worth(pull) + right.worth(pull) - whole.worth(pull);
                    if gain > best.map_or(SMALLEST_GAIN, |best| best.gain) {
                        // Nobody here lacked it: an absent value goes where most went.
                        let absent_left = if absent.shafts == 0 { left.shafts >= right.shafts } else { absent_left };
                        best = Some(Question { feature, below, absent_left, gain });
                    }
                }
            }
        }
        best
    }
}
