//! Which lines of several pictures of one thing are the same, the pictures having moved between them.
//!
//! The lines of two pictures are drawn as maps and laid on each other ([`super::alignment`]); places on them then draw
//! the move in, each pulled to the nearest line of the other picture (iterated closest points: Besl and McKay, "A
//! method for registration of 3-D shapes", IEEE PAMI 14, 1992, 239-256; from memory). Two lines are one where the
//! shorter lies on the longer. Pictures of which too little fits have no line in common.
//!
//! Weakness: a few lines that all run nearly one way can be laid on many others. Of such pictures only a small move is
//! believed.

use kiddo::{ImmutableKdTree, SquaredEuclidean};

use super::alignment::aligned;
use super::point::Point;
use super::polyline::Polyline;
use super::raster::Raster;
use super::similarity::{Pull, Similarity, fitted};

/// Longest side of the maps that lines are drawn as, pixels.
const MAP_SIDE_PX: f64 = 512.0;
/// Sigma of a drawn line across, pixels of the map.
const DRAWN_SIGMA_PX: f64 = 1.5;
/// Distance between the places that draw the move in, pixels of the picture.
const PLACE_STEP_PX: f64 = 6.0;
/// Rounds of pulling, each with the nearest lines found anew.
const ROUNDS: usize = 6;
/// What the lines leave open stays as the maps had it, to this, pixels.
const TIE_PX: f64 = 3.0;
/// A place lies on a line within this share of its width, and at least this many pixels.
const ON_WIDTHS: f64 = 0.4;
const ON_PX: f64 = 3.0;
/// Lines that run apart by more than this at a place cross there, cosine (25°).
const ALONG: f64 = 0.9;
/// Share of the shorter line that must lie on the longer.
const LEAST_ON: f64 = 0.7;
/// Widths that differ by more than this factor are not of one line.
const WIDTHS_APART: f64 = 1.6;
/// Share of the length in common view that must lie on lines of the other picture, of the picture with less length:
/// dim lines are lost in one of two exposures, but lines that were seen twice lie on each other.
const LEAST_COMMON: f64 = 0.6;
/// Least spread of directions for a move of any size to be believed: the smaller of the two mean squares of the
/// normals' components. Two lines that cross at 30° have 0.07.
const LEAST_SPREAD: f64 = 0.06;
/// Largest move believed without it, as a share of the picture's diagonal.
const SMALL_MOVE: f64 = 0.03;

/// A line of a picture.
#[derive(Clone, Debug)]
pub struct Drawn {
    /// Where it runs, pixels.
    pub line: Polyline,
    /// Its width, pixels; absent where it is not known.
    pub width_px: Option<f64>,
}

/// The lines of one picture.
#[derive(Clone, Debug)]
pub struct Lines {
    /// Columns and rows of the picture.
    pub size_px: [f64; 2],
    /// Its lines.
    pub lines: Vec<Drawn>,
}

/// A line of a group of lines that are one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Member {
    /// Number of the picture.
    pub picture: usize,
    /// Number of the line on it.
    pub line: usize,
    /// How many times larger things are on this picture than on the first of the group.
    pub factor: f64,
}

/// All lines of all pictures, each in one group with those it is the same as; in the order of their first members.
pub fn groups(pictures: &[Lines]) -> Vec<Vec<Member>> {
    // Two lines, each by its picture and its number there, and how many times larger the second's picture is.
    type Joined = ((usize, usize), (usize, usize), f64);
    let mut joined: Vec<Joined> = Vec::new();
    for first in 0..pictures.len() {
        for second in first + 1..pictures.len() {
            if let Some(by) = laid(&pictures[first], &pictures[second]) {
                let pairs = same(&pictures[first], &pictures[second], &by);
                joined.extend(pairs.into_iter().map(|(a, b)| ((first, a), (second, b), by.factor())));
            }
        }
    }
    let mut groups: Vec<Vec<Member>> = Vec::new();
    let mut taken: Vec<Vec<bool>> = pictures.iter().map(|picture| vec![false; picture.lines.len()]).collect();
    for picture in 0..pictures.len() {
        for line in 0..pictures[picture].lines.len() {
            if taken[picture][line] {
                continue;
            }
            taken[picture][line] = true;
            let mut group = vec![Member { picture, line, factor: 1.0 }];
            let mut next = 0;
            while next < group.len() {
                let from = group[next];
                for (a, b, factor) in &joined {
                    for (here, there, factor) in [(a, b, *factor), (b, a, 1.0 / factor)] {
                        if *here == (from.picture, from.line) && !taken[there.0][there.1] {
                            taken[there.0][there.1] = true;
                            group.push(Member { picture: there.0, line: there.1, factor: from.factor * factor });
                        }
                    }
                }
                next += 1;
            }
            group.sort_by_key(|member| (member.picture, member.line));
            groups.push(group);
        }
    }
    groups
}

/// The move that lays the first picture's lines on the second's; `None` where they do not show one thing.
pub fn laid(first: &Lines, second: &Lines) -> Option<Similarity> {
    if first.lines.is_empty() || second.lines.is_empty() {
        return None;
    }
    let size = [0, 1].map(|i| first.size_px[i].max(second.size_px[i]));
    let block = (size[0].max(size[1]) / MAP_SIDE_PX).max(1.0);
    let maps = [first, second].map(|picture| map(picture, size, block));
    let unmoved = Some(Similarity::NONE);
    let sought = aligned(&maps[0], &maps[1]).map(|found| found.by.in_pixels(block));
    let diagonal = size[0].hypot(size[1]);
    let mut best: Option<(f64, Similarity)> = None;
    // A small move is tried by itself: along lines that run one way the maps may slide far.
    for start in [unmoved, sought].into_iter().flatten() {
        let Some(by) = drawn_in(first, second, start) else { continue };
        let common = common(first, second, &by);
        let corners = [(0.0, 0.0), (size[0], 0.0), (0.0, size[1]), (size[0], size[1])];
        let moved = corners.iter().map(|&(x, y)| by.shift_at(Point::new(x, y)).length()).fold(0.0, f64::max);
        let believed = moved <= SMALL_MOVE * diagonal || spread_on(first, second, &by) >= LEAST_SPREAD;
        if believed && common >= LEAST_COMMON && best.is_none_or(|(most, _)| common > most) {
            best = Some((common, by));
        }
    }
    best.map(|(_, by)| by)
}

/// Pairs of lines that are one after the move.
pub fn same(first: &Lines, second: &Lines, by: &Similarity) -> Vec<(usize, usize)> {
    let Some(back) = by.inverse() else { return Vec::new() };
    let mut pairs = Vec::new();
    for (a, one) in first.lines.iter().enumerate() {
        for (b, other) in second.lines.iter().enumerate() {
            let moved = Drawn {
                line: Polyline::new(one.line.points().iter().map(|&p| by.of(p))).unwrap_or_else(|| one.line.clone()),
                width_px: one.width_px.map(|px| px * by.factor()),
            };
            let alike = moved.width_px.zip(other.width_px).is_none_or(|(a, b)| a.max(b) < WIDTHS_APART * a.min(b));
            let inside = |p: Point| within(second.size_px, p);
            let inside_first = |p: Point| within(first.size_px, back.of(p));
            let on = share_on(&moved, other, inside).max(share_on(other, &moved, inside_first));
            if alike && on >= LEAST_ON {
                pairs.push((a, b));
            }
        }
    }
    pairs
}

/// Share of a line, as far as it is in view, that lies on another.
fn share_on(line: &Drawn, other: &Drawn, in_view: impl Fn(Point) -> bool) -> f64 {
    let reach = reach(line, other);
    let places: Vec<f64> = steps(line.line.length()).filter(|s| in_view(line.line.at(*s))).collect();
    let on = places
        .iter()
        .filter(|s| {
            let at = line.line.at(**s);
            let near = other.line.nearest(at);
            let apart = line.line.tangent(**s, ON_PX).dot(other.line.tangent(near.s, ON_PX)).abs();
            near.distance <= reach && apart >= ALONG
        })
        .count();
    // A line of which next to nothing is in view says nothing.
    if places.len() < 3 { 0.0 } else { on as f64 / places.len() as f64 }
}

fn reach(one: &Drawn, other: &Drawn) -> f64 {
    let width = one.width_px.into_iter().chain(other.width_px).fold(f64::INFINITY, f64::min);
    if width.is_finite() { (ON_WIDTHS * width).max(ON_PX) } else { ON_PX }
}

fn steps(length: f64) -> impl Iterator<Item = f64> {
    let n = (length / PLACE_STEP_PX).ceil().clamp(3.0, 2000.0);
    (0..n as usize).map(move |i| length * (i as f64 + 0.5) / n)
}

fn within(size: [f64; 2], p: Point) -> bool {
    p.x >= -0.5 && p.y >= -0.5 && p.x <= size[0] - 0.5 && p.y <= size[1] - 0.5
}

/// Share of the length in common view that lies on lines of the other picture, of the picture where it is the most.
fn common(first: &Lines, second: &Lines, by: &Similarity) -> f64 {
    let Some(back) = by.inverse() else { return 0.0 };
    let side = |from: &Lines, to: &Lines, by: &Similarity| {
        let (mut on, mut all) = (0usize, 0usize);
        for line in &from.lines {
            for s in steps(line.line.length()) {
                let at = by.of(line.line.at(s));
                if within(to.size_px, at) {
                    all += 1;
                    let along = by.of_direction(line.line.tangent(s, ON_PX)).unit();
                    let lies = |other: &Drawn| {
                        let near = other.line.nearest(at);
                        near.distance <= reach(line, other)
                            && along.dot(other.line.tangent(near.s, ON_PX)).abs() >= ALONG
                    };
                    on += usize::from(to.lines.iter().any(lies));
                }
            }
        }
        if all < 3 { 0.0 } else { on as f64 / all as f64 }
    };
    side(first, second, by).max(side(second, first, &back))
}

/// How far directions of the lines that lie on each other are spread: the smaller mean square of normals' components
/// about their main axes, 0 (all one way) to ½.
fn spread_on(first: &Lines, second: &Lines, by: &Similarity) -> f64 {
    let (mut xx, mut xy, mut yy, mut n) = (0.0, 0.0, 0.0, 0.0);
    for (a, _) in same(first, second, by) {
        let line = &first.lines[a].line;
        for s in steps(line.length()) {
            let normal = line.tangent(s, ON_PX).normal();
            xx += normal.x * normal.x;
            xy += normal.x * normal.y;
            yy += normal.y * normal.y;
            n += 1.0;
        }
    }
    if n == 0.0 {
        return 0.0;
    }
    let (xx, xy, yy) = (xx / n, xy / n, yy / n);
    0.5 * (xx + yy) - (0.25 * (xx - yy) * (xx - yy) + xy * xy).sqrt()
}

/// The move drawn in by places of the first picture's lines and the nearest places on the second's.
fn drawn_in(first: &Lines, second: &Lines, start: Similarity) -> Option<Similarity> {
    let places: Vec<(Point, f64)> = first
        .lines
        .iter()
        .flat_map(|line| steps(line.line.length()).map(|s| (line.line.at(s), line.width_px.unwrap_or(0.0))))
        .collect();
    let targets: Vec<(usize, f64)> =
        second.lines.iter().enumerate().flat_map(|(i, line)| steps(line.line.length()).map(move |s| (i, s))).collect();
    let at: Vec<[f64; 2]> = targets
        .iter()
        .map(|(i, s)| {
            let p = second.lines[*i].line.at(*s);
            [p.x, p.y]
        })
        .collect();
    let tree: ImmutableKdTree<f64, 2> = ImmutableKdTree::new_from_slice(&at).ok()?;
    let mut by = start;
    for round in 0..ROUNDS {
        // Wide at first, for the maps are coarse; then as near as lines lie on each other.
        let wide = if round < 2 { 4.0 } else { 1.0 };
        let pulls: Vec<Pull> = places
            .iter()
            .filter_map(|(place, width)| {
                let there = by.of(*place);
                let one = std::num::NonZero::new(1)?;
                let found = tree.query(&[there.x, there.y]).nearest_n::<SquaredEuclidean<f64>>(one).execute();
                let (i, s) = *targets.get(found.first()?.item as usize)?;
                let line = &second.lines[i].line;
                let near = line.nearest(there);
                let reach = wide * (ON_WIDTHS * width).max(ON_PX);
                let inside = near.s > 0.0 && near.s < line.length() && (near.s - s).abs() < 4.0 * PLACE_STEP_PX;
                let normal = line.tangent(near.s, width.max(ON_PX)).normal();
                (inside && near.distance <= reach).then(|| Pull {
                    from: *place,
                    to: line.at(near.s),
                    normal,
                    weight: 1.0,
                })
            })
            .collect();
        by = fitted(&pulls, &by, TIE_PX)?.similarity;
    }
    Some(by)
}

/// The lines as a map, 1 on a line.
fn map(picture: &Lines, size: [f64; 2], block: f64) -> Raster<f32> {
    let [width, height] = size.map(|n| (n / block).ceil().max(1.0) as usize);
    let mut map = Raster::filled(width, height, 0.0f32);
    let reach = (3.0 * DRAWN_SIGMA_PX).ceil() as isize;
    for drawn in &picture.lines {
        let n = (2.0 * drawn.line.length() / block).ceil().clamp(2.0, 20_000.0);
        for i in 0..=n as usize {
            let p = drawn.line.at(drawn.line.length() * i as f64 / n);
            let (x, y) = ((p.x + 0.5) / block - 0.5, (p.y + 0.5) / block - 0.5);
            for dy in -reach..=reach {
                for dx in -reach..=reach {
                    let (u, v) = (x.round() as isize + dx, y.round() as isize + dy);
                    let off = ((u as f64 - x).powi(2) + (v as f64 - y).powi(2)) / (DRAWN_SIGMA_PX * DRAWN_SIGMA_PX);
                    if let Some(before) = map.get(u, v) {
                        map.set(u as usize, v as usize, before.max((-0.5 * off).exp() as f32));
                    }
                }
            }
        }
    }
    map
}

#[cfg(test)]
mod tests {
    use super::{Drawn, Lines, groups, laid};
    use crate::maths::point::{Point, Vec2};
    use crate::maths::polyline::Polyline;
    use crate::maths::similarity::Similarity;

    const SIZE: [f64; 2] = [900.0, 700.0];

    fn line(at: (f64, f64), angle: f64, bend: f64, half: f64) -> Drawn {
        let points = (-30..=30).map(|i| {
            let t = half * f64::from(i) / 30.0;
            Point::new(at.0, at.1) + Vec2::from_angle(angle) * t + Vec2::from_angle(angle).normal() * (bend * t * t)
        });
        Drawn { line: Polyline::new(points).unwrap(), width_px: Some(14.0) }
    }

    fn field() -> Lines {
        let lines = vec![
            line((300.0, 200.0), 0.3, 4e-4, 200.0),
            line((500.0, 420.0), 1.4, -3e-4, 220.0),
            line((250.0, 500.0), -0.6, 2e-4, 160.0),
            line((700.0, 200.0), 2.3, 0.0, 130.0),
        ];
        Lines { size_px: SIZE, lines }
    }

    fn moved(lines: &Lines, by: &Similarity) -> Lines {
        let line = |drawn: &Drawn| Drawn {
            line: Polyline::new(drawn.line.points().iter().map(|&p| by.of(p))).unwrap(),
            width_px: drawn.width_px.map(|px| px * by.factor()),
        };
        Lines { size_px: lines.size_px, lines: lines.lines.iter().map(line).collect() }
    }

    #[test]
    fn lines_are_found_again_on_a_moved_picture_though_some_are_missing_or_broken() {
        let truth = Similarity::about(Point::new(450.0, 350.0), 0.04, 1.02, Vec2::new(31.0, -22.0));
        let first = field();
        let mut second = moved(&first, &truth);
        second.lines.reverse();
        // One is lost in the second picture, another is broken in two.
        second.lines.remove(0);
        let whole = second.lines[0].line.clone();
        second.lines[0].line = whole.part(0.0, 0.45 * whole.length()).unwrap();
        let rest = Drawn { line: whole.part(0.55 * whole.length(), whole.length()).unwrap(), width_px: Some(14.0) };
        second.lines.push(rest);
        let by = laid(&first, &second).expect("one field");
        assert!(by.of(Point::new(0.0, 0.0)).distance(truth.of(Point::new(0.0, 0.0))) < 0.3, "{by:?}");
        let groups = groups(&[first, second]);
        let members: Vec<Vec<(usize, usize)>> =
            groups.iter().map(|group| group.iter().map(|m| (m.picture, m.line)).collect()).collect();
        assert_eq!(
            members,
            [vec![(0, 0), (1, 2)], vec![(0, 1), (1, 1)], vec![(0, 2), (1, 0), (1, 3)], vec![(0, 3)]],
            "each line once"
        );
        assert!((groups[0][1].factor - 1.02).abs() < 0.002);
    }

    #[test]
    fn another_field_has_no_line_in_common() {
        let other = Lines {
            size_px: SIZE,
            lines: vec![
                line((200.0, 600.0), 0.9, -2e-4, 180.0),
                line((600.0, 300.0), -0.2, 5e-4, 200.0),
                line((400.0, 150.0), 1.9, 1e-4, 120.0),
            ],
        };
        assert_eq!(groups(&[field(), other]).len(), 7);
        assert_eq!(groups(&[field(), Lines { size_px: SIZE, lines: Vec::new() }]).len(), 4);
    }

    #[test]
    fn a_single_straight_line_is_the_same_only_after_a_small_move() {
        let one = |dy: f64| Lines { size_px: SIZE, lines: vec![line((450.0, 300.0 + dy), 0.2, 0.0, 250.0)] };
        assert_eq!(groups(&[one(0.0), one(9.0)]).len(), 1);
        assert_eq!(groups(&[one(0.0), one(150.0)]).len(), 2);
    }
}
