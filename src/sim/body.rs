//! The bare body of a hair or fibre along its course: diameter, ends, scales, medulla, pigment, own glow.

use super::course::{COURSE_STEP_PX, Course};
use super::dice::Dice;
use super::make::Make;
use super::scene::{Build, Coat, End, Surface};
use super::spectra::{self, KERATIN_TAIL, Spectrum};
use super::texture;

/// Least and most diameter of a build, µm, with the source of each.
pub fn diameter_range_um(build: Build) -> (f64, f64) {
    match build {
        // Facts 1.1, electronic fur atlas, entry Felis catus.
        Build::Down => (10.0, 20.0),
        // Facts 1.2, same atlas.
        Build::Awn => (25.0, 40.0),
        // Facts 1.4, a commercial glossary without primary reference.
        Build::Guard => (40.0, 80.0),
        // Facts 1.20, BNID 114258 (J Am Acad Dermatol 2003;48:S106-14).
        Build::Human => (60.0, 80.0),
        // Facts 1.24, textile teaching notes; width of the ribbon seen flat.
        Build::Cotton => (15.0, 22.0),
        // Facts 1.25, from memory.
        Build::Polyester => (10.0, 25.0),
        // No source: carpet pile is coarser than textile filament.
        Build::Carpet => (25.0, 60.0),
    }
}

/// Least and most medulla / hair diameter (facts 1.13-1.15 and §7), and the share of hairs that have none.
fn medulla_range(build: Build) -> ((f64, f64), f64) {
    match build {
        // Facts 1.1 against 1.7: sources disagree whether down has a medulla.
        Build::Down => ((0.4, 0.7), 0.45),
        Build::Awn => ((0.45, 0.75), 0.08),
        Build::Guard => ((0.45, 0.75), 0.05),
        Build::Human => ((0.12, 0.32), 0.35),
        Build::Cotton | Build::Polyester | Build::Carpet => ((0.0, 0.0), 1.0),
    }
}

/// Strength of a coat's own glow and loss in its cortex per µm (facts 3.7: melanin takes up to thirteenfold).
fn pigment(dice: &mut Dice, coat: Coat) -> (f64, f64) {
    match coat {
        Coat::White => (dice.uniform(0.85, 1.2), dice.uniform(0.002, 0.006)),
        Coat::Yellowed => (dice.uniform(0.8, 1.3), dice.uniform(0.004, 0.010)),
        Coat::Cream => (dice.uniform(0.6, 0.9), dice.uniform(0.006, 0.014)),
        Coat::Ginger => (dice.uniform(0.4, 0.7), dice.uniform(0.015, 0.03)),
        Coat::Grey => (dice.uniform(0.35, 0.6), dice.uniform(0.02, 0.05)),
        Coat::Tabby => (dice.uniform(0.4, 0.7), dice.uniform(0.03, 0.07)),
        Coat::Black => (dice.uniform(0.22, 0.4), dice.uniform(0.08, 0.16)),
    }
}

/// A hair's or fibre's body.
pub(super) struct Body {
    pub(super) makes: Vec<Make>,
    pub(super) surface: Surface,
    pub(super) own_spectrum: Spectrum,
    pub(super) loss_tint: [f32; 3],
    pub(super) base_end: End,
    pub(super) tip_end: End,
}

/// What is asked of a hair's body.
pub(super) struct HairWish {
    pub(super) build: Build,
    pub(super) coat: Coat,
    pub(super) diameter_um: f64,
    pub(super) base_end: End,
    pub(super) tip_end: End,
}

/// Places on a course: pixels and micrometres, from and to where the shaft is.
pub(super) struct Stretch<'a> {
    pub(super) course: &'a Course,
    pub(super) from_px: f64,
    pub(super) to_px: f64,
    pub(super) um_per_px: f64,
}

impl Stretch<'_> {
    /// Arc length of station `i` from the shaft's beginning, µm.
    pub(super) fn um_past_base(&self, i: usize) -> f32 {
        ((i as f64 * COURSE_STEP_PX - self.from_px) * self.um_per_px) as f32
    }

    /// Arc length of station `i` to the shaft's end, µm.
    pub(super) fn um_to_tip(&self, i: usize) -> f32 {
        ((self.to_px - i as f64 * COURSE_STEP_PX) * self.um_per_px) as f32
    }

    /// Length of the shaft, µm.
    pub(super) fn length_um(&self) -> f32 {
        ((self.to_px - self.from_px) * self.um_per_px) as f32
    }

    pub(super) fn n_stations(&self) -> usize {
        self.course.points().len()
    }
}

/// Draws the body of a hair.
pub(super) fn hair(dice: &mut Dice, stretch: &Stretch, wish: &HairWish) -> Body {
    let um_per_px = stretch.um_per_px as f32;
    let seed = dice.seed();
    let ((least, most), without) = medulla_range(wish.build);
    let medulla = if dice.chance(without) { 0.0 } else { dice.uniform(least, most) } as f32;
    let (own, pigment_per_um) = pigment(dice, wish.coat);
    let teeth = Teeth::drawn(dice, wish.build, wish.diameter_um);
    let girth = Girth::drawn(dice, wish, stretch.length_um());
    let broken_medulla = wish.build == Build::Human || dice.chance(0.15);
    let band_um = dice.uniform(900.0, 3500.0) as f32;
    let makes = (0..stretch.n_stations())
        .map(|i| {
            let (s_um, to_tip_um) = (stretch.um_past_base(i), stretch.um_to_tip(i));
            let radius_um = girth.radius_um(s_um, to_tip_um, seed);
            let mut make = Make::bare(radius_um / um_per_px);
            for side in 0..2 {
                make.edge_px[side] += teeth.offset_um(s_um, side, radius_um) / um_per_px;
                make.shell_px[side] = make.edge_px[side];
            }
            // The medulla begins beyond the root ("wine goblet", facts 1.18) and ends before the tip.
            let begun = (s_um / (4.0 * wish.diameter_um as f32) - 0.6).clamp(0.0, 1.0);
            let ended = (to_tip_um / (6.0 * wish.diameter_um as f32) - 0.8).clamp(0.0, 1.0);
            let gap = if broken_medulla {
                (1.6 + 2.6 * texture::along(seed ^ 0x3d, s_um / 140.0)).clamp(0.0, 1.0)
            } else {
                1.0
            };
            make.medulla = medulla * begun * ended * gap * (1.0 + 0.08 * texture::along(seed ^ 0x3e, s_um / 60.0));
            let band = match wish.coat {
                // Agouti: pale and dark bands along the hair.
                Coat::Tabby => 0.5 + 0.5 * (3.0 * texture::along(seed ^ 0x11, s_um / band_um)).clamp(-1.0, 1.0),
                _ => 1.0,
            };
            // Pigment does not run into the root (facts 1.18).
            let coloured = band * (0.25 + 0.75 * begun) * (1.0 + 0.15 * texture::along(seed ^ 0x12, s_um / 400.0));
            make.pigment_per_um = 0.003 + (pigment_per_um as f32 - 0.003).max(0.0) * coloured;
            make.own = (own as f32 + (1.0 - own as f32).max(0.0) * (1.0 - coloured).clamp(0.0, 1.0))
                * (1.0 + 0.08 * texture::along(seed ^ 0x13, s_um / 500.0));
            make
        })
        .collect();
    let yellowed = match wish.coat {
        Coat::Yellowed => dice.uniform(0.5, 1.0),
        Coat::Cream => dice.uniform(0.1, 0.5),
        _ => dice.uniform(0.0, 0.3),
    };
    // Around KERATIN_TAIL, widely: how much red keratin shows has no source, so that red must not decide.
    let tail = KERATIN_TAIL * dice.uniform(0.2, 3.0);
    let surface = Surface {
        scale_um: teeth.spacing_um as f64,
        scale_contrast: dice.uniform(0.03, 0.12) as f32,
        // Facts 1.1: uniserial ladder; spacing invented, about as long as wide.
        ladder_um: dice.uniform(8.0, 15.0),
        streak_contrast: dice.uniform(0.04, 0.15) as f32,
        ..Surface::SMOOTH
    };
    Body {
        makes,
        surface,
        own_spectrum: spectra::keratin(yellowed, tail),
        loss_tint: [0.94, 1.0, 1.03],
        base_end: wish.base_end,
        tip_end: wish.tip_end,
    }
}

/// Free edges of the scales: teeth that point from root to tip (facts 1.11).
struct Teeth {
    spacing_um: f32,
    height_um: f32,
    seed: u32,
}

impl Teeth {
    fn drawn(dice: &mut Dice, build: Build, diameter_um: f64) -> Teeth {
        // Facts 1.17: scales of 9-13 µm; height from memory.
        let height = if build == Build::Human { dice.uniform(0.2, 0.5) } else { dice.uniform(0.4, 1.0) };
        Teeth {
            spacing_um: dice.uniform(9.0, 13.0) as f32,
            height_um: (height * (diameter_um / 20.0).min(1.0)) as f32,
            seed: dice.seed(),
        }
    }

    /// Offset of an edge from the mean outline, µm: rises towards the tip, then falls back; mean 0.
    fn offset_um(&self, s_um: f32, side: usize, radius_um: f32) -> f32 {
        let warp = 0.3 * texture::along(self.seed ^ side as u32, s_um / (3.0 * self.spacing_um));
        let t = s_um / self.spacing_um + 0.5 * side as f32 + warp;
        let (_, f) = texture::cell(t);
        let rise = if f < 0.85 { f / 0.85 } else { (1.0 - f) / 0.15 };
        (self.height_um * (rise - 0.5)).clamp(-0.3 * radius_um, 0.3 * radius_um)
    }
}

/// Diameter along a hair.
struct Girth {
    radius_um: f32,
    unevenness: f32,
    wave_um: f32,
    root: Option<(f32, f32)>,
    taper_um: f32,
    swelling: f32,
}

impl Girth {
    fn drawn(dice: &mut Dice, wish: &HairWish, length_um: f32) -> Girth {
        let unevenness = if wish.build == Build::Down { 0.015 } else { dice.uniform(0.015, 0.05) };
        let root = (wish.base_end == End::Root).then(|| {
            // Facts 1.18: cat roots change little in diameter; 1.19: anagen bulbs are round.
            let swell = dice.weighted(&[((1.02, 1.15), 0.6), ((1.15, 1.35), 0.25), ((1.4, 1.9), 0.15)]);
            (dice.uniform(swell.0, swell.1) as f32, (wish.diameter_um * dice.uniform(0.8, 1.8)) as f32)
        });
        let taper_um = match wish.tip_end {
            End::Tapered => (wish.diameter_um * dice.uniform(12.0, 40.0)).min(0.5 * length_um as f64) as f32,
            _ => 0.0,
        };
        // Facts 1.6: awn hairs swell before the tip; the diameter asked for is that of the swelling.
        let swells = wish.build == Build::Awn && wish.tip_end == End::Tapered;
        let swelling = if swells { dice.uniform(0.0, 0.2) } else { 0.0 };
        Girth {
            radius_um: (0.5 * wish.diameter_um / (1.0 + swelling)) as f32,
            unevenness: unevenness as f32,
            wave_um: dice.uniform(400.0, 1200.0) as f32,
            root,
            taper_um,
            swelling: swelling as f32,
        }
    }

    fn radius_um(&self, s_um: f32, to_tip_um: f32, seed: u32) -> f32 {
        let mut radius = self.radius_um * (1.0 + self.unevenness * texture::along(seed ^ 0x61, s_um / self.wave_um));
        if let Some((swell, length_um)) = self.root {
            // A bulb or club: widest one length from its rounded end, blending into the shaft over two more.
            let t = (s_um / length_um).max(0.0);
            if t < 3.0 {
                let blend = (1.5 - 0.5 * t).clamp(0.0, 1.0);
                radius *= 1.0 + (swell - 1.0) * blend * blend * (3.0 - 2.0 * blend);
                let round = (1.0 - t).max(0.0);
                radius *= (1.0 - round * round).max(0.0).sqrt().max(0.02);
            }
        }
        if self.taper_um > 0.0 {
            if self.swelling > 0.0 {
                let d = (to_tip_um - 1.3 * self.taper_um) / (0.6 * self.taper_um);
                radius *= 1.0 + self.swelling / (1.0 + d * d * d * d);
            }
            let t = (to_tip_um / self.taper_um).clamp(0.0, 1.0);
            radius *= 0.06 + 0.94 * (1.0 - (1.0 - t) * (1.0 - t) * (1.0 - 0.3 * t));
        }
        radius
    }
}
