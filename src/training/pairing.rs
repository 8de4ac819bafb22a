//! Which found shaft is which true shaft, by their centrelines alone.

use crate::maths::polyline::{Polyline, boxes_touch};

/// Distance within which a centreline lies on another, in widths of the true shaft.
const ON_WIDTHS: f64 = 0.5;
/// And at least this many pixels.
const ON_PX: f64 = 3.0;
/// Share of a found line that must lie on the true one for the two to be the same shaft.
const LEAST_ON: f64 = 0.8;
/// Points looked at along a line; more change nothing.
const LOOKS: usize = 200;

/// How a found line and a true line lie to each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// Place in the list of found lines.
    pub found: usize,
    /// Place in the list of true lines.
    pub truth: usize,
    /// Share of the true line that the found one covers, 0 to 1.
    pub covered: f64,
    /// Share of the found line that lies on the true one, 0 to 1.
    pub on: f64,
}

/// One true line: its centreline and its median width in pixels.
#[derive(Clone, Debug)]
pub struct TrueLine {
    /// Centreline, full-resolution pixels.
    pub line: Polyline,
    /// Median width, pixels.
    pub width_px: f64,
}

/// Pairs of found and true lines, each line in one pair at most, the best covered first; only pairs in which the
/// found line lies on the true one and covers at least `least_covered` of it.
pub fn pairs(found: &[&Polyline], truth: &[TrueLine], least_covered: f64) -> Vec<Pair> {
    let mut all = Vec::new();
    for (t, true_line) in truth.iter().enumerate() {
        let reach = (ON_WIDTHS * true_line.width_px).max(ON_PX);
        for (f, line) in found.iter().enumerate() {
            if !boxes_touch(&line.bounds(), &true_line.line.bounds(), reach) {
                continue;
            }
            let pair = Pair {
                found: f,
                truth: t,
                covered: share_on(&true_line.line, line, reach),
                on: share_on(line, &true_line.line, reach),
            };
            if pair.on >= LEAST_ON && pair.covered >= least_covered {
                all.push(pair);
            }
        }
    }
    all.sort_by(|a, b| b.covered.total_cmp(&a.covered).then((a.truth, a.found).cmp(&(b.truth, b.found))));
    let mut kept: Vec<Pair> = Vec::new();
    for pair in all {
        if !kept.iter().any(|k| k.found == pair.found || k.truth == pair.truth) {
            kept.push(pair);
        }
    }
    kept
}

/// The largest share of a found line that lies on one of the true ones, 0 to 1.
pub fn most_on(found: &Polyline, truth: &[TrueLine]) -> f64 {
    let on = |true_line: &TrueLine| {
        let reach = (ON_WIDTHS * true_line.width_px).max(ON_PX);
        if boxes_touch(&found.bounds(), &true_line.line.bounds(), reach) {
            share_on(found, &true_line.line, reach)
        } else {
            0.0
        }
    };
    truth.iter().map(on).fold(0.0, f64::max)
}

/// Share of `line` that lies within `reach` of `other`.
fn share_on(line: &Polyline, other: &Polyline, reach: f64) -> f64 {
    let n = LOOKS.min(line.length().ceil() as usize).max(2);
    let on = (0..n)
        .filter(|&i| {
            let place = line.at(line.length() * (i as f64 + 0.5) / n as f64);
            other.nearest(place).distance <= reach
        })
        .count();
    on as f64 / n as f64
}

#[cfg(test)]
mod tests {
    use super::{TrueLine, pairs};
    use crate::maths::point::Point;
    use crate::maths::polyline::Polyline;

    fn line(points: &[(f64, f64)]) -> Polyline {
        Polyline::new(points.iter().map(|&(x, y)| Point::new(x, y))).unwrap()
    }

    #[test]
    fn a_line_that_changes_shaft_at_a_crossing_pairs_with_neither() {
        let truth = [line(&[(0.0, 0.0), (100.0, 100.0)]), line(&[(0.0, 100.0), (100.0, 0.0)])]
            .map(|line| TrueLine { line, width_px: 6.0 });
        let right = line(&[(0.0, 1.0), (100.0, 101.0)]);
        let wrong = line(&[(0.0, 100.0), (50.0, 50.0), (100.0, 100.0)]);
        let found = pairs(&[&wrong, &right], &truth, 0.7);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].found, found[0].truth), (1, 0));
    }

    #[test]
    fn half_a_shaft_is_not_the_shaft() {
        let truth = [TrueLine { line: line(&[(0.0, 0.0), (100.0, 0.0)]), width_px: 6.0 }];
        assert!(pairs(&[&line(&[(0.0, 0.0), (50.0, 0.0)])], &truth, 0.7).is_empty());
        assert_eq!(pairs(&[&line(&[(0.0, 0.0), (50.0, 0.0)])], &truth, 0.3).len(), 1);
    }
}
