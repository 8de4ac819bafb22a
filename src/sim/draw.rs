//! From a seed and ranges to a scene: camera, optics, light; shafts and debris have files of their own.

use crate::maths::point::Point;

use super::debris::draw_debris;
use super::dice::{Dice, Stream};
use super::ranges::Ranges;
use super::scene::{Camera, Coat, EyepieceDisc, Light, Mosaic, Optics, ScaleBar, Scene, Tone};
use super::shafts::draw_shafts;
use super::spectra;

/// Gaussian sigma that stands for an Airy disc: 0.21 wavelengths over the aperture (common practice, from memory).
const AIRY_SIGMA: f64 = 0.21;
/// Wavelength at which the lens's blur is counted, µm (facts 3.20).
const WAVELENGTH_UM: f64 = 0.51;

impl Scene {
    /// The scene of a seed. Equal seeds and ranges give equal scenes, on any machine.
    pub fn draw(seed: u64, ranges: &Ranges) -> Scene {
        let dice = |stream: Stream| Dice::new(seed, ranges.salt, stream as u64);
        let mut optics_dice = dice(Stream::Optics);
        let width_px = optics_dice.whole(ranges.photo_width_px.0 / 16, ranges.photo_width_px.1 / 16) * 16;
        let height_px = (width_px as f64 * optics_dice.pick(&ranges.aspects) / 2.0).round() as usize * 2;
        let um_per_px = optics_dice.among(&ranges.um_per_px);
        let optics = draw_optics(&mut optics_dice, ranges, width_px as f64, height_px as f64, um_per_px);
        let light = draw_light(&mut optics_dice, ranges, width_px as f64, height_px as f64);
        let camera = draw_camera(&mut dice(Stream::Camera), ranges);
        let mut scene = Scene {
            seed,
            set: ranges.name.clone(),
            salt: ranges.salt,
            width_px,
            height_px,
            um_per_px,
            comparison_slide: false,
            coat: Coat::White,
            shafts: Vec::new(),
            debris: Vec::new(),
            scale_bar: None,
            light,
            optics,
            camera,
        };
        draw_shafts(&mut scene, ranges, &mut dice(Stream::Theme), &mut dice(Stream::Shafts));
        let mut debris_dice = dice(Stream::Debris);
        draw_debris(&mut scene, ranges, &mut debris_dice);
        scene.scale_bar = draw_scale_bar(&mut debris_dice, ranges, &scene);
        scene
    }
}

fn draw_optics(dice: &mut Dice, ranges: &Ranges, width: f64, height: f64, um_per_px: f64) -> Optics {
    // Objectives of basic microscopes (facts 3.20-3.22); the stronger ones go with finer scales.
    let aperture = match um_per_px {
        um if um > 1.6 => 0.10,
        um if um > 0.7 => dice.pick(&[0.10, 0.25]),
        _ => dice.pick(&[0.25, 0.25, 0.40]),
    };
    let lens_blur_px = AIRY_SIGMA * WAVELENGTH_UM / aperture / um_per_px;
    let disc = dice.chance(ranges.disc_share).then(|| {
        let side = width.min(height);
        // Some discs lie wholly in the photo, some are cut by its border.
        let radius_px = side * dice.uniform(0.42, 0.68);
        let off = side * 0.06;
        EyepieceDisc {
            centre: Point::new(0.5 * width + dice.uniform(-off, off), 0.5 * height + dice.uniform(-off, off)),
            radius_px,
            softness_px: dice.log_uniform(1.0, 0.02 * side),
            outside: dice.uniform(0.0, 0.15),
        }
    });
    Optics { aperture, lens_blur_px, disc, vignetting: dice.uniform(0.0, 0.45) }
}

fn draw_light(dice: &mut Dice, ranges: &Ranges, width: f64, height: f64) -> Light {
    let hot_spot = dice.chance(0.35).then(|| {
        let at = Point::new(dice.uniform(0.0, width), dice.uniform(0.0, height));
        (at, dice.uniform(0.3, 0.9), dice.uniform(0.1, 0.8))
    });
    Light {
        haze: dice.log_uniform(ranges.haze.0, ranges.haze.1),
        haze_above: dice.uniform(0.15, 0.6),
        haze_spectrum: spectra::tape(dice.unit()),
        leak_spectrum: spectra::lamp_leak(dice.uniform(398.0, 410.0)),
        leak: dice.log_uniform(0.03, 0.35),
        slope: [0, 1].map(|_| (0.22 * dice.standard_normal()).clamp(-0.5, 0.5)),
        hot_spot,
        unevenness: dice.uniform(0.03, 0.3),
        veil: if ranges.plain_camera { dice.uniform(0.0, 0.02) } else { dice.uniform(0.0, 0.08) },
        texture: dice.seed(),
    }
}

fn draw_camera(dice: &mut Dice, ranges: &Ranges) -> Camera {
    let plain = ranges.plain_camera;
    let (least, most) = ranges.white_balance;
    // Half the photos are balanced for daylight, the others wrongly for what is mostly blue light.
    let mut gain =
        |low: f64, high: f64| if dice.chance(0.5) { dice.uniform(0.92, 1.08) } else { dice.log_uniform(low, high) };
    let white_balance = [gain(least, most), 1.0, gain(least, (1.0 + most) * 0.5)];
    let hue_turn = dice.among(&ranges.hue_turn_deg).to_radians();
    let tone = if plain {
        Tone::Srgb
    } else {
        match dice.unit() {
            share if share < 0.5 => Tone::Srgb,
            share if share < 0.85 => Tone::Contrast(dice.uniform(0.15, 0.7)),
            _ => Tone::Flat(dice.uniform(0.45, 0.65)),
        }
    };
    let sharpened = !plain && dice.chance(0.35);
    let smoothed = !plain && dice.chance(0.35);
    Camera {
        family: dice.pick(&ranges.families),
        exposure: dice.log_uniform(ranges.exposure.0, ranges.exposure.1),
        full_electrons: dice.log_uniform(ranges.full_electrons.0, ranges.full_electrons.1),
        read_electrons: dice.uniform(2.0, 8.0),
        black: dice.uniform(0.0, 0.004),
        mosaic: dice.weighted(&[(Mosaic::None, 0.35), (Mosaic::Averaged, 0.3), (Mosaic::Graded, 0.35)]),
        white_balance,
        hue_turn,
        saturation: dice.uniform(0.75, 1.3),
        denoise_px: if smoothed { dice.uniform(0.4, 0.9) } else { 0.0 },
        tone,
        sharpen: (dice.uniform(0.8, 1.6), if sharpened { dice.uniform(0.2, 0.9) } else { 0.0 }),
        halved_colour: dice.chance(0.6),
        jpeg_quality: (!dice.chance(ranges.png_share))
            .then(|| dice.whole(ranges.jpeg_quality.0, ranges.jpeg_quality.1) as u8),
    }
}

fn draw_scale_bar(dice: &mut Dice, ranges: &Ranges, scene: &Scene) -> Option<ScaleBar> {
    if !dice.chance(ranges.scale_bar_share) {
        return None;
    }
    let (width, height) = (scene.width_px as f64, scene.height_px as f64);
    // The roundest length that fills a tenth to a third of the photo.
    let length_um =
        [20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0].into_iter().rfind(|um| um / scene.um_per_px < 0.3 * width)?;
    let length_px = (length_um / scene.um_per_px).round();
    let thick_px = dice.uniform(3.0, 0.008 * height + 4.0).round();
    let left = if dice.chance(0.7) { width - length_px - 0.04 * width } else { 0.04 * width };
    let from = Point::new(left.round(), (height * dice.uniform(0.9, 0.96)).round());
    Some(ScaleBar { from, length_px, thick_px, ticks: dice.chance(0.3), value: dice.pick(&[255, 255, 230]) })
}
