//! Things that no model was grown on: are they held to be unknown, rather than hair?
//!
//! Drawn here by a plain generator of its own that shares nothing with the simulator: threads of fungus as branching
//! networks, strokes of writing, star-shaped hairs of leaves, fuzzy yarn. `RENEW_GOLDEN=1` rewrites the table in
//! docs/accuracy.md.

use std::fmt::Write;
use std::io::Cursor;

use pilumen::finding::model_from_bytes;
use pilumen::pipeline::{self, Want};
use pilumen::settings::Settings;
use rand::rngs::StdRng;
use rand::{Rng, SeedableRng};

use crate::docs::text;

const WIDTH: usize = 1100;
const HEIGHT: usize = 800;

/// Photos of each kind.
const N_PHOTOS: u64 = 4;

/// Between these the table stands in docs/accuracy.md.
const MARKS: [&str; 2] = ["<!-- strangers -->", "<!-- end of strangers -->"];

/// A sheet of light, three channels, that strokes are put on.
struct Sheet {
    light: Vec<[f64; 3]>,
}

impl Sheet {
    fn new() -> Sheet {
        Sheet { light: vec![[0.012, 0.016, 0.03]; WIDTH * HEIGHT] }
    }

    /// A stroke along points: a ridge of this half width and colour.
    fn stroke(&mut self, points: &[[f64; 2]], half: f64, colour: [f64; 3]) {
        let mut level = vec![0.0_f64; 0];
        let lows = |i: usize| points.iter().map(|p| p[i]).fold(f64::MAX, f64::min) - 2.0 * half - 3.0;
        let highs = |i: usize| points.iter().map(|p| p[i]).fold(f64::MIN, f64::max) + 2.0 * half + 3.0;
        let (x0, x1) = (lows(0).max(0.0) as usize, highs(0).clamp(0.0, WIDTH as f64) as usize);
        let (y0, y1) = (lows(1).max(0.0) as usize, highs(1).clamp(0.0, HEIGHT as f64) as usize);
        if x0 >= x1 || y0 >= y1 {
            return;
        }
        level.resize((x1 - x0) * (y1 - y0), 0.0);
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
    fn photo(&self, rng: &mut StdRng) -> Vec<u8> {
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
fn network(sheet: &mut Sheet, rng: &mut StdRng) {
    let colour = glow(rng);
    let half = rng.gen_range(2.5..4.5);
    let mut tips = vec![(place(rng), rng.gen_range(0.0..6.28))];
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
fn writing(sheet: &mut Sheet, rng: &mut StdRng) {
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
                let (start, sweep) = (rng.gen_range(0.0..6.28), rng.gen_range(2.5..5.5));
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
fn stars(sheet: &mut Sheet, rng: &mut StdRng) {
    for _ in 0..5 {
        let (middle, colour) = (place(rng), glow(rng));
        let n = rng.gen_range(4..9);
        let turn = rng.gen_range(0.0..6.28);
        for ray in 0..n {
            let angle = turn + 6.28 * f64::from(ray) / f64::from(n) + rng.gen_range(-0.15..0.15);
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
fn yarn(sheet: &mut Sheet, rng: &mut StdRng) {
    let colour = glow(rng).map(|light| 0.4 * light);
    let (from, heading) = ([20.0, place(rng)[1]], rng.gen_range(-0.2..0.2));
    let spine = wander(rng, from, heading, 110, 10.0, 0.06);
    let width = rng.gen_range(18.0..34.0);
    for fibre in 0..14 {
        let phase = 6.28 * f64::from(fibre) / 14.0;
        let twist = rng.gen_range(0.25..0.4);
        let line: Vec<[f64; 2]> =
            spine.iter().enumerate().map(|(i, at)| [at[0], at[1] + width * (phase + twist * i as f64).sin()]).collect();
        sheet.stroke(&line, 2.0, colour);
    }
    for _ in 0..25 {
        let at = spine[rng.gen_range(0..spine.len())];
        let heading = rng.gen_range(0.0..6.28);
        let n = rng.gen_range(3..9);
        let line = wander(rng, at, heading, n, 9.0, 0.5);
        sheet.stroke(&line, 1.6, colour);
    }
}

type Kind = (&'static str, fn(&mut Sheet, &mut StdRng));

const KINDS: [Kind; 4] = [
    ("branching threads", network),
    ("strokes of writing", writing),
    ("star-shaped hairs of leaves", stars),
    ("fuzzy yarn", yarn),
];

#[test]
fn strangers_are_caught_as_the_documents_say() {
    let model = model_from_bytes(include_bytes!("../models/shaft-v1.json")).unwrap();
    let mut table = String::from(
        "| thing | photos | traced as shafts | novel | not called a hair | called infected |\n|---|---|---|---|---|---|\n",
    );
    let mut all = [0_usize; 4];
    for (at, (name, draw)) in KINDS.into_iter().enumerate() {
        let mut counts = [0_usize; 4];
        for n in 0..N_PHOTOS {
            let mut rng = StdRng::seed_from_u64(1000 * at as u64 + n);
            let mut sheet = Sheet::new();
            draw(&mut sheet, &mut rng);
            let bytes = sheet.photo(&mut rng);
            if let Some(folder) = std::env::var_os("SHOW_STRANGERS") {
                std::fs::write(std::path::Path::new(&folder).join(format!("{at}-{n}.png")), &bytes).unwrap();
            }
            let read = pipeline::read("stranger.png", &bytes, &Settings::default(), &model, Want::Numbers).unwrap();
            for shaft in &read.entry.shafts {
                counts[0] += 1;
                counts[1] += usize::from(shaft.novelty > 1.0);
                counts[2] += usize::from(matches!(shaft.class(), "fibre" | "undetermined"));
                counts[3] += usize::from(shaft.class() == "infected");
            }
        }
        all.iter_mut().zip(counts).for_each(|(all, n)| *all += n);
        let _ =
            writeln!(table, "| {name} | {N_PHOTOS} | {} | {} | {} | {} |", counts[0], counts[1], counts[2], counts[3]);
    }
    let n_photos = N_PHOTOS * KINDS.len() as u64;
    let _ = writeln!(table, "| all | {n_photos} | {} | {} | {} | {} |", all[0], all[1], all[2], all[3]);
    let accuracy = text("docs/accuracy.md");
    let (before, rest) = accuracy.split_once(MARKS[0]).expect("docs/accuracy.md has a place for the table");
    let (told, after) = rest.split_once(MARKS[1]).expect("docs/accuracy.md has a place for the table");
    if std::env::var_os("RENEW_GOLDEN").is_some() {
        std::fs::write("docs/accuracy.md", format!("{before}{}\n{table}{}{after}", MARKS[0], MARKS[1])).unwrap();
        return;
    }
    assert_eq!(told.trim(), table.trim(), "what is caught changed; look at it, then RENEW_GOLDEN=1");
}
