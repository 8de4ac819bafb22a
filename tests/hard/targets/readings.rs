//! The whole reading: arbitrary small photos, rulings, and readings that people correct.

use std::io::Cursor;
use std::sync::LazyLock;

use image::{DynamicImage, ImageBuffer, ImageFormat, Rgb};
use pilumen::corrected;
use pilumen::exports::{Format, Table, from_record};
use pilumen::finding::{Look, Model, model_from_bytes};
use pilumen::image::from_bytes;
use pilumen::maths::point::Point;
use pilumen::pipeline::{self, Want};
use pilumen::scale::{self, Pitch, combine};
use pilumen::settings::{Asked, Settings};
use pilumen::sim::{Phantom, photo};
use pilumen::store::{Change, End, Told};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};

use super::pictures::limits;
use super::{World, must, told};

pub(in super::super) static MODEL: LazyLock<Model> =
    LazyLock::new(|| model_from_bytes(include_bytes!("../../../models/shaft-v1.json")).unwrap());

/// How far a centreline may reach out of the photo, pixels: rounding of written numbers.
const MOST_OUTSIDE_PX: f64 = 0.01;

/// Bytes to a picture of up to 200 pixels a side: its ground, its noise, and up to eight lines that may be hairs.
fn drawn(recipe: &[u8]) -> Vec<u8> {
    let at = |i: usize| recipe.get(i).copied().unwrap_or(0);
    let side = |i: usize| 1 + (usize::from(at(i)) * 200 / 256);
    let (width, height) = (side(0), side(1));
    let deep = at(2) & 1 == 1;
    let grey = at(2) & 2 == 2;
    let mut dice = ChaCha8Rng::seed_from_u64(u64::from(at(3)) << 8 | u64::from(at(2)));
    let noise = f64::from(at(4)) / 400.0;
    let lines: Vec<[f64; 8]> = recipe
        .get(8..)
        .unwrap_or_default()
        .chunks(8)
        .take(8)
        .map(|part| std::array::from_fn(|i| f64::from(part.get(i).copied().unwrap_or(0)) / 255.0))
        .collect();
    let diagonal = (width as f64).hypot(height as f64);
    let light = |x: usize, y: usize, dice: &mut ChaCha8Rng| -> [f64; 3] {
        let ground = f64::from(at(5)) / 255.0 + f64::from(at(6)) / 255.0 * x as f64 / width as f64;
        let stripes = if at(7) > 128 { (x * 7 / (1 + usize::from(at(7)) - 128) % 2) as f64 } else { 0.0 };
        let mut rgb = [ground + stripes; 3];
        for [from, angle, thick, bright, red, blue, bend, cut] in &lines {
            let (sine, cosine) = (angle * 7.0).sin_cos();
            let here = Point::new(x as f64 - from * width as f64, y as f64 - from * height as f64);
            let along = here.x * cosine + here.y * sine;
            let across = here.y * cosine - here.x * sine + (bend - 0.5) * along * along / diagonal;
            if across.abs() < thick * 30.0 && along.abs() < cut * diagonal {
                rgb = [rgb[0] + bright * red, rgb[1] + bright - 0.3, rgb[2] + bright * blue];
            }
        }
        rgb.map(|value| value + noise * dice.r#gen::<f64>())
    };
    let code = |value: f64| (value.clamp(0.0, 1.0) * 65_535.0) as u16;
    let picture = ImageBuffer::from_fn(width as u32, height as u32, |x, y| {
        Rgb(light(x as usize, y as usize, &mut dice).map(code))
    });
    let mut picture = DynamicImage::ImageRgb16(picture);
    if !deep {
        picture = picture.to_rgb8().into();
    }
    if grey {
        picture = if deep { picture.to_luma16().into() } else { picture.to_luma8().into() };
    }
    let mut file = Cursor::new(Vec::new());
    picture.write_to(&mut file, ImageFormat::Png).unwrap();
    file.into_inner()
}

/// Recipes to begin with: nothing, even grounds, hairs that cross, stripes, noise.
fn recipes() -> Vec<Vec<u8>> {
    let hair = [128, 20, 20, 200, 120, 200, 128, 255];
    let thin = [90, 70, 4, 255, 255, 100, 140, 100];
    let crossing = [100, 140, 40, 180, 30, 230, 120, 200];
    let with = |head: [u8; 8], lines: &[[u8; 8]]| [head.to_vec(), lines.concat()].concat();
    vec![
        Vec::new(),
        with([0; 8], &[]),
        with([255, 255, 0, 1, 0, 255, 0, 0], &[]),
        with([255, 0, 1, 1, 80, 40, 0, 0], &[hair]),
        with([0, 255, 1, 1, 80, 40, 0, 0], &[hair]),
        with([200, 200, 0, 1, 20, 20, 10, 0], &[hair]),
        with([220, 180, 1, 2, 10, 10, 60, 0], &[hair, thin, crossing]),
        with([220, 220, 2, 3, 30, 30, 0, 0], &[crossing, hair]),
        with([255, 255, 3, 4, 255, 0, 0, 0], &[thin; 8]),
        with([255, 120, 0, 5, 5, 0, 0, 200], &[]),
        with([255, 255, 0, 6, 15, 30, 0, 150], &[hair, crossing, thin]),
    ]
}

/// Photos of anything, read from end to end and written as every file.
pub(in super::super) fn small_photos() -> World {
    World::new(recipes(), |recipe| {
        let um_per_px = (recipe.len() % 2 == 0).then_some(0.8);
        let settings = Settings::check(Asked { um_per_px, ..Asked::default() }).unwrap();
        let read = pipeline::read("small.png", &drawn(recipe), &settings, &MODEL, Want::WholePicture);
        let Ok(reading) = read else { return Ok(told(&read)) };
        let entry = &reading.entry;
        for format in Format::ALL {
            let bytes = from_record(entry, reading.picture.as_ref(), format);
            must(!bytes.is_empty(), "a file without bytes")?;
            if format == Format::Json {
                let object: Value = serde_json::from_slice(&bytes).map_err(|error| error.to_string())?;
                judged(&object)?;
            }
        }
        for table in Table::ALL {
            let rows = String::from_utf8(table.rows(entry, "")).map_err(|error| error.to_string())?;
            must(!rows.contains("NaN") && !rows.contains("inf,"), "a number that is none in a table")?;
        }
        let (width, height) = (entry.photo.width_px as f64, entry.photo.height_px as f64);
        for shaft in &entry.shafts {
            let outside = |p: &Point| (-0.5 - p.x).max(-0.5 - p.y).max(p.x - width + 0.5).max(p.y - height + 0.5);
            let most = shaft.centreline.iter().map(outside).fold(f64::NEG_INFINITY, f64::max);
            must(most < MOST_OUTSIDE_PX, &format!("a shaft reaches {most:.1} px out of the photo"))?;
        }
        Ok(format!("{} shafts, {}", entry.shafts.len().min(9), entry.slide.code))
    })
}

/// What must hold of any evaluation object.
fn judged(object: &Value) -> Result<(), String> {
    must(object["advice"].as_str().is_some_and(|advice| advice.contains("culture")), "no culture advised")?;
    for shaft in object["shafts"].as_array().into_iter().flatten() {
        let probability = |look: Look| shaft["probability"][look.code()].as_f64();
        let sum: f64 = Look::ALL.into_iter().filter_map(probability).sum();
        must((sum - 1.0).abs() < 2e-3, "probabilities do not sum to 1")?;
        must(shaft["length_px"].as_f64().is_some_and(|length| length > 0.0), "a shaft without a length")?;
        let width = &shaft["width"]["median_px"];
        must(width.is_null() || width.as_f64().is_some_and(|width| width > 0.0), "a width that is none")?;
    }
    Ok(())
}

/// Photos of anything, looked at for the lines of a stage micrometer.
pub(in super::super) fn rulings() -> World {
    World::new(recipes(), |recipe| {
        let image = from_bytes(&drawn(recipe), &limits()).map_err(|error| error.to_string())?;
        let rulings = scale::from_image(&image);
        let Ok(found) = rulings else { return Ok(told(&rulings)) };
        let combined = combine(&[found], Pitch::new(10.0, None).unwrap());
        if let Ok(found) = &combined {
            must(found.um_per_px.is_finite() && found.um_per_px > 0.0, "a scale that is no length")?;
        }
        Ok(told(&combined))
    })
}

/// A reading, wherever it comes from, that people correct, whatever they say.
pub(in super::super) fn corrections() -> World {
    let phantom =
        Phantom { width_px: 14.0, angle: 0.4, blur_px: 1.0, full_electrons: 6000.0, ..Phantom::new(120, 14.0) };
    let bytes = photo(&phantom.scene()).encode_png().unwrap();
    let settings = Settings::default();
    let read = pipeline::read("phantom.png", &bytes, &settings, &MODEL, Want::Numbers).unwrap();
    let evaluation = from_record(&read.entry, None, Format::Json);
    let mut evaluation: Value = serde_json::from_slice(&evaluation).unwrap();
    assert!(!evaluation["shafts"].as_array().unwrap().is_empty(), "the phantom is seen");
    // What is damaged should be what is read of it.
    for shaft in evaluation["shafts"].as_array_mut().unwrap() {
        let kept =
            json!({ "id": shaft["id"], "comparison": shaft["comparison"], "centreline_px": shaft["centreline_px"] });
        *shaft = kept;
    }
    let evaluation = json!({ "shafts": evaluation["shafts"], "photo": { "file": "phantom.png" } });
    let forms = written_forms();
    let input = |changes: &[Value]| json!({ "evaluation": evaluation, "changes": changes }).to_string().into_bytes();
    let seeds: Vec<Vec<u8>> = forms.chunks(1).chain([forms.as_slice()]).map(input).collect();
    World::new(seeds, move |input| {
        let object: Value = match serde_json::from_slice(input) {
            Ok(object) => object,
            Err(_) => return Ok("no JSON".to_owned()),
        };
        let changes: Vec<Change> = match serde_json::from_value(object["changes"].clone()) {
            Ok(changes) => changes,
            Err(error) => return Ok(error.to_string()),
        };
        let said: Vec<Told> = changes
            .into_iter()
            .enumerate()
            .map(|(i, change)| Told {
                id: i.to_string(),
                by: "Test".to_owned(),
                at: "2026-03-01T12:00:00Z".to_owned(),
                change,
                why: "seen".to_owned(),
                before: None,
            })
            .collect();
        let read = corrected::read(&bytes, &settings, &MODEL, &object["evaluation"], &said);
        if let Ok(corrected) = &read {
            let written = from_record(&corrected.entry, None, Format::Json);
            judged(&serde_json::from_slice(&written).map_err(|error| error.to_string())?)?;
            return Ok(format!("{} shafts, {:?}", corrected.entry.shafts.len(), corrected.added.len()));
        }
        Ok(told(&read))
    })
}

/// Each kind of correction as it is written.
fn written_forms() -> Vec<Value> {
    let changes = [
        Change::Look { shaft: 1, look: "fibre".to_owned() },
        Change::BaseEnd { shaft: 1, end: End::Last },
        Change::Comparison { shaft: 1, comparison: false },
        Change::NotAShaft { shaft: 1 },
        Change::MissedShaft { centreline_px: vec![[20.0, 80.0], [60.0, 95.0], [100.0, 90.0]], look: None },
    ];
    changes.iter().map(|change| serde_json::to_value(change).unwrap()).collect()
}
