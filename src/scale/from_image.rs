//! DOOR: a picture to the rulings that are seen on it.

use super::direction::{Direction, directions};
use super::measure::measure;
use super::{Ruling, ScaleError};
use crate::image::Image;
use crate::maths::raster::Raster;

/// The rulings of one photo.
#[derive(Clone, Debug, PartialEq)]
pub struct Rulings {
    /// Columns of the photo.
    pub width_px: usize,
    /// Rows of the photo.
    pub height_px: usize,
    /// The families of parallel lines, the one with most places first: one, or two where they cross.
    pub rulings: Vec<Ruling>,
}

/// Smallest side of a photo that can show a ruling.
const LEAST_SIDE_PX: usize = 48;

/// Blocks over which light is averaged before directions are sought: fine lines show at 1, noisy ones at 8.
const REDUCTIONS: [usize; 4] = [1, 2, 4, 8];

/// Directions that are tried at each reduction, and in all.
const MOST_DIRECTIONS: usize = 3;
const MOST_TRIES: usize = 6;

/// Directions nearer than this are one, radians: 4 degrees.
const ONE_DIRECTION: f64 = 0.07;

/// Two families cross at this angle at least, radians: 20 degrees.
const CROSSING: f64 = 0.35;

/// A second family has this share of the contrast of the first at least; fainter ones come from compression.
const SECOND_CONTRAST: f64 = 0.3;

/// The rulings of a stage micrometer on a photo of it.
///
/// # Errors
/// When none is seen.
pub fn from_image(image: &Image) -> Result<Rulings, ScaleError> {
    if image.width.min(image.height) < LEAST_SIDE_PX {
        return Err(ScaleError::NoRuling);
    }
    let [mut grey, green, blue] = image.reduced(1);
    let others = green.data().iter().zip(blue.data());
    grey.data_mut().iter_mut().zip(others).for_each(|(red, (green, blue))| *red = (*red + green + blue) / 3.0);
    drop((green, blue));
    let mut rulings: Vec<Ruling> = Vec::new();
    for direction in candidates(&grey) {
        let Some(found) = measure(&grey, direction.angle) else { continue };
        let known = rulings.iter_mut().find(|known| apart(known.angle_deg, found.angle_deg) < CROSSING.to_degrees());
        match known {
            Some(known) if known.n_places < found.n_places => *known = found,
            Some(_) => (),
            None => rulings.push(found),
        }
        // The lines of a micrometer and, on some, those across them.
        if rulings.len() == 2 {
            break;
        }
    }
    rulings.sort_by_key(|ruling| std::cmp::Reverse(ruling.n_places));
    let contrast = rulings.first().ok_or(ScaleError::NoRuling)?.contrast;
    rulings.retain(|ruling| ruling.contrast >= SECOND_CONTRAST * contrast);
    Ok(Rulings { width_px: image.width, height_px: image.height, rulings })
}

/// Directions worth a try, those with most to say for them first.
fn candidates(grey: &Raster<f32>) -> Vec<Direction> {
    let mut all: Vec<Direction> = Vec::new();
    for factor in REDUCTIONS {
        let found = if factor == 1 {
            directions(grey, MOST_DIRECTIONS)
        } else if grey.width() / factor < LEAST_SIDE_PX || grey.height() / factor < LEAST_SIDE_PX {
            break;
        } else {
            directions(&reduced(grey, factor), MOST_DIRECTIONS)
        };
        all.extend(found);
    }
    all.sort_by(|a, b| b.share.total_cmp(&a.share));
    let mut kept: Vec<Direction> = Vec::new();
    for one in all {
        let known = |other: &Direction| apart(other.angle.to_degrees(), one.angle.to_degrees()).to_radians();
        if kept.len() < MOST_TRIES && kept.iter().all(|other| known(other) > ONE_DIRECTION) {
            kept.push(one);
        }
    }
    kept
}

/// The angle between two directions, degrees, 0 to 90.
fn apart(a_deg: f64, b_deg: f64) -> f64 {
    let off = (a_deg - b_deg).rem_euclid(180.0);
    off.min(180.0 - off)
}

/// Means over whole blocks; a rest at the right and lower edge is left out.
fn reduced(grey: &Raster<f32>, factor: usize) -> Raster<f32> {
    let (width, height) = (grey.width() / factor, grey.height() / factor);
    let mut sums = Raster::filled(width, height, 0.0f32);
    for y in 0..height * factor {
        let row = &grey.row(y)[..width * factor];
        let out = &mut sums.data_mut()[y / factor * width..(y / factor + 1) * width];
        out.iter_mut().zip(row.chunks_exact(factor)).for_each(|(sum, block)| *sum += block.iter().sum::<f32>());
    }
    let n = (factor * factor) as f32;
    sums.data_mut().iter_mut().for_each(|sum| *sum /= n);
    sums
}

#[cfg(test)]
mod tests {
    use super::{Raster, apart, reduced};

    #[test]
    fn directions_have_no_arrow() {
        assert_eq!(apart(179.0, 1.0), 2.0);
        assert_eq!(apart(10.0, 100.0), 90.0);
    }

    #[test]
    fn blocks_are_averaged() {
        let grey = Raster::from_fn(5, 4, |x, y| (10 * y + x) as f32);
        let small = reduced(&grey, 2);
        assert_eq!((small.width(), small.height()), (2, 2));
        assert_eq!(small.data(), [5.5, 7.5, 25.5, 27.5]);
    }
}
