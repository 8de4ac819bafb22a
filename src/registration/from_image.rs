//! DOOR: two pictures to how the second lies to the first.

use super::structure::map;
use super::{Mismatch, Registration};
use crate::image::Image;
use crate::maths::alignment;
use crate::maths::raster::Raster;

/// Longest side of the maps that are compared, pixels: thin shafts still have edges there, and it takes a second.
const MAP_SIDE_PX: usize = 1024;
/// Correlation of the maps from which two photos show one field, chosen on 20 right and 20 wrong pairs of tuning scenes
/// (docs/method-visible.md has the figures): lower, and another field may be laid on by chance; higher, and photos with
/// few and dim shafts are refused.
const LEAST_AGREEMENT: f64 = 0.44;

/// What of a picture is compared with another's.
#[derive(Clone, Debug)]
pub struct Structure {
    width_px: usize,
    height_px: usize,
    /// Pixels that make one of the map, along each axis.
    reduction: usize,
    map: Raster<f32>,
}

/// What of a picture is compared.
pub fn structure(image: &Image) -> Structure {
    let reduction = image.width.max(image.height).div_ceil(MAP_SIDE_PX).max(1);
    Structure { width_px: image.width, height_px: image.height, reduction, map: map(&image.reduced(reduction)) }
}

/// How the second picture lies to the first, by their edges.
///
/// # Errors
/// When they differ in size or do not show one field.
pub fn aligned(uv: &Structure, visible: &Structure) -> Result<Registration, Mismatch> {
    let size = |of: &Structure| [of.width_px, of.height_px];
    if size(uv) != size(visible) {
        return Err(Mismatch::OtherSize { uv: size(uv), visible: size(visible) });
    }
    let found = alignment::aligned(&uv.map, &visible.map).ok_or(Mismatch::OtherField { agreement: None })?;
    if found.agreement < LEAST_AGREEMENT {
        return Err(Mismatch::OtherField { agreement: Some(found.agreement) });
    }
    Ok(Registration {
        by: found.by.in_pixels(uv.reduction as f64),
        residual_px: None,
        n_shafts: 0,
        n_stations: 0,
        agreement: found.agreement,
        peak_quality: found.peak_quality,
    })
}
