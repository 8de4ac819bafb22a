//! A plate as pictures, with its callouts and the program's own reading of it.

use super::callouts::{Callout, callouts};
use super::plates::Plate;
use super::strip::strip;
use crate::exports::{Language, reasons_told, stamped};
use crate::finding::{Look, Model};
use crate::maths::picture::Picture;
use crate::maths::point::Point;
use crate::maths::polyline::{Polyline, lying_on};
use crate::pipeline::{self, Want};
use crate::record::{Shaft, Station};
use crate::settings::{Asked, Settings};
use crate::sim::{Exhibit, Frame, Lamp, Photo, Scene, photo, shaft_truths};

/// Sizes of the picture of the whole, and of a close one, pixels.
const WHOLE_PX: (usize, usize) = (1200, 460);
const CLOSE_PX: (usize, usize) = (1200, 400);

/// About so many pixels wide is a hair, with what lies on it, on a close picture.
const CLOSE_WIDTH_PX: f64 = 170.0;

/// No close picture is finer than this, µm a pixel: below it a 20x objective shows nothing more (facts 3.22).
const FINEST_UM_PER_PX: f64 = 0.14;

/// Quality of the pictures as files.
const JPEG_QUALITY: u8 = 86;

/// A hair in one light and the other.
#[derive(Clone, Debug)]
pub(super) struct View {
    /// Under the UV lamp, JPEG.
    pub(super) ultraviolet: Vec<u8>,
    /// In visible light, JPEG.
    pub(super) visible: Vec<u8>,
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) um_per_px: f64,
    pub(super) callouts: Vec<Callout>,
}

/// A plate, drawn.
#[derive(Clone, Debug)]
pub(super) struct Drawn {
    pub(super) whole: View,
    pub(super) close: Vec<View>,
    /// True outer diameter of the first specimen, µm, median along it.
    pub(super) true_width_um: f64,
    /// What the program found where the first specimen lies; absent when it found nothing there.
    pub(super) read: Option<ReadShaft>,
}

/// What the program said of the first specimen.
#[derive(Clone, Debug)]
pub(super) struct ReadShaft {
    pub(super) look: Option<Look>,
    /// The likeliest look, which is said or not.
    pub(super) likeliest: Look,
    /// Its probability.
    pub(super) probability: f64,
    pub(super) width_um: Option<f64>,
    pub(super) width_sd_um: Option<f64>,
    pub(super) zone: &'static str,
    /// Why, strongest first, in each language: the sentences that `pilumen read` prints.
    reasons: [Vec<String>; Language::ALL.len()],
    pub(super) stations: Vec<Station>,
    pub(super) length_um: f64,
    pub(super) um_per_px: f64,
    /// The shaft laid out straight, JPEG, with its size.
    pub(super) strip: (Vec<u8>, usize, usize),
}

impl ReadShaft {
    /// Why, strongest first.
    pub(super) fn reasons(&self, language: Language) -> &[String] {
        &self.reasons[language as usize]
    }
}

/// The frame that shows all of a plate.
pub(super) fn whole_frame(plate: &Plate) -> Frame {
    // An aperture that goes with the scale (facts 3.20-3.21).
    let aperture = if plate.um_per_px > 1.2 { 0.10 } else { 0.25 };
    Frame { width_px: WHOLE_PX.0, height_px: WHOLE_PX.1, um_per_px: plate.um_per_px, aperture, on: None }
}

/// The frame that shows the first specimen closely at a share of its length.
pub(super) fn close_frame(plate: &Plate, share: f64) -> Frame {
    let wide_um = plate.exhibit.specimens.first().map_or(50.0, |specimen| 1.5 * specimen.diameter_um);
    let um_per_px = (wide_um / CLOSE_WIDTH_PX).max(FINEST_UM_PER_PX);
    Frame { width_px: CLOSE_PX.0, height_px: CLOSE_PX.1, um_per_px, aperture: 0.4, on: Some((0, share)) }
}

/// Draws a plate and has the program read it.
pub(super) fn drawn(plate: &Plate, model: &Model, simulated: &str) -> Drawn {
    let frame = whole_frame(plate);
    let scene = plate.exhibit.scene(&frame, Lamp::Ultraviolet);
    let taken = photo(&scene);
    let read = read_first(&scene, &taken, model, &format!("{}.jpg", plate.code));
    let true_width_px = shaft_truths(&scene).first().map_or(0.0, |truth| truth.median_width_px);
    Drawn {
        whole: view(&plate.exhibit, &frame, simulated),
        close: plate.close.iter().map(|share| view(&plate.exhibit, &close_frame(plate, *share), simulated)).collect(),
        true_width_um: true_width_px * frame.um_per_px,
        read,
    }
}

/// A frame of an exhibit in both lights.
pub(super) fn view(exhibit: &Exhibit, frame: &Frame, simulated: &str) -> View {
    let scene = exhibit.scene(frame, Lamp::Ultraviolet);
    View {
        ultraviolet: stamped_jpeg(&photo(&scene), simulated),
        visible: stamped_jpeg(&photo(&exhibit.scene(frame, Lamp::Visible)), simulated),
        width: frame.width_px,
        height: frame.height_px,
        um_per_px: frame.um_per_px,
        callouts: callouts(&scene),
    }
}

/// A photo with words in its corner, as a file.
pub(super) fn stamped_jpeg(photo: &Photo, words: &str) -> Vec<u8> {
    let picture = as_picture(photo);
    let marked = stamped(&picture, words);
    // Only sides beyond 65,535 pixels are refused.
    Photo { rgb: marked.rgb, ..photo.clone() }.encode_jpeg(JPEG_QUALITY).unwrap_or_default()
}

pub(super) fn as_picture(photo: &Photo) -> Picture {
    Picture { width: photo.width, height: photo.height, rgb: photo.rgb.clone(), shrink: [1.0; 2], gain: 1.0 }
}

/// What the program finds where the scene's first shaft truly is.
fn read_first(scene: &Scene, taken: &Photo, model: &Model, file: &str) -> Option<ReadShaft> {
    let bytes = taken.encode_jpeg(95).ok()?;
    let settings = scaled(scene.um_per_px)?;
    let entry = pipeline::read(file, &bytes, &settings, model, Want::Numbers).ok()?.entry;
    let truth = shaft_truths(scene).into_iter().next()?;
    let shaft = found_on(&truth.centreline_px, &entry.shafts)?;
    let um = scene.um_per_px;
    let p = &shaft.probability;
    let likeliest = Look::ALL.into_iter().max_by(|a, b| p[*a as usize].total_cmp(&p[*b as usize]))?;
    Some(ReadShaft {
        look: shaft.look,
        likeliest,
        probability: shaft.probability[likeliest as usize],
        width_um: shaft.width.median_px.filter(|_| !shaft.is_too_thin()).map(|px| px * um),
        width_sd_um: shaft.width.sd_px.map(|px| px * um),
        zone: shaft.zone,
        reasons: Language::ALL.map(|language| reasons_told(shaft, language)),
        stations: shaft.stations.clone(),
        length_um: shaft.length_px * um,
        um_per_px: um,
        strip: strip(&as_picture(taken), &shaft.centreline, shaft.width.median_px.unwrap_or(10.0)),
    })
}

/// Settings of a known scale.
pub(super) fn scaled(um_per_px: f64) -> Option<Settings> {
    Settings::check(Asked { um_per_px: Some(um_per_px), setup: None, max_megapixels: None }).ok()
}

/// The shaft that the program found on a true centreline.
pub(super) fn found_on<'a>(truth: &[Point], shafts: &'a [Shaft]) -> Option<&'a Shaft> {
    let with_lines: Vec<(&Shaft, Polyline)> =
        shafts.iter().filter_map(|shaft| Some((shaft, Polyline::new(shaft.centreline.iter().copied())?))).collect();
    let lines: Vec<(&Polyline, f64)> =
        with_lines.iter().map(|(shaft, line)| (line, shaft.width.median_px.unwrap_or(0.0))).collect();
    lying_on(truth, &lines).map(|index| with_lines[index].0)
}
