//! Lines, shapes and words on a raster: a thin layer over the drawing and font libraries.

use ::image::codecs::png::{CompressionType, FilterType, PngEncoder};
use ::image::{ExtendedColorType, ImageEncoder};
use ab_glyph::{Font, FontRef, PxScale, ScaleFont, point};
use tiny_skia::{
    FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, PremultipliedColorU8, Stroke, StrokeDash, Transform,
};

use crate::maths::picture::Picture;
use crate::maths::point::Point;

/// Text face, under the SIL Open Font License (its text lies beside it). Drawn for people with low vision: digits
/// and letters that look alike elsewhere are told apart.
const REGULAR: &[u8] = include_bytes!("../font/AtkinsonHyperlegible-Regular.ttf");
const BOLD: &[u8] = include_bytes!("../font/AtkinsonHyperlegible-Bold.ttf");

/// Shown for a character that the face does not have.
const UNKNOWN_CHARACTER: char = '?';

/// A colour with its opacity, 0 to 255.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Ink(pub(super) u8, pub(super) u8, pub(super) u8, pub(super) u8);

impl Ink {
    /// An opaque colour.
    pub(super) const fn of(rgb: [u8; 3]) -> Ink {
        Ink(rgb[0], rgb[1], rgb[2], 255)
    }

    /// The same colour, less opaque.
    pub(super) const fn opacity(self, opacity: u8) -> Ink {
        Ink(self.0, self.1, self.2, opacity)
    }
}

/// Weight of the letters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Weight {
    /// For reading.
    Regular,
    /// For what must be seen first.
    Bold,
}

/// An upright rectangle in canvas coordinates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Block {
    /// Left edge.
    pub(super) x: f64,
    /// Top edge.
    pub(super) y: f64,
    /// Width.
    pub(super) w: f64,
    /// Height.
    pub(super) h: f64,
}

impl Block {
    /// The rectangle around a middle.
    pub(super) fn around(middle: Point, w: f64, h: f64) -> Block {
        Block { x: middle.x - w / 2.0, y: middle.y - h / 2.0, w, h }
    }

    /// Its middle.
    pub(super) fn middle(self) -> Point {
        Point::new(self.x + self.w / 2.0, self.y + self.h / 2.0)
    }

    /// Whether two rectangles share an area.
    pub(super) fn meets(self, other: Block) -> bool {
        self.x < other.x + other.w
            && other.x < self.x + self.w
            && self.y < other.y + other.h
            && other.y < self.y + self.h
    }

    /// Whether it lies wholly in another.
    pub(super) fn within(self, outer: Block) -> bool {
        self.x >= outer.x
            && self.y >= outer.y
            && self.x + self.w <= outer.x + outer.w
            && self.y + self.h <= outer.y + outer.h
    }

    /// The same rectangle, larger by `by` on every side.
    pub(super) fn grown(self, by: f64) -> Block {
        Block { x: self.x - by, y: self.y - by, w: self.w + 2.0 * by, h: self.h + 2.0 * by }
    }
}

/// The sheet that is drawn on. Coordinates: x right, y down, (0, 0) the *corner* of the top-left pixel.
pub(super) struct Sheet {
    pixmap: Pixmap,
    faces: Option<[FontRef<'static>; 2]>,
}

impl Sheet {
    /// A sheet of one colour; `None` when no side may be that long.
    pub(super) fn new(width: u32, height: u32, ground: Ink) -> Option<Sheet> {
        let mut pixmap = Pixmap::new(width, height)?;
        pixmap.fill(tiny_skia::Color::from_rgba8(ground.0, ground.1, ground.2, 255));
        // The faces are part of the program; were they damaged, pictures would come without words.
        let faces = FontRef::try_from_slice(REGULAR).ok().zip(FontRef::try_from_slice(BOLD).ok());
        Some(Sheet { pixmap, faces: faces.map(|(regular, bold)| [regular, bold]) })
    }

    /// The finished sheet as PNG, without the channel of opacity: nothing on a sheet shines through.
    pub(super) fn png(self) -> Vec<u8> {
        let rgb = self.rgb();
        let mut bytes = Vec::new();
        // Thirty times faster than the default on photos, for a file a tenth to a third larger.
        let encoder = PngEncoder::new_with_quality(&mut bytes, CompressionType::Fast, FilterType::Adaptive);
        let written = encoder.write_image(&rgb, self.pixmap.width(), self.pixmap.height(), ExtendedColorType::Rgb8);
        // Writing to memory cannot fail.
        written.map(|()| bytes).unwrap_or_default()
    }

    /// The finished sheet as red, green, blue of every pixel.
    pub(super) fn rgb(&self) -> Vec<u8> {
        self.pixmap.pixels().iter().flat_map(|p| [p.red(), p.green(), p.blue()]).collect()
    }

    /// Lays a picture down with its corner at (x, y), each pixel as a square of `enlarge` pixels.
    pub(super) fn picture(&mut self, picture: &Picture, x: usize, y: usize, enlarge: usize) {
        let (width, height) = (self.pixmap.width() as usize, self.pixmap.height() as usize);
        let pixels = self.pixmap.pixels_mut();
        for row in y..(y + picture.height * enlarge).min(height) {
            for column in x..(x + picture.width * enlarge).min(width) {
                let i = 3 * ((row - y) / enlarge * picture.width + (column - x) / enlarge);
                let [red, green, blue] = [0, 1, 2].map(|c| picture.rgb[i + c]);
                // Opaque colours are the same premultiplied.
                if let Some(colour) = PremultipliedColorU8::from_rgba(red, green, blue, 255) {
                    pixels[row * width + column] = colour;
                }
            }
        }
    }

    /// A line through points; `dash` are lengths on and off, none for a whole line.
    pub(super) fn line(&mut self, points: &[Point], ink: Ink, width: f64, dash: &[f64]) {
        let Some(path) = path(points, false) else { return };
        let stroke = Stroke {
            width: width as f32,
            // A round cap would eat the gaps of short dashes.
            line_cap: if dash.is_empty() { LineCap::Round } else { LineCap::Butt },
            line_join: LineJoin::Round,
            dash: StrokeDash::new(dash.iter().map(|&length| length as f32).collect(), 0.0),
            ..Stroke::default()
        };
        self.pixmap.stroke_path(&path, &paint(ink), &stroke, Transform::identity(), None);
    }

    /// A filled shape.
    pub(super) fn shape(&mut self, points: &[Point], ink: Ink) {
        if let Some(path) = path(points, true) {
            self.pixmap.fill_path(&path, &paint(ink), FillRule::Winding, Transform::identity(), None);
        }
    }

    /// A filled disc.
    pub(super) fn disc(&mut self, middle: Point, radius: f64, ink: Ink) {
        if let Some(path) = PathBuilder::from_circle(middle.x as f32, middle.y as f32, radius as f32) {
            self.pixmap.fill_path(&path, &paint(ink), FillRule::Winding, Transform::identity(), None);
        }
    }

    /// A filled rectangle with round corners.
    pub(super) fn block(&mut self, block: Block, radius: f64, ink: Ink) {
        let radius = radius.min(block.w / 2.0).min(block.h / 2.0);
        let [x, y, w, h, r] = [block.x, block.y, block.w, block.h, radius].map(|value| value as f32);
        if r <= 0.0 {
            return self.bar(block, ink);
        }
        let mut path = PathBuilder::new();
        path.move_to(x + r, y);
        path.line_to(x + w - r, y);
        path.quad_to(x + w, y, x + w, y + r);
        path.line_to(x + w, y + h - r);
        path.quad_to(x + w, y + h, x + w - r, y + h);
        path.line_to(x + r, y + h);
        path.quad_to(x, y + h, x, y + h - r);
        path.line_to(x, y + r);
        path.quad_to(x, y, x + r, y);
        path.close();
        if let Some(path) = path.finish() {
            self.pixmap.fill_path(&path, &paint(ink), FillRule::Winding, Transform::identity(), None);
        }
    }

    /// A filled rectangle on whole pixels: rules and bars are crisp that way.
    fn bar(&mut self, block: Block, ink: Ink) {
        let (width, height) = (self.pixmap.width() as usize, self.pixmap.height() as usize);
        // Casting a number below 0 gives 0, so that what lies outside is cut off.
        let within = |from: f64, length: f64, end: usize| {
            let first = from.round();
            // However thin, a bar is there.
            let last = (from + length).round().max(first + if length > 0.0 { 1.0 } else { 0.0 });
            (first as usize).min(end)..(last as usize).min(end)
        };
        let (columns, rows) = (within(block.x, block.w, width), within(block.y, block.h, height));
        let pixels = self.pixmap.pixels_mut();
        for row in rows {
            for pixel in &mut pixels[row * width + columns.start..row * width + columns.end] {
                *pixel = mixed(*pixel, ink, 1.0);
            }
        }
    }

    /// Words on one line from (x, baseline); `size` is that of the em square.
    pub(super) fn words(&mut self, words: &str, x: f64, baseline: f64, size: f64, weight: Weight, ink: Ink) {
        let Some(faces) = &self.faces else { return };
        let face = faces[weight as usize].clone();
        let scaled = face.as_scaled(scale(&face, size));
        let (width, height) = (self.pixmap.width() as i64, self.pixmap.height() as i64);
        let pixels = self.pixmap.pixels_mut();
        let mut at = x as f32;
        let mut before = None;
        for character in words.chars() {
            let id = glyph_of(&face, character);
            at += before.map_or(0.0, |before| scaled.kern(before, id));
            let glyph = id.with_scale_and_position(scaled.scale(), point(at, baseline as f32));
            at += scaled.h_advance(id);
            before = Some(id);
            let Some(outline) = face.outline_glyph(glyph) else { continue };
            let corner = outline.px_bounds().min;
            outline.draw(|dx, dy, cover| {
                let (column, row) = (corner.x as i64 + i64::from(dx), corner.y as i64 + i64::from(dy));
                if (0..width).contains(&column) && (0..height).contains(&row) {
                    let pixel = &mut pixels[(row * width + column) as usize];
                    *pixel = mixed(*pixel, ink, cover);
                }
            });
        }
    }

    /// Width of words on one line.
    pub(super) fn words_width(&self, words: &str, size: f64, weight: Weight) -> f64 {
        let Some(faces) = &self.faces else { return 0.0 };
        let face = &faces[weight as usize];
        let scaled = face.as_scaled(scale(face, size));
        let mut width = 0.0;
        let mut before = None;
        for character in words.chars() {
            let id = glyph_of(face, character);
            width += before.map_or(0.0, |before| scaled.kern(before, id)) + scaled.h_advance(id);
            before = Some(id);
        }
        f64::from(width)
    }

    /// Words broken at spaces so that no line is wider than `width`; a word that is wider is broken inside.
    pub(super) fn broken(&self, words: &str, width: f64, size: f64, weight: Weight) -> Vec<String> {
        let fits = |line: &str| self.words_width(line, size, weight) <= width;
        let mut lines: Vec<String> = Vec::new();
        let mut line = String::new();
        for word in words.split_whitespace() {
            let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
            if fits(&longer) {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for character in word.chars() {
                if !line.is_empty() && !fits(&format!("{line}{character}")) {
                    lines.push(std::mem::take(&mut line));
                }
                line.push(character);
            }
        }
        if !line.is_empty() {
            lines.push(line);
        }
        lines
    }
}

fn path(points: &[Point], closed: bool) -> Option<Path> {
    let mut path = PathBuilder::new();
    let (first, rest) = points.split_first()?;
    path.move_to(first.x as f32, first.y as f32);
    for point in rest {
        path.line_to(point.x as f32, point.y as f32);
    }
    if closed {
        path.close();
    }
    path.finish()
}

fn paint(ink: Ink) -> Paint<'static> {
    let mut paint = Paint { anti_alias: true, ..Paint::default() };
    paint.set_color_rgba8(ink.0, ink.1, ink.2, ink.3);
    paint
}

/// The library measures text by the height of a line; people measure it by the em square.
fn scale(face: &FontRef<'_>, size: f64) -> PxScale {
    let em = face.units_per_em().unwrap_or(1000.0);
    PxScale::from(size as f32 * face.height_unscaled() / em)
}

fn glyph_of(face: &FontRef<'_>, character: char) -> ab_glyph::GlyphId {
    let id = face.glyph_id(character);
    if id.0 == 0 { face.glyph_id(UNKNOWN_CHARACTER) } else { id }
}

fn mixed(under: PremultipliedColorU8, ink: Ink, cover: f32) -> PremultipliedColorU8 {
    let share = cover.clamp(0.0, 1.0) * f32::from(ink.3) / 255.0;
    let mix = |under: u8, over: u8| (f32::from(under) * (1.0 - share) + f32::from(over) * share).round() as u8;
    let [red, green, blue] =
        [(under.red(), ink.0), (under.green(), ink.1), (under.blue(), ink.2)].map(|(under, over)| mix(under, over));
    PremultipliedColorU8::from_rgba(red, green, blue, 255).unwrap_or(under)
}

#[cfg(test)]
mod tests {
    use super::{Block, Ink, Sheet, Weight};
    use crate::maths::point::Point;

    #[test]
    fn words_are_broken_to_the_width_and_none_is_lost() {
        let sheet = Sheet::new(10, 10, Ink(255, 255, 255, 255)).unwrap();
        let words = "Press a few ordinary hairs of the same animal beside the glowing ones.";
        let lines = sheet.broken(words, 150.0, 16.0, Weight::Regular);
        assert!(lines.len() > 2);
        assert!(lines.iter().all(|line| sheet.words_width(line, 16.0, Weight::Regular) <= 150.0));
        assert_eq!(lines.join(" "), words);
        let long = sheet.broken("unbreakablyunbreakablyunbreakable", 60.0, 16.0, Weight::Bold);
        assert!(long.len() > 2 && long.concat() == "unbreakablyunbreakablyunbreakable");
    }

    #[test]
    fn an_em_is_as_wide_as_it_should_be() {
        // The em dash of this face is 1000 of 1000 units or less; a size of 100 must give at most 100 pixels.
        let sheet = Sheet::new(1, 1, Ink(0, 0, 0, 255)).unwrap();
        let ten = sheet.words_width("0000000000", 10.0, Weight::Regular);
        assert!((50.0..75.0).contains(&ten), "ten digits at size 10 are {ten:.1} wide");
    }

    #[test]
    fn rectangles_meet_only_when_they_share_an_area() {
        let block = Block::around(Point::new(5.0, 5.0), 4.0, 2.0);
        assert!(block.meets(Block::around(Point::new(8.0, 5.0), 4.0, 2.0)));
        assert!(!block.meets(Block::around(Point::new(9.0, 5.0), 4.0, 2.0)));
        assert!(block.within(block.grown(0.1)) && !block.grown(0.1).within(block));
    }
}
