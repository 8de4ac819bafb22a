//! What a report is made of, whatever it is shown on: paper and web page draw the same blocks.

use crate::maths::picture::Picture;
use crate::maths::point::Point;

/// One part of a report.
#[derive(Clone, Debug)]
pub(super) enum Block {
    /// The report's name, once, and what stands at the right beside it.
    Title(String, String),
    /// A heading of the first or second rank.
    Heading(Rank, String),
    /// A paragraph.
    Paragraph(Tone, String),
    /// Labels and what is known of each, side by side.
    Facts(Vec<(String, String)>),
    /// One point after the other.
    Bullets(Tone, Vec<String>),
    /// Boxes to tick, side by side.
    Boxes(Vec<String>),
    /// Labels with a line to write on.
    Lines(Vec<String>),
    /// Rows under a head; the shares of the width are of one sum.
    Table { head: Vec<String>, rows: Vec<Vec<Cell>>, shares: Vec<f64> },
    /// A picture, at most so high.
    Picture { picture: Picture, alt: String, caption: Option<String>, max_height: f64 },
    /// Lines and words, drawn.
    Drawing { drawing: Drawing, alt: String },
    /// Blocks in a frame of its own ground.
    Frame(Vec<Block>),
    /// Two columns; the first takes the share of the width.
    Beside { share: f64, left: Vec<Block>, right: Vec<Block> },
    /// Blocks that must not be parted by the end of a page.
    Together(Vec<Block>),
}

/// How deep a heading lies under the title.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Rank {
    /// A part of the report.
    Part,
    /// A part of a part.
    Sub,
}

/// How a paragraph is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Tone {
    /// What must be read first.
    Lead,
    /// For reading.
    Body,
    /// For looking up.
    Small,
}

/// A cell of a table.
#[derive(Clone, Debug, Default)]
pub(super) struct Cell {
    /// Its words.
    pub(super) words: String,
    /// The look whose mark stands before them, by its stable name.
    pub(super) mark: Option<&'static str>,
}

impl<T: Into<String>> From<T> for Cell {
    fn from(words: T) -> Cell {
        Cell { words: words.into(), mark: None }
    }
}

/// Red, green, blue.
pub(super) type Ink = [u8; 3];

/// Lines and words on a field of its own: x right, y down, points (1/72 inch).
#[derive(Clone, Debug, Default)]
pub(super) struct Drawing {
    /// Its width.
    pub(super) width: f64,
    /// Its height.
    pub(super) height: f64,
    /// What is drawn, in this order.
    pub(super) strokes: Vec<Stroke>,
}

/// One thing of a drawing.
#[derive(Clone, Debug)]
pub(super) enum Stroke {
    /// A line through points; `dash` are lengths on and off, none for a whole line.
    Line { points: Vec<Point>, ink: Ink, width: f64, dash: Vec<f64> },
    /// A filled shape.
    Area { points: Vec<Point>, ink: Ink },
    /// Words; `at` is on their baseline.
    Words { at: Point, words: String, size: f64, ink: Ink, anchor: Anchor },
}

/// Which end of words lies at their place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    /// The first letter.
    Start,
    /// The middle.
    Middle,
    /// The last letter.
    End,
}

/// Text.
pub(super) const INK: Ink = [20, 20, 20];
/// Text that is less important; still 7 : 1 against white.
pub(super) const FAINT: Ink = [80, 80, 80];
/// Rules between parts.
pub(super) const RULE: Ink = [200, 200, 200];
/// Ground of a frame.
pub(super) const TINT: Ink = [238, 242, 246];

/// What lies under the mark of a look: the grey of a tape under the lamp, on which every colour shows; a lighter one
/// for the black of "cannot say".
pub(super) fn mark_ground(class: &str) -> Ink {
    if ["infected", "normal", "coated", "fibre"].contains(&class) { [52, 56, 64] } else { [215, 215, 215] }
}
