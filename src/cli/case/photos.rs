//! Keeping photos, and reading kept photos again.

use std::path::PathBuf;
use std::process::ExitCode;

use super::super::typed::number;
use super::record::{Done, Told, json};
use crate::cli::PARTLY;
use crate::cli::model::{judging, model};
use crate::cli::photos::{bytes_of, read_bytes, read_pair};
use crate::cli::terminal::{Output, complain, shown};
use crate::exports::{Format, from_record};
use crate::finding::{Model, model_from_bytes};
use crate::pipeline::{VisiblePhoto, Want};
use crate::settings::{Asked, Settings};
use crate::store::{Kept, Kind, Light, OwnModels, Photo, Program, Reading, Store, StoreError, short};

/// What `pilumen case photo` is told.
#[derive(clap::Args)]
pub(super) struct PhotoArguments {
    /// The slide: id, or what is written on the glass
    slide: String,
    /// Photos as the camera or phone saved them
    #[arg(required = true, value_name = "PHOTO")]
    photos: Vec<PathBuf>,
    /// What they were lit by: uv or visible
    #[arg(long, default_value = "uv")]
    light: Light,
    /// Go on with an import that was cut short: photos that are on the slide already are passed over
    #[arg(long)]
    resume: bool,
}

/// Keeps photos one by one; each line of the answer says that one has reached the disk.
pub(super) fn photo(arguments: &PhotoArguments, told: &Told<'_>) -> Done {
    let (mut store, stamp) = told.writing()?;
    let slide = store.find_slide(&arguments.slide)?;
    let mut output = Output::new();
    let mut n_failed = 0;
    for path in &arguments.photos {
        let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
        let kept = match bytes_of(path, &Settings::default()) {
            Err(sentence) => Err(sentence),
            Ok(bytes) => match store.add_photo(&slide, &name, &bytes, arguments.light, &stamp) {
                Err(StoreError::SamePhoto { .. }) if arguments.resume => match there(&store, &slide, &bytes)? {
                    Some(photo) => Ok((photo, "was there already")),
                    None => Err("it is in the record already, but not on this slide; nothing was added".to_owned()),
                },
                // What stops one photo for a reason of its own does not stop the others.
                Err(error @ (StoreError::SamePhoto { .. } | StoreError::Unusable(_))) => Err(error.to_string()),
                Err(error) => return Err(error),
                Ok(photo) => Ok((photo, "kept")),
            },
        };
        match kept {
            Ok((photo, _)) if told.json => output.write(json(&photo).as_bytes()),
            Ok((photo, how)) => output.write(format!("{}: {how} as photo {}\n", shown(path), photo.short()).as_bytes()),
            Err(sentence) => {
                n_failed += 1;
                complain(&format!("{}: {sentence}", shown(path)));
            }
        }
    }
    Ok(if n_failed > 0 || output.has_failed() { ExitCode::from(PARTLY) } else { ExitCode::SUCCESS })
}

/// The photo with these bytes, where it is on this slide.
pub(in crate::cli) fn there(store: &Store, slide: &str, bytes: &[u8]) -> Result<Option<Kept<Photo>>, StoreError> {
    let photo = store.photo_of_digest(&crate::store::digest(bytes))?;
    Ok(photo.filter(|photo| photo.parent.as_deref() == Some(slide)))
}

/// What `pilumen case reread` is told.
#[derive(clap::Args)]
pub(super) struct RereadArguments {
    /// The photo, or the slide whose photos are read: id
    of: String,
    /// Micrometres per pixel
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = number)]
    um_per_px: Option<f64>,
    /// Judge by this model instead of the one in use: the program's own, or the one accepted in the record
    #[arg(long, value_name = "FILE")]
    model: Option<PathBuf>,
}

pub(super) fn reread(arguments: &RereadArguments, told: &Told<'_>) -> Done {
    let (mut store, stamp) = told.writing()?;
    let settings = Settings::check(Asked { um_per_px: arguments.um_per_px, ..Asked::default() })
        .map_err(|error| StoreError::Unusable(error.to_string()))?;
    let model = judging(arguments.model.as_deref(), told.place.named()).map_err(StoreError::Unusable)?.model;
    let photos = match store.find(Some(Kind::Photo), &arguments.of) {
        Ok(photo) => vec![store.photo(&photo)?],
        Err(StoreError::Unknown { .. }) => store.photos_of_slide(&store.find_slide(&arguments.of)?)?,
        Err(error) => return Err(error),
    };
    let mut output = Output::new();
    let mut n_failed = 0;
    for photo in photos.iter().filter(|photo| !photo.withdrawn && photo.fact.light == Light::Uv) {
        match evaluation_of(&store, photo, &photo.fact.file, None, &settings, &model)? {
            Ok(evaluation) => {
                let kept = store.add_reading(&photo.id, &evaluation, &stamp)?;
                let words =
                    || format!("Photo {}: kept reading {}\n  {}\n", photo.short(), kept.short(), kept.fact.sentence);
                output.write(if told.json { json(&kept) } else { words() }.as_bytes());
            }
            Err(sentence) => {
                n_failed += 1;
                complain(&format!("photo {}: {sentence}", photo.short()));
            }
        }
    }
    Ok(if n_failed > 0 || output.has_failed() { ExitCode::from(PARTLY) } else { ExitCode::SUCCESS })
}

/// The evaluation of a kept photo, read together with the one in visible light (name and bytes) where one is given, or
/// a sentence on why it cannot be read.
fn evaluation_of(
    store: &Store,
    photo: &Kept<Photo>,
    name: &str,
    visible: Option<(&str, &[u8])>,
    settings: &Settings,
    model: &Model,
) -> Result<Result<String, String>, StoreError> {
    let bytes = store.photo_bytes(&photo.id)?;
    let reading = match visible {
        None => read_bytes(name, &bytes, settings, model, Want::Numbers),
        Some((file, second)) => {
            let second = VisiblePhoto { file, bytes: second };
            read_pair(name, &bytes, second, settings, model, Want::Numbers)
        }
    };
    Ok(reading.map(|reading| text_of(from_record(&reading.entry, None, Format::Json))))
}

/// An evaluation object as text; it is made of text.
pub(in crate::cli) fn text_of(evaluation: Vec<u8>) -> String {
    String::from_utf8(evaluation).unwrap_or_default()
}

/// What `pilumen case repeat` is told.
#[derive(clap::Args)]
pub(super) struct RepeatArguments {
    /// The reading: id
    reading: String,
    /// The model it was judged by, where that is neither the program's own nor one grown with this record
    #[arg(long, value_name = "FILE")]
    model: Option<PathBuf>,
}

/// How a repetition compares.
#[derive(serde::Serialize)]
struct Repeated {
    reading: String,
    same: bool,
    sentence: String,
}

/// Makes a reading again from the kept photo with the kept settings; keeps nothing.
pub(super) fn repeat(arguments: &RepeatArguments, told: &Told<'_>) -> Done {
    let store = told.place.open()?;
    let id = store.find(Some(Kind::Reading), &arguments.reading)?;
    let reading: Kept<Reading> = store.reading(&id)?;
    let settings = settings_of(&reading.fact.program).map_err(StoreError::Unusable)?;
    let program = &reading.fact.program;
    let own = OwnModels::of(store.folder()).of_digest(&program.model_sha256)?;
    let model = match (&arguments.model, own) {
        (None, Some(own)) => model_from_bytes(&own.bytes).map_err(|error| StoreError::Unusable(error.to_string()))?,
        _ => model(arguments.model.as_deref()).map_err(StoreError::Unusable)?,
    };
    if model.sha256() != program.model_sha256 {
        return Err(StoreError::Unusable(format!(
            "reading {} was judged by the model {}, and this one is {}; give that model with --model FILE",
            reading.short(),
            short(&program.model_sha256),
            short(model.sha256())
        )));
    }
    let photo = store.photo(reading.parent.as_deref().unwrap_or_default())?;
    let before = store.evaluation(&id)?;
    // The photo may have been read under another name than the one it was kept with.
    let name = before["photo"]["file"].as_str().unwrap_or(&photo.fact.file);
    let visible = match (before["photo"]["visible"]["file"].as_str(), before["photo"]["visible"]["sha256"].as_str()) {
        (Some(file), Some(sha256)) => {
            let second = store.photo_of_digest(sha256)?.ok_or_else(|| {
                StoreError::Unusable(format!(
                    "reading {} was made with the visible photo {file}, which is not in the record; keep it there and \
                     try again",
                    reading.short()
                ))
            })?;
            Some((file, store.photo_bytes(&second.id)?))
        }
        _ => None,
    };
    let second = visible.as_ref().map(|(file, bytes)| (*file, bytes.as_slice()));
    let again = evaluation_of(&store, &photo, name, second, &settings, &model)?.map_err(StoreError::Unusable)?;
    let same = again == store.evaluation_text(&id)?;
    let version = env!("CARGO_PKG_VERSION");
    let sentence = if same {
        format!("reading {} was made again, byte for byte", reading.short())
    } else if program.version == version {
        format!("reading {} came out otherwise with the same version; please report this", reading.short())
    } else {
        format!(
            "reading {} came out otherwise: it was made by version {}, this is {version}",
            reading.short(),
            program.version
        )
    };
    told.answer(&Repeated { reading: id, same, sentence: sentence.clone() }, || format!("{sentence}\n"))?;
    Ok(if same { ExitCode::SUCCESS } else { ExitCode::from(PARTLY) })
}

/// The settings that a reading was made with.
fn settings_of(program: &Program) -> Result<Settings, String> {
    let mut asked = Asked::default();
    for (name, &value) in &program.settings {
        match name.as_str() {
            "um_per_px" => asked.um_per_px = Some(value),
            "max_megapixels" => asked.max_megapixels = Some(value),
            other => return Err(format!("the reading was made with a setting {other} that is not known here")),
        }
    }
    Settings::check(asked).map_err(|error| error.to_string())
}
