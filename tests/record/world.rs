//! A small invented world to keep: stamps, animals, slides, and evaluations of photos that nobody took.

use pilumen::store::{Animal, Answer, Day, Exam, Light, Site, SiteSeen, Slide, Stamp, Store};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use tempfile::TempDir;

pub(super) const WHO: &str = "Quillfeather House (invented)";

/// A stamp on a day, at noon.
pub(super) fn on(day: &str) -> Stamp {
    Stamp { by: WHO.to_owned(), at: format!("{day}T12:00:00Z").parse().unwrap(), today: the(day) }
}

pub(super) fn the(day: &str) -> Day {
    day.parse().unwrap()
}

pub(super) fn site(name: &str) -> Site {
    name.parse().unwrap()
}

/// An empty record in a folder that vanishes.
pub(super) fn record() -> (TempDir, Store) {
    let place = tempfile::tempdir().unwrap();
    let store = Store::open_or_create(&place.path().join("record")).unwrap();
    (place, store)
}

pub(super) fn animal(name: &str) -> Animal {
    Animal { name: name.to_owned(), ..Animal::default() }
}

pub(super) fn slide(name: &str, day: &str) -> Slide {
    Slide { site: site(name), day: the(day), plucked: None, comparison_hairs: None, label: None }
}

/// An exam of one site.
pub(super) fn exam(name: &str, day: &str, fluorescence: Answer, hair_loss: Option<Answer>) -> Exam {
    let seen = SiteSeen {
        site: site(name),
        fluorescence,
        colour: None,
        evenness: None,
        hair_loss,
        crust: None,
        crust_lifted: None,
    };
    Exam {
        day: the(day),
        lamp_nm: Some(365.0),
        lamp_kind: None,
        warm_up_min: None,
        bathed_before: None,
        treated_before: None,
        sites: vec![seen],
        remark: None,
    }
}

/// An evaluation of these bytes with shafts of these looks, zones and widths.
pub(super) fn evaluation(bytes: &[u8], finding: &str, shafts: &[(&str, &str, f64)]) -> String {
    let sha256: String = Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    let shafts: Vec<Value> = shafts
        .iter()
        .enumerate()
        .map(|(i, (look, zone, width))| {
            json!({"id": i + 1, "class": look, "glow": {"zone": zone}, "width": {"median_px": width},
                   "comparison": *look == "normal", "probability": {"infected": 0.5}})
        })
        .collect();
    json!({
        "schema": "pilumen/evaluation/1",
        "photo": {"file": "invented.jpg", "sha256": sha256, "um_per_px": null},
        "quality": {"usable": true},
        "shafts": shafts,
        "finding": {"code": finding, "sentence": "An invented finding."},
        "program": {"version": "0.1.0", "model_sha256": "ab", "settings": {"um_per_px": 0.5}},
    })
    .to_string()
}

/// A read photo on a new slide; returns the ids of slide, photo and reading.
pub(super) fn read_slide(
    store: &mut Store,
    animal: &str,
    slide: &Slide,
    bytes: &[u8],
    finding: &str,
    shafts: &[(&str, &str, f64)],
) -> [String; 3] {
    let stamp = on(&slide.day.to_string());
    let slide = store.add_slide(animal, slide, &stamp).unwrap();
    let photo = store.add_photo(&slide.id, "invented.jpg", bytes, Light::Uv, &stamp).unwrap();
    let reading = store.add_reading(&photo.id, &evaluation(bytes, finding, shafts), &stamp).unwrap();
    [slide.id, photo.id, reading.id]
}
