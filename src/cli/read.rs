//! `pilumen read`: photos to summaries, evaluation objects, marked photos and a table of shafts.

use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use tempfile::NamedTempFile;

use super::folder::Folder;
use super::model::model;
use super::photo::read;
use super::terminal::{Output, complain, said, shown};
use super::{PARTLY, UNUSABLE};
use crate::exports::{Format, from_record, shafts_head, shafts_rows};
use crate::pipeline::{Reading, Want};
use crate::settings::{Asked, Settings};

/// The table of all shafts of a run.
const TABLE: &str = "shafts.csv";

/// What is kept of each photo in the folder of results.
const KEPT: [Format; 2] = [Format::Json, Format::Marked];

/// What `pilumen read` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    /// Photos as the camera or phone saved them: JPEG, PNG, WebP or TIFF
    #[arg(required = true, value_name = "PHOTO")]
    photos: Vec<PathBuf>,

    /// Micrometres per pixel, measured once with a stage micrometer for this objective and camera
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    um_per_px: Option<f64>,

    /// Keep the results here: of each photo NAME.json and NAME.marked.png, of all shafts one shafts.csv
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
            Ok(folder) => Some(Keeper { folder, shown: path.clone(), table: None }),
            Err(error) => {
                let path = shown(path);
                return unusable(&format!("results cannot be kept in {path}: {}; name another folder", said(&error)));
            }
        },
    };
    let want = if keeper.is_some() { Want::Picture } else { Want::Numbers };

    let mut output = Output::new();
    let mut n_failed = 0;
    for (index, photo) in arguments.photos.iter().enumerate() {
        if output.is_closed() && keeper.is_none() {
            break;
        }
        let kept = read(photo, &settings, &model, want).and_then(|reading| {
            let kept = keeper.as_mut().map(|keeper| keeper.keep(photo, &reading)).transpose()?;
            Ok((reading, kept))
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
        Some(Ok(Some(table))) if !arguments.json => output.write(format!("\nAll shafts: {table}\n").as_bytes()),
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

/// Keeps the results in a folder.
struct Keeper {
    folder: Folder,
    /// The folder as the user named it.
    shown: PathBuf,
    /// Begun with the first photo that could be read.
    table: Option<NamedTempFile>,
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
        self.row(&name, reading).map_err(|error| self.sentence(TABLE, &error))?;
        Ok(kept.join(", "))
    }

    fn row(&mut self, name: &str, reading: &Reading) -> io::Result<()> {
        let table = match &mut self.table {
            Some(table) => table,
            empty => {
                let table = empty.insert(self.folder.begin()?);
                table.write_all(&shafts_head(&reading.entry.catalogue))?;
                table
            }
        };
        table.write_all(&shafts_rows(&reading.entry, name))
    }

    /// Gives the table its name; `None` when no photo was read.
    fn finish(self) -> Result<Option<String>, String> {
        let shown = shown(&self.shown.join(TABLE));
        let Some(table) = self.table else { return Ok(None) };
        match self.folder.finish(table, TABLE) {
            Ok(()) => Ok(Some(shown)),
            Err(error) => Err(sentence_of(&shown, &error)),
        }
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
