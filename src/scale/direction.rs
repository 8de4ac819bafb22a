//! In which directions light changes: where straight parallel lines lie, nearly all of its slopes point one way.

use rayon::prelude::*;

use crate::maths::raster::Raster;

/// Bins of half a turn: a quarter of a degree each, finer than a line of a few hundred pixels shows.
const N_BINS: usize = 720;

/// Bins to either side that belong to a peak: 2 degrees, the spread of noisy slopes along a straight line.
const PEAK_BINS: usize = 8;

/// Bins to either side of a peak in which no other is sought: 8 degrees.
const APART_BINS: usize = 32;

/// Only the steepest fifth of all slopes counts: fine lines make few, dense ones many, and the rest is noise or haze.
const STEEP_FROM: f64 = 0.8;

/// A direction across lines, with how much speaks for it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Direction {
    /// Radians from x towards y, 0 to π.
    pub(super) angle: f64,
    /// Share of all steep slopes that point within 2 degrees of it, less the share by chance; at most 1.
    pub(super) share: f64,
}

/// The directions that most slopes of a plane point to, strongest first, at most `most`.
pub(super) fn directions(plane: &Raster<f32>, most: usize) -> Vec<Direction> {
    let (width, height) = (plane.width(), plane.height());
    if width < 8 || height < 8 {
        return Vec::new();
    }
    let slopes = |y: usize| {
        let row = |dy: usize| plane.row(y + dy - 1);
        let (above, here, below) = (row(0), row(1), row(2));
        (1..width - 1).map(move |x| {
            // Scharr's weights: nearly the same response in all directions.
            let across =
                3.0 * (above[x + 1] - above[x - 1] + below[x + 1] - below[x - 1]) + 10.0 * (here[x + 1] - here[x - 1]);
            let down = 3.0 * (below[x - 1] - above[x - 1] + below[x + 1] - above[x + 1]) + 10.0 * (below[x] - above[x]);
            (across, down)
        })
    };
    let every = (height * width / 100_000).max(1);
    let mut sizes: Vec<f32> =
        (1..height - 1).flat_map(|y| slopes(y).map(|(a, b)| a.hypot(b)).skip(y % every).step_by(every)).collect();
    if sizes.is_empty() {
        return Vec::new();
    }
    let at = (STEEP_FROM * (sizes.len() - 1) as f64) as usize;
    let steep = *sizes.select_nth_unstable_by(at, f32::total_cmp).1;
    let bins = (1..height - 1)
        .into_par_iter()
        .fold(
            || vec![0u64; N_BINS],
            |mut bins, y| {
                for (across, down) in slopes(y) {
                    let size = across.hypot(down);
                    if size >= steep && size > 0.0 {
                        let turn = f64::from(down).atan2(f64::from(across)).rem_euclid(std::f64::consts::PI);
                        let bin = (turn / std::f64::consts::PI * N_BINS as f64) as usize % N_BINS;
                        // Whole numbers, so that the sum does not depend on the order of threads.
                        bins[bin] += (f64::from(size * size) * f64::from(1u32 << 24)) as u64;
                    }
                }
                bins
            },
        )
        .reduce(|| vec![0u64; N_BINS], |a, b| a.iter().zip(&b).map(|(a, b)| a + b).collect());
    peaks(&bins, most)
}

fn peaks(bins: &[u64], most: usize) -> Vec<Direction> {
    let all: f64 = bins.iter().map(|&bin| bin as f64).sum();
    if all <= 0.0 {
        return Vec::new();
    }
    let around = |middle: usize, reach: usize| {
        (0..=2 * reach).map(move |i| (middle + N_BINS + i - reach, (middle + N_BINS + i - reach) % N_BINS))
    };
    let sums: Vec<f64> = (0..N_BINS).map(|b| around(b, PEAK_BINS).map(|(_, i)| bins[i] as f64).sum()).collect();
    let chance = (2 * PEAK_BINS + 1) as f64 / N_BINS as f64;
    let mut open = vec![true; N_BINS];
    let mut found = Vec::new();
    while found.len() < most {
        let Some(best) = (0..N_BINS).filter(|&b| open[b]).max_by(|&a, &b| sums[a].total_cmp(&sums[b])) else { break };
        around(best, APART_BINS).for_each(|(_, i)| open[i] = false);
        let share = sums[best] / all - chance;
        if share <= 0.0 {
            break;
        }
        let mean = around(best, PEAK_BINS).map(|(wide, i)| wide as f64 * bins[i] as f64).sum::<f64>() / sums[best];
        let angle = ((mean + 0.5) / N_BINS as f64 * std::f64::consts::PI).rem_euclid(std::f64::consts::PI);
        found.push(Direction { angle, share });
    }
    found
}

#[cfg(test)]
mod tests {
    use super::directions;
    use crate::maths::raster::Raster;

    #[test]
    fn waves_point_where_they_run() {
        for degrees in [0.0, 17.0, 45.0, 90.0, 133.0, 179.9] {
            let (sin, cos) = f64::to_radians(degrees).sin_cos();
            let waves =
                Raster::from_fn(200, 150, |x, y| (((x as f64) * cos + (y as f64) * sin) * 0.4).sin().powi(9) as f32);
            let found = directions(&waves, 3);
            let off = (found[0].angle.to_degrees() - degrees + 90.0).rem_euclid(180.0) - 90.0;
            assert!(off.abs() < 0.3 && found[0].share > 0.9, "{degrees}: {found:?}");
        }
        assert!(directions(&Raster::filled(100, 100, 0.5), 3).is_empty(), "an even plane has no direction");
    }
}
