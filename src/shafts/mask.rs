//! The mask of what stands out of the ground, from its contrast at a few sizes: hysteresis, halos, coarser sizes, holes.
//!
//! What is but the halo of something brighter beside it is cut by comparison with the brightest near it. Ground that
//! shafts enclose stays open; a core that stands out itself is filled.

use rayon::prelude::*;

use crate::maths::components::{Components, components, components_by_sides};
use crate::maths::raster::Raster;

/// Contrast that makes a pixel stand out. For three channels of normal noise 5.1 is passed by 3 pixels in a million.
const STANDS_OUT: f32 = 5.2;
/// Contrast down to which a pixel beside one that stands out belongs to it.
const BELONGS: f32 = 3.4;
/// Halo rule: (reach in pixels, share of the brightest within reach that a pixel must have).
/// A shaft's blurred edge falls below a third within a few pixels; stray light of real optics is a few per cent.
const HALO: [(usize, f32); 3] = [(4, 0.30), (16, 0.08), (48, 0.025)];
/// Least reach of the rule in a coarse mean, its pixels: a mean carries light one of them far.
const LEAST_REACH: usize = 2;

/// Pixels of the largest hole that is filled whatever it shows.
const SPECK: usize = 8;
/// A larger hole is part of a shaft when its contrast has at least this share of that around it. Stray light between
/// bright shafts has a few hundredths, the core of a black hair with bright edges mostly more than a fifth.
const HOLE_SHARE: f64 = 0.15;
/// How far from a hole that is looked at, pixels: past the blurred edge.
const BESIDE_PX: isize = 4;
/// Coarse pixels that a short piece of shaft has at least; less is chance.
const LEAST_PIECE: usize = 12;
/// Contrast of single pixels below which a shaft's mask has holes by chance: a few times what stands out.
const FAINT: f32 = 10.0;

/// What stands out at a size: hysteresis with the halo rule. Stray light reaches as far as it does, in however coarse
/// means it is looked at.
pub(super) fn standing_out(strength: &Raster<f32>, level: usize) -> Raster<bool> {
    let (w, h) = (strength.width(), strength.height());
    let mut near: Vec<(Raster<f32>, usize, f32)> = Vec::with_capacity(HALO.len());
    let mut pool: Option<(Raster<f32>, usize)> = None;
    for (reach, share) in HALO {
        let reach = (reach >> level).max(LEAST_REACH);
        // Each reach is a multiple of the one before, so that the greatest of blocks serve for larger blocks.
        let larger = match &pool {
            Some((finer, unit)) => greatest_of_blocks(finer, reach / unit),
            None => greatest_of_blocks(strength, reach),
        };
        near.push((greatest_around(&larger), reach, share));
        pool = Some((larger, reach));
    }
    let candidate = Raster::by_rows(w, h, false, |y, row| {
        for (x, (is_candidate, &value)) in row.iter_mut().zip(strength.row(y)).enumerate() {
            if value < BELONGS {
                continue;
            }
            *is_candidate = !near.iter().any(|(pool, reach, share)| {
                let (u, v) = ((x as f64 + 0.5) / *reach as f64 - 0.5, (y as f64 + 0.5) / *reach as f64 - 0.5);
                value < share * pool.bilinear(u, v)
            });
        }
    });
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

/// The greatest value of each block of `side` × `side`, blocks at the right and lower edge cut.
fn greatest_of_blocks(values: &Raster<f32>, side: usize) -> Raster<f32> {
    Raster::by_rows(values.width().div_ceil(side), values.height().div_ceil(side), 0.0f32, |j, row| {
        for y in j * side..((j + 1) * side).min(values.height()) {
            for (greatest, block) in row.iter_mut().zip(values.row(y).chunks(side)) {
                *greatest = block.iter().fold(*greatest, |a, &b| a.max(b));
            }
        }
    })
}

/// The greatest of each value and the eight around it.
fn greatest_around(values: &Raster<f32>) -> Raster<f32> {
    let (nx, ny) = (values.width(), values.height());
    Raster::by_rows(nx, ny, 0.0f32, |j, row| {
        for v in j.saturating_sub(1)..(j + 2).min(ny) {
            let line = values.row(v);
            for (i, greatest) in row.iter_mut().enumerate() {
                *greatest = line[i.saturating_sub(1)..(i + 2).min(nx)].iter().fold(*greatest, |a, &b| a.max(b));
            }
        }
    })
}

/// What stands already, on the coarser grid of `w` × `h`, and two of its pixels around.
pub(super) fn beside(mask: &Raster<bool>, level: usize, w: usize, h: usize) -> Raster<bool> {
    let near = Raster::by_rows(w, h, false, |j, row| {
        // The last coarse row and column take what halving left over.
        let rows = if j + 1 == h { j << level..mask.height() } else { j << level..(j + 1) << level };
        for y in rows {
            for (x, _) in mask.row(y).iter().enumerate().filter(|(_, set)| **set) {
                row[(x >> level).min(w - 1)] = true;
            }
        }
    });
    grown(&near, 2)
}

/// Adds what a coarser size found: beyond the reach of what stands already (`beside`), joined on; and throughout where
/// single pixels hardly stand out, so that a dim broad shaft is one piece and not a sponge.
pub(super) fn add_coarse(
    mask: &mut Raster<bool>,
    coarse: &Raster<bool>,
    strength: &Raster<f32>,
    beside: &Raster<bool>,
    level: usize,
) {
    let width = mask.width();
    let (w, h) = (coarse.width(), coarse.height());
    let far = Raster::from_fn(w, h, |x, y| coarse.at(x, y) && !beside.at(x, y));
    let parts = components(&far);
    let kept = parts.labels.map(|label| label > 0 && parts.parts[label as usize].area >= LEAST_PIECE);
    let joined = grown(&kept, 2);
    // A mean over n pixels stands out √n times as well as one of them; n = 4^level.
    let faint = FAINT * (1 << level) as f32;
    let whole = components(coarse);
    let adds = Raster::by_rows(w, h, false, |j, row| {
        for (i, add) in row.iter_mut().enumerate().filter(|(i, _)| coarse.at(*i, j)) {
            let large = whole.parts[whole.labels.at(i, j) as usize].area >= LEAST_PIECE;
            *add = joined.at(i, j) || (large && strength.at(i, j) < faint);
        }
    });
    mask.data_mut().par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        let line = adds.row((y >> level).min(h - 1));
        if line.iter().any(|&add| add) {
            row.iter_mut().enumerate().for_each(|(x, set)| *set |= line[(x >> level).min(w - 1)]);
        }
    });
}

/// The mask with everything within a square of half-size `reach` set.
fn grown(mask: &Raster<bool>, reach: usize) -> Raster<bool> {
    let (w, h) = (mask.width(), mask.height());
    let across =
        Raster::from_fn(w, h, |x, y| mask.row(y)[x.saturating_sub(reach)..(x + reach + 1).min(w)].iter().any(|&v| v));
    Raster::from_fn(w, h, |x, y| (y.saturating_sub(reach)..(y + reach + 1).min(h)).any(|v| across.at(x, v)))
}

/// Fills holes that are specks, or that themselves stand out (a dark core, the dip behind a bright rim);
/// open ground enclosed by shafts stays open, however much stray light of theirs lies on it.
pub(super) fn fill_holes(mask: &mut Raster<bool>, strength: &Raster<f32>) {
    let holes = components_by_sides_of_unset(mask);
    let (width, height) = (mask.width(), mask.height());
    for (label, part) in holes.parts.iter().enumerate().skip(1) {
        let at_border = part.low.0 == 0 || part.low.1 == 0 || part.high.0 + 1 == width || part.high.1 + 1 == height;
        if at_border && part.area > SPECK {
            continue;
        }
        let own = |x: usize, y: usize| holes.labels.at(x, y) as usize == label;
        let places = || (part.low.1..=part.high.1).flat_map(|y| (part.low.0..=part.high.0).map(move |x| (x, y)));
        let of_hole = || places().filter(|&(x, y)| own(x, y));
        if part.area > SPECK {
            let mean = of_hole().map(|(x, y)| f64::from(strength.at(x, y))).sum::<f64>() / part.area as f64;
            let around = mean_around(of_hole(), &own, strength);
            if mean <= f64::from(BELONGS) || mean < HOLE_SHARE * around {
                continue;
            }
        }
        of_hole().for_each(|(x, y)| mask.set(x, y, true));
    }
}

/// Mean strength of what lies beside a hole, a few pixels out.
fn mean_around(
    hole: impl Iterator<Item = (usize, usize)>,
    own: &impl Fn(usize, usize) -> bool,
    strength: &Raster<f32>,
) -> f64 {
    let (mut sum, mut count) = (0.0, 0usize);
    for (x, y) in hole {
        for (dx, dy) in [(-BESIDE_PX, 0), (BESIDE_PX, 0), (0, -BESIDE_PX), (0, BESIDE_PX)] {
            let (u, v) = (x as isize + dx, y as isize + dy);
            if let Some(value) = strength.get(u, v)
                && !own(u as usize, v as usize)
            {
                sum += f64::from(value);
                count += 1;
            }
        }
    }
    if count > 0 { sum / count as f64 } else { 0.0 }
}

fn components_by_sides_of_unset(mask: &Raster<bool>) -> Components {
    components_by_sides(&mask.map(|v| !v))
}
