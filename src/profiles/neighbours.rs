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

/// Which shaft covers which part of the photo.
#[derive(Clone, Debug)]
pub(super) struct Owners {
    cells: Raster<u16>,
}

impl Owners {
    /// The map of shafts given by centreline and radius in pixels.
    pub(super) fn new(width: usize, height: usize, shafts: &[(&Polyline, f64)]) -> Owners {
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
        Owners { cells }
    }
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

    /// Whether another shaft or untrusted pixels may lie in the window, so that each pixel must be asked.
    pub(super) fn anything_near(&self, window: &Window) -> bool {
        let normal = window.along.normal();
        let n_across = (2.0 * window.half_across_px / (CELL_PX as f64 - 1.0)).ceil().max(1.0);
        let n_along = (2.0 * window.half_along_px / (CELL_PX as f64 - 1.0)).ceil().max(1.0);
        for i in 0..=n_along as usize {
            let from = window.at + window.along * (window.half_along_px * (2.0 * i as f64 / n_along - 1.0));
            for j in 0..=n_across as usize {
                let at = from + normal * (window.half_across_px * (2.0 * j as f64 / n_across - 1.0));
                if at.x > -0.5 && at.y > -0.5 && self.is_foreign((at.x + 0.5) as usize, (at.y + 0.5) as usize) {
                    return true;
                }
            }
        }
        false
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
        let owners = Owners::new(100, 100, &[(&level, 5.0), (&upright, 5.0)]);
        let trusted = Raster::filled(100, 100, true);
        let around = Surroundings::new(&owners, 0, &trusted, 1);
        assert!(!around.is_foreign(20, 50), "its own");
        assert!(around.is_foreign(50, 20), "the other's");
        assert!(around.is_foreign(50, 50), "where they cross");
        assert!(!around.is_foreign(20, 20), "nobody's");
    }
}
