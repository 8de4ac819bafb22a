//! Which of many supposed courses are shafts: those that stretches along them agree on, and that the edges bear out.
//!
//! Each stretch where a shaft lies alone is followed by itself. Where two stretches belong to one shaft, the course
//! from either runs along the other; where shafts were exchanged, it seldom does. So a course counts by the length of
//! the stretches that it runs along, more where these give the same course, times how steady its edges are. The best
//! are kept one by one; of the others only what does not ride on a kept one.

use rayon::prelude::*;

use super::centreline::{Trace, sigma, smoothed};
use super::courses::{Course, SEEN, turned};
use super::edges::Edges;
use super::stitches::Piece;
use super::strands::Strands;
use super::stretches::{Stretch, stretch};
use super::walks::{Sight, Step};
use crate::maths::polyline::{Polyline, boxes_touch};
use crate::maths::raster::Raster;
use crate::maths::stats::median;

/// What a stretch counts for a course that its own does not agree with.
const ALONE: f64 = 0.7;
/// Share of the stretches along a course, by length, that must agree on it for it not to be doubtful.
const AGREED: f64 = 0.5;
/// Doubt of one on which they do not, as `links::cost` counts: the user is told to look.
const DISAGREED: f64 = 8.0;
/// Share of its places at which the edges of a kept course are seen.
const LEAST_SEEN: f64 = 0.6;
/// Share of a followed, of a chained course that must be left to count: less is what hangs over at a knot.
const LEAST_LEFT: [f64; 2] = [0.5, 0.7];
/// Shortest course, widths and pixels.
const LEAST_WIDTHS: f64 = 2.0;
/// See [`LEAST_WIDTHS`].
const LEAST_PX: f64 = 12.0;
/// A place rides on a course when it lies within this share of the wider of both of its middle, and along it.
const WITHIN: f64 = 0.4;
/// Cosine of the angle up to which it lies along it.
const ALONG: f64 = 0.94;
/// Longest ride of a shaft that crosses another, widths of the wider; a course that rides longer has gone astray.
const LONGEST_RIDE: f64 = 6.0;
/// Ride from which on a course that reaches beyond a kept one's end goes on as that one, widths.
const SHARED: f64 = 2.0;
/// Length over which two courses that are joined go over into each other, to both sides, widths.
const GO_OVER: f64 = 0.5;
/// Most stretches that are followed; beyond, the photo is too crowded for it.
const MOST_STRETCHES: usize = 600;

/// A course that was kept.
struct Kept {
    line: Polyline,
    width_px: f64,
    course: Course,
}

/// The pieces of a mask's strands: those that were chained, `chained`, or what following the edges gives, whichever
/// of the two the edges bear out better.
pub(super) fn chosen(
    found: &Strands,
    depth: &Raster<f32>,
    excess: &[Raster<f32>; 3],
    mask: &Raster<bool>,
    inside: &Raster<bool>,
    chained: Vec<Piece>,
) -> Vec<Piece> {
    let edges = Edges::new(excess);
    let stretches: Vec<Stretch> =
        (0..found.strands.len()).into_par_iter().filter_map(|i| stretch(found, i, depth, &edges)).collect();
    if stretches.len() > MOST_STRETCHES {
        return chained;
    }
    let sight = Sight { edges: &edges, mask, inside };
    let mut courses: Vec<Course> = stretches.par_iter().map(|stretch| Course::followed(stretch, &sight)).collect();
    let (closed, open): (Vec<Piece>, Vec<Piece>) = chained.into_iter().partition(|piece| piece.closed);
    courses.par_extend(open.par_iter().map(|piece| Course::chained(&piece.trace, &edges)));
    let mut pieces: Vec<Piece> =
        best(&courses, &stretches).iter().filter_map(|kept| piece(&kept.course, mask)).collect();
    pieces.extend(closed);
    pieces
}

/// The courses that are kept. The first of `courses` are those that `stretches` were followed to, in their order.
fn best(courses: &[Course], stretches: &[Stretch]) -> Vec<Kept> {
    let n = stretches.len();
    let mut claimed = vec![false; n];
    let mut kept: Vec<Kept> = Vec::new();
    for (i, agreed) in in_order(courses, stretches) {
        if claimed.get(i) == Some(&true) {
            continue;
        }
        let Some((from, to)) = own_part(&courses[i].steps, stretches.get(i), &kept) else { continue };
        let mut course = courses[i].with(courses[i].steps[from..to].to_vec());
        if agreed < AGREED {
            course.doubt = course.doubt.max(DISAGREED);
        }
        if course.share_seen() < LEAST_SEEN {
            continue;
        }
        let at = match joined(&courses[i].steps, from, to, &mut kept) {
            Some(at) => at,
            None => {
                let Some(new) = worth_keeping(course, courses[i].steps.len(), i < n) else { continue };
                kept.push(new);
                kept.len() - 1
            }
        };
        claimed.par_iter_mut().enumerate().for_each(|(j, claimed)| {
            *claimed = *claimed || i == j || kept[at].course.covers(&stretches[j]);
        });
    }
    kept
}

/// The courses' numbers, the best first, and the share of the stretches along each, by length, that agree on it.
fn in_order(courses: &[Course], stretches: &[Stretch]) -> Vec<(usize, f64)> {
    let covers: Vec<Vec<usize>> = courses
        .par_iter()
        .map(|course| (0..stretches.len()).filter(|&j| course.covers(&stretches[j])).collect())
        .collect();
    let length = |of: &mut dyn Iterator<Item = &usize>| of.map(|&j| stretches[j].line.length()).sum::<f64>();
    let mut order: Vec<(f64, usize, f64)> = (0..courses.len())
        .map(|i| {
            let of = &covers[i];
            let all = length(&mut of.iter()).max(1e-9);
            let (mut sum, mut agree) = (0.0, 0.0);
            for &j in of {
                let agreed = length(&mut of.iter().filter(|k| covers[j].binary_search(k).is_ok())) / all;
                let long = stretches[j].line.length();
                sum += long * (ALONE + (1.0 - ALONE) * agreed * agreed);
                agree += long * agreed;
            }
            // A single stretch, or none, has nobody to disagree with.
            let agree = if of.len() > 1 { agree / all } else { 1.0 };
            (sum * courses[i].steady.max(0.05), i, agree)
        })
        .collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    order.into_iter().map(|(_, i, agree)| (i, agree)).collect()
}

fn worth_keeping(course: Course, whole: usize, followed: bool) -> Option<Kept> {
    let left = LEAST_LEFT[usize::from(!followed)];
    let line = Polyline::new(course.steps.iter().map(|step| step.pose.at))?;
    let width_px = median(&mut course.steps.iter().map(|step| step.pose.width_px).collect::<Vec<_>>())?;
    let long = line.length() >= (LEAST_WIDTHS * width_px).max(LEAST_PX);
    (long && course.steps.len() as f64 >= left * whole as f64).then_some(Kept { line, width_px, course })
}

impl Kept {
    /// Whether a step rides on it; the width of the wider of both then.
    fn carries(&self, step: &Step) -> Option<f64> {
        let wider = self.width_px.max(step.pose.width_px);
        let at = step.pose.at;
        if !boxes_touch(&[at, at], &self.course.bounds, wider) {
            return None;
        }
        let near = self.line.nearest(at);
        let beside = near.distance <= WITHIN * wider + 0.5 && near.s > 0.0 && near.s < self.line.length();
        let along = || self.line.tangent((near.s - 3.0).max(0.0), 6.0).dot(step.pose.along).abs() > ALONG;
        (beside && along()).then_some(wider)
    }
}

/// The part of a course, from and to, that is its own: about the stretch that it was followed from, else about the
/// middle of its longest part that rides on no kept one. `None` where that stretch itself does.
fn own_part(steps: &[Step], own: Option<&Stretch>, kept: &[Kept]) -> Option<(usize, usize)> {
    let riding: Vec<Option<f64>> = steps.iter().map(|step| kept.iter().find_map(|kept| kept.carries(step))).collect();
    let here = match own {
        Some(own) => {
            let on_own: Vec<usize> = (0..steps.len()).filter(|&k| is_on(&own.line, &steps[k])).collect();
            if 2 * on_own.iter().filter(|&&k| riding[k].is_none()).count() < on_own.len() {
                return None;
            }
            let middle = own.line.at(0.5 * own.line.length());
            let far = |k: &usize| steps[*k].pose.at.distance(middle);
            (0..steps.len()).min_by(|a, b| far(a).total_cmp(&far(b)))?
        }
        None => middle_of_longest_free(&riding),
    };
    if riding.get(here)?.is_some() {
        return None;
    }
    let mut to = cut(steps, &riding, here..steps.len()).unwrap_or(steps.len());
    let mut from = cut(steps, &riding, (0..=here).rev()).map_or(0, |k| k + 1);
    // What was not seen before a ride belongs to nobody.
    while 0 < from && from < here && steps[from].like < SEEN {
        from += 1;
    }
    while here + 1 < to && to < steps.len() && steps[to - 1].like < SEEN {
        to -= 1;
    }
    Some((from, to))
}

fn is_on(line: &Polyline, step: &Step) -> bool {
    let near = line.nearest(step.pose.at);
    near.distance < 2.0 && near.s > 0.0 && near.s < line.length()
}

fn middle_of_longest_free(riding: &[Option<f64>]) -> usize {
    let (mut longest, mut from) = ((0, 0), 0);
    for k in 0..=riding.len() {
        if riding.get(k).is_none_or(Option::is_some) {
            if k - from > longest.1 - longest.0 {
                longest = (from, k);
            }
            from = k + 1;
        }
    }
    (longest.0 + longest.1) / 2
}

/// Where, on the way through `places`, a ride begins that is too long or from which the course does not come back.
fn cut(steps: &[Step], riding: &[Option<f64>], places: impl Iterator<Item = usize>) -> Option<usize> {
    let mut ride: Option<(usize, f64)> = None;
    let mut before: Option<usize> = None;
    for k in places {
        ride = match (riding[k], ride) {
            (None, _) => None,
            (Some(_), None) => Some((k, 0.0)),
            (Some(wider), Some((start, length))) => {
                let length = length + before.map_or(0.0, |b| steps[b].pose.at.distance(steps[k].pose.at));
                if length > LONGEST_RIDE * wider {
                    return Some(start);
                }
                Some((start, length))
            }
        };
        before = Some(k);
    }
    ride.map(|(start, _)| start)
}

/// Adds a part of a course to the kept one that the course rode on up to that one's end; that one's number.
fn joined(steps: &[Step], from: usize, to: usize, kept: &mut [Kept]) -> Option<usize> {
    let last = to.checked_sub(1)?;
    let ways = [(0 < from, from, true), (to < steps.len(), last, false)];
    for (_, edge, ahead) in ways.into_iter().filter(|way| way.0) {
        for (number, kept) in kept.iter_mut().enumerate() {
            let Some(end) = shared_end(steps, edge, ahead, kept) else { continue };
            // In the direction away from the kept one's end.
            let part: Vec<Step> =
                if ahead { steps[from..to].to_vec() } else { steps[from..to].iter().rev().map(turned).collect() };
            if kept.go_on(end, part) {
                return Some(number);
            }
        }
    }
    None
}

/// The end of a kept course up to which a course rode on it before (after, where not `ahead`) its step `edge`.
fn shared_end(steps: &[Step], edge: usize, ahead: bool, kept: &Kept) -> Option<usize> {
    let at = steps[edge].pose.at;
    let near = kept.line.nearest(at);
    let width = kept.width_px.max(steps[edge].pose.width_px);
    let end = [near.s < width, near.s > kept.line.length() - width].iter().position(|&is| is)?;
    if near.distance > 1.5 * width {
        return None;
    }
    let before: Vec<usize> = if ahead { (0..edge).rev().collect() } else { (edge + 1..steps.len()).collect() };
    let ridden: f64 = before
        .iter()
        .take_while(|&&k| kept.carries(&steps[k]).is_some() || steps[k].pose.at.distance(at) < width)
        .filter(|&&k| k > 0)
        .map(|&k| steps[k].pose.at.distance(steps[k - 1].pose.at))
        .sum();
    (ridden >= SHARED * width).then_some(end)
}

impl Kept {
    /// Goes on beyond an end with `part`; whether it does: not where that would be a corner or a leap.
    fn go_on(&mut self, end: usize, part: Vec<Step>) -> bool {
        let mut steps: Vec<Step> = self.course.steps.clone();
        if end == 0 {
            steps = steps.iter().rev().map(turned).collect();
        }
        let Some(first) = part.first().map(|step| step.pose) else { return false };
        // What lies beyond where the part begins goes.
        while steps.len() > 2 && steps.last().is_some_and(|s| (first.at - s.pose.at).dot(s.pose.along) < 0.0) {
            steps.pop();
        }
        let width = self.width_px.max(first.width_px);
        let fits = steps
            .last()
            .is_some_and(|s| s.pose.along.dot(first.along) >= 0.8 && s.pose.at.distance(first.at) <= 2.0 * width);
        if !fits {
            return false;
        }
        // One course may lie a little beside the other: the line goes over from it to the other, and makes no jog.
        let over = GO_OVER * width;
        let end = steps.last().map_or(first.at, |step| step.pose.at);
        let keep = steps.iter().rposition(|step| step.pose.at.distance(end) >= over).unwrap_or(0);
        steps.truncate(keep + 1);
        steps.extend(part.into_iter().skip_while(|step| step.pose.at.distance(first.at) < over));
        let Some(line) = Polyline::new(steps.iter().map(|step| step.pose.at)) else { return false };
        self.course = self.course.with(steps);
        self.line = line;
        true
    }
}

/// A course as a trace. What lies on it is told when all shafts are known (`overlaps`).
fn piece(course: &Course, mask: &Raster<bool>) -> Option<Piece> {
    let rough = Polyline::new(course.steps.iter().map(|step| step.pose.at))?;
    let width_px = median(&mut course.steps.iter().map(|step| step.pose.width_px).collect::<Vec<_>>())?;
    let (line, _) = smoothed(&rough, sigma(width_px))?;
    let reach = 1.2 * course.mask_width_px + 2.0;
    let look = line.length().min(4.0);
    let beyond = [
        line.first() + -line.tangent(0.0, look) * reach,
        line.last() + line.tangent(line.length() - look, look) * reach,
    ];
    let at_knot = beyond.map(|p| mask.get(p.x.round() as isize, p.y.round() as isize) == Some(true));
    let trace = Trace { line, width_px: course.mask_width_px, overlaps: Vec::new(), doubt: course.doubt };
    Some(Piece { trace, at_knot, closed: false })
}

#[cfg(test)]
mod tests {
    use super::{DISAGREED, best};
    use crate::maths::point::{Point, Vec2};
    use crate::maths::polyline::Polyline;
    use crate::shafts::courses::Course;
    use crate::shafts::edges::Pose;
    use crate::shafts::stretches::Stretch;
    use crate::shafts::walks::Step;

    const WIDTH_PX: f64 = 8.0;

    fn line(from: Point, to: Point) -> Polyline {
        Polyline::new([from, to]).unwrap()
    }

    fn stretch(from: f64) -> Stretch {
        let line = line(Point::new(from, 50.0), Point::new(from + 60.0, 50.0));
        let edges = [[0.0, 9.0, 9.0]; 2];
        Stretch { line, mask_width_px: 9.0, width_px: WIDTH_PX, edges, typical: 1.0, at_knot: [true; 2] }
    }

    fn course(from: Point, to: Point) -> Course {
        let line = line(from, to);
        let step = |k: usize| {
            let pose = Pose { at: line.at(4.0 * k as f64), along: line.tangent(0.0, 4.0), width_px: WIDTH_PX };
            Step { pose, like: 1.0 }
        };
        let steps = (0..=(line.length() / 4.0) as usize).map(step).collect();
        Course { steps, mask_width_px: 9.0, steady: 1.0, bounds: line.bounds(), doubt: 0.0 }
    }

    /// Three stretches on one line and the courses followed from each, and a chain along all of them.
    fn chain_doubted(followed: impl Fn(f64) -> Course) -> f64 {
        let froms = [0.0, 100.0, 200.0];
        let mut courses: Vec<Course> = froms.map(followed).into();
        courses.push(course(Point::new(0.0, 50.0), Point::new(260.0, 50.0)));
        let kept = best(&courses, &froms.map(stretch));
        kept[0].course.doubt
    }

    #[test]
    fn a_course_on_which_its_own_stretches_do_not_agree_is_doubtful() {
        let through = |_| course(Point::new(0.0, 50.0), Point::new(260.0, 50.0));
        assert_eq!(chain_doubted(through), 0.0);
        // Each is followed along its own stretch and no further.
        let short = |from: f64| course(Point::new(from, 50.0), Point::new(from, 50.0) + Vec2::new(62.0, 0.0));
        assert_eq!(chain_doubted(short), DISAGREED);
    }
}
