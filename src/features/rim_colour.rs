//! Colour of a shaft's rim against that of its core: a film lies around the hair, what glows inside lies all through.
//!
//! Both colours are of one shaft under one lamp and one camera, so that neither lamp nor white balance tells in their
//! ratio. Weakness: blur mixes the two, a black hair shows no core of its own.

use crate::maths::raster::Raster;

use super::across::{clear_columns, rows_between};
use super::colour::{Colour, relative};
use super::signals::Strip;

/// Half-width of the core, in widths: the middle third and a little more.
const CORE: f64 = 0.2;

/// Inner and outer bound of the rim, in widths from the middle: the outer quarter and what blur carries beyond.
const RIM: [f64; 2] = [0.33, 0.55];

/// Fewest columns for a mean.
const LEAST_COLUMNS: usize = 5;

/// Noise of neighbouring pixels of a strip goes together, since the strip is interpolated and the photo compressed:
/// as if there were this many times fewer of them (from looking at strips of dark ground: 3 to 5).
const PIXELS_THAT_GO_TOGETHER: f64 = 4.0;

/// How much more of channel `a` than of channel `b` the rim has compared with the core: (A·b − B·a) / (A·b + B·a)
/// with capitals for the rim, −1 to 1; `None` when either is too dim to have a colour.
pub(super) fn rim_to_core(strip: &Strip, width_px: f64, a: usize, b: usize) -> Option<f64> {
    let columns: Vec<usize> = clear_columns(strip).collect();
    if columns.len() < LEAST_COLUMNS {
        return None;
    }
    let rows =
        |from: f64, to: f64| rows_between(strip.channels[0].height(), strip.step_px, from * width_px, to * width_px);
    let core = mean(strip.channels, &columns, &[rows(-CORE, CORE)])?;
    let rim = mean(strip.channels, &columns, &[rows(-RIM[1], -RIM[0]), rows(RIM[0], RIM[1])])?;
    relative(&rim, &core, a, b)
}

fn mean(channels: &[Raster<f32>; 3], columns: &[usize], bands: &[(usize, usize)]) -> Option<Colour> {
    let n: usize = bands.iter().map(|(from, to)| to.saturating_sub(*from)).sum::<usize>() * columns.len();
    if n == 0 {
        return None;
    }
    let value = [0, 1, 2].map(|c| {
        let rows = bands.iter().flat_map(|&(from, to)| from..to);
        rows.map(|y| columns.iter().map(|&x| f64::from(channels[c].at(x, y))).sum::<f64>()).sum::<f64>() / n as f64
    });
    // A strip counts in standard deviations of the ground's noise.
    Some(Colour { value, sd: [(PIXELS_THAT_GO_TOGETHER / n as f64).sqrt(); 3] })
}

#[cfg(test)]
mod tests {
    use super::rim_to_core;
    use crate::features::colour::{BLUE, GREEN};
    use crate::features::signals::Strip;
    use crate::maths::raster::Raster;

    fn seen(rim: [f32; 3], core: [f32; 3], gain: [f32; 3]) -> Option<f64> {
        let channels = [0, 1, 2].map(|c| {
            Raster::from_fn(200, 81, |_, y| {
                gain[c]
                    * match y.abs_diff(40) {
                        0..=6 => core[c],
                        7..=10 => rim[c],
                        _ => 0.0,
                    }
            })
        });
        let strip = Strip { channels: &channels, step_px: 1.0, clear: vec![true; 200] };
        rim_to_core(&strip, 20.0, GREEN, BLUE)
    }

    #[test]
    fn a_green_film_around_a_blue_hair_is_told_and_white_balance_cancels() {
        let (rim, core) = ([10.0, 60.0, 30.0], [10.0, 20.0, 50.0]);
        let plain = seen(rim, core, [1.0; 3]).unwrap();
        // (60·50 − 30·20) / (60·50 + 30·20)
        assert!((plain - 2400.0 / 3600.0).abs() < 1e-6, "{plain}");
        assert!((seen(rim, core, [1.0, 0.5, 2.0]).unwrap() - plain).abs() < 1e-6, "white balance");
        assert!(seen(core, core, [1.0; 3]).unwrap().abs() < 1e-6, "one colour all through");
    }

    #[test]
    fn a_dim_rim_has_no_colour() {
        assert_eq!(seen([0.0, 0.01, 0.01], [10.0, 20.0, 50.0], [1.0; 3]), None);
    }
}
