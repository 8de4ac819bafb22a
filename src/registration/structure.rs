//! A map of where something begins or ends, the same for bright things on a dark ground and dark ones on a bright one.
//!
//! Light goes through a square root, after which photon noise is alike everywhere; its slopes are counted in units of
//! each channel's own usual slope, which noise and the tape's unevenness make, and what stands out is 1, whatever its
//! strength: m² / (m² + t²). A dim shaft's edges then count as much as a bright one's.

use crate::maths::raster::Raster;
use crate::maths::stats::median;

/// Slope, in units of the channel's median slope, that counts half. Slopes of pure noise have a Rayleigh law, 1 in 64
/// of which exceeds 2.45 medians and 1 in 8,000 exceeds 3.6 (closed form 2^-x²); dim shafts have four to ten.
const HALF_AT: f32 = 4.0;
/// Values looked at for the median slope.
const LOOKED_AT: usize = 100_000;

/// The map of three channels of linear light.
pub(super) fn map(planes: &[Raster<f32>; 3]) -> Raster<f32> {
    let slopes: Vec<Option<(Raster<f32>, f32)>> = planes.iter().map(slope).collect();
    let (width, height) = (planes[0].width(), planes[0].height());
    Raster::by_rows(width, height, 0.0, |y, row| {
        for (x, value) in row.iter_mut().enumerate() {
            let square: f32 =
                slopes.iter().flatten().map(|(slope, usual)| (slope.at(x, y) / usual).powi(2)).fold(0.0, f32::max);
            *value = square / (square + HALF_AT * HALF_AT);
        }
    })
}

/// Slope of the root of the light, and its median; `None` for a channel without any.
fn slope(plane: &Raster<f32>) -> Option<(Raster<f32>, f32)> {
    let root = plane.map(|light| light.max(0.0).sqrt());
    let (width, height) = (root.width(), root.height());
    let at = |x: usize, y: usize| root.at(x, y);
    let slope = Raster::by_rows(width, height, 0.0, |y, row| {
        if y == 0 || y + 1 == height {
            return;
        }
        for (x, value) in row.iter_mut().enumerate().take(width.saturating_sub(1)).skip(1) {
            // Sobel's slopes: differences over two pixels, smoothed across.
            let across = |x: usize| at(x, y - 1) + 2.0 * at(x, y) + at(x, y + 1);
            let down = |y: usize| at(x - 1, y) + 2.0 * at(x, y) + at(x + 1, y);
            *value = (across(x + 1) - across(x - 1)).hypot(down(y + 1) - down(y - 1));
        }
    });
    let step = (width * height / LOOKED_AT).max(1) | 1;
    let mut seen: Vec<f64> = slope.data().iter().step_by(step).map(|&v| f64::from(v)).filter(|v| *v > 0.0).collect();
    let usual = median(&mut seen)? as f32;
    (usual > 0.0).then_some((slope, usual))
}

#[cfg(test)]
mod tests {
    use super::map;
    use crate::maths::raster::Raster;
    use crate::maths::seeds::mixed;

    #[test]
    fn a_bright_line_in_the_dark_and_a_dark_one_in_the_light_have_the_same_map() {
        let picture = |ground: f32, line: f32| {
            let plane = Raster::from_fn(80, 60, |x, y| {
                let noise = (mixed((y * 80 + x) as u64) % 1000) as f32 / 1000.0 - 0.5;
                let light = if (20..30).contains(&y) { line } else { ground };
                light + 0.02 * light.sqrt() * noise
            });
            map(&[plane.clone(), plane.clone(), plane])
        };
        let (dark, bright) = (picture(0.05, 0.4), picture(0.8, 0.3));
        for y in [19, 20, 29, 30] {
            assert!(dark.at(40, y) > 0.9 && bright.at(40, y) > 0.9, "row {y}");
        }
        for y in [10, 25, 45] {
            assert!(dark.at(40, y) < 0.5 && bright.at(40, y) < 0.5, "row {y}");
        }
        let even = Raster::filled(20, 20, 0.3);
        assert!(map(&[even.clone(), even.clone(), even]).data().iter().all(|v| *v == 0.0));
    }
}
