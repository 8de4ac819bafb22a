//! Where a shaft ends along its axis, and what its ends look like.
//!
//! The light along nine lines beside each other is followed outwards; an end is where it falls to half of the
//! plateau further in, which for an abrupt end the blur does not move. Their nine places tell a square end from an
//! oblique, round or ragged one. An end that fades slowly is a taper, and is followed down to the noise instead.

use super::EndSeen;
use super::bins::Mix;
use super::course::Look;
use super::neighbours::Surroundings;
use super::scene::Scene;
use super::stations::{mix_of, signal};
use crate::maths::polyline::Polyline;
use crate::maths::robust::median;
use nalgebra::{DMatrix, DVector};

/// How far inside and outside the traced end is looked, widths. The trace may stop or overshoot by up to two.
const INSIDE_WIDTHS: f64 = 4.0;
const OUTSIDE_WIDTHS: f64 = 2.0;
/// The plateau is read between these distances inside the traced end, widths.
const PLATEAU_WIDTHS: [f64; 2] = [2.2, 3.6];
/// Lines beside each other, and the share of the radius they spread over.
const LINES: usize = 9;
const SPREAD_RADII: f64 = 0.75;
/// A fade from 0.8 to 0.3 of the plateau longer than this many widths is a taper's or a frayed root's.
const GRADUAL_WIDTHS: f64 = 1.0;
/// A gradual end is followed down to this share of the plateau, or to three times the noise.
const FADE_SHARE: f64 = 0.2;
/// Slant (pixels along a pixel across) beyond which an end is oblique: 25 degrees.
const OBLIQUE: f64 = 0.47;
/// Raggedness beyond which an end is broken, widths; square cuts stay below 0.02.
const RAGGED_WIDTHS: f64 = 0.04;
/// Rounding from which an untapered end is a root's, widths: a club is at least a half circle (0.17), a square or
/// slanting cut stays below 0.04 whatever the blur; and beyond which it is a spike.
const ROUND_WIDTHS: [f64; 2] = [0.09, 0.6];
/// Share of the full width that a round end has all but kept; a tip has not.
const FULL_SHARE: f64 = 0.8;
/// Raggedness as a share of the rounding beyond which the end is torn rather than round.
const RAGGED_OF_ROUND: f64 = 0.25;
/// How much farther than its middle an end's flanks must reach to be torn hollow, widths.
const HOLLOW_WIDTHS: f64 = 0.08;
/// The stretch over which a taper is looked for, and the share of the full width it must come down to.
const TAPER_WIDTHS: f64 = 8.0;
const TAPER_SHARE: f64 = 0.65;
/// How far from the end the last station may lie to speak for it, widths.
const LAST_WIDTHS: f64 = 3.0;
/// Share by which an end must be wider than the shaft to be a bulb.
const BULB_SHARE: f64 = 1.2;
/// How far from the end a bulb may begin, widths.
const BULB_WIDTHS: f64 = 4.0;

/// What the light along the axis says of an end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct EndShape {
    /// How far the shaft goes on beyond the traced end, pixels; below 0 when the trace overshot.
    pub(super) beyond_px: f64,
    /// Pixels along for each pixel across of the line through the end; 0 = square.
    pub(super) slant: f64,
    /// How far the end's middle stands out beyond its flanks (three quarters of the radius out), pixels; 0 = square,
    /// a third of the radius = a half circle. Each line is measured by its own height, so that blur rounds nothing.
    pub(super) rounding_px: f64,
    /// Root mean square of the end's edge about that curve, pixels.
    pub(super) ragged_px: f64,
    /// Whether the light fades over more than a width.
    pub(super) gradual: bool,
}

/// Looks at the last point of `line`; `None` when the shaft's light there is too dim to tell.
pub(super) fn look_at_end(
    scene: &Scene,
    around: &Surroundings,
    line: &Polyline,
    radius_px: f64,
    look: &Look,
) -> Option<EndShape> {
    let (mix, variance) = mix_of(scene, look)?;
    let width = 2.0 * radius_px;
    let step = (width / 16.0).max(1.0);
    let inside = (INSIDE_WIDTHS * width).min(line.length());
    let n = ((inside + OUTSIDE_WIDTHS * width) / step).ceil() as usize;
    if n < 8 || signal(&mix, look) < 1.0 {
        return None;
    }
    let mut lines: Vec<Vec<Option<f64>>> = vec![Vec::new(); LINES];
    for i in 0..n {
        let s = line.length() - inside + i as f64 * step;
        let at = line.at(s);
        let normal = line.tangent(s.min(line.length() - radius_px), radius_px.max(2.0)).normal();
        let ground = ground_at(scene, around, &mix, at, normal, radius_px);
        for (k, row) in lines.iter_mut().enumerate() {
            let t = radius_px * SPREAD_RADII * (2.0 * k as f64 / (LINES - 1) as f64 - 1.0);
            row.push(mixed_at(scene, around, &mix, at + normal * t).zip(ground).map(|(l, g)| l - g));
        }
    }
    let to_s = |i: f64| i * step - inside;
    let middle: Vec<Option<f64>> = (0..n).map(|i| mean(lines[2..5].iter().filter_map(|row| row[i]))).collect();
    let middle = averaged(&middle, 2);
    let plateau_range: Vec<usize> = (0..n)
        .filter(|i| {
            let s = -to_s(*i as f64);
            s >= (PLATEAU_WIDTHS[0] * width).min(0.3 * inside) && s <= (PLATEAU_WIDTHS[1] * width).min(0.9 * inside)
        })
        .collect();
    let plateau = median(&plateau_range.iter().filter_map(|i| middle[*i]).collect::<Vec<_>>())?;
    // Five steps of three lines are averaged; bilinear reading leaves about half of a pixel's variance.
    let noise = (variance[0] / 7.0).sqrt();
    if plateau < 4.0 * noise {
        return None;
    }
    let from = *plateau_range.last()?;
    let at_level = |row: &[Option<f64>], level: f64| falls_below(row, from, level).map(to_s);
    let (high, low) = (at_level(&middle, 0.8 * plateau), at_level(&middle, 0.3 * plateau));
    let gradual = match (high, low) {
        (Some(high), Some(low)) => low - high > GRADUAL_WIDTHS * width,
        _ => false,
    };
    let level = if gradual { (FADE_SHARE * plateau).max(3.0 * noise) } else { 0.5 * plateau };
    let beyond_px = at_level(&middle, level).unwrap_or(OUTSIDE_WIDTHS * width).clamp(-2.0 * width, 2.0 * width);
    let (slant, rounding_px, ragged_px) = edge(&lines, from, radius_px, &to_s);
    Some(EndShape { beyond_px, slant, rounding_px, ragged_px, gradual })
}

/// Slope, rounding and scatter of the ends of the lines: a parabola through them by least squares.
fn edge(lines: &[Vec<Option<f64>>], from: usize, radius_px: f64, to_s: &dyn Fn(f64) -> f64) -> (f64, f64, f64) {
    let flank = radius_px * SPREAD_RADII;
    let mut places: Vec<(f64, f64)> = Vec::new();
    for (k, row) in lines.iter().enumerate() {
        let row = averaged(row, 1);
        let own =
            median(&row[..=from].iter().rev().take(12).filter_map(|v| *v).collect::<Vec<_>>()).filter(|p| *p > 0.0);
        let Some(at) = own.and_then(|own| falls_below(&row, from, 0.5 * own)) else { continue };
        places.push((2.0 * k as f64 / (LINES - 1) as f64 - 1.0, to_s(at)));
    }
    if places.len() < 5 {
        return (0.0, 0.0, 0.0);
    }
    let design = DMatrix::from_fn(places.len(), 3, |i, j| places[i].0.powi(j as i32));
    let ends = DVector::from_iterator(places.len(), places.iter().map(|p| p.1));
    let Ok(curve) = design.clone().svd(true, true).solve(&ends, 1e-9) else { return (0.0, 0.0, 0.0) };
    let off = (&design * &curve - &ends).norm_squared();
    (curve[1] / flank, -curve[2], (off / (places.len() - 3) as f64).sqrt())
}

/// Place, in steps, where the row falls below the level for good (three steps in a row), from `from` outwards.
fn falls_below(row: &[Option<f64>], from: usize, level: f64) -> Option<f64> {
    let below = |i: usize| row.get(i).is_some_and(|v| v.is_some_and(|v| v < level));
    let at = (from..row.len())
        .find(|i| below(*i) && (below(i + 1) || i + 1 >= row.len()) && (below(i + 2) || i + 2 >= row.len()))?;
    let now = row[at]?;
    match at.checked_sub(1).and_then(|i| row[i]) {
        Some(before) if before > level => Some(at as f64 - 1.0 + (before - level) / (before - now)),
        _ => Some(at as f64),
    }
}

fn averaged(row: &[Option<f64>], reach: usize) -> Vec<Option<f64>> {
    (0..row.len())
        .map(|i| mean(row[i.saturating_sub(reach)..(i + reach + 1).min(row.len())].iter().filter_map(|v| *v)))
        .collect()
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, n) = values.fold((0.0, 0.0), |(sum, n), v| (sum + v, n + 1.0));
    (n > 0.0).then(|| sum / n)
}

fn mixed_at(scene: &Scene, around: &Surroundings, mix: &Mix, at: crate::maths::point::Point) -> Option<f64> {
    if scene.distance_to_border(at) < 1.0 || around.is_foreign((at.x + 0.5) as usize, (at.y + 0.5) as usize) {
        return None;
    }
    Some(f64::from(mix.of(scene.photo.between(at.x, at.y))))
}

fn ground_at(
    scene: &Scene,
    around: &Surroundings,
    mix: &Mix,
    at: crate::maths::point::Point,
    normal: crate::maths::point::Vec2,
    radius_px: f64,
) -> Option<f64> {
    let places = [1.5, 1.8, 2.1].iter().flat_map(|r| [-1.0, 1.0].map(|side| side * (r * radius_px + 4.0)));
    mean(places.filter_map(|t| mixed_at(scene, around, mix, at + normal * t)))
}

/// What is seen at an end, from the light along the axis and the widths towards it.
///
/// `towards` holds (distance from the end, width) of fitted stations in pixels, nearest first; `median_px` is the
/// width of the whole shaft. A tip that thins into the noise has no edge to look at: its widths alone tell it.
pub(super) fn classify(shape: Option<EndShape>, towards: &[(f64, f64)], median_px: f64) -> EndSeen {
    let between = |from: f64, to: f64| {
        median(
            &towards
                .iter()
                .filter(|(d, _)| *d >= from * median_px && *d < to * median_px)
                .map(|(_, w)| *w)
                .collect::<Vec<_>>(),
        )
    };
    let gradual = shape.is_some_and(|shape| shape.gradual);
    let full = between(TAPER_WIDTHS, 2.0 * TAPER_WIDTHS).or_else(|| between(BULB_WIDTHS, TAPER_WIDTHS));
    // Stations of a thin tip are long: then the last one counts.
    let nearest = towards.first().filter(|(d, _)| *d < LAST_WIDTHS * median_px).map(|(_, w)| *w);
    let (Some(last), full) = (between(0.0, 1.0).or(nearest), full.unwrap_or(median_px)) else {
        return if gradual { EndSeen::Tapered } else { EndSeen::Unknown };
    };
    let middle = between(2.0, 5.0).unwrap_or(last);
    if last < TAPER_SHARE * full && middle < 0.97 * full {
        return EndSeen::Tapered;
    }
    let widest = [between(0.25, 1.0), between(0.75, 1.75), between(1.25, 2.5), between(2.0, BULB_WIDTHS)];
    let widest = widest.into_iter().flatten().fold(0.0, f64::max);
    if widest > BULB_SHARE * full && widest > BULB_SHARE * median_px {
        return EndSeen::Root;
    }
    let Some(shape) = shape else { return EndSeen::Unknown };
    if shape.gradual {
        // Full width, yet fading: frayed, or sinking out of focus; nothing says which.
        return if last < FULL_SHARE * full { EndSeen::Tapered } else { EndSeen::Unknown };
    }
    let oblique = shape.slant.abs() > OBLIQUE;
    let [least, most] = ROUND_WIDTHS.map(|widths| widths * median_px);
    let round = shape.rounding_px > least && shape.rounding_px < most;
    if round && !oblique && last > FULL_SHARE * full && shape.ragged_px < RAGGED_OF_ROUND * shape.rounding_px {
        return EndSeen::Root;
    }
    if oblique || shape.ragged_px > RAGGED_WIDTHS * median_px || shape.rounding_px < -HOLLOW_WIDTHS * median_px {
        return EndSeen::Broken;
    }
    EndSeen::Cut
}

#[cfg(test)]
mod tests {
    use super::{EndShape, classify};
    use crate::profiles::EndSeen;

    const SQUARE: EndShape = EndShape { beyond_px: 0.0, slant: 0.05, rounding_px: 0.2, ragged_px: 0.3, gradual: false };

    fn widths(of: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
        (0..80).map(|i| (1.0 + 5.0 * f64::from(i), of((1.0 + 5.0 * f64::from(i)) / 20.0))).collect()
    }

    #[test]
    fn ends_are_told_by_width_and_edge() {
        let level = widths(|_| 20.0);
        assert_eq!(classify(Some(SQUARE), &level, 20.0), EndSeen::Cut);
        assert_eq!(classify(Some(EndShape { slant: 0.9, ..SQUARE }), &level, 20.0), EndSeen::Broken);
        assert_eq!(classify(Some(EndShape { ragged_px: 4.0, ..SQUARE }), &level, 20.0), EndSeen::Broken);
        assert_eq!(classify(Some(SQUARE), &widths(|d| 20.0 * (0.1 + d / 8.0).min(1.0)), 20.0), EndSeen::Tapered);
        let bulb = widths(|d| if d < 2.0 { 30.0 } else { 20.0 });
        assert_eq!(classify(Some(SQUARE), &bulb, 20.0), EndSeen::Root);
        let round = EndShape { rounding_px: 3.4, ..SQUARE };
        assert_eq!(classify(Some(round), &level, 20.0), EndSeen::Root, "half a circle");
        assert_eq!(classify(Some(EndShape { ragged_px: 1.5, ..round }), &level, 20.0), EndSeen::Broken);
        assert_eq!(classify(Some(EndShape { rounding_px: -3.0, ..SQUARE }), &level, 20.0), EndSeen::Broken);
        assert_eq!(classify(None, &level, 20.0), EndSeen::Unknown);
        assert_eq!(classify(None, &widths(|d| 20.0 * (0.1 + d / 8.0).min(1.0)), 20.0), EndSeen::Tapered, "too dim");
    }
}
