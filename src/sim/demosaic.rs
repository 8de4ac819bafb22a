//! A red-green-green-blue mosaic back to three channels a pixel.

use rayon::prelude::*;

use super::camera::channel_at;

/// Fills in the two channels a pixel did not record.
///
/// `graded` false: means of the nearest samples of the channel. True: the same, corrected by the gradient of the
/// channel that was recorded ("High-quality linear interpolation for demosaicing of Bayer-patterned color images",
/// ICASSP 2004; coefficients from memory).
pub(super) fn demosaic(mosaic: &[[f32; 3]], width: usize, height: usize, graded: bool) -> Vec<[f32; 3]> {
    let mut out = vec![[0.0f32; 3]; mosaic.len()];
    // Mirrored about the border pixel, so that the filter pattern goes on.
    let mirror = |i: isize, n: usize| {
        let n = n as isize;
        let i = if i < 0 { -i } else { i };
        (if i >= n { 2 * (n - 1) - i } else { i }).clamp(0, n - 1) as usize
    };
    out.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        let rows: [usize; 5] = [0, 1, 2, 3, 4].map(|k| mirror(y as isize + k - 2, height) * width);
        for (x, pixel) in row.iter_mut().enumerate() {
            let at = |dx: isize, dy: isize| {
                let column =
                    if x >= 2 && x + 2 < width { (x as isize + dx) as usize } else { mirror(x as isize + dx, width) };
                let kept = ((x as isize + dx) & 1) + ((y as isize + dy) & 1);
                mosaic[rows[(dy + 2) as usize] + column][kept as usize]
            };
            let own = channel_at(x, y);
            let here = at(0, 0);
            pixel[own] = here;
            let across = at(-1, 0) + at(1, 0);
            let down = at(0, -1) + at(0, 1);
            let corners = at(-1, -1) + at(1, -1) + at(-1, 1) + at(1, 1);
            let (far_across, far_down) = if graded { (at(-2, 0) + at(2, 0), at(0, -2) + at(0, 2)) } else { (0.0, 0.0) };
            if own == 1 {
                // On green: red lies across on even rows, blue on odd rows.
                let (beside, above) = if y & 1 == 0 { (0, 2) } else { (2, 0) };
                pixel[beside] = 0.5 * across;
                pixel[above] = 0.5 * down;
                if graded {
                    pixel[beside] += (5.0 * here - corners - far_across + 0.5 * far_down) / 8.0;
                    pixel[above] += (5.0 * here - corners - far_down + 0.5 * far_across) / 8.0;
                }
            } else {
                let other = 2 - own;
                pixel[1] = 0.25 * (across + down);
                pixel[other] = 0.25 * corners;
                if graded {
                    pixel[1] += (4.0 * here - far_across - far_down) / 8.0;
                    pixel[other] += (6.0 * here - 1.5 * (far_across + far_down)) / 8.0;
                }
            }
        }
    });
    out
}

#[cfg(test)]
mod tests {
    use super::demosaic;

    #[test]
    fn a_plane_of_even_colour_comes_back() {
        let (width, height) = (9, 8);
        let plane: Vec<[f32; 3]> =
            (0..width * height).map(|i| [0.2, 0.5, 0.1].map(|v| v + 0.01 * (i % width) as f32)).collect();
        for graded in [false, true] {
            let back = demosaic(&plane, width, height, graded);
            for y in 2..height - 2 {
                for x in 2..width - 2 {
                    for c in 0..3 {
                        let (seen, there) = (back[y * width + x][c], plane[y * width + x][c]);
                        assert!((seen - there).abs() < 1e-5, "({x}, {y}) channel {c}: {seen} for {there}");
                    }
                }
            }
        }
    }
}
