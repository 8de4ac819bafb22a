//! Lines too faint to stand out anywhere, seen along their length.
//!
//! The eye follows a thin faint hair through noise since it adds up light along it. Here the signed differences from the
//! ground are averaged along straight stretches in sixteen directions; the noise of such a mean is a quarter of a single
//! cell's, and clumps that denoising and compression make of the noise are short and do not line up. Sums of 1, 2, 4, 8
//! and 16 cells come from each other by doubling. What stands out already is left out of the sums, or each bright shaft
//! would be fringed with stretches that cross it. Weakness: a hair that bends within a stretch is diluted.

use rayon::prelude::*;

use super::contrast::{Differences, greatest_around, greatest_of_blocks, grown, near_mask, set_cells};
use crate::maths::components::components;
use crate::maths::raster::Raster;

/// Directions looked along, over half a turn.
const DIRECTIONS: usize = 16;
/// Doublings: stretches are 2⁴ cells long.
const DOUBLINGS: usize = 4;
/// How much less noise a mean over a stretch has than a cell.
const QUIETER: f32 = 4.0;
/// Contrast of a stretch that makes a line stand out. More than for single cells (`contrast::STANDS_OUT`), since the
/// best of sixteen directions is taken.
const STANDS_OUT: f32 = 6.5;
/// Contrast down to which cells beside one that stands out belong to the line.
const BELONGS: f32 = 4.6;
/// Share of the greatest contrast within [`RIDGE_CELLS`] that a cell of a line has: beside a line stretches that cross
/// it have some of its light.
const RIDGE: f32 = 0.65;
/// See [`RIDGE`].
const RIDGE_CELLS: usize = 6;
/// Halo rule, as for single cells: reach in cells, share of the greatest within it.
const HALO: [(usize, f32); 2] = [(16, 0.08), (48, 0.025)];
/// Extent of a line at least, cells: half as much again as a stretch, or chance would do.
const LEAST_EXTENT: usize = 24;
/// Contrast of a cell that stands out by itself so much that stretches beside it would show its light.
const BRIGHT: f32 = 20.0;
/// Pixels around what is bright that its blurred edge takes.
const EDGE_PX: usize = 6;
/// Pixels between a line and a part of the mask that touches it: lines keep `APART` from what stands out.
const TOUCHING_PX: usize = 14;
/// Cells around what stands out by itself whose light is left out: its blurred edge.
const HIDDEN: usize = 1;
/// Cells around what stands out by itself in which no line is sought.
const APART: usize = 3;

/// Adds to `lines` those at one size that neither they hold nor `mask`, and gives the contrast along the best
/// direction, noise units; `cells` is that of single cells.
pub(super) fn add_lines(
    lines: &mut Raster<bool>,
    mask: &Raster<bool>,
    differences: &Differences,
    cells: &Raster<f32>,
) -> Raster<f32> {
    let (w, h) = (differences.of[0].width(), differences.of[0].height());
    let known = near_mask(mask, differences.level, w, h);
    let bright = Raster::by_rows(w, h, false, |y, row| {
        for ((bright, &known), &cell) in row.iter_mut().zip(known.row(y)).zip(cells.row(y)) {
            *bright = known && cell > BRIGHT;
        }
    });
    let hidden = grown(&bright, HIDDEN);
    let of = [0, 1, 2].map(|c| {
        let mut left = differences.of[c].clone();
        left.data_mut().iter_mut().zip(hidden.data()).filter(|(_, hidden)| **hidden).for_each(|(v, _)| *v = 0.0);
        left
    });
    let strength = best_direction(differences, &of, &hidden);
    let followed = near_mask(lines, differences.level, w, h);
    let taken = Raster::from_fn(w, h, |x, y| known.at(x, y) || followed.at(x, y));
    let near = grown(&taken, APART * differences.level);
    let found = standing_out(&strength, &near);
    set_cells(lines, &found, differences.level);
    strength
}

/// The greatest contrast over all directions.
fn best_direction(differences: &Differences, of: &[Raster<f32>; 3], hidden: &Raster<bool>) -> Raster<f32> {
    let (w, h) = (hidden.width(), hidden.height());
    (0..DIRECTIONS)
        .into_par_iter()
        .map(|k| {
            let angle = std::f64::consts::PI * k as f64 / DIRECTIONS as f64;
            let along = [0, 1, 2].map(|c| mean_along(&of[c], angle));
            differences.strength(&along, QUIETER, Some(hidden))
        })
        .reduce(
            || Raster::filled(w, h, 0.0f32),
            |mut a, b| {
                a.data_mut().iter_mut().zip(b.data()).for_each(|(a, &b)| *a = a.max(b));
                a
            },
        )
}

/// Means over stretches of cells in a direction, each at its middle; beyond the border there is nothing.
fn mean_along(of: &Raster<f32>, angle: f64) -> Raster<f32> {
    let way = |cells: f64| ((cells * angle.cos()).round() as isize, (cells * angle.sin()).round() as isize);
    let mut sum = of.clone();
    for doubling in 0..DOUBLINGS {
        sum = shifted_sum(&sum, way((1 << doubling) as f64), true);
    }
    let n = (1 << DOUBLINGS) as f32;
    let (dx, dy) = way(0.5 * (n as f64 - 1.0));
    let mut mean = shifted_sum(&sum, (-dx, -dy), false);
    mean.data_mut().iter_mut().for_each(|value| *value /= n);
    mean
}

/// Each value's neighbour at an offset, added to the value itself if `both`.
fn shifted_sum(of: &Raster<f32>, (dx, dy): (isize, isize), both: bool) -> Raster<f32> {
    let (w, h) = (of.width() as isize, of.height() as isize);
    let mut out = if both { of.clone() } else { Raster::filled(of.width(), of.height(), 0.0) };
    let (from, to) = ((-dx).clamp(0, w), (w - dx).clamp(0, w));
    for y in (-dy).max(0)..(h - dy).min(h) {
        if from < to {
            let source = &of.row((y + dy) as usize)[(from + dx) as usize..(to + dx) as usize];
            let start = (y * w) as usize;
            let target = &mut out.data_mut()[start + from as usize..start + to as usize];
            target.iter_mut().zip(source).for_each(|(a, &b)| *a += b);
        }
    }
    out
}

/// Cells of lines: hysteresis on ridges, away from what stands out by itself.
fn standing_out(strength: &Raster<f32>, near: &Raster<bool>) -> Raster<bool> {
    let (w, h) = (strength.width(), strength.height());
    let mut pools: Vec<(Raster<f32>, usize, f32)> = Vec::with_capacity(HALO.len());
    for (reach, share) in HALO {
        pools.push((greatest_around(&greatest_of_blocks(strength, reach)), reach, share));
    }
    let ridge = greatest_within(strength, RIDGE_CELLS);
    let candidate = Raster::by_rows(w, h, false, |y, row| {
        for (x, (is_line, &value)) in row.iter_mut().zip(strength.row(y)).enumerate() {
            *is_line = value >= BELONGS
                && !near.at(x, y)
                && value >= RIDGE * ridge.at(x, y)
                && pools.iter().all(|(pool, reach, share)| {
                    let (u, v) = ((x as f64 + 0.5) / *reach as f64 - 0.5, (y as f64 + 0.5) / *reach as f64 - 0.5);
                    value >= share * pool.bilinear(u, v)
                });
        }
    });
    let parts = components(&candidate);
    let none = (usize::MAX, 0, usize::MAX, 0, false);
    let mut extents = vec![none; parts.parts.len()];
    for (i, &label) in parts.labels.data().iter().enumerate().filter(|(_, label)| **label > 0) {
        let (x, y, e) = (i % w, i / w, &mut extents[label as usize]);
        *e = (e.0.min(x), e.1.max(x), e.2.min(y), e.3.max(y), e.4 || strength.data()[i] >= STANDS_OUT);
    }
    let is_line: Vec<bool> = extents
        .iter()
        .map(|&(left, right, top, bottom, firm)| {
            firm && (right - left).pow(2) + (bottom - top).pow(2) >= LEAST_EXTENT.pow(2)
        })
        .collect();
    parts.labels.map(|label| label > 0 && is_line[label as usize])
}

/// The greatest value within a square of half-size `reach`.
fn greatest_within(values: &Raster<f32>, reach: usize) -> Raster<f32> {
    let (w, h) = (values.width(), values.height());
    let across = Raster::by_rows(w, h, 0.0f32, |y, row| {
        let line = values.row(y);
        for (x, greatest) in row.iter_mut().enumerate() {
            *greatest = line[x.saturating_sub(reach)..(x + reach + 1).min(w)].iter().fold(0.0, |a, &b| a.max(b));
        }
    });
    Raster::by_rows(w, h, 0.0f32, |y, row| {
        for v in y.saturating_sub(reach)..(y + reach + 1).min(h) {
            row.iter_mut().zip(across.row(v)).for_each(|(a, &b)| *a = a.max(b));
        }
    })
}

/// The lines with those parts of `mask` that touch them and are dim: stretches of the same shafts.
pub(super) fn with_dim_parts(lines: &Raster<bool>, mask: &Raster<bool>, strength: &Raster<f32>) -> Raster<bool> {
    let bright = Raster::by_rows(mask.width(), mask.height(), false, |y, row| {
        for ((bright, &set), &value) in row.iter_mut().zip(mask.row(y)).zip(strength.row(y)) {
            *bright = set && value > BRIGHT;
        }
    });
    let mut dim = grown(&bright, EDGE_PX);
    dim.data_mut().iter_mut().zip(mask.data()).for_each(|(hidden, &set)| *hidden = set && !*hidden);
    let parts = components(&dim);
    let mut touches = vec![false; parts.parts.len()];
    let around = grown(lines, TOUCHING_PX);
    for (&label, &near) in parts.labels.data().iter().zip(around.data()) {
        touches[label as usize] |= near;
    }
    Raster::by_rows(mask.width(), mask.height(), false, |y, row| {
        for ((set, &line), &label) in row.iter_mut().zip(lines.row(y)).zip(parts.labels.row(y)) {
            *set = line || (label > 0 && touches[label as usize]);
        }
    })
}

#[cfg(test)]
mod tests {
    use super::{mean_along, shifted_sum};
    use crate::maths::raster::Raster;

    #[test]
    fn a_line_keeps_its_light_along_itself_and_is_thinned_out_across() {
        let line = Raster::from_fn(64, 64, |_, y| if y == 30 { 1.0 } else { 0.0 });
        assert_eq!(mean_along(&line, 0.0).at(32, 30), 1.0);
        assert_eq!(mean_along(&line, 0.0).at(32, 31), 0.0);
        assert_eq!(mean_along(&line, std::f64::consts::FRAC_PI_2).at(32, 30), 1.0 / 16.0);
    }

    #[test]
    fn a_slanted_line_is_followed() {
        let angle = 3.0 * std::f64::consts::PI / 16.0;
        let line = Raster::from_fn(96, 96, |x, y| {
            let off = (y as f64 - 48.0) * angle.cos() - (x as f64 - 48.0) * angle.sin();
            if off.abs() <= 1.0 { 1.0 } else { 0.0 }
        });
        assert!(mean_along(&line, angle).at(48, 48) > 0.9);
        assert!(mean_along(&line, angle + 1.2).at(48, 48) < 0.3);
    }

    #[test]
    fn shifts_beyond_the_border_bring_nothing() {
        let ones = Raster::filled(5, 4, 1.0f32);
        let sum = shifted_sum(&ones, (2, -1), true);
        assert_eq!((sum.at(0, 1), sum.at(3, 1), sum.at(0, 0)), (2.0, 1.0, 1.0));
        assert_eq!(shifted_sum(&ones, (9, 9), true), ones);
    }
}
