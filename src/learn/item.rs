//! Items of practice: drawn photos with numbered shafts, named so that everybody who asks for one gets the same.

use std::fmt;
use std::str::FromStr;

use super::answer::{Answer, Call, End, MarkedShaft, Place, Truth};
use super::atlas::simulated;
use super::drawn::{found_on, scaled, stamped_jpeg};
use crate::finding::Model;
use crate::maths::point::Point;
use crate::pipeline::{self, Want};
use crate::record::Entry;
use crate::sim::{Look, Photo, Ranges, Scene, ShaftTruth, photo, shaft_truths};

/// How hard the photos are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// Few shafts, sharp, well lit.
    Plain,
    /// As photos are.
    Usual,
    /// Dim, blurred, crossing.
    Hard,
}

impl Level {
    /// All levels.
    pub const ALL: [Level; 3] = [Level::Plain, Level::Usual, Level::Hard];

    /// 1, 2 or 3.
    pub fn number(self) -> u8 {
        self as u8 + 1
    }

    /// The level of this number.
    pub fn of(number: u8) -> Option<Level> {
        Level::ALL.into_iter().find(|level| level.number() == number)
    }
}

/// Largest number of an item: redraws of scenes without shafts take numbers beyond it.
const LAST_NUMBER: u32 = 999_999;

/// Scenes that are drawn for one item until one has shafts to ask for.
const DRAWS: u64 = 2000;

/// Most shafts that a photo of practice has: more make a photo a chore.
const MOST_SHAFTS: usize = 7;

/// On the plainest level: how many shafts, two at least, so that there is one to compare with; how long each is in view and
/// how large a piece of dirt may be, as shares of the photo's shorter side; how bright the tape is; the least gap between the edges of two, as a share of the photo's shorter side, so
/// that numbers and letters of one do not lie on another; and the most blur (a Gaussian's sigma) as a share of a shaft's
/// width, at which the edges are still seen as edges. Chosen by looking at photos; no source.
const PLAIN_SHAFTS: std::ops::RangeInclusive<usize> = 2..=3;
const PLAIN_LENGTH: f64 = 0.4;
const PLAIN_DEBRIS: f64 = 0.06;
const PLAIN_HAZE: f64 = 0.04;
const PLAIN_APART: f64 = 0.09;
const PLAIN_BLUR: f64 = 0.12;

/// A shaft is asked for when so much of it is in view, as a share of the photo's shorter side: less tells nothing.
const LEAST_SHOWN: f64 = 0.14;

/// Points of a shaft's line that are told to pages.
const LINE_POINTS: usize = 24;

/// A number's distance from its shaft's edge, pixels, and its distance from the border.
const TAG_OFF_PX: f64 = 26.0;
const TAG_MARGIN_PX: f64 = 24.0;

/// Name of an item: its level and number, `p2-17`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct ItemName {
    /// How hard it is.
    pub level: Level,
    /// Its number within the level, from 1.
    pub number: u32,
}

impl fmt::Display for ItemName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "p{}-{}", self.level.number(), self.number)
    }
}

impl FromStr for ItemName {
    type Err = String;

    fn from_str(text: &str) -> Result<ItemName, String> {
        let unknown = || format!("\"{}\" names no practice photo; a name is like p2-17", shortened(text));
        let (level, number) = text.strip_prefix('p').and_then(|rest| rest.split_once('-')).ok_or_else(unknown)?;
        let level = level.parse().ok().and_then(Level::of).ok_or_else(unknown)?;
        let number: u32 = number.parse().map_err(|_| unknown())?;
        let plain = number.to_string() == text.rsplit('-').next().unwrap_or_default();
        if !(1..=LAST_NUMBER).contains(&number) || !plain {
            return Err(unknown());
        }
        Ok(ItemName { level, number })
    }
}

/// What may be shown of a text that came from outside.
pub(super) fn shortened(text: &str) -> String {
    text.chars().take(40).map(|c| if c.is_control() { '?' } else { c }).collect()
}

/// A shaft that is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// Its number on the photo, from 1.
    pub number: usize,
    /// Its line from end A to end B, pixels.
    pub line: Vec<Point>,
    /// Whether end A and end B are in view.
    pub in_view: [bool; 2],
    /// Where its number stands, pixels.
    pub tag: Point,
    /// What is true of it.
    pub truth: Truth,
    /// True outer diameter, µm, median along it.
    pub width_um: f64,
    /// Sub-kind by which it was drawn, such as `tip-only`.
    pub kind: &'static str,
    /// Type by its build.
    pub build: &'static str,
    truth_line: Vec<Point>,
}

/// An item.
#[derive(Clone, Debug)]
pub struct Item {
    /// Its name.
    pub name: ItemName,
    /// The shafts that are asked for.
    pub shafts: Vec<Asked>,
    scene: Scene,
}

impl Item {
    /// Draws an item; the same name always gives the same one. Absent only when no scene of its number has shafts.
    pub fn drawn(name: ItemName) -> Option<Item> {
        let ranges = Ranges::practice(name.level.number());
        (0..DRAWS).find_map(|draw| {
            let seed = u64::from(name.number) + draw * (u64::from(LAST_NUMBER) + 1);
            let scene = Scene::draw(seed, &ranges);
            let side = scene.width_px.min(scene.height_px) as f64;
            let truths: Vec<ShaftTruth> =
                shaft_truths(&scene).into_iter().filter(|truth| truth.length_px >= LEAST_SHOWN * side).collect();
            let fits =
                (1..=MOST_SHAFTS).contains(&truths.len()) && (name.level != Level::Plain || is_plain(&scene, &truths));
            let shafts = (1..).zip(&truths).map(|(number, truth)| asked(&scene, truth, number, seed)).collect();
            fits.then_some(Item { name, shafts, scene })
        })
    }

    /// The answers beside what is true; `None` unless every shaft is answered once.
    pub fn marked(&self, answers: &[Answer]) -> Option<Vec<MarkedShaft>> {
        if answers.len() != self.shafts.len() {
            return None;
        }
        let answer_to = |shaft: &Asked| answers.iter().find(|answer| answer.shaft == shaft.number);
        self.shafts.iter().map(|shaft| Some(MarkedShaft { truth: shaft.truth, answer: *answer_to(shaft)? })).collect()
    }

    /// Columns and rows of its photo.
    pub fn size_px(&self) -> [usize; 2] {
        [self.scene.width_px, self.scene.height_px]
    }

    /// Micrometres per pixel of its photo.
    pub fn um_per_px(&self) -> f64 {
        self.scene.um_per_px
    }
}

/// Whether a beginner can tell the shafts of a photo apart: each is asked for, lies well free of the others, and is in
/// focus with both edges.
fn is_plain(scene: &Scene, truths: &[ShaftTruth]) -> bool {
    let side = scene.width_px.min(scene.height_px) as f64;
    let apart = |a: &ShaftTruth, b: &ShaftTruth| {
        let free = PLAIN_APART * side + 0.5 * (a.median_width_px + b.median_width_px);
        let near = |p: &Point| b.centreline_px.iter().any(|q| p.distance(*q) < free);
        !a.centreline_px.iter().any(near)
    };
    let all_apart = truths.iter().enumerate().all(|(i, a)| truths[i + 1..].iter().all(|b| apart(a, b)));
    let in_focus = truths.iter().all(|truth| {
        let blur = scene.shafts[truth.id - 1].blur_px;
        blur.iter().all(|blur| *blur <= PLAIN_BLUR * truth.median_width_px)
    });
    let long = truths.iter().all(|truth| truth.length_px >= PLAIN_LENGTH * side);
    let swept = scene.debris.iter().all(|piece| piece.long_px.max(piece.short_px) < PLAIN_DEBRIS * side);
    // A shaft of which too little is in view to be asked for would puzzle a beginner all the same.
    PLAIN_SHAFTS.contains(&truths.len())
        && shaft_truths(scene).len() == truths.len()
        && all_apart
        && in_focus
        && long
        && swept
        && scene.light.haze <= PLAIN_HAZE
}

fn asked(scene: &Scene, truth: &ShaftTruth, number: usize, seed: u64) -> Asked {
    let shaft = &scene.shafts[truth.id - 1];
    // A is the root's end for half of the shafts, by a hash of where it comes from (Knuth's multiplicative hash).
    let turned = (seed ^ (number as u64) << 7).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 63 == 1;
    let n = truth.centreline_px.len();
    let mut line: Vec<Point> = (0..LINE_POINTS).map(|i| truth.centreline_px[i * (n - 1) / (LINE_POINTS - 1)]).collect();
    let mut in_view = truth.ends_in_view;
    if turned {
        line.reverse();
        in_view.reverse();
    }
    let hair = shaft.look != Look::Fibre;
    let ends_asked = hair && (in_view[0] || in_view[1]);
    Asked {
        number,
        tag: tag(scene, &line, truth.median_width_px),
        line,
        in_view,
        truth: Truth {
            look: Call::from(shaft.look),
            place: hair.then(|| Place::from(shaft.zone)),
            base: ends_asked.then_some(if turned { End::B } else { End::A }),
        },
        width_um: truth.median_width_px * scene.um_per_px,
        kind: shaft.kind,
        build: shaft.build.code(),
        truth_line: truth.centreline_px.clone(),
    }
}

fn tag(scene: &Scene, line: &[Point], width_px: f64) -> Point {
    beside([scene.width_px, scene.height_px], line, 0.5 * width_px)
}

/// Beside the middle of a line, on the side where a picture of this size has room.
pub(super) fn beside([width, height]: [usize; 2], line: &[Point], half_width_px: f64) -> Point {
    let middle = (line.len() * 2 / 5).min(line.len() - 2);
    let at = line[middle];
    let normal = (line[middle + 1] - at).unit().normal();
    let off = half_width_px + TAG_OFF_PX;
    let within = |p: &Point| {
        (TAG_MARGIN_PX..width as f64 - TAG_MARGIN_PX).contains(&p.x)
            && (TAG_MARGIN_PX..height as f64 - TAG_MARGIN_PX).contains(&p.y)
    };
    let sides = [at + normal * off, at + normal * -off];
    sides.into_iter().find(within).unwrap_or(at)
}

/// An item with its photo and the program's reading of it.
#[derive(Clone, Debug)]
pub struct Prepared {
    /// The item.
    pub item: Item,
    /// Its photo with the words that it is simulated, JPEG.
    pub photo: Vec<u8>,
    /// What the program read; absent when it could not read the photo.
    pub entry: Option<Entry>,
    /// For each shaft asked for, the index of what the program found there.
    pub found: Vec<Option<usize>>,
}

impl Prepared {
    /// Takes the photo of an item and has the program read it.
    pub fn of(item: Item, model: &Model) -> Prepared {
        let taken = photo(&item.scene);
        let entry = read(&item, &taken, model);
        let place = |shaft: &Asked| {
            let entry = entry.as_ref()?;
            let found = found_on(&shaft.truth_line, &entry.shafts)?;
            entry.shafts.iter().position(|one| one.id == found.id)
        };
        let found = item.shafts.iter().map(place).collect();
        Prepared { photo: stamped_jpeg(&taken, simulated()), entry, found, item }
    }
}

fn read(item: &Item, taken: &Photo, model: &Model) -> Option<Entry> {
    // The program reads the photo as the camera wrote it, without the words in its corner.
    let (bytes, _) = taken.encode_as(&item.scene).ok()?;
    let settings = scaled(item.scene.um_per_px)?;
    pipeline::read(&format!("{}.jpg", item.name), &bytes, &settings, model, Want::Numbers).ok().map(|read| read.entry)
}

#[cfg(test)]
mod tests {
    use super::{Answer, Call, End, Item, ItemName, Level, Place};

    fn item(text: &str) -> Item {
        Item::drawn(text.parse().unwrap()).unwrap()
    }

    #[test]
    fn a_name_is_written_in_one_way() {
        let name: ItemName = "p2-17".parse().unwrap();
        assert_eq!((name.level, name.number, name.to_string().as_str()), (Level::Usual, 17, "p2-17"));
        for wrong in [
            "",
            "p2",
            "p4-1",
            "p0-1",
            "p1-0",
            "p1-01",
            "p1--1",
            "q1-1",
            "p1-1000000",
            "p1-9999999999",
            "p1-1 ",
            "p\u{1b}-1",
        ] {
            assert!(wrong.parse::<ItemName>().is_err(), "{wrong:?}");
        }
    }

    #[test]
    fn the_same_name_is_the_same_photo_and_others_are_not() {
        let (one, again, other) = (item("p1-3"), item("p1-3"), item("p1-4"));
        assert_eq!(one.shafts, again.shafts);
        assert_ne!(one.shafts, other.shafts);
        assert_ne!(item("p2-3").shafts, one.shafts);
    }

    #[test]
    fn items_ask_what_can_be_seen() {
        let mut looks = std::collections::BTreeMap::new();
        let (mut a, mut b) = (0, 0);
        for number in 1..=25 {
            for level in Level::ALL {
                let item = Item::drawn(ItemName { level, number }).unwrap();
                assert!((1..=7).contains(&item.shafts.len()), "{}", item.name);
                for shaft in &item.shafts {
                    *looks.entry(shaft.truth.look).or_insert(0) += 1;
                    assert_eq!(shaft.truth.place.is_none(), shaft.truth.look == Call::Fibre);
                    assert!(shaft.truth.base.is_none() || shaft.in_view.contains(&true));
                    a += usize::from(shaft.truth.base == Some(End::A));
                    b += usize::from(shaft.truth.base == Some(End::B));
                    assert_ne!(shaft.truth.place, Some(Place::Unknown));
                }
            }
        }
        assert!(looks.len() == 4 && looks.values().all(|n| *n >= 12), "{looks:?}");
        assert!(a.min(b) * 3 > a + b - a.min(b), "A is the root {a} times, B {b} times");
    }

    /// What the first lesson is like: two or three shafts, far apart, long in view, in focus.
    #[test]
    fn photos_of_the_plainest_level_are_plain() {
        for number in (1..=12).chain(5001..=5006) {
            let item = Item::drawn(ItemName { level: Level::Plain, number }).unwrap();
            assert!((2..=3).contains(&item.shafts.len()), "{}", item.name);
            let side = item.scene.width_px.min(item.scene.height_px) as f64;
            for (i, one) in item.shafts.iter().enumerate() {
                let length: f64 = one.truth_line.windows(2).map(|pair| pair[0].distance(pair[1])).sum();
                assert!(length > 0.39 * side, "{}: {length} pixels of a shaft in view", item.name);
                for other in &item.shafts[i + 1..] {
                    let gaps = one.truth_line.iter().flat_map(|p| other.truth_line.iter().map(move |q| p.distance(*q)));
                    let gap = gaps.fold(f64::INFINITY, f64::min);
                    assert!(gap > 0.09 * side, "{}: {gap} pixels between two shafts", item.name);
                }
            }
            for shaft in &item.scene.shafts {
                let width = shaft.make_at(0.5 * (shaft.from_px + shaft.to_px)).counted_width_px();
                let blur = shaft.blur_px[0].max(shaft.blur_px[1]);
                // The width in the middle may be less than the median along the shaft; not by half.
                assert!(blur <= 0.24 * width, "{}: blur {blur} of width {width}", item.name);
            }
        }
    }

    #[test]
    fn every_shaft_must_be_answered_once() {
        let item = item("p2-5");
        let answer = |shaft: usize| Answer { shaft, look: Call::Normal, place: None, base: None };
        let all: Vec<Answer> = item.shafts.iter().map(|shaft| answer(shaft.number)).collect();
        assert_eq!(item.marked(&all).unwrap().len(), item.shafts.len());
        assert!(item.marked(&all[1..]).is_none());
        let mut wrong = all.clone();
        wrong[0].shaft = 99;
        assert!(item.marked(&wrong).is_none());
    }
}
