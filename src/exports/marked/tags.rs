//! Where the numbers of the shafts go: beside their shaft, on no other number, on as little hair as can be.

use super::pen::Block;
use crate::maths::point::{Point, Vec2};

/// Places along the shaft that are tried, as shares of its length: the middle first, the ends last.
const ALONG: [f64; 9] = [0.5, 0.4, 0.6, 0.28, 0.72, 0.16, 0.84, 0.06, 0.94];

/// Free space between the outline and the number, in heights of the number: near first. Beyond three heights the eye
/// no longer joins the two.
const AWAY: [f64; 4] = [0.45, 1.0, 1.8, 3.0];

/// How much worse a number is that lies wholly on hair than one that lies free. Higher than all other costs
/// together: hair must stay visible.
const COST_OF_HAIR: f64 = 10.0;

/// How much worse a number is for each of its heights between it and its shaft.
const COST_OF_DISTANCE: f64 = 0.8;

/// How much worse a number is at the very end of its shaft than in the middle.
const COST_OF_END: f64 = 1.0;

/// A shaft that wants a number; places on the sheet.
pub(super) struct Wanted<'a> {
    /// Its centreline, at least two points.
    pub(super) centreline: &'a [Point],
    /// Half its width.
    pub(super) half_width: f64,
    /// Width of its number's field.
    pub(super) w: f64,
    /// Height of its number's field.
    pub(super) h: f64,
}

/// Where a number went.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Tag {
    /// Its field.
    pub(super) block: Block,
    /// The place on the outline of its shaft that a short line joins it to.
    pub(super) foot: Point,
}

/// One place for each shaft, inside `room`, none on another as long as there is room.
pub(super) fn place(wanted: &[Wanted], room: Block, margin: f64) -> Vec<Tag> {
    let hair = Hair::of(wanted, room);
    let mut placed: Vec<Tag> = Vec::with_capacity(wanted.len());
    for shaft in wanted {
        let free = |block: Block| {
            block.within(room.grown(-margin)) && placed.iter().all(|tag| !tag.block.grown(margin).meets(block))
        };
        let best = beside(shaft)
            .filter(|(tag, _)| free(tag.block))
            .map(|(tag, cost)| (tag, cost + COST_OF_HAIR * hair.share(tag.block)))
            .min_by(|one, other| one.1.total_cmp(&other.1))
            .map(|(tag, _)| tag);
        let tag = best.or_else(|| anywhere(shaft, room.grown(-margin), free)).unwrap_or_else(|| {
            // No room at all: on the shaft, the photo holds more numbers than pixels for them.
            let foot = at(shaft.centreline, 0.5).0;
            Tag { block: Block::around(foot, shaft.w, shaft.h), foot }
        });
        placed.push(tag);
    }
    placed
}

/// All places beside the shaft with their cost, hair aside.
fn beside<'a>(shaft: &'a Wanted) -> impl Iterator<Item = (Tag, f64)> + 'a {
    let sides = [-1.0, 1.0];
    ALONG.into_iter().flat_map(move |share| {
        let (middle, tangent) = at(shaft.centreline, share);
        sides.into_iter().flat_map(move |side| {
            let outwards = tangent.normal() * side;
            let foot = middle + outwards * shaft.half_width;
            // Half the field in the direction it lies in, so that its border is `away` from the outline.
            let half = (shaft.w * outwards.x.abs() + shaft.h * outwards.y.abs()) / 2.0;
            AWAY.into_iter().map(move |away| {
                let block = Block::around(foot + outwards * (away * shaft.h + half), shaft.w, shaft.h);
                (Tag { block, foot }, COST_OF_DISTANCE * away + COST_OF_END * 2.0 * (share - 0.5).abs())
            })
        })
    })
}

/// The free place nearest to the shaft's middle, on a grid of the number's own size.
fn anywhere(shaft: &Wanted, room: Block, free: impl Fn(Block) -> bool) -> Option<Tag> {
    let foot = at(shaft.centreline, 0.5).0;
    let (columns, rows) = ((room.w / shaft.w).floor() as usize, (room.h / shaft.h).floor() as usize);
    (0..columns * rows)
        .map(|i| Block {
            x: room.x + (i % columns) as f64 * shaft.w,
            y: room.y + (i / columns) as f64 * shaft.h,
            w: shaft.w,
            h: shaft.h,
        })
        .filter(|block| free(*block))
        .min_by(|one, other| one.middle().distance(foot).total_cmp(&other.middle().distance(foot)))
        .map(|block| Tag { block, foot })
}

/// The place and the direction at a share of a line's length.
pub(super) fn at(line: &[Point], share: f64) -> (Point, Vec2) {
    let length: f64 = line.windows(2).map(|pair| pair[0].distance(pair[1])).sum();
    let mut left = share * length;
    let mut last = (line[0], Vec2::new(1.0, 0.0));
    for pair in line.windows(2) {
        let step = pair[0].distance(pair[1]);
        if step > 0.0 {
            let direction = (pair[1] - pair[0]).unit();
            if left <= step {
                return (pair[0] + direction * left, direction);
            }
            last = (pair[1], direction);
        }
        left -= step;
    }
    last
}

/// Which parts of the photo are covered by shafts: a coarse grid with sums over its corners, so that the share of any
/// rectangle costs four look-ups.
struct Hair {
    corner: Point,
    cell: f64,
    columns: usize,
    rows: usize,
    sums: Vec<u32>,
}

impl Hair {
    /// Cells along the longer side of the photo: fine enough to tell a gap the size of a number.
    const CELLS: f64 = 400.0;

    fn of(shafts: &[Wanted], photo: Block) -> Hair {
        let cell = (photo.w.max(photo.h) / Self::CELLS).max(1.0);
        let (columns, rows) = ((photo.w / cell).ceil() as usize + 1, (photo.h / cell).ceil() as usize + 1);
        let mut covered = vec![false; columns * rows];
        for shaft in shafts {
            for pair in shaft.centreline.windows(2) {
                let n_steps = (pair[0].distance(pair[1]) / cell).ceil().max(1.0) as usize;
                for step in 0..=n_steps {
                    let middle = pair[0].lerp(pair[1], step as f64 / n_steps as f64);
                    let reach = Block::around(middle, 2.0 * shaft.half_width, 2.0 * shaft.half_width);
                    let column = |x: f64| ((x - photo.x) / cell).clamp(0.0, (columns - 1) as f64) as usize;
                    let row = |y: f64| ((y - photo.y) / cell).clamp(0.0, (rows - 1) as f64) as usize;
                    for y in row(reach.y)..=row(reach.y + reach.h) {
                        covered[y * columns + column(reach.x)..=y * columns + column(reach.x + reach.w)].fill(true);
                    }
                }
            }
        }
        let mut sums = vec![0_u32; (columns + 1) * (rows + 1)];
        for y in 0..rows {
            let mut in_row = 0;
            for x in 0..columns {
                in_row += u32::from(covered[y * columns + x]);
                sums[(y + 1) * (columns + 1) + x + 1] = sums[y * (columns + 1) + x + 1] + in_row;
            }
        }
        Hair { corner: Point::new(photo.x, photo.y), cell, columns, rows, sums }
    }

    /// Share of a rectangle that is hair, 0 to 1.
    fn share(&self, block: Block) -> f64 {
        let column = |x: f64| ((x - self.corner.x) / self.cell).clamp(0.0, self.columns as f64 - 1.0) as usize;
        let row = |y: f64| ((y - self.corner.y) / self.cell).clamp(0.0, self.rows as f64 - 1.0) as usize;
        let (left, right) = (column(block.x), column(block.x + block.w) + 1);
        let (top, bottom) = (row(block.y), row(block.y + block.h) + 1);
        let sum = |x: usize, y: usize| i64::from(self.sums[y * (self.columns + 1) + x]);
        let covered = sum(right, bottom) - sum(left, bottom) - sum(right, top) + sum(left, top);
        covered as f64 / ((right - left) * (bottom - top)) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::{Block, Hair, Point, Wanted, at, place};

    const PHOTO: Block = Block { x: 0.0, y: 0.0, w: 1000.0, h: 700.0 };

    fn wanted(centreline: &[Point]) -> Wanted<'_> {
        Wanted { centreline, half_width: 10.0, w: 30.0, h: 20.0 }
    }

    #[test]
    fn a_lone_shaft_has_its_number_beside_its_middle_and_not_on_it() {
        let line = [Point::new(100.0, 300.0), Point::new(900.0, 300.0)];
        let tag = place(&[wanted(&line)], PHOTO, 2.0)[0];
        assert!((tag.block.middle().x - 500.0).abs() < 1.0);
        assert!(tag.block.y > 310.0 || tag.block.y + tag.block.h < 290.0);
        assert!((tag.foot.y - 300.0).abs() == 10.0);
    }

    #[test]
    fn a_hundred_numbers_do_not_meet() {
        let lines: Vec<[Point; 2]> = (0..100)
            .map(|i| {
                let y = 5.0 + 6.9 * f64::from(i);
                [Point::new(20.0, y), Point::new(980.0, (y * 37.0) % 700.0)]
            })
            .collect();
        let wanted: Vec<Wanted> = lines.iter().map(|line| wanted(line)).collect();
        let tags = place(&wanted, PHOTO, 2.0);
        for (i, one) in tags.iter().enumerate() {
            assert!(one.block.within(PHOTO), "{i} leaves the photo");
            assert!(tags[..i].iter().all(|other| !other.block.meets(one.block)), "{i} lies on another");
        }
    }

    #[test]
    fn a_number_avoids_hair_that_is_not_its_own() {
        // A second shaft runs close above the first: the number belongs below.
        let lines = [[(100.0, 300.0), (900.0, 300.0)], [(100.0, 260.0), (900.0, 260.0)]]
            .map(|line| line.map(|(x, y)| Point::new(x, y)));
        let tags = place(&[wanted(&lines[0]), wanted(&lines[1])], PHOTO, 2.0);
        assert!(tags[0].block.y > 300.0 && tags[1].block.y < 260.0, "{tags:?}");
    }

    #[test]
    fn a_photo_smaller_than_a_number_still_gets_it() {
        let line = [Point::new(1.0, 1.0), Point::new(8.0, 8.0)];
        assert_eq!(place(&[wanted(&line)], Block { x: 0.0, y: 0.0, w: 9.0, h: 9.0 }, 2.0).len(), 1);
    }

    #[test]
    fn the_share_of_hair_is_counted_over_the_rectangle() {
        let line = [Point::new(0.0, 350.0), Point::new(1000.0, 350.0)];
        let hair = Hair::of(&[wanted(&line)], PHOTO);
        assert_eq!(hair.share(Block { x: 100.0, y: 100.0, w: 50.0, h: 50.0 }), 0.0);
        assert!((hair.share(Block { x: 100.0, y: 340.0, w: 50.0, h: 18.0 }) - 1.0).abs() < 1e-9);
        assert!((hair.share(Block { x: 100.0, y: 350.0, w: 50.0, h: 40.0 }) - 0.3).abs() < 0.1);
    }

    #[test]
    fn places_along_a_corner() {
        let line = [Point::new(0.0, 0.0), Point::new(3.0, 0.0), Point::new(3.0, 1.0)];
        assert_eq!(at(&line, 0.5).0, Point::new(2.0, 0.0));
        assert_eq!(at(&line, 1.0).0, Point::new(3.0, 1.0));
    }
}
