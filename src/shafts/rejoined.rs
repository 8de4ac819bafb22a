//! Pieces of different masks that are one shaft, joined.
//!
//! What was chosen from several masks ends where the mask that showed it best did. Ends that face each other across a
//! gap, or across a shaft that lies between, are joined by the same rules as the ends within one mask.

use super::arms::{Arm, arm_of_line};
use super::centreline::{Trace, bridge};
use super::crossings::{Bridge, bridges};
use super::links::END_COST;
use super::stitches::{Piece, turned};
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;
use crate::maths::raster::Raster;

/// Shortest piece that is joined, widths and pixels: shorter ones tell no direction.
const LEAST: [f64; 2] = [2.0, 12.0];

/// How an end of a piece goes on.
#[derive(Clone, Copy, Debug)]
struct Joint {
    /// The end itself.
    own: Arm,
    /// The end that it goes on in.
    other: Arm,
    /// Surprise, see `links::cost`.
    cost: f64,
}

/// Of each piece how its first and its last end go on.
type Joints = Vec<[Option<Joint>; 2]>;

/// The pieces, those of one shaft joined; each with the mask that shows its longest part.
pub(super) fn rejoined(
    pieces: Vec<(usize, Piece)>,
    excess: &[Raster<f32>; 3],
    mask: &Raster<bool>,
) -> Vec<(usize, Piece)> {
    let is_long = |trace: &Trace| trace.line.length() >= (LEAST[0] * trace.width_px).max(LEAST[1]);
    let open: Vec<Arm> = (0..pieces.len())
        .filter(|&i| !pieces[i].1.closed && is_long(&pieces[i].1.trace))
        .flat_map(|i| [0, 1].map(|end| (i, end)))
        .map(|(i, end)| {
            let trace = &pieces[i].1.trace;
            arm_of_line(&trace.line, i, end, trace.width_px, excess)
        })
        .collect();
    let mut joints: Joints = vec![[None; 2]; pieces.len()];
    // Pieces joined so far bear the number of one of them, so that no chain closes on itself.
    let mut chain: Vec<usize> = (0..pieces.len()).collect();
    for Bridge { ends, cost, .. } in bridges(&open, excess, mask) {
        let [a, b] = ends.map(|i| open[i]);
        let free = |arm: Arm| joints[arm.strand][arm.end].is_none();
        if cost < END_COST && free(a) && free(b) && chain[a.strand] != chain[b.strand] {
            joints[a.strand][a.end] = Some(Joint { own: a, other: b, cost });
            joints[b.strand][b.end] = Some(Joint { own: b, other: a, cost });
            let (from, to) = (chain[a.strand], chain[b.strand]);
            chain.iter_mut().filter(|number| **number == from).for_each(|number| *number = to);
        }
    }
    let mut out = Vec::new();
    for start in 0..pieces.len() {
        // From an end that goes on in nothing; of the two ends of a chain the one of the earlier piece.
        let Some(first) = [0, 1].into_iter().find(|&end| joints[start][end].is_none()) else { continue };
        let walk = walk(start, first, &joints);
        if walk.last().is_some_and(|&(last, _)| last < start) {
            continue;
        }
        let longest = walk
            .iter()
            .map(|&(i, _)| i)
            .max_by(|&a, &b| pieces[a].1.trace.line.length().total_cmp(&pieces[b].1.trace.line.length()));
        let mask_of = longest.map_or(0, |i| pieces[i].0);
        let whole = if walk.len() == 1 { None } else { joined(&walk, &pieces, &joints) };
        out.push((mask_of, whole.unwrap_or_else(|| pieces[start].1.clone())));
    }
    out
}

/// The pieces of a chain from one end, each with the end at which it is entered.
fn walk(start: usize, first: usize, joints: &Joints) -> Vec<(usize, usize)> {
    let mut walk = vec![(start, first)];
    let (mut here, mut leave) = (start, 1 - first);
    while let Some(Joint { other, .. }) = joints[here][leave] {
        walk.push((other.strand, other.end));
        (here, leave) = (other.strand, 1 - other.end);
    }
    walk
}

/// The pieces of a chain as one; `None` where no line is left.
fn joined(walk: &[(usize, usize)], pieces: &[(usize, Piece)], joints: &Joints) -> Option<Piece> {
    let mut points: Vec<Point> = Vec::new();
    let mut overlaps: Vec<(f64, f64)> = Vec::new();
    let (mut doubt, mut longest, mut width_px) = (0.0f64, 0.0, 1.0);
    let mut at_knot = [false; 2];
    for (k, &(index, entered)) in walk.iter().enumerate() {
        let piece = if entered == 0 { pieces[index].1.clone() } else { turned(&pieces[index].1) };
        let length = piece.trace.line.length();
        let cut = |joint: Option<Joint>| joint.map_or(0.0, |joint| joint.own.skip as f64);
        let (before, after) = (joints[index][entered], joints[index][1 - entered]);
        let (from, to) = (cut(before), length - cut(after));
        let line = piece.trace.line.part(from, to)?;
        let so_far = |points: &[Point]| Polyline::new(points.iter().copied()).map_or(0.0, |line| line.length());
        let mut begins = so_far(&points);
        if let Some(joint) = before {
            doubt = doubt.max(joint.cost);
            points.extend(bridge(&joint.other, &joint.own));
            points.push(line.first());
            let ends = so_far(&points);
            overlaps.push((begins, ends));
            begins = ends;
        }
        let kept = line.length();
        let own =
            piece.trace.overlaps.iter().map(|o| ((o.0 - from).max(0.0) + begins, (o.1 - from).min(kept) + begins));
        overlaps.extend(own.filter(|o| o.1 > o.0));
        points.extend(line.points());
        doubt = doubt.max(piece.trace.doubt);
        if length > longest {
            (longest, width_px) = (length, piece.trace.width_px);
        }
        if k == 0 {
            at_knot[0] = piece.at_knot[0];
        }
        at_knot[1] = piece.at_knot[1];
    }
    let line = Polyline::new(points)?;
    Some(Piece { trace: Trace { line, width_px, overlaps, doubt }, at_knot, closed: false })
}

#[cfg(test)]
mod tests {
    use super::rejoined;
    use crate::maths::point::Point;
    use crate::maths::polyline::Polyline;
    use crate::maths::raster::Raster;
    use crate::shafts::centreline::Trace;
    use crate::shafts::stitches::Piece;

    fn piece(from: (f64, f64), to: (f64, f64), overlap: (f64, f64)) -> Piece {
        let (from, to) = (Point::new(from.0, from.1), Point::new(to.0, to.1));
        let line = Polyline::new((0..=50).map(|i| from.lerp(to, f64::from(i) / 50.0))).expect("a line");
        let trace = Trace { line, width_px: 8.0, overlaps: vec![overlap], doubt: 0.0 };
        Piece { trace, at_knot: [false; 2], closed: false }
    }

    /// Light of a level green shaft at a height of 100, and the mask of it and of a broad upright one over it.
    fn ground() -> ([Raster<f32>; 3], Raster<bool>) {
        let on = |y: usize| (y as f64 - 100.0).abs() <= 4.0;
        let excess = [0.0, 20.0, 4.0].map(|light| Raster::from_fn(300, 200, |_, y| if on(y) { light } else { 0.0 }));
        (excess, Raster::from_fn(300, 200, |x, y| on(y) || (120..170).contains(&x)))
    }

    #[test]
    fn pieces_of_two_masks_on_both_sides_of_a_shaft_become_one_whichever_way_they_run() {
        let (excess, mask) = ground();
        let first = piece((20.0, 100.0), (118.0, 100.0), (10.0, 20.0));
        let (on, back) = (piece((172.0, 100.0), (280.0, 100.0), (50.0, 60.0)), (280.0, 172.0));
        let back = piece((back.0, 100.0), (back.1, 100.0), (48.0, 58.0));
        for second in [on, back] {
            let found = rejoined(vec![(0, first.clone()), (2, second)], &excess, &mask);
            assert_eq!(found.len(), 1);
            let (longest, whole) = &found[0];
            assert_eq!(*longest, 2, "the mask of the longer piece");
            assert!((whole.trace.line.length() - 260.0).abs() < 1.0, "{}", whole.trace.line.length());
            let overlaps: Vec<[i64; 2]> =
                whole.trace.overlaps.iter().map(|o| [o.0.round() as i64, o.1.round() as i64]).collect();
            assert_eq!(overlaps[0], [10, 20]);
            assert!((overlaps[1][0] - 96).abs() < 4 && (overlaps[1][1] - 154).abs() < 4, "the gap: {overlaps:?}");
            assert_eq!(overlaps[2], [202, 212]);
        }
    }

    #[test]
    fn what_points_elsewhere_stays() {
        let (excess, mask) = ground();
        let first = piece((20.0, 100.0), (118.0, 100.0), (0.0, 1.0));
        let away = piece((172.0, 100.0), (190.0, 190.0), (0.0, 1.0));
        assert_eq!(rejoined(vec![(0, first), (0, away)], &excess, &mask).len(), 2);
    }
}
