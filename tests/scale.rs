//! The scale from photos of a stage micrometer: error against drawn truth, and honest uncertainty.
//!
//! `cargo test --release --test main scale -- --nocapture` prints the tables that docs/scale.md shows.

use pilumen::concerns::ConcernKind;
use pilumen::image::{Settings, from_bytes};
use pilumen::scale::{self, Pitch, Rulings, ScaleError, combine};

use crate::ruling::Ruled;

/// Scale error that is aimed at.
const TARGET: f64 = 2e-3;

fn rulings(ruled: &Ruled) -> Result<Rulings, ScaleError> {
    scale::from_image(&from_bytes(&ruled.png(), &Settings::default()).unwrap())
}

/// Error of the scale as a share, and in its standard uncertainties.
fn error(ruled: &Ruled) -> (f64, f64) {
    let seen = rulings(ruled).unwrap_or_else(|error| panic!("{error}: {ruled:?}"));
    let found = combine(&[seen], Pitch::new(10.0, None).unwrap()).unwrap();
    let truth = 10.0 * ruled.lines_per_px();
    ((found.um_per_px / truth - 1.0), (found.um_per_px - truth) / found.sd_um_per_px)
}

#[test]
fn the_scale_holds_at_any_angle_blur_and_uneven_light() {
    let angles = [0.0, 0.4, 7.0, 30.0, 45.0, 61.5, 89.7, 90.0, 118.0, 163.0];
    let mut zs = Vec::new();
    let mut worst: f64 = 0.0;
    println!("largest error of the scale over {} angles, 5 % uneven light, per cent:", angles.len());
    println!("pitch px | blur 0.5 | blur 1 | blur 2 | blur 4 px");
    for pitch in [9.3, 21.7, 58.1] {
        let mut row = format!("{pitch:>8}");
        for (i, blur_px) in [0.5, 1.0, 2.0, 4.0].into_iter().enumerate() {
            // Lines of bell shape and so wide are no lines any more: their contrast is below 1 %.
            if blur_px > 0.4 * pitch {
                row += " | -";
                continue;
            }
            let errors: Vec<(f64, f64)> = angles
                .iter()
                .enumerate()
                .map(|(j, &angle)| {
                    let seed = (100.0 * pitch) as u64 + 10 * i as u64 + j as u64;
                    error(&Ruled { width: 720, height: 540, blur_px, ..Ruled::plain(pitch, angle, seed) })
                })
                .collect();
            let largest = errors.iter().map(|e| e.0.abs()).fold(0.0, f64::max);
            row += &format!(" | {:.4}", 100.0 * largest);
            worst = worst.max(largest);
            zs.extend(errors.iter().map(|e| e.1));
            for (angle, (share, z)) in angles.iter().zip(&errors).filter(|(_, (share, _))| share.abs() > TARGET) {
                println!("pitch {pitch}, blur {blur_px}, {angle} degrees: {:.3} %, z {z:.1}", 100.0 * share);
            }
        }
        println!("{row}");
    }
    let sd = spread(&zs);
    println!("z-scores: standard deviation {sd:.2} of {}, largest {:.1}", zs.len(), largest(&zs));
    assert!(worst <= TARGET, "{worst}");
    assert!((0.8..=1.2).contains(&sd), "standard deviation of z-scores {sd}");
    let bound = largest_of_normal(zs.len());
    assert!(largest(&zs) <= bound, "largest z-score {} of {}, at most {bound:.2}", largest(&zs), zs.len());
}

/// Chance that the largest of honest z-scores lies beyond its bound. The photos are drawn by fixed seeds, so that a test
/// which passes goes on passing; a larger chance would refuse honest programs, a smaller one lets single gross errors
/// through.
const CHANCE: f64 = 1e-3;

/// What the largest absolute value of so many independent normal numbers stays below but for [`CHANCE`]: the normal
/// quantile of (1 + (1 − chance)^(1 / n)) / 2.
fn largest_of_normal(n: usize) -> f64 {
    let p = 0.5 * (1.0 + (1.0 - CHANCE).powf(1.0 / n as f64));
    // By halving: Φ(z) = 1 − erfc(z / √2) / 2.
    let (mut low, mut high) = (0.0, 10.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        let below = 1.0 - 0.5 * libm::erfc(middle / std::f64::consts::SQRT_2);
        if below < p { low = middle } else { high = middle }
    }
    high
}

#[test]
fn the_bound_of_the_largest_is_that_of_tables() {
    // Two-sided 0.1 % point of the normal distribution, 3.2905 in every table; of 100 numbers Φ⁻¹ of 0.999995 is 4.417.
    assert!((largest_of_normal(1) - 3.2905).abs() < 1e-4);
    assert!((largest_of_normal(100) - 4.417).abs() < 2e-3);
}

fn spread(zs: &[f64]) -> f64 {
    (zs.iter().map(|z| z * z).sum::<f64>() / zs.len() as f64).sqrt()
}

fn largest(zs: &[f64]) -> f64 {
    zs.iter().map(|z| z.abs()).fold(0.0, f64::max)
}

/// The micrometres per pixel of the demo photo, as its truth states it, and the two photos of lines beside it.
fn demo_lines() -> (f64, [(&'static str, Ruled); 2]) {
    let truth = std::fs::read_to_string("fixtures/demo/quillfeather-moth-left-pinna.truth.json").unwrap();
    let truth: serde_json::Value = serde_json::from_str(&truth).unwrap();
    let number = |key: &str| truth["photo"][key].as_f64().unwrap();
    let um_per_px = number("um_per_px");
    let lines = |angle, seed| Ruled {
        width: number("width_px") as u32,
        height: number("height_px") as u32,
        noise: 0.004,
        ..Ruled::plain(10.0 / um_per_px, angle, seed)
    };
    (um_per_px, [("level", lines(3.0, 41)), ("turned", lines(93.5, 42))])
}

/// `RENEW_GOLDEN=1` draws the photos anew.
#[test]
fn the_demos_lines_tell_the_scale_of_the_demo_photo() {
    let (um_per_px, photos) = demo_lines();
    let mut seen = Vec::new();
    for (name, ruled) in photos {
        let path = format!("fixtures/demo/lines/{name}.jpg");
        if std::env::var_os("RENEW_GOLDEN").is_some() {
            let photo = image::load_from_memory(&ruled.png()).unwrap().to_luma8();
            let mut file = std::fs::File::create(&path).unwrap();
            image::codecs::jpeg::JpegEncoder::new_with_quality(&mut file, 85).encode_image(&photo).unwrap();
        }
        let bytes = std::fs::read(&path).unwrap_or_else(|_| panic!("{path} is missing; RENEW_GOLDEN=1 draws it"));
        seen.push(scale::from_image(&from_bytes(&bytes, &Settings::default()).unwrap()).unwrap());
    }
    let found = combine(&seen, Pitch::new(10.0, None).unwrap()).unwrap();
    assert!((found.um_per_px / um_per_px - 1.0).abs() < TARGET, "{} for {um_per_px}", found.um_per_px);
    assert!(found.squareness.is_some(), "two directions tell whether pixels are square");
}

#[test]
fn lines_of_every_kind() {
    let plain = |seed| Ruled::plain(18.4, 23.0, seed);
    let kinds = [
        ("bright on dark", Ruled { light: [0.02, 0.3], noise: 0.03, ..plain(1) }),
        ("longer and shorter lines", Ruled { course: [-120.0, 40.0], longer_px: 80.0, ..plain(2) }),
        ("lines that do not fill the photo", Ruled { lines: [-9, 14], course: [-150.0, 200.0], ..plain(3) }),
        ("six lines only", Ruled { lines: [-2, 3], pitch_px: 60.0, line_px: 5.0, ..plain(4) }),
        ("dust", Ruled { specks: 250, ..plain(5) }),
        ("faint lines", Ruled { light: [0.5, 0.44], ..plain(6) }),
        ("much noise", Ruled { noise: 0.08, ..plain(7) }),
        ("hair lines", Ruled { line_px: 0.8, blur_px: 0.6, ..plain(8) }),
        ("broad lines", Ruled { line_px: 9.2, ..plain(9) }),
        ("light that falls by a quarter", Ruled { uneven: 0.25, ..plain(10) }),
        ("a lens that distorts", Ruled { distortion: 0.012, ..plain(11) }),
        ("near the least pitch", Ruled { pitch_px: 5.2, line_px: 1.5, blur_px: 0.7, ..plain(12) }),
        ("a wide pitch", Ruled { pitch_px: 130.0, line_px: 12.0, blur_px: 3.0, ..plain(13) }),
    ];
    println!("kind | error of the scale, per cent | z");
    let mut wrong = Vec::new();
    for (name, ruled) in kinds {
        let (share, z) = error(&ruled);
        println!("{name} | {:.4} | {z:.1}", 100.0 * share);
        if share.abs() > TARGET || z.abs() > 4.0 {
            wrong.push(name);
        }
    }
    assert!(wrong.is_empty(), "{wrong:?}");
}

#[test]
fn what_is_no_ruling_is_refused() {
    let even = Ruled { lines: [5000, 5001], ..Ruled::plain(20.0, 30.0, 1) };
    let dusty = Ruled { specks: 400, ..even.clone() };
    let few = Ruled { lines: [-1, 2], ..Ruled::plain(60.0, 30.0, 2) };
    let blurred = Ruled { blur_px: 9.0, ..Ruled::plain(14.0, 30.0, 3) };
    let together = Ruled { blur_px: 4.0, ..Ruled::plain(9.3, 30.0, 5) };
    let fine = Ruled { line_px: 0.6, blur_px: 0.5, ..Ruled::plain(2.6, 12.0, 4) };
    for (name, ruled) in
        [("even", even), ("dusty", dusty), ("few", few), ("blurred", blurred), ("fine", fine), ("together", together)]
    {
        assert_eq!(rulings(&ruled), Err(ScaleError::NoRuling), "{name}");
    }
    let hairs = std::fs::read("fixtures/demo/quillfeather-moth-left-pinna.jpg").unwrap();
    let hairs = from_bytes(&hairs, &Settings::default()).unwrap();
    assert_eq!(scale::from_image(&hairs), Err(ScaleError::NoRuling), "hairs on tape");
}

#[test]
fn uneven_lines_are_no_ruling() {
    // Parallel lines at uneven distances, such as hairs laid side by side.
    let mut photo = image::RgbImage::from_pixel(800, 600, image::Rgb([180; 3]));
    let mut x = 10.0f64;
    for i in 0..40u32 {
        x += 12.0 + f64::from(i * 7919 % 13);
        for y in 0..600 {
            for dx in 0..3 {
                if (x as u32 + dx) < 800 {
                    photo.put_pixel(x as u32 + dx, y, image::Rgb([60; 3]));
                }
            }
        }
    }
    let mut bytes = std::io::Cursor::new(Vec::new());
    photo.write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    let image = from_bytes(&bytes.into_inner(), &Settings::default()).unwrap();
    assert_eq!(scale::from_image(&image), Err(ScaleError::NoRuling));
}

#[test]
fn crossed_lines_tell_whether_pixels_are_square() {
    for tall in [1.0, 1.008] {
        let ruled = Ruled { crossed: true, tall, ..Ruled::plain(24.0, 12.0, 5) };
        let seen = rulings(&ruled).unwrap();
        assert_eq!(seen.rulings.len(), 2, "{seen:?}");
        let found = combine(&[seen], Pitch::new(10.0, None).unwrap()).unwrap();
        let square = found.squareness.unwrap();
        println!("pixels {tall} as tall as wide: ratio {:.5} ± {:.5}", square.ratio, square.sd);
        assert!((square.ratio - 1.0 / tall).abs() < (4.0 * square.sd).max(2e-4), "{square:?}");
        assert_eq!(found.concerns.iter().any(|c| c.kind == ConcernKind::NotSquare), tall != 1.0);
    }
}

#[test]
fn a_lens_that_distorts_is_told_and_one_that_does_not_is_not_accused() {
    let pitch = Pitch::new(10.0, None).unwrap();
    for distortion in [-0.012, 0.012] {
        let ruled = Ruled { distortion, ..Ruled::plain(18.4, 40.0, 21) };
        let found = combine(&[rulings(&ruled).unwrap()], pitch).unwrap();
        let told = found.distortion.unwrap();
        // In the corner across the lines the local scale is off by up to three times the shift, less its mean.
        assert!((0.008..0.03).contains(&told.largest_share), "{told:?}");
        assert!(found.concerns.iter().any(|c| c.kind == ConcernKind::Distorted));
    }
    let accused = (0..12)
        .filter(|&i| {
            let ruled = Ruled::plain(18.4, 15.0 * i as f64, 30 + i);
            combine(&[rulings(&ruled).unwrap()], pitch).unwrap().distortion.is_some()
        })
        .count();
    assert!(accused <= 1, "{accused} of 12 lenses without distortion");
}

#[test]
fn a_short_span_is_said() {
    let pitch = Pitch::new(10.0, None).unwrap();
    let short = Ruled { lines: [-4, 4], ..Ruled::plain(20.0, 0.0, 6) };
    let found = combine(&[rulings(&short).unwrap()], pitch).unwrap();
    assert!(found.concerns.iter().any(|c| c.kind == ConcernKind::ShortSpan), "{found:?}");
    let long = combine(&[rulings(&Ruled::plain(20.0, 0.0, 6)).unwrap()], pitch).unwrap();
    assert!(long.concerns.iter().all(|c| c.kind != ConcernKind::ShortSpan), "{long:?}");
    assert!(found.sd_um_per_px > 3.0 * long.sd_um_per_px, "fewer lines tell less");
}
