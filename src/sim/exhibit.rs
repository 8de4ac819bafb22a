//! A scene of chosen shafts in chosen places under an even lamp: what plates of an atlas are drawn from.
//!
//! Unlike [`Scene::draw`] nothing is left to chance but the texture of each hair: build, coat, diameter, ends, where
//! the glow is. The same specimen at another scale or in another light is the same hair.
//!
//! Weakness: in visible light only absorption is drawn. The lines that refraction puts along edges and scales are
//! missing, as everywhere in the simulator, so the cuticle's pattern is not seen there.

use crate::maths::point::{Point, Vec2};

use super::apparatus::{Camera, Light, Mosaic, Optics, Tone};
use super::body::{Body, HairWish, Stretch, hair};
use super::course::{COURSE_STEP_PX, Course};
use super::dice::Dice;
use super::family::FAMILIES;
use super::fibre::{Dye, fibre};
use super::infect::{Severity, ramp, spread_along};
use super::photo::brightest;
use super::residue::{Residue, coat, trap_air};
use super::scene::{Build, Coat, Debris, DebrisKind, End, Look, Scene, Shaft, Zone};
use super::spectra::{self, Spectrum};
use super::texture;

/// Keeps the draws of exhibits apart from those of all sets.
const SALT: u64 = 0x61_746C_6173;

/// The camera family that exhibits are taken with: one of those that nothing is appraised on.
const FAMILY: usize = 0;

/// Light in the file, 1 = clipping, that unpigmented hair of the reference path gives at exposure 1.
const REFERENCE_LIGHT: f64 = 0.22;

/// Light in the file at most, 1 = clipping, unless overexposure is asked for: exhibits keep their colours.
const MOST_LIGHT: f64 = 0.6;

/// Lamp light that a good filter lets through; low in the range of drawn scenes (0.03 to 0.35).
pub const LEAK: f64 = 0.08;

/// Full width at half maximum of an infected hair's added glow, nm; facts §7: 70 to 100.
const INFECTED_FWHM_NM: f64 = 85.0;
/// Height of the band's tail towards the red.
const INFECTED_TAIL: f64 = 0.1;

/// Swings of a wavy hair over its length; no source, chosen by looking.
const SWINGS: f64 = 3.5;

/// Light of the ground in visible light, 1 = clipping.
const VISIBLE_GROUND: f64 = 0.8;

/// How far the courses of shafts run on beyond their ends, half widths.
const RUN_OUT_HALF_WIDTHS: f64 = 5.0;

/// What an exhibit is lit by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lamp {
    /// The UV lamp, in a dark room.
    Ultraviolet,
    /// White light from below, no UV.
    Visible,
}

/// Where along a hair an infection's glow is, as shares of its length from the base.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reach {
    /// From the base up to here.
    UpTo(f64),
    /// From here to the tip.
    From(f64),
    /// All along.
    Whole,
    /// In stretches of about this share of the length.
    Patches(f64),
}

/// What has come to a shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum State {
    /// Nothing.
    Ordinary,
    /// An infection: where its glow is, how strong (1 = like unpigmented hair), how much of the sheath of spores there
    /// is (0 none, 1 full; it then makes the hair `ratio` times as wide).
    Infected {
        /// Where.
        reach: Reach,
        /// How strong the glow is.
        strength: f64,
        /// Share of the sheath and the damage, 0 to 1.
        sheathed: f64,
        /// Diameter with a full sheath over that of the hair; facts 2.1: up to 2.
        ratio: f64,
        /// Peak of the added glow, nm; facts 3.1 and §7: 485 to 525.
        peak_nm: f64,
    },
    /// A residue, with the mean added glow over the coated outline.
    Coated {
        /// What it is.
        residue: Residue,
        /// How strong its glow is.
        strength: f64,
    },
    /// A fibre that is no hair, dyed so.
    Dyed(Dye),
}

/// One shaft of an exhibit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Specimen {
    /// Type by its build.
    pub build: Build,
    /// Colour of its coat; of no meaning for fibres.
    pub coat: Coat,
    /// Diameter without sheath or film, µm.
    pub diameter_um: f64,
    /// Length, µm. Real hairs are centimetres long; exhibits are short, so that both ends are seen.
    pub length_um: f64,
    /// Shape of the root end.
    pub base: End,
    /// Shape of the tip end.
    pub tip: End,
    /// What has come to it.
    pub state: State,
    /// Where its middle lies, right of and below the picture's middle, µm.
    pub at_um: [f64; 2],
    /// Direction from base to tip at its middle, radians from +x towards +y.
    pub heading: f64,
    /// Turn over its length, radians.
    pub bend: f64,
    /// How far its direction swings to either side of that, radians; 0 for hair that is not wavy.
    pub crimp: f64,
    /// Air trapped beside it.
    pub trapped_air: bool,
    /// Seed of its texture.
    pub seed: u64,
}

/// Chosen shafts as one picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Exhibit {
    /// The shafts.
    pub specimens: Vec<Specimen>,
    /// What else lies there: place as for specimens, and half its length, µm. A puddle is of the first specimen's
    /// residue.
    pub pieces_um: Vec<(DebrisKind, [f64; 3])>,
    /// Sigma of the blur beyond the lens's own, µm on the slide; 0 in focus.
    pub defocus_um: f64,
    /// Lamp light that comes back violet from air, as a lamp without a filter gives it; [`LEAK`] on most plates.
    pub leak: f64,
    /// Exposure, 1 = such that unpigmented hair is fairly bright; far above it clips.
    pub exposure: f64,
}

/// What part of an exhibit is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Columns.
    pub width_px: usize,
    /// Rows.
    pub height_px: usize,
    /// Micrometres per pixel.
    pub um_per_px: f64,
    /// Lens: numerical aperture.
    pub aperture: f64,
    /// The specimen and the share of its length, from the base, that lies in the middle; `None` for the whole exhibit.
    pub on: Option<(usize, f64)>,
}

impl Exhibit {
    /// The exhibit as a scene. In a close frame only the specimen it is on is drawn.
    pub fn scene(&self, frame: &Frame, lamp: Lamp) -> Scene {
        // 0.21 wavelengths over the aperture, as for drawn scenes.
        let lens_blur_px = 0.21 * 0.51 / frame.aperture / frame.um_per_px;
        let blur_px = (lens_blur_px * lens_blur_px + (self.defocus_um / frame.um_per_px).powi(2)).sqrt();
        let seed = self.specimens.first().map_or(0, |specimen| specimen.seed);
        let mut scene = Scene {
            seed,
            set: "exhibit".into(),
            salt: SALT,
            width_px: frame.width_px,
            height_px: frame.height_px,
            um_per_px: frame.um_per_px,
            comparison_slide: false,
            coat: self.specimens.first().map_or(Coat::White, |specimen| specimen.coat),
            shafts: Vec::new(),
            debris: Vec::new(),
            strays: Vec::new(),
            scale_bar: None,
            light: light(lamp, self.leak),
            optics: Optics { aperture: frame.aperture, lens_blur_px, disc: None, vignetting: 0.08 },
            camera: camera(lamp),
        };
        for (index, specimen) in self.specimens.iter().enumerate() {
            if frame.on.is_none_or(|(on, _)| on == index) {
                let share = frame.on.map_or(0.5, |(_, share)| share);
                scene.shafts.push(specimen.shaft(&scene, share, frame.on.is_some(), blur_px));
            }
        }
        if frame.on.is_none() {
            self.add_debris(&mut scene, blur_px);
        }
        match lamp {
            Lamp::Ultraviolet => {
                // The exposure is fixed, not set by the brightest shaft: plates can be compared, dark hair stays dark.
                let reached = self.exposure * REFERENCE_LIGHT * brightest(&scene);
                scene.camera.exposure = if self.exposure > 2.0 { reached } else { reached.min(MOST_LIGHT) };
            }
            Lamp::Visible => {
                scene.shafts.iter_mut().for_each(darken);
                scene.debris.iter_mut().for_each(|piece| piece.strength = 0.0);
            }
        }
        scene
    }

    fn add_debris(&self, scene: &mut Scene, blur_px: f64) {
        let middle = middle_of(scene);
        let mut dice = Dice::new(scene.seed, SALT, 2);
        for &(kind, [x, y, size]) in &self.pieces_um {
            let size_px = size / scene.um_per_px;
            let (flat, strength) = match kind {
                DebrisKind::Flake => (0.6, 1.6),
                DebrisKind::Puddle => (0.7, 0.45),
                _ => (1.0, 0.0),
            };
            let residue = scene.shafts.first().map(|shaft| shaft.extra_spectrum.clone());
            let spectrum = residue.filter(|_| kind == DebrisKind::Puddle).unwrap_or_else(|| spectra::dander(0.5));
            scene.debris.push(Debris {
                kind,
                at: middle + Vec2::new(x / scene.um_per_px, y / scene.um_per_px),
                long_px: size_px,
                short_px: flat * size_px,
                angle: dice.uniform(0.0, 3.1),
                strength,
                spectrum,
                blur_px,
                texture: dice.seed(),
            });
        }
    }
}

impl Specimen {
    /// The specimen with `share` of its length in the middle of the picture if it is `centred`, else in its place.
    fn shaft(&self, scene: &Scene, share: f64, centred: bool, blur_px: f64) -> Shaft {
        let um = scene.um_per_px;
        let run_out = RUN_OUT_HALF_WIDTHS * 0.5 * self.diameter_um / um + 4.0;
        let (length_px, before_px) = (self.length_um / um, share * self.length_um / um);
        let offset = if centred { [0.0; 2] } else { self.at_um };
        let anchor = middle_of(scene) + Vec2::new(offset[0] / um, offset[1] / um);
        let curvature = self.bend / length_px;
        // The direction swings as a sine of the place along the hair, counted from the base in every frame.
        let turn = std::f64::consts::TAU * SWINGS / length_px;
        let swing = |s: f64| self.crimp * turn * libm::cos(turn * (s + before_px));
        let heading = self.heading + self.crimp * libm::sin(turn * before_px);
        let course = Course::grown(anchor, heading, before_px + run_out, length_px - before_px + run_out, |s| {
            curvature + swing(s)
        });
        // The anchor lies on a whole step of the course.
        let anchored_px = ((before_px + run_out) / COURSE_STEP_PX).ceil() * COURSE_STEP_PX;
        let (from_px, to_px) = (anchored_px - before_px, anchored_px - before_px + length_px);
        let mut dice = Dice::new(self.seed, SALT, 1);
        let stretch = Stretch { course: &course, from_px, to_px, um_per_px: um };
        let mut body = self.body(&mut dice, &stretch);
        let whole_um = (0.0, self.length_um as f32);
        let (mut extra_spectrum, mut zone, mut kind) =
            (spectra::infected(497.0, INFECTED_FWHM_NM, INFECTED_TAIL), Zone::None, "ordinary");
        let look = match self.state {
            State::Ordinary => Look::Normal,
            State::Infected { reach, sheathed, peak_nm, .. } => {
                extra_spectrum = spectra::infected(peak_nm, INFECTED_FWHM_NM, INFECTED_TAIL);
                self.infect(&mut dice, &stretch, &mut body);
                (zone, kind) = match reach {
                    Reach::UpTo(_) => (Zone::Base, "base"),
                    Reach::From(_) => (Zone::Tip, "tip"),
                    Reach::Whole => (Zone::Whole, "whole"),
                    Reach::Patches(_) => (Zone::Patchy, "patchy"),
                };
                // As the sets have it: a tip that still glows on a hair without a sheath is an ordinary hair's.
                if sheathed <= 0.0 { Look::Normal } else { Look::Infected }
            }
            State::Coated { residue, strength } => {
                extra_spectrum = residue.spectrum(&mut dice);
                zone = coat(&mut dice, &stretch, &mut body, residue, strength, whole_um);
                kind = residue.kind();
                Look::Coated
            }
            State::Dyed(dye) => {
                if dye != Dye::Dull {
                    zone = Zone::Whole;
                    body.makes.iter_mut().for_each(|make| make.glow = 1.0);
                }
                kind = "fibre";
                Look::Fibre
            }
        };
        if self.trapped_air {
            trap_air(&mut dice, &stretch, &mut body.makes, self.diameter_um);
        }
        let Body { makes, surface, own_spectrum, loss_tint, base_end, tip_end } = body;
        Shaft {
            look,
            build: self.build,
            kind,
            comparison: self.state == State::Ordinary && self.build.is_hair(),
            zone,
            from_px,
            to_px,
            course,
            base_end,
            tip_end,
            makes,
            own_spectrum,
            extra_spectrum,
            loss_tint,
            surface,
            blur_px: [blur_px; 2],
            texture: dice.seed(),
        }
    }

    fn body(&self, dice: &mut Dice, stretch: &Stretch) -> Body {
        if let State::Dyed(dye) = self.state {
            return fibre(dice, stretch, self.build, dye, self.diameter_um);
        }
        let wish = HairWish {
            build: self.build,
            coat: self.coat,
            diameter_um: self.diameter_um,
            base_end: self.base,
            tip_end: self.tip,
        };
        hair(dice, stretch, &wish)
    }

    fn infect(&self, dice: &mut Dice, stretch: &Stretch, body: &mut Body) {
        let State::Infected { reach, strength, sheathed, ratio, .. } = self.state else { return };
        let seed = dice.seed();
        let severity = Severity {
            seed,
            ratio: ratio as f32,
            glow: [0.9 * strength as f32, strength as f32],
            bare_share: 0.3,
            lumps_um: 30.0,
            rough: 1.0,
            unlike: 0.12,
            tearing: 0.9,
            sheathed: sheathed as f32,
        };
        let length = self.length_um as f32;
        let front = 0.1 * length;
        spread_along(stretch, body, &severity, |s_um| match reach {
            Reach::UpTo(share) => ramp((share as f32 * length - s_um) / front + 0.5),
            Reach::From(share) => ramp((s_um - share as f32 * length) / front + 0.5),
            Reach::Whole => 1.0,
            Reach::Patches(share) => ramp(0.5 + 2.4 * texture::along(seed ^ 1, s_um / (share as f32 * length))),
        });
        body.surface.grain_um = 2.5;
        body.surface.shell_contrast = 0.7;
    }
}

/// Nothing of a shaft glows where there is no UV.
pub(super) fn darken(shaft: &mut Shaft) {
    for make in &mut shaft.makes {
        (make.own, make.inside, make.shell) = (0.0, 0.0, 0.0);
    }
}

fn middle_of(scene: &Scene) -> Point {
    Point::new(0.5 * (scene.width_px as f64 - 1.0), 0.5 * (scene.height_px as f64 - 1.0))
}

fn white() -> Spectrum {
    Spectrum::of(&[(450.0, 130.0, 1.0), (550.0, 150.0, 1.0), (640.0, 130.0, 1.0)])
}

/// The lamp and what it makes of the tape.
pub(super) fn light(lamp: Lamp, leak: f64) -> Light {
    let visible = lamp == Lamp::Visible;
    Light {
        haze: if visible { 1.0 } else { 0.03 },
        haze_above: if visible { 0.0 } else { 0.3 },
        haze_spectrum: if visible { white() } else { spectra::tape(0.3) },
        leak_spectrum: spectra::lamp_leak(404.0),
        leak: if visible { 0.0 } else { leak },
        slope: [0.0; 2],
        hot_spot: None,
        unevenness: if visible { 0.02 } else { 0.06 },
        veil: 0.01,
        texture: 77,
    }
}

/// The camera that exhibits are taken with.
pub(super) fn camera(lamp: Lamp) -> Camera {
    // A camera is balanced for daylight under the UV lamp, and for the light it has in visible light.
    let response = FAMILIES[FAMILY].response(&white());
    let visible = lamp == Lamp::Visible;
    Camera {
        family: FAMILY,
        // Without glow the exposure counts from the dimmest reference, 0.3 (see `photo`).
        exposure: VISIBLE_GROUND * 0.3 / response[1],
        full_electrons: 15_000.0,
        read_electrons: 3.0,
        black: 0.001,
        mosaic: Mosaic::None,
        white_balance: if visible { response.map(|v| response[1] / v) } else { [1.0; 3] },
        matrix_share: 1.0,
        hue_turn: 0.0,
        saturation: 1.0,
        denoise_px: 0.0,
        tone: Tone::Srgb,
        sharpen: (1.0, 0.0),
        halved_colour: false,
        jpeg_quality: Some(88),
    }
}

#[cfg(test)]
mod tests {
    use super::{Exhibit, Frame, LEAK, Lamp, Reach, Specimen, State};
    use crate::sim::{Build, Coat, End, Look, photo, shaft_truths};

    fn specimen(state: State) -> Specimen {
        Specimen {
            build: Build::Awn,
            coat: Coat::Cream,
            diameter_um: 32.0,
            length_um: 1500.0,
            base: End::Root,
            tip: End::Tapered,
            state,
            at_um: [0.0, 0.0],
            heading: 0.05,
            bend: 0.1,
            crimp: 0.0,
            trapped_air: false,
            seed: 5,
        }
    }

    fn exhibit(state: State) -> Exhibit {
        Exhibit { specimens: vec![specimen(state)], pieces_um: Vec::new(), defocus_um: 0.0, leak: LEAK, exposure: 1.0 }
    }

    const WHOLE: Frame = Frame { width_px: 480, height_px: 160, um_per_px: 4.0, aperture: 0.1, on: None };

    fn infected(reach: Reach, sheathed: f64) -> State {
        State::Infected { reach, strength: 2.0, sheathed, ratio: 1.7, peak_nm: 497.0 }
    }

    #[test]
    fn both_ends_lie_in_the_picture_and_the_length_is_what_was_asked_for() {
        let scene = exhibit(State::Ordinary).scene(&WHOLE, Lamp::Ultraviolet);
        let truth = &shaft_truths(&scene)[0];
        assert_eq!(truth.ends_in_view, [true, true]);
        assert!((truth.length_px * 4.0 - 1500.0).abs() < 1.0, "length {}", truth.length_px * 4.0);
    }

    #[test]
    fn a_hair_is_the_same_hair_at_another_scale() {
        let near = Frame { width_px: 400, height_px: 200, um_per_px: 0.5, aperture: 0.4, on: Some((0, 0.5)) };
        let state = infected(Reach::Whole, 1.0);
        let width = |frame: &Frame| {
            let scene = exhibit(state).scene(frame, Lamp::Ultraviolet);
            let shaft = &scene.shafts[0];
            let s = 0.5 * (shaft.from_px + shaft.to_px);
            shaft.make_at(s).counted_width_px() * frame.um_per_px
        };
        assert!((width(&WHOLE) / width(&near) - 1.0).abs() < 0.02, "{} and {} µm", width(&WHOLE), width(&near));
    }

    #[test]
    fn the_glow_is_where_it_was_put() {
        let share = |state: State| shaft_truths(&exhibit(state).scene(&WHOLE, Lamp::Ultraviolet))[0].fluorescing_share;
        assert_eq!(share(State::Ordinary), 0.0);
        assert!((share(infected(Reach::UpTo(0.4), 1.0)) - 0.4).abs() < 0.06);
        assert!((share(infected(Reach::From(0.8), 0.0)) - 0.2).abs() < 0.06);
        assert!(share(infected(Reach::Whole, 1.0)) > 0.95);
    }

    #[test]
    fn a_tip_without_a_sheath_is_an_ordinary_hairs() {
        let look = |state: State| exhibit(state).scene(&WHOLE, Lamp::Ultraviolet).shafts[0].look;
        assert_eq!(look(infected(Reach::From(0.8), 0.0)), Look::Normal);
        assert_eq!(look(infected(Reach::UpTo(0.5), 1.0)), Look::Infected);
    }

    #[test]
    fn in_visible_light_the_ground_is_bright_and_the_shaft_is_not() {
        let scene = exhibit(State::Ordinary).scene(&WHOLE, Lamp::Visible);
        let taken = photo(&scene);
        let green = |x: usize, y: usize| taken.rgb[3 * (y * taken.width + x) + 1];
        assert!(green(10, 10) > 200, "ground {}", green(10, 10));
        assert!(green(240, 80) < green(10, 10) - 30, "shaft {}", green(240, 80));
        let dark = photo(&exhibit(State::Ordinary).scene(&WHOLE, Lamp::Ultraviolet));
        assert!(dark.rgb[3 * (10 * dark.width + 10) + 1] < 60, "the ground is dark under the lamp");
    }
}
