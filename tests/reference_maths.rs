//! Distances, thinning and directions against independent libraries; see fixtures/reference/maths.

use pilumen::finding::model_from_bytes;
use pilumen::maths::components::{components, components_by_sides};
use pilumen::maths::distance::distance_inside;
use pilumen::maths::point::Point;
use pilumen::maths::polyline::Polyline;
use pilumen::maths::raster::Raster;
use pilumen::maths::thinning::thinned;
use pilumen::pipeline::{self, Want};
use pilumen::settings::Settings;
use serde_json::Value;

const MASKS: [&str; 3] = ["bars", "blobs", "ring"];

fn reference() -> Value {
    let text = std::fs::read_to_string("fixtures/reference/maths/reference.json").unwrap();
    serde_json::from_str(&text).unwrap()
}

fn mask(name: &str) -> Raster<bool> {
    let picture = image::open(format!("fixtures/reference/maths/{name}.png")).unwrap().to_luma8();
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    Raster::from_fn(width, height, |x, y| picture.get_pixel(x as u32, y as u32)[0] > 127)
}

fn skeleton(reference: &Value) -> Raster<bool> {
    let rows: Vec<&[u8]> =
        reference["thinned"].as_array().unwrap().iter().map(|row| row.as_str().unwrap().as_bytes()).collect();
    Raster::from_fn(rows[0].len(), rows.len(), |x, y| rows[y][x] == b'#')
}

#[test]
fn distances_are_those_of_another_exact_transform() {
    let reference = reference();
    for name in MASKS {
        let ours = distance_inside(&mask(name));
        let theirs = reference["masks"][name]["distance"].as_array().unwrap();
        assert_eq!(theirs.len(), ours.height());
        for (y, row) in theirs.iter().enumerate() {
            for (x, distance) in row.as_array().unwrap().iter().enumerate() {
                let (ours, theirs) = (f64::from(ours.at(x, y)), distance.as_f64().unwrap());
                assert!((ours - theirs).abs() < 2e-5, "{name} at {x}, {y}: {ours} for {theirs}");
            }
        }
    }
}

/// Pieces that touch by a side or a corner.
fn pieces(set: &Raster<bool>) -> usize {
    components(set).parts.len() - 1
}

/// Pieces of the ground that touch by sides, less the one outside.
fn holes(set: &Raster<bool>) -> usize {
    // Framed, so that what lies outside is one piece.
    let ground = Raster::from_fn(set.width() + 2, set.height() + 2, |x, y| {
        !set.get(x as isize - 1, y as isize - 1).unwrap_or(false)
    });
    components_by_sides(&ground).parts.len() - 2
}

/// How far each pixel of `of` lies from the nearest of `from`, pixels.
fn apart(of: &Raster<bool>, from: &Raster<bool>) -> Vec<f64> {
    let places = |set: &Raster<bool>| -> Vec<(f64, f64)> {
        let (w, n) = (set.width(), set.width() * set.height());
        (0..n).filter(|i| set.at(i % w, i / w)).map(|i| ((i % w) as f64, (i / w) as f64)).collect()
    };
    let from = places(from);
    let nearest = |p: &(f64, f64)| from.iter().map(|q| (p.0 - q.0).hypot(p.1 - q.1)).fold(f64::INFINITY, f64::min);
    places(of).iter().map(nearest).collect()
}

#[test]
fn what_is_thinned_has_the_pieces_and_holes_of_another_thinning_and_lies_where_it_lies() {
    let reference = reference();
    for name in MASKS {
        let (ours, theirs) = (thinned(&mask(name)), skeleton(&reference["masks"][name]));
        let stated = |key: &str| reference["masks"][name][key].as_u64().unwrap() as usize;
        assert_eq!((pieces(&theirs), holes(&theirs)), (stated("pieces"), stated("holes")), "{name}: counted alike");
        assert_eq!((pieces(&ours), holes(&ours)), (stated("pieces"), stated("holes")), "{name}");
        // Both thin by Zhang and Suen; ours then takes corner pixels away, and either may start with the other of the
        // two passes, which moves a line of even width by one pixel, and its diagonal neighbour by √2. At a blunt end one
        // of the two may go on for two pixels more, on a slant 2 √2: a pixel or two at each end, seen on the bars.
        // Blobs have no middle line that both must find: which branches reach into their bulges is a matter of order (22 of
        // 136 pixels differ, up to 5.7 pixels), so that only pieces and holes are held there.
        if name == "blobs" {
            continue;
        }
        let (there, back) = (apart(&ours, &theirs), apart(&theirs, &ours));
        for apart in [&there, &back] {
            let beyond = apart.iter().filter(|d| **d > 1.5).count();
            let farthest = apart.iter().copied().fold(0.0, f64::max);
            assert!(beyond <= 4 && farthest < 3.0, "{name}: {beyond} of {}, {farthest:.2}", apart.len());
        }
    }
}

#[test]
fn centrelines_run_the_way_a_structure_tensor_says() {
    let model = model_from_bytes(include_bytes!("../models/shaft-v1.json")).unwrap();
    let bytes = std::fs::read("fixtures/reference/maths/shafts.png").unwrap();
    let entry = pipeline::read("shafts.png", &bytes, &Settings::default(), &model, Want::Numbers).unwrap().entry;
    let lines: Vec<Polyline> =
        entry.shafts.iter().map(|shaft| Polyline::new(shaft.centreline.iter().copied()).unwrap()).collect();
    assert_eq!(lines.len(), 4, "four lines are drawn");
    for place in reference()["directions"].as_array().unwrap() {
        let number = |key: &str| place[key].as_f64().unwrap();
        let at = Point::new(number("x"), number("y"));
        let (line, arc) = lines
            .iter()
            .flat_map(|line| (0..=line.length() as usize).map(move |s| (line, s as f64)))
            .min_by(|a, b| a.0.at(a.1).distance(at).total_cmp(&b.0.at(b.1).distance(at)))
            .unwrap();
        assert!(line.at(arc).distance(at) < 2.0, "a centreline passes {place}");
        // Over the reach of the tensor's window, 8 pixels either way.
        let along = line.tangent(arc, 8.0);
        let apart = (along.y.atan2(along.x).to_degrees() - number("degrees")).rem_euclid(180.0);
        let apart = apart.min(180.0 - apart);
        assert!(apart < 1.0, "{apart:.2} degrees apart at {place}");
    }
}
