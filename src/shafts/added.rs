//! A shaft that a person clicked along: the line is drawn to the light between the clicks.
//!
//! Between two clicks the cheapest path over the reduced picture is taken (Dijkstra, "A note on two problems in
//! connexion with graphs", 1959), where a step is cheap when it lies on much light above the background, or on a
//! shadow as deep. What comes out is as good as a trace of the program's own and is measured like one.
//! Weakness: where a brighter shaft runs beside the meant one within the corridor, the path may change over to it;
//! more clicks hold it.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::centreline::smoothed;
use super::{EndAt, Shaft};
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;
use crate::maths::raster::Raster;
use crate::maths::stats;

/// Half the corridor around the straight line between two clicks, reduced pixels: clicks land this near. Wider lets
/// the path wander to other shafts, narrower does not reach a shaft that bends between clicks.
const CORRIDOR_PX: f64 = 18.0;

/// And this share of the distance between the clicks, for bends.
const CORRIDOR_SHARE: f64 = 0.15;

/// Price of a step over full light; without it a path could wind within a broad shaft at no cost.
const LEAST_PRICE: f32 = 0.04;

/// Share of the corridor's pixels that are darker than what counts as full light.
const FULL_LIGHT: f64 = 0.95;

/// Farthest from the centreline that an edge is sought, reduced pixels: no shaft is wider at that size.
const EDGE_REACH_PX: usize = 40;

/// Smoothing of the path, in widths, and its least and most, reduced pixels: as for traces the program found.
const SMOOTH_WIDTHS: f64 = 0.6;
const SMOOTH_PX: (f64, f64) = (2.0, 25.0);

/// Distance from the border at which a shaft leaves the photo, reduced pixels.
const BORDER_PX: f64 = 3.0;

/// The reduced picture a line is drawn on.
pub(super) struct Ground<'a> {
    /// Linear light, red, green, blue.
    pub planes: &'a [Raster<f32>; 3],
    /// Light of tape and lamp without shafts.
    pub background: &'a [Raster<f32>; 3],
    /// How many full-resolution pixels make one pixel of `planes`, along each axis.
    pub reduction: usize,
}

impl Ground<'_> {
    fn width(&self) -> usize {
        self.planes[0].width()
    }

    fn height(&self) -> usize {
        self.planes[0].height()
    }

    /// Light above (or shadow below) the background at a reduced pixel, all channels.
    fn light(&self, x: usize, y: usize) -> f32 {
        (0..3).map(|c| (self.planes[c].at(x, y) - self.background[c].at(x, y)).abs()).sum()
    }
}

/// The shaft along these clicks, full-resolution pixels; `None` when they lie outside the photo or in one place.
pub(super) fn shaft_along(clicks: &[Point], ground: &Ground) -> Option<Shaft> {
    let unit = ground.reduction as f64;
    let (width, height) = (ground.width(), ground.height());
    let reduced: Vec<Point> = clicks
        .iter()
        .map(|p| Point::new((p.x + 0.5) / unit - 0.5, (p.y + 0.5) / unit - 0.5))
        .map(|p| Point::new(p.x.clamp(0.0, (width - 1) as f64), p.y.clamp(0.0, (height - 1) as f64)))
        .collect();
    let mut points: Vec<Point> = Vec::new();
    for pair in reduced.windows(2) {
        points.extend(path(pair[0], pair[1], ground));
    }
    let rough = Polyline::new(points)?;
    let width_px = width_along(&rough, ground);
    let sigma = (SMOOTH_WIDTHS * width_px).clamp(SMOOTH_PX.0, SMOOTH_PX.1);
    let (line, _) = smoothed(&rough, sigma)?;
    let outside = |p: Point| {
        let near = p.x < BORDER_PX
            || p.y < BORDER_PX
            || p.x > width as f64 - 1.0 - BORDER_PX
            || p.y > height as f64 - 1.0 - BORDER_PX;
        if near { EndAt::Outside } else { EndAt::Free }
    };
    let ends = [outside(line.first()), outside(line.last())];
    let full = |p: &Point| Point::new((p.x + 0.5) * unit - 0.5, (p.y + 0.5) * unit - 0.5);
    let centreline = Polyline::new(line.points().iter().map(full))?;
    Some(Shaft { centreline, width_px: width_px * unit, overlaps: Vec::new(), ends, concerns: Vec::new() })
}

/// The cheapest path between two places, both included.
fn path(from: Point, to: Point, ground: &Ground) -> Vec<Point> {
    let reach = CORRIDOR_PX.max(CORRIDOR_SHARE * from.distance(to));
    let corner = |low: f64, n: usize| (low.floor().max(0.0) as usize).min(n - 1);
    let (columns, rows) = (ground.width(), ground.height());
    let (left, right) = (corner(from.x.min(to.x) - reach, columns), corner(from.x.max(to.x) + reach, columns));
    let (top, bottom) = (corner(from.y.min(to.y) - reach, rows), corner(from.y.max(to.y) + reach, rows));
    let (width, height) = (right - left + 1, bottom - top + 1);
    let Some(straight) = Polyline::new([from, to]) else { return vec![from] };
    let within =
        |x: usize, y: usize| straight.nearest(Point::new((x + left) as f64, (y + top) as f64)).distance <= reach;
    let lights: Vec<f32> = (0..width * height).map(|i| ground.light(i % width + left, i / width + top)).collect();
    let mut sorted: Vec<f64> =
        (0..width * height).filter(|i| within(i % width, i / width)).map(|i| f64::from(lights[i])).collect();
    let full = stats::quantile(&mut sorted, FULL_LIGHT).unwrap_or(1.0).max(1e-6) as f32;
    let price = |i: usize| LEAST_PRICE + (1.0 - (lights[i] / full).min(1.0)).powi(2);
    let at = |p: Point| {
        (p.y.round() as usize).clamp(top, bottom) * width - top * width + (p.x.round() as usize).clamp(left, right)
            - left
    };
    let (start, goal) = (at(from), at(to));
    let mut best = vec![f32::INFINITY; width * height];
    let mut before = vec![usize::MAX; width * height];
    let mut open = BinaryHeap::new();
    best[start] = 0.0;
    open.push(Reverse((Cost(0.0), start)));
    while let Some(Reverse((Cost(cost), i))) = open.pop() {
        if i == goal {
            break;
        }
        if cost > best[i] {
            continue;
        }
        let (x, y) = (i % width, i / width);
        for (nx, ny) in around(x, y, width, height) {
            let n = ny * width + nx;
            if !within(nx, ny) {
                continue;
            }
            let length = if nx != x && ny != y { std::f32::consts::SQRT_2 } else { 1.0 };
            let next = cost + length * 0.5 * (price(i) + price(n));
            if next < best[n] {
                best[n] = next;
                before[n] = i;
                open.push(Reverse((Cost(next), n)));
            }
        }
    }
    let mut points = Vec::new();
    let mut i = goal;
    while i != usize::MAX {
        points.push(Point::new((i % width + left) as f64, (i / width + top) as f64));
        i = if i == start { usize::MAX } else { before[i] };
    }
    points.reverse();
    points
}

fn around(x: usize, y: usize, width: usize, height: usize) -> impl Iterator<Item = (usize, usize)> {
    let columns = x.saturating_sub(1)..=(x + 1).min(width - 1);
    columns
        .flat_map(move |nx| (y.saturating_sub(1)..=(y + 1).min(height - 1)).map(move |ny| (nx, ny)))
        .filter(move |&place| place != (x, y))
}

/// Median width at half height along a line, reduced pixels, at least 1.
fn width_along(line: &Polyline, ground: &Ground) -> f64 {
    let (columns, rows) = (ground.width() as f64, ground.height() as f64);
    let value = |p: Point| {
        let inside = p.x >= 0.0 && p.y >= 0.0 && p.x <= columns - 1.0 && p.y <= rows - 1.0;
        inside.then(|| ground.light(p.x.round() as usize, p.y.round() as usize))
    };
    let n = (line.length() / 4.0).clamp(4.0, 200.0) as usize;
    let mut widths: Vec<f64> = Vec::new();
    for k in 1..n {
        let s = line.length() * k as f64 / n as f64;
        let (middle, normal) = (line.at(s), line.tangent(s, 6.0).normal());
        let Some(height) = value(middle).filter(|height| *height > 0.0) else { continue };
        let side = |sign: f64| {
            (1..=EDGE_REACH_PX).find(|&d| value(middle + normal * (sign * d as f64)).is_none_or(|v| v < height / 2.0))
        };
        if let (Some(left), Some(right)) = (side(-1.0), side(1.0)) {
            widths.push((left + right) as f64 - 1.0);
        }
    }
    stats::median(&mut widths).unwrap_or(1.0).max(1.0)
}

/// A cost that can be put in order; none is ever not a number.
#[derive(Clone, Copy, PartialEq)]
struct Cost(f32);

impl Eq for Cost {}

impl PartialOrd for Cost {
    fn partial_cmp(&self, other: &Cost) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Cost {
    fn cmp(&self, other: &Cost) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}
