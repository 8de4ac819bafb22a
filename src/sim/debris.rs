//! What else lies on the slide: how much of it, how large, how bright.

use crate::maths::point::Point;

use super::dice::Dice;
use super::ranges::Ranges;
use super::scene::{Debris, DebrisKind, Look, Scene};
use super::spectra;

/// Largest half extent of a piece of dust, µm: anything longer and thin would be a fibre.
const LARGEST_DUST_UM: f64 = 12.0;

/// Strews debris over the scene.
pub(super) fn draw_debris(scene: &mut Scene, ranges: &Ranges, dice: &mut Dice) {
    let amount = dice.uniform(ranges.debris.0, ranges.debris.1);
    let mut pieces = Vec::new();
    let count = |mean: f64, dice: &mut Dice| (amount * mean * dice.uniform(0.0, 2.0)).round() as usize;
    let n_puddles = if scene.shafts.iter().any(|s| s.look == Look::Coated) { count(0.8, dice) } else { 0 };
    for _ in 0..n_puddles {
        pieces.extend(puddle(scene, dice));
    }
    for shaft in scene.shafts.iter().filter(|s| s.kind == "dander") {
        for _ in 0..dice.whole(1, 5) {
            let mut flake = flake(scene, dice);
            flake.at = shaft.course.at(dice.uniform(shaft.from_px, shaft.to_px));
            flake.spectrum = shaft.extra_spectrum.clone();
            pieces.push(flake);
        }
    }
    for _ in 0..count(1.0, dice) {
        pieces.push(streak(scene, dice));
    }
    for _ in 0..count(2.5, dice) {
        pieces.push(bubble(scene, dice));
    }
    for _ in 0..count(2.0, dice) {
        pieces.push(flake(scene, dice));
    }
    for _ in 0..count(14.0, dice) {
        pieces.push(dust(scene, dice));
    }
    scene.debris = pieces;
}

fn anywhere(scene: &Scene, dice: &mut Dice) -> Point {
    Point::new(dice.uniform(0.0, scene.width_px as f64), dice.uniform(0.0, scene.height_px as f64))
}

fn blur(scene: &Scene, dice: &mut Dice) -> f64 {
    scene.optics.lens_blur_px * dice.log_uniform(1.0, 3.0) + 0.4
}

fn piece(scene: &Scene, dice: &mut Dice, kind: DebrisKind, long_um: f64, short_um: f64, strength: f64) -> Debris {
    Debris {
        kind,
        at: anywhere(scene, dice),
        long_px: (long_um / scene.um_per_px).max(0.7),
        short_px: (short_um / scene.um_per_px).max(0.7),
        angle: dice.uniform(0.0, std::f64::consts::PI),
        strength,
        spectrum: spectra::dander(dice.unit()),
        blur_px: blur(scene, dice),
        texture: dice.seed(),
    }
}

fn puddle(scene: &Scene, dice: &mut Dice) -> Option<Debris> {
    let coated: Vec<usize> = (0..scene.shafts.len()).filter(|i| scene.shafts[*i].look == Look::Coated).collect();
    let shaft = &scene.shafts[*coated.get(dice.whole(0, coated.len().checked_sub(1)?))?];
    let s = dice.uniform(shaft.from_px, shaft.to_px);
    let size_um = dice.log_uniform(40.0, 220.0);
    let (flat, strength) = (dice.uniform(0.5, 1.0), dice.log_uniform(0.05, 0.4));
    let mut debris = piece(scene, dice, DebrisKind::Puddle, size_um, size_um * flat, strength);
    debris.at = shaft.course.at(s);
    debris.spectrum = shaft.extra_spectrum.clone();
    Some(debris)
}

fn streak(scene: &Scene, dice: &mut Dice) -> Debris {
    let long_um = dice.uniform(0.3, 1.2) * scene.half_diagonal_px() * scene.um_per_px;
    let short_um = dice.log_uniform(30.0, 200.0).max(12.0 * scene.um_per_px);
    let strength = scene.light.haze * dice.uniform(0.06, 0.35);
    let mut debris = piece(scene, dice, DebrisKind::Streak, long_um, short_um, strength);
    debris.spectrum = scene.light.haze_spectrum.clone();
    debris.blur_px += 3.0;
    debris
}

fn bubble(scene: &Scene, dice: &mut Dice) -> Debris {
    let radius_um = dice.log_uniform(12.0, 160.0);
    let oblong = if dice.chance(0.3) { dice.uniform(0.4, 0.9) } else { 1.0 };
    piece(scene, dice, DebrisKind::Bubble, radius_um, radius_um * oblong, 0.0)
}

fn flake(scene: &Scene, dice: &mut Dice) -> Debris {
    let long_um = dice.log_uniform(15.0, 90.0);
    let short_um = long_um * dice.uniform(0.4, 1.0);
    let strength = dice.log_uniform(0.15, 1.3);
    piece(scene, dice, DebrisKind::Flake, long_um, short_um, strength)
}

fn dust(scene: &Scene, dice: &mut Dice) -> Debris {
    let long_um = dice.log_uniform(1.0, LARGEST_DUST_UM);
    let short_um = long_um * dice.uniform(0.5, 1.0);
    let strength = dice.log_uniform(0.1, 1.5);
    let mut debris = piece(scene, dice, DebrisKind::Dust, long_um, short_um, strength);
    if dice.chance(0.4) {
        debris.spectrum = spectra::brightener(dice.uniform(425.0, 450.0), 70.0);
    }
    debris
}
