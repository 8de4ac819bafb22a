//! What a model is worth on labelled shafts it never saw, with intervals by resampling scenes.

use rayon::prelude::*;

use super::table::LabelledRow;
use crate::features::Row;
use crate::finding::abstention::decided;
use crate::finding::slide::{self, GlowPlace, SlideCode, SlideShaft};
use crate::finding::{Look, Model, Verdict, slide_shaft};
use crate::maths::agreement::Confusion;
use crate::maths::proportion::{Interval, Z_95, wilson};
use crate::maths::scoring::{self, CalibrationBin};
use crate::maths::{resampling, seeds};

/// Resamples behind every interval: the ends of a 95 % interval then rest on 25 resamples each.
pub const N_RESAMPLES: usize = 1000;

/// Bins of the calibration curve and of its error, of equal width.
const N_BINS: usize = 10;

/// The column of "cannot say" in [`Appraisal::calls`].
pub const UNSAID: usize = Look::COUNT;

/// A shaft of which both the truth and the judgement are known.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// Its scene, the unit resampled.
    pub scene: u64,
    /// The kind of shaft within its look.
    pub kind: String,
    /// What it is.
    pub truth: Look,
    /// What it was called; `None`: cannot say.
    pub called: Option<Look>,
    /// The probability of each look.
    pub probability: [f64; Look::COUNT],
    /// The looks that could not be ruled out.
    pub plausible: Vec<Look>,
    /// Its novelty.
    pub novelty: f64,
    /// Where it fluoresces; [`GlowPlace::Elsewhere`] where that was not measured.
    pub glow: GlowPlace,
}

impl Judged {
    /// The verdict on a shaft of which the truth is known.
    pub fn new(scene: u64, kind: &str, truth: Look, row: &Row, verdict: &Verdict) -> Judged {
        Judged {
            scene,
            kind: kind.to_string(),
            truth,
            called: verdict.look,
            probability: verdict.probability,
            plausible: verdict.plausible.clone(),
            novelty: verdict.novelty,
            glow: slide_shaft(row, verdict).glow,
        }
    }
}

/// A number with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The number; `None` where there was nothing to take it from.
    pub value: Option<f64>,
    /// Its interval; `None` where resamples did not give one.
    pub interval: Option<Interval>,
}

/// How well one look's probability and plausibility hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LookScore {
    /// Shafts with this look.
    pub shafts: usize,
    /// Share of them to which it was plausible, as in [`Appraisal::coverage`].
    pub coverage: Estimate,
    /// Expected calibration error of its probability on all shafts, 10 bins.
    pub calibration_error: Estimate,
    /// Brier score of its probability on all shafts.
    pub brier: Estimate,
}

/// How shafts of one kind were called.
#[derive(Clone, Debug, PartialEq)]
pub struct KindScore {
    /// What the shafts are.
    pub truth: Look,
    /// The kind.
    pub kind: String,
    /// Scenes with such shafts.
    pub scenes: usize,
    /// Shafts called each look, in the order of [`Look::ALL`], and at [`UNSAID`] those not judged.
    pub calls: [usize; Look::COUNT + 1],
    /// Share called infected.
    pub called_infected: Estimate,
    /// Share not judged.
    pub unsaid: Estimate,
    /// Share whose true look was plausible.
    pub covered: Estimate,
}

/// What a model is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Appraisal {
    /// Scenes.
    pub scenes: usize,
    /// Shafts.
    pub shafts: usize,
    /// Shafts by truth (first index) and call (second; [`UNSAID`] for "cannot say").
    pub calls: [[usize; Look::COUNT + 1]; Look::COUNT],
    /// Mean over looks of F1, 0 to 1, where "cannot say" counts as missed.
    pub macro_f1: Estimate,
    /// The same among judged shafts only.
    pub macro_f1_of_judged: Estimate,
    /// Share of shafts judged.
    pub judged: Estimate,
    /// Area under the curve of the probability of infected against all other looks.
    pub auroc_infected: Estimate,
    /// Expected calibration error of the most probable look's probability, 10 bins.
    pub calibration_error: Estimate,
    /// Expected calibration error of the probability of infected, 10 bins.
    pub calibration_error_infected: Estimate,
    /// Look by look.
    pub looks: [LookScore; Look::COUNT],
    /// Said and seen share of infected, bin by bin.
    pub calibration_curve_infected: Vec<CalibrationBin>,
    /// Mean −ln of the true look's probability.
    pub log_loss: Estimate,
    /// Brier score of the probability of infected.
    pub brier_infected: Estimate,
    /// Share of shafts whose true look was plausible: mean over scenes of the share within the scene, look by look
    /// (this is what the sets promise) in the order of [`Look::ALL`].
    pub coverage: [Estimate; Look::COUNT],
    /// Mean number of plausible looks.
    pub set_size: Estimate,
    /// Scenes without an infected shaft.
    pub healthy_scenes: usize,
    /// Of those, the share in which some shaft was called infected; Wilson's interval.
    pub healthy_with_infected_shaft: Estimate,
    /// Of those, the share whose finding says that shafts look infected; Wilson's interval.
    pub healthy_found_infected: Estimate,
    /// Kind by kind.
    pub kinds: Vec<KindScore>,
}

/// Judges labelled rows whose values stand in the order of the columns that the model was checked against.
pub fn judged(model: &Model, rows: &[LabelledRow]) -> Vec<Judged> {
    rows.par_iter()
        .map(|row| {
            let assessment = model.assess(&model.values(&row.values));
            let called = decided(&assessment.probability, &assessment.plausible, assessment.novelty, false);
            Judged {
                scene: row.scene,
                kind: row.kind.clone(),
                truth: row.look,
                called,
                probability: assessment.probability,
                plausible: assessment.plausible,
                novelty: assessment.novelty,
                glow: GlowPlace::Elsewhere,
            }
        })
        .collect()
}

/// Appraises judgements; the same ones in the same order and the same seed give the same appraisal.
pub fn appraise_looks(shafts: &[Judged], seed: u64) -> Appraisal {
    let groups = Groups::of(shafts, seed);
    let infected = |shaft: &Judged| shaft.truth == Look::Infected;
    let p_infected: Vec<f64> = shafts.iter().map(|shaft| shaft.probability[Look::Infected as usize]).collect();
    let is_infected: Vec<bool> = shafts.iter().map(infected).collect();
    let mut order: Vec<usize> = (0..shafts.len()).collect();
    order.sort_by(|&a, &b| p_infected[a].total_cmp(&p_infected[b]));
    let top: Vec<usize> = shafts.iter().map(|shaft| most_probable(&shaft.probability)).collect();
    let p_top: Vec<f64> = shafts.iter().zip(&top).map(|(shaft, &look)| shaft.probability[look]).collect();
    let top_is_right: Vec<bool> = shafts.iter().zip(&top).map(|(shaft, &look)| shaft.truth as usize == look).collect();
    let loss: Vec<f64> = shafts
        .iter()
        .map(|shaft| scoring::log_loss(&[shaft.probability], &[shaft.truth as usize]).unwrap_or_default())
        .collect();
    let every_shaft = vec![true; shafts.len()];
    let share = |of: &[bool], what: &dyn Fn(&Judged) -> f64| {
        let values: Vec<f64> = shafts.iter().map(what).collect();
        groups.estimate(|weight| weighted_mean(&values, of, weight))
    };
    let mean = |values: &[f64]| groups.estimate(|weight| weighted_mean(values, &every_shaft, weight));
    let (healthy_scenes, with_shaft, found) = healthy(shafts);
    let looks = Look::ALL.map(|look| look_score(look, shafts, &groups));
    Appraisal {
        scenes: groups.n_groups,
        shafts: shafts.len(),
        calls: calls(shafts),
        macro_f1: groups.estimate(|weight| macro_f1(shafts, weight, false)),
        macro_f1_of_judged: groups.estimate(|weight| macro_f1(shafts, weight, true)),
        judged: share(&every_shaft, &|shaft| number(shaft.called.is_some())),
        auroc_infected: groups.estimate(|weight| scoring::auroc_in_order(&order, &p_infected, &is_infected, weight)),
        calibration_error: groups
            .estimate(|weight| scoring::expected_calibration_error(&p_top, &top_is_right, weight, N_BINS)),
        calibration_error_infected: looks[Look::Infected as usize].calibration_error,
        calibration_curve_infected: scoring::calibration_curve(
            &p_infected,
            &is_infected,
            &vec![1.0; shafts.len()],
            N_BINS,
        ),
        log_loss: mean(&loss),
        brier_infected: looks[Look::Infected as usize].brier,
        coverage: looks.map(|score| score.coverage),
        looks,
        set_size: share(&every_shaft, &|shaft| shaft.plausible.len() as f64),
        healthy_scenes,
        healthy_with_infected_shaft: proportion(with_shaft, healthy_scenes),
        healthy_found_infected: proportion(found, healthy_scenes),
        kinds: kinds(shafts, &groups),
    }
}

fn look_score(look: Look, shafts: &[Judged], groups: &Groups) -> LookScore {
    let p: Vec<f64> = shafts.iter().map(|shaft| shaft.probability[look as usize]).collect();
    let (is_so, per_scene) = one_a_scene(shafts, groups, look);
    let squares: Vec<f64> = p.iter().zip(&is_so).map(|(p, &y)| (p - number(y)).powi(2)).collect();
    let covered: Vec<f64> = shafts.iter().map(|shaft| number(shaft.plausible.contains(&look))).collect();
    LookScore {
        shafts: is_so.iter().filter(|so| **so).count(),
        coverage: groups.estimate(|weight| {
            let weight: Vec<f64> = weight.iter().zip(&per_scene).map(|(w, s)| w * s).collect();
            weighted_mean(&covered, &is_so, &weight)
        }),
        calibration_error: groups.estimate(|weight| scoring::expected_calibration_error(&p, &is_so, weight, N_BINS)),
        brier: groups.estimate(|weight| weighted_mean(&squares, &vec![true; shafts.len()], weight)),
    }
}

/// Cases and the scenes they belong to, numbered from 0.
struct Groups {
    group: Vec<usize>,
    n_groups: usize,
    seed: u64,
}

impl Groups {
    fn of(shafts: &[Judged], seed: u64) -> Groups {
        let mut scenes: Vec<u64> = shafts.iter().map(|shaft| shaft.scene).collect();
        scenes.sort_unstable();
        scenes.dedup();
        let group = shafts.iter().map(|shaft| scenes.binary_search(&shaft.scene).unwrap_or_default()).collect();
        Groups { group, n_groups: scenes.len(), seed: seeds::mixed(seed) }
    }

    /// The statistic of all cases and its interval; all estimates use the same resamples.
    fn estimate(&self, statistic: impl Fn(&[f64]) -> Option<f64>) -> Estimate {
        Estimate {
            value: statistic(&vec![1.0; self.group.len()]),
            interval: resampling::interval(&self.group, self.n_groups, self.seed, N_RESAMPLES, &statistic),
        }
    }
}

fn number(yes: bool) -> f64 {
    f64::from(u8::from(yes))
}

fn most_probable(p: &[f64; Look::COUNT]) -> usize {
    (0..Look::COUNT).fold(0, |best, i| if p[i] > p[best] { i } else { best })
}

fn proportion(hits: usize, n: usize) -> Estimate {
    Estimate { value: (n > 0).then(|| hits as f64 / n as f64), interval: wilson(hits, n, Z_95) }
}

fn weighted_mean(values: &[f64], of: &[bool], weight: &[f64]) -> Option<f64> {
    let (mut sum, mut all) = (0.0, 0.0);
    for ((value, _), weight) in values.iter().zip(of).zip(weight).filter(|((_, of), _)| **of) {
        sum += value * weight;
        all += weight;
    }
    (all > 0.0).then(|| sum / all)
}

/// Mean F1 over the looks that occur; `None` when none does.
fn macro_f1(shafts: &[Judged], weight: &[f64], judged_only: bool) -> Option<f64> {
    let mut table = Confusion::new(Look::COUNT + 1);
    for (shaft, &weight) in shafts.iter().zip(weight) {
        if shaft.called.is_some() || !judged_only {
            table.add(shaft.truth as usize, shaft.called.map_or(UNSAID, |look| look as usize), weight);
        }
    }
    let occurs = |look: &usize| table.score(*look).recall.is_some();
    let scores: Vec<f64> = (0..Look::COUNT).filter(occurs).filter_map(|look| table.score(look).f1).collect();
    (!scores.is_empty()).then(|| scores.iter().sum::<f64>() / scores.len() as f64)
}

fn calls(shafts: &[Judged]) -> [[usize; Look::COUNT + 1]; Look::COUNT] {
    let mut calls = [[0; Look::COUNT + 1]; Look::COUNT];
    for shaft in shafts {
        calls[shaft.truth as usize][shaft.called.map_or(UNSAID, |look| look as usize)] += 1;
    }
    calls
}

/// Which shafts have a look, and one over their number within their scene.
fn one_a_scene(shafts: &[Judged], groups: &Groups, look: Look) -> (Vec<bool>, Vec<f64>) {
    let of_look: Vec<bool> = shafts.iter().map(|shaft| shaft.truth == look).collect();
    let mut count = vec![0.0; groups.n_groups];
    groups.group.iter().zip(&of_look).filter(|(_, of)| **of).for_each(|(&group, _)| count[group] += 1.0);
    let per_scene = groups.group.iter().map(|&group| if count[group] > 0.0 { 1.0 / count[group] } else { 0.0 });
    (of_look, per_scene.collect())
}

/// Healthy scenes; those with a shaft called infected; those whose finding says that shafts look infected.
fn healthy(shafts: &[Judged]) -> (usize, usize, usize) {
    let mut sorted: Vec<&Judged> = shafts.iter().collect();
    sorted.sort_by_key(|shaft| shaft.scene);
    let (mut scenes, mut with_shaft, mut found) = (0, 0, 0);
    for scene in sorted.chunk_by(|a, b| a.scene == b.scene) {
        if scene.iter().any(|shaft| shaft.truth == Look::Infected) {
            continue;
        }
        scenes += 1;
        with_shaft += usize::from(scene.iter().any(|shaft| shaft.called == Some(Look::Infected)));
        // Neither who leans to infected nor comparison shafts make a finding say that shafts look infected.
        let of_slide: Vec<SlideShaft> = scene
            .iter()
            .map(|s| SlideShaft { look: s.called, leans_infected: false, glow: s.glow, comparison: false })
            .collect();
        let code = slide::code(&of_slide, true);
        found += usize::from(matches!(code, SlideCode::LooksInfectedMany | SlideCode::LooksInfectedFew));
    }
    (scenes, with_shaft, found)
}

fn kinds(shafts: &[Judged], groups: &Groups) -> Vec<KindScore> {
    let mut names: Vec<(Look, &str)> = shafts.iter().map(|shaft| (shaft.truth, shaft.kind.as_str())).collect();
    names.sort_unstable();
    names.dedup();
    let score = |&(truth, kind): &(Look, &str)| {
        let of_kind: Vec<bool> = shafts.iter().map(|shaft| shaft.truth == truth && shaft.kind == kind).collect();
        let share = |what: &dyn Fn(&Judged) -> bool| {
            let values: Vec<f64> = shafts.iter().map(|shaft| number(what(shaft))).collect();
            groups.estimate(|weight| weighted_mean(&values, &of_kind, weight))
        };
        let mut calls = [0; Look::COUNT + 1];
        let mut scenes: Vec<u64> = Vec::new();
        for (shaft, _) in shafts.iter().zip(&of_kind).filter(|(_, of)| **of) {
            calls[shaft.called.map_or(UNSAID, |look| look as usize)] += 1;
            scenes.push(shaft.scene);
        }
        scenes.sort_unstable();
        scenes.dedup();
        KindScore {
            truth,
            kind: kind.to_string(),
            scenes: scenes.len(),
            calls,
            called_infected: share(&|shaft| shaft.called == Some(Look::Infected)),
            unsaid: share(&|shaft| shaft.called.is_none()),
            covered: share(&|shaft| shaft.plausible.contains(&truth)),
        }
    };
    names.iter().map(score).collect()
}

#[cfg(test)]
mod tests {
    use super::{GlowPlace, Judged, Look, UNSAID, appraise_looks};

    fn shaft(scene: u64, truth: Look, called: Option<Look>, p_infected: f64) -> Judged {
        let rest = (1.0 - p_infected) / 3.0;
        Judged {
            scene,
            kind: "k".into(),
            truth,
            called,
            probability: [p_infected, rest, rest, rest],
            plausible: called.into_iter().collect(),
            novelty: 0.5,
            glow: GlowPlace::Elsewhere,
        }
    }

    #[test]
    fn figures_of_a_small_case_by_hand() {
        use Look::{Infected, Normal};
        let shafts = [
            shaft(1, Infected, Some(Infected), 0.9),
            shaft(1, Infected, None, 0.4),
            shaft(2, Normal, Some(Normal), 0.1),
            shaft(2, Normal, Some(Infected), 0.7),
            shaft(3, Normal, Some(Normal), 0.1),
        ];
        let got = appraise_looks(&shafts, 1);
        assert_eq!((got.scenes, got.shafts, got.healthy_scenes), (3, 5, 2));
        assert_eq!(got.calls[Infected as usize], [1, 0, 0, 0, 1]);
        assert_eq!(got.calls[Normal as usize][UNSAID], 0);
        // Infected: 1 right, 1 missed, 1 false: F1 = 2/4. Normal: 2 right, 1 missed: F1 = 4/5.
        assert!((got.macro_f1.value.unwrap() - 0.65).abs() < 1e-12);
        // Judged only: infected 2/3, normal 4/5.
        assert!((got.macro_f1_of_judged.value.unwrap() - (2.0 / 3.0 + 0.8) / 2.0).abs() < 1e-12);
        // Of 6 pairs, 0.4 against 0.7 is the wrong one.
        assert!((got.auroc_infected.value.unwrap() - 5.0 / 6.0).abs() < 1e-12);
        assert_eq!(got.judged.value, Some(0.8));
        // Scene 2 covers one of two, scene 3 one of one: the mean over scenes.
        assert_eq!(got.coverage[Normal as usize].value, Some(0.75));
        assert_eq!(got.healthy_with_infected_shaft.value, Some(0.5));
        assert_eq!(got.healthy_found_infected.value, Some(0.5), "one of two hairs judged");
        assert_eq!(got.kinds.len(), 2);
        assert_eq!(got.kinds[1].called_infected.value, Some(1.0 / 3.0));
        let interval = got.judged.interval.unwrap();
        assert!(interval.low < 0.8 && interval.high == 1.0);
    }

    #[test]
    fn nothing_gives_nothing() {
        let got = appraise_looks(&[], 1);
        assert_eq!(got.macro_f1.value, None);
        assert_eq!(got.healthy_with_infected_shaft.interval, None);
        assert!(got.kinds.is_empty());
    }
}
