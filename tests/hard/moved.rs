//! A photo turned, mirrored, enlarged or brightened is the same slide: measurements move as the photo does, or not.
//!
//! `PILUMEN_SCENES=60 cargo test --release --test main hard::moved -- --nocapture` takes more scenes and prints how
//! far measurements moved; `PILUMEN_HARD_SCENES=1` does so for scenes with debris, crossings and shafts of all widths.

use std::collections::BTreeSet;
use std::io::Cursor;

use image::{ImageBuffer, ImageFormat, Rgb};
use pilumen::maths::point::Point;
use pilumen::pipeline::{Want, read};
use pilumen::record::{Entry, Shaft};
use pilumen::settings::{Asked, Settings};
use pilumen::sim::{Ranges, Scene, photo};

use super::targets::MODEL;

/// Scenes in the suite.
const SHORT: u64 = 10;

/// Columns of the photos.
const WIDTH_PX: usize = 640;

/// How far the middle of a shaft may lie from where the photo's move takes it, pixels of the original: the ends of a
/// shaft are found to a pixel or two, and half of that moves its middle.
const SAME_PLACE_PX: f64 = 4.0;

/// Linear light of every pixel, row by row.
#[derive(Clone)]
struct Lit {
    width: usize,
    height: usize,
    light: Vec<[f64; 3]>,
}

fn light_of(code: f64) -> f64 {
    if code <= 0.040_45 { code / 12.92 } else { ((code + 0.055) / 1.055).powf(2.4) }
}

fn code_of(light: f64) -> f64 {
    if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 }
}

impl Lit {
    /// A scene with few shafts apart on a clean tape, of moderate exposure so that brightening clips nothing; with
    /// `PILUMEN_HARD_SCENES` set, one with debris, tilted shafts, trapped air and every scale, of which nothing is held.
    fn drawn(seed: u64) -> Lit {
        let mut ranges = Ranges::named("training-clear").unwrap();
        if !hard_scenes() {
            ranges.um_per_px = vec![(1.0, 1.4)];
            ranges.debris = (0.0, 0.0);
            ranges.trapped_air_share = 0.0;
            ranges.tilted_share = 0.0;
            ranges.blur_px = (0.8, 2.0);
        }
        ranges.photo_width_px = (WIDTH_PX, WIDTH_PX);
        ranges.n_shafts = (2, 5);
        ranges.least_contrast = 6.0;
        ranges.exposure = (0.25, 0.5);
        ranges.full_electrons = (8000.0, 20000.0);
        ranges.disc_share = 0.0;
        ranges.scale_bar_share = 0.0;
        ranges.png_share = 1.0;
        let photo = photo(&Scene::draw(seed, &ranges));
        let light = photo.rgb.chunks(3).map(|rgb| [0, 1, 2].map(|c| light_of(f64::from(rgb[c]) / 255.0))).collect();
        Lit { width: photo.width, height: photo.height, light }
    }

    fn made(width: usize, height: usize, at: impl Fn(usize, usize) -> [f64; 3]) -> Lit {
        let light = (0..width * height).map(|i| at(i % width, i / width)).collect();
        Lit { width, height, light }
    }

    fn at(&self, x: usize, y: usize) -> [f64; 3] {
        self.light[y * self.width + x]
    }

    /// A quarter turn: what was at (x, y) is at (height − 1 − y, x).
    fn turned(&self) -> Lit {
        Lit::made(self.height, self.width, |x, y| self.at(y, self.height - 1 - x))
    }

    fn mirrored(&self) -> Lit {
        Lit::made(self.width, self.height, |x, y| self.at(self.width - 1 - x, y))
    }

    /// Twice as many pixels a side, light between them drawn out straight: (x, y) is at (2x + ½, 2y + ½).
    fn doubled(&self) -> Lit {
        Lit::made(2 * self.width, 2 * self.height, |x, y| {
            let [(x0, x1), (y0, y1)] = [(x, self.width), (y, self.height)].map(|(at, n)| {
                let near = at / 2;
                let far = if at % 2 == 0 { near.saturating_sub(1) } else { (near + 1).min(n - 1) };
                (near, far)
            });
            let [a, b, c, d] = [self.at(x0, y0), self.at(x1, y0), self.at(x0, y1), self.at(x1, y1)];
            [0, 1, 2].map(|i| 0.5625 * a[i] + 0.1875 * (b[i] + c[i]) + 0.0625 * d[i])
        })
    }

    fn brightened(&self, by: f64) -> Lit {
        Lit { light: self.light.iter().map(|light| light.map(|light| light * by)).collect(), ..self.clone() }
    }

    fn read(&self, um_per_px: f64) -> Entry {
        let picture = ImageBuffer::from_fn(self.width as u32, self.height as u32, |x, y| {
            Rgb(self.at(x as usize, y as usize).map(|light| (code_of(light.min(1.0)) * 65_535.0).round() as u16))
        });
        let mut file = Cursor::new(Vec::new());
        picture.write_to(&mut file, ImageFormat::Png).unwrap();
        let settings = Settings::check(Asked { um_per_px: Some(um_per_px), ..Asked::default() }).unwrap();
        read("drawn.png", &file.into_inner(), &settings, &MODEL, Want::Numbers).unwrap().entry
    }
}

/// How far the measurements of shafts that both readings have moved.
#[derive(Default)]
struct Moved {
    n_shafts: usize,
    /// Shafts of one reading that the other lacks.
    n_lost: usize,
    /// Widths' change beyond what the move asks for, in shares.
    widths: Vec<f64>,
    /// The same in stated standard uncertainties.
    sds: Vec<f64>,
    /// Widths of which the program itself says, before or after, that they are doubtful; they are not counted above.
    n_doubted: usize,
    lengths: Vec<f64>,
    n_zones: usize,
    n_looks: usize,
}

/// A change of width that is shown, as a share.
const WORTH_A_LINE: f64 = 0.03;

/// What the program says against a shaft's measurements. Of every second shaft a part only is in a photo of this size,
/// which is nothing against its width.
fn doubts(shaft: &Shaft) -> Vec<&'static str> {
    shaft.concerns.iter().map(|concern| concern.code()).filter(|code| *code != "partial").collect()
}

impl Moved {
    fn add(&mut self, before: &Entry, after: &Entry, scale: f64, map: impl Fn(Point) -> Point) {
        let middle = |shaft: &Shaft| shaft.centreline[shaft.centreline.len() / 2];
        // A middle that moved along the shaft is the same shaft still: the nearest place of the line counts.
        let apart = |shaft: &Shaft, to: Point| {
            let pairs = shaft.centreline.windows(2);
            pairs.map(|pair| from_segment(to, pair[0], pair[1])).fold(f64::INFINITY, f64::min)
        };
        self.n_shafts += before.shafts.len();
        self.n_lost += after.shafts.len().saturating_sub(before.shafts.len());
        for shaft in &before.shafts {
            let to = map(middle(shaft));
            let nearest = after.shafts.iter().min_by(|a, b| apart(a, to).total_cmp(&apart(b, to)));
            let Some(same) = nearest.filter(|same| apart(same, to) < SAME_PLACE_PX * scale) else {
                self.n_lost += 1;
                continue;
            };
            self.n_zones += usize::from(same.zone != shaft.zone);
            self.n_looks += usize::from(same.look != shaft.look);
            self.lengths.push((same.length_px / scale / shaft.length_px - 1.0).abs());
            if let (Some(before), Some(after), Some(sd)) =
                (shaft.width.median_px, same.width.median_px, shaft.width.sd_px)
            {
                let doubts = doubts(shaft).into_iter().chain(doubts(same)).collect::<BTreeSet<_>>();
                let share = (after / scale / before - 1.0).abs();
                if share > WORTH_A_LINE {
                    println!(
                        "  width {before:.1} px to {:.1} px, length {:.0} px to {:.0} px, {} and {} stations, {doubts:?}",
                        after / scale,
                        shaft.length_px,
                        same.length_px / scale,
                        shaft.width.n_measured,
                        same.width.n_measured
                    );
                }
                if !doubts.is_empty() {
                    self.n_doubted += 1;
                    continue;
                }
                self.widths.push(share);
                self.sds.push((after / scale - before).abs() / sd.max(1e-9));
            }
        }
    }

    fn tell(&self, what: &str) {
        println!(
            "{what}: {} shafts, {} lost or new, {} doubted; width median {:.3} % worst {:.2} %, in stated sds {:.2} worst {:.1}; length worst {:.2} %; other zone {}, other look {}",
            self.n_shafts,
            self.n_lost,
            self.n_doubted,
            100.0 * middle_of(&self.widths),
            100.0 * worst_of(&self.widths),
            middle_of(&self.sds),
            worst_of(&self.sds),
            100.0 * worst_of(&self.lengths),
            self.n_zones,
            self.n_looks
        );
    }
}

fn from_segment(place: Point, from: Point, to: Point) -> f64 {
    let along = to - from;
    let share = ((place - from).dot(along) / along.dot(along).max(1e-12)).clamp(0.0, 1.0);
    place.distance(from + along * share)
}

fn worst_of(values: &[f64]) -> f64 {
    values.iter().copied().fold(0.0, f64::max)
}

fn middle_of(values: &[f64]) -> f64 {
    let mut values = values.to_vec();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

fn hard_scenes() -> bool {
    std::env::var_os("PILUMEN_HARD_SCENES").is_some()
}

/// Share of values that are at most `most`.
fn share_within(values: &[f64], most: f64) -> f64 {
    values.iter().filter(|value| **value <= most).count() as f64 / values.len().max(1) as f64
}

fn scenes() -> impl Iterator<Item = Lit> {
    let asked = std::env::var("PILUMEN_SCENES").ok().and_then(|n| n.parse().ok());
    (0..asked.unwrap_or(SHORT)).map(Lit::drawn)
}

#[test]
fn measurements_move_as_the_photo_does() {
    let mut all: [(&str, Moved); 5] =
        ["turned", "mirrored", "doubled", "brightened", "dimmed"].map(|what| (what, Moved::default()));
    for lit in scenes() {
        let before = lit.read(0.8);
        let (w, h) = (lit.width as f64, lit.height as f64);
        all[0].1.add(&before, &lit.turned().read(0.8), 1.0, |p| Point::new(h - 1.0 - p.y, p.x));
        all[1].1.add(&before, &lit.mirrored().read(0.8), 1.0, |p| Point::new(w - 1.0 - p.x, p.y));
        all[2].1.add(&before, &lit.doubled().read(0.4), 2.0, |p| Point::new(2.0 * p.x + 0.5, 2.0 * p.y + 0.5));
        all[3].1.add(&before, &lit.brightened(1.5).read(0.8), 1.0, |p| p);
        all[4].1.add(&before, &lit.brightened(0.6).read(0.8), 1.0, |p| p);
    }
    for (what, moved) in &all {
        moved.tell(what);
    }
    if hard_scenes() {
        return;
    }
    for (what, moved) in &all {
        assert!(moved.n_shafts >= 8, "{what}: {} shafts are too few to tell", moved.n_shafts);
        // One shaft in ten may lie so near to the border or to what the program leaves out that a hair tips the scales.
        assert!(moved.n_lost * 10 <= moved.n_shafts, "{what}: {} of {} lost or new", moved.n_lost, moved.n_shafts);
        // The noise is the same, so that most of what a stated uncertainty allows for is the same too.
        let within = share_within(&moved.sds, 3.0);
        assert!(within >= 0.85, "{what}: only {within:.2} of widths stay within three of their uncertainties");
        // Turned and mirrored, the grid of blocks in which shafts are sought lies otherwise; doubled, light between
        // pixels is drawn out straight, which blurs by a third of a pixel; brightened, only rounding is otherwise.
        let most = match *what {
            "doubled" => 0.02,
            "turned" | "mirrored" => 0.01,
            _ => 0.005,
        };
        let middle = middle_of(&moved.widths);
        assert!(middle <= most, "{what}: widths moved by {:.2} %", 100.0 * middle);
        assert!(moved.widths.len() * 2 >= moved.n_shafts, "{what}: most widths were doubted");
        // What moves and should not: about twice what was measured on these scenes, an alarm and no promise.
        let length = share_within(&moved.lengths, 0.05);
        println!("{what}: {length:.2} of lengths within a twentieth");
        assert!(length >= 0.55, "{what}: only {length:.2} of lengths stay within a twentieth");
        assert!(moved.n_zones * 3 <= moved.n_shafts, "{what}: {} zones are others", moved.n_zones);
        assert!(moved.n_looks * 4 <= moved.n_shafts, "{what}: {} looks are others", moved.n_looks);
    }
}

#[test]
fn twice_the_scale_is_twice_the_micrometres_and_the_same_pixels() {
    for lit in scenes() {
        let (fine, coarse) = (lit.read(0.8), lit.read(1.6));
        assert_eq!(fine.shafts.len(), coarse.shafts.len());
        for (fine, coarse) in fine.shafts.iter().zip(&coarse.shafts) {
            assert_eq!((&fine.centreline, fine.length_px), (&coarse.centreline, coarse.length_px));
            assert_eq!(fine.width.median_px, coarse.width.median_px);
            let twice = fine.width.median_um.map(|um| 2.0 * um);
            let near = twice.zip(coarse.width.median_um).is_none_or(|(a, b)| (a - b).abs() < 1e-9 * a);
            assert!(
                near && twice.is_some() == coarse.width.median_um.is_some(),
                "{twice:?} {:?}",
                coarse.width.median_um
            );
        }
    }
}
