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

/// The parts of a trace between the stretches in which it follows such a thing for longer than a shaft that crosses it.
/// The trace itself where there are none, and where little would be left.
pub(super) fn parted(trace: &Trace, follows: impl Fn(Point, Vec2) -> bool) -> Vec<Trace> {
    let length = trace.line.length();
    let least = (LEAST_WIDTHS * trace.width_px).max(6.0);
    let follows: Vec<bool> = (0..=length.floor() as usize)
        .map(|s| follows(trace.line.at(s as f64), trace.line.tangent(s as f64, REACH_PX)))
        .collect();
    let mut parts = Vec::new();
    let mut from = 0;
    let mut at = 0;
    for run in follows.chunk_by(|a, b| a == b) {
        if run[0] && run.len() as f64 > least {
            parts.push((from as f64, at as f64));
            from = at + run.len();
        }
        at += run.len();
    }
    parts.push((from as f64, length));
    let kept: f64 = parts.iter().map(|(from, to)| to - from).sum();
    if parts.len() < 2 || kept < (1.0 - MOST_SHARE) * length {
        return vec![trace.clone()];
    }
    let part = |(from, to): (f64, f64)| {
        let line = (to - from > least).then(|| trace.line.part(from, to))??;
        let overlaps = trace.overlaps.iter().map(|o| ((o.0 - from).max(0.0), (o.1 - from).min(line.length())));
        let overlaps = overlaps.filter(|o| o.1 > o.0).collect();
        Some(Trace { line, overlaps, ..trace.clone() })
    };
    parts.into_iter().filter_map(part).collect()
}

#[cfg(test)]
mod tests {
    use super::{parted, without_tails};
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
    fn a_trace_is_parted_where_it_follows_it_in_between() {
        let round = |p: Point, _| (80.0..130.0).contains(&p.x);
        let parts = parted(&bent(60.0), round);
        assert_eq!(parts.len(), 2);
        assert!(
            (parts[0].line.length() - 80.0).abs() < 2.0 && (parts[1].line.length() - 130.0).abs() < 2.0,
            "{parts:?}"
        );
        assert_eq!(parts[1].overlaps.len(), 1);
        assert_eq!(parted(&bent(60.0), |p, _| (80.0..86.0).contains(&p.x)).len(), 1, "a shaft that crosses it");
        assert_eq!(parted(&bent(60.0), |p, _| p.x > 40.0).len(), 1, "most of it: judged as a whole");
    }

    #[test]
    fn a_trace_that_lies_along_it_for_most_of_its_length_is_left_to_be_judged_as_a_whole() {
        let (whole, ends) = without_tails(&bent(60.0), |p, _| p.y < 101.0);
        assert_eq!((whole.line.length(), ends), (260.0, [false; 2]));
    }
}
