//! How well a shaft stands out: shafts that nobody could see are not drawn, and truth says how visible the others are.

use super::cross_section::{Grain, sight};
use super::family::FAMILIES;
use super::ground::lamp_at;
use super::photo::brightest;
use super::place::shown_runs;
use super::scene::{Scene, Shaft};

/// Places along a shaft at which its contrast is looked at.
const PLACES: usize = 48;
/// Places across, as shares of the half width.
const ACROSS: [f32; 3] = [-0.5, 0.0, 0.5];
/// Standard deviation of rounding to 8 bits, in linear light near black: a third of a step of sRGB's dark end.
const ROUNDING: f64 = 0.29 / 255.0 / 12.92;

/// Contrast of a shaft against the tape in standard deviations of one pixel's noise, in the channel where it is
/// greatest: the median over the places in view. Below 0 never; blur, mosaic and compression are left out.
pub fn contrast_to_noise(scene: &Scene, shaft: &Shaft) -> f64 {
    let family = &FAMILIES[scene.camera.family];
    let gain = scene.camera.exposure / brightest(scene);
    let response = |spectrum| family.response(spectrum);
    let (own, extra) = (response(&shaft.own_spectrum), response(&shaft.extra_spectrum));
    let haze = response(&scene.light.haze_spectrum).map(|v| v * scene.light.haze);
    let leak = response(&scene.light.leak_spectrum).map(|v| v * scene.light.leak);
    let runs = shown_runs(scene, &shaft.course, shaft.from_px, shaft.to_px);
    let Some((from, to)) = runs.into_iter().max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0))) else { return 0.0 };
    let mut contrasts: Vec<f64> = (0..PLACES)
        .map(|i| {
            let s = from + (to - from) * (i as f64 + 0.5) / PLACES as f64;
            let (make, at) = (shaft.make_at(s), shaft.course.at(s));
            let light = gain * lamp_at(scene, at.x, at.y);
            let mut added = [0.0; 3];
            for share in ACROSS {
                let half = if share < 0.0 { make.counted_px[0] } else { make.counted_px[1] };
                let seen = sight(make, Grain { air: 0.7, ..Grain::EVEN }, share * half, scene.um_per_px as f32);
                for c in 0..3 {
                    let lost = seen.lost as f64 * haze[c] * (1.0 - scene.light.haze_above);
                    let glow = seen.own as f64 * own[c] + seen.extra as f64 * extra[c] + seen.scatter as f64 * leak[c];
                    added[c] += (glow - lost) / ACROSS.len() as f64;
                }
            }
            (0..3)
                .map(|c| {
                    let (ground, difference) = (haze[c] * light, added[c] * light);
                    let electrons = (ground + difference.max(0.0)) / scene.camera.full_electrons;
                    let read = scene.camera.read_electrons / scene.camera.full_electrons;
                    difference.abs() / (electrons + read * read + ROUNDING * ROUNDING).sqrt()
                })
                .fold(0.0, f64::max)
        })
        .collect();
    contrasts.sort_by(f64::total_cmp);
    contrasts[PLACES / 2]
}
