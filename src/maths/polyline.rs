//! A line through points, measured by arc length.

use super::point::{Point, Vec2};

/// At least two points with the arc length at each, in pixels from the first.
#[derive(Clone, Debug, PartialEq)]
pub struct Polyline {
    points: Vec<Point>,
    arc: Vec<f64>,
}

impl Polyline {
    /// A line through `points`; repeated points are dropped. `None` when fewer than two places remain
    /// or a coordinate is not finite.
    pub fn new(points: impl IntoIterator<Item = Point>) -> Option<Polyline> {
        let mut kept: Vec<Point> = Vec::new();
        for point in points {
            if !(point.x.is_finite() && point.y.is_finite()) {
                return None;
            }
            if kept.last().is_none_or(|last| last.distance(point) > 1e-9) {
                kept.push(point);
            }
        }
        if kept.len() < 2 {
            return None;
        }
        let mut arc = Vec::with_capacity(kept.len());
        let mut at = 0.0;
        arc.push(at);
        for pair in kept.windows(2) {
            at += pair[0].distance(pair[1]);
            arc.push(at);
        }
        Some(Polyline { points: kept, arc })
    }

    /// The points in order.
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// Arc length at each point, in pixels; the first is 0.
    pub fn arc(&self) -> &[f64] {
        &self.arc
    }

    /// Whole length, in pixels.
    pub fn length(&self) -> f64 {
        self.arc[self.arc.len() - 1]
    }

    /// The first point.
    pub fn first(&self) -> Point {
        self.points[0]
    }

    /// The last point.
    pub fn last(&self) -> Point {
        self.points[self.points.len() - 1]
    }

    /// The place at arc length `s`; before the start and beyond the end the line goes on straight.
    pub fn at(&self, s: f64) -> Point {
        let i = self.segment(s);
        self.points[i] + self.direction_of(i) * (s - self.arc[i])
    }

    /// Unit tangent at arc length `s`, taken over `reach` pixels to both sides.
    pub fn tangent(&self, s: f64, reach: f64) -> Vec2 {
        let from = self.at((s - reach).max(0.0).min(self.length()));
        let to = self.at((s + reach).min(self.length()).max(0.0));
        let across = to - from;
        if across.length() > 1e-9 { across.unit() } else { self.direction_of(self.segment(s)) }
    }

    /// The same line from the other end.
    pub fn reversed(&self) -> Polyline {
        let length = self.length();
        Polyline {
            points: self.points.iter().rev().copied().collect(),
            arc: self.arc.iter().rev().map(|s| length - s).collect(),
        }
    }

    /// The line at equal steps of about `step` pixels, both ends kept.
    pub fn resampled(&self, step: f64) -> Polyline {
        let length = self.length();
        let n_steps = (length / step.max(1e-6)).round().max(1.0) as usize;
        let points = (0..=n_steps).map(|i| self.at(length * i as f64 / n_steps as f64));
        Polyline::new(points).unwrap_or_else(|| self.clone())
    }

    /// The part between two arc lengths, ends included; `None` when it would have no length.
    pub fn part(&self, from: f64, to: f64) -> Option<Polyline> {
        let (from, to) = (from.max(0.0), to.min(self.length()));
        if to - from <= 1e-9 {
            return None;
        }
        let inner = self.points.iter().zip(&self.arc).filter(|(_, s)| **s > from && **s < to).map(|(p, _)| *p);
        Polyline::new(std::iter::once(self.at(from)).chain(inner).chain(std::iter::once(self.at(to))))
    }

    /// The least and the greatest coordinates of its points.
    pub fn bounds(&self) -> [Point; 2] {
        self.points.iter().fold([self.first(); 2], |[low, high], p| {
            [Point::new(low.x.min(p.x), low.y.min(p.y)), Point::new(high.x.max(p.x), high.y.max(p.y))]
        })
    }

    /// The nearest place on the line: its arc length and its distance, in pixels.
    pub fn nearest(&self, point: Point) -> Nearest {
        // Who goes a way along the line comes no nearer by more than that way. So behind a segment that is farther off
        // than the nearest place can be, as much of the line is passed over as it is farther.
        let bound = self.points.iter().step_by(COARSE).map(|p| (point - *p).dot(point - *p));
        let bound = bound.fold(f64::INFINITY, f64::min).sqrt();
        let (mut least, mut segment, mut share) = (f64::INFINITY, 0, 0.0);
        let mut i = 0;
        while i + 1 < self.points.len() {
            let ends = &self.points[i..i + 2];
            let (along, out) = (ends[1] - ends[0], point - ends[0]);
            let t = (out.dot(along) / along.dot(along)).clamp(0.0, 1.0);
            let off = out - along * t;
            let square = off.dot(off);
            if square < least {
                (least, segment, share) = (square, i, t);
            }
            i += 1;
            let farther = square.sqrt() - bound.min(least.sqrt()) - ROUNDING_PX;
            if farther > 0.0 {
                let past = self.arc[i] + farther;
                while self.arc.get(i + 1).is_some_and(|&end| end <= past) {
                    i += 1;
                }
            }
        }
        let along = self.points[segment + 1] - self.points[segment];
        Nearest { s: self.arc[segment] + along.length() * share, distance: least.sqrt() }
    }

    fn segment(&self, s: f64) -> usize {
        self.arc.partition_point(|&at| at <= s).saturating_sub(1).min(self.points.len() - 2)
    }

    fn direction_of(&self, segment: usize) -> Vec2 {
        (self.points[segment + 1] - self.points[segment]).unit()
    }
}

/// The nearest place on a line to a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearest {
    /// Arc length of the place, in pixels.
    pub s: f64,
    /// Distance from the point, in pixels.
    pub distance: f64,
}

/// Every so many points tell beforehand how near a line is at most.
const COARSE: usize = 16;
/// More than the rounding of arc lengths, pixels.
const ROUNDING_PX: f64 = 1e-6;

/// Places on a line that are held against other lines; enough to tell lines that cross from the same line.
const PLACES_COMPARED: usize = 24;

/// A line that was traced anew lies this near the old trace, in widths; and pixels, for the thinnest.
const SAME_LINE: (f64, f64) = (1.0, 6.0);

/// Pixels of distance that a line of 2.7 times the length, or a 2.7th of it, is as unlike as.
const LENGTH_PX: f64 = 4.0;

/// Whether two boxes, each its least and its greatest corner, lie nearer to each other than `reach`, per axis.
pub fn boxes_touch(a: &[Point; 2], b: &[Point; 2], reach: f64) -> bool {
    a[0].x - reach <= b[1].x && b[0].x - reach <= a[1].x && a[0].y - reach <= b[1].y && b[0].y - reach <= a[1].y
}

/// Index of the line that `points` lie on, of several with their widths: the nearest by the median distance of places
/// along `points`; `None` when even that is farther away than a trace of the same thing would be.
pub fn lying_on(points: &[Point], lines: &[(&Polyline, f64)]) -> Option<usize> {
    let wanted = Polyline::new(points.iter().copied())?;
    let places: Vec<Point> =
        (0..PLACES_COMPARED).map(|k| wanted.at(wanted.length() * (k as f64 + 0.5) / PLACES_COMPARED as f64)).collect();
    let distance = |line: &Polyline| {
        let mut distances: Vec<f64> = places.iter().map(|&place| line.nearest(place).distance).collect();
        distances.sort_by(f64::total_cmp);
        distances[PLACES_COMPARED / 2]
    };
    let all = lines.iter().enumerate().map(|(index, (line, width))| {
        // Of two lines through the same places the one of about the same length is meant.
        let length_apart = (line.length() / wanted.length()).ln().abs();
        (index, distance(line), *width, length_apart)
    });
    let near = all.filter(|(_, distance, width, _)| *distance <= (SAME_LINE.0 * width).max(SAME_LINE.1));
    let apart = |one: (usize, f64, f64, f64)| one.1 + LENGTH_PX * one.3;
    near.min_by(|&a, &b| apart(a).total_cmp(&apart(b))).map(|(index, ..)| index)
}

#[cfg(test)]
mod tests {
    use super::{Nearest, Point, Polyline, lying_on};

    /// Every segment asked, none passed over.
    fn nearest_of_all(line: &Polyline, point: Point) -> Nearest {
        let mut best = Nearest { s: 0.0, distance: f64::INFINITY };
        for (ends, arc) in line.points().windows(2).zip(line.arc()) {
            let (along, out) = (ends[1] - ends[0], point - ends[0]);
            let t = (out.dot(along) / along.dot(along)).clamp(0.0, 1.0);
            let distance = (out - along * t).length();
            if distance < best.distance {
                best = Nearest { s: arc + along.length() * t, distance };
            }
        }
        best
    }

    #[test]
    fn the_nearest_place_is_that_of_all_segments_although_most_are_passed_over() {
        // A spiral that comes near itself, one straight line in short pieces, one of two points, and a coarse zigzag.
        let spiral = (0..400).map(|k| f64::from(k) * 0.05).map(|t| Point::new(9.0 * t * t.cos(), 9.0 * t * t.sin()));
        let straight = (0..300).map(|k| Point::new(f64::from(k) * 0.7 - 100.0, 20.0));
        let zigzag = (0..40).map(|k| Point::new(f64::from(k * 8), f64::from(k % 2 * 90)));
        let two = [Point::new(-50.0, -50.0), Point::new(80.0, 10.0)];
        let lines = [Polyline::new(spiral), Polyline::new(straight), Polyline::new(zigzag), Polyline::new(two)];
        for line in lines.map(Option::unwrap) {
            for k in 0..2000 {
                let point = Point::new(f64::from(k * 37 % 611) - 300.3, f64::from(k * 91 % 577) - 280.7);
                let (found, wanted) = (line.nearest(point), nearest_of_all(&line, point));
                assert!((found.distance - wanted.distance).abs() < 1e-9, "{point:?}: {found:?}, {wanted:?}");
                assert!((found.s - wanted.s).abs() < 1e-9, "{point:?}: {found:?}, {wanted:?}");
            }
        }
    }

    #[test]
    fn a_line_is_known_again_from_either_end_and_beside_others() {
        let line = |y: f64, to: f64| Polyline::new([Point::new(0.0, y), Point::new(to, y)]).unwrap();
        let (long, other, part) = (line(10.0, 100.0), line(40.0, 100.0), line(10.0, 30.0));
        let lines = [(&other, 8.0), (&long, 8.0), (&part, 8.0)];
        let again = [Point::new(98.0, 12.0), Point::new(1.0, 11.0)];
        assert_eq!(lying_on(&again, &lines), Some(1));
        assert_eq!(lying_on(&[Point::new(0.0, 70.0), Point::new(90.0, 70.0)], &lines), None);
        assert_eq!(lying_on(&[Point::new(0.0, 70.0)], &lines), None, "a place is no line");
    }

    #[test]
    fn arc_length_of_a_corner() {
        let line = Polyline::new([Point::new(0.0, 0.0), Point::new(3.0, 0.0), Point::new(3.0, 4.0)]).unwrap();
        assert_eq!(line.length(), 7.0);
        assert_eq!(line.at(5.0), Point::new(3.0, 2.0));
        assert_eq!(line.at(-1.0), Point::new(-1.0, 0.0));
        assert_eq!(line.nearest(Point::new(5.0, 1.0)).s, 4.0);
        assert_eq!(line.part(2.0, 5.0).unwrap().length(), 3.0);
        assert_eq!(line.reversed().at(4.0), Point::new(3.0, 0.0));
    }

    #[test]
    fn a_line_needs_two_places() {
        assert!(Polyline::new([Point::new(1.0, 1.0), Point::new(1.0, 1.0)]).is_none());
        assert!(Polyline::new([Point::new(1.0, f64::NAN), Point::new(1.0, 1.0)]).is_none());
    }
}
