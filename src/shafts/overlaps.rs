//! Stretches of shafts that lie on each other, or on themselves: nothing is measured there.

use super::Shaft;
use crate::maths::polyline::{Polyline, boxes_touch};

/// A shaft lies on itself where it comes this near again, widths, after going on for twice as far.
const NEAR_WIDTHS: f64 = 1.0;
/// Parts of a line nearer along it than this, widths, are neighbours and no overlap.
const NEIGHBOUR_WIDTHS: f64 = 3.0;

/// Notes on each shaft where another lies on it, or it on itself.
pub(super) fn note_all_overlaps(shafts: &mut [Shaft]) {
    for i in 0..shafts.len() {
        let own = on_itself(&shafts[i]);
        shafts[i].overlaps.extend(own);
        let (before, rest) = shafts.split_at_mut(i);
        for other in before {
            note_overlaps(&mut rest[0], other);
        }
    }
}

/// Says on both which stretches of two shafts lie on each other.
pub(super) fn note_overlaps(one: &mut Shaft, other: &mut Shaft) {
    let touch = (one.width_px + other.width_px) / 2.0;
    if !boxes_touch(&one.centreline.bounds(), &other.centreline.bounds(), touch) {
        return;
    }
    let (on_one, on_other) =
        (stretches(&one.centreline, &other.centreline, touch), stretches(&other.centreline, &one.centreline, touch));
    one.overlaps.extend(on_one);
    other.overlaps.extend(on_other);
}

/// Arc lengths of `line` nearer to `other` than `touch`.
fn stretches(line: &Polyline, other: &Polyline, touch: f64) -> Vec<(f64, f64)> {
    let bounds = other.bounds();
    along(line, touch, |s| {
        let at = line.at(s);
        boxes_touch(&[at, at], &bounds, touch) && other.nearest(at).distance < touch
    })
}

fn on_itself(shaft: &Shaft) -> Vec<(f64, f64)> {
    let (line, touch) = (&shaft.centreline, NEAR_WIDTHS * shaft.width_px);
    if goes_on(line) {
        return Vec::new();
    }
    let apart = NEIGHBOUR_WIDTHS * shaft.width_px;
    let is_near = |s: f64| {
        let at = line.at(s);
        let near = |part: Option<Polyline>| part.is_some_and(|part| part.nearest(at).distance < touch);
        near(line.part(0.0, s - apart)) || near(line.part(s + apart, line.length()))
    };
    along(line, touch, is_near)
}

/// Whether a line runs within 60° of the way from its first point to its last everywhere: then places so far apart
/// along it that they are no neighbours lie farther apart than half of that, and none lies on another.
fn goes_on(line: &Polyline) -> bool {
    let way = (line.last() - line.first()).unit();
    line.points().windows(2).all(|pair| (pair[1] - pair[0]).unit().dot(way) >= 0.5)
}

/// Arc lengths of a line, from and to, along which something is so, looked at every quarter of `touch`.
fn along(line: &Polyline, touch: f64, is_so: impl Fn(f64) -> bool) -> Vec<(f64, f64)> {
    let step = (touch / 4.0).max(1.0);
    let mut found: Vec<(f64, f64)> = Vec::new();
    let n = (line.length() / step).ceil() as usize;
    for s in (0..=n).map(|k| (k as f64 * step).min(line.length())).filter(|&s| is_so(s)) {
        match found.last_mut() {
            Some(last) if s - last.1 <= 1.5 * step => last.1 = s,
            _ => found.push((s, s)),
        }
    }
    found.into_iter().filter(|(from, to)| to > from).collect()
}

#[cfg(test)]
mod tests {
    use super::note_all_overlaps;
    use crate::maths::point::Point;
    use crate::maths::polyline::Polyline;
    use crate::shafts::{EndAt, Shaft};

    fn shaft(points: impl IntoIterator<Item = (f64, f64)>, width_px: f64) -> Shaft {
        let centreline = Polyline::new(points.into_iter().map(|(x, y)| Point::new(x, y))).unwrap();
        Shaft { centreline, width_px, overlaps: Vec::new(), ends: [EndAt::Free; 2], concerns: Vec::new() }
    }

    #[test]
    fn a_crossing_is_noted_on_both_and_a_loop_twice_on_itself() {
        let mut two = [shaft([(0.0, 50.0), (200.0, 50.0)], 10.0), shaft([(100.0, 0.0), (100.0, 200.0)], 30.0)];
        note_all_overlaps(&mut two);
        let middle = |shaft: &Shaft| (shaft.overlaps[0].0 + shaft.overlaps[0].1) / 2.0;
        assert!(two.iter().all(|shaft| shaft.overlaps.len() == 1));
        assert!((middle(&two[0]) - 100.0).abs() < 3.0 && (middle(&two[1]) - 50.0).abs() < 6.0);
        let looped = (0..=400).map(|k| {
            let t = f64::from(k) / 400.0;
            // A strophoid-like loop: it comes back through (0, 0).
            let x = 600.0 * (t - 0.5);
            (
                150.0 * (4.0 * t - 2.0).sin() * (1.0 - (2.0 * t - 1.0).powi(2)) * 2.0 - x * 0.4,
                200.0 * (3.0 * t * std::f64::consts::PI).cos(),
            )
        });
        let mut one = [shaft(looped, 8.0)];
        note_all_overlaps(&mut one);
        assert!(one[0].overlaps.len() >= 2, "{:?}", one[0].overlaps);
        let mut bow = [shaft((0..100).map(|k| (f64::from(k), 0.01 * f64::from(k * k))), 8.0)];
        note_all_overlaps(&mut bow);
        assert!(bow[0].overlaps.is_empty());
    }
}
