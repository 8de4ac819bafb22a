//! Everything about one photo before light is traced; the lamp, the optics and the camera stand in `apparatus`.

use crate::maths::point::Point;

use super::apparatus::{Camera, Light, Optics, ScaleBar};
use super::course::{COURSE_STEP_PX, Course, Foot};
use super::make::Make;
use super::spectra::Spectrum;
use super::strays::Stray;

/// One photo to be made.
#[derive(Clone, Debug)]
pub struct Scene {
    /// What the scene was drawn from.
    pub seed: u64,
    /// Name of the ranges it was drawn from.
    pub set: String,
    /// Number of the set, mixed into every draw.
    pub(super) salt: u64,
    /// Columns.
    pub width_px: usize,
    /// Rows.
    pub height_px: usize,
    /// Micrometres per pixel.
    pub um_per_px: f64,
    /// Whether the slide is a healthy animal's comparison slide (ordinary shafts only).
    pub comparison_slide: bool,
    /// Colour of the coat all hairs come from.
    pub coat: Coat,
    /// The shafts, lowest first.
    pub shafts: Vec<Shaft>,
    /// What else lies on the slide, lowest first.
    pub debris: Vec<Debris>,
    /// Long and thin things that are neither hair nor fibre, above the shafts.
    pub strays: Vec<Stray>,
    /// A scale bar burnt into the file, where there is one.
    pub scale_bar: Option<ScaleBar>,
    /// The lamp, the tape and their glow.
    pub light: Light,
    /// Lens, focus and eyepiece.
    pub optics: Optics,
    /// Sensor and processing.
    pub camera: Camera,
}

/// What a shaft truly is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Look {
    /// An infected hair.
    Infected,
    /// An ordinary hair.
    Normal,
    /// An ordinary hair under a residue.
    Coated,
    /// Not hair.
    Fibre,
}

impl Look {
    /// All looks, in the order of mixes and counts.
    pub const ALL: [Look; 4] = [Look::Infected, Look::Normal, Look::Coated, Look::Fibre];

    /// Stable name for truth files.
    pub fn code(self) -> &'static str {
        match self {
            Look::Infected => "infected",
            Look::Normal => "normal",
            Look::Coated => "coated",
            Look::Fibre => "fibre",
        }
    }
}

/// Where along a shaft the added glow is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Zone {
    /// Nowhere.
    None,
    /// From the base on, not to the tip.
    Base,
    /// All along.
    Whole,
    /// Towards the tip only.
    Tip,
    /// In patches.
    Patchy,
}

impl Zone {
    /// Stable name for truth files.
    pub fn code(self) -> &'static str {
        match self {
            Zone::None => "none",
            Zone::Base => "base",
            Zone::Whole => "whole",
            Zone::Tip => "tip",
            Zone::Patchy => "patchy",
        }
    }
}

/// Type of hair or fibre by its build.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Build {
    /// Fine underhair.
    Down,
    /// Intermediate hair.
    Awn,
    /// Coarse outer hair.
    Guard,
    /// A human hair that got onto the tape.
    Human,
    /// A flattened, twisted cotton fibre.
    Cotton,
    /// A smooth synthetic filament.
    Polyester,
    /// A thick synthetic carpet fibre.
    Carpet,
}

impl Build {
    /// Stable name for truth files.
    pub fn code(self) -> &'static str {
        match self {
            Build::Down => "down",
            Build::Awn => "awn",
            Build::Guard => "guard",
            Build::Human => "human",
            Build::Cotton => "cotton",
            Build::Polyester => "polyester",
            Build::Carpet => "carpet",
        }
    }

    /// Whether it is hair.
    pub fn is_hair(self) -> bool {
        matches!(self, Build::Down | Build::Awn | Build::Guard | Build::Human)
    }
}

/// Colour of a coat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Coat {
    /// White: no pigment, strong glow of its own.
    White,
    /// White, yellowed by age or light: its own glow is blue-green.
    Yellowed,
    /// Cream or pale ginger.
    Cream,
    /// Ginger.
    Ginger,
    /// Grey.
    Grey,
    /// Banded (tabby).
    Tabby,
    /// Black.
    Black,
}

impl Coat {
    /// Stable name for truth files.
    pub fn code(self) -> &'static str {
        match self {
            Coat::White => "white",
            Coat::Yellowed => "yellowed",
            Coat::Cream => "cream",
            Coat::Ginger => "ginger",
            Coat::Grey => "grey",
            Coat::Tabby => "tabby",
            Coat::Black => "black",
        }
    }
}

/// Shape of an end of a shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum End {
    /// A root: bulb, club or frayed base.
    Root,
    /// A fine point.
    Tapered,
    /// Broken off: ragged over this many micrometres.
    Broken {
        /// Length over which the break is ragged, µm.
        ragged_um: f64,
    },
    /// Cut clean, leaning by this slope (along per across).
    Cut {
        /// Slope of the cut.
        slope: f64,
    },
}

impl End {
    /// Stable name for truth files.
    pub fn code(self) -> &'static str {
        match self {
            End::Root => "root",
            End::Tapered => "tapered",
            End::Broken { .. } => "broken",
            End::Cut { .. } => "cut",
        }
    }
}

/// One shaft.
#[derive(Clone, Debug)]
pub struct Shaft {
    /// What it truly is.
    pub look: Look,
    /// Type by its build.
    pub build: Build,
    /// Sub-kind, for reporting by kind.
    pub kind: &'static str,
    /// Whether it is an ordinary hair of the animal that serves for comparison.
    pub comparison: bool,
    /// Where along it the added glow is.
    pub zone: Zone,
    /// Its middle line, root end first, with run-outs beyond both ends.
    pub course: Course,
    /// Arc length on the course at which the shaft begins (root end), pixels.
    pub from_px: f64,
    /// Arc length at which it ends (tip end), pixels.
    pub to_px: f64,
    /// Shape of the root end.
    pub base_end: End,
    /// Shape of the tip end.
    pub tip_end: End,
    /// What it is made of, one entry for each point of the course.
    pub makes: Vec<Make>,
    /// Its own glow.
    pub own_spectrum: Spectrum,
    /// The added glow.
    pub extra_spectrum: Spectrum,
    /// Loss of light from below by channel, relative to green: pigment absorbs blue more than red.
    pub loss_tint: [f32; 3],
    /// Structure that the renderer adds.
    pub surface: Surface,
    /// Gaussian sigma of the blur at its base and tip end, pixels (lens and defocus; the camera adds its own).
    pub blur_px: [f64; 2],
    /// Seed of its textures.
    pub texture: u32,
}

/// Fine structure of a shaft, in micrometres and shares.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surface {
    /// Spacing of the scales along the shaft, µm; 0 for a smooth fibre.
    pub scale_um: f64,
    /// Contrast of the scale pattern in the glow.
    pub scale_contrast: f32,
    /// Spacing of the medulla's ladder, µm; 0 for an even medulla.
    pub ladder_um: f64,
    /// Contrast of lengthwise streaks and blotches in the cortex, 0 to 1.
    pub streak_contrast: f32,
    /// Diameter of the grains of the sheath, µm; 0 for a smooth film.
    pub grain_um: f64,
    /// Contrast of the grains, or of the film's clots where `grain_um` is 0.
    pub shell_contrast: f32,
    /// Size of the film's clots, µm.
    pub clot_um: f64,
    /// How unlike single grains are in brightness, 0 to 1.
    pub grain_spread: f32,
    /// Size of the clumps that grains and the glow inside lie in, µm.
    pub clump_um: f64,
    /// Contrast of those clumps, 0 to 1.
    pub clump_contrast: f32,
}

impl Surface {
    /// Nothing to be seen on it.
    pub const SMOOTH: Surface = Surface {
        scale_um: 0.0,
        scale_contrast: 0.0,
        ladder_um: 0.0,
        streak_contrast: 0.0,
        grain_um: 0.0,
        shell_contrast: 0.0,
        clot_um: 10.0,
        grain_spread: 0.0,
        clump_um: 10.0,
        clump_contrast: 0.0,
    };
}

impl Shaft {
    /// What it is made of at arc length `s_px` of its course.
    pub fn make_at(&self, s_px: f64) -> &Make {
        let i = (s_px.max(0.0) / COURSE_STEP_PX + 0.5) as usize;
        &self.makes[i.min(self.makes.len() - 1)]
    }

    /// Greatest half width of anything drawn on it, pixels.
    pub fn reach_px(&self) -> f64 {
        let side = |m: &Make, i: usize| m.shell_px[i].max(m.edge_px[i]) + m.air_px[i];
        let widest = |m: &Make| side(m, 0).max(side(m, 1));
        self.makes.iter().map(widest).fold(0.0f32, f32::max) as f64
    }

    /// Sigma of its blur at arc length `s_px`, pixels.
    pub fn blur_at(&self, s_px: f64) -> f64 {
        let t = ((s_px - self.from_px) / (self.to_px - self.from_px)).clamp(0.0, 1.0);
        self.blur_px[0] + (self.blur_px[1] - self.blur_px[0]) * t
    }

    /// Middle of its counted outline at arc length `s_px`.
    pub fn middle_at(&self, s_px: f64) -> Point {
        let make = self.make_at(s_px);
        let off = 0.5 * (make.counted_px[1] as f64 - make.counted_px[0] as f64);
        self.course.at(s_px) + self.course.tangent(s_px).normal() * off
    }

    /// The foot of a place on its course.
    pub fn foot(&self, place: Point, guess_px: f64) -> Foot {
        self.course.foot(place, guess_px)
    }
}

/// Something on the slide that is no shaft.
#[derive(Clone, Debug)]
pub struct Debris {
    /// What it is.
    pub kind: DebrisKind,
    /// Its middle.
    pub at: Point,
    /// Half its extent along its long axis, pixels.
    pub long_px: f64,
    /// Half its extent across, pixels.
    pub short_px: f64,
    /// Direction of its long axis, radians.
    pub angle: f64,
    /// Brightness, same units as shafts.
    pub strength: f64,
    /// Its glow.
    pub spectrum: Spectrum,
    /// Sigma of its blur, pixels.
    pub blur_px: f64,
    /// Seed of its shape.
    pub texture: u32,
}

/// Kinds of debris.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DebrisKind {
    /// An air bubble under the tape.
    Bubble,
    /// A speck of dust or lint.
    Dust,
    /// A flake of dander.
    Flake,
    /// A streak of adhesive.
    Streak,
    /// A dried puddle of residue.
    Puddle,
}

impl DebrisKind {
    /// Stable name for truth files.
    pub fn code(self) -> &'static str {
        match self {
            DebrisKind::Bubble => "bubble",
            DebrisKind::Dust => "dust",
            DebrisKind::Flake => "flake",
            DebrisKind::Streak => "streak",
            DebrisKind::Puddle => "puddle",
        }
    }
}

impl Scene {
    /// Whether a place lies in the photo and in the eyepiece's disc, at least `margin_px` from their border.
    pub fn shows(&self, place: Point, margin_px: f64) -> bool {
        let inside = place.x >= -0.5 + margin_px
            && place.y >= -0.5 + margin_px
            && place.x <= self.width_px as f64 - 0.5 - margin_px
            && place.y <= self.height_px as f64 - 0.5 - margin_px;
        inside
            && self.optics.disc.is_none_or(|disc| {
                let off = place - disc.centre;
                off.dot(off).sqrt() <= disc.radius_px - margin_px
            })
    }

    /// Half the photo's diagonal, pixels.
    pub fn half_diagonal_px(&self) -> f64 {
        let (w, h) = (self.width_px as f64, self.height_px as f64);
        0.5 * (w * w + h * h).sqrt()
    }
}
