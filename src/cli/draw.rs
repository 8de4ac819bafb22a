//! `pilumen draw`: simulated photos with their truth, for trying and appraising.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::terminal::complain;
use super::{PARTLY, UNUSABLE};
use crate::sim::{PhotoError, Ranges, Scene, photo, truth_json};

/// Why photos could not be drawn.
#[derive(Debug, thiserror::Error)]
enum DrawError {
    /// No ranges of this name.
    #[error("there is no preset \"{0}\"; known: {known}", known = Ranges::names().join(", "))]
    UnknownPreset(String),
    /// A folder or file could not be written.
    #[error("{path} could not be written: {source}")]
    Write {
        /// The folder or file.
        path: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// A photo could not be encoded.
    #[error(transparent)]
    Encode(#[from] PhotoError),
}

/// What `pilumen draw` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    /// Seeds, one photo each
    #[arg(required = true, value_name = "SEED")]
    seeds: Vec<u64>,

    /// Folder to write to: of each seed PRESET-SEED.jpg (or .png) and PRESET-SEED.truth.json
    #[arg(long, value_name = "DIR")]
    out: PathBuf,

    /// What the photos are drawn from
    #[arg(long, value_name = "NAME", default_value = "training")]
    preset: String,
}

/// Draws the photos.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    match draw(&arguments.seeds, &arguments.preset, &arguments.out) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            complain(&format!("pilumen: {error}"));
            ExitCode::from(if matches!(error, DrawError::UnknownPreset(_)) { UNUSABLE } else { PARTLY })
        }
    }
}

/// Draws the scene of each seed and writes `PRESET-SEED.jpg` (or `.png`) and `PRESET-SEED.truth.json` into `out`.
///
/// # Errors
/// When the preset is unknown, or a file cannot be written.
fn draw(seeds: &[u64], preset: &str, out: &Path) -> Result<(), DrawError> {
    let ranges = Ranges::named(preset).ok_or_else(|| DrawError::UnknownPreset(preset.to_string()))?;
    let written = |path: &Path, result: std::io::Result<()>| {
        result.map_err(|source| DrawError::Write { path: path.display().to_string(), source })
    };
    written(out, fs::create_dir_all(out))?;
    for &seed in seeds {
        let scene = Scene::draw(seed, &ranges);
        let (bytes, ending) = photo(&scene).encode_as(&scene)?;
        let picture = out.join(format!("{preset}-{seed}.{ending}"));
        written(&picture, fs::write(&picture, bytes))?;
        let truth = out.join(format!("{preset}-{seed}.truth.json"));
        written(&truth, fs::write(&truth, format!("{}\n", truth_json(&scene))))?;
    }
    Ok(())
}
