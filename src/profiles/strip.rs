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
    let mut values = [0, 1, 2].map(|_| vec![0.0_f32; columns * rows]);
    let from_planes = step >= scene.reduction as f64 && scene.reduction > 1 && same_size(scene.planes);
    for x in 0..columns {
        let s = x as f64 * step;
        let at = line.at(s);
        let normal = line.tangent(s, radius_px.max(1.0)).normal();
        let background = scene.background_at(at).unwrap_or([0.0; 3]);
        let per_noise = [0, 1, 2].map(|c| (1.0 / scene.noise[c].variance(background[c]).sqrt()) as f32);
        let background = background.map(|b| b as f32);
        for y in 0..rows {
            let place = at + normal * ((y as f64 - side as f64) * step);
            let light = if from_planes {
                between(scene.planes, scene.reduced(place))
            } else {
                scene.photo.between(place.x, place.y)
            };
            for c in 0..3 {
                values[c][y * columns + x] = (light[c] - background[c]) * per_noise[c];
            }
        }
    }
    values.map(|values| Raster::from_data(columns, rows, values))
}

/// Bilinear values of three rasters of one size at once.
fn between(planes: &[Raster<f32>; 3], (x, y): (f64, f64)) -> [f32; 3] {
    let (width, height) = (planes[0].width(), planes[0].height());
    let (x, y) = (x.clamp(0.0, (width - 1) as f64), y.clamp(0.0, (height - 1) as f64));
    let (x0, y0) = (x as usize, y as usize);
    let (x1, y1) = ((x0 + 1).min(width - 1), (y0 + 1).min(height - 1));
    let (fx, fy) = ((x - x0 as f64) as f32, (y - y0 as f64) as f32);
    let [a, b, c, d] = [y0 * width + x0, y0 * width + x1, y1 * width + x0, y1 * width + x1];
    planes.each_ref().map(|plane| {
        let v = plane.data();
        (v[a] * (1.0 - fx) + v[b] * fx) * (1.0 - fy) + (v[c] * (1.0 - fx) + v[d] * fx) * fy
    })
}

fn same_size(planes: &[Raster<f32>; 3]) -> bool {
    let size = |p: &Raster<f32>| (p.width(), p.height());
    planes[0].width() > 0 && planes[0].height() > 0 && planes.iter().all(|p| size(p) == size(&planes[0]))
}
