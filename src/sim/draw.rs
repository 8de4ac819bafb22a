//! From a seed and ranges to a scene: camera, optics, light; shafts and debris have files of their own.

use crate::maths::point::Point;

use super::apparatus::{Camera, EyepieceDisc, Light, Mosaic, Optics, ScaleBar, Tone};
use super::debris::draw_debris;
use super::dice::{Dice, Stream};
use super::ranges::Ranges;
use super::scene::{Coat, Scene};
use super::shafts::draw_shafts;
use super::spectra;
use super::strays::draw_strays;

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
            strays: Vec::new(),
            scale_bar: None,
            light,
            optics,
            camera,
        };
        draw_shafts(&mut scene, ranges, &mut dice(Stream::Theme), &mut dice(Stream::Shafts));
        let mut debris_dice = dice(Stream::Debris);
        draw_debris(&mut scene, ranges, &mut debris_dice);
        if ranges.strays {
            scene.strays = draw_strays(&scene, &mut dice(Stream::Strays));
        }
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
        // Many phones and cheap cameras apply less than the full matrix, some none.
        matrix_share: if dice.chance(0.35) { 1.0 } else { dice.uniform(0.0, 1.0) },
        hue_turn,
        saturation: dice.uniform(0.5, 1.3),
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

#[cfg(test)]
mod tests {
    use crate::sim::{
        Build, Condition, Look, Ranges, Scene, crossings, diameter_range_um, photo, shaft_truths, truth_json,
    };

    /// Ranges with small photos, so that tests are quick.
    fn small(ranges: Ranges) -> Ranges {
        Ranges { photo_width_px: (320, 400), n_shafts: (0, 4), um_per_px: vec![(2.0, 3.0)], ..ranges }
    }

    #[test]
    fn equal_seeds_give_equal_bytes_for_any_number_of_threads() {
        let ranges = small(Ranges::training());
        let take = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| {
                let scene = Scene::draw(12, &ranges);
                (photo(&scene).encode_as(&scene).unwrap(), truth_json(&scene).to_string())
            })
        };
        let (one, three) = (take(1), take(3));
        assert!(one.0 == three.0, "bytes depend on the number of threads");
        assert!(one.1 == three.1, "truth depends on the number of threads");
    }

    #[test]
    fn other_seeds_and_other_sets_give_other_photos() {
        let shot = |seed: u64, ranges: &Ranges| photo(&Scene::draw(seed, ranges));
        let training = small(Ranges::training());
        assert!(shot(1, &training) != shot(2, &training), "two seeds, one photo");
        let tuning = small(Ranges { families: training.families.clone(), ..Ranges::tuning() });
        assert!(shot(1, &training) != shot(1, &tuning), "two sets, one photo");
    }

    #[test]
    fn conditions_keep_what_they_promise() {
        for seed in 0..6 {
            let clear = Scene::draw(seed, &Ranges::training().under(Condition::Clear));
            let truths = shaft_truths(&clear);
            assert!(!truths.is_empty(), "seed {seed}: a clear photo without shafts");
            assert_eq!(crossings(&truths).len(), 0, "seed {seed}: shafts cross on a clear photo");
            let empty = Scene::draw(seed, &Ranges::training().under(Condition::Empty));
            assert!(empty.shafts.is_empty(), "seed {seed}: a shaft on an empty photo");
            let dim = Scene::draw(seed, &Ranges::training().under(Condition::Dim));
            assert!(dim.camera.exposure <= 0.12, "seed {seed}: dim photo exposed to {}", dim.camera.exposure);
        }
        let crossed: usize = (0..6)
            .map(|seed| {
                crossings(&shaft_truths(&Scene::draw(seed, &Ranges::training().under(Condition::Crossings)))).len()
            })
            .sum();
        assert!(crossed >= 6, "only {crossed} crossings on six photos of crossings");
    }

    /// Facts 1.1, 1.2, 1.4 (cat hair), 1.20 (human scalp hair): drawn diameters lie in the sources' ranges.
    #[test]
    fn hairs_are_as_thick_as_the_sources_say() {
        let published = [
            (Build::Down, 10.0, 20.0),
            (Build::Awn, 25.0, 40.0),
            (Build::Guard, 40.0, 80.0),
            (Build::Human, 60.0, 80.0),
        ];
        for (build, least, most) in published {
            assert_eq!(diameter_range_um(build), (least, most));
        }
        let mut n = 0;
        for seed in 0..40 {
            let scene = Scene::draw(seed, &Ranges::training());
            for truth in shaft_truths(&scene) {
                let shaft = &scene.shafts[truth.id - 1];
                let Some((_, least, most)) = published.iter().find(|(build, ..)| *build == shaft.build) else {
                    continue;
                };
                if shaft.look != Look::Normal {
                    continue;
                }
                // Roots swell (round bulbs up to 1.9); where neither end is in view the middle lies in the range, less the
                // fifth that an awn hair is thinner below its swelling, and the few per cent that girth wanders.
                let widest = truth.width_px.iter().copied().fold(0.0, f64::max) * scene.um_per_px;
                assert!(widest <= most * 2.0, "seed {seed}: {:?} of {widest} µm", shaft.build);
                if truth.ends_in_view == [false, false] {
                    let median = truth.median_width_px * scene.um_per_px;
                    assert!((least * 0.78..=most * 1.06).contains(&median), "seed {seed}: {:?} {median}", shaft.build);
                    n += 1;
                }
            }
        }
        assert!(n > 10, "only {n} hairs were held against their range");
    }

    /// Facts 2.1 and §7: the sheath widens an infected hair by 1.2 to 2.0, not more.
    #[test]
    fn a_sheath_at_most_doubles_a_hair() {
        let mut greatest: f64 = 0.0;
        for seed in 0..30 {
            let scene = Scene::draw(seed, &Ranges::training());
            for shaft in scene.shafts.iter().filter(|s| s.look == Look::Infected) {
                for make in shaft.makes.iter().filter(|m| m.damage > 0.3) {
                    let hair = make.edge_px[0] as f64 + make.edge_px[1] as f64;
                    greatest = greatest.max(make.counted_width_px() / hair);
                }
            }
        }
        assert!((1.5..=2.1).contains(&greatest), "widest sheath {greatest} of the hair");
    }

    #[test]
    fn every_look_zone_and_end_is_drawn() {
        let mut seen = std::collections::BTreeMap::<String, usize>::new();
        let mut families = std::collections::BTreeSet::new();
        for seed in 0..120 {
            let scene = Scene::draw(seed, &Ranges::training());
            families.insert(scene.camera.family);
            for shaft in &scene.shafts {
                for key in [shaft.look.code(), shaft.zone.code(), shaft.tip_end.code(), shaft.build.code(), shaft.kind]
                {
                    *seen.entry(key.to_string()).or_default() += 1;
                }
            }
        }
        assert_eq!(families.len(), 6, "families drawn: {families:?}");
        for key in
            ["infected", "normal", "coated", "fibre", "base", "whole", "tip", "patchy", "broken", "tapered", "cut"]
        {
            assert!(seen.get(key).is_some_and(|n| *n >= 5), "{key} is rare: {seen:?}");
        }
    }
}
