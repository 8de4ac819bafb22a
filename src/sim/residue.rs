//! Residues on an ordinary hair: films, clots and stretches of soap, ointment, medicine, food, dander.

use super::body::{Body, Stretch};
use super::cross_section::REFERENCE_PATH_UM;
use super::dice::Dice;
use super::infect::ramp;
use super::make::Make;
use super::scene::Zone;
use super::spectra::{self, Spectrum};
use super::texture;

/// What the residue is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Residue {
    /// Film of soap or shampoo.
    Soap,
    /// Ointment or cream.
    Ointment,
    /// Tetracycline or doxycycline.
    Tetracycline,
    /// Lime-sulfur dip.
    LimeSulfur,
    /// Dried food.
    Food,
    /// Dried urine.
    Urine,
    /// Skin scale.
    Dander,
}

impl Residue {
    pub(super) const ALL: [(Residue, f64); 7] = [
        (Residue::Soap, 1.0),
        (Residue::Ointment, 1.4),
        (Residue::Tetracycline, 1.3),
        (Residue::LimeSulfur, 0.9),
        (Residue::Food, 0.8),
        (Residue::Urine, 0.8),
        (Residue::Dander, 0.8),
    ];

    pub(super) fn kind(self) -> &'static str {
        match self {
            Residue::Soap => "soap",
            Residue::Ointment => "ointment",
            Residue::Tetracycline => "tetracycline",
            Residue::LimeSulfur => "lime-sulfur",
            Residue::Food => "food",
            Residue::Urine => "urine",
            Residue::Dander => "dander",
        }
    }

    /// Its glow, drawn once a scene: neighbours share the same spill.
    pub(super) fn spectrum(self, dice: &mut Dice) -> Spectrum {
        match self {
            Residue::Soap => spectra::soap(dice.unit()),
            Residue::Ointment => spectra::ointment(dice.unit()),
            Residue::Tetracycline => spectra::tetracycline(dice.uniform(-10.0, 12.0)),
            Residue::LimeSulfur => spectra::lime_sulfur(dice.unit()),
            Residue::Food => spectra::food(dice.unit()),
            Residue::Urine => spectra::urine(dice.unit()),
            Residue::Dander => spectra::dander(dice.unit()),
        }
    }

    /// Size of clots, µm; contrast; least and most film thickness over radius; chance of an unbroken film.
    fn habit(self) -> (f64, f64, (f64, f64), f64) {
        match self {
            Residue::Soap => (14.0, 0.45, (0.02, 0.2), 0.6),
            Residue::Ointment => (40.0, 0.2, (0.05, 0.9), 0.75),
            Residue::Tetracycline => (8.0, 0.5, (0.01, 0.4), 0.5),
            Residue::LimeSulfur => (9.0, 0.7, (0.04, 0.4), 0.35),
            Residue::Food => (18.0, 0.6, (0.05, 0.8), 0.2),
            Residue::Urine => (12.0, 0.5, (0.02, 0.25), 0.5),
            Residue::Dander => (22.0, 0.8, (0.10, 0.9), 0.0),
        }
    }
}

/// Coats a bare hair; returns where. `strength` is the mean added glow across the coated outline.
pub(super) fn coat(
    dice: &mut Dice,
    stretch: &Stretch,
    body: &mut Body,
    residue: Residue,
    strength: f64,
    shown_um: (f32, f32),
) -> Zone {
    let seed = dice.seed();
    let um_per_px = stretch.um_per_px as f32;
    let (clot_um, contrast, thickness, unbroken) = residue.habit();
    let thick = dice.log_uniform(thickness.0, thickness.1) as f32;
    let zone = if dice.chance(unbroken) {
        Zone::Whole
    } else {
        dice.weighted(&[(Zone::Patchy, 0.7), (Zone::Base, 0.15), (Zone::Tip, 0.15)])
    };
    let shown = shown_um.1 - shown_um.0;
    let border = shown_um.0 + shown * dice.uniform(0.25, 0.75) as f32;
    let front_um = (shown * dice.uniform(0.01, 0.08) as f32).clamp(4.0, 300.0);
    let patch_um = (shown * dice.uniform(0.03, 0.2) as f32).max(clot_um as f32);
    let patch_slope = dice.uniform(1.2, 5.0) as f32;
    let soaked = dice.uniform(0.0, 0.5) as f32;
    // An unbroken film is the outer optical boundary, however thin; patches and their gaps are not.
    let counts = zone != Zone::Patchy;
    let beads = if zone == Zone::Whole { dice.log_uniform(0.05, 0.5) as f32 } else { 0.35 };
    let bead_um = (clot_um * dice.log_uniform(1.0, 6.0)) as f32;
    // Under tape a residue lies in the corner beside the hair, often more of it on one side (no source).
    let lean = if dice.chance(0.5) { dice.uniform(-0.9, 0.9) as f32 } else { 0.0 };
    for i in 0..stretch.n_stations() {
        let s_um = stretch.um_past_base(i);
        let cover = match zone {
            Zone::Whole | Zone::None => 1.0,
            Zone::Base => ramp((border - s_um) / front_um),
            Zone::Tip => ramp((s_um - border) / front_um),
            Zone::Patchy => ramp(patch_slope * (texture::along(seed ^ 1, s_um / patch_um) + 0.05)),
        };
        let make = &mut body.makes[i];
        make.glow = cover;
        let radius_px = make.outer_px[0];
        for side in 0..2 {
            let bead = 1.0 + beads * texture::along(seed ^ (2 + side as u32), s_um / bead_um);
            let share = 1.0 + if side == 0 { -lean } else { lean };
            let film_px = (radius_px * thick * cover * bead * share).max(0.0);
            make.outer_px[side] = radius_px + film_px;
            if counts {
                make.counted_px[side] = make.outer_px[side];
            }
            // A film fills the steps between scales: its surface is smoother than they are.
            make.shell_px[side] = make.outer_px[side].max(make.edge_px[side]);
        }
        let (inner, outer) = (radius_px * um_per_px, 0.5 * (make.outer_px[0] + make.outer_px[1]) * um_per_px);
        let ring_um2 = std::f32::consts::PI * (outer * outer - inner * inner);
        if ring_um2 > 1e-3 {
            // Mean chord of the ring over the outline is its area over the width.
            let mean_path = ring_um2 / (2.0 * outer) / REFERENCE_PATH_UM;
            let wanted = strength as f32 * (1.0 - soaked) * cover * (outer * 2.0 / REFERENCE_PATH_UM).min(1.0);
            make.shell = (wanted / mean_path).min(MOST_FILM_STRENGTH);
        }
        make.inside = strength as f32 * soaked * cover;
    }
    body.surface.grain_um = 0.0;
    body.surface.clot_um = clot_um * dice.uniform(0.7, 1.4);
    body.surface.shell_contrast = (contrast * dice.uniform(0.6, 1.2)) as f32;
    zone
}

/// Glow of the strongest film per reference path: a thin film of pure dye, no more than thirty times hair.
const MOST_FILM_STRENGTH: f32 = 30.0;

/// Traps air along a stretch of a shaft, on one side or both: the tape bridges the corner beside a thick hair.
pub(super) fn trap_air(dice: &mut Dice, stretch: &Stretch, makes: &mut [Make], diameter_um: f64) {
    let seed = dice.seed();
    let width_px = (diameter_um * dice.uniform(0.08, 0.35) / stretch.um_per_px) as f32;
    let reach_um = dice.log_uniform(60.0, 600.0) as f32;
    let both = dice.chance(0.4);
    let side = dice.whole(0, 1);
    for (i, make) in makes.iter_mut().enumerate() {
        let s_um = stretch.um_past_base(i);
        for k in 0..2 {
            if both || k == side {
                let open = ramp(3.0 * (texture::along(seed ^ k as u32, s_um / reach_um) - 0.25));
                let wobble = 1.0 + 0.3 * texture::along(seed ^ 0x80, s_um / 25.0);
                make.air_px[k] = width_px * open * wobble;
            }
        }
    }
}
