//! A small fixed sample of simulated photos whose figures stand in a model's card, so that anybody can see in a minute
//! that model, program and card belong together.
//!
//! It tells nothing of what a model is worth: four photos a condition are far too few.

use rayon::prelude::*;

use super::appraisal::Judged;
use super::one_photo::appraised;
use super::scenes::SceneError;
use super::tracing::SceneScore;
use crate::finding::{Look, Model};
use crate::maths::scoring;
use crate::sim::Ranges;

/// Conditions that the targets name; cameras, hues, fungal peaks and scales are outside of those of growing.
pub const PRESETS: [&str; 5] =
    ["appraisal-clear", "appraisal-crossings", "appraisal-dim", "appraisal-empty", "appraisal"];

/// Photos of each: as many as can be drawn and measured in well under a minute.
const N_SCENES: u64 = 4;

/// First seed: of no scene that anything is grown, chosen or reported on.
const FIRST_SEED: u64 = 760_001;

/// The condition of a photo, and what was found and judged on it.
type OfPhoto = (usize, (SceneScore, Vec<Judged>));

/// What one condition's photos came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Checked {
    /// The condition.
    pub preset: &'static str,
    /// True shafts in view.
    pub n_shafts: usize,
    /// Traces.
    pub n_traces: usize,
    /// Shafts that one trace follows: called what they are, something else, nothing ("cannot say").
    pub rightly_wrongly_unsaid: [usize; 3],
    /// Mean −ln of the true look's probability; `None` without a shaft.
    pub log_loss: Option<f64>,
    /// Brier score of the probability of infected; `None` without a shaft.
    pub brier_infected: Option<f64>,
}

/// The sample, found, measured and judged anew.
///
/// # Errors
/// When a photo cannot be encoded or read.
pub fn checked(model: &Model) -> Result<Vec<Checked>, SceneError> {
    let scenes: Vec<(usize, u64)> =
        (0..PRESETS.len()).flat_map(|at| (0..N_SCENES).map(move |i| (at, FIRST_SEED + i))).collect();
    let done: Result<Vec<OfPhoto>, SceneError> = scenes
        .into_par_iter()
        .filter_map(|(at, seed)| Some((at, seed, Ranges::named(PRESETS[at])?)))
        .map(|(at, seed, ranges)| Ok((at, appraised(seed, &ranges, model)?)))
        .collect();
    let done = done?;
    let of = |at: usize| done.iter().filter(move |(preset, _)| *preset == at).map(|(_, scene)| scene);
    Ok(PRESETS.iter().enumerate().map(|(at, preset)| came_to(preset, of(at))).collect())
}

fn came_to<'a>(preset: &'static str, scenes: impl Iterator<Item = &'a (SceneScore, Vec<Judged>)>) -> Checked {
    let (mut n_shafts, mut n_traces) = (0, 0);
    let mut judged: Vec<&Judged> = Vec::new();
    for (score, of_scene) in scenes {
        n_shafts += score.truths;
        n_traces += score.found;
        judged.extend(of_scene);
    }
    let count = |what: &dyn Fn(&Judged) -> bool| judged.iter().filter(|shaft| what(shaft)).count();
    let probability: Vec<[f64; Look::COUNT]> = judged.iter().map(|shaft| shaft.probability).collect();
    let truth: Vec<usize> = judged.iter().map(|shaft| shaft.truth as usize).collect();
    let p_infected: Vec<f64> = probability.iter().map(|p| p[Look::Infected as usize]).collect();
    let is_infected: Vec<bool> = judged.iter().map(|shaft| shaft.truth == Look::Infected).collect();
    Checked {
        preset,
        n_shafts,
        n_traces,
        rightly_wrongly_unsaid: [
            count(&|shaft| shaft.called == Some(shaft.truth)),
            count(&|shaft| shaft.called.is_some_and(|called| called != shaft.truth)),
            count(&|shaft| shaft.called.is_none()),
        ],
        log_loss: scoring::log_loss(&probability, &truth),
        brier_infected: scoring::brier(&p_infected, &is_infected),
    }
}

/// The sample's table, Markdown, and what it is of.
pub fn table(rows: &[Checked]) -> String {
    let number = |value: Option<f64>| value.map_or("–".to_owned(), |value| format!("{value:.4}"));
    let row = |row: &Checked| {
        let [rightly, wrongly, unsaid] = row.rightly_wrongly_unsaid;
        let (loss, brier) = (number(row.log_loss), number(row.brier_infected));
        let Checked { preset, n_shafts, n_traces, .. } = row;
        format!("| {preset} | {n_shafts} | {n_traces} | {rightly} | {wrongly} | {unsaid} | {loss} | {brier} |\n")
    };
    format!(
        "{N_SCENES} photos each, seeds {FIRST_SEED} to {}; a test draws, measures and judges them anew and wants these \
         very figures. They show that model, program and card belong together, and are far too few to tell what the \
         model is worth.\n\n\
         | ranges | shafts | traces | called rightly | called something else | cannot say | log loss, nats | Brier score, \
         infected |\n|---|---|---|---|---|---|---|---|\n{}",
        FIRST_SEED + N_SCENES - 1,
        rows.iter().map(row).collect::<String>()
    )
}
