//! The panel under the photo: what was found, what the marks mean, what to do next.

use super::super::from_record::Entry;
use super::super::words::{plain_scale, ranges};
use super::Layout;
use super::looks::{Style, all, style};
use super::pen::{Block, Ink, Sheet, Weight};
use super::scale_bar::scale_bar;
use super::strokes;
use crate::maths::point::{Point, Vec2};

const PAPER: Ink = Ink::of([255, 255, 255]);
const TEXT: Ink = Ink::of([20, 20, 20]);
const FAINT: Ink = Ink::of([90, 90, 90]);
const RULE: Ink = Ink::of([205, 205, 205]);
const TINT: Ink = Ink::of([241, 241, 241]);

/// Ground of the samples: the grey of a tape under the lamp, on which every colour of a look shows.
const SAMPLE: Ink = Ink::of([52, 56, 64]);

/// What the reader shall do whatever was found.
const CULTURE: &str = "Send hair for a fungal culture.";

/// What must be known before the next photo.
const CAUTION: &str = "Keep the lamp out of all eyes and wear gloves.";

/// Notes about the photo that are shown; more would push the legend off a printed page.
const MAX_NOTES: usize = 4;

/// Sizes in units of the sheet: of the em square for words, of the step for lines.
const MARGIN: f64 = 26.0;
const TITLE: f64 = 21.0;
const BODY: f64 = 17.0;
const SMALL: f64 = 14.0;
const TINY: f64 = 12.0;
const LEADING: f64 = 1.38;
const SAMPLE_SIZE: [f64; 2] = [64.0, 22.0];
const ROW: f64 = 29.0;

/// Draws the panel from `top` on and returns where it ends. On a sheet that is too small it draws nothing and still
/// returns where it would end.
pub(super) fn panel(sheet: &mut Sheet, entry: &Entry, layout: &Layout, top: f64) -> f64 {
    let unit = layout.unit;
    let (left, right) = (MARGIN * unit, layout.width as f64 - MARGIN * unit);
    sheet.block(Block { x: 0.0, y: top, w: layout.width as f64, h: layout.height as f64 - top }, 0.0, PAPER);
    let mut pen = Column { sheet, unit, left, width: right - left, y: top + 16.0 * unit };

    let bar_left = bar(&mut pen, entry, layout);
    let title_width = bar_left - left - 24.0 * unit;
    pen.paragraph_in(
        left,
        title_width,
        &shortened(&pen, &entry.photo.file, title_width, TITLE),
        TITLE,
        Weight::Bold,
        TEXT,
    );
    pen.paragraph_in(left, title_width, &facts(entry, layout), SMALL, Weight::Regular, FAINT);
    pen.gap(7.0);
    pen.paragraph(&entry.slide.sentence, BODY, Weight::Regular, TEXT);
    pen.gap(9.0);
    pen.rule();
    pen.gap(11.0);

    let rows_top = pen.y;
    let signs_left = left + 0.64 * (right - left);
    looks(&mut pen, entry, signs_left - left - 20.0 * unit);
    let looks_bottom = pen.y;
    pen.y = rows_top;
    signs(&mut pen, signs_left, right - signs_left);
    pen.y = pen.y.max(looks_bottom);

    if !entry.concerns.is_empty() {
        pen.gap(4.0);
        pen.rule();
        pen.gap(9.0);
        for concern in entry.concerns.iter().take(MAX_NOTES) {
            pen.paragraph(&format!("{} {}", concern.message(), concern.advice()), SMALL, Weight::Regular, TEXT);
            pen.gap(2.0);
        }
        if entry.concerns.len() > MAX_NOTES {
            let more = entry.concerns.len() - MAX_NOTES;
            pen.paragraph(&format!("and {more} more notes in the summary"), SMALL, Weight::Regular, FAINT);
        }
    }
    pen.gap(9.0);
    next(&mut pen, entry);
    pen.gap(8.0);
    let program = &entry.program;
    let short = |digest: &str| digest.chars().take(12).collect::<String>();
    let made = format!(
        "Pilumen {} · model {} · photo {} (first digits of SHA-256) · colours: Okabe and Ito",
        program.version,
        short(&program.model_sha256),
        short(&entry.photo.sha256)
    );
    pen.paragraph(&made, TINY, Weight::Regular, FAINT);
    pen.y + 12.0 * unit
}

/// Draws the scale bar in the upper right and returns its left end.
fn bar(pen: &mut Column, entry: &Entry, layout: &Layout) -> f64 {
    let unit = pen.unit;
    let right = pen.left + pen.width;
    let bar = entry.photo.scale.and_then(|scale| scale_bar(scale, layout.width as f64 / layout.per_photo_px));
    let Some(bar) = bar else {
        let words = "scale unknown";
        let width = pen.sheet.words_width(words, SMALL * unit, Weight::Regular);
        pen.sheet.words(words, right - width, pen.y + TITLE * unit, SMALL * unit, Weight::Regular, FAINT);
        return right - width;
    };
    let length = bar.length_px * layout.per_photo_px;
    let caption_width = pen.sheet.words_width(&bar.caption, BODY * unit, Weight::Bold);
    let wide = length.max(caption_width);
    let (from, y) = (right - wide / 2.0 - length / 2.0, pen.y + 34.0 * unit);
    pen.sheet.words(
        &bar.caption,
        right - wide / 2.0 - caption_width / 2.0,
        y - 9.0 * unit,
        BODY * unit,
        Weight::Bold,
        TEXT,
    );
    pen.sheet.block(Block { x: from, y: y - 1.5 * unit, w: length, h: 3.0 * unit }, 0.0, TEXT);
    for end in [from, from + length - 1.5 * unit] {
        pen.sheet.block(Block { x: end, y: y - 6.0 * unit, w: 1.5 * unit, h: 12.0 * unit }, 0.0, TEXT);
    }
    right - wide
}

/// Size, scale and what was done to show the photo.
fn facts(entry: &Entry, layout: &Layout) -> String {
    let photo = &entry.photo;
    let mut facts = vec![format!("{} × {} pixels", photo.width_px, photo.height_px)];
    if let Some(scale) = photo.scale {
        facts.push(format!("{} µm a pixel", plain_scale(scale.um_per_px)));
    }
    if layout.gain > 1.0 {
        facts.push(format!("shown {} times brighter than photographed", layout.gain));
    }
    facts.join(" · ")
}

/// One row a look: a sample of its lines, its words, how many shafts and which.
fn looks(pen: &mut Column, entry: &Entry, width: f64) {
    let unit = pen.unit;
    for look in all() {
        let style = style(look);
        let ids: Vec<usize> = entry.shafts.iter().filter(|shaft| shaft.look == look).map(|shaft| shaft.id).collect();
        sample(pen, style);
        let (x, baseline) = (pen.left + (SAMPLE_SIZE[0] + 14.0) * unit, pen.y + 16.5 * unit);
        let words = format!("{}: {}", style.words, ids.len());
        let weight = if ids.is_empty() { Weight::Regular } else { Weight::Bold };
        let ink = if ids.is_empty() { FAINT } else { TEXT };
        pen.sheet.words(&words, x, baseline, BODY * unit, weight, ink);
        let numbers_left = x + 182.0 * unit;
        if !ids.is_empty() {
            let which = if ids.len() == 1 { "shaft " } else { "shafts " };
            let numbers = format!("{which}{}", ranges(&ids));
            let numbers = shortened(pen, &numbers, pen.left + width - numbers_left, SMALL);
            pen.sheet.words(&numbers, numbers_left, baseline, SMALL * unit, Weight::Regular, TEXT);
        }
        pen.y += ROW * unit;
    }
}

/// Two edges as they are drawn on the photo, on the grey of a photo.
fn sample(pen: &mut Column, style: Style) {
    let unit = pen.unit;
    let [w, h] = SAMPLE_SIZE.map(|size| size * unit);
    let block = Block { x: pen.left, y: pen.y, w, h };
    pen.sheet.block(block, 3.0 * unit, SAMPLE);
    for y in [0.3, 0.7] {
        let line = [(0.07, y), (0.93, y)].map(|(x, y)| Point::new(block.x + x * w, block.y + y * h));
        strokes::cased(pen.sheet, &line, style, 2.0 * style.weight * unit, unit);
    }
}

/// What the other marks mean.
fn signs(pen: &mut Column, left: f64, width: f64) {
    let unit = pen.unit;
    let plain = Style { ink: PAPER, casing: TEXT, dash: &[], weight: 1.0, words: "" };
    let words_left = left + 34.0 * unit;
    let rows = [
        "base end, where it is known",
        "tip end, where it is known",
        "outline, where the width was measured",
        "centreline, bolder where it was not",
    ];
    for (i, words) in rows.into_iter().enumerate() {
        let middle = Point::new(left + 11.0 * unit, pen.y + 11.0 * unit);
        let across = |from: f64, to: f64, y: f64| {
            [
                Point::new(middle.x + from * unit, middle.y + y * unit),
                Point::new(middle.x + to * unit, middle.y + y * unit),
            ]
        };
        match i {
            0 => strokes::base(pen.sheet, middle, plain, unit),
            1 => strokes::tip(pen.sheet, middle - Vec2::new(5.0 * unit, 0.0), Vec2::new(1.0, 0.0), plain, unit),
            2 => [-5.0, 5.0].into_iter().for_each(|y| pen.sheet.line(&across(-10.0, 12.0, y), TEXT, 2.0 * unit, &[])),
            _ => pen.sheet.line(&across(-10.0, 12.0, 0.0), TEXT, 0.9 * unit, &[]),
        }
        let lines = pen.sheet.broken(words, width - (words_left - left), SMALL * unit, Weight::Regular);
        for (n, line) in lines.iter().enumerate() {
            let baseline = pen.y + (15.5 + n as f64 * SMALL * LEADING) * unit;
            pen.sheet.words(line, words_left, baseline, SMALL * unit, Weight::Regular, TEXT);
        }
        pen.y += ROW.max(9.0 + SMALL * LEADING * lines.len() as f64) * unit;
    }
}

/// The culture advice, framed: the one thing that must not be overlooked.
fn next(pen: &mut Column, entry: &Entry) {
    let unit = pen.unit;
    let inner = pen.width - 32.0 * unit;
    let mut advice = pen.sheet.broken(&entry.advice, inner, SMALL * unit, Weight::Regular);
    advice.push(CAUTION.to_owned());
    let height = (19.0 + BODY + advice.len() as f64 * SMALL * LEADING) * unit;
    let frame = Block { x: pen.left, y: pen.y, w: pen.width, h: height };
    pen.sheet.block(frame, 4.0 * unit, TINT);
    pen.sheet.block(Block { w: 5.0 * unit, ..frame }, 0.0, TEXT);
    let x = pen.left + 18.0 * unit;
    let mut y = pen.y + (8.0 + BODY) * unit;
    pen.sheet.words(CULTURE, x, y, BODY * unit, Weight::Bold, TEXT);
    for line in &advice {
        y += SMALL * LEADING * unit;
        pen.sheet.words(line, x, y, SMALL * unit, Weight::Regular, TEXT);
    }
    pen.y += height;
}

/// Words cut with an ellipsis so that they fit into `width` pixels; bold is the wider weight.
fn shortened(pen: &Column, words: &str, width: f64, size: f64) -> String {
    let fits = |words: &str| pen.sheet.words_width(words, size * pen.unit, Weight::Bold) <= width;
    if fits(words) {
        return words.to_owned();
    }
    let characters: Vec<char> = words.chars().collect();
    let n = (0..characters.len()).rev().find(|&n| fits(&format!("{}…", characters[..n].iter().collect::<String>())));
    format!("{}…", characters[..n.unwrap_or(0)].iter().collect::<String>())
}

/// A column that is filled from the top down.
struct Column<'s> {
    sheet: &'s mut Sheet,
    unit: f64,
    left: f64,
    width: f64,
    y: f64,
}

impl Column<'_> {
    fn gap(&mut self, units: f64) {
        self.y += units * self.unit;
    }

    fn rule(&mut self) {
        self.sheet.block(Block { x: self.left, y: self.y, w: self.width, h: self.unit }, 0.0, RULE);
        self.y += self.unit;
    }

    fn paragraph(&mut self, words: &str, size: f64, weight: Weight, ink: Ink) {
        self.paragraph_in(self.left, self.width, words, size, weight, ink);
    }

    fn paragraph_in(&mut self, left: f64, width: f64, words: &str, size: f64, weight: Weight, ink: Ink) {
        let (size, unit) = (size * self.unit, self.unit);
        for line in self.sheet.broken(words, width.max(40.0 * unit), size, weight) {
            self.y += LEADING * size;
            self.sheet.words(&line, left, self.y - 0.3 * size, size, weight, ink);
        }
    }
}
