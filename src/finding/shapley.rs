//! How much each feature moved a tree's score: exact Shapley values along the tree's own branches.
//!
//! L. S. Shapley, "A value for n-person games", 1953, in the reading of S. M. Lundberg and S.-I. Lee, "A unified
//! approach to interpreting model predictions", 2017 (both from memory): a coalition of known features goes down the
//! tree where they send it, and at nodes that ask for an unknown feature it goes both ways in the share in which the
//! tree's own shafts did. The contributions of all features sum to the score less the tree's base score.
//!
//! Each leaf is a product game with a closed answer, so a tree costs its leaves times the square of its depth.

use super::ensemble::{Forest, Tree};

/// A feature on the way to a leaf.
#[derive(Clone, Copy, Debug)]
struct Step {
    feature: u16,
    /// Whether the shaft itself goes this way at all nodes that ask for the feature.
    taken: bool,
    /// Share of the tree's shafts that go this way at those nodes.
    share: f64,
}

/// How much each feature (first index) moved the score of each class (second): sums to score less base.
pub fn contributions<const N: usize>(forest: &Forest, bins: &[u8]) -> Vec<[f64; N]> {
    let mut moved = vec![[0.0; N]; bins.len()];
    let mut of_class = vec![0.0; bins.len()];
    for (class, trees) in forest.trees().iter().enumerate().take(N) {
        of_class.fill(0.0);
        for tree in trees {
            add_tree(tree, bins, &mut of_class);
        }
        for (row, sum) in moved.iter_mut().zip(&of_class) {
            row[class] = sum / trees.len() as f64;
        }
    }
    moved
}

/// Adds to `moved` how much each feature moved the score of one tree.
pub fn add_tree(tree: &Tree, bins: &[u8], moved: &mut [f64]) {
    descend(tree, 0, bins, &mut Vec::new(), moved, &mut Scratch::default());
}

#[derive(Default)]
struct Scratch {
    coefficients: Vec<f64>,
    quotient: Vec<f64>,
}

fn descend(tree: &Tree, at: usize, bins: &[u8], path: &mut Vec<Step>, moved: &mut [f64], scratch: &mut Scratch) {
    let node = tree.nodes()[at];
    if node.is_leaf() {
        add_leaf(tree.share(&node), path, moved, scratch);
        return;
    }
    let goes_left = node.goes_left(bins[usize::from(node.feature)]);
    for (child, taken) in [(at + 1, goes_left), (node.right as usize, !goes_left)] {
        let share = tree.nodes()[child].cover() / node.cover();
        // A feature asked twice is one player: both answers must fit.
        if let Some(known) = path.iter().position(|step| step.feature == node.feature) {
            let before = path[known];
            path[known].taken &= taken;
            path[known].share *= share;
            descend(tree, child, bins, path, moved, scratch);
            path[known] = before;
        } else {
            path.push(Step { feature: node.feature, taken, share });
            descend(tree, child, bins, path, moved, scratch);
            path.pop();
        }
    }
}

/// The game of one leaf: a coalition gets `value` times, for each member, 1 if it leads here and else 0, and for each
/// feature outside, its share.
///
/// Only members that lead here matter, so with the polynomial Π (share + y) over them, the coefficient of y^s sums the
/// games of all coalitions of s members; Shapley's weights are s! (m − s − 1)! / m! for m features.
fn add_leaf(value: f64, path: &[Step], moved: &mut [f64], scratch: &mut Scratch) {
    let m = path.len();
    let strangers: f64 = path.iter().filter(|step| !step.taken).map(|step| step.share).product();
    let coefficients = &mut scratch.coefficients;
    coefficients.clear();
    coefficients.push(1.0);
    for step in path.iter().filter(|step| step.taken) {
        coefficients.push(0.0);
        for s in (0..coefficients.len()).rev() {
            let lower = if s > 0 { coefficients[s - 1] } else { 0.0 };
            coefficients[s] = coefficients[s] * step.share + lower;
        }
    }
    let weighted = |coefficients: &[f64]| {
        let mut weight = 1.0 / m as f64;
        let mut sum = 0.0;
        for (s, coefficient) in coefficients.iter().enumerate() {
            sum += weight * coefficient;
            if s + 1 < m {
                weight *= (s + 1) as f64 / (m - s - 1) as f64;
            }
        }
        sum
    };
    if coefficients.len() <= m {
        // Joining a coalition with a feature that does not lead here takes away all it had; it is the same for all.
        let lost = value * strangers * weighted(coefficients);
        for step in path.iter().filter(|step| !step.taken) {
            moved[usize::from(step.feature)] -= lost;
        }
    }
    for step in path.iter().filter(|step| step.taken) {
        // The polynomial without this feature, divided from the top: the leading coefficient is 1.
        let quotient = &mut scratch.quotient;
        quotient.clear();
        quotient.resize(coefficients.len() - 1, 0.0);
        let mut carry = 0.0;
        for s in (0..quotient.len()).rev() {
            carry = coefficients[s + 1] - step.share * carry;
            quotient[s] = carry;
        }
        moved[usize::from(step.feature)] += value * (1.0 - step.share) * strangers * weighted(quotient);
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
            return tree.share(&node);
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

    fn random_tree(n_features: u16, depth: usize, rng: &mut impl Rng, nodes: &mut Vec<Node>) -> (u32, u32) {
        let at = nodes.len();
        nodes.push(Node::leaf(0, 0));
        if depth == 0 || rng.gen_bool(0.15) {
            nodes[at] = Node::leaf(rng.gen_range(0..9), rng.gen_range(1..9));
        } else {
            let (feature, below, absent_left) = (rng.gen_range(0..n_features), rng.gen_range(0..=255), rng.r#gen());
            let left = random_tree(n_features, depth - 1, rng, nodes);
            let right = random_tree(n_features, depth - 1, rng, nodes);
            let (inside, outside) = (left.0 + right.0, left.1 + right.1);
            nodes[at] = Node { feature, below, absent_left, right: 0, inside, outside };
        }
        (nodes[at].inside, nodes[at].outside)
    }

    #[test]
    fn equals_the_definition_and_sums_to_score_less_base() {
        let n = 6;
        for seed in 0..40 {
            let mut rng = seeds::generator(seed, &[]);
            let mut nodes = Vec::new();
            random_tree(n as u16, 7, &mut rng, &mut nodes);
            let tree = Tree::new(nodes, n).unwrap();
            let bins: Vec<u8> =
                (0..n).map(|_| if rng.gen_bool(0.2) { ABSENT } else { rng.gen_range(0..255) }).collect();
            let mut fast = vec![0.0; n];
            add_tree(&tree, &bins, &mut fast);
            for (got, expected) in fast.iter().zip(by_definition(&tree, &bins, n)) {
                assert!((got - expected).abs() < 1e-12, "seed {seed}: {got} and not {expected}");
            }
            let sum: f64 = fast.iter().sum();
            assert!((sum - (tree.score(&bins) - tree.base())).abs() < 1e-12, "seed {seed}");
        }
    }
}
