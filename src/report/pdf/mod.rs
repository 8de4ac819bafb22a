//! The blocks on paper: pages, footers, outline, and the checks of the standards for archives and for everybody.

mod layout;
mod letters;
mod paint;
mod tags;

use jiff::civil::Date;
use krilla::configure::{Accessibility, Archival, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::metadata::{DateTime, Metadata};
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::{Document, SerializeSettings};

use super::blocks::Block;
use super::words::fill;
use super::{Paper, Report};
use layout::{Layouter, Piece};
use letters::Letters;
use paint::{Inks, paint};
use tags::Tags;

/// Room around the text, points: left and right, top, bottom (with the footer in it).
const SIDE: f64 = 42.0;
const TOP: f64 = 36.0;
const BOTTOM: f64 = 44.0;
/// Baseline of the footer over the paper's lower edge, points, and its size.
const FOOTER: f64 = 24.0;
const FOOTER_SIZE: f64 = 8.0;

/// Why no PDF could be made.
#[derive(Debug, thiserror::Error)]
pub enum PdfError {
    /// The embedded typefaces are damaged.
    #[error("the program's typefaces cannot be read; build or install the program again")]
    Typefaces,
    /// A standard's check refused the document.
    #[error(
        "the report does not pass the checks of PDF/A and PDF/UA ({0}); make the web page instead, and report this"
    )]
    Refused(String),
}

/// A piece on a page, at a height over which it lies.
struct Placed {
    y: f64,
    piece: Piece,
}

/// The PDF: of `first` the first version that fits on one page, else the last; then `rest` from a new page on; `foot` on every page.
pub(super) fn pdf(
    first: &[Vec<Block>],
    rest: Vec<Block>,
    title: &str,
    foot: &str,
    report: &Report,
    paper: Paper,
) -> Result<Vec<u8>, PdfError> {
    let words = report.language.words();
    let [width, height] = paper.size();
    let (column, room) = (width - 2.0 * SIDE, height - TOP - BOTTOM);
    let mut letters = Letters::new().ok_or(PdfError::Typefaces)?;

    let mut layouter = Layouter { letters: &mut letters, tags: Tags::default(), pictures: Vec::new() };
    let mut pieces = Vec::new();
    for (i, version) in first.iter().enumerate() {
        layouter.tags = Tags::default();
        layouter.pictures.clear();
        pieces = layouter.pieces(version.clone(), column, None);
        let fits = pieces.iter().map(|piece| piece.height).sum::<f64>() <= room;
        if fits || i + 1 == first.len() {
            break;
        }
    }
    if !rest.is_empty() {
        pieces.push(Piece { begins_page: true, ..Piece::default() });
        pieces.extend(layouter.pieces(rest, column, None));
    }
    if layouter.letters.has_spelled() {
        let note = Block::Paragraph(super::blocks::Tone::Small, words.translit.to_owned());
        pieces.extend(layouter.pieces(vec![note], column, None));
    }
    let Layouter { mut tags, pictures, .. } = layouter;
    let pages = paged(pieces, room);

    let configuration = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A2_A)
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|error| PdfError::Refused(format!("{error:?}")))?;
    let mut document =
        Document::new_with(SerializeSettings { configuration, enable_tagging: true, ..SerializeSettings::default() });
    let inks = Inks::new(&pictures);
    let mut places = Vec::new();
    let n_pages = pages.len().to_string();
    for (index, page) in pages.iter().enumerate() {
        let Some(settings) = PageSettings::from_wh(width as f32, height as f32) else { continue };
        let mut sheet = document.start_page_with(settings);
        let mut surface = sheet.surface();
        for placed in page {
            let nodes = paint(&mut surface, placed, [SIDE, TOP], &mut tags, &letters, &inks);
            places.extend(nodes.into_iter().map(|node| (node, index, TOP + placed.y)));
        }
        let number = fill(words.page, &[("n", &(index + 1).to_string()), ("all", &n_pages)]);
        let footer = [(foot, false), (number.as_str(), true)];
        for (text, at_right) in footer.into_iter().filter(|(text, _)| !text.is_empty()) {
            let line = letters.line(text, false);
            let x = if at_right { width - SIDE - line.width * FOOTER_SIZE } else { SIDE };
            paint::footer(&mut surface, &line, [x, height - FOOTER], FOOTER_SIZE, &letters);
        }
        surface.finish();
        sheet.finish();
    }
    let mut outline = Outline::new();
    for node in outline_nodes(&tags, &places) {
        outline.push_child(node);
    }
    document.set_outline(outline);
    document.set_metadata(metadata(title, report.made_on, report.language.tag()));
    document.set_tag_tree(tags.tree(report.language.tag()));
    document.finish().map_err(|error| PdfError::Refused(format!("{error:?}").chars().take(300).collect()))
}

/// Pieces to pages: in order, a page filled before the next, no piece that keeps the next parted from it.
fn paged(pieces: Vec<Piece>, room: f64) -> Vec<Vec<Placed>> {
    let mut pages: Vec<Vec<Placed>> = vec![Vec::new()];
    let mut y = 0.0;
    let mut at = 0;
    while at < pieces.len() {
        // A group: pieces that keep their next, and the one they keep.
        let mut end = at;
        while end + 1 < pieces.len() && pieces[end].keeps_next {
            end += 1;
        }
        let group = &pieces[at..=end];
        let height: f64 = group.iter().map(|piece| piece.height).sum();
        let drawn = group.iter().any(|piece| !piece.marks.is_empty());
        let begun = pages.last().is_some_and(|page| !page.is_empty());
        if begun && (group.iter().any(|piece| piece.begins_page) || drawn && y + height > room) {
            pages.push(Vec::new());
            y = 0.0;
        }
        for piece in group {
            let page = pages.last_mut();
            // No gap at the top of a page.
            if let Some(page) = page.filter(|page| !page.is_empty() || !piece.marks.is_empty()) {
                page.push(Placed { y, piece: piece.clone() });
                y += piece.height;
            }
        }
        at = end + 1;
    }
    pages
}

/// The headings of the second rank as outline, each with its page and height.
fn outline_nodes(tags: &Tags, places: &[(tags::NodeId, usize, f64)]) -> Vec<OutlineNode> {
    tags.headings()
        .filter(|(_, level, _)| *level <= 2)
        .filter_map(|(node, _, words)| {
            let &(_, page, y) = places.iter().find(|(drawn, ..)| *drawn == node)?;
            let to = XyzDestination::new(page, krilla::geom::Point::from_xy(SIDE as f32, y as f32));
            Some(OutlineNode::new(words.to_owned(), to))
        })
        .collect()
}

fn metadata(title: &str, made_on: Date, language: &str) -> Metadata {
    let number = |n: i8| u8::try_from(n).unwrap_or(1);
    let date = DateTime::new(u16::try_from(made_on.year()).unwrap_or(0))
        .month(number(made_on.month()))
        .day(number(made_on.day()))
        .hour(12)
        .minute(0)
        .second(0)
        .utc_offset_hour(0)
        .utc_offset_minute(0);
    let title: String = title.chars().map(|c| if c.is_control() { ' ' } else { c }).take(500).collect();
    Metadata::new()
        .title(title)
        .creator(format!("Pilumen {}", env!("CARGO_PKG_VERSION")))
        .language(language.to_owned())
        .creation_date(date)
}
