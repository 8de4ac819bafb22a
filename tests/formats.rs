//! DICOM, OME-TIFF, tables: what an outside reader must find in them, what must never be in them. The outside readers
//! themselves are run by `read.py` and `check.py` in `fixtures/reference/formats`; what they read is stored beside them.

use std::fs;
use std::path::PathBuf;
use std::process::Command;

use dicom_dictionary_std::tags;
use dicom_object::InMemDicomObject;
use jiff::civil::date;
use pilumen::exports::{DicomCase, DicomPhoto, Format, OmeNotes, Table, from_record, marked_layer, ome_tiff};
use pilumen::record::{CaseFacts, Entry, Sex};

use crate::sample::{SMALL, Sample};

const PHOTO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/demo/quillfeather-moth-left-pinna.jpg");

fn facts() -> CaseFacts {
    let words = |text: &str| Some(text.to_owned());
    CaseFacts {
        animal: words("Moth^=\\Мотылёк"),
        animal_number: words(&"9".repeat(200)),
        sex: Some(Sex::Female),
        neutered: Some(false),
        site: words("left pinna"),
        exam_day: Some(date(2026, 11, 20)),
        lamp_nm: Some(365.0),
        ..CaseFacts::default()
    }
}

fn objects(sample: &Sample, facts: &CaseFacts) -> (Entry, [Vec<u8>; 3]) {
    let (entry, picture) = (sample.entry(), sample.picture(1));
    let case = DicomCase { facts, made_on: date(2026, 11, 21), first_sha256: &entry.photo.sha256 };
    let photo = DicomPhoto { entry: &entry, picture: &picture, n_file_bytes: 1000, number: 1 };
    let made = [
        case.image(&photo).unwrap(),
        case.measurements(&photo).unwrap(),
        case.report(&[photo], "Hair shafts", b"%PDF-1.7 odd").unwrap(),
    ];
    (entry, made)
}

fn opened(bytes: &[u8]) -> InMemDicomObject {
    assert_eq!(&bytes[128..132], b"DICM");
    dicom_object::from_reader(bytes).unwrap().into_inner()
}

fn text(object: &InMemDicomObject, tag: dicom_object::Tag) -> String {
    object.element(tag).unwrap().to_str().unwrap().into_owned()
}

#[test]
fn objects_of_one_case_belong_together() {
    let (_, made) = objects(&SMALL, &facts());
    let [image, measured, report] = made.each_ref().map(|bytes| opened(bytes));
    for object in [&measured, &report] {
        for tag in [tags::STUDY_INSTANCE_UID, tags::PATIENT_NAME, tags::PATIENT_ID, tags::STUDY_DATE] {
            assert_eq!(text(object, tag), text(&image, tag));
        }
        assert_ne!(text(object, tags::SERIES_INSTANCE_UID), text(&image, tags::SERIES_INSTANCE_UID));
    }
    let refers = report.element(tags::SOURCE_INSTANCE_SEQUENCE).unwrap().items().unwrap();
    assert_eq!(text(&refers[0], tags::REFERENCED_SOP_INSTANCE_UID), text(&image, tags::SOP_INSTANCE_UID));
    assert_eq!(report.element(tags::ENCAPSULATED_DOCUMENT_LENGTH).unwrap().to_int::<u32>().unwrap(), 12);
    assert_eq!(text(&image, tags::PATIENT_NAME), "^Moth   Мотылёк", "no sign that parts names is left");
    assert_eq!(text(&image, tags::PATIENT_ID).len(), 64, "a long string has at most 64 characters");
    assert_eq!(text(&image, tags::PATIENT_SEX_NEUTERED), "UNALTERED");
    assert_eq!(text(&image, tags::STUDY_DATE), "20261120");
    let (_, again) = objects(&SMALL, &facts());
    assert!(made == again, "the same case gives the same bytes");
}

#[test]
fn the_numbers_are_the_records() {
    let (entry, [_, measured, _]) = objects(&SMALL, &facts());
    let mut numbers = Vec::new();
    collect(&opened(&measured), &mut numbers);
    for shaft in &entry.shafts {
        for value in [shaft.width.median_um, shaft.width.sd_um, shaft.glow.contrast].into_iter().flatten() {
            let found = numbers.iter().any(|n: &f64| ((n - value) / value).abs() < 1e-4);
            assert!(found, "shaft {}: {value} is not in the report", shaft.id);
        }
    }
    assert_eq!(text(&opened(&measured), tags::VERIFICATION_FLAG), "UNVERIFIED", "no person has looked at it");
}

fn collect(object: &InMemDicomObject, numbers: &mut Vec<f64>) {
    for element in object.iter() {
        if element.header().tag == tags::NUMERIC_VALUE {
            numbers.push(element.to_float64().unwrap());
        }
        element.items().unwrap_or_default().iter().for_each(|item| collect(item, numbers));
    }
}

#[test]
fn without_a_scale_or_a_lamp_nothing_is_made_up() {
    let unscaled = Sample { um_per_px: None, ..SMALL };
    let (_, [image, measured, _]) = objects(&unscaled, &CaseFacts::default());
    let image = opened(&image);
    assert!(image.element(tags::PIXEL_SPACING).is_err());
    let path = image.element(tags::OPTICAL_PATH_SEQUENCE).unwrap().items().unwrap();
    assert!(path[0].element(tags::ILLUMINATION_WAVE_LENGTH).is_err());
    assert!(path[0].element(tags::ILLUMINATION_COLOR_CODE_SEQUENCE).is_ok(), "one of the two must be there");
    for empty in [tags::PATIENT_NAME, tags::PATIENT_ID, tags::PATIENT_SEX, tags::RESPONSIBLE_PERSON, tags::STUDY_DATE] {
        assert_eq!(text(&image, empty), "", "{empty}");
    }
    let all = String::from_utf8_lossy(&measured).into_owned();
    assert!(all.contains("{pixel}"), "lengths are in pixels");
}

#[test]
fn a_photo_that_dicom_cannot_count_is_refused() {
    let entry = SMALL.entry();
    let picture = pilumen::maths::picture::Picture {
        width: 70_000,
        height: 1,
        rgb: vec![0; 210_000],
        shrink: [1.0; 2],
        gain: 1.0,
    };
    let facts = CaseFacts::default();
    let case = DicomCase { facts: &facts, made_on: date(2026, 11, 21), first_sha256: "" };
    let photo = DicomPhoto { entry: &entry, picture: &picture, n_file_bytes: 0, number: 1 };
    assert!(case.image(&photo).unwrap_err().to_string().contains("too large for DICOM"));
}

#[test]
fn an_ome_tiff_holds_the_pixels_and_what_they_measure() {
    let (mut entry, picture) = (SMALL.entry(), SMALL.picture(1));
    entry.photo.file = "Moth & <Мотылёк>.png".to_owned();
    let notes = OmeNotes { name: &entry.photo.file, lamp_nm: Some(365.0), marked: false };
    let bytes = ome_tiff(&entry, &picture, &notes).unwrap();
    let mut decoder = tiff::decoder::Decoder::new(std::io::Cursor::new(&bytes)).unwrap();
    let xml = decoder.get_tag_ascii_string(tiff::tags::Tag::ImageDescription).unwrap();
    let tiff::decoder::DecodingResult::U8(pixels) = decoder.read_image().unwrap() else { panic!("8 bits a channel") };
    assert_eq!(pixels, picture.rgb);
    let document = roxmltree::Document::parse(&xml).unwrap();
    let of = |name: &str| document.descendants().find(|node| node.has_tag_name(name) || node.tag_name().name() == name);
    let pixels = of("Pixels").unwrap();
    assert_eq!(pixels.attribute("PhysicalSizeX"), Some("2.5"));
    assert_eq!(pixels.attribute("PhysicalSizeYUnit"), Some("µm"));
    assert_eq!(of("Channel").unwrap().attribute("ExcitationWavelength"), Some("365"));
    assert_eq!(of("Image").unwrap().attribute("Name"), Some("Moth & <Мотылёк>.png"));
    let layer = marked_layer(&entry, &picture).unwrap();
    assert_eq!((layer.width, layer.height), (picture.width, picture.height), "one lies on the other");
    assert_ne!(layer.rgb, picture.rgb);
}

/// A JPEG with a place in its EXIF data: the place's name, and degrees that would be found again.
fn photo_with_a_place() -> Vec<u8> {
    let photo = fs::read(PHOTO).unwrap();
    let mut exif = b"Exif\0\0II*\0\x08\0\0\0".to_vec();
    // One entry: the GPS directory at byte 26 of the TIFF part.
    exif.extend([1, 0, 0x25, 0x88, 4, 0, 1, 0, 0, 0, 26, 0, 0, 0, 0, 0, 0, 0]);
    // Its one entry: the name of the area (0x001c, undefined type), 24 bytes at byte 44.
    exif.extend([1, 0, 0x1c, 0, 7, 0, 24, 0, 0, 0, 44, 0, 0, 0, 0, 0, 0, 0]);
    exif.extend(b"QUILLFEATHER-SECRET-ROOM");
    let length = (exif.len() as u16 + 2).to_be_bytes();
    [&photo[..2], &[0xff, 0xe1], &length, &exif, &photo[2..]].concat()
}

#[test]
fn no_file_tells_where_a_photo_was_taken() {
    let place = tempfile::tempdir().unwrap();
    let photo = place.path().join("moth.jpg");
    let bytes = photo_with_a_place();
    assert!(contains(&bytes, b"SECRET-ROOM"));
    fs::write(&photo, bytes).unwrap();
    let run = |arguments: &[&str]| {
        let output = Command::new(env!("CARGO_BIN_EXE_pilumen")).args(arguments).current_dir(&place).output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    };
    run(&["read", "moth.jpg", "--out", "all"]);
    run(&["export", "moth.jpg", "--dicom", "--ome-tiff", "--out", "all"]);
    run(&["report", "moth.jpg", "--out", "all/report.pdf"]);
    run(&["report", "moth.jpg", "--out", "all/report.html"]);
    let files: Vec<PathBuf> = ["all", "all/.pilumen"]
        .iter()
        .flat_map(|folder| fs::read_dir(place.path().join(folder)).unwrap())
        .map(|file| file.unwrap().path())
        .filter(|path| path.is_file())
        .collect();
    assert!(files.len() >= 16, "{files:?}");
    for file in files {
        assert!(!contains(&fs::read(&file).unwrap(), b"SECRET-ROOM"), "{} tells the place", file.display());
    }
}

fn contains(bytes: &[u8], part: &[u8]) -> bool {
    bytes.windows(part.len()).any(|window| window == part)
}

#[test]
fn nothing_is_written_over_unless_wanted() {
    let place = tempfile::tempdir().unwrap();
    let run = |more: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_pilumen"));
        let output =
            command.args(["export", PHOTO, "--ome-tiff", "--out", "out"]).args(more).current_dir(&place).output();
        let output = output.unwrap();
        (output.status.code(), String::from_utf8(output.stderr).unwrap())
    };
    assert_eq!(run(&[]), (Some(0), String::new()));
    let (code, err) = run(&[]);
    assert_eq!(code, Some(1));
    assert!(err.contains("is there already") && err.lines().count() == 1, "{err}");
    assert_eq!(run(&["--replace"]).0, Some(0));
}

/// The files of a hand-made sample, whose numbers no change of the measuring stages moves.
fn written() -> Vec<(String, Vec<u8>)> {
    let (entry, [image, measured, report]) = objects(&SMALL, &plain_facts());
    let picture = SMALL.picture(1);
    let notes = OmeNotes { name: &entry.photo.file, lamp_nm: Some(365.0), marked: false };
    let layer = marked_layer(&entry, &picture).unwrap();
    let mut files = vec![
        ("photo.dcm".to_owned(), image),
        ("measurements.dcm".to_owned(), measured),
        ("report.dcm".to_owned(), report),
        ("photo.ome.tif".to_owned(), ome_tiff(&entry, &picture, &notes).unwrap()),
        ("marked.ome.tif".to_owned(), ome_tiff(&entry, &layer, &OmeNotes { marked: true, ..notes }).unwrap()),
        ("evaluation.json".to_owned(), from_record(&entry, None, Format::Json)),
    ];
    for table in Table::ALL {
        let rows = [table.head(&entry.catalogue), table.rows(&entry, "sample")].concat();
        files.push((table.file().to_owned(), rows));
        files.push((table.description_file(), table.description(&entry.catalogue)));
    }
    files
}

fn plain_facts() -> CaseFacts {
    CaseFacts { animal: Some("Moth Мотылёк".to_owned()), animal_number: Some("QH-0417".to_owned()), ..facts() }
}

fn sha256(bytes: &[u8]) -> String {
    pilumen::store::digest(bytes)
}

/// `WRITE_FORMATS=folder` writes the files there, for `read.py` to read them anew.
#[test]
fn what_is_written_is_what_outside_readers_have_read() {
    let files = written();
    if let Some(folder) = std::env::var_os("WRITE_FORMATS") {
        for (name, bytes) in &files {
            fs::write(PathBuf::from(&folder).join(name), bytes).unwrap();
        }
        return;
    }
    let stored: serde_json::Value =
        serde_json::from_str(&fs::read_to_string("fixtures/reference/formats/read.json").unwrap()).unwrap();
    assert_eq!(stored["wrong"], serde_json::json!([]), "a checker found an error");
    let read = stored["files"].as_object().unwrap();
    assert_eq!(read.len(), files.len());
    for (name, bytes) in &files {
        assert_eq!(
            read[name]["sha256"].as_str().unwrap(),
            sha256(bytes),
            "{name} is not what outside readers have read; read it again, see fixtures/reference/formats"
        );
    }
    // And what they read in these bytes is what was to be written.
    let (entry, picture) = (SMALL.entry(), SMALL.picture(1));
    let of = |name: &str| &read[name]["read"];
    let photo = of("photo.dcm");
    assert_eq!(photo["animal"], "^Moth Мотылёк");
    assert_eq!(photo["spacing_mm"], serde_json::json!([0.0025, 0.0025]));
    for name in ["photo.dcm", "photo.ome.tif"] {
        assert_eq!(of(name)["pixels_sha256"], sha256(&picture.rgb), "{name}");
        assert_eq!(of(name)["lamp_nm"], 365.0, "{name}");
    }
    assert_eq!(of("photo.ome.tif")["um_per_px"], 2.5);
    assert_eq!(of("marked.ome.tif")["pixels_sha256"], sha256(&marked_layer(&entry, &picture).unwrap().rgb));
    assert_eq!(of("report.dcm")["document"], "%PDF-1.7 odd");
    let [measured, rows] = ["measurements.dcm", "shafts.csv"].map(|name| of(name)["shafts"].as_array().unwrap());
    assert_eq!([measured.len(), rows.len()], [entry.shafts.len(); 2]);
    for ((shaft, measured), row) in entry.shafts.iter().zip(measured).zip(rows) {
        let um = shaft.width.median_um.unwrap();
        for told in [&measured["diameter"][0], &row["width_um"]] {
            assert!((told.as_f64().unwrap() / um - 1.0).abs() < 1e-4, "shaft {}: {told} for {um}", shaft.id);
        }
        assert_eq!(measured["diameter"][1], "um");
        assert_eq!([&measured["look"], &row["class"]], [shaft.class(); 2]);
        assert_eq!(measured["zone"], shaft.zone);
    }
    let n_stations: usize = entry.shafts.iter().map(|shaft| shaft.stations.len()).sum();
    assert_eq!(of("profiles.csv")["rows"], n_stations);
    assert_eq!(of("evaluation.json")["shafts"], entry.shafts.len());
}

#[test]
fn outside_readers_found_nothing_wrong_the_last_time_they_were_run() {
    let results = fs::read_to_string("fixtures/reference/formats/results.json").unwrap();
    let results: serde_json::Value = serde_json::from_str(&results).unwrap();
    assert_eq!(results["held"]["wrong"].as_array().map(Vec::len), Some(0));
    assert!(results["held"]["checks"].as_u64() >= Some(100));
    assert!(results["versions"]["dicom3tools"].is_string());
}
