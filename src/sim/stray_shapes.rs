//! The lines that things which are neither hair nor fibre are made of, by simple rules of growth.

use std::collections::VecDeque;
use std::f64::consts::{PI, TAU};

use crate::maths::point::{Point, Vec2};

use super::dice::Dice;
use super::scene::Scene;
use super::strays::{StrayKind, Stroke};
use super::texture;

/// Step along a drawn line, pixels.
const STEP_PX: f64 = 6.0;
/// Most lines of one stray thing: growth by doubling ends here.
const MOST_STROKES: usize = 120;

/// The lines of one thing of a kind.
pub(super) fn strokes(scene: &Scene, kind: StrayKind, dice: &mut Dice) -> Vec<Stroke> {
    match kind {
        StrayKind::Threads => threads(scene, dice),
        StrayKind::Tree => tree(scene, dice),
        StrayKind::Barbs => barbs(scene, dice),
        StrayKind::Walls => walls(scene, dice),
        StrayKind::Stars => star(scene, dice),
        StrayKind::Yarn => yarn(scene, dice),
        StrayKind::Script => script(scene, dice),
        StrayKind::Print => print(scene, dice),
        StrayKind::Cracks => cracks(scene, dice),
    }
}

fn towards(angle: f64) -> Vec2 {
    Vec2::new(libm::cos(angle), libm::sin(angle))
}

fn anywhere(scene: &Scene, dice: &mut Dice) -> Point {
    let (w, h) = (scene.width_px as f64, scene.height_px as f64);
    Point::new(dice.uniform(0.08 * w, 0.92 * w), dice.uniform(0.08 * h, 0.92 * h))
}

/// A place on the photo's border and a direction into the photo.
fn from_border(scene: &Scene, dice: &mut Dice) -> (Point, f64) {
    let (w, h) = (scene.width_px as f64, scene.height_px as f64);
    let t = dice.uniform(0.2, 0.8);
    let (at, inwards) = match dice.whole(0, 3) {
        0 => (Point::new(t * w, -10.0), 0.5 * PI),
        1 => (Point::new(w + 10.0, t * h), PI),
        2 => (Point::new(t * w, h + 10.0), -0.5 * PI),
        _ => (Point::new(-10.0, t * h), 0.0),
    };
    (at, inwards + dice.uniform(-0.6, 0.6))
}

/// A line that wanders off, its direction moved at every step; the place and direction at its end.
fn wander(from: Point, heading: f64, length_px: f64, turn: f64, dice: &mut Dice) -> (Vec<Point>, f64) {
    let (mut at, mut heading) = (from, heading);
    // The turn itself wanders, so that a line bends rather than trembles.
    let mut bend = 0.0;
    let mut points = vec![at];
    for _ in 0..(length_px / STEP_PX).ceil().max(1.0) as usize {
        bend = 0.85 * bend + turn * dice.standard_normal();
        heading += bend;
        at = at + towards(heading) * STEP_PX;
        points.push(at);
    }
    (points, heading)
}

/// A stroke whose half width goes evenly from one value to another.
fn tapered(points: Vec<Point>, from_px: f64, to_px: f64) -> Stroke {
    let last = (points.len() - 1).max(1) as f64;
    let half_px = (0..points.len()).map(|i| from_px + (to_px - from_px) * i as f64 / last).collect();
    Stroke { points, half_px }
}

/// Half a line's width, pixels.
fn half(dice: &mut Dice) -> f64 {
    dice.log_uniform(2.2, 11.0)
}

/// Branching threads: each thread puts out others along its way.
fn threads(scene: &Scene, dice: &mut Dice) -> Vec<Stroke> {
    let half_px = half(dice);
    let turn = dice.uniform(0.004, 0.02);
    let spacing = half_px * dice.uniform(12.0, 50.0);
    let (from, heading) =
        if dice.chance(0.5) { from_border(scene, dice) } else { (anywhere(scene, dice), dice.uniform(0.0, TAU)) };
    let mut tips = vec![(from, heading, 0)];
    let mut strokes = Vec::new();
    while let Some((at, heading, generation)) = tips.pop() {
        if strokes.len() >= MOST_STROKES / 3 {
            break;
        }
        let length = scene.half_diagonal_px() * dice.log_uniform(0.2, 0.9) / (1.0 + 0.5 * generation as f64);
        let (points, _) = wander(at, heading, length, turn, dice);
        let mut next = spacing * dice.uniform(0.5, 1.5);
        while generation < 3 && next < length {
            let i = ((next / STEP_PX) as usize).min(points.len() - 2);
            let along = (points[i + 1] - points[i]).angle();
            let side = dice.pick(&[-1.0, 1.0]);
            tips.push((points[i], along + side * dice.uniform(0.5, 1.4), generation + 1));
            next += spacing * dice.uniform(0.5, 1.5);
        }
        let thin = half_px * libm::pow(0.9, generation as f64);
        strokes.push(tapered(points, thin, thin * dice.uniform(0.8, 1.0)));
    }
    strokes
}

/// A stem that forks, and its branches in turn.
fn tree(scene: &Scene, dice: &mut Dice) -> Vec<Stroke> {
    let (from, heading) =
        if dice.chance(0.6) { from_border(scene, dice) } else { (anywhere(scene, dice), dice.uniform(0.0, TAU)) };
    let turn = dice.uniform(0.004, 0.02);
    let long = dice.uniform(10.0, 28.0);
    let mut tips = VecDeque::from([(from, heading, dice.log_uniform(5.0, 16.0))]);
    let mut strokes = Vec::new();
    while let Some((at, heading, half_px)) = tips.pop_front() {
        if strokes.len() >= MOST_STROKES {
            break;
        }
        let (points, heading) = wander(at, heading, half_px * long * dice.uniform(0.5, 1.5), turn, dice);
        let end = points[points.len() - 1];
        strokes.push(tapered(points, half_px, 0.93 * half_px));
        // Two branches carry what the stem did: the cubes of their widths add up (Murray's law, from memory).
        let share = dice.uniform(0.12, 0.5);
        let wide = 0.9 * half_px * libm::cbrt(1.0 - share);
        let slim = 0.9 * half_px * libm::cbrt(share);
        let side = dice.pick(&[-1.0, 1.0]);
        for (half_px, off) in [(wide, dice.uniform(0.05, 0.4)), (slim, -dice.uniform(0.4, 1.1))] {
            if half_px > 1.3 {
                tips.push_back((end, heading + side * off, half_px));
            }
        }
    }
    strokes
}

/// A quill across the photo with barbs at even distances.
fn barbs(scene: &Scene, dice: &mut Dice) -> Vec<Stroke> {
    let (from, heading) = from_border(scene, dice);
    let half_px = dice.log_uniform(4.0, 14.0);
    let (quill, _) = wander(from, heading, 2.0 * scene.half_diagonal_px(), 0.002, dice);
    let spacing = half_px * dice.uniform(3.0, 9.0);
    let (lean, length) = (dice.uniform(0.35, 1.1), half_px * dice.uniform(15.0, 50.0));
    let barb = half_px * dice.uniform(0.25, 0.6);
    let mut strokes = Vec::new();
    let mut next = spacing;
    while next < (quill.len() - 2) as f64 * STEP_PX && strokes.len() < MOST_STROKES {
        let i = (next / STEP_PX) as usize;
        let along = (quill[i + 1] - quill[i]).angle();
        for side in [-1.0, 1.0] {
            let heading = along + side * lean * dice.uniform(0.85, 1.15);
            let (points, _) = wander(quill[i], heading, length * dice.uniform(0.7, 1.2), 0.006, dice);
            strokes.push(tapered(points, barb, 0.5 * barb));
        }
        next += spacing * dice.uniform(0.8, 1.2);
    }
    strokes.push(tapered(quill, half_px, 0.5 * half_px));
    strokes
}

/// Walls of cells that lie like bricks, with their corners moved.
fn walls(scene: &Scene, dice: &mut Dice) -> Vec<Stroke> {
    let half_px = dice.log_uniform(2.0, 6.0);
    let wide = half_px * dice.uniform(12.0, 40.0);
    let tall = wide * dice.uniform(0.4, 1.0);
    let angle = dice.uniform(0.0, PI);
    let (right, down) = (towards(angle) * wide, towards(angle + 0.5 * PI) * tall);
    let seed = dice.seed();
    let origin = anywhere(scene, dice);
    let n = dice.whole(5, 9) as i32;
    // Bricks with their corners moved: every other row lies half a cell further on.
    let corner = |i: i32, j: i32| {
        let off = |salt: u32| texture::over(seed ^ salt, i as f32 * 3.7, j as f32 * 3.7) as f64;
        let shift = if j.rem_euclid(2) == 1 { 0.5 } else { 0.0 };
        origin + right * (i as f64 + shift + 0.35 * off(1)) + down * (j as f64 + 0.35 * off(2))
    };
    let mut strokes = Vec::new();
    let mut line = |points: Vec<Point>| {
        let n = points.len();
        strokes.push(Stroke { points, half_px: vec![half_px; n] });
    };
    for j in -n / 2..=n / 2 {
        line((-n / 2..=n / 2).map(|i| corner(i, j)).collect());
        for i in -n / 2..=n / 2 {
            line(vec![corner(i, j), corner(i, j + 1)]);
        }
    }
    strokes
}

/// Arms from one middle.
fn star(scene: &Scene, dice: &mut Dice) -> Vec<Stroke> {
    let at = anywhere(scene, dice);
    let half_px = half(dice);
    let length = half_px * dice.uniform(12.0, 45.0);
    let n = dice.whole(3, 12);
    let first = dice.uniform(0.0, TAU);
    let bend = dice.uniform(0.001, 0.01);
    (0..n)
        .map(|i| {
            let heading = first + TAU * (i as f64 + dice.uniform(-0.25, 0.25)) / n as f64;
            let (points, _) = wander(at, heading, length * dice.uniform(0.6, 1.2), bend, dice);
            tapered(points, half_px, half_px * 0.15)
        })
        .collect()
}

/// Filaments that wind around one course, and loose ends.
fn yarn(scene: &Scene, dice: &mut Dice) -> Vec<Stroke> {
    let (from, heading) = from_border(scene, dice);
    let (core, _) = wander(from, heading, 2.2 * scene.half_diagonal_px(), 0.002, dice);
    let half_px = dice.log_uniform(1.8, 5.0);
    let radius = half_px * dice.uniform(5.0, 14.0);
    let pitch = radius * dice.uniform(4.0, 14.0);
    let n = dice.whole(9, 24);
    let mut strokes = Vec::new();
    for i in 0..n {
        let (phase, r) = (TAU * i as f64 / n as f64, radius * dice.uniform(0.3, 1.0));
        let wobble = dice.seed();
        let points: Vec<Point> = (0..core.len() - 1)
            .map(|k| {
                let s = k as f64 * STEP_PX;
                let normal = (core[k + 1] - core[k]).unit().normal();
                let stray = 0.3 * texture::along(wobble, (s / (2.0 * pitch)) as f32) as f64;
                core[k] + normal * (r * (libm::sin(TAU * s / pitch + phase) + stray))
            })
            .collect();
        strokes.push(tapered(points, half_px, half_px));
    }
    for _ in 0..dice.whole(4, 24) {
        let k = dice.whole(0, core.len() - 2);
        let heading = (core[k + 1] - core[k]).angle() + dice.uniform(-1.2, 1.2);
        let (points, _) = wander(core[k], heading, radius * dice.uniform(3.0, 10.0), 0.03, dice);
        strokes.push(tapered(points, half_px, half_px));
    }
    strokes
}

/// A word: loops along a line, by a round or a broad pen.
fn script(scene: &Scene, dice: &mut Dice) -> Vec<Stroke> {
    let at = anywhere(scene, dice);
    let line = towards(dice.uniform(-0.4, 0.4));
    let up = line.normal();
    let half_px = dice.log_uniform(2.0, 8.0);
    let size = half_px * dice.uniform(5.0, 14.0);
    let nib = dice.chance(0.5).then(|| dice.uniform(0.0, PI));
    let seed = dice.seed();
    let n = dice.whole(60, 260);
    let slant = dice.uniform(0.0, 0.5);
    let pace = dice.uniform(0.5, 1.2);
    let step = 0.22;
    let points: Vec<Point> = (0..n)
        .map(|i| {
            let t = i as f64 * step;
            let high = 0.6 + 0.5 * texture::along(seed, (t / 4.0) as f32) as f64;
            let wide = 0.7 + 0.4 * texture::along(seed ^ 7, (t / 5.0) as f32) as f64;
            let y = size * high * libm::sin(t);
            at + line * (size * (0.28 * pace * t + 0.45 * wide * libm::cos(t)) + slant * y) + up * y
        })
        .collect();
    let half_px = (0..n)
        .map(|i| {
            let (a, b) = (points[i.saturating_sub(1)], points[(i + 1).min(n - 1)]);
            nib.map_or(half_px, |nib| half_px * (0.35 + 0.65 * libm::sin((b - a).angle() - nib).abs()))
        })
        .collect();
    vec![Stroke { points, half_px }]
}

/// Rows of signs made of bars and bows.
fn print(scene: &Scene, dice: &mut Dice) -> Vec<Stroke> {
    let at = anywhere(scene, dice);
    let angle = dice.uniform(-0.3, 0.3);
    let (right, down) = (towards(angle), towards(angle + 0.5 * PI));
    let size = dice.log_uniform(40.0, 200.0);
    let half_px = (size * dice.uniform(0.035, 0.09)).max(1.5);
    let mut strokes = Vec::new();
    for row in 0..dice.whole(1, 3) {
        for column in 0..dice.whole(4, 12) {
            let origin = at + right * (0.85 * size * column as f64) + down * (1.5 * size * row as f64);
            let place = |x: f64, y: f64| origin + right * (x * size) + down * (y * size);
            for _ in 0..dice.whole(1, 3) {
                let mut line = |points: Vec<Point>| {
                    let n = points.len();
                    strokes.push(Stroke { points, half_px: vec![half_px; n] });
                };
                let x = dice.pick(&[0.0, 0.3, 0.6]);
                let y = dice.pick(&[0.0, 0.5, 1.0]);
                match dice.whole(0, 3) {
                    0 => line(vec![place(x, 0.0), place(x, 1.0)]),
                    1 => line(vec![place(0.0, y), place(0.6, y)]),
                    2 => line(vec![place(0.0, 0.0), place(0.6, 1.0)]),
                    _ => {
                        let (from, turn) = (dice.uniform(0.0, TAU), dice.uniform(0.5 * TAU, TAU));
                        let bowl = |i: usize| towards(from + turn * i as f64 / 16.0);
                        line((0..=16).map(|i| place(0.3 + 0.3 * bowl(i).x, 0.5 + 0.4 * bowl(i).y)).collect());
                    }
                }
            }
        }
    }
    strokes
}

/// Straight pieces with sharp turns, and cracks that lead off.
fn cracks(scene: &Scene, dice: &mut Dice) -> Vec<Stroke> {
    let half_px = dice.log_uniform(1.8, 6.0);
    let piece = half_px * dice.uniform(8.0, 30.0);
    let mut tips = vec![(anywhere(scene, dice), dice.uniform(0.0, TAU), half_px, dice.whole(4, 20))];
    let mut strokes = Vec::new();
    while let Some((mut at, mut heading, half_px, n)) = tips.pop() {
        if strokes.len() >= MOST_STROKES / 3 {
            break;
        }
        let mut points = vec![at];
        for _ in 0..n {
            heading += dice.uniform(-0.7, 0.7);
            at = at + towards(heading) * (piece * dice.uniform(0.4, 1.6));
            points.push(at);
            if n > 3 && dice.chance(0.2) {
                tips.push((at, heading + dice.pick(&[-1.0, 1.0]) * dice.uniform(0.6, 1.6), 0.8 * half_px, n / 2));
            }
        }
        strokes.push(tapered(points, half_px, 0.4 * half_px));
    }
    strokes
}
