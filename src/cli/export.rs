//! `pilumen export`: one slide, from photos or from the record, as files for other programs: DICOM, OME-TIFF, tables.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use jiff::civil::Date;

use super::case::Place;
use super::case_facts;
use super::folder::Folder;
use super::guard::guarded;
use super::made::MadeOptions;
use super::model::judging;
use super::subject::Subject;
use super::terminal::{Output, complain, said, shown};
use super::{PARTLY, UNUSABLE};
use crate::exports::{DicomCase, DicomPhoto, Format, OmeNotes, Table, from_record, marked_layer, ome_tiff};
use crate::maths::picture::Picture;
use crate::pipeline::Want;
use crate::record::{CaseFacts, Entry, Measure};
use crate::report::{Document, Paper, ReadPhoto, Report};
use crate::settings::{Asked, Settings};

/// How the files' names end.
const IMAGE: &str = ".dcm";
const MEASUREMENTS: &str = ".measurements.dcm";
const REPORT: &str = "report.dcm";
const OME: &str = ".ome.tif";
const OME_MARKED: &str = ".marked.ome.tif";
const OBJECT: &str = ".json";

/// What `pilumen export` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    /// Photos of one slide as files; or from the record a case (the animal's name, number or id: its newest slide
    /// with photos), a slide (id, or what is written on the glass) or photos (ids)
    #[arg(value_name = "CASE|SLIDE|PHOTO", required = true)]
    of: Vec<PathBuf>,

    #[command(flatten)]
    place: Place,

    /// Folder for the files
    #[arg(long, value_name = "DIR")]
    out: PathBuf,

    /// DICOM: of each photo NAME.dcm (the photo) and NAME.measurements.dcm (structured report), of all report.dcm
    /// (the report as PDF)
    #[arg(long, required_unless_present_any = ["ome_tiff", "tables"])]
    dicom: bool,

    /// OME-TIFF: of each photo NAME.ome.tif and, with the shafts outlined, NAME.marked.ome.tif
    #[arg(long)]
    ome_tiff: bool,

    /// Tables: of each photo NAME.json, of all shafts.csv, profiles.csv and centrelines.csv with their descriptions
    #[arg(long)]
    tables: bool,

    /// Write over files that are there
    #[arg(long)]
    replace: bool,

    #[command(flatten)]
    made: MadeOptions,

    #[command(flatten)]
    case: case_facts::CaseOptions,
}

/// A photo that was read, in full size.
struct Whole {
    /// Name under which its files are kept.
    name: String,
    entry: Entry,
    picture: Picture,
    n_file_bytes: usize,
}

/// Writes the files.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    match exported(arguments) {
        Ok(kept) => {
            Output::new().write(format!("Kept {}\n", kept.join(", ")).as_bytes());
            ExitCode::SUCCESS
        }
        Err((code, sentence)) => {
            complain(&sentence);
            ExitCode::from(code)
        }
    }
}

fn exported(arguments: &Arguments) -> Result<Vec<String>, (u8, String)> {
    let unusable = |sentence: String| (UNUSABLE, format!("pilumen: {sentence}"));
    let partly = |sentence: String| (PARTLY, sentence);
    let um_per_px = arguments.made.um_per_px;
    Settings::check(Asked { um_per_px, ..Asked::default() }).map_err(|error| unusable(error.to_string()))?;
    let model = judging(arguments.made.model.as_deref(), arguments.place.named()).map_err(unusable)?.model;
    let subject = Subject::of(&arguments.of, &arguments.place, arguments.made.language, true)?;
    let case = arguments.case.facts(subject.facts.clone()).map_err(unusable)?;
    let mut keeper = Keeper::new(arguments, &subject).map_err(unusable)?;

    // The photos are written one by one: in full size, forty of them would fill the memory.
    let made_on = arguments.made.made_on();
    let mut tables = Tables::default();
    let mut entries = Vec::new();
    let mut small = Vec::new();
    for (i, photo) in subject.photos.iter().enumerate() {
        let failed = |sentence: String| partly(format!("{}: {sentence}", photo.shown()));
        let read = subject.read(photo, um_per_px, &model, Want::WholePicture);
        let (bytes, reading) = read.map_err(failed)?;
        let Some(picture) = reading.picture else { continue };
        let mut entry = reading.entry;
        let name = if arguments.case.is_teaching() {
            entry.photo = entry.photo.without_identity(&format!("photo {}", i + 1));
            keeper.folder.name_for(Path::new(&format!("photo-{}", i + 1)), &[])
        } else {
            keeper.folder.name_for(photo.path(), &[IMAGE, MEASUREMENTS, OME, OME_MARKED, OBJECT])
        };
        if arguments.tables {
            tables.add(&entry, &name);
            keeper.keep(&format!("{name}{OBJECT}"), &from_record(&entry, None, Format::Json)).map_err(failed)?;
        }
        let whole = Whole { name, entry, picture, n_file_bytes: bytes.len() };
        let first_sha256 = entries.first().unwrap_or(&whole.entry).photo.sha256.clone();
        let shared = DicomCase { facts: &case, made_on, first_sha256: &first_sha256 };
        if arguments.dicom {
            keeper.dicom(&shared, &whole, i + 1).map_err(failed)?;
        }
        if arguments.ome_tiff {
            keeper.ome(&case, &whole).map_err(failed)?;
        }
        small.push(whole.picture.reduced(whole.picture.width.max(whole.picture.height).div_ceil(REPORT_SIDE_PX)));
        entries.push(whole.entry);
    }
    if arguments.dicom {
        let pdf =
            guarded(|| report(arguments, made_on, &case, &entries, &small)).and_then(|made| made).map_err(partly)?;
        let first_sha256 = entries.first().map_or("", |entry| entry.photo.sha256.as_str());
        let shared = DicomCase { facts: &case, made_on, first_sha256 };
        let photos: Vec<DicomPhoto> = entries
            .iter()
            .zip(&small)
            .enumerate()
            .map(|(i, (entry, picture))| DicomPhoto { entry, picture, n_file_bytes: 0, number: i + 1 })
            .collect();
        let object = shared.report(&photos, "Hair shafts under the UV lamp", &pdf);
        keeper.keep(REPORT, &object.map_err(|error| partly(error.to_string()))?).map_err(partly)?;
    }
    if arguments.tables {
        keeper.tables(&tables).map_err(partly)?;
    }
    Ok(keeper.kept)
}

/// Longest side of the photos in the report, pixels.
const REPORT_SIDE_PX: usize = 3000;

/// The report as PDF.
fn report(
    arguments: &Arguments,
    made_on: Date,
    case: &CaseFacts,
    entries: &[Entry],
    pictures: &[Picture],
) -> Result<Vec<u8>, String> {
    let photos: Vec<ReadPhoto> =
        entries.iter().zip(pictures).map(|(entry, picture)| ReadPhoto { entry, picture }).collect();
    let teaching = arguments.case.is_teaching();
    let report = Report { case, photos: &photos, made_on, language: arguments.made.language, teaching };
    report.pdf(Document::Report, Paper::A4).map_err(|error| error.to_string())
}

/// The tables while they grow: rows of each, and which measurements they have a column for.
#[derive(Default)]
struct Tables {
    rows: [Vec<u8>; Table::ALL.len()],
    catalogue: Vec<Measure>,
}

impl Tables {
    /// Adds the rows of a photo, whose files are called `name`.
    fn add(&mut self, entry: &Entry, name: &str) {
        self.catalogue.clone_from(&entry.catalogue);
        for (rows, table) in self.rows.iter_mut().zip(Table::ALL) {
            rows.extend(table.rows(entry, name));
        }
    }
}

/// Keeps files in a folder, none over another unless that is wanted.
struct Keeper {
    folder: Folder,
    shown: PathBuf,
    replace: bool,
    kept: Vec<String>,
}

impl Keeper {
    fn new(arguments: &Arguments, subject: &Subject) -> Result<Keeper, String> {
        let folder = Folder::new(&arguments.out, &subject.files()).map_err(|error| {
            format!("files cannot be kept in {}: {}; name another folder", shown(&arguments.out), said(&error))
        })?;
        Ok(Keeper { folder, shown: arguments.out.clone(), replace: arguments.replace, kept: Vec::new() })
    }

    fn dicom(&mut self, shared: &DicomCase, whole: &Whole, number: usize) -> Result<(), String> {
        let Whole { name, entry, picture, n_file_bytes } = whole;
        let photo = DicomPhoto { entry, picture, n_file_bytes: *n_file_bytes, number };
        let image = shared.image(&photo).map_err(|error| error.to_string())?;
        self.keep(&format!("{name}{IMAGE}"), &image)?;
        let measurements = shared.measurements(&photo).map_err(|error| error.to_string())?;
        self.keep(&format!("{name}{MEASUREMENTS}"), &measurements)
    }

    fn ome(&mut self, case: &CaseFacts, whole: &Whole) -> Result<(), String> {
        let Whole { name, entry, picture, .. } = whole;
        let too_large = || "it is too large for OME-TIFF, which holds 4 GB; give a smaller photo".to_owned();
        let notes = OmeNotes { name: &entry.photo.file, lamp_nm: case.lamp_nm, marked: false };
        self.keep(&format!("{name}{OME}"), &ome_tiff(entry, picture, &notes).ok_or_else(too_large)?)?;
        let layer = marked_layer(entry, picture).ok_or_else(too_large)?;
        let notes = OmeNotes { marked: true, ..notes };
        self.keep(&format!("{name}{OME_MARKED}"), &ome_tiff(entry, &layer, &notes).ok_or_else(too_large)?)
    }

    fn tables(&mut self, tables: &Tables) -> Result<(), String> {
        for (table, rows) in Table::ALL.into_iter().zip(&tables.rows) {
            self.keep(&table.description_file(), &table.description(&tables.catalogue))?;
            self.keep(table.file(), &[table.head(&tables.catalogue), rows.clone()].concat())?;
        }
        Ok(())
    }

    fn keep(&mut self, file: &str, bytes: &[u8]) -> Result<(), String> {
        let path = shown(&self.shown.join(file));
        if !self.replace && self.shown.join(file).exists() {
            return Err(format!("{path} is there already; give another --out, or --replace to write over it"));
        }
        let failed = |error: std::io::Error| {
            format!("{path} cannot be written: {}; make room or name another folder", said(&error))
        };
        self.folder.write(file, bytes).map_err(failed)?;
        self.kept.push(path);
        Ok(())
    }
}
