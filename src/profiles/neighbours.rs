//! Which pixels belong to another shaft, or may not be trusted.

use super::bins::Window;
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;
use crate::maths::raster::Raster;

/// Side of a cell of the map, pixels. Smaller cells cost memory, larger ones cut more of the ground away.
const CELL_PX: usize = 4;
/// How far around a shaft its light is expected, in radii: what the rough width may be too small by.
const REACH_RADII: f64 = 1.25;
/// ... and pixels for the blur.
const REACH_PX: f64 = 3.0;
/// No shaft.
const FREE: u16 = 0;
/// More than one shaft.
const SHARED: u16 = u16::MAX;

/// Cells a side of a block: most windows touch blocks of one shaft only, and need look no closer.
const BLOCK_CELLS: usize = 8;

/// Which shaft covers which part of the photo.
#[derive(Clone, Debug)]
pub(super) struct Owners {
    cells: Raster<u16>,
    /// The only shaft in a block, or `SHARED` where there are several or untrusted pixels.
    blocks: Raster<u16>,
}

impl Owners {
    /// The map of shafts given by centreline and radius in pixels; `trusted` is reduced by `reduction`.
    pub(super) fn new(
        width: usize,
        height: usize,
        shafts: &[(&Polyline, f64)],
        trusted: &Raster<bool>,
        reduction: usize,
    ) -> Owners {
        let (columns, rows) = (width.div_ceil(CELL_PX).max(1), height.div_ceil(CELL_PX).max(1));
        let mut cells = Raster::filled(columns, rows, FREE);
        for (i, (line, radius)) in shafts.iter().enumerate() {
            let id = (i % usize::from(SHARED - 1)) as u16 + 1;
            let reach = (radius * REACH_RADII + REACH_PX) / CELL_PX as f64;
            let step = (reach * CELL_PX as f64 / 2.0).max(2.0);
            let n = (line.length() / step).ceil() as usize;
            for k in 0..=n {
                let at = line.at((k as f64 * step).min(line.length()));
                paint(&mut cells, Point::new(at.x / CELL_PX as f64, at.y / CELL_PX as f64), reach, id);
            }
        }
        let blocks = blocks(&cells, trusted, reduction.max(1));
        Owners { cells, blocks }
    }
}

fn blocks(cells: &Raster<u16>, trusted: &Raster<bool>, reduction: usize) -> Raster<u16> {
    let (columns, rows) = (cells.width().div_ceil(BLOCK_CELLS), cells.height().div_ceil(BLOCK_CELLS));
    let mut blocks = Raster::filled(columns, rows, FREE);
    for y in 0..cells.height() {
        for (x, &owner) in cells.row(y).iter().enumerate() {
            if owner != FREE {
                let (bx, by) = (x / BLOCK_CELLS, y / BLOCK_CELLS);
                let known = blocks.at(bx, by);
                blocks.set(bx, by, if known == FREE || known == owner { owner } else { SHARED });
            }
        }
    }
    let side = BLOCK_CELLS * CELL_PX;
    for y in 0..trusted.height() {
        if trusted.row(y).iter().all(|t| *t) {
            continue;
        }
        for (x, _) in trusted.row(y).iter().enumerate().filter(|(_, t)| !**t) {
            // A reduced pixel may lie across the border of two blocks.
            let both = |i: usize| [i * reduction / side, (i * reduction + reduction - 1) / side];
            for (bx, by) in both(x).into_iter().flat_map(|bx| both(y).map(|by| (bx, by))) {
                if bx < columns && by < rows {
                    blocks.set(bx, by, SHARED);
                }
            }
        }
    }
    blocks
}

fn paint(cells: &mut Raster<u16>, at: Point, reach: f64, id: u16) {
    let low = |v: f64| (v - reach).floor().max(0.0);
    let high = |v: f64, size: usize| (v + reach).ceil().min(size as f64 - 1.0);
    let (top, bottom) = (low(at.y), high(at.y, cells.height()));
    if bottom < top {
        return;
    }
    for y in top as usize..=bottom as usize {
        // A cell's middle in cells: pixel centres of cell k run from k to k + 1 − 1 / CELL_PX.
        let dy = y as f64 + 0.4 - at.y;
        let across = reach * reach - dy * dy;
        if across < 0.0 {
            continue;
        }
        let (left, right) = ((at.x - across.sqrt()).floor().max(0.0), (at.x + across.sqrt()).floor());
        let right = right.min(cells.width() as f64 - 1.0);
        if right < left {
            continue;
        }
        for x in left as usize..=right as usize {
            let owner = cells.at(x, y);
            if owner != id {
                cells.set(x, y, if owner == FREE { id } else { SHARED });
            }
        }
    }
}

/// What surrounds one shaft.
#[derive(Clone, Copy, Debug)]
pub(super) struct Surroundings<'a> {
    owners: &'a Owners,
    own: u16,
    trusted: &'a Raster<bool>,
    reduction: usize,
}

impl<'a> Surroundings<'a> {
    /// The surroundings of shaft number `shaft` of the map.
    pub(super) fn new(
        owners: &'a Owners,
        shaft: usize,
        trusted: &'a Raster<bool>,
        reduction: usize,
    ) -> Surroundings<'a> {
        let own = (shaft % usize::from(SHARED - 1)) as u16 + 1;
        Surroundings { owners, own, trusted, reduction: reduction.max(1) }
    }

    /// Whether the pixel belongs to another shaft or may not be trusted.
    #[inline]
    pub(super) fn is_foreign(&self, x: usize, y: usize) -> bool {
        let owner = self.owners.cells.get((x / CELL_PX) as isize, (y / CELL_PX) as isize).unwrap_or(FREE);
        (owner != FREE && owner != self.own) || !self.is_trusted(x, y)
    }

    fn is_trusted(&self, x: usize, y: usize) -> bool {
        let (x, y) = ((x / self.reduction) as isize, (y / self.reduction) as isize);
        self.trusted.get(x, y).unwrap_or(true)
    }

    /// Whether another shaft or untrusted pixels may lie near the window, so that each pixel must be asked.
    pub(super) fn anything_near(&self, window: &Window) -> bool {
        let normal = window.along.normal();
        let reach = |a: f64, n: f64| window.half_along_px * a.abs() + window.half_across_px * n.abs();
        let side = (BLOCK_CELLS * CELL_PX) as f64;
        let span = |at: f64, reach: f64, size: usize| {
            let low = ((at - reach) / side).floor().max(0.0) as usize;
            low..=(((at + reach) / side).floor().max(0.0) as usize).min(size.saturating_sub(1))
        };
        let columns = span(window.at.x, reach(window.along.x, normal.x), self.owners.blocks.width());
        let mut rows = span(window.at.y, reach(window.along.y, normal.y), self.owners.blocks.height());
        rows.any(|y| {
            columns.clone().any(|x| {
                let owner = self.owners.blocks.get(x as isize, y as isize).unwrap_or(FREE);
                owner != FREE && owner != self.own
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::{Owners, Surroundings};
    use crate::maths::point::Point;
    use crate::maths::polyline::Polyline;
    use crate::maths::raster::Raster;

    #[test]
    fn a_shaft_is_foreign_to_another_and_a_crossing_to_both() {
        let line = |a: (f64, f64), b: (f64, f64)| Polyline::new([Point::new(a.0, a.1), Point::new(b.0, b.1)]).unwrap();
        let (level, upright) = (line((10.0, 50.0), (90.0, 50.0)), line((50.0, 10.0), (50.0, 90.0)));
        let trusted = Raster::filled(100, 100, true);
        let owners = Owners::new(100, 100, &[(&level, 5.0), (&upright, 5.0)], &trusted, 1);
        let around = Surroundings::new(&owners, 0, &trusted, 1);
        assert!(!around.is_foreign(20, 50), "its own");
        assert!(around.is_foreign(50, 20), "the other's");
        assert!(around.is_foreign(50, 50), "where they cross");
        assert!(!around.is_foreign(20, 20), "nobody's");
    }
}
