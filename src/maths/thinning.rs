//! A mask to lines one pixel wide.
//!
//! T. Y. Zhang, C. Y. Suen, "A fast parallel algorithm for thinning digital patterns", Communications of the ACM,
//! 1984 (from memory), followed by a pass that takes away the corner pixels it leaves on slanted lines, so that
//! every pixel of a line has two neighbours. Only pixels still on the border of what is left are looked at.

use super::raster::Raster;

/// The eight neighbours, clockwise from straight up.
pub const NEIGHBOURS: [(isize, isize); 8] = [(0, -1), (1, -1), (1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1)];

/// Thins a mask; connected parts stay connected and keep their holes.
pub fn thinned(mask: &Raster<bool>) -> Raster<bool> {
    let (width, height) = (mask.width() + 2, mask.height() + 2);
    // A frame of unset pixels spares the border checks.
    let mut grid = vec![0u8; width * height];
    for y in 0..mask.height() {
        for x in 0..mask.width() {
            grid[(y + 1) * width + x + 1] = u8::from(mask.at(x, y));
        }
    }
    let offsets = NEIGHBOURS.map(|(dx, dy)| dy * width as isize + dx);
    let code = |grid: &[u8], i: usize| -> usize {
        offsets.iter().enumerate().map(|(k, d)| (grid[(i as isize + d) as usize] as usize) << k).sum()
    };
    let tables = [deletable(0), deletable(1)];
    let mut active: Vec<u32> =
        (0..grid.len() as u32).filter(|&i| grid[i as usize] == 1 && code(&grid, i as usize) != 255).collect();
    let mut gone: Vec<u32> = Vec::new();
    let mut idle = 0;
    let mut round = 0;
    while idle < 2 {
        gone.clear();
        gone.extend(active.iter().copied().filter(|&i| tables[round % 2][code(&grid, i as usize)]));
        for &i in &gone {
            grid[i as usize] = 0;
        }
        idle = if gone.is_empty() { idle + 1 } else { 0 };
        // New border pixels are neighbours of what went; 2 marks a pixel as listed already.
        active.retain(|&i| grid[i as usize] == 1);
        for &i in &active {
            grid[i as usize] = 2;
        }
        for &i in &gone {
            for d in offsets {
                let n = (i as isize + d) as usize;
                if grid[n] == 1 {
                    grid[n] = 2;
                    active.push(n as u32);
                }
            }
        }
        for &i in &active {
            grid[i as usize] = 1;
        }
        round += 1;
    }
    remove_corners(&mut grid, &offsets);
    Raster::from_fn(mask.width(), mask.height(), |x, y| grid[(y + 1) * width + x + 1] == 1)
}

/// Which neighbourhoods let a pixel go in a sub-iteration.
fn deletable(pass: usize) -> [bool; 256] {
    let mut table = [false; 256];
    for (code, entry) in table.iter_mut().enumerate() {
        let p = |k: usize| (code >> k) & 1;
        let n_set = (0..8).map(p).sum::<usize>();
        let n_rises = (0..8).filter(|&k| p(k) == 0 && p((k + 1) % 8) == 1).count();
        let (up, right, down, left) = (p(0), p(2), p(4), p(6));
        let sides = if pass == 0 {
            up * right * down == 0 && right * down * left == 0
        } else {
            up * right * left == 0 && up * down * left == 0
        };
        *entry = (2..=6).contains(&n_set) && n_rises == 1 && sides;
    }
    table
}

/// Takes away pixels that only round a corner between two others that touch diagonally.
fn remove_corners(grid: &mut [u8], offsets: &[isize; 8]) {
    for i in 0..grid.len() {
        if grid[i] != 1 {
            continue;
        }
        let p = |k: usize| grid[(i as isize + offsets[k % 8]) as usize] == 1;
        for k in [0, 2, 4, 6] {
            // Two neighbours at a right angle and nothing on the far side that would need it.
            let corner = p(k) && p(k + 2) && !p(k + 4) && !p(k + 5) && !p(k + 6);
            if corner {
                grid[i] = 0;
                break;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{NEIGHBOURS, thinned};
    use crate::maths::raster::Raster;

    fn parse(rows: &[&str]) -> Raster<bool> {
        let cells: Vec<Vec<u8>> = rows.iter().map(|r| r.bytes().collect()).collect();
        Raster::from_fn(cells[0].len(), cells.len(), |x, y| cells[y][x] == b'#')
    }

    #[test]
    fn a_bar_becomes_its_middle() {
        let thin = thinned(&parse(&["         ", " ####### ", " ####### ", " ####### ", "         "]));
        let rows: Vec<usize> = (0..5).map(|y| thin.row(y).iter().filter(|&&v| v).count()).collect();
        assert_eq!(rows[1] + rows[3], 0, "{rows:?}");
        assert!(rows[2] >= 4, "{rows:?}");
    }

    #[test]
    fn a_ring_stays_a_ring() {
        let ring = Raster::from_fn(40, 40, |x, y| {
            let r = (x as f64 - 20.0).hypot(y as f64 - 20.0);
            (10.0..15.0).contains(&r)
        });
        let thin = thinned(&ring);
        for y in 1..39 {
            for x in 1..39 {
                if thin.at(x, y) {
                    let n = NEIGHBOURS
                        .iter()
                        .filter(|(dx, dy)| thin.at((x as isize + dx) as usize, (y as isize + dy) as usize))
                        .count();
                    assert_eq!(n, 2, "each pixel of a ring has two neighbours, {x} {y}");
                }
            }
        }
        assert!(thin.data().iter().filter(|&&v| v).count() > 60);
    }

    #[test]
    fn nothing_and_everything_do_no_harm() {
        assert!(thinned(&Raster::filled(5, 4, false)).data().iter().all(|v| !v));
        assert!(thinned(&Raster::filled(1, 1, true)).at(0, 0));
        assert!(thinned(&Raster::filled(9, 9, true)).data().iter().any(|&v| v));
    }
}
