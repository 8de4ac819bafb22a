//! Photos of confirmed cases to practise on: which they are, what is held to be true of them, and that nothing tells whose
//! they are.

use std::fs;
use std::path::Path;

use axum::body::Body;
use axum::http::{Method, StatusCode};
use pilumen::learn::OwnPhoto;
use pilumen::store::{
    Animal, Change, Confirmed, Correction, Culture, Growth, Identifier, Light, Note, PlateReading, Slide, Store,
};
use serde_json::{Value, json};

use super::commands::Place;
use super::world::{animal, evaluation, on, record, site, slide, the};
use crate::web::Page;

/// A demo photo with words in its file that would tell whose it is: a comment and a camera's tags.
fn telling_photo() -> Vec<u8> {
    let plain = fs::read("fixtures/demo/quillfeather-moth-left-pinna.jpg").unwrap();
    let mut bytes = plain[..2].to_vec();
    let mut segment = |mark: u8, text: &[u8]| {
        bytes.extend([0xff, mark]);
        bytes.extend(u16::try_from(text.len() + 2).unwrap().to_be_bytes());
        bytes.extend(text);
    };
    segment(0xfe, b"OWNERNAME of attic 7");
    segment(0xe1, b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta>GPSLATITUDE OWNERNAME</x:xmpmeta>");
    bytes.extend(&plain[2..]);
    bytes
}

fn culture(store: &mut Store, of: &str, at: Option<&str>, day: &str) -> String {
    let culture = Culture {
        day: the(day),
        medium: "Sabouraud".into(),
        site: at.map(site),
        sampled_by: None,
        laboratory: Some("LABNAME".into()),
        other_test: false,
    };
    store.add_culture(of, &culture, &on(day)).unwrap().id
}

fn plate(store: &mut Store, culture: &str, day: &str, growth: Growth, last: bool, confirmed: Option<bool>) {
    let plate =
        PlateReading { day: the(day), growth, confirmed_microscopically: confirmed, species: None, last, remark: None };
    store.add_plate(culture, &plate, &on(day)).unwrap();
}

/// The evaluation of the world, with a line for each shaft.
fn with_lines(bytes: &[u8]) -> String {
    let shafts = [("infected", "base", 30.0), ("normal", "none", 20.0), ("coated", "whole", 25.0)];
    let mut value: Value = serde_json::from_str(&evaluation(bytes, "looks-infected-few", &shafts)).unwrap();
    for (i, shaft) in value["shafts"].as_array_mut().unwrap().iter_mut().enumerate() {
        // The first shaft lies farthest right: the order must not be that of the reading.
        let x = 900.0 - 300.0 * i as f64;
        shaft["centreline_px"] = json!([[x, 100.0], [x + 40.0, 500.0], [x + 60.0, 900.0]]);
    }
    value.to_string()
}

fn look(store: &mut Store, reading: &str, shaft: usize, look: &str) {
    let change = Change::Look { shaft, look: look.into() };
    store.correct(reading, &Correction { change, why: "seen".into() }, &on("2026-03-20")).unwrap();
}

#[test]
fn a_photo_counts_when_the_laboratory_has_said_its_last_word_on_the_same_site_at_about_the_same_time() {
    // Days of the culture, its site, looks at the plate, and what that says of a slide of the left pinna of 10 March.
    type Looks<'a> = &'a [(Growth, bool, Option<bool>)];
    let cases: [(&str, Option<&str>, Looks, Option<bool>); 10] = [
        ("2026-03-10", Some("left pinna"), &[(Growth::Ringworm, true, Some(true))], Some(true)),
        ("2026-03-17", Some("left pinna"), &[(Growth::Ringworm, true, None)], Some(true)),
        ("2026-03-03", Some("left pinna"), &[(Growth::Suspect, false, None), (Growth::None, true, None)], Some(false)),
        ("2026-03-18", Some("left pinna"), &[(Growth::Ringworm, true, Some(true))], None),
        ("2026-03-10", Some("chin"), &[(Growth::Ringworm, true, Some(true))], None),
        ("2026-03-10", None, &[(Growth::Ringworm, true, Some(true))], None),
        ("2026-03-10", Some("left pinna"), &[(Growth::Ringworm, false, Some(true))], None),
        ("2026-03-10", Some("left pinna"), &[(Growth::Ringworm, true, Some(false))], None),
        ("2026-03-10", Some("left pinna"), &[(Growth::Suspect, true, None)], None),
        ("2026-03-10", Some("left pinna"), &[(Growth::Other, true, None)], None),
    ];
    for (i, (day, at, looks, said)) in cases.into_iter().enumerate() {
        let (_place, mut store) = record();
        let moth = store.add_animal(&animal("Moth"), &on("2026-03-01")).unwrap().id;
        let of = store.add_slide(&moth, &slide("left pinna", "2026-03-10"), &on("2026-03-10")).unwrap().id;
        store.add_photo(&of, "a.jpg", b"uv", Light::Uv, &on("2026-03-10")).unwrap();
        store.add_photo(&of, "b.jpg", b"visible", Light::Visible, &on("2026-03-10")).unwrap();
        assert_eq!(store.confirmed().unwrap(), [], "without a culture nothing is confirmed");
        let id = culture(&mut store, &moth, at, day);
        for (growth, last, microscope) in looks {
            plate(&mut store, &id, "2026-03-24", *growth, *last, *microscope);
        }
        let found: Vec<bool> = store.confirmed().unwrap().iter().map(|one| one.grew).collect();
        assert_eq!(found, said.map_or(vec![], |grew| vec![grew]), "case {i}");
        // Another laboratory that disagrees takes the slide out; one that agrees does not.
        let other = culture(&mut store, &moth, Some("left pinna"), "2026-03-11");
        plate(&mut store, &other, "2026-03-25", Growth::Ringworm, true, Some(true));
        let both = if said == Some(false) { vec![] } else { vec![true] };
        assert_eq!(store.confirmed().unwrap().iter().map(|one| one.grew).collect::<Vec<_>>(), both, "case {i}");
        let why = "of another animal".to_owned();
        store.correct(&of, &Correction { change: Change::Withdrawn, why }, &on("2026-03-26")).unwrap();
        assert_eq!(store.confirmed().unwrap(), [], "what was withdrawn is not shown");
    }
}

/// A record with a confirmed photo of which people said some looks, with telling words wherever words can be.
fn telling(folder: &Path) -> (Store, Vec<String>) {
    let mut store = Store::open_or_create(folder).unwrap();
    let chip = Identifier { kind: "chip".into(), value: "CHIPNUMBER".into() };
    let group = Some("GROUPNAME".to_owned());
    let pet = Animal { identifiers: vec![chip], group, coat_colour: Some("COATNAME".into()), ..animal("PETNAME") };
    let pet = store.add_animal(&pet, &on("2026-03-01")).unwrap().id;
    store.add_note(&pet, &Note { day: None, text: "NOTEWORDS".into() }, &on("2026-03-01")).unwrap();
    let of = Slide {
        label: Some("LABELWORDS".into()),
        plucked: Some("PLUCKEDWORDS".into()),
        ..slide("other: SITEWORDS", "2026-03-10")
    };
    let of = store.add_slide(&pet, &of, &on("2026-03-10")).unwrap().id;
    let bytes = telling_photo();
    let photo = store.add_photo(&of, "FILENAME.jpg", &bytes, Light::Uv, &on("2026-03-10")).unwrap();
    let reading = store.add_reading(&photo.id, &with_lines(&bytes), &on("2026-03-10")).unwrap().id;
    look(&mut store, &reading, 1, "coated");
    look(&mut store, &reading, 1, "normal");
    look(&mut store, &reading, 3, "undetermined");
    let missed = Change::MissedShaft { centreline_px: vec![[20.0, 20.0], [60.0, 900.0]], look: Some("fibre".into()) };
    store.correct(&reading, &Correction { change: missed, why: "WHYWORDS".into() }, &on("2026-03-20")).unwrap();
    let id = culture(&mut store, &pet, Some("other: SITEWORDS"), "2026-03-10");
    plate(&mut store, &id, "2026-03-24", Growth::Ringworm, true, Some(true));
    let words = "PETNAME CHIPNUMBER GROUPNAME COATNAME NOTEWORDS LABELWORDS PLUCKEDWORDS SITEWORDS FILENAME WHYWORDS \
                 LABNAME OWNERNAME GPSLATITUDE Quillfeather 2026-03 2026:03";
    let mut tells: Vec<String> = words.split_whitespace().map(str::to_owned).collect();
    tells.extend([pet, of, photo.id.clone(), reading, id, photo.fact.sha256.clone()]);
    // Ids and digests in short form, too.
    tells.extend(tells.clone().iter().filter(|one| one.len() > 30).map(|one| one[..8].to_owned()));
    (store, tells)
}

#[test]
fn what_is_held_to_be_true_of_a_shaft_is_only_what_a_person_said() {
    let place = tempfile::tempdir().unwrap();
    let (store, _) = telling(place.path());
    let [one]: [Confirmed; 1] = store.confirmed().unwrap().try_into().unwrap();
    // Shaft 2 was read as ordinary and nobody said so; of shaft 3 a person could not say. The last word on 1 counts.
    let looks: Vec<(&str, f64)> = one.shafts.iter().map(|s| (s.look.as_str(), s.line_px[0][0])).collect();
    assert_eq!(looks, [("fibre", 20.0), ("normal", 900.0)]);
    assert!(one.grew);
    assert_eq!(store.confirmed().unwrap()[0].number, one.number, "the number stays");
    assert_eq!(store.photo_bytes(&one.photo).unwrap(), telling_photo());
}

#[test]
fn nothing_that_tells_whose_a_photo_is_goes_into_a_series() {
    let place = Place::new();
    let (store, tells) = telling(&place.path("record"));
    let series = |name: &str, more: &[&str]| {
        let out = place.path(name);
        let arguments = ["learn", "series", "--photos", "1", "--out", out.to_str().unwrap()];
        let output = place.run(&[&arguments[..], more].concat());
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        (out, String::from_utf8(output.stdout).unwrap())
    };
    let name = pilumen::learn::own_name(store.confirmed().unwrap()[0].number);
    let (without, said) = series("without", &[]);
    assert!(!said.contains("own cases") && !without.join(format!("{name}.jpg")).exists(), "not unless it is agreed");
    assert!(!fs::read_to_string(without.join("series.html")).unwrap().contains("own-"), "no word of them either");
    let (with, said) = series("with", &["--own-cases"]);
    assert!(said.contains("With 1 photos of your own cases") && said.contains("look at them before"), "{said}");
    let mut n_files = 0;
    for file in fs::read_dir(&with).unwrap() {
        let file = file.unwrap();
        let bytes = [file.file_name().as_encoded_bytes(), &fs::read(file.path()).unwrap()].concat();
        for told in &tells {
            let found = bytes.windows(told.len()).any(|part| part.eq_ignore_ascii_case(told.as_bytes()));
            assert!(!found, "{} tells {told}", file.path().display());
        }
        n_files += 1;
    }
    assert_eq!(n_files, 6, "page, sheet, two files beside, a drawn photo and the own one");
    let html = fs::read_to_string(with.join("series.html")).unwrap();
    let (questions, key) = html.split_once("<div class=\"key\">").unwrap();
    assert!(questions.contains(&name) && questions.contains("Did a ringworm fungus grow"), "{questions}");
    assert!(key.contains("it grew") && key.contains("looks ordinary") && key.contains("not hair"), "{key}");
    assert!(!html.contains("Every picture here is simulated"), "it is no longer so");
    let sheet = fs::read_to_string(with.join("answers.csv")).unwrap();
    assert!(!sheet.contains("own-"), "they are not marked, for their truth is a person's word");
}

#[test]
fn an_own_photo_is_its_pixels_and_nothing_else() {
    let bytes = telling_photo();
    let line: &[[f64; 2]] = &[[10.0, 10.0], [1900.0, 1000.0]];
    let own = OwnPhoto::of(7, &bytes, true, &[(line, "normal"), (line, "undetermined"), (line, "sick")]).unwrap();
    assert_eq!(own.name(), "own-00000007");
    assert_eq!(own.shafts.len(), 1, "looks that are none are no truth");
    // Only the segments that a picture needs: no APP1 or later, no comment.
    let mut at = 2;
    while own.photo[at + 1] != 0xda {
        assert!(own.photo[at] == 0xff, "a segment begins at {at}");
        let mark = own.photo[at + 1];
        assert!(!(0xe1..=0xef).contains(&mark) && mark != 0xfe, "segment {mark:#x} may hold words");
        at += 2 + usize::from(u16::from_be_bytes([own.photo[at + 2], own.photo[at + 3]]));
    }
    let picture = image::load_from_memory(&own.photo).unwrap();
    assert_eq!([picture.width() as usize, picture.height() as usize], own.size_px);
    assert!(own.size_px[0] <= 1600 && own.shafts[0].line.iter().all(|p| p.x < 1600.0), "{:?}", own.size_px);
    assert!(OwnPhoto::of(7, b"no photo", true, &[]).is_err());
}

/// On the desk: nothing without agreeing, then the picture and its number, and what is true only when asked for.
#[test]
fn the_desk_shows_own_photos_only_where_it_is_agreed_and_tells_nobody_whose_they_are() {
    let page = Page::new();
    let post = |path: String, told: Value| -> Value {
        let request = page.request(Method::POST, &path).header("content-type", "application/json");
        let (status, bytes, _) = page.send(request.body(Body::from(told.to_string())).unwrap());
        assert_eq!(status, StatusCode::OK, "{path}: {}", String::from_utf8_lossy(&bytes));
        serde_json::from_slice(&bytes).unwrap()
    };
    let get = |path: &str| page.send(page.request(Method::GET, path).body(Body::empty()).unwrap());
    let (animal, slide) = page.slide("PETNAME");
    let upload = page.request(Method::POST, &format!("/api/slides/{slide}/photos?file=FILENAME.jpg"));
    let upload = upload.header("content-type", "application/octet-stream").body(Body::from(telling_photo())).unwrap();
    assert_eq!(page.send(upload).0, StatusCode::OK);
    let culture = post(
        format!("/api/cases/{animal}/cultures"),
        json!({ "day": "2026-03-01", "medium": "Sabouraud", "site": "left pinna" }),
    );
    let culture = culture["id"].as_str().unwrap().to_owned();
    let list = "/api/learn/own?agreed=true";
    let photos = |bytes: &[u8]| serde_json::from_slice::<Value>(bytes).unwrap()["photos"].clone();
    assert_eq!(photos(&get(list).1), json!([]), "the laboratory has not said its last word");
    post(format!("/api/cultures/{culture}/plates"), json!({ "day": "2026-03-15", "growth": "none", "last": true }));
    let number = photos(&get(list).1)[0].as_u64().unwrap();

    let of_one = ["", "/photo", "/truth"].map(|end| format!("/api/learn/own/{number}{end}"));
    for path in [&of_one[..], &["/api/learn/own".to_owned()]].concat() {
        for agreed in ["", "?agreed=false"] {
            let (status, said, _) = get(&format!("{path}{agreed}"));
            let said = String::from_utf8(said).unwrap();
            assert!(status == StatusCode::FORBIDDEN && said.contains("nobody has agreed"), "{path}{agreed}: {said}");
        }
    }
    for path in &of_one {
        let (status, bytes, head) = get(&format!("{path}?agreed=true"));
        assert_eq!(status, StatusCode::OK, "{path}");
        let all = [format!("{:?}", head.headers()).as_bytes(), &bytes].concat();
        for told in ["PETNAME", "FILENAME", "OWNERNAME", "GPSLATITUDE", "pinna", "2026", &animal[..8], &slide[..8]] {
            assert!(!all.windows(told.len()).any(|part| part == told.as_bytes()), "{path} tells {told}");
        }
        assert_eq!(path.ends_with("/truth"), bytes.windows(6).any(|part| part == b"\"grew\""), "{path}");
    }
    assert_eq!(get("/api/learn/own/1?agreed=true").0, StatusCode::NOT_FOUND);
}
