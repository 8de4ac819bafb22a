//! The photo with its shafts outlined and numbered and a scale bar, without words: for pages of any language.

use super::super::from_record::Entry;
use super::pen::{Block, Ink, Sheet, Weight};
use super::scale_bar::scale_bar;
use super::{GROUND, MAX_ENLARGE, marks};
use crate::maths::picture::Picture;
use crate::maths::point::Point;

/// Units across the photo: marks and numbers are larger than on the marked photo, because on a page the photo is
/// smaller than on a screen; a number is then about 7 points high on half a page.
const UNITS_ACROSS: f64 = 640.0;

/// A photo whose longer side is shorter than this is enlarged by whole pixels: below, a number would hide a shaft.
const MIN_SIDE: usize = 900;

/// A photo whose longer side is longer than this is reduced: 300 dots an inch over the width of a page.
const MAX_SIDE: usize = 2000;

/// Sizes of the scale bar, units.
const BAR_MARGIN: f64 = 12.0;
const BAR_THICK: f64 = 4.0;
const BAR_WORDS: f64 = 16.0;

/// Behind the scale bar, so that it shows on bright and dark ground.
const BAR_GROUND: Ink = Ink::of([255, 255, 255]);
const BAR_INK: Ink = Ink::of([0, 0, 0]);

/// A photo made for a page.
#[derive(Clone, Debug, PartialEq)]
pub struct Outlined {
    /// The photo with its marks.
    pub picture: Picture,
    /// What the scale bar is long, such as `200 µm`; absent when there is none.
    pub bar: Option<String>,
}

/// The photo with its shafts outlined and numbered; `None` when a side is longer than a raster may be.
pub fn outlined(entry: &Entry, picture: &Picture) -> Option<Outlined> {
    let reduced = picture.reduced(picture.width.max(picture.height).div_ceil(MAX_SIDE));
    let longer = reduced.width.max(reduced.height).max(1);
    drawn(entry, &reduced, MIN_SIDE.div_ceil(longer).clamp(1, MAX_ENLARGE))
}

/// The same on the picture as it is: neither reduced nor enlarged.
pub fn marked_layer(entry: &Entry, picture: &Picture) -> Option<Picture> {
    drawn(entry, picture, 1).map(|drawn| drawn.picture)
}

fn drawn(entry: &Entry, picture: &Picture, enlarge: usize) -> Option<Outlined> {
    let (w, h) = (picture.width * enlarge, picture.height * enlarge);
    let mut sheet = Sheet::new(w as u32, h as u32, GROUND)?;
    sheet.picture(picture, 0, 0, enlarge);
    // By the longer side: an upright photo is shown as small as a level one.
    let unit = w.max(h) as f64 / UNITS_ACROSS;
    let to_sheet = |at: Point| {
        let at = picture.from_photo(at);
        Point::new((at.x + 0.5) * enlarge as f64, (at.y + 0.5) * enlarge as f64)
    };
    let room = Block { x: 0.0, y: 0.0, w: w as f64, h: h as f64 };
    marks(&mut sheet, entry, room, unit, to_sheet);

    let per_photo_px = enlarge as f64 / picture.shrink[0];
    let bar = entry.photo.scale.and_then(|scale| scale_bar(scale, w as f64 / per_photo_px));
    if let Some(bar) = &bar {
        let length = bar.length_px * per_photo_px;
        let wide = length.max(sheet.words_width(&bar.caption, BAR_WORDS * unit, Weight::Bold));
        let field = Block {
            x: w as f64 - wide - 3.0 * BAR_MARGIN * unit,
            y: h as f64 - (BAR_WORDS + BAR_THICK + 2.5 * BAR_MARGIN) * unit,
            w: wide + 2.0 * BAR_MARGIN * unit,
            h: (BAR_WORDS + BAR_THICK + 1.5 * BAR_MARGIN) * unit,
        };
        sheet.block(field, 3.0 * unit, BAR_GROUND);
        let words = sheet.words_width(&bar.caption, BAR_WORDS * unit, Weight::Bold);
        let middle = field.middle().x;
        let baseline = field.y + (BAR_WORDS + 1.0) * unit;
        sheet.words(&bar.caption, middle - words / 2.0, baseline, BAR_WORDS * unit, Weight::Bold, BAR_INK);
        let top = baseline + 0.5 * BAR_MARGIN * unit;
        sheet.block(Block { x: middle - length / 2.0, y: top, w: length, h: BAR_THICK * unit }, 0.0, BAR_INK);
    }
    let shrink = picture.shrink.map(|shrink| shrink / enlarge as f64);
    let picture = Picture { width: w, height: h, rgb: sheet.rgb(), shrink, gain: picture.gain };
    Some(Outlined { picture, bar: bar.map(|bar| bar.caption) })
}
