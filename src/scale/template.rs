//! The mean line of a photo, and where along a band it fits best.
//!
//! Lines of one ruling look alike, whatever their thickness and blur. Their mean, made even about its middle, is the
//! template; least squares with a level and a slope of the ground then gives each place. An uneven light moves no
//! place, because its slope is fitted along.

use nalgebra::{Matrix4, Vector4};

use super::bands::{Band, STEP_PX};

/// Distance between two values of the template, pixels.
const FINE_PX: f64 = 0.25;

/// Part of a pitch that a line's window reaches to each side: the neighbours' windows then touch.
const REACH_PITCHES: f64 = 0.5;

/// Beyond so many widths at half height a line has ended and only dust could be met.
const REACH_WIDTHS: f64 = 1.6;

/// And so many pixels more, for the level of the ground.
const REACH_BESIDE_PX: f64 = 3.0;

/// Light may change by this share from a line's middle to the end of its window; more is an edge or dust.
const MOST_TILT: f64 = 0.3;

/// Rounds of the fit; each takes a fiftieth of the error or less of the one before.
const N_ROUNDS: usize = 4;

/// The mean line of a photo.
#[derive(Clone, Debug)]
pub(super) struct Template {
    /// Height above the ground at 0, [`FINE_PX`], 2 [`FINE_PX`], ... from the middle; 1 in the middle, 0 at the end.
    heights: Vec<f64>,
    /// How far windows reach to each side, pixels.
    pub(super) reach_px: f64,
    /// Width at half height, pixels.
    pub(super) width_px: f64,
    /// Light in the middle of the mean line less that beside it, linear light; below 0 for dark lines.
    pub(super) height: f64,
    /// Light beside the mean line, linear light.
    pub(super) ground: f64,
}

/// A line's place as fitted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fitted {
    /// Its place along the band, pixels.
    pub(super) u: f64,
    /// Its height in units of the template's: about 1 for a line, near 0 where there is none.
    pub(super) share: f64,
    /// One standard deviation of `share`, from what the fit leaves over.
    pub(super) share_sd: f64,
}

impl Template {
    /// The mean of the lines at the given places, each a band and a distance along it. `None` when they show no line.
    pub(super) fn of<'a>(places: impl Iterator<Item = (&'a Band, f64)>, pitch_px: f64) -> Option<Template> {
        let reach = REACH_PITCHES * pitch_px;
        let n = (reach / FINE_PX).floor() as usize + 1;
        let (mut sums, mut weights) = (vec![0.0; n + 1], vec![0.0; n + 1]);
        let mut ground = 0.0;
        let mut n_lines = 0.0;
        for (band, u) in places {
            let Some(window) = window(band, u, reach) else { continue };
            let mean = window.iter().map(|(_, light)| light).sum::<f64>() / window.len() as f64;
            for (t, light) in &window {
                // Both sides onto one: the template is even by making, and a slope of the ground falls out.
                let at = t.abs() / FINE_PX;
                let (i, share) = (at as usize, at.fract());
                if i < n {
                    sums[i] += (1.0 - share) * (light - mean);
                    weights[i] += 1.0 - share;
                    sums[i + 1] += share * (light - mean);
                    weights[i + 1] += share;
                }
            }
            ground += mean;
            n_lines += 1.0;
        }
        let mut heights: Vec<f64> =
            sums.iter().zip(&weights).take_while(|(_, w)| **w > 0.0).map(|(sum, w)| sum / w).collect();
        if heights.len() < 4 {
            return None;
        }
        // The outermost tenth, two values at least, is the ground.
        let n_ground = (heights.len() / 10).max(2);
        let level = heights[heights.len() - n_ground..].iter().sum::<f64>() / n_ground as f64;
        let height = heights[0] - level;
        if height == 0.0 || !height.is_finite() {
            return None;
        }
        heights.iter_mut().for_each(|h| *h = (*h - level) / height);
        let half = heights.iter().position(|h| *h < 0.5)?;
        let width_px = 2.0 * FINE_PX * half as f64;
        let reach_px = reach.min(REACH_WIDTHS * width_px + REACH_BESIDE_PX);
        Some(Template { heights, reach_px, width_px, height, ground: ground / n_lines + level })
    }

    /// The height at a distance from the middle.
    fn at(&self, t: f64) -> f64 {
        let at = t.abs() / FINE_PX;
        let last = self.heights.len() - 1;
        let i = (at as usize).min(last - 1);
        let share = (at - i as f64).min(1.0);
        self.heights[i] + share * (self.heights[i + 1] - self.heights[i])
    }

    /// How fast it rises at a distance from the middle, per pixel.
    fn slope(&self, t: f64) -> f64 {
        (self.at(t + FINE_PX) - self.at(t - FINE_PX)) / (2.0 * FINE_PX)
    }

    /// Where the template fits best near `expected`; `None` outside the band or where nothing can be fitted.
    pub(super) fn fit(&self, band: &Band, expected: f64) -> Option<Fitted> {
        let window = window(band, expected, self.reach_px)?;
        if window.len() < 6 {
            return None;
        }
        let (mut shift, mut fitted) = (0.0, None);
        // Light that falls to one side dims a dark line's ground and depth alike, and would pull its middle aside.
        let mut tilt = 0.0;
        for _ in 0..N_ROUNDS {
            let mut normal = Matrix4::zeros();
            let mut right = Vector4::zeros();
            let row = |t: f64| {
                let lit = 1.0 + tilt * (t - shift);
                Vector4::new(1.0, t, self.at(t - shift) * lit, -self.slope(t - shift) * lit)
            };
            for (t, light) in &window {
                let row = row(*t);
                normal += row * row.transpose();
                right += row * (light / self.height);
            }
            let inverse = normal.try_inverse()?;
            let solved = inverse * right;
            let left: f64 = window.iter().map(|(t, light)| (light / self.height - row(*t).dot(&solved)).powi(2)).sum();
            let variance = left / (window.len() as f64 - 4.0).max(1.0);
            let share = solved[2];
            if !(share.is_finite() && share.abs() > 1e-9) {
                return None;
            }
            // A step beyond half the line is no small one any more.
            shift += (solved[3] / share).clamp(-0.5 * self.width_px, 0.5 * self.width_px);
            if self.height < 0.0 && solved[0] != 0.0 {
                tilt = (solved[1] / solved[0]).clamp(-MOST_TILT / self.reach_px, MOST_TILT / self.reach_px);
            }
            if shift.abs() > self.reach_px {
                return None;
            }
            fitted = Some(Fitted { u: expected + shift, share, share_sd: (variance * inverse[(2, 2)]).sqrt() });
        }
        fitted
    }
}

/// Samples of a band around `u`: distance from `u` and light. `None` when the window is not wholly in the band.
fn window(band: &Band, u: f64, reach: f64) -> Option<Vec<(f64, f64)>> {
    let (first, share) = band.place(u - reach)?;
    let first = if share > 0.0 { first + 1 } else { first };
    let (last, _) = band.place(u + reach)?;
    let at = |i: usize| (band.from_u + STEP_PX * i as f64 - u, f64::from(band.light[i]));
    (last > first).then(|| (first..=last).map(at).collect())
}

#[cfg(test)]
mod tests {
    use super::Template;
    use crate::scale::bands::{Band, STEP_PX};

    #[test]
    fn lines_on_a_slope_are_found_where_they_are() {
        let pitch = 14.0;
        let place = |n: i32| 20.17 + pitch * f64::from(n);
        // Light that falls to one side lights ground and lines alike.
        let ground = |u: f64| 0.5 + 0.004 * u;
        let light = |u: f64| {
            let line = |n: i32| 0.6 * (-0.5 * ((u - place(n)) / 1.9).powi(2)).exp();
            ground(u) * (1.0 - (0..20).map(line).sum::<f64>())
        };
        let band =
            Band { v: 0.0, from_u: 0.0, light: (0..640).map(|i| light(STEP_PX * f64::from(i)) as f32).collect() };
        let about = |n: i32| place(n) + 0.2 * f64::from(n % 3 - 1);
        let template = Template::of((0..20).map(|n| (&band, about(n))), pitch).unwrap();
        assert!((template.height / template.ground + 0.6).abs() < 0.03, "{}", template.height);
        // A bell curve's width at half height is 2.355 standard deviations.
        assert!((template.width_px - 2.355 * 1.9).abs() < 0.5, "{}", template.width_px);
        for n in 0..20 {
            let fitted = template.fit(&band, about(n)).unwrap();
            assert!((fitted.u - place(n)).abs() < 0.01, "{n}: {fitted:?} for {}", place(n));
            assert!((fitted.share * template.height / ground(place(n)) + 0.6).abs() < 0.03, "{n}: {fitted:?}");
        }
        assert!(template.fit(&band, 2.0).is_none(), "too near the end of the band");
    }
}
