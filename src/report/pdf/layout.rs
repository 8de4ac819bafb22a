//! Blocks to pieces with a height: what no page may break, and where in it everything lies.

use super::letters::{Letters, Line};
use super::tags::{Kind, NodeId, Tags};
use crate::exports::look_mark;
use crate::maths::picture::Picture;
use crate::maths::point::Point;
use crate::report::blocks::{
    Anchor, Block, Cell, Drawing, FAINT, INK, Ink, RULE, Rank, Stroke, TINT, Tone, mark_ground,
};

/// Sizes of letters, points. 8 is the least that is read without effort on a print.
const TITLE: f64 = 17.0;
const LEAD: f64 = 11.0;
const BODY: f64 = 9.0;
const SMALL: f64 = 8.0;
const PART: f64 = 10.5;
/// Distance of baselines, sizes.
const LEADING: f64 = 1.26;
/// Baseline under the top of a line, sizes.
const RISE: f64 = 0.95;
/// Between two blocks, points.
const GAP: f64 = 5.0;
/// Between two columns, points.
const GUTTER: f64 = 16.0;
/// Columns of facts, and the most that a value takes before it is broken into lines.
const FACT_COLUMNS: usize = 6;
const FACT_WIDEST: usize = 3;
/// Inside a frame, points, and the thick line at its left.
const FRAME: f64 = 8.0;
const FRAME_LINE: f64 = 3.5;
/// Indent of a list, points.
const INDENT: f64 = 9.0;
/// Side of a box to tick, points.
const TICK: f64 = 7.5;
/// A line to write on needs so much height, points.
const WRITING: f64 = 20.0;
/// The mark of a look in a table.
const MARK: [f64; 2] = [17.0, 6.5];

/// Something drawn; coordinates count from the piece's top left.
#[derive(Clone, Debug)]
pub(super) enum Shape {
    Words { at: Point, line: Line, size: f64, ink: Ink },
    Line { points: Vec<Point>, ink: Ink, width: f64, dash: Vec<f64> },
    Area { points: Vec<Point>, ink: Ink },
    Picture { picture: usize, x: f64, y: f64, width: f64, height: f64 },
}

/// A shape and the place in the tags that it belongs to; ornaments belong to none.
#[derive(Clone, Debug)]
pub(super) struct Mark {
    pub(super) shape: Shape,
    pub(super) node: Option<NodeId>,
}

/// What no page may break.
#[derive(Clone, Debug, Default)]
pub(super) struct Piece {
    pub(super) height: f64,
    pub(super) marks: Vec<Mark>,
    /// Whether it must not be the last on its page.
    pub(super) keeps_next: bool,
    /// Whether it begins a page.
    pub(super) begins_page: bool,
}

impl Piece {
    fn gap(height: f64) -> Piece {
        Piece { height, ..Piece::default() }
    }

    /// Pieces one under the other as one.
    fn stacked(pieces: Vec<Piece>) -> Piece {
        let mut whole = Piece::default();
        for piece in pieces {
            whole.marks.extend(piece.marks.into_iter().map(|mark| mark.moved(0.0, whole.height)));
            whole.height += piece.height;
        }
        whole
    }

    fn moved(self, dx: f64, dy: f64) -> Piece {
        Piece { marks: self.marks.into_iter().map(|mark| mark.moved(dx, dy)).collect(), ..self }
    }
}

impl Mark {
    fn moved(self, dx: f64, dy: f64) -> Mark {
        let by = |p: Point| Point::new(p.x + dx, p.y + dy);
        let shape = match self.shape {
            Shape::Words { at, line, size, ink } => Shape::Words { at: by(at), line, size, ink },
            Shape::Line { points, ink, width, dash } => {
                Shape::Line { points: points.into_iter().map(by).collect(), ink, width, dash }
            }
            Shape::Area { points, ink } => Shape::Area { points: points.into_iter().map(by).collect(), ink },
            Shape::Picture { picture, x, y, width, height } => {
                Shape::Picture { picture, x: x + dx, y: y + dy, width, height }
            }
        };
        Mark { shape, ..self }
    }
}

/// Lays blocks out.
pub(super) struct Layouter<'a> {
    pub(super) letters: &'a mut Letters,
    pub(super) tags: Tags,
    /// The pictures that shapes name.
    pub(super) pictures: Vec<Picture>,
}

impl Layouter<'_> {
    /// The pieces of blocks in a column of a width.
    pub(super) fn pieces(&mut self, blocks: Vec<Block>, width: f64, under: Option<NodeId>) -> Vec<Piece> {
        blocks.into_iter().flat_map(|block| self.block(block, width, under)).collect()
    }

    fn block(&mut self, block: Block, width: f64, under: Option<NodeId>) -> Vec<Piece> {
        match block {
            Block::Title(title, aside) => self.title(title, &aside, width, under),
            Block::Heading(rank, words) => {
                let (level, size, before) = if rank == Rank::Part { (2, PART, 4.0) } else { (3, BODY, 6.0) };
                let node = self.tags.add(under, Kind::Heading(level, words.clone()));
                let mut pieces = vec![Piece { keeps_next: true, ..Piece::gap(before) }];
                pieces.extend(self.words(&words, true, size, INK, width, node));
                pieces.push(Piece::gap(1.5));
                pieces.iter_mut().for_each(|piece| piece.keeps_next = true);
                pieces
            }
            Block::Paragraph(tone, words) => {
                let (size, ink) = match tone {
                    Tone::Lead => (LEAD, INK),
                    Tone::Body => (BODY, INK),
                    Tone::Small => (SMALL, FAINT),
                };
                let node = self.tags.add(under, Kind::Paragraph);
                let mut pieces = self.words(&words, tone == Tone::Lead, size, ink, width, node);
                pieces.push(Piece::gap(0.6 * GAP));
                pieces
            }
            Block::Facts(facts) => self.facts(&facts, width, under),
            Block::Bullets(tone, points) => self.bullets(&points, tone, width, under),
            Block::Boxes(points) => self.boxes(&points, width, under),
            Block::Lines(labels) => self.writing_lines(&labels, width, under),
            Block::Table { head, rows, shares } => self.table(&head, &rows, &shares, width, under),
            Block::Picture { picture, alt, caption, max_height } => {
                self.picture(picture, alt, caption.as_deref(), max_height, width, under)
            }
            Block::Drawing { drawing, alt } => self.drawing(&drawing, alt, width, under),
            Block::Frame(blocks) => self.frame(blocks, width, under),
            Block::Beside { share, left, right } => {
                let room = width - GUTTER;
                let [left_width, right_width] = [share * room, (1.0 - share) * room];
                let left = Piece::stacked(self.pieces(left, left_width, under));
                let right = Piece::stacked(self.pieces(right, right_width, under));
                let height = left.height.max(right.height);
                let marks = left.marks.into_iter().chain(right.moved(left_width + GUTTER, 0.0).marks).collect();
                vec![Piece { height, marks, ..Piece::default() }, Piece::gap(0.6 * GAP)]
            }
            Block::Together(blocks) => vec![Piece::stacked(self.pieces(blocks, width, under)), Piece::gap(GAP)],
        }
    }

    /// Lines of words, a piece each.
    fn words(&mut self, words: &str, bold: bool, size: f64, ink: Ink, width: f64, node: NodeId) -> Vec<Piece> {
        let lines = self.letters.lines(words, bold, width / size);
        let piece = |line: Line| Piece {
            height: LEADING * size,
            marks: vec![Mark {
                shape: Shape::Words { at: Point::new(0.0, RISE * size), line, size, ink },
                node: Some(node),
            }],
            ..Piece::default()
        };
        lines.into_iter().map(piece).collect()
    }

    fn title(&mut self, title: String, aside: &str, width: f64, under: Option<NodeId>) -> Vec<Piece> {
        let node = self.tags.add(under, Kind::Heading(1, title.clone()));
        let mut pieces = self.words(&title, true, TITLE, INK, width, node);
        let node = self.tags.add(under, Kind::Paragraph);
        pieces.extend(self.words(aside, false, SMALL, FAINT, width, node));
        let rule = Shape::Line {
            points: vec![Point::new(0.0, 3.0), Point::new(width, 3.0)],
            ink: INK,
            width: 1.2,
            dash: Vec::new(),
        };
        pieces.push(Piece { height: 8.0, marks: vec![Mark { shape: rule, node: None }], ..Piece::default() });
        pieces
    }

    /// Labels over values in columns; a long value takes several columns. Each fact goes to the first row that has room
    /// for it, so that a short one fills up what a long one left; a reader is told them in their own order.
    fn facts(&mut self, facts: &[(String, String)], width: f64, under: Option<NodeId>) -> Vec<Piece> {
        let list = self.tags.add(under, Kind::List);
        let column = (width - GUTTER * (FACT_COLUMNS - 1) as f64) / FACT_COLUMNS as f64;
        let mut rows: Vec<(Piece, usize)> = Vec::new();
        for (label, value) in facts {
            let room = |n: usize| column * n as f64 + GUTTER * (n - 1) as f64;
            let [label_width, value_width] =
                [(label, SMALL), (value, BODY)].map(|(words, size)| self.letters.line(words, false).width * size);
            let wanted = label_width.max(value_width);
            let n_columns = match (1..=FACT_WIDEST).find(|&n| wanted <= room(n)) {
                Some(n) => n,
                // Two lines of half the page, or as many as it takes over the whole.
                None if wanted <= 1.9 * room(FACT_WIDEST) => FACT_WIDEST,
                None => FACT_COLUMNS,
            };
            let at = rows.iter().position(|(_, filled)| filled + n_columns <= FACT_COLUMNS).unwrap_or_else(|| {
                rows.push((Piece::default(), 0));
                rows.len() - 1
            });
            let (row, filled) = &mut rows[at];
            let room = room(n_columns);
            let item = self.tags.add(Some(list), Kind::Item);
            let node = self.tags.add(Some(item), Kind::ItemBody);
            let mut cell = self.words(label, false, SMALL, FAINT, room, node);
            cell.extend(self.words(value, false, BODY, INK, room, node));
            let cell = Piece::stacked(cell).moved((column + GUTTER) * *filled as f64, 0.0);
            row.height = row.height.max(cell.height + 2.5);
            row.marks.extend(cell.marks);
            *filled += n_columns;
        }
        let mut pieces: Vec<Piece> = rows.into_iter().map(|(row, _)| row).collect();
        pieces.push(Piece::gap(0.6 * GAP));
        pieces
    }

    fn bullets(&mut self, points: &[String], tone: Tone, width: f64, under: Option<NodeId>) -> Vec<Piece> {
        let list = self.tags.add(under, Kind::List);
        let size = if tone == Tone::Small { SMALL } else { BODY };
        let mut pieces = Vec::new();
        for point in points {
            let item = self.tags.add(Some(list), Kind::Item);
            let node = self.tags.add(Some(item), Kind::ItemBody);
            let mut lines = self.words(point, false, size, INK, width - INDENT, node);
            for (i, line) in lines.drain(..).enumerate() {
                let mut line = line.moved(INDENT, 0.0);
                if i == 0 {
                    let dot = Point::new(3.0, RISE * size - 2.6);
                    let corners = [(-1.3, -1.3), (1.3, -1.3), (1.3, 1.3), (-1.3, 1.3)];
                    let points = corners.map(|(dx, dy)| Point::new(dot.x + dx, dot.y + dy)).to_vec();
                    line.marks.push(Mark { shape: Shape::Area { points, ink: INK }, node: None });
                }
                pieces.push(line);
            }
            pieces.push(Piece::gap(0.8));
        }
        pieces.push(Piece::gap(0.4 * GAP));
        pieces
    }

    /// Boxes to tick, as many in a row as fit.
    fn boxes(&mut self, points: &[String], width: f64, under: Option<NodeId>) -> Vec<Piece> {
        let list = self.tags.add(under, Kind::List);
        let mut pieces = Vec::new();
        let (mut row, mut x) = (Piece::gap(LEADING * BODY + 4.0), 0.0);
        for point in points {
            let item = self.tags.add(Some(list), Kind::Item);
            let node = self.tags.add(Some(item), Kind::ItemBody);
            let line = self.letters.line(point, false);
            let room = TICK + 4.0 + line.width * BODY;
            if x > 0.0 && x + room > width {
                pieces.push(std::mem::replace(&mut row, Piece::gap(LEADING * BODY + 4.0)));
                x = 0.0;
            }
            let baseline = RISE * BODY + 2.0;
            let [left, right, top, bottom] = [x, x + TICK, baseline - TICK + 1.0, baseline + 1.0];
            let corners = [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)];
            let points = corners.map(|(x, y)| Point::new(x, y)).to_vec();
            row.marks.push(Mark { shape: Shape::Line { points, ink: INK, width: 0.8, dash: Vec::new() }, node: None });
            let at = Point::new(right + 4.0, baseline);
            row.marks.push(Mark { shape: Shape::Words { at, line, size: BODY, ink: INK }, node: Some(node) });
            x += room + GUTTER;
        }
        pieces.push(row);
        pieces.push(Piece::gap(0.6 * GAP));
        pieces
    }

    /// Labels with a line behind each, two in a row.
    fn writing_lines(&mut self, labels: &[String], width: f64, under: Option<NodeId>) -> Vec<Piece> {
        let list = self.tags.add(under, Kind::List);
        let column = (width - GUTTER) / 2.0;
        let mut pieces = Vec::new();
        for pair in labels.chunks(2) {
            let mut row = Piece::gap(WRITING);
            for (i, label) in pair.iter().enumerate() {
                let item = self.tags.add(Some(list), Kind::Item);
                let node = self.tags.add(Some(item), Kind::ItemBody);
                let left = (column + GUTTER) * i as f64;
                let line = self.letters.line(label, false);
                let from = (left + line.width * BODY + 6.0).min(left + 0.8 * column);
                let baseline = WRITING - 5.0;
                let at = Point::new(left, baseline);
                row.marks.push(Mark { shape: Shape::Words { at, line, size: BODY, ink: INK }, node: Some(node) });
                let points = vec![Point::new(from, baseline + 1.5), Point::new(left + column, baseline + 1.5)];
                row.marks
                    .push(Mark { shape: Shape::Line { points, ink: INK, width: 0.6, dash: Vec::new() }, node: None });
            }
            pieces.push(row);
        }
        pieces.push(Piece::gap(GAP));
        pieces
    }

    fn table(
        &mut self,
        head: &[String],
        rows: &[Vec<Cell>],
        shares: &[f64],
        width: f64,
        under: Option<NodeId>,
    ) -> Vec<Piece> {
        let table = self.tags.add(under, Kind::Table);
        let part = self.tags.add(Some(table), Kind::TableHead);
        let head: Vec<Cell> = head.iter().map(|words| Cell::from(words.clone())).collect();
        let mut top = self.row(&head, shares, width, part, true);
        top.keeps_next = true;
        let part = self.tags.add(Some(table), Kind::TableBody);
        let mut pieces = vec![top];
        pieces.extend(rows.iter().map(|cells| self.row(cells, shares, width, part, false)));
        pieces.push(Piece::gap(GAP));
        pieces
    }

    fn row(&mut self, cells: &[Cell], shares: &[f64], width: f64, part: NodeId, head: bool) -> Piece {
        let row = self.tags.add(Some(part), Kind::Row);
        let sum: f64 = shares.iter().sum();
        let mut piece = Piece::default();
        let mut x = 0.0;
        for (cell, share) in cells.iter().zip(shares) {
            let room = width * share / sum;
            let node = self.tags.add(Some(row), if head { Kind::HeadCell } else { Kind::Cell });
            let indent = if cell.mark.is_some() { MARK[0] + 5.0 } else { 0.0 };
            let (size, ink) = if head { (SMALL, FAINT) } else { (BODY, INK) };
            // An empty cell is tagged all the same: a reader counts the cells.
            let words = if cell.words.is_empty() { " " } else { &cell.words };
            let lines = self.words(words, false, size, ink, (room - indent - 6.0).max(20.0), node);
            let text = Piece::stacked(lines).moved(x + indent, 1.5);
            piece.height = piece.height.max(text.height + 4.0);
            piece.marks.extend(text.marks);
            piece.marks.extend(cell.mark.into_iter().flat_map(|class| look_sample(class, x, 3.0)));
            x += room;
        }
        let y = piece.height - 0.5;
        let rule = Shape::Line {
            points: vec![Point::new(0.0, y), Point::new(width, y)],
            ink: RULE,
            width: if head { 0.9 } else { 0.5 },
            dash: Vec::new(),
        };
        piece.marks.push(Mark { shape: rule, node: None });
        piece
    }

    fn picture(
        &mut self,
        picture: Picture,
        alt: String,
        caption: Option<&str>,
        max_height: f64,
        width: f64,
        under: Option<NodeId>,
    ) -> Vec<Piece> {
        let node = self.tags.add(under, Kind::Figure(alt));
        let aspect = picture.height.max(1) as f64 / picture.width.max(1) as f64;
        let shown_width = width.min(max_height / aspect);
        let height = shown_width * aspect;
        self.pictures.push(picture);
        let shape = Shape::Picture { picture: self.pictures.len() - 1, x: 0.0, y: 0.0, width: shown_width, height };
        let mut piece =
            Piece { height: height + 2.0, marks: vec![Mark { shape, node: Some(node) }], ..Piece::default() };
        if let Some(caption) = caption {
            let node = self.tags.add(under, Kind::Paragraph);
            let lines = self.words(caption, false, SMALL, FAINT, width, node);
            piece = Piece::stacked([vec![piece], lines].concat());
        }
        vec![piece, Piece::gap(0.6 * GAP)]
    }

    fn drawing(&mut self, drawing: &Drawing, alt: String, width: f64, under: Option<NodeId>) -> Vec<Piece> {
        let node = Some(self.tags.add(under, Kind::Figure(alt)));
        let scale = (width / drawing.width.max(1.0)).min(1.2);
        let to = |p: &Point| Point::new(p.x * scale, p.y * scale);
        let mut marks = Vec::new();
        for stroke in &drawing.strokes {
            let shape = match stroke {
                Stroke::Line { points, ink, width, dash } => Shape::Line {
                    points: points.iter().map(to).collect(),
                    ink: *ink,
                    width: width * scale,
                    dash: dash.clone(),
                },
                Stroke::Area { points, ink } => Shape::Area { points: points.iter().map(to).collect(), ink: *ink },
                Stroke::Words { at, words, size, ink, anchor } => {
                    let line = self.letters.line(words, false);
                    let back = match anchor {
                        Anchor::Start => 0.0,
                        Anchor::Middle => 0.5,
                        Anchor::End => 1.0,
                    };
                    let at = to(at);
                    let at = Point::new(at.x - back * line.width * size, at.y);
                    Shape::Words { at, line, size: *size, ink: *ink }
                }
            };
            marks.push(Mark { shape, node });
        }
        vec![Piece { height: drawing.height * scale + 2.0, marks, ..Piece::default() }]
    }

    fn frame(&mut self, blocks: Vec<Block>, width: f64, under: Option<NodeId>) -> Vec<Piece> {
        let node = self.tags.add(under, Kind::Part);
        let inner = width - 2.0 * FRAME - FRAME_LINE;
        let content = Piece::stacked(self.pieces(blocks, inner, Some(node)));
        let height = content.height + FRAME;
        let block = |x: f64, w: f64, ink: Ink| Mark {
            shape: Shape::Area {
                points: [(x, 0.0), (x + w, 0.0), (x + w, height), (x, height)].map(|(x, y)| Point::new(x, y)).to_vec(),
                ink,
            },
            node: None,
        };
        let mut marks = vec![block(0.0, width, TINT), block(0.0, FRAME_LINE, INK)];
        marks.extend(content.moved(FRAME + FRAME_LINE, 0.6 * FRAME).marks);
        vec![Piece { height, marks, ..Piece::default() }, Piece::gap(GAP)]
    }
}

/// A look's mark: its line on the grey of a photo.
fn look_sample(class: &'static str, x: f64, y: f64) -> [Mark; 2] {
    let mark = look_mark(class);
    let [w, h] = MARK;
    let corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)].map(|(x, y)| Point::new(x, y)).to_vec();
    // The dashes are made for a photo; here a line is only a third as long.
    let dash = mark.dash.iter().map(|length| 0.4 * length).collect();
    let points = vec![Point::new(x + 1.0, y + h / 2.0), Point::new(x + w - 1.0, y + h / 2.0)];
    [
        Mark { shape: Shape::Area { points: corners, ink: mark_ground(class) }, node: None },
        Mark { shape: Shape::Line { points, ink: mark.rgb, width: 1.8, dash }, node: None },
    ]
}
