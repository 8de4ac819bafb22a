//! `pilumen report`: one slide, from photos or from the record, to a report for a vet, or to a slip for the laboratory.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::case::Place;
use super::case_facts;
use super::guard::guarded;
use super::made::MadeOptions;
use super::model::judging;
use super::subject::Subject;
use super::terminal::{Output, complain, said, shown};
use super::{PARTLY, UNUSABLE};
use crate::pipeline::{Reading, Want};
use crate::record::{CaseFacts, Entry};
use crate::report::{Document, Paper, ReadPhoto, Report};
use crate::settings::{Asked, Settings};

/// What `pilumen report` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    /// Photos of one slide as files; or from the record a case (the animal's name, number or id: its newest slide
    /// with photos), a slide (id, or what is written on the glass) or photos (ids). A slip needs none
    #[arg(value_name = "CASE|SLIDE|PHOTO", required_unless_present = "slip")]
    of: Vec<PathBuf>,

    #[command(flatten)]
    place: Place,

    /// Write to this file: .pdf for paper, .html for a web page [default: report.pdf, slip.pdf]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,

    /// Write over a file that is there
    #[arg(long)]
    replace: bool,

    /// Make the slip that goes to the laboratory with the sample instead of the report
    #[arg(long)]
    slip: bool,

    /// Paper: a4 or letter
    #[arg(long, default_value = "a4", value_enum)]
    paper: PaperName,

    #[command(flatten)]
    made: MadeOptions,

    #[command(flatten)]
    case: case_facts::CaseOptions,
}

/// The papers as they are named.
#[derive(Clone, Copy, clap::ValueEnum)]
enum PaperName {
    /// 210 × 297 mm
    A4,
    /// 8.5 × 11 inches
    Letter,
}

/// Makes the report.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    match made(arguments) {
        Ok(sentence) => {
            Output::new().write(format!("{sentence}\n").as_bytes());
            ExitCode::SUCCESS
        }
        Err((code, sentence)) => {
            complain(&sentence);
            ExitCode::from(code)
        }
    }
}

fn made(arguments: &Arguments) -> Result<String, (u8, String)> {
    let unusable = |sentence: String| (UNUSABLE, format!("pilumen: {sentence}"));
    let partly = |sentence: String| (PARTLY, sentence);
    let document = if arguments.slip { Document::Slip } else { Document::Report };
    let name = if arguments.slip { "slip.pdf" } else { "report.pdf" };
    let out = arguments.out.clone().unwrap_or_else(|| PathBuf::from(name));
    let html = match out.extension().map(|ending| ending.to_ascii_lowercase()) {
        Some(ending) if ending == "pdf" => false,
        Some(ending) if ending == "html" || ending == "htm" => true,
        _ => return Err(unusable(format!("{} ends in neither .pdf nor .html; name the file so", shown(&out)))),
    };
    // Before the photos are read: a reader of forty photos should not wait for this.
    if !arguments.replace && out.exists() {
        let out = shown(&out);
        return Err(unusable(format!("{out} is there already; give another --out, or --replace to write over it")));
    }
    let um_per_px = arguments.made.um_per_px;
    Settings::check(Asked { um_per_px, ..Asked::default() }).map_err(|error| unusable(error.to_string()))?;
    let model = judging(arguments.made.model.as_deref(), arguments.place.named()).map_err(unusable)?.model;
    let subject = Subject::of(&arguments.of, &arguments.place, arguments.made.language, !arguments.slip)?;
    let case = arguments.case.facts(subject.facts.clone()).map_err(unusable)?;

    let mut readings = Vec::new();
    for photo in &subject.photos {
        let reading = subject.read(photo, um_per_px, &model, Want::Picture);
        // A report that lacks a photo of its slide would say less than it seems to.
        let (_, reading) =
            reading.map_err(|sentence| partly(format!("{}: {sentence}; no report was made", photo.shown())))?;
        readings.push(reading);
    }
    let bytes =
        guarded(|| written(arguments, document, html, &case, &readings)).and_then(|done| done).map_err(partly)?;
    keep(&out, &bytes, arguments.replace).map_err(partly)?;
    Ok(format!("Kept {}", shown(&out)))
}

/// The document's bytes.
fn written(
    arguments: &Arguments,
    document: Document,
    html: bool,
    case: &CaseFacts,
    readings: &[Reading],
) -> Result<Vec<u8>, String> {
    let teaching = arguments.case.is_teaching();
    let entries: Vec<Entry> = readings
        .iter()
        .enumerate()
        .map(|(i, reading)| {
            let mut entry = reading.entry.clone();
            if teaching {
                entry.photo = entry.photo.without_identity(&format!("photo {}", i + 1));
            }
            entry
        })
        .collect();
    let photos: Vec<ReadPhoto> = entries
        .iter()
        .zip(readings)
        .filter_map(|(entry, reading)| Some(ReadPhoto { entry, picture: reading.picture.as_ref()? }))
        .collect();
    let report = Report {
        case,
        photos: &photos,
        made_on: arguments.made.made_on(),
        language: arguments.made.language,
        teaching,
    };
    if html {
        return Ok(report.html(document).into_bytes());
    }
    let paper = match arguments.paper {
        PaperName::A4 => Paper::A4,
        PaperName::Letter => Paper::Letter,
    };
    report.pdf(document, paper).map_err(|error| error.to_string())
}

/// Writes a whole file or none, and none over another unless that is wanted.
fn keep(out: &Path, bytes: &[u8], replace: bool) -> Result<(), String> {
    let folder = out.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let failed = |error: std::io::Error| {
        if error.kind() == std::io::ErrorKind::AlreadyExists {
            return format!("{} is there already; give another --out, or --replace to write over it", shown(out));
        }
        if !folder.is_dir() {
            return format!("the folder {} does not exist; make it first, or give another --out", shown(folder));
        }
        format!("{} cannot be written: {}; make room or name another place", shown(out), said(&error))
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".pilumen-").suffix(".unfinished");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(folder).map_err(failed)?;
    file.write_all(bytes).and_then(|()| file.flush()).map_err(failed)?;
    let kept = if replace { file.persist(out) } else { file.persist_noclobber(out) };
    kept.map(|_| ()).map_err(|error| failed(error.error))
}
