//! Pieces onto a page.

use krilla::geom::{PathBuilder, Point as At, Size, Transform};
use krilla::image::Image;
use krilla::num::NormalizedF32;
use krilla::paint::{Fill, FillRule, LineCap, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, SpanTag};
use krilla::text::TextDirection;

use super::Placed;
use super::layout::{Mark, Shape};
use super::letters::{Letters, Line};
use super::tags::{NodeId, Tags};
use crate::maths::picture::Picture;
use crate::maths::point::Point;
use crate::report::blocks::{FAINT, Ink};
use crate::report::jpeg::jpeg;

/// The pictures, ready to be drawn.
pub(super) struct Inks(Vec<Option<Image>>);

impl Inks {
    /// Each picture as JPEG.
    pub(super) fn new(pictures: &[Picture]) -> Inks {
        Inks(pictures.iter().map(|picture| Image::from_jpeg(jpeg(picture)?.into(), false).ok()).collect())
    }
}

/// Draws a piece with its corner at `corner` and what it is placed under it; says which places of the tags were drawn.
pub(super) fn paint(
    surface: &mut Surface,
    placed: &Placed,
    corner: [f64; 2],
    tags: &mut Tags,
    letters: &Letters,
    inks: &Inks,
) -> Vec<NodeId> {
    let offset = Point::new(corner[0], corner[1] + placed.y);
    let mut drawn = Vec::new();
    // Marks of one place in a row are one content: a reader gets them together.
    for group in placed.piece.marks.chunk_by(|a, b| a.node == b.node) {
        let node = group[0].node;
        let tag = match (node, &group[0].shape) {
            (None, _) => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
            (Some(_), Shape::Words { .. }) => ContentTag::Span(SpanTag::empty()),
            (Some(_), _) => ContentTag::Other,
        };
        let identifier = surface.start_tagged(tag);
        group.iter().for_each(|mark| shape(surface, mark, offset, letters, inks));
        surface.end_tagged();
        if let Some(node) = node {
            tags.drawn(node, identifier);
            drawn.push(node);
        }
    }
    drawn
}

/// Draws a line of the footer, which readers skip.
pub(super) fn footer(surface: &mut Surface, line: &Line, at: [f64; 2], size: f64, letters: &Letters) {
    surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Footer)));
    words(surface, line, Point::new(at[0], at[1]), size, FAINT, letters);
    surface.end_tagged();
}

fn shape(surface: &mut Surface, mark: &Mark, offset: Point, letters: &Letters, inks: &Inks) {
    let to = |p: &Point| Point::new(p.x + offset.x, p.y + offset.y);
    match &mark.shape {
        Shape::Words { at, line, size, ink } => words(surface, line, to(at), *size, *ink, letters),
        Shape::Line { points, ink, width, dash } => {
            let Some(path) = path(points.iter().map(to), false) else { return };
            surface.set_fill(None);
            surface.set_stroke(Some(Stroke {
                paint: colour(*ink).into(),
                width: *width as f32,
                line_cap: if dash.is_empty() { LineCap::Round } else { LineCap::Butt },
                line_join: LineJoin::Round,
                opacity: NormalizedF32::ONE,
                dash: (!dash.is_empty())
                    .then(|| StrokeDash { array: dash.iter().map(|&on| on as f32).collect(), offset: 0.0 }),
                ..Stroke::default()
            }));
            surface.draw_path(&path);
            surface.set_stroke(None);
        }
        Shape::Area { points, ink } => {
            let Some(path) = path(points.iter().map(to), true) else { return };
            surface.set_fill(Some(fill(*ink)));
            surface.draw_path(&path);
        }
        Shape::Picture { picture, x, y, width, height } => {
            let Some(Some(image)) = inks.0.get(*picture) else { return };
            let Some(size) = Size::from_wh(*width as f32, *height as f32) else { return };
            surface.push_transform(&Transform::from_translate((x + offset.x) as f32, (y + offset.y) as f32));
            surface.draw_image(image.clone(), size);
            surface.pop();
        }
    }
}

fn words(surface: &mut Surface, line: &Line, at: Point, size: f64, ink: Ink, letters: &Letters) {
    surface.set_fill(Some(fill(ink)));
    let mut x = at.x;
    for run in &line.runs {
        let from = At::from_xy(x as f32, at.y as f32);
        surface.draw_text(from, letters.font(run.face), size as f32, &run.words, false, TextDirection::Auto);
        x += run.width * size;
    }
}

fn path(mut points: impl Iterator<Item = Point>, closed: bool) -> Option<krilla::geom::Path> {
    let mut path = PathBuilder::new();
    let first = points.next()?;
    path.move_to(first.x as f32, first.y as f32);
    points.for_each(|point| path.line_to(point.x as f32, point.y as f32));
    if closed {
        path.close();
    }
    path.finish()
}

fn fill(ink: Ink) -> Fill {
    Fill { paint: colour(ink).into(), opacity: NormalizedF32::ONE, rule: FillRule::NonZero }
}

fn colour([red, green, blue]: Ink) -> krilla::color::rgb::Color {
    krilla::color::rgb::Color::new(red, green, blue)
}
