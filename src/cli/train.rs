//! `pilumen train`: a model grown on simulated photos as the pipeline measures them.

use std::fs;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use super::terminal::complain;
use super::{PARTLY, UNUSABLE};
use crate::features::catalogue::CATALOGUE;
use crate::sim::Ranges;
use crate::training::scenes::measured;
use crate::training::{GrowSettings, LabelledRow, Table, grow};

/// Scenes between two words on progress.
const TELL_EVERY: usize = 100;

/// What `pilumen train` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    /// Simulated photos to grow the model on
    #[arg(long, default_value_t = 1500)]
    scenes: u64,

    /// First seed: of the scenes, and of the ensemble
    #[arg(long, default_value_t = 1)]
    seed: u64,

    /// What the photos are drawn from; may be given several times, the scenes are shared out in turn
    #[arg(long = "preset", default_values_t = ["training", "training", "training-clear", "training-crossings", "training-dim"].map(str::to_owned))]
    presets: Vec<String>,

    /// Grow on this table of labelled features and draw no photos
    #[arg(long, value_name = "CSV", conflicts_with_all = ["scenes", "presets"])]
    table: Option<PathBuf>,

    /// Folder for shaft-v1.json and the table of labelled features
    #[arg(long, default_value = "models", value_name = "DIR")]
    out: PathBuf,
}

/// Grows the model.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    match train(arguments) {
        Ok(()) => ExitCode::SUCCESS,
        Err((code, sentence)) => {
            complain(&format!("pilumen: {sentence}"));
            ExitCode::from(code)
        }
    }
}

fn train(arguments: &Arguments) -> Result<(), (u8, String)> {
    let rows = match &arguments.table {
        Some(path) => {
            let partly = |error: String| (PARTLY, format!("{}: {error}", path.display()));
            let file = fs::File::open(path).map_err(|error| partly(error.to_string()))?;
            Table::read(file).map_err(|error| partly(error.to_string()))?.rows
        }
        None => drawn(arguments)?,
    };
    let partly = |error: String| (PARTLY, error);
    fs::create_dir_all(&arguments.out).map_err(|error| partly(error.to_string()))?;
    if arguments.table.is_none() {
        let keys = CATALOGUE.iter().map(|entry| entry.key.to_owned()).collect();
        let mut bytes = Vec::new();
        Table { keys, rows: rows.clone() }.write(&mut bytes).map_err(|error| partly(error.to_string()))?;
        let path = arguments.out.join("shaft-v1.table.csv");
        fs::write(&path, bytes).map_err(|error| partly(format!("{}: {error}", path.display())))?;
    }
    eprintln!("growing on {} shafts", rows.len());
    let model = grow(&rows, arguments.seed, &GrowSettings::default()).map_err(|error| partly(error.to_string()))?;
    let bytes = model.to_bytes().map_err(|error| partly(error.to_string()))?;
    let path = arguments.out.join("shaft-v1.json");
    fs::write(&path, &bytes).map_err(|error| partly(format!("{}: {error}", path.display())))?;
    eprintln!("{}: {} bytes", path.display(), bytes.len());
    Ok(())
}

/// The labelled shafts of freshly drawn photos.
fn drawn(arguments: &Arguments) -> Result<Vec<LabelledRow>, (u8, String)> {
    let ranges: Vec<Ranges> = arguments
        .presets
        .iter()
        .map(|name| {
            Ranges::named(name).ok_or_else(|| {
                (UNUSABLE, format!("there is no preset \"{name}\"; known: {}", Ranges::names().join(", ")))
            })
        })
        .collect::<Result<_, _>>()?;
    let done = AtomicUsize::new(0);
    let rows: Result<Vec<Vec<LabelledRow>>, String> = (0..arguments.scenes)
        .into_par_iter()
        .map(|i| {
            let seed = arguments.seed + i;
            let scene = measured(seed, &ranges[i as usize % ranges.len()]).map_err(|error| error.to_string())?;
            let n_done = done.fetch_add(1, Ordering::Relaxed) + 1;
            if n_done.is_multiple_of(TELL_EVERY) {
                eprintln!("{n_done} of {} photos", arguments.scenes);
            }
            Ok(scene.labelled())
        })
        .collect();
    Ok(rows.map_err(|error| (PARTLY, error))?.into_iter().flatten().collect())
}
