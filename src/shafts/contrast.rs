//! Which pixels differ from the ground: contrast in units of noise across the channels, both polarities at once.
//!
//! At each of a few sizes (means over 1, 2, 4, 8 pixels) the difference from the background is divided by the
//! spread that open ground shows at that size, and the channels are added in squares. A shaft too dim to stand out
//! pixel by pixel does so in a coarser mean (`mask`).

use rayon::prelude::*;

use super::mask::{add_coarse, beside, fill_holes, standing_out};
use crate::maths::raster::Raster;
use crate::maths::stats::quantile;

/// Sizes looked at, each twice the last.
const LEVELS: usize = 4;
/// Smallest spread of open ground that is believed, as a share of the ground: files with almost no noise would
/// otherwise show every trace of haze as a shaft.
const LEAST_SPREAD: f32 = 0.012;
/// And as linear light: a quarter step of an 8-bit file in the dark.
const LEAST_LIGHT: f32 = 8e-5;

/// And in steps of the file's values, whatever the mean is taken over: where compression has smoothed the noise away,
/// whole blocks of pixels round up or down together, in all channels at once.
const QUANTUM: f32 = 0.4;

/// Sides of the tiles in which the tail is looked at, by how many pixels there are more of.
const TILES: [(usize, usize); 2] = [(200_000, 32), (40_000, 16)];
/// And where there are fewer.
const LEAST_TILE: usize = 8;
/// Share of a tile's pixels below what counts as its tail.
const TAIL: f64 = 0.98;
/// What three channels of normal noise pass two times in a hundred (chi distribution with 3 degrees of freedom).
const NORMAL_TAIL: f64 = 3.1366;
/// Contrast and mask at the field's reduced size.
pub(super) struct Contrast {
    /// Contrast in noise units at each size; divided by how much heavier its tail is than normal noise.
    pub(super) strengths: Vec<Raster<f32>>,
    /// Light above the background in expected noise, single pixels, red, green, blue; 0 outside the field.
    pub(super) excess: [Raster<f32>; 3],
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
    let excess = [0, 1, 2].map(|c| {
        Raster::by_rows(width, height, 0.0f32, |y, row| {
            let light = planes[c].row(y).iter().zip(background[c].row(y)).zip(inside.row(y));
            for (value, ((&light, &ground), &within)) in row.iter_mut().zip(light) {
                if within {
                    // Divided by the expected noise, so that one factor a size and channel is left to find.
                    *value = (light - ground) / sd(c, ground).max(LEAST_LIGHT);
                }
            }
        })
    });
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
    let mut coarser: Option<[Raster<f32>; 3]> = None;
    for level in 0..LEVELS {
        if level > 0 {
            let finer = coarser.as_ref().unwrap_or(&excess);
            coarser = Some([0, 1, 2].map(|c| finer[c].block_means(2)));
        }
        let differences = coarser.as_ref().unwrap_or(&excess);
        let (w, h) = (differences[0].width(), differences[0].height());
        if w < 8 || h < 8 {
            break;
        }
        let mut strength = strength_of(differences, &least, inside, level);
        let beside = (level > 0).then(|| beside(&mask, level, w, h));
        let is_open = |x: usize, y: usize| {
            within_field(inside, level, x, y) && beside.as_ref().is_none_or(|beside| !beside.at(x, y))
        };
        let heavier = tail_factor(&strength, &|x, y| within_field(inside, level, x, y), &is_open);
        strength.data_mut().par_iter_mut().for_each(|value| *value /= heavier);
        let found = standing_out(&strength, level);
        match beside {
            None => mask = found,
            Some(beside) => add_coarse(&mut mask, &found, &strength, &beside, level),
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
    Contrast { strengths, excess, mask }
}

fn strength_of(differences: &[Raster<f32>; 3], least: &[[f32; 2]], inside: &Raster<bool>, level: usize) -> Raster<f32> {
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
    Raster::by_rows(w, h, 0.0f32, |y, row| {
        let [red, green, blue] = [0, 1, 2].map(|c| differences[c].row(y));
        for (value, ((red, green), blue)) in row.iter_mut().zip(red.iter().zip(green).zip(blue)) {
            let scaled = [red * scale[0], green * scale[1], blue * scale[2]];
            *value = scaled.iter().map(|v| v * v).sum::<f32>().sqrt();
        }
    })
}

/// Whether a pixel of a coarser size lies in the field.
fn within_field(inside: &Raster<bool>, level: usize, x: usize, y: usize) -> bool {
    let middle = (1 << level) / 2;
    inside.at(((x << level) + middle).min(inside.width() - 1), ((y << level) + middle).min(inside.height() - 1))
}

/// How much heavier the tail of open ground is than that of normal noise, at least 1: denoising, sharpening and
/// compression make clumps. Taken in the quieter tiles of the picture, of what finer sizes have left open (`is_open`):
/// in a coarse mean a tile spans a good part of the picture, and hardly one is without a shaft.
fn tail_factor(
    strength: &Raster<f32>,
    inside: &(dyn Fn(usize, usize) -> bool + Sync),
    is_open: &(dyn Fn(usize, usize) -> bool + Sync),
) -> f32 {
    let (w, h) = (strength.width(), strength.height());
    let tile = TILES.iter().find(|(pixels, _)| w * h > *pixels).map_or(LEAST_TILE, |(_, tile)| *tile);
    let (columns, rows) = (w / tile, h / tile);
    let last = tile - 1;
    let mut tails: Vec<f64> = (0..columns * rows)
        .into_par_iter()
        .filter_map(|k| {
            let (x0, y0) = (k % columns * tile, k / columns * tile);
            let corners = [(x0, y0), (x0 + last, y0), (x0, y0 + last), (x0 + last, y0 + last)];
            if !corners.iter().all(|&(x, y)| inside(x, y)) {
                return None;
            }
            let places = (y0..=y0 + last).flat_map(|y| (x0..=x0 + last).map(move |x| (x, y)));
            let mut values: Vec<f32> = places.filter(|&(x, y)| is_open(x, y)).map(|(x, y)| strength.at(x, y)).collect();
            let n = values.len();
            if 2 * n < tile * tile {
                return None;
            }
            let (_, tail, _) = values.select_nth_unstable_by((TAIL * n as f64) as usize, f32::total_cmp);
            Some(f64::from(*tail))
        })
        .collect();
    if tails.len() < 6 {
        return 1.0;
    }
    // Nearly half of the tiles are taken to hold no shaft.
    ((quantile(&mut tails, 0.45).unwrap_or(0.0) / NORMAL_TAIL) as f32).clamp(1.0, 4.0)
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
    fn a_dim_shaft_is_seen_also_where_bright_ones_lie_in_every_tile_of_the_coarser_means() {
        // Bright bars every 100 pixels: hardly a tile of a coarse mean is without one.
        let is_bar = |x: usize| (40..52).contains(&(x % 100));
        let planes = [0, 1, 2].map(|c| {
            Raster::from_fn(800, 600, |x, y| {
                let dim = if (290..310).contains(&y) && c > 0 { 0.0018 } else { 0.0 };
                0.05 + 0.002 * grain(x, y, c) + if is_bar(x) { 0.02 } else { dim }
            })
        });
        let ground = [0, 1, 2].map(|_| Raster::filled(800, 600, 0.05f32));
        let found = contrast(&planes, &ground, &Raster::filled(800, 600, true), &|_, _| 0.002, &|_| 0.0);
        let between = |ys: std::ops::Range<usize>| {
            let places = || ys.clone().flat_map(|y| (0..800).map(move |x| (x, y))).filter(|(x, _)| x % 100 > 70);
            places().filter(|&(x, y)| found.mask.at(x, y)).count() as f64 / places().count() as f64
        };
        assert!(between(292..308) > 0.9, "{}", between(292..308));
        assert_eq!(between(20..270), 0.0);
    }

    #[test]
    fn ground_between_bright_shafts_stays_open_though_stray_light_lies_on_it_and_a_dark_core_is_filled() {
        // Four bright bars enclose a field with a fiftieth of their light; another bar has a core of a third of it.
        let bar = |t: usize| (60..80).contains(&t) || (220..240).contains(&t);
        let light = |x: usize, y: usize| {
            if (260..300).contains(&x) && (20..280).contains(&y) {
                if (270..290).contains(&x) && (40..260).contains(&y) { 0.1 } else { 0.3 }
            } else if x < 240 && (bar(x) || bar(y)) {
                0.3
            } else if (80..220).contains(&x) && (80..220).contains(&y) {
                0.006
            } else {
                0.0
            }
        };
        let planes = [0, 1, 2].map(|c| Raster::from_fn(400, 300, |x, y| 0.05 + 0.002 * grain(x, y, c) + light(x, y)));
        let ground = [0, 1, 2].map(|_| Raster::filled(400, 300, 0.05f32));
        let found = contrast(&planes, &ground, &Raster::filled(400, 300, true), &|_, _| 0.002, &|_| 0.0);
        let share = |xs: std::ops::Range<usize>, ys: std::ops::Range<usize>| {
            let n = xs.len() * ys.len();
            let set = ys.flat_map(|y| xs.clone().map(move |x| (x, y))).filter(|&(x, y)| found.mask.at(x, y)).count();
            set as f64 / n as f64
        };
        assert!(share(140..160, 140..160) < 0.02, "the field is open");
        assert!(share(272..288, 60..240) > 0.95, "the core belongs to its shaft");
        assert!(share(64..76, 100..200) > 0.95, "a bar stands out");
    }

    #[test]
    fn empty_ground_has_no_contrast() {
        let (hit, false_alarm) = share_found([0.0; 3]);
        assert_eq!((hit, false_alarm), (0.0, 0.0));
    }
}
