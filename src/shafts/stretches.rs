//! Stretches of strands along which a shaft lies alone: there its width, its edges and its direction are sure.

use super::centreline::smoothed;
use super::edges::{Edges, Pose, Sharpest, Sides, likeness, sharpest, strength};
use super::strands::{Strands, Tip};
use super::walks::step_px;
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;
use crate::maths::raster::Raster;
use crate::maths::stats::median;

/// Half widths of a junction within which a strand is bent by the meeting.
const BENT_HALF_WIDTHS: f64 = 1.3;
/// Shortest stretch that tells a shaft's edges, widths and pixels.
const LEAST_WIDTHS: f64 = 1.2;
/// See [`LEAST_WIDTHS`].
const LEAST_PX: f64 = 8.0;
/// An edge counts for at most so many times the other: where one shaft lies against another, one edge is none.
const ONE_SIDED: f64 = 2.0;
/// How like the edges must be to their own mean along the stretch.
const LEAST_TYPICAL: f64 = 0.35;
/// Most places looked at.
const MOST_PLACES: usize = 60;

/// A stretch where a shaft lies alone.
#[derive(Clone, Debug)]
pub(super) struct Stretch {
    /// Its middle line, reduced pixels.
    pub(super) line: Polyline,
    /// Width of the mask along it, reduced pixels.
    pub(super) mask_width_px: f64,
    /// Distance of the edges.
    pub(super) width_px: f64,
    /// The edges in the mean.
    pub(super) edges: Sides,
    /// How like the edges are to that mean, median, up to 1.
    pub(super) typical: f64,
    /// Whether another strand begins at its first, at its last end.
    pub(super) at_knot: [bool; 2],
}

/// The stretch of strand `i`; `None` where none is long and even enough.
pub(super) fn stretch(found: &Strands, i: usize, depth: &Raster<f32>, edges: &Edges) -> Option<Stretch> {
    let strand = &found.strands[i];
    let point = |k: usize| Point::new(strand.path[k].0 as f64, strand.path[k].1 as f64);
    let (from, to) = unbent(found, i, depth)?;
    let mut widths: Vec<f64> =
        strand.path[from..to].iter().map(|&(x, y)| 2.0 * f64::from(depth.at(x, y)) - 1.0).collect();
    let mask_width_px = median(&mut widths)?.max(1.0);
    let rough = Polyline::new((from..to).map(point))?;
    if rough.length() < (LEAST_WIDTHS * mask_width_px).max(LEAST_PX) {
        return None;
    }
    let (line, _) = smoothed(&rough, super::centreline::sigma(mask_width_px))?;
    let step = step_px(mask_width_px);
    let n = ((line.length() / step) as usize).clamp(3, MOST_PLACES);
    let look = |width_px: f64| -> Vec<Sides> {
        let pose = |k: usize| {
            let s = line.length() * (k as f64 + 0.5) / n as f64;
            Pose { at: line.at(s), along: line.tangent(s, mask_width_px.max(6.0)), width_px }
        };
        (0..n).map(|k| edges.across(&pose(k), step)).collect()
    };
    let both = |mean: &Sides| {
        let [left, right] = [strength(&mean[0]), strength(&mean[1])];
        left.min(ONE_SIDED * right) + right.min(ONE_SIDED * left)
    };
    let Sharpest { width_px, edges: mean, seen } = sharpest(mask_width_px, look, mean_of, both);
    let typical = median(&mut seen.iter().map(|seen| likeness(seen, &mean)).collect::<Vec<_>>())?;
    let at_knot = strand.tips.map(|tip| matches!(tip, Tip::Junction(_)));
    (typical > LEAST_TYPICAL).then_some(Stretch {
        line,
        mask_width_px,
        width_px,
        edges: mean,
        typical: typical.min(1.0),
        at_knot,
    })
}

/// The part of a strand, from and to, that neither a junction nor the corner of a blunt end bends.
fn unbent(found: &Strands, i: usize, depth: &Raster<f32>) -> Option<(usize, usize)> {
    let strand = &found.strands[i];
    let path = &strand.path;
    let n = path.len();
    if strand.closed {
        return (n > 6).then_some((0, n));
    }
    let off = |end: usize| match strand.tips[end] {
        Tip::Junction(j) => {
            let junction = found.junctions[j];
            let reach = BENT_HALF_WIDTHS * junction.half_width_px + 1.0;
            let far = |k: usize| {
                let (x, y) = if end == 0 { path[k] } else { path[n - 1 - k] };
                (x as f64 - junction.x).hypot(y as f64 - junction.y) >= reach
            };
            (0..n).find(|&k| far(k))
        }
        Tip::Free => Some(super::arms::hook(path, end, depth)),
    };
    let (from, cut) = (off(0)?, off(1)?);
    (from + cut + 6 < n).then(|| (from, n - cut))
}

fn mean_of(seen: &[Sides]) -> Sides {
    let n = seen.len().max(1) as f64;
    [0, 1].map(|side| [0, 1, 2].map(|c| seen.iter().map(|s| s[side][c]).sum::<f64>() / n))
}
