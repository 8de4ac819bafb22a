//! Fibres that are no hair: twisted cotton, smooth filament, thick carpet fibre.

use super::body::{Body, Stretch};
use super::dice::Dice;
use super::make::Make;
use super::scene::{Build, End, Surface};
use super::spectra::{self, Spectrum};
use super::texture;

/// What a fibre glows with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dye {
    /// Optical brightener of washing.
    Brightener,
    /// Apple green of some synthetic carpets.
    Green,
    /// Yellow, orange or pink lint.
    Coloured,
    /// Hardly anything.
    Dull,
}

impl Dye {
    pub(super) fn drawn(dice: &mut Dice, build: Build) -> Dye {
        match build {
            Build::Carpet => dice.weighted(&[(Dye::Green, 0.65), (Dye::Brightener, 0.15), (Dye::Coloured, 0.2)]),
            Build::Cotton => dice.weighted(&[(Dye::Brightener, 0.7), (Dye::Dull, 0.2), (Dye::Coloured, 0.1)]),
            _ => dice.weighted(&[(Dye::Brightener, 0.5), (Dye::Green, 0.2), (Dye::Coloured, 0.15), (Dye::Dull, 0.15)]),
        }
    }

    fn spectrum(self, dice: &mut Dice) -> Spectrum {
        match self {
            Dye::Brightener => spectra::brightener(dice.uniform(425.0, 450.0), dice.uniform(60.0, 80.0)),
            Dye::Green => spectra::carpet_green(dice.uniform(505.0, 532.0), dice.uniform(60.0, 95.0)),
            Dye::Coloured => spectra::dyed_lint(dice.uniform(540.0, 610.0)),
            Dye::Dull => spectra::soap(dice.unit()),
        }
    }

    fn strength(self, dice: &mut Dice) -> f64 {
        match self {
            Dye::Brightener => dice.log_uniform(0.7, 3.5),
            Dye::Green => dice.log_uniform(0.5, 2.5),
            Dye::Coloured => dice.log_uniform(0.3, 2.0),
            Dye::Dull => dice.uniform(0.1, 0.3),
        }
    }
}

/// Draws a fibre's body; its glow is its own.
pub(super) fn fibre(dice: &mut Dice, stretch: &Stretch, build: Build, dye: Dye, diameter_um: f64) -> Body {
    let seed = dice.seed();
    let half_px = (0.5 * diameter_um / stretch.um_per_px) as f32;
    let strength = dye.strength(dice);
    // Facts 1.24: 200-300 convolutions an inch; one convolution is half a turn of the ribbon.
    let half_turn_um = (25_400.0 / dice.uniform(200.0, 300.0)) as f32;
    let flatness = dice.uniform(0.3, 0.5) as f32;
    // Trilobal pile shows wide and narrow sides as it slowly turns.
    let lobes = if build == Build::Carpet && dice.chance(0.6) { dice.uniform(0.03, 0.10) } else { 0.0 } as f32;
    let lobe_turn_um = dice.uniform(900.0, 4000.0) as f32;
    let makes = (0..stretch.n_stations())
        .map(|i| {
            let s_um = stretch.um_past_base(i);
            let (mut half, mut thickness) = (half_px, 1.0f32);
            match build {
                Build::Cotton => {
                    let turn = std::f32::consts::PI
                        * (s_um / half_turn_um + 0.35 * texture::along(seed, s_um / (1.7 * half_turn_um)));
                    let (cos, sin) = (libm::cosf(turn), libm::sinf(turn));
                    // Shadow of an ellipse of half axes 1 and `flatness`; its area stays.
                    let shadow = (cos * cos + flatness * flatness * sin * sin).sqrt();
                    half *= shadow;
                    thickness = flatness / (shadow * shadow);
                }
                Build::Carpet => {
                    half *= 1.0 + lobes * libm::sinf(s_um / lobe_turn_um * std::f32::consts::TAU);
                    thickness = 0.85;
                }
                _ => {}
            }
            let mut make = Make::bare(half);
            make.thickness = thickness;
            make.own = strength as f32 * (1.0 + 0.04 * texture::along(seed ^ 2, s_um / 300.0));
            make.pigment_per_um = if dye == Dye::Coloured { 0.02 } else { 0.004 };
            make
        })
        .collect();
    let surface = Surface {
        // Delustrant specks in filament, fibrils and folds in cotton.
        streak_contrast: if build == Build::Cotton { dice.uniform(0.15, 0.35) } else { dice.uniform(0.0, 0.05) } as f32,
        ..Surface::SMOOTH
    };
    let end = |dice: &mut Dice| {
        if build == Build::Cotton {
            End::Broken { ragged_um: dice.uniform(2.0, 8.0) }
        } else {
            End::Cut { slope: dice.uniform(-0.5, 0.5) }
        }
    };
    let own_spectrum = dye.spectrum(dice);
    Body { makes, surface, own_spectrum, loss_tint: [0.9, 1.0, 1.05], base_end: end(dice), tip_end: end(dice) }
}
