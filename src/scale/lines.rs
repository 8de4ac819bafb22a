//! Where a band crosses lines, as a filter of a given size sees it.

use super::bands::{Band, STEP_PX};

/// A place where a band is darker or brighter than to both sides.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Crossing {
    /// Its place along the band, pixels.
    pub(super) u: f64,
    /// How much it stands out, linear light.
    pub(super) strength: f64,
}

/// Reach of the filter, in its own size: beyond, a bell curve is below a thousandth.
const REACH: f64 = 4.0;

/// The filter's answer along a band: what a bell curve of standard deviation `size_px` has above its surroundings.
/// Positive at bright lines. The negative second derivative of a bell curve, scaled so that a bell-shaped line of
/// that very size and of height 1 gives about 1.
pub(super) fn response(band: &Band, size_px: f64) -> Vec<f64> {
    let size = size_px / STEP_PX;
    let reach = (REACH * size).ceil() as usize;
    let mut kernel: Vec<f64> = (0..=2 * reach)
        .map(|i| {
            let t = (i as f64 - reach as f64) / size;
            (1.0 - t * t) * (-0.5 * t * t).exp()
        })
        .collect();
    // Cut off and sampled it no longer sums to nothing, and an even light would answer.
    let mean = kernel.iter().sum::<f64>() / kernel.len() as f64;
    kernel.iter_mut().for_each(|k| *k -= mean);
    let own: f64 =
        kernel.iter().enumerate().map(|(i, k)| k * (-0.5 * ((i as f64 - reach as f64) / size).powi(2)).exp()).sum();
    kernel.iter_mut().for_each(|k| *k /= own);
    let n = band.light.len();
    let mirrored = |i: isize| -> f64 {
        let last = n as isize - 1;
        let i = if i < 0 {
            -i
        } else if i > last {
            2 * last - i
        } else {
            i
        };
        f64::from(band.light[i.clamp(0, last) as usize])
    };
    (0..n)
        .map(|i| {
            if i >= reach && i + reach < n {
                let light = &band.light[i - reach..=i + reach];
                light.iter().zip(&kernel).map(|(light, k)| f64::from(*light) * k).sum()
            } else {
                let from = i as isize - reach as isize;
                kernel.iter().enumerate().map(|(j, k)| k * mirrored(from + j as isize)).sum()
            }
        })
        .collect()
}

/// The crossings of dark (or else bright) lines, in order of u. `size_px` is that of the filter.
///
/// Beside each bright line the filter sees two dark ones that are none: these are left out.
pub(super) fn crossings(band: &Band, response: &[f64], dark: bool, size_px: f64) -> Vec<Crossing> {
    let others = extremes(band, response, !dark);
    let mut own = extremes(band, response, dark);
    own.retain(|one| {
        let from = others.partition_point(|other| other.u < one.u - ECHO_REACH * size_px);
        let near = others[from..].iter().take_while(|other| other.u <= one.u + ECHO_REACH * size_px);
        near.map(|other| other.strength).fold(0.0, f64::max) < ECHO_STRENGTH * one.strength
    });
    own
}

/// A line's echoes lie within this many sizes of the filter: √6 for a line of the filter's own size, more for broader
/// ones.
const ECHO_REACH: f64 = 3.4;

/// A line is so many times as strong as its echoes: 2.2 times where it has the filter's own size.
const ECHO_STRENGTH: f64 = 1.6;

fn extremes(band: &Band, response: &[f64], dark: bool) -> Vec<Crossing> {
    let sign = if dark { -1.0 } else { 1.0 };
    response
        .windows(3)
        .enumerate()
        .filter_map(|(i, three)| {
            let [a, b, c] = [sign * three[0], sign * three[1], sign * three[2]];
            if !(b > a && b >= c && b > 0.0) {
                return None;
            }
            // The top of the parabola through three samples.
            let bend = a - 2.0 * b + c;
            let shift = if bend < 0.0 { 0.5 * (a - c) / bend } else { 0.0 };
            Some(Crossing { u: band.from_u + STEP_PX * (i as f64 + 1.0 + shift), strength: b })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{crossings, response};
    use crate::scale::bands::{Band, STEP_PX};

    #[test]
    fn a_bell_of_the_filters_size_answers_its_height_and_place() {
        for dark in [false, true] {
            let sign = if dark { -1.0 } else { 1.0 };
            let bell = |u: f64| 0.6 + 0.001 * u + sign * 0.2 * (-0.5 * ((u - 31.3) / 3.0).powi(2)).exp();
            let light = (0..140).map(|i| bell(STEP_PX * f64::from(i)) as f32).collect();
            let band = Band { v: 0.0, from_u: 0.0, light };
            let found = crossings(&band, &response(&band, 3.0), dark, 3.0);
            assert_eq!(found.len(), 1, "{found:?}");
            assert!((found[0].u - 31.3).abs() < 0.02 && (found[0].strength - 0.2).abs() < 0.01, "{found:?}");
        }
    }
}
