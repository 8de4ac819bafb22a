//! DOOR: two pictures to how the second lies to the first.

use super::lines::SURE_AGREEMENT;
use super::structure::map;
use super::{Mismatch, Registration};
use crate::image::Image;
use crate::maths::alignment;
use crate::maths::raster::Raster;

/// Longest side of the maps that are compared, pixels: thin shafts still have edges there, and it takes a second.
const MAP_SIDE_PX: usize = 1024;
/// Correlation of the maps below which two photos are not looked at further. Wrong pairs of tuning scenes reach 0.20
/// (docs/method-visible.md has the figures); up to `lines::SURE_AGREEMENT` the shafts must bear it out.
const LEAST_AGREEMENT: f64 = 0.25;

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

/// How the second picture lies to the first by their edges alone, where these suffice.
///
/// # Errors
/// When they differ in size or do not show one field, or it would take the shafts to tell.
pub fn aligned_by_edges(uv: &Structure, visible: &Structure) -> Result<Registration, Mismatch> {
    let found = aligned(uv, visible)?;
    if found.agreement < SURE_AGREEMENT {
        return Err(Mismatch::OtherField { agreement: Some(found.agreement) });
    }
    Ok(found)
}

/// How the second picture may lie to the first, by their edges; [`refined`](super::refined) tells whether it does.
///
/// # Errors
/// When they differ in size or show nothing in common.
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
