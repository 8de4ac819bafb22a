//! The two edges of a shaft as evidence of where it goes on: how light changes across each of them, in all channels.
//!
//! Where shafts lie on each other their light mixes, but each keeps its edges, and a person's eye holds to them. A
//! place on a supposed course speaks for it when both edges lie there as far apart as the shaft is wide, and brightness
//! and colour change across them as they do where the shaft lies alone.

use crate::maths::point::{Point, Vec2};
use crate::maths::raster::Raster;
use crate::maths::stats::median;

/// Inner and outer side of an edge are looked at this far from it, share of the width: past most of the blur.
const APART: f64 = 0.14;
/// And at least so far, pixels.
const APART_PX: f64 = 1.0;
/// Side of the mean that is sampled, share of the width: what lies within it is one side of one edge.
const GRAIN: f64 = 0.12;
/// Most places along a step that are looked at.
const MOST_PLACES: usize = 3;
/// Sizes of means that may be sampled, each twice the last, the first one pixel.
const SIZES: usize = 4;
/// Planes smaller than this are not halved again.
const LEAST_SIDE: usize = 16;

/// Widths tried, shares of the mask's: a mask reaches to where light fades, an edge lies where it falls most.
const WIDTHS: [f64; 7] = [0.64, 0.71, 0.78, 0.86, 0.94, 1.02, 1.1];
/// Least width tried, pixels.
const LEAST_WIDTH_PX: f64 = 2.0;

/// Light above the ground in noise units, red, green, blue.
pub(super) type Light = [f64; 3];
/// How light falls from inside to outside at the left and the right edge.
pub(super) type Sides = [Light; 2];

/// Place, unit direction and width of a shaft at one place of its course, reduced pixels.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pose {
    pub(super) at: Point,
    pub(super) along: Vec2,
    pub(super) width_px: f64,
}

/// A photo's light in means of several sizes.
pub(super) struct Edges {
    means: Vec<Raster<[f32; 3]>>,
}

impl Edges {
    /// Of light above the ground in noise units.
    pub(super) fn new(excess: &[Raster<f32>; 3]) -> Edges {
        let mut finer = excess.clone();
        let mut means = vec![together(&finer)];
        for _ in 1..SIZES {
            if finer[0].width() < LEAST_SIDE || finer[0].height() < LEAST_SIDE {
                break;
            }
            finer = [0, 1, 2].map(|c| finer[c].block_means(2));
            means.push(together(&finer));
        }
        Edges { means }
    }

    /// What is seen at both edges, in the mean over `step_px` of the course.
    pub(super) fn across(&self, pose: &Pose, step_px: f64) -> Sides {
        let width = pose.width_px;
        let level = ((GRAIN * width).log2().floor().max(0.0) as usize).min(self.means.len() - 1);
        let apart = (APART * width).max(APART_PX);
        let normal = pose.along.normal();
        let places = ((step_px / f64::from(1u32 << level)).ceil() as usize).clamp(2, MOST_PLACES);
        let mut out = [[0.0; 3]; 2];
        for k in 0..places {
            let middle = pose.at + pose.along * (step_px * ((k as f64 + 0.5) / places as f64 - 0.5));
            for (side, sign) in [(0, 1.0), (1, -1.0)] {
                let inner = self.light(middle + normal * (sign * (0.5 * width - apart)), level);
                let outer = self.light(middle + normal * (sign * (0.5 * width + apart)), level);
                for c in 0..3 {
                    out[side][c] += (inner[c] - outer[c]) / places as f64;
                }
            }
        }
        out
    }

    /// Light at a place, a mean over 2^level pixels, between the nearest four by their distance.
    #[inline(always)]
    fn light(&self, p: Point, level: usize) -> Light {
        let unit = f64::from(1u32 << level);
        let plane = &self.means[level];
        let (last_x, last_y) = (plane.width() - 1, plane.height() - 1);
        let x = ((p.x + 0.5) / unit - 0.5).clamp(0.0, last_x as f64);
        let y = ((p.y + 0.5) / unit - 0.5).clamp(0.0, last_y as f64);
        let (left, top) = (x as usize, y as usize);
        let (u, v) = (x - left as f64, y - top as f64);
        let (right, below) = ((left + 1).min(last_x), (top + 1).min(last_y));
        let (a, b) = (plane.at(left, top), plane.at(right, top));
        let (d, e) = (plane.at(left, below), plane.at(right, below));
        // Asked millions of times; a closure for each channel would be called, not written out.
        let mut light = [0.0; 3];
        for c in 0..3 {
            let upper = f64::from(a[c]) * (1.0 - u) + f64::from(b[c]) * u;
            let lower = f64::from(d[c]) * (1.0 - u) + f64::from(e[c]) * u;
            light[c] = upper * (1.0 - v) + lower * v;
        }
        light
    }
}

/// Three planes as one: they are always asked together.
fn together(planes: &[Raster<f32>; 3]) -> Raster<[f32; 3]> {
    Raster::from_fn(planes[0].width(), planes[0].height(), |x, y| [0, 1, 2].map(|c| planes[c].at(x, y)))
}

/// The width at which edges are sharpest.
pub(super) struct Sharpest {
    pub(super) width_px: f64,
    /// The edges at that width, summed up.
    pub(super) edges: Sides,
    /// The same place by place.
    pub(super) seen: Vec<Sides>,
}

/// The width, of some about the mask's, at which the edges that `look` sees are worth most when summed up.
pub(super) fn sharpest(
    mask_width_px: f64,
    look: impl Fn(f64) -> Vec<Sides>,
    summed_up: impl Fn(&[Sides]) -> Sides,
    worth: impl Fn(&Sides) -> f64,
) -> Sharpest {
    let at = |factor: f64| {
        let width_px = (factor * mask_width_px).max(LEAST_WIDTH_PX);
        let seen = look(width_px);
        Sharpest { width_px, edges: summed_up(&seen), seen }
    };
    let mut best = at(WIDTHS[0]);
    for other in WIDTHS[1..].iter().map(|&factor| at(factor)) {
        if worth(&other.edges) > worth(&best.edges) {
            best = other;
        }
    }
    best
}

/// How like both edges are to what is expected, −1 to 1: 1 where brightness and colour change alike, near 0 where
/// nothing is seen or another shaft's edges lie, below 0 where they change the other way.
pub(super) fn likeness(seen: &Sides, expected: &Sides) -> f64 {
    0.5 * (one_like(&seen[0], &expected[0]) + one_like(&seen[1], &expected[1]))
}

/// The same of one edge. Against the larger of both, so that a brighter edge is no likeness either.
pub(super) fn one_like(seen: &Light, expected: &Light) -> f64 {
    let dot = |a: &Light, b: &Light| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let most = dot(seen, seen).max(dot(expected, expected));
    if most > 1e-12 { dot(seen, expected) / most } else { 0.0 }
}

/// The middle one of many, channel by channel.
pub(super) fn middle_of(seen: &[Sides]) -> Sides {
    [0, 1].map(|side| {
        [0, 1, 2].map(|c| {
            let mut values: Vec<f64> = seen.iter().map(|s| s[side][c]).collect();
            median(&mut values).unwrap_or(0.0)
        })
    })
}

/// How strong an edge is, noise units.
pub(super) fn strength(light: &Light) -> f64 {
    light.iter().map(|v| v * v).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::{Edges, Pose, likeness};
    use crate::maths::point::{Point, Vec2};
    use crate::maths::raster::Raster;

    #[test]
    fn edges_speak_for_their_own_shaft_also_where_another_lies_on_it() {
        // A level shaft, green, 20 wide about y = 50; one upright, blue and four times as bright, about x = 150.
        let light = |x: usize, y: usize| {
            let level = if y.abs_diff(50) <= 10 { 10.0 } else { 0.0 };
            let upright = if x.abs_diff(150) <= 15 { 40.0 } else { 0.0 };
            [0.0, level, upright]
        };
        let edges = Edges::new(&[0, 1, 2].map(|c| Raster::from_fn(300, 100, |x, y| light(x, y)[c])));
        let at = |x: f64, y: f64, angle: f64, width_px: f64| {
            edges.across(&Pose { at: Point::new(x, y), along: Vec2::from_angle(angle), width_px }, 6.0)
        };
        let own = at(60.0, 50.0, 0.0, 21.0);
        assert!(likeness(&at(150.0, 50.0, 0.0, 21.0), &own) > 0.95, "under the other");
        assert!(likeness(&at(150.0, 80.0, std::f64::consts::FRAC_PI_2, 31.0), &own).abs() < 0.1, "the other's own");
        assert!(likeness(&at(60.0, 57.0, 0.0, 21.0), &own) < 0.6, "aside");
        assert!(likeness(&at(60.0, 50.0, 0.0, 38.0), &own) < 0.3, "too wide");
        assert!(likeness(&at(60.0, 85.0, 0.0, 21.0), &own).abs() < 0.1, "open ground");
    }
}
