//! `pilumen train`: a model grown on simulated photos as the pipeline measures them, and with a record's own cases.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use super::terminal::{Output, complain, shown, small};
use super::{PARTLY, UNUSABLE};
use crate::features::catalogue::CATALOGUE;
use crate::finding::Look;
use crate::finding::model::Column;
use crate::sim::Ranges;
use crate::training::appraisal::Estimate;
use crate::training::grow::{debris_features, voting_features};
use crate::training::scenes::measured;
use crate::training::strays::{TracedRow, grow_debris, traced};
use crate::training::{GrowSettings, LabelledRow, LeftOut, Table, grow, leave_one_group_out};

/// The ranges that a model is grown on unless others are asked for, in turn.
pub(super) const GROWN_ON: [&str; 7] = [
    "training",
    "training",
    "training-clear",
    "training-crossings",
    "training-dim",
    "training-empty",
    "training-strays",
];

/// Scenes between two words on progress: about half a minute.
const TELL_EVERY: usize = 25;

/// What `pilumen train` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    /// Simulated photos to grow the model on
    #[arg(long, default_value_t = 2800)]
    pub(super) scenes: u64,

    /// First seed: of the scenes, and of the ensemble
    #[arg(long, default_value_t = 1)]
    pub(super) seed: u64,

    /// What the photos are drawn from; may be given several times, the scenes are shared out in turn
    #[arg(long = "preset", default_values_t = GROWN_ON.map(str::to_owned))]
    pub(super) presets: Vec<String>,

    /// Grow on this table of labelled features and draw no photos
    #[arg(long, value_name = "CSV", conflicts_with_all = ["scenes", "presets"])]
    pub(super) table: Option<PathBuf>,

    /// Trees for each look
    #[arg(long, value_name = "N", default_value_t = GrowSettings::default().boost.n_trees as u32, value_parser = clap::value_parser!(u32).range(1..=2000))]
    trees: u32,

    /// Folder for shaft-v1.json, debris-v1.json and the table of labelled features
    #[arg(long, default_value = "models", value_name = "DIR", conflicts_with = "with_record")]
    out: PathBuf,

    /// Grow nothing for use: leave each camera family out in turn, grow on the others, and print what the model is worth
    /// on the one left out
    #[arg(long, conflicts_with = "with_record")]
    each_family_left_out: bool,

    #[command(flatten)]
    pub(super) record: super::train_record::RecordArguments,
}

impl Arguments {
    /// How a model is grown.
    pub(super) fn grow_settings(&self) -> GrowSettings {
        let mut settings = GrowSettings::default();
        settings.boost.n_trees = self.trees as usize;
        settings
    }
}

/// Grows the model.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    let done = match &arguments.record.with_record {
        Some(place) => super::train_record::train(arguments, place.as_deref()),
        None => train(arguments),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err((code, sentence)) => {
            complain(&format!("pilumen: {sentence}"));
            ExitCode::from(code)
        }
    }
}

fn train(arguments: &Arguments) -> Result<(), (u8, String)> {
    let partly = |error: String| (PARTLY, error);
    fs::create_dir_all(&arguments.out).map_err(|error| partly(error.to_string()))?;
    let written = |name: &str, bytes: &[u8]| {
        let path = arguments.out.join(name);
        fs::write(&path, bytes).map_err(|error| partly(format!("{}: {error}", path.display())))?;
        complain(&format!("{}: {} bytes", path.display(), bytes.len()));
        Ok(())
    };
    let Drawn { rows, traces } = match &arguments.table {
        Some(path) => Drawn { rows: table_in(path)?, traces: Vec::new() },
        None => {
            let drawn = drawn(arguments.seed, arguments.scenes, &arguments.presets)?;
            written("shaft-v1.table.csv", &csv_of(&drawn.rows)?)?;
            drawn
        }
    };
    if arguments.each_family_left_out {
        return families(&rows, arguments);
    }
    if !traces.is_empty() {
        complain(&format!("growing what tells debris on {} traces", traces.len()));
        let grown = grow_debris(&traces, &debris_features(), arguments.seed);
        let grown = grown.map_err(|error| partly(error.to_string()))?;
        written("debris-v1.json", &grown.to_bytes().map_err(|error| partly(error.to_string()))?)?;
    }
    complain(&format!("growing on {} shafts", rows.len()));
    let settings = arguments.grow_settings();
    let model = grow(&rows, arguments.seed, &settings).map_err(|error| partly(error.to_string()))?;
    let bytes = model.to_bytes().map_err(|error| partly(error.to_string()))?;
    written("shaft-v1.json", &bytes)
}

/// Prints a table of what models are worth on the camera family that they were not grown on, Markdown.
fn families(rows: &[LabelledRow], arguments: &Arguments) -> Result<(), (u8, String)> {
    let columns: Vec<Column> = CATALOGUE.iter().map(|entry| Column { key: entry.key, unit: entry.unit }).collect();
    let table = Table { keys: keys(), rows: rows.to_vec() };
    let settings = arguments.grow_settings();
    let left_out = leave_one_group_out(&table, &columns, &voting_features(), arguments.seed, &settings);
    let left_out = left_out.map_err(|error| (PARTLY, error.to_string()))?;
    let cell = |estimate: Estimate| match (estimate.value, estimate.interval) {
        (Some(value), Some(i)) => format!("{value:.3} ({:.3} to {:.3})", i.low, i.high),
        (Some(value), None) => format!("{value:.3}"),
        _ => "–".to_owned(),
    };
    let mut lines = vec![
        "| family left out | photos | shafts | macro-F1, cannot say counting as missed | share judged | macro-F1 of \
         shafts judged | AUROC, infected | calibration error | coverage, infected |"
            .to_owned(),
        "|---|---|---|---|---|---|---|---|---|".to_owned(),
    ];
    for LeftOut { group, appraisal } in left_out {
        let figures = [
            appraisal.macro_f1,
            appraisal.judged,
            appraisal.macro_f1_of_judged,
            appraisal.auroc_infected,
            appraisal.calibration_error,
            appraisal.coverage[Look::Infected as usize],
        ];
        let cells = figures.map(cell).join(" | ");
        lines.push(format!("| {group} | {} | {} | {cells} |", appraisal.scenes, appraisal.shafts));
    }
    Output::new().write((lines.join("\n") + "\n").as_bytes());
    Ok(())
}

fn keys() -> Vec<String> {
    CATALOGUE.iter().map(|entry| entry.key.to_owned()).collect()
}

/// The rows of a table of labelled features, which must have the columns that this program measures.
pub(super) fn table_in(path: &Path) -> Result<Vec<LabelledRow>, (u8, String)> {
    let partly = |error: String| (PARTLY, format!("{}: {}", shown(path), small(&error)));
    let file = fs::File::open(path).map_err(|error| partly(super::terminal::said(&error)))?;
    let table = Table::read(file).map_err(|error| partly(error.to_string()))?;
    if table.keys != keys() {
        let sentence = "the table has other features than this program measures; draw it anew, without --table";
        return Err(partly(sentence.to_owned()));
    }
    Ok(table.rows)
}

/// A table of labelled features as bytes.
pub(super) fn csv_of(rows: &[LabelledRow]) -> Result<Vec<u8>, (u8, String)> {
    let mut bytes = Vec::new();
    let table = Table { keys: keys(), rows: rows.to_vec() };
    table.write(&mut bytes).map_err(|error| (PARTLY, error.to_string()))?;
    Ok(bytes)
}

/// What freshly drawn photos teach.
#[derive(Default)]
pub(super) struct Drawn {
    /// The labelled shafts.
    pub(super) rows: Vec<LabelledRow>,
    /// The traces of shafts and of debris.
    pub(super) traces: Vec<TracedRow>,
}

/// What freshly drawn photos teach; says on standard error how far it is.
pub(super) fn drawn(first_seed: u64, n_scenes: u64, presets: &[String]) -> Result<Drawn, (u8, String)> {
    let ranges: Vec<Ranges> = presets
        .iter()
        .map(|name| {
            Ranges::named(name).ok_or_else(|| {
                (UNUSABLE, format!("there is no preset \"{name}\"; known: {}", Ranges::names().join(", ")))
            })
        })
        .collect::<Result<_, _>>()?;
    let done = AtomicUsize::new(0);
    let scenes: Result<Vec<Drawn>, String> = (0..n_scenes)
        .into_par_iter()
        .map(|i| {
            let seed = first_seed + i;
            let scene = measured(seed, &ranges[i as usize % ranges.len()]).map_err(|error| error.to_string())?;
            let n_done = done.fetch_add(1, Ordering::Relaxed) + 1;
            if n_done.is_multiple_of(TELL_EVERY) {
                complain(&format!("{n_done} of {n_scenes} simulated photos drawn and measured"));
            }
            Ok(Drawn { rows: scene.labelled(), traces: traced(&scene) })
        })
        .collect();
    let mut all = Drawn::default();
    for scene in scenes.map_err(|error| (PARTLY, error))? {
        all.rows.extend(scene.rows);
        all.traces.extend(scene.traces);
    }
    Ok(all)
}
