//! A plain generator of things that no model was grown on; it shares nothing with the simulator.
//!
//! Threads of fungus as branching networks, writing by hand and in print, star-shaped hairs of leaves, fuzzy yarn, a tree
//! of vessels in a bright disc.

use std::f64::consts::TAU;
use std::io::Cursor;

use ab_glyph::{Font, FontRef, Glyph, PxScale, ScaleFont, point};
use rand::Rng;
use rand::rngs::StdRng;

const WIDTH: usize = 1100;
const HEIGHT: usize = 800;

/// Printed words' letters.
const LETTERS: &[u8] = include_bytes!("../../src/exports/font/AtkinsonHyperlegible-Regular.ttf");

/// Lines of print on a picture: more of them take long to follow.
const N_LINES: usize = 3;

/// A sheet of light, three channels, that strokes are put on.
pub(super) struct Sheet {
    light: Vec<[f64; 3]>,
}

impl Sheet {
    pub(super) fn new() -> Sheet {
        Sheet { light: vec![[0.012, 0.016, 0.03]; WIDTH * HEIGHT] }
    }

    /// A stroke along points: a ridge of this half width and colour.
    fn stroke(&mut self, points: &[[f64; 2]], half: f64, colour: [f64; 3]) {
        let lows = |i: usize| points.iter().map(|p| p[i]).fold(f64::MAX, f64::min) - 2.0 * half - 3.0;
        let highs = |i: usize| points.iter().map(|p| p[i]).fold(f64::MIN, f64::max) + 2.0 * half + 3.0;
        let (x0, x1) = (lows(0).max(0.0) as usize, highs(0).clamp(0.0, WIDTH as f64) as usize);
        let (y0, y1) = (lows(1).max(0.0) as usize, highs(1).clamp(0.0, HEIGHT as f64) as usize);
        if x0 >= x1 || y0 >= y1 {
            return;
        }
        let mut level = vec![0.0_f64; (x1 - x0) * (y1 - y0)];
        for pair in points.windows(2) {
            let [a, b] = [pair[0], pair[1]];
            let length = (b[0] - a[0]).hypot(b[1] - a[1]).max(1e-9);
            let (ux, uy) = ((b[0] - a[0]) / length, (b[1] - a[1]) / length);
            let reach = half + 3.0;
            let range = |lo: f64, hi: f64, from: usize, to: usize| {
                (
                    (lo - reach).clamp(from as f64, to as f64) as usize,
                    (hi + reach).clamp(from as f64, to as f64) as usize,
                )
            };
            let (left, right) = range(a[0].min(b[0]), a[0].max(b[0]), x0, x1);
            let (top, bottom) = range(a[1].min(b[1]), a[1].max(b[1]), y0, y1);
            for y in top..bottom {
                for x in left..right {
                    let (dx, dy) = (x as f64 - a[0], y as f64 - a[1]);
                    let along = (dx * ux + dy * uy).clamp(0.0, length);
                    let off = (dx - along * ux).hypot(dy - along * uy);
                    // A soft edge of about a pixel and a half.
                    let here = ((half - off) / 1.5 + 0.5).clamp(0.0, 1.0);
                    let at = (y - y0) * (x1 - x0) + x - x0;
                    level[at] = level[at].max(here);
                }
            }
        }
        for y in y0..y1 {
            for x in x0..x1 {
                let here = level[(y - y0) * (x1 - x0) + x - x0];
                for (c, colour) in colour.iter().enumerate() {
                    self.light[y * WIDTH + x][c] += colour * here;
                }
            }
        }
    }

    /// The photo: grain added, sRGB, PNG.
    pub(super) fn photo(&self, rng: &mut StdRng) -> Vec<u8> {
        let picture = image::RgbImage::from_fn(WIDTH as u32, HEIGHT as u32, |x, y| {
            image::Rgb(self.light[y as usize * WIDTH + x as usize].map(|light| {
                let grain: f64 = (0..4).map(|_| rng.gen_range(-0.5..0.5)).sum();
                let light = (light + grain * 0.004 * (1.0 + 8.0 * light).sqrt()).clamp(0.0, 1.0);
                let code = if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
                (255.0 * code).round() as u8
            }))
        });
        let mut png = Cursor::new(Vec::new());
        picture.write_to(&mut png, image::ImageFormat::Png).unwrap();
        png.into_inner()
    }
}

fn place(rng: &mut StdRng) -> [f64; 2] {
    [rng.gen_range(60.0..WIDTH as f64 - 60.0), rng.gen_range(60.0..HEIGHT as f64 - 60.0)]
}

/// One of the colours that hair and fibres glow in too: colour alone must not give a thing away.
fn glow(rng: &mut StdRng) -> [f64; 3] {
    let strength = rng.gen_range(0.12..0.4);
    [[0.25, 0.9, 0.75], [0.35, 0.5, 0.9], [0.75, 0.8, 0.7], [0.2, 0.8, 0.35]][rng.gen_range(0..4)]
        .map(|share: f64| share * strength)
}

/// A line that wanders: `n` steps of `step` pixels, turning up to `turn` each.
fn wander(rng: &mut StdRng, from: [f64; 2], heading: f64, n: usize, step: f64, turn: f64) -> Vec<[f64; 2]> {
    let (mut at, mut heading) = (from, heading);
    let mut line = vec![at];
    for _ in 0..n {
        heading += rng.gen_range(-turn..turn);
        at = [at[0] + step * heading.cos(), at[1] + step * heading.sin()];
        line.push(at);
    }
    line
}

/// Branching threads of a fungus.
pub(super) fn network(sheet: &mut Sheet, rng: &mut StdRng) {
    let colour = glow(rng);
    let half = rng.gen_range(2.5..4.5);
    let mut tips = vec![(place(rng), rng.gen_range(0.0..TAU))];
    for _ in 0..14 {
        let (at, heading) = tips[rng.gen_range(0..tips.len())];
        let n = rng.gen_range(8..20);
        let line = wander(rng, at, heading, n, 12.0, 0.35);
        sheet.stroke(&line, half, colour);
        let fork = line[rng.gen_range(3..line.len())];
        tips.push((fork, heading + rng.gen_range(0.6..1.3)));
        tips.push((fork, heading - rng.gen_range(0.6..1.3)));
    }
}

/// Letters of a felt pen: short bars and arcs of one width.
pub(super) fn writing(sheet: &mut Sheet, rng: &mut StdRng) {
    let colour = glow(rng);
    let half = rng.gen_range(4.0..8.0);
    let size = rng.gen_range(70.0..120.0);
    let (mut x, y) = (80.0, place(rng)[1]);
    while x < WIDTH as f64 - 100.0 {
        for _ in 0..rng.gen_range(1..4) {
            if rng.gen_bool(0.5) {
                let from = [x + rng.gen_range(0.0..0.5) * size, y + rng.gen_range(-0.5..0.0) * size];
                let to = [from[0] + rng.gen_range(-0.3..0.3) * size, from[1] + rng.gen_range(0.5..1.0) * size];
                sheet.stroke(&[from, to], half, colour);
            } else {
                let (start, sweep) = (rng.gen_range(0.0..TAU), rng.gen_range(2.5..5.5));
                let radius = rng.gen_range(0.2..0.4) * size;
                let arc: Vec<[f64; 2]> = (0..=24)
                    .map(|i| start + sweep * f64::from(i) / 24.0)
                    .map(|angle| [x + 0.3 * size + radius * angle.cos(), y + radius * angle.sin()])
                    .collect();
                sheet.stroke(&arc, half, colour);
            }
        }
        x += 0.9 * size;
    }
}

/// Hairs of leaves: stars of stiff, tapering rays.
pub(super) fn stars(sheet: &mut Sheet, rng: &mut StdRng) {
    for _ in 0..5 {
        let (middle, colour) = (place(rng), glow(rng));
        let n = rng.gen_range(4..9);
        let turn = rng.gen_range(0.0..TAU);
        for ray in 0..n {
            let angle = turn + TAU * f64::from(ray) / f64::from(n) + rng.gen_range(-0.15..0.15);
            let length = rng.gen_range(60.0..160.0);
            let wide = rng.gen_range(4.0..7.0);
            let at = |s: f64| [middle[0] + s * length * angle.cos(), middle[1] + s * length * angle.sin()];
            for part in 0..8 {
                let s = f64::from(part) / 8.0;
                sheet.stroke(&[at(s), at(s + 0.13)], wide * (1.0 - 0.85 * s), colour);
            }
        }
    }
}

/// Yarn: many fine fibres twisted round each other, some standing off.
pub(super) fn yarn(sheet: &mut Sheet, rng: &mut StdRng) {
    let colour = glow(rng).map(|light| 0.4 * light);
    let (from, heading) = ([20.0, place(rng)[1]], rng.gen_range(-0.2..0.2));
    let spine = wander(rng, from, heading, 110, 10.0, 0.06);
    let width = rng.gen_range(18.0..34.0);
    for fibre in 0..14 {
        let phase = TAU * f64::from(fibre) / 14.0;
        let twist = rng.gen_range(0.25..0.4);
        let line: Vec<[f64; 2]> =
            spine.iter().enumerate().map(|(i, at)| [at[0], at[1] + width * (phase + twist * i as f64).sin()]).collect();
        sheet.stroke(&line, 2.0, colour);
    }
    for _ in 0..25 {
        let at = spine[rng.gen_range(0..spine.len())];
        let heading = rng.gen_range(0.0..TAU);
        let n = rng.gen_range(3..9);
        let line = wander(rng, at, heading, n, 9.0, 0.5);
        sheet.stroke(&line, 1.6, colour);
    }
}

/// Lines of print, each of a size of its own.
pub(super) fn print(sheet: &mut Sheet, rng: &mut StdRng) {
    const WORDS: [&str; 6] = ["Quillfeather", "House", "slide 13", "left pinna", "Moth & Tansy", "2026-05-01"];
    let font = FontRef::try_from_slice(LETTERS).unwrap();
    let colour = glow(rng);
    let mut baseline = 0.0;
    for _ in 0..N_LINES {
        let scale = PxScale::from(rng.gen_range(50.0..160.0));
        baseline += scale.y;
        let mut x = rng.gen_range(10.0..150.0);
        for character in WORDS[rng.gen_range(0..WORDS.len())].chars() {
            let id = font.glyph_id(character);
            let glyph = Glyph { id, scale, position: point(x, baseline) };
            x += font.as_scaled(scale).h_advance(id);
            let Some(outline) = font.outline_glyph(glyph) else { continue };
            let from = outline.px_bounds().min;
            outline.draw(|dx, dy, cover| {
                let (x, y) = (from.x + dx as f32, from.y + dy as f32);
                if (0.0..WIDTH as f32).contains(&x) && (0.0..HEIGHT as f32).contains(&y) {
                    let at = y as usize * WIDTH + x as usize;
                    sheet.light[at] = [0, 1, 2].map(|c| sheet.light[at][c] + f64::from(cover) * colour[c]);
                }
            });
        }
    }
}

/// A bright disc with a tree of darker or brighter vessels that fork and grow thinner.
pub(super) fn vessels(sheet: &mut Sheet, rng: &mut StdRng) {
    let middle = [0.5 * WIDTH as f64, 0.5 * HEIGHT as f64];
    let ground = glow(rng).map(|light| 0.5 * light);
    sheet.stroke(&[middle, [middle[0] + 1.0, middle[1]]], 370.0, ground);
    let share = if rng.gen_bool(0.5) { -0.6 } else { rng.gen_range(0.8..2.0) };
    let colour = ground.map(|light| share * light);
    let root = [middle[0] + rng.gen_range(-150.0..150.0), middle[1] + rng.gen_range(-60.0..60.0)];
    let mut ends: Vec<([f64; 2], f64, f64)> =
        (0..4).map(|i| (root, TAU * f64::from(i) / 4.0 + rng.gen_range(-0.4..0.4), rng.gen_range(5.0..8.0))).collect();
    while let Some((at, heading, half)) = ends.pop() {
        let n = rng.gen_range(6..12);
        let line = wander(rng, at, heading, n, 14.0, 0.2);
        let inside = |p: &[f64; 2]| (p[0] - middle[0]).hypot(p[1] - middle[1]) < 350.0;
        let line: Vec<[f64; 2]> = line.into_iter().take_while(inside).collect();
        if line.len() < 3 || half < 1.4 {
            continue;
        }
        sheet.stroke(&line, half, colour);
        let (last, before) = (line[line.len() - 1], line[line.len() - 2]);
        let heading = (last[1] - before[1]).atan2(last[0] - before[0]);
        ends.push((last, heading + rng.gen_range(0.15..0.6), half * rng.gen_range(0.65..0.85)));
        ends.push((last, heading - rng.gen_range(0.15..0.6), half * rng.gen_range(0.65..0.85)));
    }
}
