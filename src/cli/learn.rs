//! `pilumen learn`: the atlas as a folder, a series to print, and results in and out.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::case::Place;
use super::folder::Folder;
use super::model::model;
use super::terminal::{ended, progress, said, shown, small};
use super::{PARTLY, UNUSABLE};
use crate::learn::{
    Agreement, Asking, Atlas, Home, Level, OwnPhoto, Results, atlas_files, between_readers, filled_sheet, gathered_csv,
    own_name, printed_series, series_files, standing,
};
use crate::store::{APART_DAYS, StoreError};

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
        #[command(flatten)]
        kept: KeptIn,
    },
    /// Write a series to print, with its key and a table for the answers
    Series {
        #[command(flatten)]
        kept: KeptIn,
        /// How hard: 1 plain, 2 as photos are, 3 dim, blurred and crossing
        #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=3))]
        level: u8,
        /// How many drawn photos
        #[arg(long, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u32).range(1..=100))]
        photos: u32,
        /// Number of the first photo; the same number gives the same photos to everybody
        #[arg(long, value_name = "N", default_value_t = SERIES_FROM, value_parser = clap::value_parser!(u32).range(1..=900_000))]
        from: u32,
        /// Language of the series: en or es
        #[arg(long, value_name = "TAG", default_value = "en")]
        language: String,
        /// Add photos of your record whose culture has said its last word: the pictures alone, under numbers, without
        /// animal, site, day or name. With this flag you agree that they go into the series
        #[arg(long)]
        own_cases: bool,
        #[command(flatten)]
        record: Place,
    },
    /// Hold a filled answer sheet (answers.csv of a series) against the truth, and write a learner's results file
    Mark {
        /// The filled sheet
        #[arg(value_name = "SHEET")]
        sheet: PathBuf,
        /// Who filled it in; a nickname will do
        #[arg(long, value_name = "NAME")]
        learner: String,
        #[command(flatten)]
        kept: KeptAs,
    },
    /// Gather learners' results files into one sheet, and tell how far they agree
    Gather {
        /// Results files, one or more of each learner
        #[arg(required = true, value_name = "FILE")]
        files: Vec<PathBuf>,
        #[command(flatten)]
        kept: KeptAs,
    },
}

/// The folder that a command writes to.
#[derive(clap::Args)]
struct KeptIn {
    /// Folder to write to
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Write over files that are there
    #[arg(long)]
    replace: bool,
}

/// The file that a command writes.
#[derive(clap::Args)]
struct KeptAs {
    /// File to write
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Write over the file where it is there
    #[arg(long)]
    replace: bool,
}

/// Does what was asked.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    ended(match &arguments.command {
        Command::Atlas { kept } => atlas(kept),
        Command::Series { kept, level, photos, from, language, own_cases, record } => {
            own(*own_cases, record).and_then(|own| {
                let language = language.parse().map_err(|sentence| (UNUSABLE, sentence))?;
                let level = Level::of(*level).unwrap_or(Level::Plain);
                series(kept, &Asking { level, from: *from, n: *photos, own: &own.photos, language }, own.said)
            })
        }
        Command::Mark { sheet, learner, kept } => mark(sheet, learner, kept),
        Command::Gather { files, kept } => gather(files, kept),
    })
}

type Failed = (u8, String);

fn atlas(kept: &KeptIn) -> Result<String, Failed> {
    let names = atlas_files();
    kept.is_free(&names)?;
    let model = model(None).map_err(|sentence| (UNUSABLE, sentence))?;
    let folder = folder(&kept.out)?;
    let atlas = Atlas::new(Home::Folder);
    let bar = progress("Drawing the atlas", "files", names.len());
    for name in names {
        // A strip is absent where the program found no hair; its page says so.
        if let Some((_, bytes)) = atlas.file(&name, &model) {
            write(&folder, &name, &bytes, kept.replace)?;
        }
        bar.inc(1);
    }
    bar.finish_and_clear();
    Ok(format!("The atlas is written; open {}\n", shown(&kept.out.join("index.html"))))
}

fn series(kept: &KeptIn, asking: &Asking, own: String) -> Result<String, Failed> {
    kept.is_free(&series_files(asking))?;
    let model = model(None).map_err(|sentence| (UNUSABLE, sentence))?;
    let folder = folder(&kept.out)?;
    let bar = progress("Drawing the series", "photos", asking.n as usize + asking.own.len());
    let series = printed_series(asking, &model, || bar.inc(1));
    bar.finish_and_clear();
    for (name, bytes) in series.files {
        write(&folder, &name, &bytes, kept.replace)?;
    }
    let at = |name: &str| shown(&kept.out.join(name));
    Ok(format!(
        "The series is written; print {}\n{own}Fill in {}: looks 1 to 5, places 1 to 6, root end A, B or ?. Then:\n  \
         pilumen learn mark {} --learner NAME --out results/NAME.json\n",
        at("series.html"),
        at("answers.csv"),
        at("answers.csv"),
    ))
}

/// The house's own photos for a series, with what is said of them.
#[derive(Default)]
struct Own {
    photos: Vec<OwnPhoto>,
    said: String,
}

fn own(agreed: bool, record: &Place) -> Result<Own, Failed> {
    let mut own = Own::default();
    if !agreed {
        return Ok(own);
    }
    let failed = |error: StoreError| (PARTLY, error.to_string());
    let store = record.open().map_err(failed)?;
    for one in store.confirmed().map_err(failed)? {
        let named: Vec<(&[[f64; 2]], &str)> =
            one.shafts.iter().map(|shaft| (shaft.line_px.as_slice(), shaft.look.as_str())).collect();
        let bytes = store.photo_bytes(&one.photo).map_err(failed)?;
        let photo = OwnPhoto::of(one.number, &bytes, one.grew, &named);
        own.photos.push(photo.map_err(|said| (PARTLY, format!("{}: {}", own_name(one.number), small(&said))))?);
    }
    own.said = match own.photos.len() {
        0 => format!(
            "No photo of the record goes with it: none has a culture of the same site, sent at most {APART_DAYS} days \
             apart, that has said its last word\n"
        ),
        n => format!(
            "With {n} photos of your own cases, named own-…: look at them before you hand them on, for what is written on \
             a glass and shows on the photo goes with it. They are not in the table for the answers; their key is on the \
             last pages\n"
        ),
    };
    Ok(own)
}

fn mark(sheet: &Path, learner: &str, kept: &KeptAs) -> Result<String, Failed> {
    kept.is_free(&[sheet.to_owned()])?;
    let marked = filled_sheet(&read(sheet)?)
        .map_err(|error| (PARTLY, format!("{}: {}", shown(sheet), small(&error.to_string()))))?;
    if marked.is_empty() {
        return Err((PARTLY, format!("{}: nothing is filled in yet; write a look for each shaft", shown(sheet))));
    }
    let results = Results::of(learner, marked).map_err(|error| (UNUSABLE, error.to_string()))?;
    kept.write(&results.to_json())?;
    Ok(format!("{}Kept in {}\n", words(&results), shown(&kept.out)))
}

fn gather(files: &[PathBuf], kept: &KeptAs) -> Result<String, Failed> {
    kept.is_free(files)?;
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
    kept.write(&gathered_csv(&class))?;
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
    text += &format!("Sheet in {}\n", shown(&kept.out));
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

impl KeptIn {
    /// Refuses a folder with one of these files in it, unless they may be written over: what somebody filled in or drew
    /// for an hour is not lost to a command typed twice.
    fn is_free(&self, names: &[String]) -> Result<(), Failed> {
        let there = names.iter().map(|name| self.out.join(name)).find(|path| path.exists());
        match there.filter(|_| !self.replace) {
            Some(path) => Err((UNUSABLE, format!("{} {THERE}", shown(&path)))),
            None => Ok(()),
        }
    }
}

impl KeptAs {
    /// Refuses a file that is there, unless it may be written over, and always one that is read by the same command.
    fn is_free(&self, read: &[PathBuf]) -> Result<(), Failed> {
        let same = |file: &PathBuf| matches!((file.canonicalize(), self.out.canonicalize()), (Ok(a), Ok(b)) if a == b);
        if read.iter().any(same) {
            return Err((UNUSABLE, format!("{} is read by this command; give another --out", shown(&self.out))));
        }
        if !self.replace && self.out.exists() {
            return Err((UNUSABLE, format!("{} {THERE}", shown(&self.out))));
        }
        Ok(())
    }

    fn write(&self, bytes: &[u8]) -> Result<(), Failed> {
        let out = &self.out;
        let name = out.file_name().map(|name| name.to_string_lossy().into_owned());
        let name =
            name.ok_or_else(|| (UNUSABLE, format!("{}: this is no name of a file; give one with --out", shown(out))))?;
        let place = out.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
        write(&folder(place)?, &name, bytes, self.replace)
    }
}

/// What is said of a file that would be written over.
const THERE: &str = "is there already; give another --out, or --replace to write over it";

fn folder(out: &Path) -> Result<Folder, Failed> {
    Folder::new(out, &[]).map_err(|error| {
        (PARTLY, format!("{}: the folder cannot be made: {}; name another with --out", shown(out), said(&error)))
    })
}

fn write(folder: &Folder, name: &str, bytes: &[u8], replace: bool) -> Result<(), Failed> {
    let written = if replace { folder.write(name, bytes) } else { folder.write_new(name, bytes) };
    written.map_err(|error| {
        let path = shown(&folder.path().join(name));
        match error.kind() {
            ErrorKind::AlreadyExists => (UNUSABLE, format!("{path} {THERE}")),
            _ => (PARTLY, format!("{path}: cannot be written: {}; make room or name another folder", said(&error))),
        }
    })
}

fn read(file: &Path) -> Result<Vec<u8>, Failed> {
    fs::read(file)
        .map_err(|error| (PARTLY, format!("{}: cannot be read: {}; name another file", shown(file), said(&error))))
}
