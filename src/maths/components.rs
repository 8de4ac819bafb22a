//! Connected parts of a mask.

use super::raster::Raster;
use imageproc::region_labelling::{Connectivity, connected_components};

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
    label(mask, Connectivity::Eight)
}

/// The parts of a mask that touch by sides only: right for holes where the mask itself counts corners.
pub fn components_by_sides(mask: &Raster<bool>) -> Components {
    label(mask, Connectivity::Four)
}

fn label(mask: &Raster<bool>, connectivity: Connectivity) -> Components {
    let (width, height) = (mask.width(), mask.height());
    let bytes = mask.data().iter().map(|&v| u8::from(v)).collect();
    let Some(picture) = ::image::GrayImage::from_raw(width as u32, height as u32, bytes) else {
        return Components { labels: Raster::filled(width, height, 0), parts: vec![Part::default()] };
    };
    let labels =
        Raster::from_data(width, height, connected_components(&picture, connectivity, ::image::Luma([0])).into_raw());
    let n_parts = labels.data().iter().copied().max().unwrap_or(0) as usize;
    let mut parts = vec![Part { area: 0, low: (usize::MAX, usize::MAX), high: (0, 0) }; n_parts + 1];
    for y in 0..height {
        for (x, &label) in labels.row(y).iter().enumerate() {
            if label > 0 {
                let part = &mut parts[label as usize];
                part.area += 1;
                part.low = (part.low.0.min(x), part.low.1.min(y));
                part.high = (part.high.0.max(x), part.high.1.max(y));
            }
        }
    }
    parts[0] = Part::default();
    Components { labels, parts }
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
    }
}
