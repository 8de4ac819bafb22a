//! `pilumen read`: photos to summaries, evaluation objects, marked photos and a table of shafts.

use std::fs::{self, File};
use std::io::{self, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use tempfile::NamedTempFile;

use super::folder::Folder;
use super::guard::guarded;
use super::model::model;
use super::terminal::{Output, complain, said, shown, small};
use super::{PARTLY, UNUSABLE};
use crate::exports::{Format, Table, from_record};
use crate::finding::Model;
use crate::pipeline::{self, Reading, Want};
use crate::settings::{Asked, Settings};

/// What is kept of each photo in the folder of results.
const KEPT: [Format; 2] = [Format::Json, Format::Marked];

/// A file may have this many bytes for each pixel that may be decoded: 16 bits a channel with opacity, uncompressed.
const BYTES_PER_PIXEL: u64 = 8;

/// And this many beside its pixels, for previews, profiles and notes.
const BYTES_BESIDE: u64 = 64 << 20;

/// What `pilumen read` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    /// Photos as the camera or phone saved them: JPEG, PNG, WebP or TIFF
    #[arg(required = true, value_name = "PHOTO")]
    photos: Vec<PathBuf>,

    /// Micrometres per pixel, measured once with a stage micrometer for this objective and camera
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    um_per_px: Option<f64>,

    /// Keep the results here: of each photo NAME.json and NAME.marked.png, of all shafts shafts.csv, profiles.csv
    /// and centrelines.csv, each with its description
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,

    /// Print one JSON object a line instead of summaries
    #[arg(long)]
    json: bool,

    /// The largest photo to decode, in millions of pixels [default: 100]
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    max_megapixels: Option<f64>,

    /// Judge by this model instead of the program's own
    #[arg(long, value_name = "FILE")]
    model: Option<PathBuf>,

    #[command(flatten)]
    filing: super::case::FilingArguments,
}

/// Reads the photos.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    let asked = Asked { um_per_px: arguments.um_per_px, max_megapixels: arguments.max_megapixels };
    let settings = match Settings::check(asked) {
        Ok(settings) => settings,
        Err(error) => return unusable(&error.to_string()),
    };
    let model = match model(arguments.model.as_deref()) {
        Ok(model) => model,
        Err(sentence) => return unusable(&sentence),
    };
    let mut keeper = match &arguments.out {
        None => None,
        Some(path) => match Folder::new(path, &arguments.photos) {
            Ok(folder) => Some(Keeper { folder, shown: path.clone(), tables: None }),
            Err(error) => {
                let path = shown(path);
                return unusable(&format!("results cannot be kept in {path}: {}; name another folder", said(&error)));
            }
        },
    };
    let mut filing = match arguments.filing.open() {
        Ok(filing) => filing,
        Err(error) => return super::case::fail(&error),
    };
    let want = if keeper.is_some() { Want::Picture } else { Want::Numbers };

    let mut output = Output::new();
    let mut n_failed = 0;
    for (index, photo) in arguments.photos.iter().enumerate() {
        if output.is_closed() && keeper.is_none() && filing.is_none() {
            break;
        }
        let kept = read(photo, &settings, &model, want).and_then(|(bytes, reading)| {
            let filed = filing.as_mut().map(|filing| filing.keep(&bytes, &reading)).transpose()?;
            let kept = keeper.as_mut().map(|keeper| keeper.keep(photo, &reading)).transpose()?;
            let kept: Vec<String> = filed.into_iter().chain(kept).collect();
            Ok((reading, (!kept.is_empty()).then(|| kept.join(", "))))
        });
        match kept {
            Ok((reading, kept)) => tell(&mut output, arguments.json, index > 0, &reading, kept.as_deref()),
            Err(sentence) => {
                n_failed += 1;
                complain(&format!("{}: {sentence}", shown(photo)));
            }
        }
    }
    match keeper.map(Keeper::finish) {
        None | Some(Ok(None)) => (),
        Some(Ok(Some(tables))) if !arguments.json => output.write(format!("\nAll shafts: {tables}\n").as_bytes()),
        Some(Ok(Some(_))) => (),
        Some(Err(sentence)) => {
            n_failed += 1;
            complain(&sentence);
        }
    }
    if n_failed > 0 || output.has_failed() { ExitCode::from(PARTLY) } else { ExitCode::SUCCESS }
}

/// Says why nothing can be begun.
fn unusable(sentence: &str) -> ExitCode {
    complain(&format!("pilumen: {sentence}"));
    ExitCode::from(UNUSABLE)
}

/// Prints what one photo yielded.
fn tell(output: &mut Output, json: bool, apart: bool, reading: &Reading, kept: Option<&str>) {
    let format = if json { Format::Json } else { Format::Summary };
    let mut text = from_record(&reading.entry, None, format);
    if json {
        text.push(b'\n');
    } else {
        if apart {
            text.insert(0, b'\n');
        }
        if let Some(kept) = kept {
            text.extend(format!("  Kept    {kept}\n").bytes());
        }
    }
    output.write(&text);
}

/// One photo's bytes and what was read of them, or a sentence on why not and what to do.
pub(super) fn read(photo: &Path, settings: &Settings, model: &Model, want: Want) -> Result<(Vec<u8>, Reading), String> {
    let bytes = bytes_of(photo, settings)?;
    let name = photo.file_name().unwrap_or(photo.as_os_str()).to_string_lossy().into_owned();
    let reading = read_bytes(&name, &bytes, settings, model, want)?;
    Ok((bytes, reading))
}

/// A photo's bytes read, or a sentence on why not and what to do. `name` is its file name without the folder.
pub(super) fn read_bytes(
    name: &str,
    bytes: &[u8],
    settings: &Settings,
    model: &Model,
    want: Want,
) -> Result<Reading, String> {
    let read = guarded(|| pipeline::read(name, bytes, settings, model, want))?;
    read.map_err(|error| format!("{}; {}", small(&error.to_string()), small(error.help())))
}

/// The bytes of a file, or a sentence on why there are none to read.
pub(super) fn bytes_of(photo: &Path, settings: &Settings) -> Result<Vec<u8>, String> {
    let sentence = |error: &io::Error| match error.kind() {
        ErrorKind::NotFound | ErrorKind::NotADirectory => "there is no such file; check its name".to_owned(),
        ErrorKind::PermissionDenied => {
            "reading it is not permitted; change its permissions, or copy it to a place of your own".to_owned()
        }
        _ => format!("it cannot be read: {}; copy it from the camera again", said(error)),
    };
    let about = fs::metadata(photo).map_err(|error| sentence(&error))?;
    if about.is_dir() {
        return Err("it is a folder; name the photos in it, one by one or with a pattern such as *.jpg".to_owned());
    }
    let limit = settings.max_pixels().saturating_mul(BYTES_PER_PIXEL).saturating_add(BYTES_BESIDE);
    let too_large = || {
        format!("it is larger than {} megabytes; give a larger --max-megapixels if it is a photo", limit / 1_000_000)
    };
    if !about.is_file() && !is_pipe(&about) {
        return Err("it is no file; give the name of a photo".to_owned());
    }
    if about.len() > limit {
        return Err(too_large());
    }
    let mut bytes = Vec::new();
    let file = File::open(photo).map_err(|error| sentence(&error))?;
    file.take(limit + 1).read_to_end(&mut bytes).map_err(|error| sentence(&error))?;
    if bytes.is_empty() {
        return Err("it is empty; copy it from the camera again".to_owned());
    }
    if bytes.len() as u64 > limit {
        return Err(too_large());
    }
    Ok(bytes)
}

/// Another program may hand over a photo through a pipe that has a name.
#[cfg(unix)]
fn is_pipe(about: &fs::Metadata) -> bool {
    use std::os::unix::fs::FileTypeExt;
    about.file_type().is_fifo()
}

#[cfg(not(unix))]
fn is_pipe(_about: &fs::Metadata) -> bool {
    false
}

/// Keeps the results in a folder.
struct Keeper {
    folder: Folder,
    /// The folder as the user named it.
    shown: PathBuf,
    /// Begun with the first photo that could be read, in the order of [`Table::ALL`].
    tables: Option<[NamedTempFile; 3]>,
}

impl Keeper {
    /// Keeps what one photo yielded; says under which names.
    fn keep(&mut self, photo: &Path, reading: &Reading) -> Result<String, String> {
        let name = self.folder.name_for(photo, &KEPT.map(Format::file_ending));
        let mut kept = Vec::new();
        for format in KEPT {
            let file = format!("{name}{}", format.file_ending());
            let bytes = from_record(&reading.entry, reading.picture.as_ref(), format);
            self.folder.write(&file, &bytes).map_err(|error| self.sentence(&file, &error))?;
            kept.push(shown(&self.shown.join(file)));
        }
        self.rows(&name, reading)?;
        Ok(kept.join(", "))
    }

    fn rows(&mut self, name: &str, reading: &Reading) -> Result<(), String> {
        let folder = self.shown.clone();
        let failed = |table: Table| {
            let file = shown(&folder.join(table.file()));
            move |error: io::Error| sentence_of(&file, &error)
        };
        let tables = match &mut self.tables {
            Some(tables) => tables,
            empty => {
                let mut begun = Vec::new();
                for table in Table::ALL {
                    let catalogue = &reading.entry.catalogue;
                    let mut file = self.folder.begin().map_err(failed(table))?;
                    file.write_all(&table.head(catalogue)).map_err(failed(table))?;
                    let description = table.description_file();
                    let written = self.folder.write(&description, &table.description(catalogue));
                    written.map_err(|error| sentence_of(&shown(&folder.join(&description)), &error))?;
                    begun.push(file);
                }
                let Ok(begun) = <[NamedTempFile; 3]>::try_from(begun) else { return Ok(()) };
                empty.insert(begun)
            }
        };
        for (table, file) in Table::ALL.into_iter().zip(tables) {
            file.write_all(&table.rows(&reading.entry, name)).map_err(failed(table))?;
        }
        Ok(())
    }

    /// Gives the tables their names; `None` when no photo was read.
    fn finish(self) -> Result<Option<String>, String> {
        let Some(tables) = self.tables else { return Ok(None) };
        let mut kept = Vec::new();
        for (table, file) in Table::ALL.into_iter().zip(tables) {
            let shown = shown(&self.shown.join(table.file()));
            self.folder.finish(file, table.file()).map_err(|error| sentence_of(&shown, &error))?;
            kept.push(shown);
        }
        Ok(Some(kept.join(", ")))
    }

    fn sentence(&self, file: &str, error: &io::Error) -> String {
        sentence_of(&shown(&self.shown.join(file)), error)
    }
}

fn sentence_of(file: &str, error: &io::Error) -> String {
    format!("{file} cannot be written: {}; make room or name another folder", said(error))
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::super::Arguments;
    use crate::settings::Settings;

    #[test]
    fn the_help_states_the_limit_that_holds() {
        let mut command = Arguments::command();
        let help = command.find_subcommand_mut("read").unwrap().render_long_help().to_string();
        let limit = Settings::default().max_pixels() / 1_000_000;
        assert!(help.contains(&format!("[default: {limit}]")), "{help}");
    }
}
