//! Pieces of one shaft that lie end to end, put together again.
//!
//! What lies on a shaft (a flake, a bead of food, a bar burnt into the picture, where a coat begins) may part it: the
//! mask is then as wide as that thing, and its strands lead elsewhere. Two pieces are one shaft where their ends face
//! each other on one line, about as wide, and closer than something that lies on a shaft is long. Unlike a joint in a
//! knot nothing is asked of colour, and pieces may reach over each other.
//! Weakness: two hairs that lie end to end on one line, touching, become one.

use super::centreline::Trace;
use crate::maths::point::{Point, Vec2};
use crate::maths::polyline::Polyline;
use crate::maths::raster::Raster;

/// Longest gap, or stretch over which pieces lie on each other, widths of the thinner piece and pixels besides.
const GAP_WIDTHS: f64 = 2.0;
/// The same of a gap in which nothing is seen.
const EMPTY_WIDTHS: f64 = 0.6;
/// See [`GAP_WIDTHS`].
const GAP_PX: f64 = 8.0;
/// Share of a gap that must lie on the mask not to be empty.
const COVERED: f64 = 0.5;
/// Cosine of the largest turn from one piece to the other (25°).
const ALONG: f64 = 0.9;
/// How far one end may lie beside the other's line: widths of the thinner piece, share of the gap, pixels.
const BESIDE: [f64; 3] = [0.35, 0.12, 1.5];
/// Largest ratio of widths: a coat ends all at once.
const WIDTHS_APART: f64 = 2.2;
/// Shortest piece, widths and pixels: shorter ones tell no direction.
const LEAST_WIDTHS: f64 = 2.5;
/// See [`LEAST_WIDTHS`].
const LEAST_PX: f64 = 12.0;
/// How far in from an end its direction is taken, widths of the thinner piece and pixels; the last part leans to the
/// corner of a blunt end.
const REACH_WIDTHS: f64 = 2.5;
/// See [`REACH_WIDTHS`].
const REACH_PX: f64 = 10.0;
/// See [`REACH_WIDTHS`].
const LEAN_WIDTHS: f64 = 0.3;
/// Surprise of a joint over a gap longer than the piece is wide, as `links::cost` counts it: the user is told to look.
const SURPRISE: f64 = 8.0;
/// Most pieces that are held against each other; beyond, the photo is too crowded.
const MOST_PIECES: usize = 600;

/// A trace with what became of its ends.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    pub(super) trace: Trace,
    /// Whether its first and last point lie at a knot, another shaft, or free.
    pub(super) at_knot: [bool; 2],
    /// Whether it closes on itself.
    pub(super) closed: bool,
}

/// The pieces, those of one shaft put together; `apart` says of which nothing is to be made.
pub(super) fn stitched(mut pieces: Vec<Piece>, apart: impl Fn(&Piece) -> bool, mask: &Raster<bool>) -> Vec<Piece> {
    if pieces.len() > MOST_PIECES {
        return pieces;
    }
    let mut whole: Vec<bool> =
        pieces.iter().map(|piece| piece.closed || !is_long(&piece.trace) || apart(piece)).collect();
    loop {
        let mut best: Option<(f64, [usize; 2], [usize; 2])> = None;
        for i in (0..pieces.len()).filter(|&i| !whole[i]) {
            for j in (i + 1..pieces.len()).filter(|&j| !whole[j]) {
                for ends in [[0, 0], [0, 1], [1, 0], [1, 1]] {
                    let apart = apartness(&pieces[i].trace, ends[0], &pieces[j].trace, ends[1], mask);
                    if let Some(apart) = apart
                        && best.as_ref().is_none_or(|(least, ..)| apart < *least)
                    {
                        best = Some((apart, [i, j], ends));
                    }
                }
            }
        }
        let Some((_, [i, j], ends)) = best else { return pieces };
        match joined(&pieces[i], ends[0], &pieces[j], ends[1]) {
            Some(piece) => pieces[i] = piece,
            None => {
                whole[j] = true;
                continue;
            }
        }
        pieces.remove(j);
        whole.remove(j);
    }
}

fn is_long(trace: &Trace) -> bool {
    trace.line.length() >= (LEAST_WIDTHS * trace.width_px).max(LEAST_PX)
}

/// An end of a line and the direction in which it points.
fn end_of(trace: &Trace, end: usize, width_px: f64) -> (Point, Vec2) {
    let length = trace.line.length();
    let from_end = |s: f64| trace.line.at(if end == 0 { s } else { length - s });
    let lean = (LEAN_WIDTHS * trace.width_px).min(0.2 * length);
    let reach = (REACH_WIDTHS * width_px).max(REACH_PX).min(length - lean);
    (from_end(0.0), (from_end(lean) - from_end(lean + reach)).unit())
}

/// How badly one end goes on in the other, 0 and more; `None` where it does not.
fn apartness(a: &Trace, end_a: usize, b: &Trace, end_b: usize, mask: &Raster<bool>) -> Option<f64> {
    let width = a.width_px.min(b.width_px);
    let farthest = GAP_WIDTHS * width + GAP_PX;
    let tip = |trace: &Trace, end: usize| if end == 0 { trace.line.first() } else { trace.line.last() };
    if tip(a, end_a).distance(tip(b, end_b)) > 1.5 * farthest || a.width_px.max(b.width_px) > WIDTHS_APART * width {
        return None;
    }
    let ((from, out_a), (to, out_b)) = (end_of(a, end_a, width), end_of(b, end_b, width));
    let along = (out_a - out_b).unit();
    if out_a.dot(-out_b) < ALONG || !along.length().is_finite() {
        return None;
    }
    let gap = to - from;
    let (ahead, aside) = (gap.dot(along), gap.cross(along).abs());
    let empty = ahead > 0.0 && share_covered(from, to, mask) < COVERED;
    let limit = if empty { EMPTY_WIDTHS * width + GAP_PX } else { farthest };
    let beside = BESIDE[0] * width + BESIDE[1] * ahead.abs() + BESIDE[2];
    (ahead.abs() <= limit && aside <= beside)
        .then(|| ahead.abs() / limit + aside / beside + (1.0 - out_a.dot(-out_b)) / (1.0 - ALONG))
}

fn share_covered(from: Point, to: Point, mask: &Raster<bool>) -> f64 {
    let n = (from.distance(to).ceil() as usize).clamp(2, 400);
    let on = (1..n).filter(|&k| {
        let p = from.lerp(to, k as f64 / n as f64);
        mask.get(p.x.round() as isize, p.y.round() as isize).unwrap_or(false)
    });
    on.count() as f64 / (n - 1) as f64
}

/// Both as one; `None` where nothing of one is left.
fn joined(a: &Piece, end_a: usize, b: &Piece, end_b: usize) -> Option<Piece> {
    let a = if end_a == 1 { a.clone() } else { turned(a) };
    let b = if end_b == 0 { b.clone() } else { turned(b) };
    let width = a.trace.width_px.min(b.trace.width_px);
    let along = (end_of(&a.trace, 1, width).1 - end_of(&b.trace, 0, width).1).unit();
    let ahead = (b.trace.line.first() - a.trace.line.last()).dot(along);
    // Where they reach over each other each gives up half, and so much more that the line does not jog.
    let given_up = (-0.5 * ahead).max(0.0) + LEAN_WIDTHS * width;
    let (length_a, length_b) = (a.trace.line.length(), b.trace.line.length());
    let first = a.trace.line.part(0.0, (length_a - given_up).max(0.5 * length_a))?;
    let second = b.trace.line.part(given_up.min(0.5 * length_b), length_b)?;
    let dropped = length_b - second.length();
    let line = Polyline::new(first.points().iter().chain(second.points()).copied())?;
    let begins = line.length() - second.length();
    let mut overlaps: Vec<(f64, f64)> =
        a.trace.overlaps.iter().map(|o| (o.0, o.1.min(first.length()))).filter(|o| o.1 > o.0).collect();
    if ahead > width.min(GAP_PX) {
        overlaps.push((first.length(), begins));
    }
    let later = b.trace.overlaps.iter().map(|o| ((o.0 - dropped).max(0.0) + begins, o.1 - dropped + begins));
    overlaps.extend(later.filter(|o| o.1 > o.0));
    let longer = if length_a >= length_b { &a.trace } else { &b.trace };
    let surprise = if ahead > width { SURPRISE } else { 0.0 };
    let trace =
        Trace { line, width_px: longer.width_px, overlaps, doubt: a.trace.doubt.max(b.trace.doubt).max(surprise) };
    Some(Piece { trace, at_knot: [a.at_knot[0], b.at_knot[1]], closed: false })
}

fn turned(piece: &Piece) -> Piece {
    let length = piece.trace.line.length();
    let trace = Trace {
        line: piece.trace.line.reversed(),
        overlaps: piece.trace.overlaps.iter().rev().map(|o| (length - o.1, length - o.0)).collect(),
        ..piece.trace.clone()
    };
    Piece { trace, at_knot: [piece.at_knot[1], piece.at_knot[0]], closed: piece.closed }
}

#[cfg(test)]
mod tests {
    use super::{Piece, stitched};
    use crate::maths::point::Point;
    use crate::maths::polyline::Polyline;
    use crate::maths::raster::Raster;
    use crate::shafts::centreline::Trace;

    fn piece(from: (f64, f64), to: (f64, f64), width_px: f64) -> Piece {
        let (from, to) = (Point::new(from.0, from.1), Point::new(to.0, to.1));
        let line = Polyline::new((0..=50).map(|i| from.lerp(to, f64::from(i) / 50.0))).expect("a line");
        let trace = Trace { line, width_px, overlaps: vec![(5.0, 9.0)], doubt: 0.0 };
        Piece { trace, at_knot: [true, false], closed: false }
    }

    fn together(pieces: &[Piece], seen: bool) -> Vec<Piece> {
        stitched(pieces.to_vec(), |_| false, &Raster::filled(300, 300, seen))
    }

    #[test]
    fn what_something_parted_is_one_again_and_a_gap_that_shows_the_ground_is_none() {
        // The second runs the other way.
        let pieces = [piece((20.0, 100.0), (120.0, 100.0), 10.0), piece((260.0, 104.0), (142.0, 101.0), 12.0)];
        let found = together(&pieces, true);
        assert_eq!(found.len(), 1);
        let trace = &found[0].trace;
        let ends = [trace.line.first(), trace.line.last()].map(|p| p.x);
        assert!(ends.contains(&20.0) && ends.contains(&260.0), "{ends:?}");
        assert!((trace.line.length() - 240.0).abs() < 1.0, "{}", trace.line.length());
        assert_eq!(found[0].at_knot, [true, true]);
        let overlaps: Vec<[i64; 2]> = trace.overlaps.iter().map(|o| [o.0 as i64, o.1 as i64]).collect();
        // What either had, and the gap with what the ends gave up.
        assert_eq!(overlaps, [[5, 9], [97, 125], [231, 235]]);
        assert_eq!(together(&pieces, false).len(), 2);
    }

    #[test]
    fn pieces_that_reach_over_each_other_are_one_and_their_line_does_not_turn_back() {
        let found =
            together(&[piece((20.0, 100.0), (150.0, 100.0), 10.0), piece((130.0, 101.0), (260.0, 103.0), 10.0)], true);
        assert_eq!(found.len(), 1);
        assert!((found[0].trace.line.length() - 240.0).abs() < 1.0, "{}", found[0].trace.line.length());
    }

    #[test]
    fn what_lies_beside_crosses_or_is_of_another_width_stays() {
        let first = piece((20.0, 100.0), (120.0, 100.0), 10.0);
        for other in [
            piece((125.0, 112.0), (260.0, 112.0), 10.0),
            piece((125.0, 100.0), (200.0, 200.0), 10.0),
            piece((125.0, 100.0), (260.0, 100.0), 30.0),
            piece((180.0, 100.0), (280.0, 100.0), 10.0),
        ] {
            assert_eq!(together(&[first.clone(), other], true).len(), 2);
        }
    }

    #[test]
    fn three_pieces_in_a_row_become_one() {
        let pieces = [
            piece((20.0, 100.0), (100.0, 100.0), 10.0),
            piece((200.0, 100.0), (280.0, 100.0), 10.0),
            piece((115.0, 100.0), (185.0, 100.0), 10.0),
        ];
        assert_eq!(together(&pieces, true).len(), 1);
    }
}
