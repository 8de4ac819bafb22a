//! A chain of strands to one smooth centreline with its overlaps and ends.

use super::arms::Arm;
use super::crossings::Chain;
use super::strands::Strands;
use crate::maths::point::{Point, Vec2};
use crate::maths::polyline::Polyline;
use crate::maths::raster::Raster;

/// Smoothing along the line, in widths: takes away the pixel grid and the thinning's wobble, keeps the bend.
const SMOOTH_WIDTHS: f64 = 0.6;
/// Least and most smoothing, pixels.
const SMOOTH_PX: (f64, f64) = (2.0, 25.0);

/// A traced line in reduced pixels.
#[derive(Clone, Debug)]
pub(super) struct Trace {
    pub(super) line: Polyline,
    /// Median width, reduced pixels.
    pub(super) width_px: f64,
    /// Arc lengths (from, to) where another shaft lies on it or against it.
    pub(super) overlaps: Vec<(f64, f64)>,
    /// Dearest joint on the way, see `links::cost`.
    pub(super) doubt: f64,
}

/// The line of a chain; `None` when it has no length.
pub(super) fn trace(chain: &Chain, found: &Strands, depth: &Raster<f32>) -> Option<Trace> {
    let mut points: Vec<Point> = Vec::new();
    // Index ranges of `points` that a joint made.
    let mut bridged: Vec<(usize, usize, bool)> = Vec::new();
    let mut widths = Vec::new();
    for (k, &(strand, backwards)) in chain.links.iter().enumerate() {
        let path = &found.strands[strand].path;
        let skip_in = if k == 0 { chain.open[0].skip.min(path.len() / 2) } else { chain.joints[k - 1].entering.skip };
        let skip_out = if k + 1 == chain.links.len() {
            chain.open[1].skip.min(path.len() / 2)
        } else {
            chain.joints[k].leaving.skip
        };
        let kept = skip_in..(path.len() - skip_out.min(path.len())).max(skip_in + 1).min(path.len());
        if k > 0 {
            let joint = &chain.joints[k - 1];
            let from = points.len();
            points.extend(bridge(&joint.leaving, &joint.entering));
            bridged.push((from.saturating_sub(1), points.len(), joint.overlap));
        }
        for i in kept {
            let p = if backwards { path[path.len() - 1 - i] } else { path[i] };
            points.push(Point::new(p.0 as f64, p.1 as f64));
            widths.push(2.0 * f64::from(depth.at(p.0, p.1)) - 1.0);
        }
    }
    let width_px = crate::maths::stats::median(&mut widths)?.max(1.0);
    let rough = Polyline::new(points.iter().copied())?;
    // Arc length of each point before repeated ones were dropped.
    let arc_at = |i: usize| {
        let p = points[i.min(points.len() - 1)];
        rough.nearest(p).s
    };
    let overlaps: Vec<(f64, f64)> =
        bridged.iter().filter(|b| b.2).map(|b| (arc_at(b.0), arc_at(b.1))).filter(|o| o.1 > o.0).collect();
    let (line, stretch) = smoothed(&rough, sigma(width_px))?;
    Some(Trace {
        width_px,
        overlaps: overlaps.into_iter().map(|(a, b)| (a * stretch, b * stretch)).collect(),
        doubt: chain.joints.iter().map(|j| j.cost).fold(0.0, f64::max),
        line,
    })
}

/// Smoothing along the line of a shaft of this width, pixels.
pub(super) fn sigma(width_px: f64) -> f64 {
    (SMOOTH_WIDTHS * width_px).clamp(SMOOTH_PX.0, SMOOTH_PX.1)
}

/// Points on a cubic that leaves one arm and enters the other in their directions, ends left out.
pub(super) fn bridge(leaving: &Arm, entering: &Arm) -> Vec<Point> {
    let (from, to) = (leaving.at, entering.at);
    let distance = from.distance(to);
    let n = distance.round() as usize;
    let (start, end) = (leaving.towards * distance, -entering.towards * distance);
    (1..n)
        .map(|k| {
            let t = k as f64 / n as f64;
            let (t2, t3) = (t * t, t * t * t);
            let origin = Point::new(0.0, 0.0);
            origin
                + (from - origin) * (2.0 * t3 - 3.0 * t2 + 1.0)
                + start * (t3 - 2.0 * t2 + t)
                + (to - origin) * (-2.0 * t3 + 3.0 * t2)
                + end * (t3 - t2)
        })
        .collect()
}

/// Gaussian mean along the line at steps of one pixel; near an end the window shrinks to both sides alike, so that
/// ends stay. Also returns new length divided by old.
pub(super) fn smoothed(line: &Polyline, sigma: f64) -> Option<(Polyline, f64)> {
    let even = line.resampled(1.0);
    let points = even.points();
    let n = points.len();
    let reach = (2.5 * sigma).ceil() as usize;
    let weights: Vec<f64> = (0..=reach).map(|d| (-0.5 * (d as f64 / sigma).powi(2)).exp()).collect();
    let smooth = Polyline::new((0..n).map(|i| {
        let window = reach.min(i).min(n - 1 - i);
        let mut sum = Vec2::default();
        let mut total = 0.0;
        for d in 0..=window {
            let both = if d == 0 { vec![points[i]] } else { vec![points[i - d], points[i + d]] };
            for p in both {
                sum = sum + (p - points[i]) * weights[d];
                total += weights[d];
            }
        }
        points[i] + sum * (1.0 / total)
    }))?;
    let stretch = smooth.length() / line.length();
    Some((smooth, stretch))
}
