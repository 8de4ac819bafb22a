//! From light on the sensor to the file's samples: exposure, noise, mosaic, colour, smoothing, tone, sharpening.

use rayon::prelude::*;

use super::apparatus::{Camera, Mosaic, Tone};
use super::demosaic::demosaic;
use super::dice::{Dice, Stream};
use super::family::FAMILIES;
use super::scene::Scene;
use super::smooth::smooth_rows_and_columns;

/// Entries of the tone table between linear 0 and 1; between them it is read linearly.
const TONE_STEPS: usize = 4096;

/// Red, green, blue bytes, row by row.
pub(super) fn develop(scene: &Scene, mut light: Vec<[f32; 3]>, exposure_gain: f64) -> Vec<u8> {
    let (width, height) = (scene.width_px, scene.height_px);
    let camera = &scene.camera;
    expose(scene, &mut light, exposure_gain as f32);
    if camera.mosaic != Mosaic::None {
        light = demosaic(&light, width, height, camera.mosaic == Mosaic::Graded);
    }
    let matrix = colour_matrix(camera);
    light.par_iter_mut().for_each(|pixel| {
        let balanced = [0, 1, 2].map(|c| (pixel[c] * camera.white_balance[c] as f32).min(1.0));
        for c in 0..3 {
            pixel[c] = (0..3).map(|k| matrix[c][k] * balanced[k]).sum::<f32>() + camera.black as f32;
        }
    });
    if camera.denoise_px > 0.0 {
        smooth_rows_and_columns(&mut light, width, height, camera.denoise_px as f32);
    }
    let table = tone_table(camera.tone);
    light.par_iter_mut().for_each(|pixel| {
        for value in pixel {
            *value = through(&table, *value);
        }
    });
    if camera.sharpen.1 > 0.0 {
        sharpen(&mut light, width, height, camera.sharpen);
    }
    let mut bytes: Vec<u8> = vec![0; 3 * light.len()];
    bytes.par_chunks_mut(3).zip(light.par_iter()).for_each(|(out, pixel)| {
        for c in 0..3 {
            out[c] = (pixel[c] * 255.0 + 0.5).clamp(0.0, 255.0) as u8;
        }
    });
    if camera.halved_colour {
        halve_colour(&mut bytes, width, height);
    }
    if let Some(bar) = scene.scale_bar {
        let mut fill = |x0: f64, y0: f64, x1: f64, y1: f64| {
            for y in (y0.max(0.0) as usize)..(y1.max(0.0) as usize).min(height) {
                for x in (x0.max(0.0) as usize)..(x1.max(0.0) as usize).min(width) {
                    bytes[3 * (y * width + x)..][..3].fill(bar.value);
                }
            }
        };
        fill(bar.from.x, bar.from.y, bar.from.x + bar.length_px, bar.from.y + bar.thick_px);
        if bar.ticks {
            for end in [bar.from.x, bar.from.x + bar.length_px - bar.thick_px] {
                let rise = 2.0 * bar.thick_px;
                fill(end, bar.from.y - rise, end + bar.thick_px, bar.from.y + bar.thick_px + rise);
            }
        }
    }
    bytes
}

/// Scales to the exposure, adds photon and read noise, and clips at the full well.
///
/// Photon noise is normal with the variance of a Poisson count; below about ten electrons the read noise hides the
/// difference. Each row draws from a stream of its own, so that the order of threads does not matter.
fn expose(scene: &Scene, light: &mut [[f32; 3]], gain: f32) {
    let full = scene.camera.full_electrons as f32;
    let read = scene.camera.read_electrons as f32;
    let mosaic = scene.camera.mosaic != Mosaic::None;
    if full.is_infinite() {
        light.par_iter_mut().for_each(|pixel| *pixel = pixel.map(|v| (v * gain).clamp(0.0, 1.0)));
        return;
    }
    light.par_chunks_mut(scene.width_px).enumerate().for_each(|(y, row)| {
        let mut dice = Dice::new(scene.seed, scene.salt, Stream::Noise as u64 + y as u64);
        for (x, pixel) in row.iter_mut().enumerate() {
            let only = mosaic.then(|| channel_at(x, y));
            for (c, value) in pixel.iter_mut().enumerate() {
                if only.is_some_and(|kept| kept != c) {
                    continue;
                }
                let electrons = (*value * gain * full).max(0.0);
                let noise = dice.standard_normal() as f32 * (electrons + read * read).sqrt();
                *value = (electrons + noise).min(full) / full;
            }
        }
    });
}

/// The channel under the filter of a pixel: red-green over green-blue.
pub(super) fn channel_at(x: usize, y: usize) -> usize {
    (x & 1) + (y & 1)
}

/// The family's matrix to sRGB as far as it is applied, then saturation and hue turn around grey.
fn colour_matrix(camera: &Camera) -> [[f32; 3]; 3] {
    let to_srgb = FAMILIES[camera.family].to_srgb();
    let applied = |row: usize, column: usize| {
        let identity = if row == column { 1.0 } else { 0.0 };
        identity + camera.matrix_share * (to_srgb[row][column] - identity)
    };
    let turn = hue_and_saturation(camera.hue_turn, camera.saturation);
    let entry = |row: usize, column: usize| (0..3).map(|k| turn[row][k] * applied(k, column)).sum::<f64>() as f32;
    [0, 1, 2].map(|row| [0, 1, 2].map(|column| entry(row, column)))
}

/// Rotation of colours around the grey axis by `turn` radians, distances from grey scaled by `saturation`
/// (Rodrigues' formula about (1, 1, 1); closed form).
fn hue_and_saturation(turn: f64, saturation: f64) -> [[f64; 3]; 3] {
    let (cos, sin) = (libm::cos(turn) * saturation, libm::sin(turn) * saturation);
    let third = 1.0 / 3.0;
    let root = sin / 3.0f64.sqrt();
    let same = cos + (1.0 - cos) * third;
    let (next, last) = ((1.0 - cos) * third - root, (1.0 - cos) * third + root);
    [[same, next, last], [last, same, next], [next, last, same]]
}

/// Values of the file, 0 to 1, for linear 0 to 1.
fn tone_table(tone: Tone) -> Vec<f32> {
    (0..=TONE_STEPS)
        .map(|i| {
            let linear = i as f64 / TONE_STEPS as f64;
            let plain = srgb_encoded(linear);
            let shaped = match tone {
                Tone::Srgb => plain,
                Tone::Contrast(strength) => plain + strength * plain * (1.0 - plain) * (2.0 * plain - 1.0),
                Tone::Flat(exponent) => 0.02 + 0.96 * libm::pow(linear, exponent),
            };
            shaped as f32
        })
        .collect()
}

/// The curve of IEC 61966-2-1 from linear light to the file, both 0 to 1.
pub fn srgb_encoded(linear: f64) -> f64 {
    if linear <= 0.0031308 { 12.92 * linear } else { 1.055 * libm::pow(linear, 1.0 / 2.4) - 0.055 }
}

fn through(table: &[f32], linear: f32) -> f32 {
    let t = linear.clamp(0.0, 1.0) * TONE_STEPS as f32;
    let i = (t as usize).min(TONE_STEPS - 1);
    table[i] + (table[i + 1] - table[i]) * (t - i as f32)
}

fn sharpen(pixels: &mut [[f32; 3]], width: usize, height: usize, (sigma_px, amount): (f64, f64)) {
    let mut soft = pixels.to_vec();
    smooth_rows_and_columns(&mut soft, width, height, sigma_px as f32);
    let grey = |p: [f32; 3]| 0.25 * p[0] + 0.5 * p[1] + 0.25 * p[2];
    pixels.par_iter_mut().zip(soft.par_iter()).for_each(|(pixel, soft)| {
        let lift = amount as f32 * (grey(*pixel) - grey(*soft));
        pixel.iter_mut().for_each(|v| *v += lift);
    });
}

/// Averages colour differences over two by two pixels, as most JPEG files store them.
fn halve_colour(bytes: &mut [u8], width: usize, height: usize) {
    bytes.par_chunks_mut(6 * width).enumerate().for_each(|(pair, rows)| {
        let n_rows = (height - 2 * pair).min(2);
        for x0 in (0..width).step_by(2) {
            let places: Vec<usize> =
                (0..n_rows).flat_map(|y| (x0..(x0 + 2).min(width)).map(move |x| 3 * (y * width + x))).collect();
            let luma = |rows: &[u8], at: usize| {
                0.299 * rows[at] as f32 + 0.587 * rows[at + 1] as f32 + 0.114 * rows[at + 2] as f32
            };
            let mut mean = [0.0f32; 3];
            for &at in &places {
                let y = luma(rows, at);
                for c in 0..3 {
                    mean[c] += (rows[at + c] as f32 - y) / places.len() as f32;
                }
            }
            for &at in &places {
                let y = luma(rows, at);
                for c in 0..3 {
                    rows[at + c] = (y + mean[c] + 0.5).clamp(0.0, 255.0) as u8;
                }
            }
        }
    });
}

#[cfg(test)]
mod tests {
    use super::{hue_and_saturation, srgb_encoded};

    /// Facts 3.27 (colour-science 0.4.7): IEC 61966-2-1 encoding.
    #[test]
    fn srgb_encodes_as_published() {
        for (linear, encoded) in [(0.18, 0.46135613), (0.5, 0.73535698), (0.01, 0.09985282), (0.0031308, 0.04044994)] {
            assert!((srgb_encoded(linear) - encoded).abs() < 1e-8, "{linear}: {}", srgb_encoded(linear));
        }
    }

    #[test]
    fn turning_hues_keeps_grey_and_a_third_turn_swaps_channels() {
        let grey = hue_and_saturation(0.7, 1.4);
        for row in grey {
            assert!((row.iter().sum::<f64>() - 1.0).abs() < 1e-12, "grey must stay grey");
        }
        let third = hue_and_saturation(std::f64::consts::TAU / 3.0, 1.0);
        assert!((third[1][0] - 1.0).abs() < 1e-12, "red turns into green: {third:?}");
    }
}
