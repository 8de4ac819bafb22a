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

/// Below this probability an infected look never stands alone in a set: the next most probable look joins it.
///
/// A false "looks infected" isolates an animal for weeks. Chosen on tuning scenes (`tuning`, `-clear`, `-crossings` and
/// `-dim`, seeds 1201 to 1240) and half A of the fourth renderer (docs/accuracy.md): of 91 scenes without an infected
/// shaft 1 has an infected call instead of 3, and 141 of 192 infected shafts are called so instead of 144. Joining a
/// look only widens a set, so the coverage promised still holds.
pub const SURELY_INFECTED: f64 = 0.8;

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
        let mut inside: [bool; Look::COUNT] = std::array::from_fn(|i| probability[i] >= CERTAIN || belongs(i));
        let infected = Look::Infected as usize;
        let others = || (0..Look::COUNT).filter(|&i| i != infected);
        if inside[infected] && !others().any(|i| inside[i]) && probability[infected] < SURELY_INFECTED {
            let next = others().max_by(|&a, &b| probability[a].total_cmp(&probability[b]));
            next.into_iter().for_each(|next| inside[next] = true);
        }
        (0..Look::COUNT).filter(|&i| inside[i]).map(|i| Look::ALL[i]).collect()
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

    #[test]
    fn infected_stands_alone_only_when_it_is_probable_enough() {
        let sets =
            ConformalSets { level: 0.9, scenes: [50; 4], largest: [Some(0.6), Some(0.02), Some(0.5), Some(0.1)] };
        assert_eq!(sets.plausible(&[0.81, 0.1, 0.06, 0.03]), [Look::Infected]);
        assert_eq!(sets.plausible(&[0.79, 0.05, 0.12, 0.04]), [Look::Infected, Look::Coated], "the next joins");
        assert_eq!(sets.plausible(&[0.45, 0.02, 0.52, 0.01]), [Look::Infected, Look::Coated], "two already");
        assert_eq!(sets.plausible(&[0.3, 0.01, 0.6, 0.09]), [Look::Coated], "other looks stand alone as before");
    }
}
