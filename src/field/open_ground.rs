//! The ground followed where it lies open: haze and uneven light down to a few per cent of the picture, and no shaft.
//!
//! What differs much from the ground so far is left out, with its halo. The rest is averaged over small blocks, and a
//! block counts the less the more it differs, in any channel, from what most blocks around it show: a dim shaft is
//! nowhere the majority of a window several times as wide, and would otherwise be taken for ground, be hidden in part
//! and lend its light to the ground beside it. Haze varies within the window as well; it is followed as far as its
//! blocks differ from the middle by no more than most of them do.
//! Weakness: haze with an edge as sharp as a shaft's stands out beside it; where haze varies more than a shaft is bright,
//! the shaft is followed with it.

use crate::maths::raster::Raster;
use crate::maths::stats::{SD_PER_MAD, median, quantile};

/// How many noise standard deviations from the first background mark a pixel as not ground. Means over blocks have
/// little noise; at 3.5 haze itself is taken for shafts and no longer followed (chosen on tuning scenes).
const MASK_SD: f32 = 7.0;
/// Blocks along the longer side when open ground is averaged locally.
const BLOCKS: usize = 96;
/// Least share of a block that must lie open for it to count.
const LEAST_OPEN: f64 = 0.25;
/// Sigma of the local average, in blocks: about 3 % of the picture, far wider than a shaft's halo.
const SMOOTH_SIGMA_BLOCKS: f64 = 3.0;
/// Half the window that tells what most blocks show, blocks: a quarter of the picture, some times the widest shaft.
const WINDOW: usize = 12;
/// Every so many blocks a window is looked at, and every so many blocks within it.
const WINDOW_STEP: usize = 4;
/// See [`WINDOW_STEP`].
const SAMPLE_STEP: usize = 2;
/// Fewest blocks of a window that tell something.
const LEAST_SAMPLES: usize = 12;
/// Spreads of the window's blocks from which on a block counts for nothing (Tukey's biweight).
const CUT_SPREADS: f64 = 4.0;
/// Rounds of weighing and averaging.
const WEIGHINGS: usize = 3;

/// The backgrounds `first`, shifted to what the open ground shows.
pub(super) fn followed(planes: &[Raster<f32>; 3], first: &[Raster<f32>; 3], inside: &Raster<bool>) -> [Raster<f32>; 3] {
    let blocks = Blocks::of(planes, first, &open_pixels(planes, first, inside));
    let shifts = blocks.shifts();
    each(|c| {
        let (width, height) = (first[c].width(), first[c].height());
        let shift = Raster::from_data(blocks.nx, blocks.ny, shifts[c].iter().map(|&v| v as f32).collect());
        let shift = spread(&shift, blocks.side, width, height);
        let data = first[c].data().iter().zip(shift.data()).map(|(first, shift)| (first + shift).max(0.0)).collect();
        Raster::from_data(width, height, data)
    })
}

/// What `of` makes of each channel, on all threads.
pub(super) fn each<T: Send>(of: impl Fn(usize) -> T + Sync) -> [T; 3] {
    let (red, (green, blue)) = rayon::join(|| of(0), || rayon::join(|| of(1), || of(2)));
    [red, green, blue]
}

/// Means over blocks spread over the picture they came from, linearly between the blocks' middles.
pub(super) fn spread(small: &Raster<f32>, factor: usize, width: usize, height: usize) -> Raster<f32> {
    // Where a pixel lies between which two blocks; beyond the outermost middles their value holds.
    let between = |i: usize, n: usize| {
        let at = ((i as f32 + 0.5) / factor as f32 - 0.5).clamp(0.0, (n - 1) as f32);
        let low = (at as usize).min(n.saturating_sub(2));
        (low, at - low as f32)
    };
    let columns: Vec<(usize, f32)> = (0..width).map(|x| between(x, small.width())).collect();
    Raster::by_rows(width, height, 0.0, |y, row| {
        let (j, down) = between(y, small.height());
        let (above, below) = (small.row(j), small.row((j + 1).min(small.height() - 1)));
        let mut blended: Vec<f32> = above.iter().zip(below).map(|(a, b)| a + (b - a) * down).collect();
        // One value more, so that the last block has a neighbour.
        blended.push(blended[blended.len() - 1]);
        for (value, &(i, right)) in row.iter_mut().zip(&columns) {
            *value = blended[i] + (blended[i + 1] - blended[i]) * right;
        }
    })
}

/// Light above the background so far in blocks of `side` × `side` pixels.
struct Blocks {
    side: usize,
    nx: usize,
    ny: usize,
    /// Open pixels a block.
    counts: Vec<f64>,
    /// Mean over a block's open pixels, a channel.
    means: [Vec<f64>; 3],
}

impl Blocks {
    fn of(planes: &[Raster<f32>; 3], first: &[Raster<f32>; 3], open: &Raster<bool>) -> Blocks {
        let (width, height) = (open.width(), open.height());
        let side = width.max(height).div_ceil(BLOCKS).max(2);
        let (nx, ny) = (width.div_ceil(side).max(2), height.div_ceil(side).max(2));
        let at = |x: usize, y: usize| (y / side).min(ny - 1) * nx + (x / side).min(nx - 1);
        let mut counts = vec![0.0; nx * ny];
        for y in 0..height {
            for x in (0..width).filter(|&x| open.at(x, y)) {
                counts[at(x, y)] += 1.0;
            }
        }
        let means = each(|c| {
            let mut sums = vec![0.0f64; nx * ny];
            for y in 0..height {
                for x in (0..width).filter(|&x| open.at(x, y)) {
                    sums[at(x, y)] += f64::from(planes[c].at(x, y) - first[c].at(x, y));
                }
            }
            sums.iter().zip(&counts).map(|(sum, count)| sum / f64::max(*count, 1.0)).collect()
        });
        Blocks { side, nx, ny, counts, means }
    }

    fn is_open(&self, block: usize) -> bool {
        self.counts[block] >= LEAST_OPEN * (self.side * self.side) as f64
    }

    /// Local mean of the open blocks that show ground, a channel; where there are none, 0.
    fn shifts(&self) -> [Vec<f64>; 3] {
        let around = each(|c| self.around(c));
        let mut shifts = around.each_ref().map(|(middles, _)| middles.clone());
        // A weak pull towards the first surface decides where no ground is open.
        let pull = 0.002 * (self.side * self.side) as f64;
        for _ in 0..WEIGHINGS {
            let weights: Vec<f64> = (0..self.counts.len())
                .map(|i| {
                    let off = |c: usize| (self.means[c][i] - shifts[c][i]).abs() / around[c].1[i];
                    let off = (0..3).map(off).fold(0.0, f64::max) / CUT_SPREADS;
                    if self.is_open(i) && off < 1.0 { self.counts[i] * (1.0 - off * off).powi(2) } else { 0.0 }
                })
                .collect();
            let weight = blur(&weights, self.nx, self.ny);
            shifts = each(|c| {
                let sums: Vec<f64> = self.means[c].iter().zip(&weights).map(|(mean, weight)| mean * weight).collect();
                let sum = blur(&sums, self.nx, self.ny);
                sum.iter().zip(&weight).map(|(sum, weight)| sum / (weight + pull)).collect()
            });
        }
        shifts
    }

    /// What most blocks around each block show in a channel: their median, and their spread from it.
    fn around(&self, c: usize) -> (Vec<f64>, Vec<f64>) {
        let least = self.grain(c);
        let (columns, rows) = (self.nx.div_ceil(WINDOW_STEP).max(2), self.ny.div_ceil(WINDOW_STEP).max(2));
        let mut middles = Raster::filled(columns, rows, 0.0f32);
        let mut spreads = Raster::filled(columns, rows, least as f32);
        for row in 0..rows {
            for column in 0..columns {
                let range = |at: usize, n: usize| {
                    let middle = at * WINDOW_STEP + WINDOW_STEP / 2;
                    (middle.saturating_sub(WINDOW)..(middle + WINDOW + 1).min(n)).step_by(SAMPLE_STEP)
                };
                let places = range(row, self.ny).flat_map(|j| range(column, self.nx).map(move |i| j * self.nx + i));
                let mut values: Vec<f64> = places.filter(|&i| self.is_open(i)).map(|i| self.means[c][i]).collect();
                if values.len() < LEAST_SAMPLES {
                    continue;
                }
                let Some(middle) = median(&mut values) else { continue };
                values.iter_mut().for_each(|value| *value = (*value - middle).abs());
                let off = median(&mut values).unwrap_or(0.0) * SD_PER_MAD;
                middles.set(column, row, middle as f32);
                spreads.set(column, row, off.max(least) as f32);
            }
        }
        let of_blocks = |of: &Raster<f32>| {
            spread(of, WINDOW_STEP, self.nx, self.ny).data().iter().map(|&value| f64::from(value)).collect()
        };
        (of_blocks(&middles), of_blocks(&spreads))
    }

    /// Standard deviation of a block's mean by how much neighbours differ: haze hardly changes from one to the next.
    fn grain(&self, c: usize) -> f64 {
        let mut steps: Vec<f64> = (0..self.counts.len().saturating_sub(1))
            .filter(|i| (i + 1) % self.nx != 0 && self.is_open(*i) && self.is_open(i + 1))
            .map(|i| (self.means[c][i + 1] - self.means[c][i]).abs())
            .collect();
        (median(&mut steps).unwrap_or(0.0) * SD_PER_MAD / std::f64::consts::SQRT_2).max(1e-7)
    }
}

/// Pixels that hold neither a shaft nor the halo beside one.
fn open_pixels(planes: &[Raster<f32>; 3], first: &[Raster<f32>; 3], inside: &Raster<bool>) -> Raster<bool> {
    let (width, height) = (inside.width(), inside.height());
    let mut limit = [0.0f32; 3];
    for c in 0..3 {
        let mut off: Vec<f64> = (0..width * height)
            .step_by(11)
            .filter(|&i| inside.data()[i])
            .map(|i| f64::from(planes[c].data()[i] - first[c].data()[i]))
            .collect();
        // The lower half of the absolute differences: shafts may cover a good part of the picture.
        for value in off.iter_mut() {
            *value = value.abs();
        }
        let low = quantile(&mut off, 0.35).unwrap_or(0.0);
        // For a normal distribution the 0.35 quantile of |z| is 0.4538 standard deviations (closed form).
        limit[c] = ((low / 0.4538) as f32).max(1e-6) * MASK_SD;
    }
    let near = Raster::from_fn(width, height, |x, y| {
        let i = y * width + x;
        inside.data()[i] && (0..3).all(|c| (planes[c].data()[i] - first[c].data()[i]).abs() < limit[c])
    });
    // A pixel counts as open only when most of its surroundings do: this also takes away the halo.
    erode_by_majority(&near, (width.max(height) / 250).max(2))
}

/// Pixels whose square neighbourhood of half-size `reach` is at least four fifths set.
fn erode_by_majority(mask: &Raster<bool>, reach: usize) -> Raster<bool> {
    let (width, height) = (mask.width(), mask.height());
    let mut sums = vec![0u32; (width + 1) * (height + 1)];
    for y in 0..height {
        let mut row = 0;
        for x in 0..width {
            row += u32::from(mask.at(x, y));
            sums[(y + 1) * (width + 1) + x + 1] = sums[y * (width + 1) + x + 1] + row;
        }
    }
    Raster::from_fn(width, height, |x, y| {
        let (x0, x1) = (x.saturating_sub(reach), (x + reach + 1).min(width));
        let (y0, y1) = (y.saturating_sub(reach), (y + reach + 1).min(height));
        let at = |x: usize, y: usize| sums[y * (width + 1) + x];
        let n = at(x1, y1) + at(x0, y0) - at(x0, y1) - at(x1, y0);
        mask.at(x, y) && n as usize * 5 >= (x1 - x0) * (y1 - y0) * 4
    })
}

/// Separable Gaussian on the small block grid, cut at three sigma, nothing beyond the border.
fn blur(values: &[f64], nx: usize, ny: usize) -> Vec<f64> {
    let reach = (3.0 * SMOOTH_SIGMA_BLOCKS).ceil() as usize;
    let off = |k: usize| (k as f64 - reach as f64) / SMOOTH_SIGMA_BLOCKS;
    let kernel: Vec<f64> = (0..=2 * reach).map(|k| (-0.5 * off(k).powi(2)).exp()).collect();
    let total: f64 = kernel.iter().sum();
    // Whole rows are added, shifted along themselves or taken from other rows: a sum for each block would be slower.
    let mut along = vec![0.0; values.len()];
    let mut padded = vec![0.0; nx + 2 * reach];
    for (row, sums) in values.chunks_exact(nx).zip(along.chunks_exact_mut(nx)) {
        padded[reach..reach + nx].copy_from_slice(row);
        for (k, share) in kernel.iter().enumerate() {
            sums.iter_mut().zip(&padded[k..]).for_each(|(sum, value)| *sum += share * value);
        }
        sums.iter_mut().for_each(|sum| *sum /= total);
    }
    let mut both = vec![0.0; values.len()];
    for (j, sums) in both.chunks_exact_mut(nx).enumerate() {
        for (k, share) in kernel.iter().enumerate() {
            let Some(from) = (j + k).checked_sub(reach).filter(|&from| from < ny) else { continue };
            let row = &along[from * nx..(from + 1) * nx];
            sums.iter_mut().zip(row).for_each(|(sum, value)| *sum += share * value);
        }
        sums.iter_mut().for_each(|sum| *sum /= total);
    }
    both
}

#[cfg(test)]
mod tests {
    use super::followed;
    use crate::maths::raster::Raster;

    const GRAIN: f32 = 0.002;

    /// What is followed of a picture of this light, with grain.
    fn ground(light: impl Fn(usize, usize) -> f32) -> Raster<f32> {
        let picture = Raster::from_fn(640, 480, |x, y| {
            let noise = ((x * 7919 + y * 104_729 + x * y * 31) % 101) as f32 / 101.0 - 0.5;
            light(x, y) + noise * GRAIN * 12f32.sqrt()
        });
        let first = [0, 1, 2].map(|_| Raster::filled(640, 480, 0.05f32));
        let planes = [picture.clone(), picture.clone(), picture];
        let [red, ..] = followed(&planes, &first, &Raster::filled(640, 480, true));
        red
    }

    #[test]
    fn a_dim_broad_shaft_is_not_taken_for_ground() {
        // Three times the grain of single pixels: less than the seven that the mask alone asks for. A mean over its
        // surroundings would take two thirds of it for ground.
        let shaft = 3.0 * GRAIN;
        let found = ground(|x, y| 0.05 + if (180..220).contains(&x) && y > 60 { shaft } else { 0.0 });
        for y in (100..440).step_by(20) {
            let under = found.at(200, y) - 0.05;
            assert!(under < 0.3 * shaft, "{under} of the shaft is taken for ground at {y}");
        }
    }

    #[test]
    fn haze_is_followed() {
        let haze = |x: usize, y: usize| {
            let (dx, dy) = ((x as f32 - 400.0) / 130.0, (y as f32 - 250.0) / 130.0);
            2.0 * GRAIN * (-0.5 * (dx * dx + dy * dy)).exp()
        };
        let found = ground(|x, y| 0.05 + haze(x, y));
        for (x, y) in [(400, 250), (340, 250), (460, 250), (400, 180), (400, 320), (300, 200)] {
            let missed = haze(x, y) + 0.05 - found.at(x, y);
            assert!(missed.abs() < 0.5 * haze(x, y), "{missed} of {} is missed at {x}, {y}", haze(x, y));
        }
    }
}
