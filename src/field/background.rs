//! The light of tape and lamp without shafts, a channel at a time.
//!
//! First a mode a tile, since shafts of either polarity are the minority in most tiles; a robust surface through
//! the tiles throws out those that a wide shaft fills. Then the ground is followed where it lies open: `open_ground`.
//! Weakness: a field more than half covered with shafts has no majority to find.

use super::open_ground::{each, followed, spread};
use crate::maths::raster::Raster;
use crate::maths::stats::{half_sample_mode, median, robust_sd};

/// Tiles along the longer side: fine enough for a lamp's hot spot, coarse enough that most tiles hold open ground.
const TILES: usize = 16;
/// Samples of a tile that the mode looks at; the mode's error falls slowly beyond.
const SAMPLES_A_TILE: usize = 900;
/// Powers of x and y in the robust surface; 2 follows vignetting, more runs away in the corners.
const SURFACE_DEGREE: usize = 2;
/// How many robust standard deviations from the surface a tile may lie before it counts as covered by a shaft.
const TILE_OUTLIER_SD: f64 = 3.5;
/// Rounds of masking and averaging.
const ROUNDS: usize = 2;

/// Longer side of the picture that the background is sought in: tape and lamp change slowly, and means over blocks
/// of pixels tell ground from halo better than single ones.
const SIDE: usize = 640;

/// Background of the three planes where `inside`; outside it continues smoothly.
pub(super) fn background(planes: &[Raster<f32>; 3], inside: &Raster<bool>) -> [Raster<f32>; 3] {
    let (width, height) = (inside.width(), inside.height());
    let factor = (width.max(height) / SIDE).clamp(1, width.min(height).max(1));
    if factor == 1 {
        return of_small(planes, inside);
    }
    let small = [0, 1, 2].map(|c| planes[c].block_means(factor));
    // A block counts as inside when its corners are: the field is everything or a disc.
    let last = factor - 1;
    let corners = [(0, 0), (last, 0), (0, last), (last, last)];
    let small_inside = Raster::from_fn(width / factor, height / factor, |x, y| {
        corners.iter().all(|(dx, dy)| inside.at(x * factor + dx, y * factor + dy))
    });
    of_small(&small, &small_inside).map(|ground| spread(&ground, factor, width, height))
}

fn of_small(planes: &[Raster<f32>; 3], inside: &Raster<bool>) -> [Raster<f32>; 3] {
    let mut found = each(|c| surface_through_modes(&planes[c], inside));
    // The surface may miss a corner; what it calls open ground there grows from round to round.
    for _ in 0..ROUNDS {
        found = followed(planes, &found, inside);
    }
    found
}

fn surface_through_modes(plane: &Raster<f32>, inside: &Raster<bool>) -> Raster<f32> {
    let (width, height) = (plane.width(), plane.height());
    let tile = width.max(height).div_ceil(TILES).max(4);
    let mut places = Vec::new();
    let mut levels = Vec::new();
    for y0 in (0..height).step_by(tile) {
        for x0 in (0..width).step_by(tile) {
            let (x1, y1) = ((x0 + tile).min(width), (y0 + tile).min(height));
            let stride = (((x1 - x0) * (y1 - y0)) as f64 / SAMPLES_A_TILE as f64).sqrt().ceil().max(1.0) as usize;
            let mut sample = Vec::with_capacity(SAMPLES_A_TILE + 64);
            let mut n_seen = 0usize;
            for y in (y0..y1).step_by(stride) {
                for x in (x0..x1).step_by(stride) {
                    n_seen += 1;
                    if inside.at(x, y) {
                        sample.push(f64::from(plane.at(x, y)));
                    }
                }
            }
            // A tile mostly outside the field tells little and sits on its border.
            if sample.len() * 3 < n_seen * 2 || sample.len() < 9 {
                continue;
            }
            let Some(mode) = half_sample_mode(&mut sample) else { continue };
            // The mean of what crowds around the mode is steadier than the mode itself.
            let mut off: Vec<f64> = sample.iter().map(|v| (v - mode).abs()).collect();
            let near = median(&mut off).unwrap_or(0.0).min(spread_below(&sample, mode)).max(1e-7) * 2.5;
            let (sum, n) =
                sample.iter().filter(|v| (*v - mode).abs() <= near).fold((0.0, 0.0), |(sum, n), v| (sum + v, n + 1.0));
            let centre = |a: usize, b: usize, size: usize| (a + b) as f64 / size as f64 - 1.0;
            places.push((centre(x0, x1, width), centre(y0, y1, height)));
            levels.push(if n > 0.0 { sum / n } else { mode });
        }
    }
    if levels.is_empty() {
        let mut all: Vec<f64> = plane.data().iter().step_by(7).map(|&v| f64::from(v)).collect();
        return Raster::filled(width, height, median(&mut all).unwrap_or(0.0) as f32);
    }
    let degree = if levels.len() >= 40 { SURFACE_DEGREE } else { usize::from(levels.len() >= 8) };
    let surface = robust_surface(&places, &levels, degree);
    evaluate(&surface, degree, width, height)
}

/// Distance from the mode to the sample's lower quartile side: small where the ground is the darkest thing in the tile.
fn spread_below(sorted: &[f64], mode: f64) -> f64 {
    let at = sorted.partition_point(|&v| v < mode);
    if at == 0 {
        return f64::INFINITY;
    }
    let q = sorted[at / 2];
    let below = mode - q;
    let above_at = at + (sorted.len() - at) / 2;
    let above = sorted[above_at.min(sorted.len() - 1)] - mode;
    below.min(above)
}

fn powers(x: f64, y: f64, degree: usize) -> Vec<f64> {
    let mut terms = Vec::with_capacity((degree + 1) * (degree + 2) / 2);
    for total in 0..=degree {
        for i in 0..=total {
            terms.push(x.powi((total - i) as i32) * y.powi(i as i32));
        }
    }
    terms
}

/// Least squares on the powers of x and y, repeated with Tukey's biweight from the residuals' robust spread.
fn robust_surface(places: &[(f64, f64)], levels: &[f64], degree: usize) -> Vec<f64> {
    let rows: Vec<Vec<f64>> = places.iter().map(|&(x, y)| powers(x, y, degree)).collect();
    let n_terms = rows[0].len();
    let mut all = levels.to_vec();
    let start = median(&mut all).unwrap_or(0.0);
    let mut coefficients = vec![0.0; n_terms];
    coefficients[0] = start;
    for round in 0..8 {
        let residuals: Vec<f64> = rows
            .iter()
            .zip(levels)
            .map(|(row, level)| level - row.iter().zip(&coefficients).map(|(a, b)| a * b).sum::<f64>())
            .collect();
        let spread = robust_sd(&mut residuals.clone()).unwrap_or(0.0).max(1e-7);
        let mut normal = nalgebra::DMatrix::<f64>::zeros(n_terms, n_terms);
        let mut right = nalgebra::DVector::<f64>::zeros(n_terms);
        for ((row, level), residual) in rows.iter().zip(levels).zip(&residuals) {
            let u = residual / (TILE_OUTLIER_SD * spread * if round == 0 { 2.0 } else { 1.0 });
            let weight = if u.abs() < 1.0 { (1.0 - u * u).powi(2) } else { 0.0 };
            for i in 0..n_terms {
                right[i] += weight * row[i] * level;
                for j in 0..n_terms {
                    normal[(i, j)] += weight * row[i] * row[j];
                }
            }
        }
        for i in 0..n_terms {
            normal[(i, i)] += 1e-6 * (1.0 + normal[(0, 0)]);
        }
        match normal.cholesky() {
            Some(solver) => coefficients = solver.solve(&right).iter().copied().collect(),
            None => break,
        }
    }
    coefficients
}

fn evaluate(coefficients: &[f64], degree: usize, width: usize, height: usize) -> Raster<f32> {
    // Evaluated on a coarse lattice and interpolated: the surface is smooth and the picture large.
    let (nx, ny) = (65usize, 65usize);
    let lattice = Raster::from_fn(nx, ny, |i, j| {
        let (x, y) = (i as f64 / (nx - 1) as f64 * 2.0 - 1.0, j as f64 / (ny - 1) as f64 * 2.0 - 1.0);
        let value: f64 = powers(x, y, degree).iter().zip(coefficients).map(|(a, b)| a * b).sum();
        value.max(0.0) as f32
    });
    stretch(&lattice, width, height)
}

/// A coarse lattice spread over the picture, corner to corner.
fn stretch(lattice: &Raster<f32>, width: usize, height: usize) -> Raster<f32> {
    let scale = |n: usize, size: usize| (n - 1) as f64 / (size.max(2) - 1) as f64;
    let (sx, sy) = (scale(lattice.width(), width), scale(lattice.height(), height));
    let mut out = Raster::filled(width, height, 0.0f32);
    for (y, row) in out.data_mut().chunks_exact_mut(width).enumerate() {
        let v = y as f64 * sy;
        let j = (v as usize).min(lattice.height() - 2);
        let fy = (v - j as f64) as f32;
        let blended: Vec<f32> =
            (0..lattice.width()).map(|i| lattice.at(i, j) * (1.0 - fy) + lattice.at(i, j + 1) * fy).collect();
        for (x, value) in row.iter_mut().enumerate() {
            let u = x as f64 * sx;
            let i = (u as usize).min(blended.len() - 2);
            let fx = (u - i as f64) as f32;
            *value = blended[i] * (1.0 - fx) + blended[i + 1] * fx;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::background;
    use crate::maths::raster::Raster;

    #[test]
    fn uneven_light_is_followed_under_shafts_of_both_polarities() {
        let truth = |x: usize, y: usize| 0.1 + 0.0001 * x as f32 + 0.00005 * y as f32;
        let picture = Raster::from_fn(600, 400, |x, y| {
            let grain = ((x * 7919 + y * 104_729) % 101) as f32 / 101.0 - 0.5;
            let shaft = if (180..260).contains(&x) {
                0.4
            } else if (400..440).contains(&x) {
                -0.08
            } else {
                0.0
            };
            truth(x, y) + shaft + 0.002 * grain
        });
        let inside = Raster::filled(600, 400, true);
        let found = background(&[picture.clone(), picture.clone(), picture], &inside);
        for y in (0..400).step_by(20) {
            for x in (0..600).step_by(20) {
                let off = (found[1].at(x, y) - truth(x, y)).abs();
                assert!(off < 0.004, "off by {off} at {x}, {y}");
            }
        }
    }

    #[test]
    fn a_tiny_picture_has_a_background() {
        let picture = Raster::filled(3, 2, 0.5f32);
        let found = background(&[picture.clone(), picture.clone(), picture], &Raster::filled(3, 2, true));
        assert!((found[0].at(1, 1) - 0.5).abs() < 1e-3);
    }
}
