//! `pilumen setups`: the saved setups, and where they are kept.

use std::path::PathBuf;
use std::process::ExitCode;

use super::terminal::{Output, complain, shown};
use super::{PARTLY, UNUSABLE};
use crate::exports::{Language, SCALE_DECIMALS};
use crate::setups::{Setup, SetupsError, SetupsFile};

/// Where setups are kept.
#[derive(clap::Args)]
pub(super) struct Place {
    /// The file of setups, instead of the one in your folder for data
    #[arg(long, value_name = "FILE", env = "PILUMEN_SETUPS", hide_env_values = true)]
    setups: Option<PathBuf>,
}

impl Place {
    /// The file.
    ///
    /// # Errors
    /// When none is given and the system names no folder for data.
    pub(super) fn file(&self) -> Result<SetupsFile, SetupsError> {
        // An empty variable means none.
        SetupsFile::at(self.setups.clone().filter(|path| !path.as_os_str().is_empty()))
    }
}

/// What `pilumen setups` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    place: Place,

    /// Print one JSON object a line instead of words
    #[arg(long)]
    json: bool,
}

/// Lists the setups.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    let read = arguments.place.file().and_then(|file| Ok((file.all()?, file)));
    let (setups, file) = match read {
        Ok(read) => read,
        Err(error) => {
            complain(&format!("pilumen: {error}"));
            let unusable = matches!(error, SetupsError::NoPlace);
            return ExitCode::from(if unusable { UNUSABLE } else { PARTLY });
        }
    };
    let mut output = Output::new();
    for setup in &setups {
        let line = if arguments.json { setup.to_json() } else { words(setup) };
        output.write(format!("{line}\n").as_bytes());
    }
    if setups.is_empty() && !arguments.json {
        let path = shown(file.path());
        let text =
            format!("There is no setup yet in {path}. Measure one: pilumen scale PHOTO --pitch-um 10 --name NAME\n");
        output.write(text.as_bytes());
    }
    if output.has_failed() { ExitCode::from(PARTLY) } else { ExitCode::SUCCESS }
}

fn words(setup: &Setup) -> String {
    let um = Language::English.uncertain(setup.um_per_px, setup.sd_um_per_px, SCALE_DECIMALS);
    let origin = &setup.origin;
    let aperture = setup.aperture.map_or(String::new(), |aperture| format!(", aperture {}", aperture.value()));
    format!(
        "{}: {um} µm a pixel on photos of {} × {} pixels{aperture}; {} lines over {:.0} µm on {}",
        setup.name,
        setup.width_px,
        setup.height_px,
        origin.n_lines,
        origin.span_um,
        origin.photos.join(", ").replace(char::is_control, "?")
    )
}
