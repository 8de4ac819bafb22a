//! Connected parts of a mask.
//!
//! Written here because the image library's own labelling stops the program on a picture of one pixel, and takes
//! several times as long on masks that are mostly unset.

use super::raster::Raster;

/// Which part each pixel belongs to.
#[derive(Clone, Debug)]
pub struct Components {
    /// 0 where the mask is unset, else the number of the part, from 1.
    pub labels: Raster<u32>,
    /// One entry a part; index 0 stands for the unset pixels and is empty.
    pub parts: Vec<Part>,
}

/// Size and extent of one connected part.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Part {
    /// Pixels.
    pub area: usize,
    /// Leftmost and topmost pixel.
    pub low: (usize, usize),
    /// Rightmost and lowest pixel.
    pub high: (usize, usize),
}

/// The parts of a mask that touch by sides or corners.
pub fn components(mask: &Raster<bool>) -> Components {
    label(mask, 1)
}

/// The parts of a mask that touch by sides only: right for holes where the mask itself counts corners.
pub fn components_by_sides(mask: &Raster<bool>) -> Components {
    label(mask, 0)
}

/// A run of set pixels in one row.
struct Run {
    y: usize,
    from: usize,
    /// One past the last pixel.
    to: usize,
}

/// Runs of set pixels joined with those they touch in the row above: two passes over runs instead of pixels, since
/// shafts leave most of a row unset.
fn label(mask: &Raster<bool>, corners: usize) -> Components {
    let (width, height) = (mask.width(), mask.height());
    let mut runs: Vec<Run> = Vec::new();
    let mut root: Vec<u32> = Vec::new();
    let mut above = 0..0;
    for y in 0..height {
        let row = mask.row(y);
        let start = runs.len();
        let mut x = 0;
        while let Some(from) = row[x..].iter().position(|&v| v).map(|d| x + d) {
            let to = row[from..].iter().position(|&v| !v).map_or(width, |d| from + d);
            root.push(runs.len() as u32);
            runs.push(Run { y, from, to });
            x = to;
        }
        let mut k = above.start;
        for i in start..runs.len() {
            // Runs of the row above that end before this one begins touch no later one either.
            while k < above.end && runs[k].to + corners <= runs[i].from {
                k += 1;
            }
            let mut touching = k;
            while touching < above.end && runs[touching].from < runs[i].to + corners {
                join(&mut root, i, touching);
                touching += 1;
            }
        }
        above = start..runs.len();
    }
    let mut labels = Raster::filled(width, height, 0u32);
    let mut parts = vec![Part::default()];
    let mut number = vec![0u32; runs.len()];
    for (i, run) in runs.iter().enumerate() {
        let top = find(&mut root, i);
        if number[top] == 0 {
            number[top] = parts.len() as u32;
            parts.push(Part { area: 0, low: (run.from, run.y), high: (0, 0) });
        }
        let label = number[top];
        labels.data_mut()[run.y * width + run.from..run.y * width + run.to].fill(label);
        let part = &mut parts[label as usize];
        part.area += run.to - run.from;
        part.low = (part.low.0.min(run.from), part.low.1.min(run.y));
        part.high = (part.high.0.max(run.to - 1), part.high.1.max(run.y));
    }
    Components { labels, parts }
}

/// The first run of the part that run `i` belongs to; shortens the way for the next who asks.
fn find(root: &mut [u32], mut i: usize) -> usize {
    while root[i] as usize != i {
        root[i] = root[root[i] as usize];
        i = root[i] as usize;
    }
    i
}

fn join(root: &mut [u32], a: usize, b: usize) {
    let (a, b) = (find(root, a), find(root, b));
    let (first, second) = (a.min(b), a.max(b));
    root[second] = first as u32;
}

#[cfg(test)]
mod tests {
    use super::{components, components_by_sides};
    use crate::maths::raster::Raster;

    #[test]
    fn corners_join_and_sides_do_not() {
        let mask = Raster::from_data(3, 2, vec![true, false, true, false, true, false]);
        assert_eq!(components(&mask).parts.len(), 2);
        assert_eq!(components_by_sides(&mask).parts.len(), 4);
        assert_eq!(components(&mask).parts[1].area, 3);
        assert_eq!(components(&mask).parts[1].high, (2, 1));
        assert_eq!(components(&Raster::filled(1, 1, true)).parts.len(), 2);
    }

    #[test]
    fn runs_agree_with_spreading_from_pixel_to_pixel() {
        for corners in [0isize, 1] {
            let mask = Raster::from_fn(37, 29, |x, y| (x * x * 7 + y * 13 + x * y * 3) % 5 < 2);
            let fast = if corners == 1 { components(&mask) } else { components_by_sides(&mask) };
            let mut slow = Raster::filled(37, 29, 0u32);
            let mut n = 0;
            for start in 0..37 * 29 {
                if !mask.data()[start] || slow.data()[start] != 0 {
                    continue;
                }
                n += 1;
                let mut stack = vec![((start % 37) as isize, (start / 37) as isize)];
                while let Some((x, y)) = stack.pop() {
                    if mask.get(x, y) != Some(true) || slow.at(x as usize, y as usize) != 0 {
                        continue;
                    }
                    slow.set(x as usize, y as usize, n);
                    for (dx, dy) in (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (dx, dy))) {
                        if dx == 0 || dy == 0 || corners == 1 {
                            stack.push((x + dx, y + dy));
                        }
                    }
                }
            }
            assert_eq!(fast.labels, slow, "both number parts by their first pixel");
            assert_eq!(fast.parts.len(), n as usize + 1);
        }
    }
}
