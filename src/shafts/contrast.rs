//! Which pixels differ from the ground: contrast in units of noise across the channels, both polarities at once.
//!
//! At each of a few sizes (means over 1, 2, 4, 8 pixels) the difference from the background is divided by the
//! spread that open ground shows at that size, and the channels are added in squares. A shaft too dim to stand out
//! pixel by pixel does so in a coarser mean. What is but the halo of something brighter beside it is cut by
//! comparison with the brightest near it.

use crate::maths::components::components;
use crate::maths::raster::Raster;
use crate::maths::stats::quantile;

/// Sizes looked at, each twice the last.
const LEVELS: usize = 4;
/// Contrast that makes a pixel stand out. For three channels of normal noise 5.1 is passed by 3 pixels in a million.
const STANDS_OUT: f32 = 5.2;
/// Contrast down to which a pixel beside one that stands out belongs to it.
const BELONGS: f32 = 3.4;
/// Halo rule: (reach in pixels, share of the brightest within reach that a pixel must have).
/// A shaft's blurred edge falls below a third within a few pixels; stray light of real optics is a few per cent.
const HALO: [(usize, f32); 3] = [(4, 0.30), (16, 0.08), (48, 0.025)];
/// Smallest spread of open ground that is believed, as a share of the ground: files with almost no noise would
/// otherwise show every trace of haze as a shaft.
const LEAST_SPREAD: f32 = 0.012;
/// And as linear light: a quarter step of an 8-bit file in the dark.
const LEAST_LIGHT: f32 = 8e-5;

/// And in steps of the file's values, whatever the mean is taken over: where compression has smoothed the noise away,
/// whole blocks of pixels round up or down together, in all channels at once.
const QUANTUM: f32 = 0.4;

/// What three channels of normal noise pass two times in a hundred (chi distribution with 3 degrees of freedom).
const NORMAL_TAIL: f64 = 3.1366;
/// Contrast of single pixels below which a shaft's mask has holes by chance.
const FAINT: f32 = 6.0;

/// Contrast and mask at the field's reduced size.
pub(super) struct Contrast {
    /// Contrast in noise units at each size; divided by how much heavier its tail is than normal noise.
    pub(super) strengths: Vec<Raster<f32>>,
    /// Pixels that stand out.
    pub(super) mask: Raster<bool>,
}

impl Contrast {
    /// The greatest contrast at (x, y) over all sizes: what chance makes of single pixels fades in coarser means,
    /// a shaft grows.
    pub(super) fn best(&self, x: f64, y: f64) -> f32 {
        self.strengths
            .iter()
            .enumerate()
            .map(|(level, strength)| {
                let unit = (1 << level) as f64;
                strength.bilinear((x + 0.5) / unit - 0.5, (y + 0.5) / unit - 0.5)
            })
            .fold(0.0, f32::max)
    }
}

/// Contrast of `planes` against `background` where `inside`. `sd` gives the shape of the noise over brightness;
/// its level is found here. `step` is the light that one step of the file's values makes at a light.
pub(super) fn contrast(
    planes: &[Raster<f32>; 3],
    background: &[Raster<f32>; 3],
    inside: &Raster<bool>,
    sd: &(dyn Fn(usize, f32) -> f32 + Sync),
    step: &dyn Fn(f32) -> f32,
) -> Contrast {
    let (width, height) = (inside.width(), inside.height());
    let mut differences: Vec<Raster<f32>> = (0..3)
        .map(|c| {
            let mut out = Raster::filled(width, height, 0.0f32);
            for (i, value) in out.data_mut().iter_mut().enumerate() {
                if inside.data()[i] {
                    let ground = background[c].data()[i];
                    // Divided by the expected noise, so that one factor a size and channel is left to find.
                    *value = (planes[c].data()[i] - ground) / sd(c, ground).max(LEAST_LIGHT);
                }
            }
            out
        })
        .collect();
    // The believed least spread in the same unit, taken at the middle of the ground.
    let least: Vec<[f32; 2]> = (0..3)
        .map(|c| {
            let mut levels: Vec<f64> = background[c].data().iter().step_by(97).map(|&v| f64::from(v)).collect();
            let ground = quantile(&mut levels, 0.5).unwrap_or(0.0) as f32;
            let unit = sd(c, ground).max(LEAST_LIGHT);
            [(LEAST_SPREAD * ground).max(LEAST_LIGHT) / unit, QUANTUM * step(ground) / unit]
        })
        .collect();
    let mut mask = Raster::filled(width, height, false);
    let mut strengths: Vec<Raster<f32>> = Vec::new();
    for level in 0..LEVELS {
        if level > 0 {
            differences = differences.iter().map(halved).collect();
        }
        let (w, h) = (differences[0].width(), differences[0].height());
        if w < 8 || h < 8 {
            break;
        }
        let strength = strength_of(&differences, &least, inside, level);
        let heavier = tail_factor(&strength, &|x, y| within_field(inside, level, x, y));
        let strength = strength.map(|v| v / heavier);
        let found = standing_out(&strength);
        if level == 0 {
            mask = found;
        } else {
            add_coarse(&mut mask, &found, &strength, level);
        }
        strengths.push(strength);
    }
    if strengths.is_empty() {
        strengths.push(Raster::filled(width, height, 0.0));
    }
    for (value, &within) in mask.data_mut().iter_mut().zip(inside.data()) {
        *value &= within;
    }
    fill_holes(&mut mask, &strengths[0]);
    Contrast { strengths, mask }
}

fn strength_of(differences: &[Raster<f32>], least: &[[f32; 2]], inside: &Raster<bool>, level: usize) -> Raster<f32> {
    let (w, h) = (differences[0].width(), differences[0].height());
    let at_full = |x: usize, y: usize| within_field(inside, level, x, y);
    let scale: Vec<f32> = (0..3)
        .map(|c| {
            let every = (w * h / 20_000).max(1);
            let mut off: Vec<f64> = (0..w * h)
                .step_by(every)
                .filter(|&i| at_full(i % w, i / w))
                .map(|i| f64::from(differences[c].data()[i].abs()))
                .collect();
            // Shafts may cover a third of the field; see the field stage for the factor.
            let spread = (quantile(&mut off, 0.4).unwrap_or(0.0) / 0.5244) as f32;
            1.0 / spread.max(least[c][0] / (1 << level) as f32).max(least[c][1]).max(1e-6)
        })
        .collect();
    let mut strength = Raster::filled(w, h, 0.0f32);
    for (i, value) in strength.data_mut().iter_mut().enumerate() {
        let sum: f32 = (0..3).map(|c| (differences[c].data()[i] * scale[c]).powi(2)).sum();
        *value = sum.sqrt();
    }
    strength
}

/// Whether a pixel of a coarser size lies in the field.
fn within_field(inside: &Raster<bool>, level: usize, x: usize, y: usize) -> bool {
    let middle = (1 << level) / 2;
    inside.at(((x << level) + middle).min(inside.width() - 1), ((y << level) + middle).min(inside.height() - 1))
}

/// How much heavier the tail of open ground is than that of normal noise, at least 1: denoising, sharpening and
/// compression make clumps. Taken in the quieter tiles of the picture, where no shaft lies.
fn tail_factor(strength: &Raster<f32>, inside: &dyn Fn(usize, usize) -> bool) -> f32 {
    let (w, h) = (strength.width(), strength.height());
    let tile = if w * h > 200_000 { 32 } else { 16 };
    let mut tails = Vec::new();
    for y0 in (0..h.saturating_sub(tile - 1)).step_by(tile) {
        for x0 in (0..w.saturating_sub(tile - 1)).step_by(tile) {
            if !(inside(x0, y0)
                && inside(x0 + tile - 1, y0 + tile - 1)
                && inside(x0, y0 + tile - 1)
                && inside(x0 + tile - 1, y0))
            {
                continue;
            }
            let mut values: Vec<f64> =
                (y0..y0 + tile).flat_map(|y| strength.row(y)[x0..x0 + tile].iter().map(|&v| f64::from(v))).collect();
            tails.push(quantile(&mut values, 0.98).unwrap_or(0.0));
        }
    }
    if tails.len() < 6 {
        return 1.0;
    }
    // Nearly half of the tiles are taken to hold no shaft.
    ((quantile(&mut tails, 0.45).unwrap_or(0.0) / NORMAL_TAIL) as f32).clamp(1.0, 4.0)
}

/// Hysteresis with the halo rule.
fn standing_out(strength: &Raster<f32>) -> Raster<bool> {
    let (w, h) = (strength.width(), strength.height());
    let near: Vec<(Raster<f32>, usize, f32)> =
        HALO.iter().map(|&(reach, share)| (brightest_near(strength, reach), reach, share)).collect();
    let mut candidate = Raster::filled(w, h, false);
    for y in 0..h {
        for x in 0..w {
            let value = strength.at(x, y);
            if value < BELONGS {
                continue;
            }
            let halo = near.iter().any(|(pool, reach, share)| {
                let (u, v) = ((x as f64 + 0.5) / *reach as f64 - 0.5, (y as f64 + 0.5) / *reach as f64 - 0.5);
                value < share * pool.bilinear(u, v)
            });
            candidate.set(x, y, !halo);
        }
    }
    let parts = components(&candidate);
    let mut firm = vec![0usize; parts.parts.len()];
    for (label, &value) in parts.labels.data().iter().zip(strength.data()) {
        if *label > 0 && value >= STANDS_OUT {
            firm[*label as usize] += 1;
        }
    }
    // A lone pixel is a hot pixel or chance.
    parts.labels.map(|label| label > 0 && firm[label as usize] >= 2)
}

/// The brightest value within about `reach` pixels, on a grid of blocks of that size.
fn brightest_near(strength: &Raster<f32>, reach: usize) -> Raster<f32> {
    let (nx, ny) = (strength.width().div_ceil(reach), strength.height().div_ceil(reach));
    let mut pool = Raster::filled(nx, ny, 0.0f32);
    for y in 0..strength.height() {
        for (x, &value) in strength.row(y).iter().enumerate() {
            let (i, j) = (x / reach, y / reach);
            if value > pool.at(i, j) {
                pool.set(i, j, value);
            }
        }
    }
    Raster::from_fn(nx, ny, |i, j| {
        let mut best = 0.0f32;
        for v in j.saturating_sub(1)..(j + 2).min(ny) {
            for u in i.saturating_sub(1)..(i + 2).min(nx) {
                best = best.max(pool.at(u, v));
            }
        }
        best
    })
}

fn halved(plane: &Raster<f32>) -> Raster<f32> {
    let (w, h) = ((plane.width() / 2).max(1), (plane.height() / 2).max(1));
    Raster::from_fn(w, h, |x, y| {
        let (x1, y1) = ((2 * x + 1).min(plane.width() - 1), (2 * y + 1).min(plane.height() - 1));
        0.25 * (plane.at(2 * x, 2 * y) + plane.at(x1, 2 * y) + plane.at(2 * x, y1) + plane.at(x1, y1))
    })
}

/// Adds what a coarser size found: beyond the reach of what stands already, joined on; and throughout where single
/// pixels hardly stand out, so that a dim broad shaft is one piece and not a sponge.
fn add_coarse(mask: &mut Raster<bool>, coarse: &Raster<bool>, strength: &Raster<f32>, level: usize) {
    let (width, height) = (mask.width(), mask.height());
    let (w, h) = (coarse.width(), coarse.height());
    let cell = |x: usize, y: usize| ((x >> level).min(w - 1), (y >> level).min(h - 1));
    // What stands already, on the coarse grid, two coarse pixels around.
    let mut near = Raster::filled(w, h, false);
    for y in 0..height {
        for x in 0..width {
            if mask.at(x, y) {
                let (i, j) = cell(x, y);
                near.set(i, j, true);
            }
        }
    }
    let near = grown(&near, 2);
    let far = Raster::from_fn(w, h, |x, y| coarse.at(x, y) && !near.at(x, y));
    let parts = components(&far);
    // Less than a short piece of shaft is chance.
    let kept = parts.labels.map(|label| label > 0 && parts.parts[label as usize].area >= 12);
    let joined = grown(&kept, 2);
    // A mean over n pixels stands out √n times as well as one of them; n = 4^level.
    let faint = FAINT * (1 << level) as f32;
    let whole = components(coarse);
    for y in 0..height {
        for x in 0..width {
            let (i, j) = cell(x, y);
            let large = whole.parts[whole.labels.at(i, j) as usize].area >= 12;
            if coarse.at(i, j) && (joined.at(i, j) || (large && strength.at(i, j) < faint)) {
                mask.set(x, y, true);
            }
        }
    }
}

/// The mask with everything within a square of half-size `reach` set.
fn grown(mask: &Raster<bool>, reach: usize) -> Raster<bool> {
    let (w, h) = (mask.width(), mask.height());
    let across =
        Raster::from_fn(w, h, |x, y| mask.row(y)[x.saturating_sub(reach)..(x + reach + 1).min(w)].iter().any(|&v| v));
    Raster::from_fn(w, h, |x, y| (y.saturating_sub(reach)..(y + reach + 1).min(h)).any(|v| across.at(x, v)))
}

/// Fills holes that are specks, or that themselves stand out (a dark core, the dip behind a bright rim);
/// open ground enclosed by shafts stays open.
fn fill_holes(mask: &mut Raster<bool>, strength: &Raster<f32>) {
    let holes = components_by_sides_of_unset(mask);
    let mut sum = vec![0.0f64; holes.parts.len()];
    for (label, &value) in holes.labels.data().iter().zip(strength.data()) {
        sum[*label as usize] += f64::from(value);
    }
    let (width, height) = (mask.width(), mask.height());
    let fill: Vec<bool> = holes
        .parts
        .iter()
        .zip(&sum)
        .map(|(part, sum)| {
            let at_border = part.low.0 == 0 || part.low.1 == 0 || part.high.0 + 1 == width || part.high.1 + 1 == height;
            let mean = sum / part.area.max(1) as f64;
            part.area > 0 && (part.area <= 8 || (!at_border && mean > f64::from(BELONGS)))
        })
        .collect();
    for (value, &label) in mask.data_mut().iter_mut().zip(holes.labels.data()) {
        *value |= label > 0 && fill[label as usize];
    }
}

fn components_by_sides_of_unset(mask: &Raster<bool>) -> crate::maths::components::Components {
    crate::maths::components::components_by_sides(&mask.map(|v| !v))
}

#[cfg(test)]
mod tests {
    use super::contrast;
    use crate::maths::raster::Raster;

    /// Repeatable noise of standard deviation 1, near enough normal: a sum of uniform numbers.
    fn grain(x: usize, y: usize, c: usize) -> f32 {
        let mut state = (x as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ ((y as u64) << 32) ^ ((c as u64) << 17) | 1;
        let mut sum = 0.0f32;
        for _ in 0..12 {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            sum += (state >> 40) as f32 / (1u64 << 24) as f32;
        }
        sum - 6.0
    }

    fn share_found(shaft: [f32; 3]) -> (f64, f64) {
        let planes = [0, 1, 2].map(|c| {
            Raster::from_fn(400, 300, |x, y| {
                let on = (140..160).contains(&y);
                0.05 + 0.002 * grain(x, y, c) + if on { shaft[c] } else { 0.0 }
            })
        });
        let ground = [0, 1, 2].map(|_| Raster::filled(400, 300, 0.05f32));
        let found = contrast(&planes, &ground, &Raster::filled(400, 300, true), &|_, _| 0.002, &|_| 0.0);
        let on = (0..400 * 300).filter(|i| (140..160).contains(&(i / 400)));
        let hit = on.filter(|&i| found.mask.data()[i]).count() as f64 / 8000.0;
        let false_alarm =
            (0..400 * 300).filter(|i| !(124..176).contains(&(i / 400)) && found.mask.data()[*i]).count() as f64;
        (hit, false_alarm)
    }

    #[test]
    fn brighter_darker_and_differently_coloured_shafts_stand_out_and_ground_does_not() {
        for shaft in [[0.0, 0.02, 0.02], [-0.012, -0.012, -0.012], [0.012, 0.0, -0.012]] {
            let (hit, false_alarm) = share_found(shaft);
            assert!(hit > 0.95, "{shaft:?}: {hit}");
            assert_eq!(false_alarm, 0.0, "{shaft:?}");
        }
    }

    #[test]
    fn a_shaft_dimmer_than_the_noise_is_seen_in_coarser_means() {
        let (hit, false_alarm) = share_found([0.0, 0.0018, 0.0018]);
        assert!(hit > 0.8, "{hit}");
        assert_eq!(false_alarm, 0.0);
    }

    #[test]
    fn empty_ground_has_no_contrast() {
        let (hit, false_alarm) = share_found([0.0; 3]);
        assert_eq!((hit, false_alarm), (0.0, 0.0));
    }
}
