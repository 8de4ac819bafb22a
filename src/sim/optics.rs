//! From the slide to the sensor: layers are blurred by their depth and laid over each other, then the lens adds its veil,
//! the lamp its unevenness and the eyepiece its disc.

use rayon::prelude::*;

use super::family::FAMILIES;
use super::ground::{adhesive, disc_share, lamp};
use super::layer::Layer;
use super::render_debris::debris_layer;
use super::render_shaft::{Inks, shaft_layers};
use super::render_strays::stray_layer;
use super::scene::{DebrisKind, Scene};
use super::smooth::smooth_rows_and_columns;
use super::spectra::Spectrum;

/// Channel values (red, green, blue of the camera, daylight = 1, 1, 1) of every pixel, row by row.
pub(super) type Channels = Vec<[f32; 3]>;

/// Pixels a side that are averaged before the veil is blurred.
const VEIL_STEP_PX: usize = 16;
/// Sigma of the veil as a share of the photo's width: light scattered in lens and tape travels far.
const VEIL_SIGMA_SHARE: f64 = 0.06;

/// The light on the sensor, before exposure.
pub fn channels(scene: &Scene) -> Vec<[f32; 3]> {
    let (width, height) = (scene.width_px, scene.height_px);
    let ink = |spectrum: &Spectrum| FAMILIES[scene.camera.family].response(spectrum).map(|v| v as f32);
    let leak = ink(&scene.light.leak_spectrum).map(|v| v * scene.light.leak as f32);
    let haze = ink(&scene.light.haze_spectrum).map(|v| v * scene.light.haze as f32);

    let (below, above): (Vec<_>, Vec<_>) =
        scene.debris.iter().partition(|d| matches!(d.kind, DebrisKind::Puddle | DebrisKind::Streak));
    let draw_debris = |debris: &Vec<&super::scene::Debris>| -> Vec<(Layer, [f32; 3])> {
        debris
            .par_iter()
            .filter_map(|d| {
                let layer = debris_layer(scene, d, ink(&d.spectrum), leak)?;
                // A streak has no edges that blur could soften; it is only cut to the photo.
                let sigma = if d.kind == DebrisKind::Streak { 0.05 } else { d.blur_px.max(0.05) };
                Some((layer.blurred(sigma as f32, width, height), [1.0; 3]))
            })
            .collect()
    };
    let shafts: Vec<(Layer, [f32; 3])> = scene
        .shafts
        .par_iter()
        .flat_map_iter(|shaft| {
            let inks = Inks { own: ink(&shaft.own_spectrum), extra: ink(&shaft.extra_spectrum), scatter: leak };
            shaft_layers(scene, shaft, &inks).into_iter().map(|layer| (layer, shaft.loss_tint))
        })
        .collect();

    let strays: Vec<(Layer, [f32; 3])> = scene
        .strays
        .par_iter()
        .filter_map(|stray| {
            let layer = stray_layer(scene, stray, ink(&stray.spectrum))?;
            Some((layer.blurred(stray.blur_px as f32, width, height), [1.0; 3]))
        })
        .collect();

    let peel = adhesive(scene);
    let mut light: Channels = vec![[0.0; 3]; width * height];
    let under = 1.0 - scene.light.haze_above as f32;
    light.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        for (x, pixel) in row.iter_mut().enumerate() {
            let strength = peel.at(x, y) * under;
            *pixel = haze.map(|v| v * strength);
        }
    });
    for (layer, tint) in draw_debris(&below).iter().chain(&shafts).chain(&strays).chain(&draw_debris(&above)) {
        lay_over(&mut light, width, layer, *tint);
    }
    let over = scene.light.haze_above as f32;
    let falloff = lamp(scene);
    light.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        for (x, pixel) in row.iter_mut().enumerate() {
            let strength = peel.at(x, y) * over;
            let lamp = falloff.at(x, y);
            for c in 0..3 {
                pixel[c] = (pixel[c] + haze[c] * strength) * lamp;
            }
        }
    });
    if scene.light.veil > 0.0 {
        add_veil(&mut light, width, height, scene.light.veil as f32);
    }
    if let Some(disc) = scene.optics.disc {
        let outside = haze.map(|v| v * disc.outside as f32);
        light.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
            for (x, pixel) in row.iter_mut().enumerate() {
                let share = disc_share(scene, x, y);
                for c in 0..3 {
                    pixel[c] = pixel[c] * share + outside[c] * (1.0 - share);
                }
            }
        });
    }
    light
}

fn lay_over(light: &mut Channels, width: usize, layer: &Layer, tint: [f32; 3]) {
    for (y, first, lits) in layer.rows() {
        let start = y as usize * width + first as usize;
        for (pixel, lit) in light[start..start + lits.len()].iter_mut().zip(lits) {
            for c in 0..3 {
                pixel[c] = pixel[c] * (1.0 - lit[3] * tint[c]).max(0.0) + lit[c];
            }
        }
    }
}

/// Takes a share of the light away everywhere and gives it back blurred over a wide neighbourhood.
fn add_veil(light: &mut Channels, width: usize, height: usize, veil: f32) {
    let (columns, rows) = (width.div_ceil(VEIL_STEP_PX), height.div_ceil(VEIL_STEP_PX));
    let mut coarse: Channels = vec![[0.0; 3]; columns * rows];
    coarse.par_chunks_mut(columns).enumerate().for_each(|(j, row)| {
        for (i, mean) in row.iter_mut().enumerate() {
            let (y1, x1) = (((j + 1) * VEIL_STEP_PX).min(height), ((i + 1) * VEIL_STEP_PX).min(width));
            let (y0, x0) = (j * VEIL_STEP_PX, i * VEIL_STEP_PX);
            for y in y0..y1 {
                for pixel in &light[y * width + x0..y * width + x1] {
                    for c in 0..3 {
                        mean[c] += pixel[c];
                    }
                }
            }
            *mean = mean.map(|v| v / ((y1 - y0) * (x1 - x0)) as f32);
        }
    });
    let sigma = (VEIL_SIGMA_SHARE * width as f64 / VEIL_STEP_PX as f64).max(0.5);
    smooth_rows_and_columns(&mut coarse, columns, rows, sigma as f32);
    light.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        let at = |x: usize, size: usize, n: usize| {
            let t = ((x as f32 + 0.5) / VEIL_STEP_PX as f32 - 0.5).clamp(0.0, (n - 1) as f32);
            let i = (t as usize).min(n.saturating_sub(2));
            debug_assert!(x < size, "outside the photo");
            (i, if n > 1 { t - i as f32 } else { 0.0 })
        };
        let (j, fy) = at(y, height, rows);
        for (x, pixel) in row.iter_mut().enumerate() {
            let (i, fx) = at(x, width, columns);
            let (i1, j1) = ((i + 1).min(columns - 1), (j + 1).min(rows - 1));
            for c in 0..3 {
                let top = coarse[j * columns + i][c] * (1.0 - fx) + coarse[j * columns + i1][c] * fx;
                let bottom = coarse[j1 * columns + i][c] * (1.0 - fx) + coarse[j1 * columns + i1][c] * fx;
                pixel[c] = pixel[c] * (1.0 - veil) + veil * (top * (1.0 - fy) + bottom * fy);
            }
        }
    });
}
