//! A second photo in visible light, and several photos of one slide, on simulated slides photographed twice.
//!
//! `PILUMEN_SCENES=60 cargo test --release --test main visible -- --nocapture` takes more scenes and prints what was
//! found; `PILUMEN_SEED` is the first scene's. Scenes are of the tuning ranges; what the program decides by was chosen
//! on twenty of them from seed 640001, and figures are of others (docs/method-visible.md).

use std::collections::BTreeSet;
use std::sync::LazyLock;

use pilumen::exports::slide_json;
use pilumen::finding::{Model, model_from_bytes};
use pilumen::maths::phase_correlation::Waves;
use pilumen::maths::point::{Point, Vec2};
use pilumen::maths::polyline::Polyline;
use pilumen::maths::raster::Raster;
use pilumen::maths::robust::{median, quantile};
use pilumen::maths::seeds::mixed;
use pilumen::maths::similarity::Similarity;
use pilumen::pipeline::{PairError, VisiblePhoto, Want, read, read_with_visible};
use pilumen::record::{Entry, OneSlide, Shaft, Width, one_slide};
use pilumen::registration::Mismatch;
use pilumen::settings::{Asked, Settings};
use pilumen::sim::{Ranges, Scene, photo, shaft_truths};

use crate::schema::faults_by;

static MODEL: LazyLock<Model> = LazyLock::new(|| model_from_bytes(include_bytes!("../models/shaft-v1.json")).unwrap());

/// Pairs of photos and slides in the suite.
const PAIRS: u64 = 20;
const SLIDES: u64 = 4;
/// First seed in the suite: scenes that the least agreement was chosen on. Figures are of others.
const FIRST_SEED: u64 = 640_001;

fn n_pairs() -> u64 {
    told("PILUMEN_SCENES").unwrap_or(PAIRS)
}

fn n_slides() -> u64 {
    told("PILUMEN_SCENES").unwrap_or(SLIDES)
}

fn told(name: &str) -> Option<u64> {
    std::env::var(name).ok().and_then(|n| n.parse().ok())
}

fn drawn(seed: u64) -> Scene {
    let mut ranges = Ranges::named("tuning-clear").unwrap();
    ranges.photo_width_px = (1000, 1200);
    ranges.n_shafts = (3, 8);
    ranges.disc_share = 0.0;
    Scene::draw(told("PILUMEN_SEED").unwrap_or(FIRST_SEED) + seed, &ranges)
}

fn bytes(scene: &Scene) -> Vec<u8> {
    photo(scene).encode_as(scene).unwrap().0
}

fn settings(scene: &Scene) -> Settings {
    Settings::check(Asked { um_per_px: Some(scene.um_per_px), ..Asked::default() }).unwrap()
}

/// −1 to 1, another for each seed and `k`.
fn part(seed: u64, k: u64) -> f64 {
    (mixed(seed * 31 + k) % 2001) as f64 / 1000.0 - 1.0
}

/// A move as by hand, another for each seed: turned within 2°, enlarged within 1.2 %.
fn hand_move(scene: &Scene, seed: u64) -> Similarity {
    let part = |k| part(seed, k);
    scene.hand_move(0.035 * part(1), 1.0 + 0.012 * part(2), Vec2::new(24.0 * part(3), 24.0 * part(4)))
}

/// A move as of a slide that was taken off and laid on again: turned within 10°, enlarged within a tenth.
fn wide_move(scene: &Scene, seed: u64) -> Similarity {
    let part = |k| part(seed, k);
    scene.hand_move(0.1745 * part(1), 1.0 + 0.1 * part(2), Vec2::new(60.0 * part(3), 60.0 * part(4)))
}

/// The scene in visible light, exposed otherwise: 0.6 to 1.4 times as long.
fn visible_photo(scene: &Scene, seed: u64) -> Scene {
    let mut visible = scene.in_visible_light();
    visible.camera.exposure *= 1.0 + 0.4 * part(seed, 5);
    visible
}

fn both(uv: &Scene, visible: &Scene) -> Result<Entry, PairError> {
    let second = bytes(visible);
    let second = VisiblePhoto { file: "visible.jpg", bytes: &second };
    read_with_visible("uv.jpg", &bytes(uv), second, &settings(uv), &MODEL, Want::Numbers).map(|reading| reading.entry)
}

/// The true shaft that a found one follows, by its place in the scene.
fn true_shaft(scene: &Scene, line: &[Point]) -> Option<usize> {
    shaft_truths(scene).iter().find_map(|truth| {
        let course = Polyline::new(truth.centreline_px.iter().copied())?;
        let near = |p: &&Point| course.nearest(**p).distance < (0.5 * truth.median_width_px).max(3.0);
        let on = line.iter().filter(near).count();
        (on * 10 >= 8 * line.len()).then_some(truth.id - 1)
    })
}

#[test]
fn a_visible_photo_is_laid_on_the_other_to_a_fraction_of_a_pixel() {
    let (mut offs, mut residuals, mut agreements, mut indices, mut refused) = (vec![], vec![], vec![], vec![], 0);
    let (mut widths, mut n_widths) = (0, 0);
    for seed in 0..n_pairs() {
        let scene = drawn(seed);
        let truth = wide_move(&scene, seed);
        let entry = match both(&scene, &visible_photo(&scene, seed).moved(&truth)) {
            Ok(entry) => entry,
            Err(error) => {
                println!("right {seed}: refused {error:?}");
                refused += 1;
                continue;
            }
        };
        let laid = entry.photo.visible.as_ref().unwrap();
        let middle = Point::new(0.5 * (scene.width_px as f64 - 1.0), 0.5 * (scene.height_px as f64 - 1.0));
        let found = Similarity::about(
            middle,
            laid.turn_deg.to_radians(),
            laid.factor,
            Vec2::new(laid.shift_px[0], laid.shift_px[1]),
        );
        // Where shafts lie: what no shaft tells is known less well.
        let off: Vec<f64> = entry
            .shafts
            .iter()
            .flat_map(|shaft| &shaft.centreline)
            .map(|&p| found.of(p).distance(truth.of(p)))
            .collect();
        let off = median(&off);
        println!(
            "right {seed}: off {off:?} px, residual {:?} px, {} of {} shafts, agreement {:.3}, peak {:.1}",
            laid.residual_px,
            laid.n_shafts,
            entry.shafts.len(),
            laid.agreement,
            laid.peak_quality
        );
        // A photo without a shaft has no place to tell it at.
        offs.extend(off);
        residuals.extend(laid.residual_px);
        agreements.push(laid.agreement);
        let place = |key: &str| entry.catalogue.iter().position(|measure| measure.key == key).unwrap();
        for shaft in &entry.shafts {
            let Some(true_one) = true_shaft(&scene, &shaft.centreline).map(|i| &scene.shafts[i]) else { continue };
            let s = 0.5 * (true_one.from_px + true_one.to_px);
            let make = true_one.make_at(s);
            let value = |key: &str| shaft.measures[place(key)];
            if let Some(ratio) = value("visible.width_to_uv") {
                n_widths += 1;
                widths += usize::from((0.8..1.25).contains(&ratio));
            }
            if let Some(index) = value("visible.medullary_index").filter(|_| make.damage < 0.05 && make.medulla > 0.0) {
                indices.push(index - f64::from(make.medulla));
                println!(
                    "   medullary index {index:.3}, truly {:.3} in the middle, share {:?}",
                    make.medulla,
                    value("visible.medulla_share")
                );
            }
        }
    }
    let bias = median(&indices).unwrap_or(f64::NAN);
    println!(
        "off median {:?} 95th percentile {:?} worst {:.2} px; residual {:?} px; least agreement {:.3}; {refused} refused; widths within a quarter {widths} of {n_widths}; {} medullas, median error {bias:.3}",
        median(&offs),
        quantile(&offs, 0.95),
        offs.iter().copied().fold(0.0, f64::max),
        median(&residuals),
        agreements.iter().copied().fold(1.0, f64::min),
        indices.len()
    );
    assert!(refused * 10 <= n_pairs(), "{refused} refused");
    assert!(median(&offs).unwrap() < 0.5, "{offs:?}");
    assert!(median(&residuals).unwrap() < 1.0, "{residuals:?}");
    assert!(indices.len() as u64 >= n_pairs() / 2 && bias.abs() < 0.06, "{indices:?}");
}

#[test]
fn a_photo_of_another_field_or_size_is_refused_with_a_sentence() {
    let mut taken = 0;
    for seed in 0..n_pairs() {
        let (scene, mut other) = (drawn(seed), drawn(seed + 500));
        (other.width_px, other.height_px) = (scene.width_px, scene.height_px);
        match both(&scene, &visible_photo(&other, seed)) {
            Err(PairError::Apart(mismatch @ (Mismatch::OtherField { .. } | Mismatch::ShaftsApart { .. }))) => {
                println!("wrong {seed}: refused {mismatch:?}");
            }
            Ok(entry) => {
                let laid = entry.photo.visible.unwrap();
                taken += 1;
                println!("wrong {seed}: taken for one field: {} shafts found, {laid:?}", entry.shafts.len());
            }
            Err(error) => panic!("{error}"),
        }
    }
    println!("wrong pairs taken for one field: {taken} of {}", n_pairs());
    assert_eq!(taken, 0, "another field was taken for the same");
    let scene = drawn(0);
    let mut small = scene.in_visible_light();
    small.width_px -= 10;
    let error = both(&scene, &small).unwrap_err();
    assert!(matches!(error, PairError::Apart(Mismatch::OtherSize { .. })), "{error}");
    assert!(error.to_string().starts_with("the visible photo has ") && error.help().ends_with('.'));
}

#[test]
fn what_is_judged_is_the_photo_under_the_lamp_alone() {
    let scene = drawn(1);
    let with = both(&scene, &scene.in_visible_light()).unwrap();
    let alone = read("uv.jpg", &bytes(&scene), &settings(&scene), &MODEL, Want::Numbers).unwrap().entry;
    assert_eq!(with.slide, alone.slide);
    for (with, alone) in with.shafts.iter().zip(&alone.shafts) {
        assert_eq!((with.look, with.probability, &with.reasons), (alone.look, alone.probability, &alone.reasons));
    }
    let said = |entry: &Entry| {
        let is_visible = |i: &usize| entry.catalogue[*i].key.starts_with("visible.");
        let of = |i: usize| entry.shafts.iter().filter(|shaft| shaft.measures[i].is_some()).count();
        (0..entry.catalogue.len()).filter(is_visible).map(of).sum::<usize>()
    };
    assert!(said(&with) > 0 && said(&alone) == 0);
}

/// The true width of a shaft where it was measured: a taper outside of that is not what was measured.
fn true_width(scene: &Scene, i: usize, shaft: &Shaft) -> Option<f64> {
    let truth = shaft_truths(scene).into_iter().find(|truth| truth.id - 1 == i)?;
    let course = Polyline::new(truth.centreline_px.iter().copied())?;
    let line = Polyline::new(shaft.centreline.iter().copied())?;
    let last = truth.width_px.len().checked_sub(1)?;
    let there: Vec<f64> = shaft
        .stations
        .iter()
        .filter(|station| station.width_px.is_some())
        .map(|station| course.nearest(line.at(station.at_px)).s / course.length())
        .map(|s| truth.width_px[((s * last as f64).round() as usize).min(last)])
        .collect();
    median(&there)
}

/// The slide read from photos of these scenes.
fn slide_of(scenes: &[Scene]) -> (Vec<Entry>, OneSlide) {
    let read_one =
        |scene: &Scene| read("photo.jpg", &bytes(scene), &settings(scene), &MODEL, Want::Numbers).unwrap().entry;
    let entries: Vec<Entry> = scenes.iter().map(read_one).collect();
    let slide = one_slide(&entries.iter().collect::<Vec<_>>());
    (entries, slide)
}

#[test]
fn a_shaft_on_several_photos_of_a_slide_is_counted_once_and_measured_better() {
    let (mut n_shafts, mut twice, mut merged, mut smaller, mut combined) = (0, 0, 0, 0, 0);
    let (mut zs, mut singly) = (Vec::new(), Vec::new());
    for seed in 0..n_slides() {
        let first = drawn(seed);
        let by = hand_move(&first, seed);
        let mut second = first.defocused(0.8).moved(&by).taken_again(1);
        second.camera.exposure *= 0.7;
        let scenes = [first, second];
        let (entries, slide) = slide_of(&scenes);
        let usable: Vec<usize> = (0..2).filter(|&i| entries[i].usable).collect();
        // Which true shaft each counted one is.
        let mut met: BTreeSet<usize> = BTreeSet::new();
        for shaft in &slide.shafts {
            let of: BTreeSet<usize> = shaft
                .seen
                .iter()
                .filter_map(|&(photo, id)| {
                    let line = &entries[photo].shafts.iter().find(|s| s.id == id).unwrap().centreline;
                    true_shaft(&scenes[photo], line)
                })
                .collect();
            merged += usize::from(of.len() > 1);
            n_shafts += 1;
            // Two traces of one photo that the other does not join are that photo's fault.
            let on_one = shaft.seen.len() == 1;
            for i in of {
                let other_half = on_one
                    && slide.shafts.iter().filter(|s| s.seen.iter().any(|(p, _)| *p == shaft.seen[0].0)).count()
                        == slide.shafts.len();
                twice += usize::from(!met.insert(i) && !other_half);
                let seen_on = |photo: usize, id: usize| entries[photo].shafts.iter().find(|s| s.id == id).unwrap();
                let kept = seen_on(shaft.kept.0, shaft.kept.1);
                let truth = true_width(&scenes[shaft.kept.0], i, kept);
                let width = &shaft.shaft.width;
                if let (Some(truth), Some(px), Some(sd)) = (truth, width.median_px, width.sd_px)
                    && shaft.seen.len() > 1
                {
                    combined += 1;
                    smaller += usize::from(kept.width.sd_px.is_some_and(|alone| sd < alone));
                    zs.push((px - truth) / sd);
                    print!("combined {seed} {truth:.4} {px:.4} {sd:.4} {:?}", width.common_sd_px);
                    for &(photo, id) in &shaft.seen {
                        let alone = seen_on(photo, id);
                        let truth = true_width(&scenes[photo], i, alone);
                        let Width { median_px, sd_px, common_sd_px, n_measured, .. } = alone.width;
                        let blur = entries[photo].blur_px;
                        print!(" | {truth:?} {median_px:?} {sd_px:?} {common_sd_px:?} {blur:?} {n_measured}");
                        if let (Some(truth), Some(px), Some(sd)) = (truth, median_px, sd_px) {
                            singly.push((px - truth) / sd);
                        }
                    }
                    println!();
                }
            }
        }
        println!(
            "seed {seed}: {} and {} shafts, {} on the slide, usable {usable:?}",
            entries[0].shafts.len(),
            entries[1].shafts.len(),
            slide.shafts.len()
        );
        let of: Vec<&Entry> = entries.iter().collect();
        let object = serde_json::from_str(&slide_json(&slide, &of)).unwrap();
        let schema = serde_json::from_str(include_str!("../docs/slide.schema.json")).unwrap();
        assert_eq!(faults_by(&schema, &object), [""; 0]);
        let counted = slide.slide.counts.iter().sum::<usize>() + slide.slide.undetermined;
        assert_eq!(counted, slide.shafts.len(), "the finding counts each once");
        assert_eq!(slide.entries.iter().map(|entry| entry.shafts.len()).sum::<usize>(), slide.shafts.len());
    }
    let wide = |zs: &[f64]| (zs.iter().map(|z| z * z).sum::<f64>() / zs.len().max(1) as f64).sqrt();
    let robust = |zs: &[f64]| 1.4826 * median(&zs.iter().map(|z| z.abs()).collect::<Vec<_>>()).unwrap_or(f64::NAN);
    let z = robust(&zs);
    println!(
        "z combined: robust {z:.2}, root mean square {:.2}; of single photos {:.2}, {:.2} ({})",
        wide(&zs),
        robust(&singly),
        wide(&singly),
        singly.len()
    );
    println!(
        "{n_shafts} shafts, {twice} twice, {merged} of two merged, {combined} combined, {smaller} of them surer, z {z:.2}"
    );
    assert!(combined as u64 >= n_slides(), "{combined} combined");
    assert_eq!((twice, merged), (0, 0));
    assert!(smaller > 0, "photos together never say more than the better one");
    // What single photos are told too surely, their mean is as well; combining must add nothing to that.
    let alone = robust(&singly).max(1.0);
    assert!(z < 1.4 * alone, "z {z:.2}, of single photos {alone:.2}");
}

#[test]
fn photos_of_two_fields_share_no_shaft() {
    let mut other = drawn(501);
    let first = drawn(2);
    (other.width_px, other.height_px) = (first.width_px, first.height_px);
    let (entries, slide) = slide_of(&[first, other]);
    let all: usize = entries.iter().filter(|entry| entry.usable).map(|entry| entry.shafts.len()).sum();
    assert_eq!(slide.shafts.len(), all);
}

#[test]
fn shifts_are_those_that_another_library_finds() {
    let text = include_str!("../fixtures/reference/registration/reference.json");
    let reference: serde_json::Value = serde_json::from_str(text).unwrap();
    let cases = reference["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 4);
    for case in cases {
        let raster = |name: &str| {
            let rows = case[name].as_array().unwrap();
            let values = rows.iter().flat_map(|row| row.as_array().unwrap()).map(|v| v.as_f64().unwrap() as f32);
            Raster::from_data(rows[0].as_array().unwrap().len(), rows.len(), values.collect())
        };
        let (first, second) = (raster("first"), raster("second"));
        let waves = Waves::new(first.width(), first.height(), 0.0);
        let found = waves.fine_peak(&waves.spectrum(&first).unwrap(), &waves.spectrum(&second).unwrap(), 100).unwrap();
        let wanted = [0, 1].map(|i| case["shift"][i].as_f64().unwrap());
        let off = (found.shift.x - wanted[0]).abs().max((found.shift.y - wanted[1]).abs());
        // Both count in hundredths of a pixel: two of them, whatever their difference is rounded to.
        assert!((100.0 * off).round() <= 2.0, "{}: {found:?} for {wanted:?}", case["name"]);
    }
}
