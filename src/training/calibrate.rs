//! Scores to probabilities and to sets of plausible looks, each on scenes of its own.

use rand::Rng;

use super::folds;
use crate::finding::Look;
use crate::finding::calibration::Calibration;
use crate::finding::conformal::ConformalSets;
use crate::maths::softmax::{self, Case};
use crate::maths::{conformal, scoring, seeds};

/// Says in the seed's purpose that a shaft is drawn from a scene.
const PURPOSE: u64 = 0x636f_6e66;

/// Scenes' folds in the choice among calibrations.
const N_FOLDS: usize = 5;

/// Pull of the parameters towards "leave the scores as they are", in mean log loss a squared unit. Weak: it decides
/// only where cases do not, such as a look that never occurs.
const RIDGE: f64 = 1e-3;

/// A shape with more parameters must lower the log loss of left-out scenes by this share of it: what is less is
/// within the chance of which scenes were drawn, and the plainer shape will travel better.
const WORTH_MORE_PARAMETERS: f64 = 0.01;

/// A shape that the calibration may have; see [`Calibration`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// One slope for all.
    Temperature,
    /// A slope and an offset for each look.
    Vector,
    /// A slope of each look for each look, and offsets.
    Matrix,
}

impl Shape {
    /// From the plainest to the richest.
    pub const ALL: [Shape; 3] = [Shape::Temperature, Shape::Vector, Shape::Matrix];

    /// The parameters of "leave the scores as they are".
    fn start(self) -> Vec<f64> {
        let n = Look::COUNT;
        match self {
            Shape::Temperature => vec![1.0],
            Shape::Vector => [vec![1.0; n], vec![0.0; n]].concat(),
            Shape::Matrix => {
                let identity = (0..n * n).map(|i| f64::from(u8::from(i / n == i % n)));
                identity.chain(vec![0.0; n]).collect()
            }
        }
    }

    /// How much each parameter adds to each look.
    fn design(self, scores: &[f64; Look::COUNT]) -> Vec<[f64; Look::COUNT]> {
        let n = Look::COUNT;
        let only = |look: usize, value: f64| {
            let mut row = [0.0; Look::COUNT];
            row[look] = value;
            row
        };
        let offsets = (0..n).map(|look| only(look, 1.0));
        match self {
            Shape::Temperature => vec![*scores],
            Shape::Vector => (0..n).map(|look| only(look, scores[look])).chain(offsets).collect(),
            Shape::Matrix => (0..n * n).map(|i| only(i / n, scores[i % n])).chain(offsets).collect(),
        }
    }

    fn calibration(self, parameters: &[f64]) -> Calibration {
        let n = Look::COUNT;
        let mut calibration = Calibration { weight: [[0.0; Look::COUNT]; Look::COUNT], offset: [0.0; Look::COUNT] };
        for look in 0..n {
            match self {
                Shape::Temperature => calibration.weight[look][look] = parameters[0],
                Shape::Vector => {
                    calibration.weight[look][look] = parameters[look];
                    calibration.offset[look] = parameters[n + look];
                }
                Shape::Matrix => {
                    calibration.weight[look].copy_from_slice(&parameters[look * n..(look + 1) * n]);
                    calibration.offset[look] = parameters[n * n + look];
                }
            }
        }
        calibration
    }
}

/// A shaft with the scores that the trees gave it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scored {
    /// Its scene.
    pub scene: u64,
    /// What it is.
    pub look: Look,
    /// The trees' score for each look, in logits.
    pub scores: [f64; Look::COUNT],
}

/// The calibration that suits `shafts`, which the trees never saw, and the shape chosen for it.
///
/// The shape is chosen by log loss on scenes left out in turn; then it is fitted to all.
pub fn calibrated(shafts: &[Scored], seed: u64) -> (Shape, Calibration) {
    let scenes: Vec<u64> = shafts.iter().map(|shaft| shaft.scene).collect();
    let fold = folds::folds(&scenes, N_FOLDS, seed);
    let mut chosen = (Shape::Temperature, f64::INFINITY);
    for shape in Shape::ALL {
        let loss = left_out_loss(shape, shafts, &fold);
        if loss < chosen.1 * (1.0 - WORTH_MORE_PARAMETERS) {
            chosen = (shape, loss);
        }
    }
    (chosen.0, fitted(chosen.0, shafts.iter()))
}

fn left_out_loss(shape: Shape, shafts: &[Scored], fold: &[usize]) -> f64 {
    let mut probability = Vec::new();
    let mut class = Vec::new();
    for out in 0..N_FOLDS {
        let rest = shafts.iter().zip(fold).filter(|(_, f)| **f != out).map(|(shaft, _)| shaft);
        let calibration = fitted(shape, rest);
        for (shaft, _) in shafts.iter().zip(fold).filter(|(_, f)| **f == out) {
            probability.push(calibration.probability(&shaft.scores));
            class.push(shaft.look as usize);
        }
    }
    scoring::log_loss(&probability, &class).unwrap_or(f64::MAX)
}

fn fitted<'a>(shape: Shape, shafts: impl Iterator<Item = &'a Scored>) -> Calibration {
    let case = |shaft: &Scored| Case { design: shape.design(&shaft.scores), class: shaft.look as usize };
    let cases: Vec<Case<{ Look::COUNT }>> = shafts.map(case).collect();
    shape.calibration(&softmax::fit(&cases, &shape.start(), RIDGE))
}

/// The bounds of the sets of plausible looks from `shafts` with calibrated probabilities; see `finding::conformal`.
///
/// One shaft a scene and look is drawn by the seed. `shafts` must be in an order of their own, not that of chance.
pub fn conformal_sets(shafts: &[(u64, Look, [f64; Look::COUNT])], level: f64, seed: u64) -> ConformalSets {
    let mut sets = ConformalSets { level, scenes: [0; Look::COUNT], largest: [None; Look::COUNT] };
    for look in Look::ALL {
        let i = look as usize;
        let mut of_look: Vec<(u64, f64)> =
            shafts.iter().filter(|shaft| shaft.1 == look).map(|shaft| (shaft.0, 1.0 - shaft.2[i])).collect();
        of_look.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let mut notes: Vec<f64> = of_look
            .chunk_by(|a, b| a.0 == b.0)
            .map(|scene| scene[seeds::generator(seed, &[PURPOSE, i as u64, scene[0].0]).gen_range(0..scene.len())].1)
            .collect();
        sets.scenes[i] = notes.len();
        sets.largest[i] = conformal::threshold(&mut notes, level);
    }
    sets
}

#[cfg(test)]
mod tests {
    use super::{Scored, Shape, calibrated, conformal_sets};
    use crate::finding::Look;
    use crate::maths::seeds;
    use crate::maths::softmax::softmax;
    use rand::Rng;

    /// Scores whose logits are `stretch` times those of the true probabilities.
    fn overconfident(n: u64, stretch: f64) -> Vec<Scored> {
        let mut rng = seeds::generator(4, &[]);
        (0..n)
            .map(|i| {
                let p = softmax([0; 4].map(|_| rng.gen_range(-1.0..1.0)));
                let mut at = rng.r#gen::<f64>();
                let mut look = 0;
                while look < 3 && at > p[look] {
                    at -= p[look];
                    look += 1;
                }
                let scores = p.map(|p: f64| stretch * p.ln());
                Scored { scene: i / 3, look: Look::ALL[look], scores }
            })
            .collect()
    }

    #[test]
    fn overconfidence_is_taken_back_by_the_plainest_shape() {
        // Scores were made with logits 2.5 times the logarithm of the true probabilities: slope 1 / 2.5 undoes it.
        let (shape, calibration) = calibrated(&overconfident(6000, 2.5), 1);
        assert_eq!(shape, Shape::Temperature);
        assert!((calibration.weight[0][0] - 0.4).abs() < 0.03, "{}", calibration.weight[0][0]);
    }

    #[test]
    fn a_look_that_is_favoured_wrongly_needs_an_offset() {
        let mut shafts = overconfident(6000, 1.0);
        for shaft in &mut shafts {
            shaft.scores[1] += 2.0;
        }
        let (shape, calibration) = calibrated(&shafts, 1);
        assert_ne!(shape, Shape::Temperature);
        let others = (calibration.offset[0] + calibration.offset[2] + calibration.offset[3]) / 3.0;
        assert!((calibration.offset[1] - others + 2.0).abs() < 0.4, "{:?}", calibration.offset);
    }

    #[test]
    fn sets_cover_new_scenes_although_shafts_of_a_scene_are_alike() {
        // Each scene has a difficulty of its own that all its shafts share: the unit is the scene. The mean coverage
        // over many calibrations must lie between the level and level + 1/(n + 1).
        let (level, n_scenes, trials) = (0.9, 60, 1500);
        let mut covered = 0.0;
        for trial in 0..trials {
            let mut rng = seeds::generator(trial, &[77]);
            let mut scene = |scene: u64| -> Vec<(u64, Look, [f64; 4])> {
                let ease: f64 = rng.r#gen();
                let n = rng.gen_range(1..6);
                (0..n)
                    .map(|_| {
                        let p = 0.8 * ease + 0.1 * rng.r#gen::<f64>();
                        (scene, Look::Infected, [p, 1.0 - p, 0.0, 0.0])
                    })
                    .collect()
            };
            let known: Vec<_> = (0..n_scenes).flat_map(&mut scene).collect();
            let sets = conformal_sets(&known, level, trial);
            assert_eq!(sets.scenes, [n_scenes as usize, 0, 0, 0]);
            let new = scene(1_000_000);
            let hits = new.iter().filter(|shaft| 1.0 - shaft.2[0] <= sets.largest[0].unwrap()).count();
            covered += hits as f64 / new.len() as f64;
        }
        let coverage = covered / trials as f64;
        let chance = 3.0 * (level * (1.0 - level) / trials as f64).sqrt();
        assert!(coverage > level - chance, "{coverage}");
        assert!(coverage < level + 1.0 / (n_scenes as f64 + 1.0) + chance, "{coverage}");
    }
}
