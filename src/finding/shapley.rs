//! How much each feature moved what a tree adds to a score: exact Shapley values along the tree's own branches.
//!
//! L. S. Shapley, "A value for n-person games", 1953, in the reading of S. M. Lundberg and S.-I. Lee, "A unified
//! approach to interpreting model predictions", 2017 (both from memory): a coalition of known features goes down the
//! tree where they send it, and at nodes that ask for an unknown feature it goes both ways in the share in which the
//! tree's own shafts did. The contributions of all features sum to the score less the tree's base score.
//!
//! Method: each leaf is a product game. A coalition gets the leaf's value times, for each feature on the way to it, 1 or
//! 0 for a member (whether the shaft goes this way) and the share of shafts for a stranger. Shapley's weights
//! s! (m − s − 1)! / m! are the integrals of t^s (1 − t)^(m − s − 1) over 0 to 1, so that a feature gets
//! value · (taken − share) · ∫ Π over the other features of (t · taken + (1 − t) · share) dt,
//! a polynomial in t that eight points integrate exactly. Products over the way down are carried along, sums over the
//! leaves below are carried back up, and a tree costs its number of nodes. (The idea of summing upwards is that of
//! P. Yu, C. Xu, A. Bifet, J. Read, "Linear TreeShap", 2022, from memory; points instead of polynomials are ours.)

use super::ensemble::{Ensemble, MAX_DEPTH, Tree};
use crate::maths::quadrature::{N_POINTS, PLACES, WEIGHTS};

// Features on a way are at most its depth, and the polynomial's degree is one less.
const _: () = assert!(MAX_DEPTH <= 2 * N_POINTS);

/// What is known of a feature on the way so far.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Step {
    /// Whether the shaft itself goes this way at all nodes that ask for the feature.
    taken: bool,
    /// Share of the tree's shafts that go this way at those nodes.
    share: f64,
}

/// A feature that was not asked for yet.
const UNASKED: Step = Step { taken: true, share: 1.0 };

impl Step {
    /// The feature's factor at each point.
    fn factors(self) -> [f64; N_POINTS] {
        let taken = if self.taken { 1.0 } else { 0.0 };
        PLACES.map(|t| t * taken + (1.0 - t) * self.share)
    }

    /// What the feature gets of leaves whose values times products are `below`.
    fn gets(self, below: &[f64; N_POINTS]) -> f64 {
        let mut sum = 0.0;
        if self.taken {
            let factors = self.factors();
            for q in 0..N_POINTS {
                sum += WEIGHTS[q] * below[q] / factors[q];
            }
            sum * (1.0 - self.share)
        } else {
            // The share cancels against the one in the product.
            for q in 0..N_POINTS {
                sum -= WEIGHTS[q] / (1.0 - PLACES[q]) * below[q];
            }
            sum
        }
    }
}

/// How much each feature (first index) moved the score of each class (second), in logits: sums to score less base.
pub fn contributions<const N: usize>(ensemble: &Ensemble, bins: &[u8]) -> Vec<[f64; N]> {
    let mut moved = vec![[0.0; N]; bins.len()];
    let mut of_class = vec![0.0; bins.len()];
    for (class, trees) in ensemble.trees().iter().enumerate().take(N) {
        of_class.fill(0.0);
        for tree in trees {
            add_tree(tree, bins, &mut of_class);
        }
        for (row, sum) in moved.iter_mut().zip(&of_class) {
            row[class] = *sum;
        }
    }
    moved
}

/// Adds to `moved` how much each feature moved the score of one tree.
pub fn add_tree(tree: &Tree, bins: &[u8], moved: &mut [f64]) {
    let mut walk = Walk { tree, bins, known: vec![UNASKED; bins.len()], moved };
    walk.below(0, &[1.0; N_POINTS]);
}

struct Walk<'a> {
    tree: &'a Tree,
    bins: &'a [u8],
    /// What is known of each feature on the way to where the walk is.
    known: Vec<Step>,
    moved: &'a mut [f64],
}

impl Walk<'_> {
    /// The sum over the leaves below `at` of value times product, given the `product` on the way to it.
    fn below(&mut self, at: usize, product: &[f64; N_POINTS]) -> [f64; N_POINTS] {
        let node = self.tree.nodes()[at];
        if node.is_leaf() {
            let value = node.logits();
            return product.map(|p| p * value);
        }
        let feature = usize::from(node.feature);
        let before = self.known[feature];
        let factors_before = before.factors();
        let goes_left = node.goes_left(self.bins[feature]);
        let mut sum = [0.0; N_POINTS];
        for (child, taken) in [(at + 1, goes_left), (node.right as usize, !goes_left)] {
            let share = self.tree.nodes()[child].cover() / node.cover();
            // A feature asked twice is one player: both answers must fit.
            let now = Step { taken: before.taken && taken, share: before.share * share };
            let mut product_now = now.factors();
            for q in 0..N_POINTS {
                product_now[q] *= product[q] / factors_before[q];
            }
            self.known[feature] = now;
            let below = self.below(child, &product_now);
            // What the way's earlier answers were given for these leaves is replaced by what all answers get.
            self.moved[feature] += now.gets(&below) - if before == UNASKED { 0.0 } else { before.gets(&below) };
            sum.iter_mut().zip(&below).for_each(|(sum, below)| *sum += below);
        }
        self.known[feature] = before;
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::super::ensemble::{ABSENT, Node, Tree};
    use super::add_tree;
    use crate::maths::seeds;
    use rand::Rng;

    /// The slow twin: the expected score of a coalition by its definition.
    fn expected(tree: &Tree, at: usize, bins: &[u8], known: usize) -> f64 {
        let node = tree.nodes()[at];
        if node.is_leaf() {
            return node.logits();
        }
        let (left, right) = (at + 1, node.right as usize);
        if known >> node.feature & 1 == 1 {
            let child = if node.goes_left(bins[usize::from(node.feature)]) { left } else { right };
            return expected(tree, child, bins, known);
        }
        let part = |child: usize| tree.nodes()[child].cover() / node.cover() * expected(tree, child, bins, known);
        part(left) + part(right)
    }

    /// The slow twin: Shapley's sum over all coalitions.
    fn by_definition(tree: &Tree, bins: &[u8], n: usize) -> Vec<f64> {
        let factorial = |k: usize| (1..=k).map(|i| i as f64).product::<f64>();
        (0..n)
            .map(|feature| {
                (0..1usize << n)
                    .filter(|coalition| coalition >> feature & 1 == 0)
                    .map(|coalition| {
                        let size = coalition.count_ones() as usize;
                        let weight = factorial(size) * factorial(n - size - 1) / factorial(n);
                        let with = expected(tree, 0, bins, coalition | 1 << feature);
                        weight * (with - expected(tree, 0, bins, coalition))
                    })
                    .sum()
            })
            .collect()
    }

    fn random_tree(n_features: u16, depth: usize, rng: &mut impl Rng, nodes: &mut Vec<Node>) {
        let at = nodes.len();
        nodes.push(Node::leaf(1, 0));
        if depth == 0 || rng.gen_bool(0.15) {
            nodes[at] = Node::leaf(rng.gen_range(1..18), rng.gen_range(-90_000..90_000));
        } else {
            let (feature, below, absent_left) = (rng.gen_range(0..n_features), rng.gen_range(0..=255), rng.r#gen());
            random_tree(n_features, depth - 1, rng, nodes);
            random_tree(n_features, depth - 1, rng, nodes);
            nodes[at] = Node::question(feature, below, absent_left);
        }
    }

    #[test]
    fn equals_the_definition_and_sums_to_score_less_base() {
        let n = 6;
        for seed in 0..40 {
            let mut rng = seeds::generator(seed, &[]);
            let mut nodes = Vec::new();
            random_tree(n as u16, 9, &mut rng, &mut nodes);
            let tree = Tree::from_leaves(nodes, n).unwrap();
            let bins: Vec<u8> =
                (0..n).map(|_| if rng.gen_bool(0.2) { ABSENT } else { rng.gen_range(0..255) }).collect();
            let mut fast = vec![0.0; n];
            add_tree(&tree, &bins, &mut fast);
            for (got, expected) in fast.iter().zip(by_definition(&tree, &bins, n)) {
                assert!((got - expected).abs() < 1e-12, "seed {seed}: {got} and not {expected}");
            }
            let sum: f64 = fast.iter().sum();
            assert!((sum - (tree.adds(&bins) - tree.base())).abs() < 1e-12, "seed {seed}");
        }
    }

    #[test]
    fn deep_ways_through_many_features_still_sum() {
        let n = 40;
        for seed in 0..5 {
            let mut rng = seeds::generator(seed, &[1]);
            let mut nodes = Vec::new();
            random_tree(n as u16, 15, &mut rng, &mut nodes);
            let tree = Tree::from_leaves(nodes, n).unwrap();
            let bins: Vec<u8> = (0..n).map(|_| rng.gen_range(0..=255)).collect();
            let mut moved = vec![0.0; n];
            add_tree(&tree, &bins, &mut moved);
            let sum: f64 = moved.iter().sum();
            assert!((sum - (tree.adds(&bins) - tree.base())).abs() < 1e-11, "seed {seed}: {sum}");
        }
    }
}
