//! Two models on the same shafts: what each is worth, and the difference with its interval.

use rayon::prelude::*;

use super::appraisal::{Estimate, Judged, N_RESAMPLES, judged};
use super::folds::folds;
use super::grow::{GrowError, GrowSettings, grow};
use super::table::LabelledRow;
use crate::finding::{Look, ModelError, model_from_bytes};
use crate::maths::{resampling, scoring, seeds};

/// Parts into which confirmed animals are dealt, each left out once.
pub const N_FOLDS: usize = 5;

/// One figure of two models on the same shafts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compared {
    /// What is compared.
    pub figure: &'static str,
    /// Whether less of it is better.
    pub less_is_better: bool,
    /// Of the model before; `None` where there is nothing to take it from.
    pub before: Option<f64>,
    /// Of the model grown anew.
    pub anew: Option<f64>,
    /// Anew less before, its interval by resampling scenes (animals) of both together.
    pub difference: Estimate,
}

/// What can be said of a difference.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// Better, beyond the interval.
    Better,
    /// Worse, beyond the interval.
    Worse,
    /// No difference can be told.
    Untold,
}

impl Compared {
    /// What its interval says.
    pub fn change(&self) -> Change {
        let Some(interval) = self.difference.interval else { return Change::Untold };
        let (gain, loss) = if self.less_is_better {
            (interval.high < 0.0, interval.low > 0.0)
        } else {
            (interval.low > 0.0, interval.high < 0.0)
        };
        match (gain, loss) {
            (true, _) => Change::Better,
            (_, true) => Change::Worse,
            _ => Change::Untold,
        }
    }
}

/// The figure that decides: it takes every probability in, and cannot be bettered by saying less.
pub const DECIDING: &str = "log loss, nats";

/// Compares judgements of the same shafts, in the same order; the first figure is [`DECIDING`].
pub fn compared(before: &[Judged], anew: &[Judged], seed: u64) -> Vec<Compared> {
    type Value = fn(&Judged) -> Option<f64>;
    /// A figure of shafts that count so often each.
    type Statistic<'a> = &'a dyn Fn(&[Judged], &[f64]) -> Option<f64>;
    let means: [(&'static str, bool, Value); 4] = [
        (DECIDING, true, |s| scoring::log_loss(&[s.probability], &[s.truth as usize])),
        ("share of shafts judged", false, |s| Some(f64::from(u8::from(s.called.is_some())))),
        ("of shafts judged, share rightly", false, |s| s.called.map(|called| f64::from(u8::from(called == s.truth)))),
        ("share of shafts rightly judged, cannot say counting as wrong", false, |s| {
            Some(f64::from(u8::from(s.called == Some(s.truth))))
        }),
    ];
    let (group, n_groups) = grouped(before);
    let estimate = |statistic: Statistic| {
        let every = vec![1.0; before.len()];
        let difference = |weight: &[f64]| Some(statistic(anew, weight)? - statistic(before, weight)?);
        let interval = resampling::interval(&group, n_groups, seeds::mixed(seed), N_RESAMPLES, difference);
        let difference = Estimate { value: difference(&every), interval };
        (statistic(before, &every), statistic(anew, &every), difference)
    };
    let mut all: Vec<Compared> = means
        .iter()
        .map(|&(figure, less_is_better, value)| {
            let (before, anew, difference) = estimate(&|shafts, weight| weighted_mean(shafts, weight, value));
            Compared { figure, less_is_better, before, anew, difference }
        })
        .collect();
    let (before, anew, difference) = estimate(&|shafts, weight| {
        let score: Vec<f64> = shafts.iter().map(|s| s.probability[Look::Infected as usize]).collect();
        let truth: Vec<bool> = shafts.iter().map(|s| s.truth == Look::Infected).collect();
        scoring::auroc(&score, &truth, weight)
    });
    all.push(Compared { figure: "AUROC, infected against the rest", less_is_better: false, before, anew, difference });
    all
}

/// Scenes (animals) without an infected shaft in which some shaft is called infected, and scenes without one.
pub fn wrongly_infected(shafts: &[Judged]) -> (usize, usize) {
    let mut sorted: Vec<&Judged> = shafts.iter().collect();
    sorted.sort_by_key(|shaft| shaft.scene);
    let healthy = sorted
        .chunk_by(|a, b| a.scene == b.scene)
        .filter(|scene| scene.iter().all(|shaft| shaft.truth != Look::Infected))
        .map(|scene| usize::from(scene.iter().any(|shaft| shaft.called == Some(Look::Infected))));
    healthy.fold((0, 0), |(hits, n), hit| (hits + hit, n + 1))
}

/// Judgements of `own` rows, each by a model grown on `others` and on the rows of other scenes of `own`; in the order
/// of `own`. Scenes (animals) are left out whole, [`N_FOLDS`] parts in turn. `told` hears how many parts are done.
///
/// # Errors
/// When what is left is not enough to grow on.
pub fn left_out(
    own: &[LabelledRow],
    others: &[LabelledRow],
    seed: u64,
    settings: &GrowSettings,
    mut told: impl FnMut(usize),
) -> Result<Vec<Judged>, ComparisonError> {
    let scenes: Vec<u64> = own.iter().map(|row| row.scene).collect();
    let fold = folds(&scenes, N_FOLDS, seed);
    let mut all: Vec<Option<Judged>> = vec![None; own.len()];
    for out in 0..N_FOLDS {
        let of = |wanted: bool| own.iter().zip(&fold).filter(move |(_, f)| (**f == out) == wanted).map(|(row, _)| row);
        let held: Vec<LabelledRow> = of(true).cloned().collect();
        if !held.is_empty() {
            let rows: Vec<LabelledRow> = others.iter().chain(of(false)).cloned().collect();
            let bytes = grow(&rows, seed, settings)?.to_bytes()?;
            let model = model_from_bytes(&bytes)?;
            let places = fold.iter().enumerate().filter(|(_, f)| **f == out).map(|(place, _)| place);
            for (place, judged) in places.zip(judged(&model, &held)) {
                all[place] = Some(judged);
            }
        }
        told(out + 1);
    }
    Ok(all.into_iter().flatten().collect())
}

/// Why models cannot be compared.
#[derive(Debug, thiserror::Error)]
pub enum ComparisonError {
    /// Nothing can be grown.
    #[error(transparent)]
    Grow(#[from] GrowError),
    /// What was grown cannot be written.
    #[error("the model cannot be written: {0}")]
    Write(#[from] serde_json::Error),
    /// What was grown cannot be read again.
    #[error(transparent)]
    Model(#[from] ModelError),
}

/// Judgements of rows by a model file, in parallel.
///
/// # Errors
/// When the file cannot be used.
pub fn judged_by(bytes: &[u8], rows: &[LabelledRow]) -> Result<Vec<Judged>, ModelError> {
    Ok(judged(&model_from_bytes(bytes)?, rows))
}

fn grouped(shafts: &[Judged]) -> (Vec<usize>, usize) {
    let mut scenes: Vec<u64> = shafts.iter().map(|shaft| shaft.scene).collect();
    scenes.par_sort_unstable();
    scenes.dedup();
    let group = shafts.iter().map(|shaft| scenes.binary_search(&shaft.scene).unwrap_or_default()).collect();
    (group, scenes.len())
}

fn weighted_mean(shafts: &[Judged], weight: &[f64], value: fn(&Judged) -> Option<f64>) -> Option<f64> {
    let (mut sum, mut all) = (0.0, 0.0);
    for (value, weight) in shafts.iter().map(value).zip(weight) {
        if let Some(value) = value {
            sum += value * weight;
            all += weight;
        }
    }
    (all > 0.0).then(|| sum / all)
}

#[cfg(test)]
mod tests {
    use super::{Change, DECIDING, compared, wrongly_infected};
    use crate::finding::Look;
    use crate::finding::slide::GlowPlace;
    use crate::training::Judged;

    fn shaft(scene: u64, truth: Look, called: Option<Look>, p_of_truth: f64) -> Judged {
        let mut probability = [(1.0 - p_of_truth) / 3.0; 4];
        probability[truth as usize] = p_of_truth;
        let plausible = called.into_iter().collect();
        let glow = GlowPlace::Elsewhere;
        Judged { scene, kind: "k".into(), truth, called, probability, plausible, novelty: 0.5, glow }
    }

    fn shafts(p: impl Fn(u64) -> f64) -> Vec<Judged> {
        let one = |i: u64| {
            let truth = if i.is_multiple_of(2) { Look::Infected } else { Look::Normal };
            shaft(i / 2, truth, (p(i) > 0.5).then_some(truth), p(i))
        };
        (0..40).map(one).collect()
    }

    #[test]
    fn what_is_better_everywhere_is_better_and_what_is_the_same_is_not() {
        let (poor, good) = (shafts(|i| 0.3 + 0.01 * (i % 7) as f64), shafts(|i| 0.8 + 0.01 * (i % 5) as f64));
        let better = compared(&poor, &good, 1);
        assert_eq!(better[0].figure, DECIDING);
        assert_eq!(better[0].change(), Change::Better);
        assert_eq!(compared(&good, &poor, 1)[0].change(), Change::Worse);
        let same = compared(&poor, &poor, 1);
        assert!(same.iter().all(|figure| figure.change() == Change::Untold), "{same:?}");
        assert_eq!(same[0].difference.value, Some(0.0));
    }

    #[test]
    fn figures_by_hand() {
        let before = [shaft(1, Look::Infected, Some(Look::Infected), 0.5), shaft(2, Look::Normal, None, 0.5)];
        let anew = [shaft(1, Look::Infected, None, 0.25), shaft(2, Look::Normal, Some(Look::Infected), 0.5)];
        let figures = compared(&before, &anew, 1);
        assert!((figures[0].before.unwrap() - 2f64.ln()).abs() < 1e-12);
        assert!((figures[0].difference.value.unwrap() - 0.5 * 2f64.ln()).abs() < 1e-12);
        assert_eq!((figures[1].before, figures[1].anew), (Some(0.5), Some(0.5)));
        assert_eq!((figures[2].before, figures[2].anew), (Some(1.0), Some(0.0)));
        assert_eq!((figures[3].before, figures[3].anew), (Some(0.5), Some(0.0)));
        assert_eq!((wrongly_infected(&before), wrongly_infected(&anew)), ((0, 1), (1, 1)));
    }
}
