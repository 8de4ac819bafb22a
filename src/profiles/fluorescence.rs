//! Light inside and beside the outline of a station.

use super::bins::Bins;
use super::scene::Scene;
use super::stations::Sight;
use crate::maths::cross_section::{Curves, Shape};

/// The ground begins this many blurs outside the outline, and a pixel more.
const GROUND_BLURS: f64 = 3.0;
const GROUND_PX: f64 = 1.0;
/// Least number of pixels on each side from which the ground is read beside the shaft.
const LEAST_GROUND_PIXELS: f64 = 6.0;
/// Halo: from the outline's blur on, this many widths wide.
const SPILL_WIDTHS: f64 = 0.5;
/// The middle, radii, in which a medulla's line is looked for, and the flanks it is compared with.
const MEDULLA_MIDDLE: f64 = 0.2;
const MEDULLA_FLANKS: [f64; 2] = [0.4, 0.8];
/// Widest medulla, share of the shaft's width: those of domestic animals take up to three quarters (docs/sources.md
/// 1.15), but none of these is brighter than its cortex.
const WIDEST_MEDULLA: f64 = 0.65;
/// Texture is read within this many radii, where light hardly changes across a bin.
const TEXTURE_RADII: f64 = 0.7;
/// Relative change of the glow with that of the radius: a wider outline takes in dimmer light at its edge.
const GLOW_BY_RADIUS: f64 = 0.7;
/// Signal over its noise below which a ratio of signals says nothing.
const LEAST_SIGNAL: f64 = 3.0;

/// Light of one station.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Light {
    pub(super) glow: [f64; 3],
    pub(super) ground: [f64; 3],
    pub(super) glow_sd: [f64; 3],
    pub(super) glow_shared_sd: f64,
    pub(super) unclipped_glow: Option<[f64; 3]>,
    pub(super) core_to_rim: Option<f64>,
    pub(super) spill: Option<f64>,
    pub(super) medulla: Option<f64>,
    pub(super) texture: Option<f64>,
}

/// A straight ground a channel: light = level + slope · distance.
#[derive(Clone, Copy, Debug)]
struct Ground {
    level: [f64; 3],
    slope: [f64; 3],
    pixels: f64,
}

/// An outline: centre and radius, pixels, and the radius' relative standard deviation.
#[derive(Clone, Copy, Debug)]
pub(super) struct Outline {
    pub(super) centre_px: f64,
    pub(super) radius_px: f64,
    pub(super) radius_spread: f64,
}

/// Reads the light of a station with this outline; `curves` are those of the shaft's shape,
/// `plain` those of the same without its core.
pub(super) fn light(scene: &Scene, sight: &Sight, outline: &Outline, curves: &mut Curves, plain: &mut Curves) -> Light {
    let Outline { centre_px: centre, radius_px: radius, radius_spread } = *outline;
    let blur = curves.shape().blur_px;
    let bins = &sight.bins;
    let v_of = |i: usize| (bins.middle_px(i) - centre) / radius;
    let beyond = 1.0 + (GROUND_BLURS * blur + GROUND_PX) / radius;
    let ground = ground(bins, &v_of, beyond).or_else(|| {
        let level = scene.background_at(sight.at)?;
        Some(Ground { level, slope: [0.0; 3], pixels: f64::INFINITY })
    });
    let ground = ground.unwrap_or(Ground { level: [0.0; 3], slope: [0.0; 3], pixels: 1.0 });
    let leak = leak(curves, radius);
    let glow_shared_sd = GLOW_BY_RADIUS * radius_spread;
    let mut light = Light {
        glow_shared_sd,
        ground: [0, 1, 2].map(|c| ground.level[c] + ground.slope[c] * centre),
        ..Light::default()
    };
    // Bins count alike, however many pixels happened to fall into each; one that the outline runs through counts as
    // far as it lies inside.
    let (mut inside, mut shares, mut spread) = ([0.0; 3], 0.0, 0.0);
    let (mut unclipped, mut unclipped_shares) = ([0.0; 3], 0.0);
    for (i, bin) in bins.bins.iter().enumerate() {
        let share = ((1.0 - v_of(i).abs()) * radius / bins.step_px + 0.5).clamp(0.0, 1.0);
        if share > 0.0 && bin.count() > 0.0 {
            let (count, at) = (f64::from(bin.count()), f64::from(bin.at()));
            shares += share;
            spread += share * share / count;
            let above =
                [0, 1, 2].map(|c| f64::from(bin.light()[c]) / count - ground.level[c] - ground.slope[c] * at / count);
            for c in 0..3 {
                inside[c] += share * above[c];
            }
            if bin.clipped() <= 0.0 {
                unclipped_shares += share;
                for c in 0..3 {
                    unclipped[c] += share * above[c];
                }
            }
        }
    }
    light.unclipped_glow = (unclipped_shares > 0.0).then(|| unclipped.map(|sum| sum / unclipped_shares * leak));
    if shares > 0.0 {
        for (c, inside) in inside.iter().enumerate() {
            light.glow[c] = inside / shares * leak;
            let variance = scene.noise[c].variance(light.ground[c] + light.glow[c]) * spread / (shares * shares)
                + scene.noise[c].variance(light.ground[c]) / ground.pixels;
            light.glow_sd[c] = variance.sqrt() * leak;
        }
    } else {
        light.glow_sd = [0, 1, 2].map(|c| scene.noise[c].variance(light.ground[c]).sqrt());
    }
    let above = above(sight, &ground, &v_of);
    let mixed = |from: f64, to: f64| mixed_between(sight, &above, from, to);
    let whole = mixed(0.0, 1.0);
    if !whole.is_some_and(|w| w.mean > LEAST_SIGNAL * w.sd) {
        return light;
    }
    light.texture = texture(sight, &v_of);
    let rim = mixed(2.0 / 3.0, 1.0).filter(|rim| rim.mean > LEAST_SIGNAL * rim.sd);
    light.core_to_rim = mixed(0.0, 1.0 / 3.0).zip(rim).map(|(core, rim)| core.mean / rim.mean);
    let halo_from = 1.0 + 2.0 * blur / radius;
    // The ground is read where the halo may be, so the halo is compared with the background made beforehand.
    light.spill =
        halo(scene, sight, &v_of, halo_from, halo_from + 2.0 * SPILL_WIDTHS).zip(whole).map(|(h, w)| h / w.mean);
    light.medulla = medulla(&mixed, plain, radius, bins);
    light
}

/// Mean of the mixed light above the ground and its standard deviation.
#[derive(Clone, Copy, Debug)]
struct Mean {
    mean: f64,
    sd: f64,
}

/// One bin inside the outline: distance from the axis in radii, pixels, sum of mixed light above the ground.
type Above = (f64, f64, f64);

fn above(sight: &Sight, ground: &Ground, v_of: &dyn Fn(usize) -> f64) -> Vec<Above> {
    let weights = sight.mix.weights.map(f64::from);
    let level: f64 = (0..3).map(|c| weights[c] * ground.level[c]).sum();
    let slope: f64 = (0..3).map(|c| weights[c] * ground.slope[c]).sum();
    let bins = sight.bins.bins.iter().enumerate().filter(|(_, bin)| bin.count() > 0.0);
    bins.map(|(i, bin)| (v_of(i).abs(), bin))
        .filter(|(v, _)| *v <= 1.0)
        .map(|(v, bin)| {
            let (count, at) = (f64::from(bin.count()), f64::from(bin.at()));
            (v, count, f64::from(sight.mix.of(bin.light())) - level * count - slope * at)
        })
        .collect()
}

fn mixed_between(sight: &Sight, above: &[Above], from: f64, to: f64) -> Option<Mean> {
    let within = above.iter().filter(|(v, ..)| *v >= from && *v <= to);
    let (pixels, sum) = within.fold((0.0, 0.0), |(n, sum), (_, count, light)| (n + count, sum + light));
    let variance = sight.variance[0] + sight.variance[1].max(0.0);
    (pixels > 0.0).then(|| Mean { mean: sum / pixels, sd: (variance / pixels).sqrt() })
}

fn ground(bins: &Bins, v_of: &dyn Fn(usize) -> f64, beyond: f64) -> Option<Ground> {
    let (mut n, mut t, mut tt) = (0.0, 0.0, 0.0);
    let (mut y, mut ty) = ([0.0; 3], [0.0; 3]);
    let mut sides = [0.0; 2];
    for (i, bin) in bins.bins.iter().enumerate() {
        let v = v_of(i);
        if v.abs() < beyond || bin.count() <= 0.0 {
            continue;
        }
        let count = f64::from(bin.count());
        let at = f64::from(bin.at()) / count;
        sides[usize::from(v > 0.0)] += count;
        n += count;
        t += count * at;
        tt += count * at * at;
        for c in 0..3 {
            y[c] += f64::from(bin.light()[c]);
            ty[c] += at * f64::from(bin.light()[c]);
        }
    }
    let determinant = n * tt - t * t;
    if sides[0] < LEAST_GROUND_PIXELS || sides[1] < LEAST_GROUND_PIXELS || determinant <= 0.0 {
        return None;
    }
    let level = [0, 1, 2].map(|c| (tt * y[c] - t * ty[c]) / determinant);
    let slope = [0, 1, 2].map(|c| (n * ty[c] - t * y[c]) / determinant);
    Some(Ground { level, slope, pixels: n })
}

/// Mean light of the outline before the blur over that after it: the blur carries light out of the outline.
fn leak(curves: &mut Curves, radius: f64) -> f64 {
    const PLACES: usize = 24;
    let v: Vec<f64> = (0..PLACES).map(|i| (i as f64 + 0.5) / PLACES as f64).collect();
    let blurred = curves.light(radius, &v).iter().sum::<f64>() / PLACES as f64;
    let sharp = curves.shape().mean_inside();
    // Below a third the shaft is thinner than its blur, and the correction would be a guess.
    if blurred > 0.33 * sharp && sharp > 0.0 { sharp / blurred } else { 1.0 }
}

/// Mixed light above the background in a band outside the outline.
fn halo(scene: &Scene, sight: &Sight, v_of: &dyn Fn(usize) -> f64, from: f64, to: f64) -> Option<f64> {
    let background = scene.background_at(sight.at)?;
    let (mut sum, mut pixels) = (0.0, 0.0);
    for (i, bin) in sight.bins.bins.iter().enumerate() {
        let v = v_of(i).abs();
        if v >= from && v <= to && bin.count() > 0.0 {
            pixels += f64::from(bin.count());
            let background: f64 = background.iter().zip(sight.mix.weights).map(|(b, w)| b * f64::from(w)).sum();
            sum += f64::from(sight.mix.of(bin.light())) - background * f64::from(bin.count());
        }
    }
    (pixels > 0.0).then(|| sum / pixels)
}

/// Depth of a line in the middle against the cylinder that its flanks ask for; below 0 where it is brighter.
fn medulla(mixed: &dyn Fn(f64, f64) -> Option<Mean>, plain: &mut Curves, radius: f64, bins: &Bins) -> Option<f64> {
    // A middle narrower than two bins is no line but noise.
    let middle = MEDULLA_MIDDLE.max(bins.step_px / radius);
    if middle >= MEDULLA_FLANKS[0] {
        return None;
    }
    let flanks = mixed(MEDULLA_FLANKS[0], MEDULLA_FLANKS[1]).filter(|m| m.mean > LEAST_SIGNAL * m.sd)?;
    let seen = mixed(0.0, middle)?;
    let mean_of = |from: f64, to: f64, plain: &mut Curves| {
        let v: Vec<f64> = (0..8).map(|i| from + (to - from) * (f64::from(i) + 0.5) / 8.0).collect();
        plain.light(radius, &v).iter().sum::<f64>() / 8.0
    };
    let expected = mean_of(0.0, middle, plain) / mean_of(MEDULLA_FLANKS[0], MEDULLA_FLANKS[1], plain);
    Some(1.0 - seen.mean / (flanks.mean * expected))
}

/// Variance of the light at equal distance from the axis over that of the noise.
fn texture(sight: &Sight, v_of: &dyn Fn(usize) -> f64) -> Option<f64> {
    let (mut sum, mut freedom) = (0.0, 0.0);
    for (i, bin) in sight.bins.bins.iter().enumerate() {
        if v_of(i).abs() > TEXTURE_RADII || bin.count() < 3.0 {
            continue;
        }
        let count = f64::from(bin.count());
        let mixed = f64::from(sight.mix.of(bin.light())) - f64::from(sight.mix.offset) * count;
        sum += f64::from(bin.square()) - mixed * mixed / count;
        freedom += count - 1.0;
    }
    let variance = sight.variance[0] + sight.variance[1].max(0.0);
    (freedom >= 8.0).then(|| (sum / freedom / variance).max(0.0))
}

/// The shape without its medulla. A wide core that is brighter than what is around it is none, but the hair itself
/// within a dimmer sheath, and stays.
pub(super) fn without_medulla(shape: Shape) -> Shape {
    Shape { core: shape.core.filter(|core| core.strength > 0.0 && core.radius_share > WIDEST_MEDULLA), ..shape }
}
