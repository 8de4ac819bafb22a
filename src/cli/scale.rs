//! `pilumen scale`: the micrometres a pixel from photos of a stage micrometer, saved as a setup.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::guard::guarded;
use super::photos::{bytes_of, file_name};
use super::setups::Place;
use super::terminal::{ended, shown, small};
use super::typed::number;
use super::{PARTLY, UNUSABLE};
use crate::exports::{Language, SCALE_DECIMALS};
use crate::image::{self, from_bytes};
use crate::scale::{self, Aperture, Found, Pitch, Ruling, Rulings, ScaleError, combine};
use crate::settings::Settings;
use crate::setups::{Setup, SetupsError, fit_name};

/// What `pilumen scale` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    /// Photos of the ruled lines, taken as photos of hair are: same objective, camera, zoom and picture size. A second
    /// one with the lines turned by a quarter tells whether pixels are square
    #[arg(required = true, value_name = "PHOTO")]
    photos: Vec<PathBuf>,

    /// Distance of neighbouring lines in micrometres, as the micrometer states it
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = number)]
    pitch_um: f64,

    /// One standard deviation of that distance, from the micrometer's certificate
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = number)]
    pitch_sd_um: Option<f64>,

    /// Save the scale under this name, such as "10x phone"
    #[arg(long)]
    name: Option<String>,

    /// Replace a setup of that name
    #[arg(long, requires = "name")]
    replace: bool,

    /// Numerical aperture of the objective, written on it after the magnification, such as 0.25
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = number)]
    na: Option<f64>,

    #[command(flatten)]
    place: Place,

    /// Print one JSON object instead of words
    #[arg(long)]
    json: bool,
}

/// Finds the scale, and saves it where a name is given.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    ended(find(arguments))
}

fn find(arguments: &Arguments) -> Result<String, (u8, String)> {
    let unusable = |sentence: String| (UNUSABLE, sentence);
    let partly = |sentence: String| (PARTLY, sentence);
    let pitch = Pitch::new(arguments.pitch_um, arguments.pitch_sd_um).map_err(|error| unusable(whole(&error)))?;
    let aperture = match arguments.na {
        None => None,
        Some(na) => Some(Aperture::new(na).ok_or_else(|| {
            unusable(format!(
                "{na} is no numerical aperture of a dry objective; give the one written on it, such as 0.25"
            ))
        })?),
    };
    let file = arguments.place.file();
    let name = match &arguments.name {
        None => None,
        Some(name) => {
            let shown = name.replace(char::is_control, "?");
            let name = fit_name(name).ok_or_else(|| unusable(SetupsError::Name(shown).to_string()))?;
            let file = file.map_err(|error| unusable(error.to_string()))?;
            // Said before photos are read, which takes time; and again when it is saved.
            let all = file.all().map_err(|error| partly(error.to_string()))?;
            if let Some(known) = all.into_iter().find(|setup| setup.is_called(name)).filter(|_| !arguments.replace) {
                return Err(partly(SetupsError::Known(known.name).to_string()));
            }
            Some((name, file))
        }
    };
    let photos: Vec<Rulings> =
        arguments.photos.iter().map(|photo| rulings(photo)).collect::<Result<_, _>>().map_err(partly)?;
    let found = combine(&photos, pitch).map_err(|error| partly(whole(&error)))?;
    let photos = arguments.photos.iter().map(|photo| file_name(photo)).collect();
    let setup = Setup::new(name.as_ref().map_or("", |(name, _)| name), &found, pitch, photos, aperture);
    if let Some((_, file)) = &name {
        file.save(setup.clone(), arguments.replace).map_err(|error| partly(error.to_string()))?;
    }
    if arguments.json {
        return Ok(setup.to_json_with(&found.all_concerns(aperture)) + "\n");
    }
    let mut text = words(&found, pitch, aperture);
    if let Some((name, file)) = &name {
        text += &format!("  Saved   \"{name}\" in {}\n", shown(file.path()));
        text += &format!("  Use     pilumen read PHOTO --setup \"{name}\"\n");
    }
    Ok(text)
}

/// The rulings on a photo, or a sentence that begins with its name.
fn rulings(photo: &Path) -> Result<Rulings, String> {
    let sentence = |sentence: String| format!("{}: {sentence}", shown(photo));
    let bytes = bytes_of(photo, &Settings::default()).map_err(sentence)?;
    let decoded = from_bytes(&bytes, &image::Settings::default())
        .map_err(|error| sentence(format!("{}; {}", small(&error.to_string()), small(error.help()))))?;
    guarded(|| scale::from_image(&decoded)).map_err(sentence)?.map_err(|error| sentence(whole(&error)))
}

/// The error and what to do about it, one sentence.
fn whole(error: &ScaleError) -> String {
    format!("{error}; {}", small(error.help()))
}

/// Per cent of the scale below which its uncertainty is not told closer: engraved lines are no truer (from memory).
const SUREST: f64 = 0.01;

/// What was found, for a person.
fn words(found: &Found, pitch: Pitch, aperture: Option<Aperture>) -> String {
    let share = 100.0 * found.sd_um_per_px / found.um_per_px;
    let um = Language::English.uncertain(found.um_per_px, found.sd_um_per_px, SCALE_DECIMALS);
    // Two digits that say something; what the fit alone would call surer no ruling is made to.
    let decimals = (1.0 - share.max(1e-9).log10().floor()).max(0.0) as usize;
    let sure = if share < SUREST { format!("less than {SUREST} %") } else { format!("{share:.decimals$} %") };
    let mut text = format!("{um} µm a pixel (± {sure}) on photos of {} × {} pixels\n", found.width_px, found.height_px);
    for ruling in &found.rulings {
        text += &format!("  Lines   {}\n", line(ruling, pitch));
    }
    if let Some(square) = found.squareness {
        let ratio = Language::English.uncertain(square.ratio, square.sd, SCALE_DECIMALS);
        text += &format!("  Pixels  width over height {ratio}\n");
    }
    text += &match found.distortion {
        Some(d) => format!(
            "  Field   the scale differs over the photo by up to {:.2} %, {:.2} % root mean square\n",
            100.0 * d.largest_share,
            100.0 * d.rms_share
        ),
        None => "  Field   no distortion is evident\n".to_owned(),
    };
    if let Some(aperture) = aperture {
        let seen = aperture.resolution(found.um_per_px);
        text += &format!(
            "  Lens    aperture {}: tells {:.2} µm apart, has {:.1} µm of depth in focus, asks for pixels up to {:.3} µm\n",
            aperture.value(),
            seen.rayleigh_um,
            seen.depth_um,
            seen.nyquist_um
        );
    }
    for concern in found.all_concerns(aperture) {
        text += &format!("  Note    {} {}\n", concern.message(), concern.advice());
    }
    if pitch.sd_um().is_none() {
        text += "  Note    The micrometer's own uncertainty is not in this; give it with --pitch-sd-um where it is known.\n";
    }
    text
}

fn line(ruling: &Ruling, pitch: Pitch) -> String {
    format!(
        "{} {} lines {:.2} px apart at {:.1}°, {} pitches of {} µm over {:.0} % of the photo; they lie within {:.2} px",
        ruling.n_lines,
        if ruling.dark { "dark" } else { "bright" },
        ruling.pitch_px,
        // 179.97 would show as 180.0, which is 0.
        (10.0 * ruling.angle_deg).round() / 10.0 % 180.0,
        ruling.n_pitches,
        pitch.um(),
        100.0 * ruling.span_share,
        ruling.residual_px
    )
}
