//! Distance of each set pixel from the nearest unset one.

use super::raster::Raster;

/// Distance in pixels from the centre of each set pixel to the centre of the nearest unset one; 0 where unset.
/// Pixels beyond the picture count as set, so that a shaft that leaves the photo keeps its width at the border.
///
/// The exact Euclidean transform of P. F. Felzenszwalb, D. P. Huttenlocher, "Distance transforms of sampled
/// functions", 2012 (from memory), as the imageproc crate has it. When no pixel is unset, the larger side.
pub fn distance_inside(mask: &Raster<bool>) -> Raster<f32> {
    let (width, height) = (mask.width(), mask.height());
    let largest = width.max(height) as f32;
    let bytes = mask.data().iter().map(|&v| u8::from(!v)).collect();
    let Some(picture) = ::image::GrayImage::from_raw(width as u32, height as u32, bytes) else {
        return Raster::filled(width, height, 0.0);
    };
    let squared = imageproc::distance_transform::euclidean_squared_distance_transform(&picture);
    Raster::from_data(width, height, squared.into_raw().into_iter().map(|d| (d.sqrt() as f32).min(largest)).collect())
}

#[cfg(test)]
mod tests {
    use super::distance_inside;
    use crate::maths::raster::Raster;

    #[test]
    fn the_fast_way_agrees_with_looking_everywhere() {
        let mask = Raster::from_fn(23, 17, |x, y| (x * 31 + y * 17 + x * y) % 11 != 0);
        let fast = distance_inside(&mask);
        for y in 0..17 {
            for x in 0..23 {
                let mut slow = f64::INFINITY;
                for v in 0..17 {
                    for u in 0..23 {
                        if !mask.at(u, v) {
                            slow = slow.min((x as f64 - u as f64).hypot(y as f64 - v as f64));
                        }
                    }
                }
                assert!((f64::from(fast.at(x, y)) - slow).abs() < 1e-5, "{x} {y}");
            }
        }
    }

    #[test]
    fn a_mask_without_end_is_bounded() {
        assert_eq!(distance_inside(&Raster::filled(4, 6, true)).at(1, 1), 6.0);
    }
}
