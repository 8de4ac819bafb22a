//! The best of what several masks show of the same shafts.
//!
//! Each mask gives traces of its own; where they differ, at knots and where something dim lies beside something bright,
//! one of them is right more often than any one mask is. A trace is weighed by what the picture shows along it: at each
//! place the light must rise, in the trace's own colour, across both of its edges, the lesser of the two rises counts,
//! and a place that shows less than a share of the trace's usual rise counts against it, so that a way that leaves its
//! shaft weighs less than one that ends there. The dearest joint on the way is taken off. Then the weightiest trace is
//! taken, what the others share with it is taken off them, and so on.
//! Weakness: a shaft that glows on one side only has next to no weight.

use super::centreline::Trace;
use super::stitches::Piece;
use crate::maths::point::Point;
use crate::maths::raster::Raster;
use crate::maths::stats::median;

/// Places along a trace at which it is weighed, pixels apart.
const STEP_PX: f64 = 2.0;
/// Share of the usual rise at the edges from which a place speaks for a trace; and the share beyond which more says
/// nothing more, since a shaft that lies across adds or takes any amount.
const LEAST_RISE: f64 = 0.1;
/// See [`LEAST_RISE`].
const ENOUGH_RISE: f64 = 0.6;
/// Weight of the dearest joint, widths a unit of surprise.
const JOINT_WIDTHS: f64 = 0.5;
/// Where light is looked at inside an edge and outside of it, widths from the middle.
const INNER: [f64; 2] = [0.12, 0.38];
/// See [`INNER`]; pixels besides.
const OUTER: [f64; 2] = [0.62, 0.9];
/// See [`OUTER`].
const OUTER_PX: f64 = 1.5;
/// Places over which rises are averaged, share of the width and pixels at least.
const WINDOW_WIDTHS: f64 = 0.5;
/// See [`WINDOW_WIDTHS`].
const WINDOW_PX: f64 = 6.0;
/// Share of a trace that may lie on a weightier one, as where two cross; more is taken off.
const SHARED: f64 = 0.25;
/// How near two traces lie that are one, widths of the wider.
const SAME_WIDTHS: f64 = 0.5;
/// What is left of a trace is kept from so many widths and pixels on.
const LEAST_LEFT: [f64; 2] = [3.2, 14.0];
/// And as a share of what it was.
const LEAST_LEFT_SHARE: f64 = 0.2;

/// The weightiest of `candidates`, each with the mask that shows it, none twice.
pub(super) fn chosen(candidates: Vec<(usize, Piece)>, excess: &[Raster<f32>; 3]) -> Vec<(usize, Piece)> {
    let mut left: Vec<(f64, usize, Piece)> =
        candidates.into_iter().map(|(mask, piece)| (weight(&piece.trace, excess), mask, piece)).collect();
    let mut out: Vec<(usize, Piece)> = Vec::new();
    loop {
        let heaviest = left.iter().enumerate().max_by(|a, b| a.1.0.total_cmp(&b.1.0).then(b.0.cmp(&a.0)));
        let Some(heaviest) = heaviest.map(|(i, _)| i) else { return out };
        let (_, mask, piece) = left.swap_remove(heaviest);
        match free_part(&piece, &out) {
            Free::Whole => out.push((mask, piece)),
            Free::Part(part) => left.push((weight(&part.trace, excess), mask, part)),
            Free::Nothing => (),
        }
    }
}

/// What of a piece lies on nothing that was chosen.
enum Free {
    Whole,
    Part(Piece),
    Nothing,
}

fn free_part(piece: &Piece, chosen: &[(usize, Piece)]) -> Free {
    let trace = &piece.trace;
    let length = trace.line.length();
    let n = (length / STEP_PX).ceil().max(1.0) as usize;
    let at = |i: usize| length * i as f64 / n as f64;
    let near: Vec<(&Trace, f64, [Point; 2])> = chosen
        .iter()
        .map(|(_, other)| {
            let reach = SAME_WIDTHS * other.trace.width_px.max(trace.width_px);
            (&other.trace, reach, other.trace.line.bounds())
        })
        .collect();
    let is_taken = |p: Point| {
        near.iter().any(|(other, reach, [low, high])| {
            (low.x - reach..=high.x + reach).contains(&p.x)
                && (low.y - reach..=high.y + reach).contains(&p.y)
                && other.line.nearest(p).distance < *reach
        })
    };
    let taken: Vec<bool> = (0..=n).map(|i| is_taken(trace.line.at(at(i)))).collect();
    let share = taken.iter().filter(|&&taken| taken).count() as f64 / taken.len() as f64;
    if share <= SHARED {
        return Free::Whole;
    }
    let mut longest = (0, 0);
    let mut from = 0;
    for run in taken.chunk_by(|a, b| a == b) {
        if !run[0] && run.len() > longest.1 - longest.0 {
            longest = (from, from + run.len());
        }
        from += run.len();
    }
    let (first, last) = (at(longest.0), at(longest.1.saturating_sub(1)));
    let least = (LEAST_LEFT[0] * trace.width_px).max(LEAST_LEFT[1]).max(LEAST_LEFT_SHARE * length);
    if last - first < least {
        return Free::Nothing;
    }
    let Some(line) = trace.line.part(first, last) else { return Free::Nothing };
    let kept = line.length();
    let overlaps = trace.overlaps.iter().map(|o| ((o.0 - first).max(0.0), (o.1 - first).min(kept)));
    let overlaps = overlaps.filter(|o| o.1 > o.0).collect();
    let at_knot = [piece.at_knot[0] || longest.0 > 0, piece.at_knot[1] || longest.1 <= n];
    Free::Part(Piece { trace: Trace { line, overlaps, ..trace.clone() }, at_knot, closed: false })
}

/// How much speaks for a trace, pixels of its length.
fn weight(trace: &Trace, excess: &[Raster<f32>; 3]) -> f64 {
    let length = trace.line.length();
    let n = (length / STEP_PX).ceil().max(1.0) as usize;
    let places: Vec<f64> = (0..=n).map(|i| length * i as f64 / n as f64).collect();
    let width = trace.width_px;
    let rises: Vec<[[f64; 3]; 2]> = places
        .iter()
        .map(|&s| {
            let (p, across) = (trace.line.at(s), trace.line.tangent(s, width.max(3.0)).normal());
            let light = |offset: f64| {
                let q = p + across * offset;
                [0, 1, 2].map(|c| f64::from(excess[c].bilinear(q.x, q.y)))
            };
            let band = |[from, to]: [f64; 2], beyond: f64, side: f64| {
                let mut sum = [0.0; 3];
                for k in 0..3 {
                    let at = (from + (to - from) * f64::from(k) / 2.0) * width + beyond;
                    let here = light(side * at);
                    (0..3).for_each(|c| sum[c] += here[c] / 3.0);
                }
                sum
            };
            [-1.0, 1.0].map(|side| {
                let (inner, outer) = (band(INNER, 0.0, side), band(OUTER, OUTER_PX, side));
                [0, 1, 2].map(|c| inner[c] - outer[c])
            })
        })
        .collect();
    let usual = [0, 1, 2].map(|c| {
        let mut values: Vec<f64> = rises.iter().flatten().map(|rise| rise[c]).collect();
        median(&mut values).unwrap_or(0.0)
    });
    let size = usual.iter().map(|v| v * v).sum::<f64>();
    if size <= 1e-12 {
        return 0.0;
    }
    let own: Vec<[f64; 2]> =
        rises.iter().map(|sides| sides.map(|rise| (0..3).map(|c| rise[c] * usual[c]).sum::<f64>() / size)).collect();
    let reach = ((WINDOW_WIDTHS * width).max(WINDOW_PX) / STEP_PX) as usize;
    let sum: f64 = (0..own.len())
        .map(|i| {
            let window = &own[i.saturating_sub(reach)..(i + reach + 1).min(own.len())];
            let mean = |side: usize| window.iter().map(|rise| rise[side]).sum::<f64>() / window.len() as f64;
            mean(0).min(mean(1)).clamp(0.0, ENOUGH_RISE) - LEAST_RISE
        })
        .sum();
    sum * length / own.len() as f64 - JOINT_WIDTHS * width * trace.doubt
}

#[cfg(test)]
mod tests {
    use super::chosen;
    use crate::maths::point::Point;
    use crate::maths::polyline::Polyline;
    use crate::maths::raster::Raster;
    use crate::shafts::centreline::Trace;
    use crate::shafts::stitches::Piece;

    fn piece(places: &[(f64, f64)]) -> Piece {
        let corners = Polyline::new(places.iter().map(|&(x, y)| Point::new(x, y))).expect("a line");
        let trace = Trace { line: corners.resampled(1.0), width_px: 10.0, overlaps: Vec::new(), doubt: 0.0 };
        Piece { trace, at_knot: [false; 2], closed: false }
    }

    /// A level green shaft at a height of 100 and an upright blue one at x = 150, each 10 pixels wide.
    fn cross() -> [Raster<f32>; 3] {
        [0.0, 1.0, 2.0].map(|channel| {
            Raster::from_fn(300, 200, |x, y| {
                let (level, upright) = ((y as f64 - 100.0).abs() <= 5.0, (x as f64 - 150.0).abs() <= 5.0);
                let green = if level && channel == 1.0 { 20.0 } else { 0.0 };
                green + if upright && channel == 2.0 { 20.0 } else { 0.0 }
            })
        })
    }

    #[test]
    fn lines_that_keep_to_their_shaft_are_taken_before_those_that_leave_it() {
        let leaves = piece(&[(20.0, 100.0), (145.0, 100.0), (190.0, 190.0)]);
        let stays = piece(&[(20.0, 100.0), (280.0, 100.0)]);
        let upright = piece(&[(150.0, 10.0), (150.0, 190.0)]);
        let found = chosen(vec![(0, leaves), (1, stays), (2, upright)], &cross());
        assert_eq!(found.iter().map(|(mask, _)| *mask).collect::<Vec<_>>(), [1, 2], "and the crossing parts none");
        assert!((found[0].1.trace.line.length() - 260.0).abs() < 1.0);
    }

    #[test]
    fn what_is_left_of_a_trace_beside_a_weightier_one_is_kept() {
        let first = piece(&[(20.0, 100.0), (200.0, 100.0)]);
        let second = piece(&[(120.0, 101.0), (280.0, 101.0)]);
        let found = chosen(vec![(0, first), (1, second)], &cross());
        assert_eq!(found.len(), 2);
        let rest = &found[1].1;
        assert!((rest.trace.line.length() - 78.0).abs() < 8.0, "{}", rest.trace.line.length());
        assert_eq!(rest.at_knot, [true, false], "where it was cut something else goes on");
        let short = piece(&[(20.0, 101.0), (215.0, 101.0)]);
        let found = chosen(vec![(0, piece(&[(20.0, 100.0), (200.0, 100.0)])), (1, short)], &cross());
        assert_eq!(found.len(), 1, "the longer is taken, and nothing is left of the other");
    }
}
