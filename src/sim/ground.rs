//! The lit tape without anything on it: lamp falloff, unevenness of the adhesive, the eyepiece's disc and vignetting.

use super::scene::Scene;
use super::texture;

/// Spacing of the grid on which slow fields are computed, pixels; they are smooth over many times that.
const GRID_PX: usize = 8;
/// Sizes of the adhesive's unevenness, µm: thickness of the layer, and its orange peel.
const ADHESIVE_UM: [f32; 2] = [700.0, 90.0];

/// A field that varies slowly over the photo, held on a coarse grid.
pub(super) struct SlowField {
    columns: usize,
    values: Vec<f32>,
}

impl SlowField {
    pub(super) fn new(width: usize, height: usize, value: impl Fn(f64, f64) -> f64) -> SlowField {
        let (columns, rows) = (width / GRID_PX + 2, height / GRID_PX + 2);
        let mut values = Vec::with_capacity(columns * rows);
        for j in 0..rows {
            for i in 0..columns {
                values.push(value((i * GRID_PX) as f64, (j * GRID_PX) as f64) as f32);
            }
        }
        SlowField { columns, values }
    }

    /// Bilinear value at a pixel.
    pub(super) fn at(&self, x: usize, y: usize) -> f32 {
        let (i, j) = (x / GRID_PX, y / GRID_PX);
        let (fx, fy) = ((x % GRID_PX) as f32 / GRID_PX as f32, (y % GRID_PX) as f32 / GRID_PX as f32);
        let row = |j: usize| {
            let k = j * self.columns + i;
            self.values[k] * (1.0 - fx) + self.values[k + 1] * fx
        };
        row(j) * (1.0 - fy) + row(j + 1) * fy
    }
}

/// Strength of the lamp's light over the photo, vignetting included.
pub(super) fn lamp(scene: &Scene) -> SlowField {
    SlowField::new(scene.width_px, scene.height_px, |x, y| lamp_at(scene, x, y))
}

/// Strength of the lamp's light at a place, vignetting included; about 1 in the middle.
pub(super) fn lamp_at(scene: &Scene, x: f64, y: f64) -> f64 {
    let half = scene.half_diagonal_px();
    let (cx, cy) = (0.5 * scene.width_px as f64, 0.5 * scene.height_px as f64);
    let optical_centre = scene.optics.disc.map_or((cx, cy), |d| (d.centre.x, d.centre.y));
    let (u, v) = ((x - cx) / half, (y - cy) / half);
    let mut light = libm::exp(scene.light.slope[0] * u + scene.light.slope[1] * v);
    if let Some((at, sigma, gain)) = scene.light.hot_spot {
        let (dx, dy) = ((x - at.x) / half, (y - at.y) / half);
        light *= 1.0 + gain * libm::exp(-0.5 * (dx * dx + dy * dy) / (sigma * sigma));
    }
    let (rx, ry) = ((x - optical_centre.0) / half, (y - optical_centre.1) / half);
    light * (1.0 - scene.optics.vignetting * (rx * rx + ry * ry)).max(0.05)
}

/// Glow of the tape, relative to its mean.
pub(super) fn adhesive(scene: &Scene) -> SlowField {
    let um = scene.um_per_px as f32;
    let seed = scene.light.texture;
    SlowField::new(scene.width_px, scene.height_px, |x, y| {
        let (u, v) = (x as f32 * um, y as f32 * um);
        let slow = texture::rough(seed, u / ADHESIVE_UM[0], v / ADHESIVE_UM[0]);
        let peel = texture::rough(seed ^ 0xad, u / ADHESIVE_UM[1], v / ADHESIVE_UM[1]);
        (1.0 + scene.light.unevenness * (0.8 * slow + 0.35 * peel) as f64).max(0.1)
    })
}

/// Share of the light that the eyepiece's disc lets through at a pixel, and whether there is a disc.
pub(super) fn disc_share(scene: &Scene, x: usize, y: usize) -> f32 {
    let Some(disc) = scene.optics.disc else { return 1.0 };
    let (dx, dy) = (x as f64 - disc.centre.x, y as f64 - disc.centre.y);
    let out = (dx * dx + dy * dy).sqrt() - disc.radius_px;
    let softness = disc.softness_px.max(0.3);
    if out < -4.0 * softness {
        1.0
    } else if out > 4.0 * softness {
        0.0
    } else {
        // A cubic step: no transcendental function in a loop over pixels.
        let t = (0.5 - out / (8.0 * softness)).clamp(0.0, 1.0);
        (t * t * (3.0 - 2.0 * t)) as f32
    }
}
