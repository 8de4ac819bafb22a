//! `pilumen appraise`: what the program is worth on simulated photos from seeds and ranges of their own.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use rayon::prelude::*;

use super::appraise_record;
use super::model::{model_bytes, model_without_card};
use super::terminal::{Output, complain, ended};
use super::train::GROWN_ON;
use super::{PARTLY, UNUSABLE};
use crate::finding::debris_model::{self, DebrisFile};
use crate::finding::model::{ModelFile, sha256};
use crate::finding::{Look, Model};
use crate::sim::Ranges;
use crate::training::appraisal::{Appraisal, Estimate, Judged, appraise_looks};
use crate::training::card::{Circumstances, by_look, card, figures as look_figures};
use crate::training::check::{self, PRESETS};
use crate::training::one_photo::appraised;
use crate::training::scenes::SceneError;
use crate::training::tracing::{SceneScore, figures};

/// Writes a line; a reader who has seen enough ends nothing.
macro_rules! say {
    ($($words:tt)*) => { Output::new().write(format!("{}\n", format_args!($($words)*)).as_bytes()) };
}

/// What `pilumen appraise` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    /// Simulated photos under each condition
    #[arg(long, default_value_t = 60)]
    scenes: u64,

    /// First seed
    #[arg(long, default_value_t = 830_001)]
    seed: u64,

    /// What the photos are drawn from; may be given several times, each has a table of its own
    #[arg(long = "preset", default_values_t = PRESETS.map(str::to_owned))]
    presets: Vec<String>,

    /// Instead of simulated photos: how far findings agree with the cultures in the record in DIR, by animal [without
    /// DIR: what PILUMEN_RECORD names, else a folder of your own]
    #[arg(long, value_name = "DIR", num_args = 0..=1, conflicts_with_all = ["scenes", "seed", "presets", "card"])]
    record: Option<Option<PathBuf>>,

    /// Judge by this model instead of the program's own (with --record: instead of the one in use)
    #[arg(long, value_name = "FILE")]
    model: Option<PathBuf>,

    /// Write the model's card here, with the figures of the last preset
    #[arg(long, value_name = "FILE")]
    card: Option<PathBuf>,
}

/// Appraises and prints the tables as Markdown.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    if let Some(record) = &arguments.record {
        return ended(appraise_record::appraised(record.as_deref(), arguments.model.as_deref()));
    }
    let model = match model_without_card(arguments.model.as_deref()) {
        Ok(model) => model,
        Err(sentence) => return unusable(&sentence),
    };
    let mut last = None;
    for name in &arguments.presets {
        let Some(ranges) = Ranges::named(name) else {
            let known = Ranges::names().join(", ");
            return unusable(&format!("there is no preset \"{name}\"; known: {known}"));
        };
        let scenes: Result<Vec<(SceneScore, Vec<Judged>)>, SceneError> =
            (0..arguments.scenes).into_par_iter().map(|i| appraised(arguments.seed + i, &ranges, &model)).collect();
        let scenes = match scenes {
            Ok(scenes) => scenes,
            Err(error) => return partly(&error.to_string()),
        };
        if let Some(appraisal) = print_tables(name, arguments, scenes) {
            last = Some((name, appraisal));
        }
    }
    if let (Some(path), Some((name, appraisal))) = (&arguments.card, last)
        && let Err(sentence) = write_card(path, name, arguments, &appraisal, &model)
    {
        return partly(&sentence);
    }
    ExitCode::SUCCESS
}

fn partly(sentence: &str) -> ExitCode {
    complain(&format!("pilumen: {sentence}"));
    ExitCode::from(PARTLY)
}

fn unusable(sentence: &str) -> ExitCode {
    complain(&format!("pilumen: {sentence}"));
    ExitCode::from(UNUSABLE)
}

fn print_tables(name: &str, arguments: &Arguments, scenes: Vec<(SceneScore, Vec<Judged>)>) -> Option<Appraisal> {
    let last = arguments.seed + arguments.scenes - 1;
    say!("## {name}\n");
    say!(
        "{} simulated photos, seeds {} to {last}; 95 % intervals by resampling photos.\n",
        arguments.scenes,
        arguments.seed
    );
    say!("| figure | value | 95 % interval | cases |\n|---|---|---|---|");
    let (scores, judged): (Vec<SceneScore>, Vec<Vec<Judged>>) = scenes.into_iter().unzip();
    for (what, estimate, cases) in figures(&scores, arguments.seed) {
        if estimate.value.is_some() {
            say!("| {what} | {} | {cases} |", cells(estimate));
        }
    }
    let judged: Vec<Judged> = judged.into_iter().flatten().collect();
    let appraisal = (!judged.is_empty()).then(|| appraise_looks(&judged, arguments.seed));
    if let Some(appraisal) = &appraisal {
        for (what, estimate) in look_figures(appraisal) {
            if estimate.value.is_some() {
                say!("| {what} | {} | {} |", cells(estimate), appraisal.shafts);
            }
        }
        say!("\n{}", by_look(appraisal).join("\n"));
        print_calls(appraisal);
    }
    say!("");
    appraisal
}

/// The card of the model that was appraised.
fn write_card(
    path: &Path,
    preset: &str,
    arguments: &Arguments,
    appraisal: &Appraisal,
    model: &Model,
) -> Result<(), String> {
    let bytes = model_bytes(arguments.model.as_deref())?;
    let file = ModelFile::from_bytes(&bytes).map_err(|error| error.to_string())?;
    let last = arguments.seed + arguments.scenes - 1;
    let about = Circumstances {
        grown_by: "pilumen train".into(),
        grown_on: format!(
            "Simulated photos of the ranges {}, as the program itself measured them; half of them with their scale, half \
             without; in half of them the white balance was moved. No photo of a real animal: none with an open licence \
             and a culture result could be found. {}",
            ranges_grown_on(),
            debris_words()?
        ),
        appraised_on: format!(
            "Simulated photos of the ranges `{preset}`, seeds {} to {last}: other camera families, hues, fungal peaks \
             and scales than those of growing. Only shafts that one trace follows are counted. Intervals are 95 %, by \
             resampling photos.",
            arguments.seed
        ),
        checked_on: check::checked(model).map_err(|error| error.to_string())?,
    };
    std::fs::write(path, card(&bytes, &file, appraisal, &about)).map_err(|error| format!("{}: {error}", path.display()))
}

/// What else judges: the trees that tell debris.
fn debris_words() -> Result<String, String> {
    let file = DebrisFile::from_bytes(debris_model::OWN).map_err(|error| error.to_string())?;
    Ok(format!(
        "Whether a trace follows a shaft at all is told by other trees (`models/debris-v1.json`, SHA-256 `{}`), grown by \
         the same command on {} scenes with {} traces of shafts and {} of debris.",
        sha256(debris_model::OWN),
        file.scenes,
        file.traces[0],
        file.traces[1]
    ))
}

/// The ranges that a model is grown on, with how many photos of how many come from each.
fn ranges_grown_on() -> String {
    let mut named: Vec<(&str, usize)> = Vec::new();
    for preset in GROWN_ON {
        match named.iter_mut().find(|(name, _)| *name == preset) {
            Some((_, times)) => *times += 1,
            None => named.push((preset, 1)),
        }
    }
    let words: Vec<String> =
        named.iter().map(|(name, times)| format!("`{name}` ({times} in {})", GROWN_ON.len())).collect();
    words.join(", ")
}

/// What shafts of each kind were called.
fn print_calls(appraisal: &Appraisal) {
    say!("\n| truth | kind | infected | ordinary | coated | not hair | cannot say |\n|---|---|---|---|---|---|---|");
    for look in Look::ALL {
        say!("| {} | all | {} |", look.code(), row(&appraisal.calls[look as usize]));
    }
    for kind in &appraisal.kinds {
        say!("| {} | {} | {} |", kind.truth.code(), kind.kind, row(&kind.calls));
    }
}

fn row(calls: &[usize]) -> String {
    calls.iter().map(usize::to_string).collect::<Vec<_>>().join(" | ")
}

fn cells(estimate: Estimate) -> String {
    let value = estimate.value.map_or("–".to_owned(), |value| format!("{value:.4}"));
    let interval = estimate.interval.map_or("–".to_owned(), |i| format!("{:.4} to {:.4}", i.low, i.high));
    format!("{value} | {interval}")
}
