//! The marked photo: every shaft outlined and numbered on the photo, and a legend under it, as PNG.
//!
//! Marks are drawn on the picture that is made for people, not on the photo's own pixels; places are turned from one
//! to the other. A small photo is enlarged by whole pixels, so that marks and words stay apart from each other.

mod legend;
mod looks;
mod outlined;
mod pen;
mod scale_bar;
mod stamped;
mod strokes;
mod tags;

use super::from_record::Entry;
use crate::maths::picture::Picture;
use crate::maths::point::Point;
use looks::style;
use pen::{Block, Ink, Sheet, Weight};
use strokes::Drawn;
use tags::{Wanted, place};

/// A photo whose longer side is shorter than this is enlarged, sheet pixels: below, a number would hide a shaft.
const MIN_PHOTO_SIDE: usize = 1000;

/// Enlarged at most this many times: a photo of a few pixels needs no more to be seen as such.
const MAX_ENLARGE: usize = 24;

/// The narrowest sheet, pixels: the legend's words need it whatever the photo's shape.
const MIN_WIDTH: usize = 900;

/// A unit of the sheet is its width divided by this; words of the legend are about 15 units high.
const UNITS_ACROSS: f64 = 1000.0;

/// Around the photo where it is narrower than the sheet.
const GROUND: Ink = Ink::of([225, 225, 225]);

/// Size of a shaft's number and height of its field, units.
const NUMBER: f64 = 15.0;
const NUMBER_FIELD: f64 = 20.0;

/// Free space around a number, units.
const NUMBER_MARGIN: f64 = 4.0;

/// Under a number.
const NUMBER_GROUND: Ink = Ink::of([16, 16, 16]).opacity(225);

/// The digits.
const NUMBER_INK: Ink = Ink::of([255, 255, 255]);

pub use looks::{LookMark, look_mark};
pub use outlined::{Outlined, marked_layer, outlined};
pub use stamped::stamped;

/// What fits on the sheet where.
pub(super) struct Layout {
    width: usize,
    height: usize,
    unit: f64,
    per_photo_px: f64,
    gain: f64,
}

/// The marked photo as PNG; empty only when a side is longer than a raster may be.
pub(super) fn marked(entry: &Entry, picture: &Picture) -> Vec<u8> {
    let longer = picture.width.max(picture.height).max(1);
    let enlarge = MIN_PHOTO_SIDE.div_ceil(longer).clamp(1, MAX_ENLARGE);
    let (w, h) = (picture.width * enlarge, picture.height * enlarge);
    let width = w.max(MIN_WIDTH);
    let mut layout = Layout {
        width,
        height: 0,
        unit: width as f64 / UNITS_ACROSS,
        per_photo_px: enlarge as f64 / picture.shrink[0],
        gain: picture.gain,
    };
    // Once on a sheet of one pixel, to learn how high the legend will be.
    let Some(mut scrap) = Sheet::new(1, 1, GROUND) else { return Vec::new() };
    layout.height = legend::panel(&mut scrap, entry, &layout, h as f64).ceil() as usize;
    let Some(mut sheet) = Sheet::new(layout.width as u32, layout.height as u32, GROUND) else { return Vec::new() };

    let left = (width - w) / 2;
    sheet.picture(picture, left, 0, enlarge);
    let photo = Block { x: left as f64, y: 0.0, w: w as f64, h: h as f64 };
    let to_sheet = |at: Point| {
        let at = picture.from_photo(at);
        Point::new(photo.x + (at.x + 0.5) * enlarge as f64, (at.y + 0.5) * enlarge as f64)
    };
    // Beside a narrow photo there is room for numbers as well.
    let room = Block { x: 0.0, w: width as f64, ..photo };
    marks(&mut sheet, entry, room, layout.unit, to_sheet);
    legend::panel(&mut sheet, entry, &layout, h as f64);
    sheet.png()
}

/// Draws the shafts' marks, and their numbers within `room`.
fn marks(sheet: &mut Sheet, entry: &Entry, room: Block, unit: f64, to_sheet: impl Fn(Point) -> Point) {
    let mut shafts: Vec<Drawn> = entry.shafts.iter().map(|shaft| Drawn::of(shaft, &to_sheet)).collect();
    shafts.retain(|drawn| drawn.centreline.len() >= 2);
    // What matters most lies on top: ordinary shafts first, then the rest as found.
    let mut order: Vec<&Drawn> = shafts.iter().collect();
    order.sort_by_key(|drawn| drawn.shaft.class() != "normal");
    order.iter().for_each(|drawn| drawn.lines(sheet, unit));
    order.iter().for_each(|drawn| drawn.ends(sheet, unit));

    let number = |drawn: &Drawn| drawn.shaft.id.to_string();
    let wanted: Vec<Wanted> = shafts
        .iter()
        .map(|drawn| Wanted {
            centreline: &drawn.centreline,
            half_width: drawn.half_width + 3.0 * unit,
            w: (sheet.words_width(&number(drawn), NUMBER * unit, Weight::Bold) + 11.0 * unit).max(NUMBER_FIELD * unit),
            h: NUMBER_FIELD * unit,
        })
        .collect();
    let placed = place(&wanted, room, NUMBER_MARGIN * unit);
    for (drawn, tag) in shafts.iter().zip(&placed) {
        let style = style(drawn.shaft.look);
        let line = [tag.foot, tag.block.middle()];
        sheet.line(&line, style.casing, 2.6 * unit, &[]);
        sheet.line(&line, style.ink, 1.2 * unit, &[]);
    }
    for (drawn, tag) in shafts.iter().zip(&placed) {
        let style = style(drawn.shaft.look);
        let rim = if style.ink == Ink::of([0, 0, 0]) { NUMBER_INK } else { style.ink };
        sheet.block(tag.block.grown(1.5 * unit), 6.0 * unit, rim);
        sheet.block(tag.block, 5.0 * unit, NUMBER_GROUND.opacity(255));
        let (words, middle) = (number(drawn), tag.block.middle());
        let w = sheet.words_width(&words, NUMBER * unit, Weight::Bold);
        sheet.words(
            &words,
            middle.x - w / 2.0,
            middle.y + 0.34 * NUMBER * unit,
            NUMBER * unit,
            Weight::Bold,
            NUMBER_INK,
        );
    }
}
