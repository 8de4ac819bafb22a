//! `pilumen read`: photos to summaries, evaluation objects, marked photos and a table of shafts.

use std::collections::BTreeSet;
use std::io::{IsTerminal, stderr, stdout};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::batch::{Lane, Room, in_order};
use super::case::Filing;
use super::guard::guarded;
use super::keeper::{Before, Filed, Keeper, Tables};
use super::kept_rows::Rows;
use super::model::judging;
use super::photos::{Named, bytes_of, file_name, named, read_bytes, read_pair};
use super::setups::Place;
use super::terminal::{Output, complain, said, shown};
use super::typed::number;
use super::{PARTLY, UNUSABLE};
use crate::exports::{Format, from_record, slide_json, slide_summary};
use crate::finding::Model;
use crate::image::stated_pixels;
use crate::pipeline::{self, Reading, VisiblePhoto, Want};
use crate::record::{Entry, one_slide};
use crate::settings::{Asked, Settings};

/// Exit code of a program that was interrupted, by custom of shells: 128 and the signal's number.
const INTERRUPTED: i32 = 130;

/// What a photo without a readable head is planned as, pixels: a phone's photo.
const USUAL_PIXELS: u64 = 12_000_000;

/// What `pilumen read` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    /// Photos as the camera or phone saved them: JPEG, PNG, WebP or TIFF; or folders of such
    #[arg(required = true, value_name = "PHOTO")]
    photos: Vec<PathBuf>,

    /// A second photo of the same field in visible light; one for each UV photo, in the same order
    #[arg(long, value_name = "PHOTO")]
    visible: Vec<PathBuf>,

    /// The photos are of one slide (other focus, exposure or field): tell which shafts are the same, and one finding
    #[arg(long)]
    one_slide: bool,

    /// Micrometres per pixel, measured once with a stage micrometer for this objective and camera
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = number)]
    um_per_px: Option<f64>,

    /// The saved setup the photos were taken with; see `pilumen setups`
    #[arg(long, value_name = "NAME", conflicts_with = "um_per_px")]
    setup: Option<String>,

    #[command(flatten)]
    place: Place,

    /// Keep the results here: of each photo NAME.json and NAME.marked.png, of all shafts shafts.csv, profiles.csv
    /// and centrelines.csv, each with its description
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,

    /// Read photos again whose results are in the folder already, made by the same model with the same settings
    #[arg(long, requires = "out")]
    again: bool,

    /// Print one JSON object a line instead of summaries
    #[arg(long)]
    json: bool,

    /// The largest photo to decode, in millions of pixels [default: 100]
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = number)]
    max_megapixels: Option<f64>,

    /// Judge by this model instead of the one in use: the program's own, or the one accepted in your record
    #[arg(long, value_name = "FILE")]
    model: Option<PathBuf>,

    #[command(flatten)]
    filing: super::case::FilingArguments,
}

/// Reads the photos.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    let settings = match settings(arguments) {
        Ok(settings) => settings,
        Err(sentence) => return unusable(&sentence),
    };
    let model = match judging(arguments.model.as_deref(), arguments.filing.record()) {
        Ok(judging) => judging.model,
        Err(sentence) => return unusable(&sentence),
    };
    let photos = named(&arguments.photos);
    if let Err(sentence) = one_each(arguments.visible.len(), photos.len()) {
        return unusable(&sentence);
    }
    let paths: Vec<PathBuf> =
        photos.iter().map(|photo| photo.as_ref().map_or_else(|(path, _)| path.clone(), PathBuf::clone)).collect();
    let keeper = match &arguments.out {
        None => None,
        Some(path) => match Keeper::new(path, &paths) {
            Ok(keeper) => Some(keeper),
            Err(error) => {
                let path = shown(path);
                return unusable(&format!("results cannot be kept in {path}: {}; name another folder", said(&error)));
            }
        },
    };
    let filing = match arguments.filing.open() {
        Ok(filing) => filing,
        Err(error) => return super::case::fail(&error),
    };
    let job = Job {
        settings,
        model,
        keeper: keeper.as_ref(),
        files: filing.is_some(),
        again: arguments.again,
        one_slide: arguments.one_slide,
        json: arguments.json,
        room: Room::new(),
        photos,
        visible: &arguments.visible,
    };
    job.run(filing)
}

/// What photos are read with.
fn settings(arguments: &Arguments) -> Result<Settings, String> {
    let setup = match &arguments.setup {
        None => None,
        Some(name) => {
            let file = arguments.place.file().map_err(|error| error.to_string())?;
            Some(file.named(name).map_err(|error| error.to_string())?)
        }
    };
    let asked = Asked { um_per_px: arguments.um_per_px, setup, max_megapixels: arguments.max_megapixels };
    Settings::check(asked).map_err(|error| error.to_string())
}

/// Photos in visible light come one for each photo under the UV lamp, or not at all.
fn one_each(n_visible: usize, n_uv: usize) -> Result<(), String> {
    if n_visible == 0 || n_visible == n_uv {
        return Ok(());
    }
    let words = |n: usize, kind: &str| format!("{n} {kind} photo{}", if n == 1 { "" } else { "s" });
    let (visible, uv) = (words(n_visible, "visible"), words(n_uv, "UV"));
    Err(format!("{uv} and {visible} were named; give one --visible for each UV photo, in the same order"))
}

/// Says why nothing can be begun.
fn unusable(sentence: &str) -> ExitCode {
    complain(&format!("pilumen: {sentence}"));
    ExitCode::from(UNUSABLE)
}

/// All photos of a run, and how they are to be read.
struct Job<'a> {
    settings: Settings,
    model: Model,
    keeper: Option<&'a Keeper>,
    /// Whether photos and readings go into a case record.
    files: bool,
    again: bool,
    /// Whether the photos are of one slide.
    one_slide: bool,
    json: bool,
    room: Room,
    photos: Vec<Named>,
    /// The second photos in visible light, one a photo; none at all where none were named.
    visible: &'a [PathBuf],
}

/// What is left of a photo once it is read and drawn.
struct Told {
    text: Vec<u8>,
    /// What was kept of it, for a person.
    kept: Option<String>,
    rows: Option<Rows>,
    before: bool,
    /// What goes into a case record, where one is kept.
    for_record: Option<ForRecord>,
    /// What was read, where photos are of one slide.
    entry: Option<Entry>,
}

/// What goes into a case record of a photo.
struct ForRecord {
    bytes: Vec<u8>,
    /// Name and bytes of the second photo in visible light.
    visible: Option<(String, Vec<u8>)>,
    reading: Reading,
}

impl Job<'_> {
    fn run(&self, mut filing: Option<Filing>) -> ExitCode {
        let stop = Arc::new(AtomicBool::new(false));
        stop_on_interrupt(&stop);
        let interrupted = AtomicBool::new(false);
        let bar = progress(self.photos.len());
        let mut output = Output::new();
        let mut tables = self.keeper.map(Keeper::tables);
        let (mut n_failed, mut n_unread, mut n_before) = (0, 0, 0);
        let mut of_slide: Vec<Entry> = Vec::new();
        let n_workers = thread::available_parallelism().map_or(1, usize::from);
        let n_told = in_order(
            self.photos.len(),
            n_workers,
            &stop,
            |index, lane| self.one(index, lane),
            |index, told| {
                let told = told.and_then(|told| {
                    // In the order of photos, on one thread: a record has one writer.
                    let filed = match (&mut filing, &told.for_record) {
                        (Some(filing), Some(ForRecord { bytes, visible, reading })) => {
                            let visible = visible.as_ref().map(|(file, bytes)| (file.as_str(), bytes.as_slice()));
                            Some(filing.keep(bytes, visible, reading)?)
                        }
                        _ => None,
                    };
                    if let (Some(tables), Some(rows)) = (&mut tables, &told.rows) {
                        tables.add(rows)?;
                    }
                    let kept: Vec<&str> = filed.iter().chain(&told.kept).map(String::as_str).collect();
                    let mut text = told.text;
                    if !kept.is_empty() && !self.json {
                        text.extend(format!("  Kept    {}\n", kept.join(", ")).bytes());
                    }
                    of_slide.extend(told.entry);
                    Ok((text, told.before))
                });
                let tell = || match told {
                    Ok((text, before)) => {
                        n_before += usize::from(before);
                        if index > 0 && !self.json {
                            output.write(b"\n");
                        }
                        output.write(&text);
                    }
                    Err(sentence) => {
                        n_failed += 1;
                        n_unread += 1;
                        complain(&format!("{}: {sentence}", shown(self.path(index))));
                    }
                };
                // The bar would run through the text.
                if bar.is_hidden() {
                    tell()
                } else {
                    bar.suspend(tell)
                }
                bar.inc(1);
                if output.is_closed() && self.keeper.is_none() && !self.files {
                    // Nobody reads on, and nothing is kept: the rest would be for nothing.
                    interrupted.store(true, Ordering::SeqCst);
                    stop.store(true, Ordering::SeqCst);
                }
            },
        );
        bar.finish_and_clear();
        if !of_slide.is_empty() {
            n_failed += self.tell_slide(&of_slide, &mut output);
        }
        match tables.map(Tables::finish) {
            None | Some(Ok(None)) => (),
            Some(Ok(Some(tables))) if !self.json => output.write(format!("\nAll shafts: {tables}\n").as_bytes()),
            Some(Ok(Some(_))) => (),
            Some(Err(sentence)) => {
                n_failed += 1;
                complain(&sentence);
            }
        }
        if n_before > 0 && !self.json {
            let words = if n_before == 1 { "1 photo was" } else { &format!("{n_before} photos were") };
            output.write(
                format!("{words} read before with the same model and settings; --again reads anew\n").as_bytes(),
            );
        }
        if n_unread > 0 && self.photos.len() > 1 {
            complain(&format!("{n_unread} of {} photos could not be read; each is named above", self.photos.len()));
        }
        let left = self.photos.len() - n_told;
        if left > 0 && !interrupted.load(Ordering::SeqCst) {
            let kept =
                if self.keeper.is_some() { "; what was read is kept whole, the same command goes on" } else { "" };
            complain(&format!("stopped: {n_told} of {} photos were read{kept}", self.photos.len()));
            n_failed += 1;
        }
        if n_failed > 0 || output.has_failed() { ExitCode::from(PARTLY) } else { ExitCode::SUCCESS }
    }

    /// Tells what the photos of one slide add up to; gives the number of complaints.
    fn tell_slide(&self, entries: &[Entry], output: &mut Output) -> usize {
        // One photo twice is one measurement.
        let (mut known, mut once) = (BTreeSet::new(), Vec::new());
        for entry in entries {
            if known.insert(&entry.photo.sha256) {
                once.push(entry);
            } else {
                complain(&format!("{}: the same photo was named before; it counts once", entry.photo.file));
            }
        }
        let entries: Vec<&Entry> = once;
        let told = guarded(|| {
            let slide = one_slide(&entries);
            (slide_json(&slide, &entries), slide_summary(&slide, &entries))
        });
        let (object, summary) = match told {
            Ok(told) => told,
            Err(sentence) => {
                complain(&sentence);
                return 1;
            }
        };
        let text = if self.json { format!("{object}\n") } else { format!("\n{summary}") };
        output.write(text.as_bytes());
        match self.keeper.map(|keeper| keeper.keep_slide(&object)) {
            Some(Err(sentence)) => {
                complain(&sentence);
                1
            }
            Some(Ok(file)) if !self.json => {
                output.write(format!("  Kept    {file}\n").as_bytes());
                0
            }
            _ => 0,
        }
    }

    fn path(&self, index: usize) -> &Path {
        match &self.photos[index] {
            Ok(path) | Err((path, _)) => path,
        }
    }

    /// One photo read and kept, or a sentence on why not and what to do.
    fn one(&self, index: usize, lane: &Lane) -> Result<Told, String> {
        let photo = self.photos[index].as_ref().map_err(|(_, sentence)| sentence.clone())?;
        let bytes = bytes_of(photo, &self.settings)?;
        let visible = self.visible.get(index);
        let second = match visible {
            Some(visible) => {
                let sentence = |sentence| format!("its visible photo {}: {sentence}", shown(visible));
                Some((file_name(visible), bytes_of(visible, &self.settings).map_err(sentence)?))
            }
            None => None,
        };
        if let Some(told) = self.read_before(index, photo, &bytes, second.as_ref().map(|(_, bytes)| bytes.as_slice())) {
            return Ok(told);
        }
        let pixels = |bytes: &[u8]| stated_pixels(bytes).unwrap_or(USUAL_PIXELS);
        let pixels = pixels(&bytes) + second.as_ref().map_or(0, |(_, bytes)| pixels(bytes));
        let _share = self.room.take(pixels);
        let (reading, filed) = lane.work(pixels, || self.read_and_keep(index, photo, &bytes, second.as_ref()))?;
        let format = if self.json { Format::Json } else { Format::Summary };
        let mut text = from_record(&reading.entry, None, format);
        if self.json {
            text.push(b'\n');
        }
        let entry = self.one_slide.then(|| reading.entry.clone());
        let for_record = self.files.then_some(ForRecord { bytes, visible: second, reading });
        let (kept, rows) = filed.map(|filed| (filed.files, filed.rows)).unzip();
        Ok(Told { text, kept, rows, before: false, for_record, entry })
    }

    /// A photo read and, where results are kept, drawn and written; its picture is let go then.
    fn read_and_keep(
        &self,
        index: usize,
        photo: &Path,
        bytes: &[u8],
        second: Option<&(String, Vec<u8>)>,
    ) -> Result<(Reading, Option<Filed>), String> {
        let want = if self.keeper.is_some() { Want::Picture } else { Want::Numbers };
        let name = file_name(photo);
        let mut reading = match second {
            None => read_bytes(&name, bytes, &self.settings, &self.model, want)?,
            Some((file, second)) => {
                let second = VisiblePhoto { file, bytes: second };
                read_pair(&name, bytes, second, &self.settings, &self.model, want)?
            }
        };
        let filed = match self.keeper {
            Some(keeper) => Some(guarded(|| keeper.keep(index, &reading))??),
            None => None,
        };
        reading.picture = None;
        Ok((reading, filed))
    }

    /// A photo whose results are in the folder already.
    fn read_before(&self, index: usize, photo: &Path, bytes: &[u8], visible: Option<&[u8]>) -> Option<Told> {
        // A record is told of every reading anew, and a slide needs the whole of each.
        let keeper = self.keeper.filter(|_| !self.again && !self.files && !self.one_slide)?;
        let digest = pipeline::digest(bytes);
        let visible = visible.map(pipeline::digest);
        let Before { mut object, n_shafts, filed } =
            keeper.before(index, photo, [Some(&digest), visible.as_ref()], &self.settings, &self.model)?;
        let text = if self.json {
            object.push(b'\n');
            object
        } else {
            let shafts = if n_shafts == 1 { "1 shaft" } else { &format!("{n_shafts} shafts") };
            format!("{}: read before, {shafts}\n", shown(Path::new(&file_name(photo)))).into_bytes()
        };
        Some(Told {
            text,
            kept: Some(filed.files),
            rows: Some(filed.rows),
            before: true,
            for_record: None,
            entry: None,
        })
    }
}

/// The first interrupt lets photos under work be finished; the second ends the program at once. Files are whole or
/// not there either way.
fn stop_on_interrupt(stop: &Arc<AtomicBool>) {
    let stop = Arc::clone(stop);
    // Where signals cannot be had, an interrupt ends the program as ever.
    let _ = ctrlc::set_handler(move || {
        if stop.swap(true, Ordering::SeqCst) {
            std::process::exit(INTERRUPTED);
        }
    });
}

/// A bar on the terminal for several photos; hidden where nobody would see it.
fn progress(n_photos: usize) -> ProgressBar {
    // Summaries on the same terminal tell the progress of a few photos themselves.
    if n_photos < 2 || !stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::with_draw_target(Some(n_photos as u64), ProgressDrawTarget::stderr());
    let shape = if stdout().is_terminal() { "{bar:20}" } else { "{bar:40}" };
    let template = format!("{shape} {{pos}} of {{len}} photos, {{eta}} left");
    if let Ok(style) = ProgressStyle::with_template(&template) {
        bar.set_style(style);
    }
    bar.tick();
    bar
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::super::Arguments;
    use crate::settings::Settings;

    #[test]
    fn visible_photos_come_one_each_or_not_at_all() {
        assert!(super::one_each(0, 3).is_ok() && super::one_each(2, 2).is_ok());
        let sentence = super::one_each(1, 2).unwrap_err();
        assert!(sentence.starts_with("2 UV photos and 1 visible photo were named; give one --visible"), "{sentence}");
    }

    #[test]
    fn the_help_states_the_limit_that_holds() {
        let mut command = Arguments::command();
        let help = command.find_subcommand_mut("read").unwrap().render_long_help().to_string();
        let limit = Settings::default().max_pixels() / 1_000_000;
        assert!(help.contains(&format!("[default: {limit}]")), "{help}");
    }
}
