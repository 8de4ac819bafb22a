//! An arm: one end of a strand, as it would go on. Where it points, how wide it is, what colour it has.

use super::strands::Strand;
use crate::maths::point::{Point, Vec2};
use crate::maths::raster::Raster;

/// Length over which direction and width are taken, in widths of the arm.
const LOOK_WIDTHS: f64 = 3.0;
/// The same in pixels, least and most: less is at the mercy of the pixel grid, more of the shaft's own bend.
const LOOK_PX: (f64, f64) = (9.0, 60.0);

/// One end of a strand.
#[derive(Clone, Copy, Debug)]
pub(super) struct Arm {
    /// Which strand.
    pub(super) strand: usize,
    /// Which end of it: 0 first, 1 last.
    pub(super) end: usize,
    /// Pixels of the strand from that end that are left out, since the meeting bends them.
    pub(super) skip: usize,
    /// Where it stops, reduced pixels.
    pub(super) at: Point,
    /// Unit vector on which it would go on.
    pub(super) towards: Vec2,
    /// Standard error of that direction, radians.
    pub(super) direction_sd: f64,
    /// Bend per pixel when going on, radians; above 0 turns clockwise on screen.
    pub(super) bend: f64,
    /// Width, reduced pixels.
    pub(super) width_px: f64,
    /// Light above the ground in noise units, a channel.
    pub(super) colour: [f64; 3],
}

/// A free end is cut back to where the line lies this share as deep as farther in.
const CUT_DEPTH: f32 = 0.85;

/// Pixels of a strand to leave out at a free end: a thinned line runs into a corner of a blunt end over its last
/// half width, where it comes nearer and nearer to the outline.
pub(super) fn hook(path: &[(usize, usize)], end: usize, depth: &Raster<f32>) -> usize {
    let n = path.len();
    let pixel = |i: usize| if end == 0 { path[i] } else { path[n - 1 - i] };
    let at = |i: usize| depth.at(pixel(i).0, pixel(i).1);
    let mut near: Vec<f64> = (0..n.min(200)).map(|i| f64::from(at(i))).collect();
    let half_width = crate::maths::stats::median(&mut near).unwrap_or(1.0);
    let inward_px = (half_width as usize).max(2);
    // Only as far as a corner reaches; a taper goes on for longer and is kept.
    let farthest = ((1.8 * half_width + 2.0) as usize).min(n);
    let cut = (0..farthest).rev().find(|&i| at(i) < CUT_DEPTH * at((i + inward_px).min(n - 1))).map_or(0, |i| i + 1);
    if cut + 6 < n { cut } else { 0 }
}

/// The arm at `end` of a strand, leaving out what lies within `skip_px` of the end.
pub(super) fn arm(
    strands: &[Strand],
    strand: usize,
    end: usize,
    skip_px: f64,
    depth: &Raster<f32>,
    excess: &[Raster<f32>; 3],
) -> Arm {
    let path = &strands[strand].path;
    let n = path.len();
    // Counted from the end inwards.
    let pixel = |i: usize| if end == 0 { path[i] } else { path[n - 1 - i] };
    let point = |i: usize| Point::new(pixel(i).0 as f64, pixel(i).1 as f64);
    let origin = point(0);
    let mut skip = (0..n).find(|&i| point(i).distance(origin) >= skip_px).unwrap_or(n);
    // Something must be left to look at.
    skip = skip.min(n.saturating_sub(LOOK_PX.0 as usize)).min(n - 1);
    let width_at = |i: usize| 2.0 * f64::from(depth.at(pixel(i).0, pixel(i).1)) - 1.0;
    let rough = width_at((skip + 4).min(n - 1)).max(1.0);
    let look_px = (LOOK_WIDTHS * rough).clamp(LOOK_PX.0, LOOK_PX.1);
    let stop = (skip..n).find(|&i| point(i).distance(point(skip)) >= look_px).unwrap_or(n - 1).max(skip);
    let mut widths: Vec<f64> = (skip..=stop).map(width_at).collect();
    let width_px = crate::maths::stats::median(&mut widths).unwrap_or(1.0).max(1.0);
    let mut colour = [0.0; 3];
    for (c, value) in colour.iter_mut().enumerate() {
        let mut values: Vec<f64> = (skip..=stop).map(|i| f64::from(excess[c].at(pixel(i).0, pixel(i).1))).collect();
        *value = crate::maths::stats::median(&mut values).unwrap_or(0.0);
    }
    let places: Vec<Point> = (skip..=stop).map(point).collect();
    let (at, towards, bend, direction_sd) = going_on(&places);
    Arm { strand, end, skip, at, towards, direction_sd, bend, width_px, colour }
}

/// Place, direction and bend at the first of `places` when going on away from the others: a parabola in arc length
/// where there are enough of them, else a straight line.
fn going_on(places: &[Point]) -> (Point, Vec2, f64, f64) {
    let n = places.len();
    if n < 3 {
        let towards = if n == 2 { (places[0] - places[1]).unit() } else { Vec2::default() };
        return (places[0], towards, 0.0, if n == 2 { 0.8 } else { 3.0 });
    }
    let mut arc = vec![0.0; n];
    for i in 1..n {
        arc[i] = arc[i - 1] + places[i].distance(places[i - 1]);
    }
    let length = arc[n - 1].max(1e-9);
    let straight = fit(&arc, places, 2);
    let curved = if n >= 12 { fit(&arc, places, 3) } else { straight };
    let line = |f: [[f64; 3]; 2]| Vec2::new(-f[0][1], -f[1][1]);
    // The parabola's slope at its very end is unsteady: half of it.
    let towards = ((line(straight).unit()) + (line(curved).unit())).unit();
    let second = Vec2::new(2.0 * curved[0][2], 2.0 * curved[1][2]);
    // Going on turns the way the strand has been turning: derivative of direction along −arc.
    let bend = towards.cross(second).clamp(-0.05, 0.05);
    let at = Point::new(0.5 * (straight[0][0] + curved[0][0]), 0.5 * (straight[1][0] + curved[1][0]));
    // A pixel grid leaves about 0.4 px of scatter, part of it shared by neighbours.
    let direction_sd = (0.06f64.powi(2) + (3.0 / length).powi(2)).sqrt();
    (at, towards, bend, direction_sd)
}

/// Least-squares polynomial of x and y in arc length, `terms` coefficients of each.
fn fit(arc: &[f64], places: &[Point], terms: usize) -> [[f64; 3]; 2] {
    let mut normal = nalgebra::Matrix3::<f64>::zeros();
    let mut right = [nalgebra::Vector3::<f64>::zeros(); 2];
    for (&s, p) in arc.iter().zip(places) {
        let row = nalgebra::Vector3::new(1.0, s, if terms == 3 { s * s } else { 0.0 });
        normal += row * row.transpose();
        right[0] += row * p.x;
        right[1] += row * p.y;
    }
    if terms < 3 {
        normal[(2, 2)] = 1.0;
    }
    let solve = |r| normal.lu().solve(&r).map_or([0.0; 3], |s: nalgebra::Vector3<f64>| [s[0], s[1], s[2]]);
    [solve(right[0]), solve(right[1])]
}
