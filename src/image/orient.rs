//! A picture turned upright, as its camera says it was held.

use rayon::prelude::*;

/// Output rows that one thread fills before it takes the next: as many pixels wide as a tile is read high, so that
/// each cache line of the source is used whole. Smaller reads lines twice, larger spills the cache.
const TILE_ROWS: usize = 32;

/// Turns pixels of `N` samples to the upright view; returns them with their width and height.
///
/// `orientation` is the number of the EXIF tag of that name (JEITA CP-3451, 4.6.4): 1 as it is, 2 mirrored, 3 turned
/// by half, 4 mirrored upside down, 5 mirrored along the main diagonal, 6 to be turned a quarter clockwise, 7
/// mirrored along the other diagonal, 8 to be turned a quarter anticlockwise. Any other number leaves the picture.
pub(super) fn upright<T: Copy + Default + Send + Sync, const N: usize>(
    mut samples: Vec<T>,
    width: usize,
    height: usize,
    orientation: u8,
) -> (Vec<T>, usize, usize) {
    let pixels = samples.as_chunks_mut::<N>().0;
    match orientation {
        2 => pixels.par_chunks_mut(width).for_each(<[[T; N]]>::reverse),
        3 => pixels.reverse(),
        4 => {
            let (top, bottom) = pixels.split_at_mut(height / 2 * width);
            let bottom_up = bottom.par_rchunks_mut(width);
            top.par_chunks_mut(width).zip(bottom_up).for_each(|(a, b)| a.swap_with_slice(b));
        }
        5..=8 => {
            let mut turned = vec![T::default(); samples.len()];
            turn(samples.as_chunks::<N>().0, width, height, orientation, turned.as_chunks_mut::<N>().0);
            return (turned, height, width);
        }
        _ => (),
    }
    (samples, width, height)
}

/// Fills `turned`, `height` wide and `width` high, in the four orientations that swap the axes.
fn turn<P: Copy + Send + Sync>(source: &[P], width: usize, height: usize, orientation: u8, turned: &mut [P]) {
    let (from_right, from_bottom) = (matches!(orientation, 7 | 8), matches!(orientation, 6 | 7));
    turned.par_chunks_mut(TILE_ROWS * height).enumerate().for_each(|(tile, rows)| {
        for x0 in (0..height).step_by(TILE_ROWS) {
            for (i, row) in rows.chunks_exact_mut(height).enumerate() {
                let y = tile * TILE_ROWS + i;
                let source_x = if from_right { width - 1 - y } else { y };
                let x1 = (x0 + TILE_ROWS).min(height);
                for (x, pixel) in (x0..x1).zip(&mut row[x0..x1]) {
                    let source_y = if from_bottom { height - 1 - x } else { x };
                    *pixel = source[source_y * width + source_x];
                }
            }
        }
    });
}

#[cfg(test)]
mod tests {
    use super::upright;

    /// A letter that no turn or mirror leaves alone, and how each orientation must show it; from the definition
    /// ("the 0th row is the visual ... side, the 0th column the visual ... side").
    #[test]
    fn all_eight_orientations() {
        let stored = vec![1, 2, 3, 4, 5, 6]; // 123 over 456
        let expected: [(Vec<i32>, usize, usize); 8] = [
            (vec![1, 2, 3, 4, 5, 6], 3, 2),
            (vec![3, 2, 1, 6, 5, 4], 3, 2),
            (vec![6, 5, 4, 3, 2, 1], 3, 2),
            (vec![4, 5, 6, 1, 2, 3], 3, 2),
            (vec![1, 4, 2, 5, 3, 6], 2, 3),
            (vec![4, 1, 5, 2, 6, 3], 2, 3),
            (vec![6, 3, 5, 2, 4, 1], 2, 3),
            (vec![3, 6, 2, 5, 1, 4], 2, 3),
        ];
        for (orientation, upright_view) in (1..=8).zip(expected) {
            assert_eq!(upright::<i32, 1>(stored.clone(), 3, 2, orientation), upright_view, "{orientation}");
        }
    }

    #[test]
    fn a_turn_there_and_back_is_nothing_at_any_size() {
        for (width, height) in [(1, 1), (1, 70), (70, 1), (33, 65), (64, 32), (100, 31)] {
            let stored: Vec<u16> = (0..width * height * 3).map(|v| v as u16).collect();
            for (there, back) in [(2, 2), (3, 3), (4, 4), (5, 5), (6, 8), (7, 7), (8, 6)] {
                let (turned, w, h) = upright::<u16, 3>(stored.clone(), width, height, there);
                assert_eq!(upright::<u16, 3>(turned, w, h, back).0, stored, "{width} × {height}, {there}");
            }
        }
    }
}
