//! `pilumen learn`: the atlas as a folder, a series to print, and results in and out.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::folder::Folder;
use super::model::model;
use super::terminal::{ended, said, shown, small};
use super::{PARTLY, UNUSABLE};
use crate::learn::{
    Agreement, Atlas, Home, Language, Level, Results, atlas_files, between_readers, filled_sheet, gathered_csv,
    printed_series, standing,
};

/// The first of the numbers that series are printed from unless told otherwise: far from those that the desk begins with,
/// so that a printed series is new to who practises there.
const SERIES_FROM: u32 = 5001;

/// What `pilumen learn` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(clap::Subcommand)]
enum Command {
    /// Write the atlas as a folder of pages that need nothing else; open its index.html
    Atlas {
        /// Folder to write to
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
    },
    /// Write a series to print, with its key and a table for the answers
    Series {
        /// Folder to write to
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
        /// How hard: 1 plain, 2 as photos are, 3 dim, blurred and crossing
        #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=3))]
        level: u8,
        /// How many photos
        #[arg(long, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u32).range(1..=100))]
        photos: u32,
        /// Number of the first photo; the same number gives the same photos to everybody
        #[arg(long, value_name = "N", default_value_t = SERIES_FROM, value_parser = clap::value_parser!(u32).range(1..=900_000))]
        from: u32,
        /// Language of the series: en or es
        #[arg(long, value_name = "TAG", default_value = "en")]
        language: String,
    },
    /// Hold a filled answer sheet (answers.csv of a series) against the truth, and write a learner's results file
    Mark {
        /// The filled sheet
        #[arg(value_name = "SHEET")]
        sheet: PathBuf,
        /// Who filled it in; a nickname will do
        #[arg(long, value_name = "NAME")]
        learner: String,
        /// Results file to write
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
    },
    /// Gather learners' results files into one sheet, and tell how far they agree
    Gather {
        /// Results files, one or more of each learner
        #[arg(required = true, value_name = "FILE")]
        files: Vec<PathBuf>,
        /// Sheet to write, CSV
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
    },
}

/// Does what was asked.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    ended(match &arguments.command {
        Command::Atlas { out } => atlas(out),
        Command::Series { out, level, photos, from, language } => series(out, *level, *photos, *from, language),
        Command::Mark { sheet, learner, out } => mark(sheet, learner, out),
        Command::Gather { files, out } => gather(files, out),
    })
}

type Failed = (u8, String);

fn atlas(out: &Path) -> Result<String, Failed> {
    let model = model(None).map_err(|sentence| (UNUSABLE, sentence))?;
    let folder = folder(out)?;
    let atlas = Atlas::new(Home::Folder);
    for name in atlas_files() {
        // A strip is absent where the program found no hair; its page says so.
        if let Some((_, bytes)) = atlas.file(&name, &model) {
            write(&folder, &name, &bytes)?;
        }
    }
    Ok(format!("The atlas is written; open {}\n", shown(&folder.path().join("index.html"))))
}

fn series(out: &Path, level: u8, photos: u32, from: u32, language: &str) -> Result<String, Failed> {
    let language: Language = language.parse().map_err(|sentence| (UNUSABLE, sentence))?;
    let level = Level::of(level).unwrap_or(Level::Plain);
    let model = model(None).map_err(|sentence| (UNUSABLE, sentence))?;
    let folder = folder(out)?;
    for (name, bytes) in printed_series(level, from, photos, language, &model).files {
        write(&folder, &name, &bytes)?;
    }
    let at = |name: &str| shown(&folder.path().join(name));
    Ok(format!(
        "The series is written; print {}\nAnswers may be filled in in {}, then: pilumen learn mark answers.csv --learner NAME --out NAME.json\n",
        at("series.html"),
        at("answers.csv")
    ))
}

fn mark(sheet: &Path, learner: &str, out: &Path) -> Result<String, Failed> {
    let marked = filled_sheet(&read(sheet)?)
        .map_err(|error| (PARTLY, format!("{}: {}", shown(sheet), small(&error.to_string()))))?;
    if marked.is_empty() {
        return Err((PARTLY, format!("{}: nothing is filled in yet; write a look for each shaft", shown(sheet))));
    }
    let results = Results::of(learner, marked).map_err(|error| (UNUSABLE, error.to_string()))?;
    write_file(out, &results.to_json())?;
    Ok(format!("{}Kept in {}\n", words(&results), shown(out)))
}

fn gather(files: &[PathBuf], out: &Path) -> Result<String, Failed> {
    let mut class: Vec<Results> = Vec::new();
    for file in files {
        let bad =
            |error: crate::learn::ResultsError| (PARTLY, format!("{}: {}", shown(file), small(&error.to_string())));
        let read = Results::from_json(&read(file)?).map_err(bad)?;
        match class.iter_mut().find(|known| known.learner == read.learner) {
            // The same file given twice, or an older copy beside a newer one, must not count double.
            Some(known) => {
                let new: Vec<_> = read.marked.into_iter().filter(|one| !known.marked.contains(one)).collect();
                known.marked.extend(new);
            }
            None => class.push(read),
        }
    }
    class.sort_by(|a, b| a.learner.cmp(&b.learner));
    write_file(out, &gathered_csv(&class))?;
    let mut text: String = class.iter().map(words).collect();
    let readers: Vec<_> = class.iter().map(|one| (one.learner.clone(), one.marked.as_slice())).collect();
    let between = between_readers(&readers);
    text += &match &between.all {
        Some(all) => format!(
            "Between readers: {} over {} shafts on {} photos that all of them saw\n",
            kappa(all),
            all.shafts,
            all.photos
        ),
        None if class.len() > 1 => {
            "Between readers: they have no photo in common, so agreement cannot be told\n".to_owned()
        }
        None => String::new(),
    };
    if class.len() > 2 {
        for (one, other, agreement) in &between.pairs {
            text += &format!("  {one} and {other}: {}, {} shafts\n", kappa(agreement), agreement.shafts);
        }
    }
    text += &format!("Sheet in {}\n", shown(out));
    Ok(text)
}

/// How a learner stands, one line.
fn words(results: &Results) -> String {
    let s = standing(&results.marked);
    let interval = |low: Option<f64>, high: Option<f64>| match (low, high) {
        (Some(low), Some(high)) => format!(" (95 %: {:.0} to {:.0} %)", 100.0 * low, 100.0 * high),
        _ => String::new(),
    };
    let name = results.learner.replace(char::is_control, "?");
    format!(
        "{name}: {} of {} looks right{} on {} simulated photos; with the truth: {}\n",
        s.look.right,
        s.look.n,
        interval(s.look.low, s.look.high),
        s.photos,
        kappa(&s.kappa)
    )
}

fn kappa(agreement: &Agreement) -> String {
    let name = if agreement.kind == "fleiss" { "Fleiss's kappa" } else { "Cohen's kappa" };
    match (agreement.kappa, agreement.low, agreement.high) {
        (Some(kappa), Some(low), Some(high)) => format!("{name} {kappa:.2} (95 %: {low:.2} to {high:.2})"),
        (Some(kappa), ..) => format!("{name} {kappa:.2} (too few photos for an interval)"),
        _ => format!("{name} cannot be told: all answers are one and the same"),
    }
}

fn folder(out: &Path) -> Result<Folder, Failed> {
    Folder::new(out, &[]).map_err(|error| {
        (PARTLY, format!("{}: the folder cannot be made: {}; name another with --out", shown(out), said(&error)))
    })
}

fn write(folder: &Folder, name: &str, bytes: &[u8]) -> Result<(), Failed> {
    folder.write(name, bytes).map_err(|error| {
        let path = folder.path().join(name);
        (PARTLY, format!("{}: cannot be written: {}; make room or name another folder", shown(&path), said(&error)))
    })
}

fn write_file(out: &Path, bytes: &[u8]) -> Result<(), Failed> {
    let name = out.file_name().map(|name| name.to_string_lossy().into_owned());
    let name =
        name.ok_or_else(|| (UNUSABLE, format!("{}: this is no name of a file; give one with --out", shown(out))))?;
    let place = out.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
    write(&folder(place)?, &name, bytes)
}

fn read(file: &Path) -> Result<Vec<u8>, Failed> {
    fs::read(file)
        .map_err(|error| (PARTLY, format!("{}: cannot be read: {}; name another file", shown(file), said(&error))))
}
