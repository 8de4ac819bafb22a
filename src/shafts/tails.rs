//! Where a trace ran on along something that is no shaft: the edge of the eyepiece's field, or a bubble's rim.

use super::centreline::Trace;
use crate::maths::point::{Point, Vec2};

/// Length from which on it is a tail, widths: a shaft that crosses something lies along it for less.
const LEAST_WIDTHS: f64 = 1.5;
/// Most of the trace that may be cut away at an end; a trace that lies along it for longer is no shaft's.
const MOST_SHARE: f64 = 0.5;
/// How far from an end the direction is taken, pixels.
const REACH_PX: f64 = 3.0;

/// The trace without such tails, and which ends were cut. `lies_along` says whether a line that runs through a place in
/// a direction lies along such a thing there.
pub(super) fn without_tails(trace: &Trace, lies_along: impl Fn(Point, Vec2) -> bool) -> (Trace, [bool; 2]) {
    let length = trace.line.length();
    let along = |s: f64| lies_along(trace.line.at(s), trace.line.tangent(s, REACH_PX));
    let steps = length.floor() as usize;
    let run = |from_end: &dyn Fn(f64) -> f64| {
        // The very tip leans; a few steps that do not lie along it are stepped over.
        let mut run = 0.0;
        for step in 0..=steps {
            if along(from_end(step as f64)) {
                run = step as f64;
            } else if step as f64 > run + (0.5 * trace.width_px).max(3.0) {
                break;
            }
        }
        if run > (LEAST_WIDTHS * trace.width_px).max(6.0) && run < MOST_SHARE * length { run } else { 0.0 }
    };
    let (first, last) = (run(&|s| s), run(&|s| length - s));
    if first + last <= 0.0 || first + last >= MOST_SHARE * length {
        return (trace.clone(), [false; 2]);
    }
    let Some(line) = trace.line.part(first, length - last) else { return (trace.clone(), [false; 2]) };
    let kept = line.length();
    let overlaps = trace.overlaps.iter().map(|o| ((o.0 - first).max(0.0), (o.1 - first).min(kept)));
    let overlaps = overlaps.filter(|o| o.1 > o.0).collect();
    (Trace { line, overlaps, ..trace.clone() }, [first > 0.0, last > 0.0])
}

#[cfg(test)]
mod tests {
    use super::without_tails;
    use crate::maths::point::Point;
    use crate::maths::polyline::Polyline;
    use crate::shafts::centreline::Trace;

    /// Level at a height of 100 to x = 200, then down to a height of 100 + `down`.
    fn bent(down: f64) -> Trace {
        let level = (0..=200).map(|x| Point::new(f64::from(x), 100.0));
        let steep = (1..=down as i32).map(|y| Point::new(200.0, 100.0 + f64::from(y)));
        let line = Polyline::new(level.chain(steep)).expect("a line");
        Trace { line, width_px: 8.0, overlaps: vec![(150.0, 210.0)], doubt: 0.0 }
    }

    #[test]
    fn what_runs_on_along_it_is_cut_and_what_crosses_it_is_not() {
        let (cut, ends) = without_tails(&bent(60.0), |p, way| (p.x - 200.0).abs() < 3.0 && way.x.abs() < 0.5);
        assert_eq!(ends, [false, true]);
        assert!((cut.line.length() - 200.0).abs() < 4.0, "{}", cut.line.length());
        assert!((cut.overlaps[0].1 - cut.line.length()).abs() < 1e-9);
        let (whole, ends) = without_tails(&bent(60.0), |p, way| (p.x - 100.0).abs() < 3.0 && way.x.abs() < 0.5);
        assert_eq!((whole.line.length(), ends), (260.0, [false; 2]));
    }

    #[test]
    fn a_trace_that_lies_along_it_for_most_of_its_length_is_left_to_be_judged_as_a_whole() {
        let (whole, ends) = without_tails(&bent(60.0), |p, _| p.y < 101.0);
        assert_eq!((whole.line.length(), ends), (260.0, [false; 2]));
    }
}
