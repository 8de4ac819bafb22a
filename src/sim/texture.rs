//! Frozen noise: smooth and grainy functions of place, made from a seed by hashing, without state.

/// Smooth noise along a line: mean 0, between −1 and 1, one independent value a unit of `t`.
pub(super) fn along(seed: u32, t: f32) -> f32 {
    let (i, f) = cell(t);
    let f = ease(f);
    signed(hash(seed, i, 0)) * (1.0 - f) + signed(hash(seed, i.wrapping_add(1), 0)) * f
}

/// Smooth noise over the plane: mean 0, between −1 and 1, one independent value a unit square.
pub(super) fn over(seed: u32, u: f32, v: f32) -> f32 {
    let ((i, fu), (j, fv)) = (cell(u), cell(v));
    let (fu, fv) = (ease(fu), ease(fv));
    let corner = |di: i32, dj: i32| signed(hash(seed, i.wrapping_add(di), j.wrapping_add(dj)));
    let top = corner(0, 0) * (1.0 - fu) + corner(1, 0) * fu;
    let bottom = corner(0, 1) * (1.0 - fu) + corner(1, 1) * fu;
    top * (1.0 - fv) + bottom * fv
}

/// Smooth noise over the plane with detail down to a quarter of the unit; between −1 and 1.
pub(super) fn rough(seed: u32, u: f32, v: f32) -> f32 {
    (over(seed, u, v) + 0.5 * over(seed ^ 0x5bd1, 2.0 * u, 2.0 * v) + 0.25 * over(seed ^ 0x9e37, 4.0 * u, 4.0 * v))
        / 1.75
}

/// Closely packed balls of about unit diameter, seen from above: height of the nearest one, 0 to 1
/// (1 on its middle, 0 between balls), and a number of its own, −1 to 1.
pub(super) fn balls(seed: u32, u: f32, v: f32) -> (f32, f32) {
    let ((ci, _), (cj, _)) = (cell(u), cell(v));
    let mut nearest_sq = 4.0f32;
    let mut own = 0;
    for dj in -1..=1 {
        for di in -1..=1 {
            let (i, j) = (ci.wrapping_add(di), cj.wrapping_add(dj));
            let h = hash(seed, i, j);
            let x = i as f32 + 0.2 + 0.6 * ((h & 0xffff) as f32 / 65535.0);
            let y = j as f32 + 0.2 + 0.6 * ((h >> 16) as f32 / 65535.0);
            let distance_sq = (u - x) * (u - x) + (v - y) * (v - y);
            if distance_sq < nearest_sq {
                (nearest_sq, own) = (distance_sq, h);
            }
        }
    }
    ((1.0 - 2.6 * nearest_sq).max(0.0).sqrt(), signed(hash(own, 0, 0)))
}

/// Whole part (rounded down) and fraction. Written out: on plain x86-64 `floor` is a call into the maths library.
pub(super) fn cell(t: f32) -> (i32, f32) {
    let towards_zero = t as i32;
    let whole = towards_zero - i32::from((towards_zero as f32) > t);
    (whole, t - whole as f32)
}

fn ease(t: f32) -> f32 {
    t * t * (3.0 - 2.0 * t)
}

fn signed(h: u32) -> f32 {
    h as f32 / (u32::MAX as f32 / 2.0) - 1.0
}

/// A well mixed 32-bit value of a seed and two coordinates (multiply-xorshift rounds; constants from memory).
fn hash(seed: u32, i: i32, j: i32) -> u32 {
    let mut h = seed ^ (i as u32).wrapping_mul(0x85eb_ca6b) ^ (j as u32).wrapping_mul(0xc2b2_ae35);
    h ^= h >> 16;
    h = h.wrapping_mul(0x7feb_352d);
    h ^= h >> 15;
    h = h.wrapping_mul(0x846c_a68b);
    h ^ (h >> 16)
}

#[cfg(test)]
mod tests {
    use super::{along, balls, cell, over};

    #[test]
    fn noise_is_bounded_centred_and_without_jumps() {
        let values: Vec<f32> = (0..200_000).map(|i| along(3, i as f32 * 0.1)).collect();
        let mean = values.iter().sum::<f32>() / values.len() as f32;
        assert!(mean.abs() < 0.02, "mean {mean}");
        assert!(values.iter().all(|v| v.abs() <= 1.0), "noise left its bounds");
        let jump = values.windows(2).map(|p| (p[0] - p[1]).abs()).fold(0.0, f32::max);
        assert!(jump < 0.32, "a step of a tenth moved the noise by {jump}");
        let plane = over(5, 1.5, 2.5) - over(5, 1.5001, 2.5);
        assert!(plane.abs() < 1e-3, "the plane jumps by {plane}");
    }

    #[test]
    fn cells_are_rounded_down() {
        for t in [-3.0f32, -2.75, -0.25, 0.0, 0.25, 7.0, 7.9] {
            let (whole, fraction) = cell(t);
            assert_eq!((whole as f32, fraction), (t.floor(), t - t.floor()), "{t}");
        }
    }

    #[test]
    fn balls_cover_most_of_the_plane() {
        let n = 300;
        let covered = (0..n * n).filter(|i| balls(1, (i % n) as f32 * 0.11, (i / n) as f32 * 0.11).0 > 0.0).count();
        let share = covered as f64 / (n * n) as f64;
        assert!((0.6..0.98).contains(&share), "balls cover {share}");
    }
}
