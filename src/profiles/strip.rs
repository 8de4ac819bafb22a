//! The shaft resampled straight, small enough for display and for looking at its texture.

use super::scene::Scene;
use crate::maths::polyline::Polyline;
use crate::maths::raster::Raster;

/// Most columns of a strip; more would cost more memory than the photo for a long thin shaft.
const MOST_COLUMNS: f64 = 600.0;
/// Most rows of a strip.
const MOST_ROWS: f64 = 64.0;
/// How far a strip looks to each side, radii: the outline and half a width beside it.
const VIEW_RADII: f64 = 2.0;
/// Least distance to each side, pixels.
const LEAST_VIEW_PX: f64 = 4.0;

/// Pixels of the photo per strip column and row.
pub(super) fn step_px(line: &Polyline, radius_px: f64) -> f64 {
    let view = (VIEW_RADII * radius_px).max(LEAST_VIEW_PX);
    (line.length() / (MOST_COLUMNS - 1.0)).max(2.0 * view / (MOST_ROWS - 2.0)).max(1.0)
}

/// Light above the background in units of the background's noise, red, green, blue; x along, y across, the middle row
/// on the centreline. Where the step exceeds the reduction, means over blocks of pixels are read, so that nothing
/// is missed between the places.
pub(super) fn strip(scene: &Scene, line: &Polyline, radius_px: f64) -> [Raster<f32>; 3] {
    let step = step_px(line, radius_px);
    let columns = (line.length() / step) as usize + 1;
    let side = ((VIEW_RADII * radius_px).max(LEAST_VIEW_PX) / step).ceil() as usize;
    let rows = 2 * side + 1;
    let mut rasters = [0, 1, 2].map(|_| Raster::filled(columns, rows, 0.0_f32));
    let from_planes = step >= scene.reduction as f64
        && scene.reduction > 1
        && scene.planes.iter().all(|p| p.width() > 0 && p.height() > 0);
    for x in 0..columns {
        let s = x as f64 * step;
        let at = line.at(s);
        let normal = line.tangent(s, radius_px.max(1.0)).normal();
        let background = scene.background_at(at).unwrap_or([0.0; 3]);
        let noise = [0, 1, 2].map(|c| scene.noise[c].variance(background[c]).sqrt());
        for y in 0..rows {
            let place = at + normal * ((y as f64 - side as f64) * step);
            let light = if from_planes {
                let (px, py) = scene.reduced(place);
                [0, 1, 2].map(|c| scene.planes[c].bilinear(px, py))
            } else {
                scene.photo.between(place.x, place.y)
            };
            for c in 0..3 {
                rasters[c].set(x, y, ((f64::from(light[c]) - background[c]) / noise[c]) as f32);
            }
        }
    }
    rasters
}
