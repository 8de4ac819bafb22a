//! Reports, slips and files for others made of what the record holds: by case, by slide, by photo.

use std::fs;

use serde_json::Value;

use super::commands::{Place, err, out};

const PHOTO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/demo/quillfeather-moth-left-pinna.jpg");

/// Moth with an older slide without photos and a newer one with the demo photo, read at a scale; Tansy with nothing.
fn record() -> Place {
    let place = Place::new();
    place.id(&["case", "animal", "Moth", "--id", "chip=QH-1", "--colour", "smoke"]);
    place.id(&["case", "animal", "Tansy"]);
    place.id(&["case", "slide", "Moth", "--site", "chin", "--label", "QH 8", "--day", "2026-01-03"]);
    place.id(&["case", "slide", "Moth", "--site", "left pinna", "--label", "QH 9", "--day", "2026-02-03"]);
    let read = place.run(&["read", PHOTO, "--case", "Moth", "--slide", "QH 9", "--um-per-px", "1.05"]);
    assert_eq!(read.status.code(), Some(0), "{}", err(&read));
    place
}

impl Place {
    /// The report as a web page, its pictures left out: their letters might spell anything.
    fn page(&self, arguments: &[&str]) -> String {
        let file = self.path("page.html");
        let arguments = [&["report"], arguments, &["--replace", "--out", file.to_str().unwrap()]].concat();
        let output = self.run(&arguments);
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", err(&output));
        let html = fs::read_to_string(file).unwrap();
        let mut parts = html.split("base64,");
        let first = parts.next().unwrap_or_default().to_owned();
        parts.fold(first, |text, part| text + part.split_once('"').map_or("", |(_, after)| after))
    }
}

#[test]
fn a_case_a_slide_and_a_photo_give_the_same_report_with_what_the_case_tells() {
    let place = record();
    let shown = place.json(&["case", "show", "Moth"]);
    let photo = shown["photos"][0]["id"].as_str().unwrap().to_owned();
    let slide = shown["slides"][1]["id"].as_str().unwrap().to_owned();
    let by_case = place.page(&["Moth", "--made-on", "2026-11-21"]);
    for told in ["Moth", "QH-1", "left pinna", "2026-02-03", "QH 9", "1.05 µm", "quillfeather-moth-left-pinna.jpg"] {
        assert!(by_case.contains(told), "{told} is not in the report");
    }
    for same in ["qh-1", "QH 9", slide.as_str(), &slide[..8], photo.as_str(), &photo[..8]] {
        assert!(place.page(&[same, "--made-on", "2026-11-21"]) == by_case, "{same}");
    }
    // Options and files outdo the record.
    let facts = place.path("facts.json");
    fs::write(&facts, r#"{"laboratory": "A laboratory of Quillfeather House", "site": "chin"}"#).unwrap();
    let slip = place.page(&["Moth", "--slip", "--case-facts", facts.to_str().unwrap(), "--animal", "Pepperpot"]);
    for told in ["Pepperpot", "A laboratory of Quillfeather House", "chin", super::world::WHO] {
        assert!(slip.contains(told), "{told} is not on the slip");
    }
    assert!(!slip.contains("left pinna"));
    let spanish = place.page(&["Moth", "--language", "es"]);
    assert!(spanish.contains("oreja izquierda") && !spanish.contains("left pinna<"));
    let taught = place.page(&["Moth", "--teaching"]);
    assert!(!taught.contains("Moth") && !taught.contains("QH"), "a teaching copy tells nothing");
}

#[test]
fn a_corrected_look_is_in_the_report_and_in_the_files() {
    let place = record();
    let reading = place.json(&["case", "show", "Moth"])["readings"][0].clone();
    let id = reading["id"].as_str().unwrap();
    let shafts = reading["fact"]["shafts"].as_array().unwrap();
    let shaft = shafts.iter().find(|shaft| shaft["look"] == "infected").expect("the demo photo has one");
    let number = shaft["id"].to_string();
    place.id(&["case", "correct", id, "--shaft", &number, "--look", "coated", "--why", "soap"]);
    assert!(place.page(&["QH 9"]).contains(&format!("Shaft {number}: looks coated")));
    let folder = place.path("files");
    let arguments = ["export", "QH 9", "--dicom", "--tables", "--out", folder.to_str().unwrap()];
    let output = place.run(&arguments);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let mut names: Vec<String> =
        fs::read_dir(&folder).unwrap().map(|file| file.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names.retain(|name| !name.starts_with('.'));
    let stem = "quillfeather-moth-left-pinna";
    let expected = [
        "centrelines.csv",
        "centrelines.csv-metadata.json",
        "profiles.csv",
        "profiles.csv-metadata.json",
        &format!("{stem}.dcm"),
        &format!("{stem}.json"),
        &format!("{stem}.measurements.dcm"),
        "report.dcm",
        "shafts.csv",
        "shafts.csv-metadata.json",
    ];
    assert_eq!(names, expected);
    let entry: Value = serde_json::from_slice(&fs::read(folder.join(format!("{stem}.json"))).unwrap()).unwrap();
    assert_eq!(entry["photo"]["um_per_px"], 1.05, "the scale of its reading");
    let corrected =
        entry["shafts"].as_array().unwrap().iter().find(|one| one["id"].as_u64() == number.parse().ok()).unwrap();
    assert_eq!(corrected["class"], "coated");
    let table = fs::read_to_string(folder.join("shafts.csv")).unwrap();
    assert_eq!(table.lines().count(), entry["shafts"].as_array().unwrap().len() + 1);
}

#[test]
fn a_slip_needs_no_photo_and_what_cannot_be_meant_has_its_sentence() {
    let place = record();
    assert!(place.page(&["QH 8", "--slip"]).contains("chin"));
    let nowhere = place.path("report.pdf");
    let refused = |code: i32, arguments: &[&str]| {
        place.refused(code, &[&["report"], arguments, &["--out", nowhere.to_str().unwrap()]].concat())
    };
    for (code, says, arguments) in [
        (2, "has no photo", ["QH 8"].as_slice()),
        (2, "Tansy has no slide yet", &["Tansy"]),
        (2, "these are 2 slides", &["QH 9", "QH 8", "--slip"]),
        (2, "some of these are files", &["QH 9", PHOTO]),
        (1, "the record has no case, slide or photo of this name", &["Bracken"]),
    ] {
        let sentence = refused(code, arguments);
        assert!(sentence.contains(says) && sentence.lines().count() == 1, "{arguments:?}: {sentence}");
    }
    // Who keeps no record is told of the file alone, and nothing is begun.
    let none = place.path("none");
    let alone = place.command().env("PILUMEN_RECORD", &none).args(["report", "Bracken"]).output().unwrap();
    assert_eq!((alone.status.code(), out(&alone).as_str()), (Some(1), ""));
    assert!(err(&alone).contains("there is no such file; check its name") && !none.exists(), "{}", err(&alone));
    let named = place.run(&["report", "Bracken", "--record", none.to_str().unwrap()]);
    assert_eq!(named.status.code(), Some(2), "a record that was named must be there");
    assert!(!nowhere.exists());
}
