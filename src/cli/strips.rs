//! `pilumen strips`: draws the sheet of strips of a model's reference shafts.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Mutex;

use rayon::prelude::*;

use super::model::model_bytes;
use super::terminal::{complain, ended, shown};
use super::{PARTLY, UNUSABLE};
use crate::finding::model::ModelFile;
use crate::sim::Ranges;
use crate::training::strips::{STRIP_BYTES, STRIP_COLUMNS, STRIP_ROWS, scenes_of_references, strips_of_scene};

/// Scenes between two writings of the sheet: what is done is kept when the command is ended.
const KEEP_EVERY: usize = 8;

/// Quality of the finished sheet.
const JPEG_QUALITY: u8 = 80;

/// What `pilumen strips` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    /// The sheet: a PNG that grows, and goes on where it was; the same with .jpg is written beside it each time
    #[arg(long, value_name = "PNG")]
    out: PathBuf,

    /// The model [default: the program's own]
    #[arg(long, value_name = "FILE")]
    model: Option<PathBuf>,

    /// First seed of the scenes that the model was grown on
    #[arg(long, default_value_t = 1)]
    seed: u64,

    /// What they were drawn from, as `pilumen train` was told
    #[arg(long = "preset", default_values_t = ["training", "training", "training-clear", "training-crossings", "training-dim"].map(str::to_owned))]
    presets: Vec<String>,
}

/// Draws what is missing.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    ended(drawn(arguments))
}

fn drawn(arguments: &Arguments) -> Result<String, (u8, String)> {
    let unusable = |sentence: String| (UNUSABLE, sentence);
    let bytes = model_bytes(arguments.model.as_deref()).map_err(unusable)?;
    let file = ModelFile::from_bytes(&bytes).map_err(|error| unusable(error.to_string()))?;
    let ranges: Vec<Ranges> = arguments
        .presets
        .iter()
        .map(|name| Ranges::named(name).ok_or_else(|| unusable(format!("there is no preset \"{name}\""))))
        .collect::<Result<_, _>>()?;
    let n = file.novelty.references.len();
    let mut sheet = vec![0_u8; n * STRIP_BYTES];
    if let Ok(before) = ::image::open(&arguments.out) {
        let before = before.to_rgb8();
        if before.as_raw().len() == sheet.len() {
            sheet.copy_from_slice(before.as_raw());
        }
    }
    let there: BTreeSet<usize> = sheet
        .chunks_exact(STRIP_BYTES)
        .enumerate()
        .filter(|(_, s)| s.iter().any(|&v| v > 0))
        .map(|(at, _)| at)
        .collect();
    let missing: Vec<u64> = scenes_of_references(&file)
        .into_iter()
        .filter(|scene| {
            let of_scene = file.novelty.references.iter().enumerate().filter(|(_, r)| r.scene == *scene);
            *scene >= arguments.seed && of_scene.into_iter().any(|(at, _)| !there.contains(&at))
        })
        .collect();
    let state = Mutex::new((sheet, 0_usize));
    missing.par_iter().try_for_each(|&scene| {
        let ranges = &ranges[(scene - arguments.seed) as usize % ranges.len()];
        let strips = strips_of_scene(&file, scene, ranges).map_err(|error| (PARTLY, error.to_string()))?;
        let mut state = state.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        for (place, rgb) in strips {
            state.0[place * STRIP_BYTES..(place + 1) * STRIP_BYTES].copy_from_slice(&rgb);
        }
        state.1 += 1;
        if state.1.is_multiple_of(KEEP_EVERY) || state.1 == missing.len() {
            complain(&format!("{} of {} scenes drawn", state.1, missing.len()));
            keep(&arguments.out, &state.0, n)?;
        }
        Ok(())
    })?;
    let (sheet, _) = state.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
    keep(&arguments.out, &sheet, n)?;
    let n_there = sheet.chunks_exact(STRIP_BYTES).filter(|strip| strip.iter().any(|&v| v > 0)).count();
    Ok(format!("{}: {n_there} of {n} strips\n", shown(&arguments.out)))
}

/// Writes the sheet as PNG, and as JPEG beside it.
fn keep(out: &Path, sheet: &[u8], n: usize) -> Result<(), (u8, String)> {
    let failed = |error: ::image::ImageError| (PARTLY, format!("{}: {error}", shown(out)));
    let (width, height) = (STRIP_COLUMNS as u32, (n * STRIP_ROWS) as u32);
    ::image::save_buffer(out, sheet, width, height, ::image::ExtendedColorType::Rgb8).map_err(failed)?;
    let mut jpeg = Vec::new();
    let mut encoder = ::image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, JPEG_QUALITY);
    encoder.encode(sheet, width, height, ::image::ExtendedColorType::Rgb8).map_err(failed)?;
    let beside = out.with_extension("jpg");
    std::fs::write(&beside, jpeg).map_err(|error| (PARTLY, format!("{}: {error}", shown(&beside))))
}
