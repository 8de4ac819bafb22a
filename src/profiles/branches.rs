//! Where a trace branches: ends that lie on another trace.
//!
//! Hairs and fibres do not branch; where one ends on another it does so by chance, or was lost there. Threads of
//! moulds, vessels, plant hairs, writing and nets branch everywhere.

use crate::maths::point::Point;
use crate::maths::polyline::Polyline;

use super::EndSeen;

/// How far an end may lie from another trace's outline and still be on it, in widths of its own trace: traces of
/// branches stop where the stem's light begins to hide them.
const GAP_WIDTHS: f64 = 1.0;

/// Ends of one photo's traces that lie on other traces.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Branches {
    /// How many of this trace's ends lie on another trace: 0 to 2.
    pub ends_on_others: usize,
    /// How many ends of other traces lie on this one.
    pub others_end_here: usize,
    /// Share of all ends in view on the photo that lie on another trace, 0 to 1; `None` when none is in view.
    pub of_photo: Option<f64>,
}

/// A trace as far as branching goes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Trace<'a> {
    /// Its course.
    pub(super) line: &'a Polyline,
    /// Its width, pixels.
    pub(super) width_px: f64,
    /// What is seen at its ends.
    pub(super) ends: [EndSeen; 2],
}

/// The branches of every trace of a photo, in their order.
pub(super) fn branches(traces: &[Trace]) -> Vec<Branches> {
    let boxes: Vec<[Point; 2]> = traces.iter().map(|trace| trace.line.bounds()).collect();
    let mut of_each = vec![Branches::default(); traces.len()];
    let (mut n_ends, mut n_on) = (0usize, 0usize);
    for (i, trace) in traces.iter().enumerate() {
        for (end, place) in trace.ends.into_iter().zip([trace.line.first(), trace.line.last()]) {
            if end == EndSeen::Outside {
                continue;
            }
            n_ends += 1;
            let on = (0..traces.len()).filter(|&j| j != i).filter_map(|j| {
                let (other, [low, high]) = (&traces[j], boxes[j]);
                let reach = 0.5 * other.width_px + GAP_WIDTHS * trace.width_px;
                let near = place.x > low.x - reach
                    && place.x < high.x + reach
                    && place.y > low.y - reach
                    && place.y < high.y + reach;
                let distance = if near { other.line.nearest(place).distance } else { f64::INFINITY };
                (distance < reach).then_some((j, distance / reach))
            });
            if let Some((stem, _)) = on.min_by(|a, b| a.1.total_cmp(&b.1)) {
                n_on += 1;
                of_each[i].ends_on_others += 1;
                of_each[stem].others_end_here += 1;
            }
        }
    }
    let of_photo = (n_ends > 0).then(|| n_on as f64 / n_ends as f64);
    of_each.iter_mut().for_each(|branches| branches.of_photo = of_photo);
    of_each
}

#[cfg(test)]
mod tests {
    use super::{Branches, Trace, branches};
    use crate::maths::point::Point;
    use crate::maths::polyline::Polyline;
    use crate::profiles::EndSeen;

    fn line(points: &[[f64; 2]]) -> Polyline {
        Polyline::new(points.iter().map(|p| Point::new(p[0], p[1]))).unwrap()
    }

    #[test]
    fn a_branch_ends_on_its_stem_and_a_crossing_hair_does_not() {
        let stem = line(&[[0.0, 100.0], [400.0, 100.0]]);
        let branch = line(&[[200.0, 112.0], [260.0, 300.0]]);
        let across = line(&[[100.0, 20.0], [100.0, 300.0]]);
        let trace = |line, ends| Trace { line, width_px: 10.0, ends };
        let free = [EndSeen::Broken; 2];
        let of = branches(&[trace(&stem, [EndSeen::Outside; 2]), trace(&branch, free), trace(&across, free)]);
        let quarter = Some(0.25);
        assert_eq!(of[0], Branches { ends_on_others: 0, others_end_here: 1, of_photo: quarter });
        assert_eq!(of[1], Branches { ends_on_others: 1, others_end_here: 0, of_photo: quarter });
        assert_eq!(of[2], Branches { ends_on_others: 0, others_end_here: 0, of_photo: quarter });
    }

    #[test]
    fn a_photo_without_an_end_in_view_says_nothing() {
        let stem = line(&[[0.0, 100.0], [400.0, 100.0]]);
        let of = branches(&[Trace { line: &stem, width_px: 10.0, ends: [EndSeen::Outside; 2] }]);
        assert_eq!(of, [Branches::default()]);
        assert!(branches(&[]).is_empty());
    }
}
