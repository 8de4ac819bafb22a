//! The looks that cannot be ruled out: class-conditional conformal sets with the scene as unit.
//!
//! For each look, training takes one shaft (drawn by the seed) from every scene, kept for this alone, that holds the
//! look, and notes 1 − the probability that the shaft's true look got. Scenes are exchangeable, shafts of one scene
//! are not: one shaft a scene makes the notes exchangeable. A look belongs to the set of a new shaft when 1 − its
//! probability is not above the ceil((n + 1) · level)-th smallest note (`maths::conformal`). A shaft drawn from a new
//! scene of the same kind then has its true look in its set with a probability of at least the level, look by look.
//!
//! Weakness: notes are taken on scores by trees grown without the scene, and the trees that judge are grown on all
//! scenes. The promise is exact for the former; that the latter do no worse is measured, not proved.

use super::Look;

/// A look with at least this probability always belongs to the set.
///
/// Trees that tell the looks apart well make the notes tiny, and then the tenth of shafts with the largest notes
/// would have an empty set although their probability is high: 10 % of "cannot say" by construction. Adding a look
/// only widens a set, so the coverage promised still holds. Two looks cannot both have it.
pub const CERTAIN: f64 = 0.9;

/// The bounds of the sets.
#[derive(Clone, Debug, PartialEq)]
pub struct ConformalSets {
    /// The coverage asked for, 0 to 1.
    pub level: f64,
    /// Scenes behind each look's bound.
    pub scenes: [usize; Look::COUNT],
    /// The largest 1 − probability with which a look still belongs; `None` when there were too few scenes to rule
    /// it out ever.
    pub largest: [Option<f64>; Look::COUNT],
}

impl ConformalSets {
    /// The looks that cannot be ruled out, in the order of [`Look::ALL`].
    pub fn plausible(&self, probability: &[f64; Look::COUNT]) -> Vec<Look> {
        let belongs = |look: usize| self.largest[look].is_none_or(|largest| 1.0 - probability[look] <= largest);
        (0..Look::COUNT).filter(|&i| probability[i] >= CERTAIN || belongs(i)).map(|i| Look::ALL[i]).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::{ConformalSets, Look};

    #[test]
    fn a_look_with_too_few_scenes_is_never_ruled_out() {
        let sets =
            ConformalSets { level: 0.9, scenes: [50, 50, 50, 3], largest: [Some(0.4), Some(0.02), Some(0.5), None] };
        assert_eq!(sets.plausible(&[0.65, 0.3, 0.05, 0.0]), [Look::Infected, Look::Fibre]);
        assert_eq!(sets.plausible(&[0.05, 0.93, 0.02, 0.0]), [Look::Normal, Look::Fibre], "certain enough");
    }
}
