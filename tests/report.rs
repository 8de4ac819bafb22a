//! The report and the slip: what they say, what they do not, and that every shape of case can be printed.
//!
//! `SHOW_REPORT=folder` writes all of them there, to be looked at.

use std::fs;
use std::path::Path;
use std::process::Command;

use jiff::civil::date;
use pilumen::maths::picture::Picture;
use pilumen::record::{CaseFacts, Entry, Sex, Visit};
use pilumen::report::{Document, Language, Paper, ReadPhoto, Report};

use crate::judgement::judges_nobody;
use crate::sample::{SMALL, Sample};

fn words(text: &str) -> Option<String> {
    Some(text.to_owned())
}

/// A case of Quillfeather House, which is invented.
fn case() -> CaseFacts {
    CaseFacts {
        animal: words("Moth"),
        animal_number: words("QH-0417"),
        sex: Some(Sex::Female),
        neutered: Some(true),
        organisation: words("Quillfeather House (invented)"),
        owner: words("Quillfeather Owner"),
        owner_contact: words("owner@example.org"),
        site: words("left pinna"),
        exam_day: Some(date(2026, 11, 20)),
        lamp_nm: Some(365.0),
        lamp_seen: words("apple green along single hairs"),
        sampled: Some(date(2026, 11, 20)),
        sampling: words("plucked"),
        visits: vec![Visit {
            day: date(2026, 11, 6),
            hairs: Some(22),
            infected: Some(9),
            zone: words("base"),
            remark: None,
        }],
        ..CaseFacts::default()
    }
}

/// Names as long as may be, and letters of many scripts.
fn strange() -> CaseFacts {
    CaseFacts {
        animal: words("Мотылёк-Σκόρος عثة עש Ցեց ჩრჩილი 蛾 มอด 🐈"),
        animal_number: words(&"Q".repeat(300)),
        site: words(
            "the outer rim of the left pinna, half a finger's breadth under the tip, where the whiskers of the other ear touch it",
        ),
        organisation: words(&"Quillfeather ".repeat(80)),
        lamp_seen: words(&"apple green ".repeat(160)),
        remark: words("one line\nanother <b>line</b> & \"more\" {n} \u{301}\u{200f}"),
        ..CaseFacts::default()
    }
}

struct Shape {
    name: &'static str,
    case: CaseFacts,
    photos: Vec<(Entry, Picture)>,
}

fn shapes() -> Vec<Shape> {
    let small = Sample { grain: 0.2, ..SMALL };
    let photo = |sample: Sample, shrink| (sample.entry(), sample.picture(shrink));
    let one = Sample { width: 1600, height: 1200, n_shafts: 1, shaft_px: 60.0, ..small };
    let forty = Sample { width: 4000, height: 3000, n_shafts: 40, shaft_px: 24.0, um_per_px: Some(1.1), ..small };
    let none = Sample { width: 900, height: 600, n_shafts: 0, um_per_px: None, ..small };
    let tall = Sample { width: 700, height: 2600, n_shafts: 5, shaft_px: 30.0, um_per_px: None, ..small };
    let pixel = Sample { width: 1, height: 1, n_shafts: 0, um_per_px: None, ..small };
    let dark = Sample { width: 1200, height: 900, n_shafts: 6, shaft_px: 30.0, ground: 0.0004, ..small };
    let shape = |name, case, photos| Shape { name, case, photos };
    vec![
        shape("one", case(), vec![photo(one, 1)]),
        shape("forty", case(), vec![photo(forty, 2)]),
        shape("none", CaseFacts::default(), vec![photo(none, 1)]),
        shape("tall", case(), vec![photo(tall, 1)]),
        shape("pixel", CaseFacts::default(), vec![photo(pixel, 1)]),
        shape("strange", strange(), vec![photo(dark, 1)]),
        shape("several", case(), vec![photo(one, 1), photo(dark, 1), photo(none, 1)]),
    ]
}

fn with<T>(shape: &Shape, language: Language, made: impl FnOnce(&Report) -> T) -> T {
    let photos: Vec<ReadPhoto> = shape.photos.iter().map(|(entry, picture)| ReadPhoto { entry, picture }).collect();
    made(&Report { case: &shape.case, photos: &photos, made_on: date(2026, 11, 21), language, teaching: false })
}

#[test]
fn every_shape_of_case_passes_the_checks_of_the_standards_on_both_papers() {
    let show = std::env::var_os("SHOW_REPORT");
    for shape in shapes() {
        for language in Language::ALL {
            for paper in Paper::ALL {
                for document in [Document::Report, Document::Slip] {
                    let pdf = with(&shape, language, |report| report.pdf(document, paper));
                    let pdf =
                        pdf.unwrap_or_else(|error| panic!("{} {language} {paper:?} {document:?}: {error}", shape.name));
                    assert!(pdf.starts_with(b"%PDF-1.7"));
                    // What archives and readers look for, in the metadata, which is not compressed.
                    let text = String::from_utf8_lossy(&pdf);
                    for mark in ["<pdfaid:part>2", "<pdfaid:conformance>A", "<pdfuaid:part>1"] {
                        assert!(text.contains(mark), "{}: no {mark}", shape.name);
                    }
                    if let Some(folder) = &show {
                        let name = format!("{}-{language}-{paper:?}-{document:?}.pdf", shape.name);
                        fs::write(Path::new(folder).join(name), &pdf).unwrap();
                    }
                }
            }
        }
    }
}

#[test]
fn spanish_speaks_of_a_female_as_of_one_and_names_places_in_spanish() {
    let html = |sex: Option<Sex>, language| {
        let case = CaseFacts { sex, born: Some(date(2024, 5, 1)), ..case() };
        let photos = vec![(SMALL.entry(), SMALL.picture(1))];
        with(&Shape { name: "one", case, photos }, language, |report| report.html(Document::Report))
    };
    let female = html(Some(Sex::Female), Language::Spanish);
    for said in ["gata", "hembra", "esterilizada", "nacida el", "oreja izquierda"] {
        assert!(female.contains(said), "{said}");
    }
    assert!(!female.contains("left pinna") && !female.contains("esterilizado"), "{}", without_tags(&female));
    for other in [Some(Sex::Male), None] {
        let html = html(other, Language::Spanish);
        assert!(html.contains("esterilizado") && html.contains("gato") && html.contains("nacido el"), "{other:?}");
    }
    assert!(html(Some(Sex::Female), Language::English).contains("left pinna"));
}

#[test]
fn the_same_case_gives_the_same_bytes() {
    let shape = Shape { name: "small", case: case(), photos: vec![(SMALL.entry(), SMALL.picture(1))] };
    let made = || with(&shape, Language::English, |report| report.pdf(Document::Report, Paper::A4).unwrap());
    assert!(made() == made());
}

#[test]
fn the_page_says_what_a_vet_must_know_and_nothing_a_vet_alone_may_say() {
    for shape in shapes() {
        for (language, culture) in [(Language::English, "culture"), (Language::Spanish, "cultivo")] {
            for document in [Document::Report, Document::Slip] {
                let html = with(&shape, language, |report| report.html(document));
                let text = without_tags(&html).to_lowercase();
                assert!(text.contains(culture), "{} {language} {document:?}", shape.name);
                judges_nobody(&format!("{} {language} {document:?}", shape.name), &text);
                assert!(html.contains("alt=") || document == Document::Slip);
                assert!(!html.contains("<script") && !html.contains("http:") && !html.contains("https:"));
            }
        }
    }
    let html = with(&shapes()[1], Language::English, |report| report.html(Document::Report));
    let text = without_tags(&html);
    for shaft in 1..=40 {
        assert!(text.contains(&format!("Shaft {shaft}: ")), "shaft {shaft} is missing");
    }
    for needed in ["Moth", "left pinna", "365 nm", "apple green", "2026-11-20", "Cautions", "higher risk", "SHA-256"] {
        assert!(text.contains(needed), "{needed} is missing");
    }
}

#[test]
fn the_slip_says_to_whom_to_answer() {
    let answer = |case: CaseFacts| {
        let shape = Shape { name: "slip", case, photos: Vec::new() };
        let text = without_tags(&with(&shape, Language::English, |report| report.html(Document::Slip)));
        let (above, below) = text.split_once("Answer to").unwrap();
        let (answer, _) = below.split_once("For the laboratory").unwrap();
        assert!(!above.contains("Sender"), "the sender is told once, where the answer goes");
        answer.to_owned()
    };
    let known =
        answer(CaseFacts { sender: words("Quillfeather Sender"), sender_contact: words("send@example.org"), ..case() });
    for told in ["Quillfeather Sender", "send@example.org", "Quillfeather House (invented)", "Date and signature"] {
        assert!(known.contains(told), "{told} is not in {known}");
    }
    let unknown = answer(CaseFacts::default());
    for line in ["Sender", "Sender's contact", "Date and signature"] {
        assert!(unknown.replace("&#39;", "'").contains(line), "{line} is not in {unknown}");
    }
}

#[test]
fn the_owner_is_shown_only_where_wanted() {
    let shape = |case: CaseFacts| Shape { name: "small", case, photos: vec![(SMALL.entry(), SMALL.picture(1))] };
    for document in [Document::Report, Document::Slip] {
        let shown = with(&shape(case()), Language::English, |report| report.html(document));
        assert!(shown.contains("Quillfeather Owner") && shown.contains("owner@example.org"));
        let hidden = with(&shape(case().without_owner()), Language::English, |report| report.html(document));
        assert!(!hidden.contains("Quillfeather Owner") && !hidden.contains("owner@"));
        let taught = with(&shape(case().without_identity()), Language::English, |report| report.html(document));
        for told in ["Moth", "QH-0417", "Quillfeather", "left pinna", "2026-11-20", "apple green"] {
            assert!(!taught.contains(told), "a teaching copy tells {told}");
        }
        assert!(taught.contains("365 nm"));
    }
}

fn without_tags(html: &str) -> String {
    let body = html.split("</style>").nth(1).unwrap_or_default();
    body.split('<').filter_map(|part| part.split_once('>').map(|(_, text)| text)).collect::<Vec<_>>().join(" ")
}

/// The command through its outer door, on the photo of the README.
mod command {
    use super::{Command, fs};

    const PHOTO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/demo/quillfeather-moth-left-pinna.jpg");

    fn report(place: &tempfile::TempDir, arguments: &[&str]) -> (Option<i32>, String, String) {
        let mut command = Command::new(env!("CARGO_BIN_EXE_pilumen"));
        let output = command.arg("report").args(arguments).current_dir(place).output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        (output.status.code(), text(output.stdout), text(output.stderr))
    }

    #[test]
    fn a_photo_becomes_a_report_and_nothing_is_written_over() {
        let place = tempfile::tempdir().unwrap();
        let arguments = [PHOTO, "--animal", "Moth", "--site", "left pinna", "--made-on", "2026-11-21"];
        let (code, out, err) = report(&place, &arguments);
        assert_eq!((code, out.as_str(), err.as_str()), (Some(0), "Kept report.pdf\n", ""));
        let first = fs::read(place.path().join("report.pdf")).unwrap();
        let (code, _, err) = report(&place, &arguments);
        assert_eq!(code, Some(2));
        assert!(err.contains("report.pdf is there already") && err.contains("--replace"), "{err}");
        assert_eq!(fs::read(place.path().join("report.pdf")).unwrap(), first);
        let (code, ..) = report(&place, &[&arguments[..], &["--replace", "--language", "es"]].concat());
        assert_eq!(code, Some(0));
        assert_ne!(fs::read(place.path().join("report.pdf")).unwrap(), first);
        let names: Vec<_> = fs::read_dir(place.path()).unwrap().map(|file| file.unwrap().file_name()).collect();
        assert_eq!(names, ["report.pdf"], "nothing unfinished is left");
    }

    #[test]
    fn what_cannot_be_used_has_its_sentence() {
        let place = tempfile::tempdir().unwrap();
        fs::write(place.path().join("facts.json"), "{\"anmial\":\"Moth\"}").unwrap();
        fs::write(place.path().join("bell.json"), "{\"animal\":\"Mo\\u0007th\"}").unwrap();
        let cases: [(&[&str], i32, &str); 8] = [
            (&[PHOTO, "--out", "report.doc"], 2, "neither .pdf nor .html"),
            (&[PHOTO, "--case-facts", "facts.json"], 2, "facts.json: unknown field `anmial`"),
            (&[PHOTO, "--case-facts", "bell.json"], 2, "control characters"),
            (&[PHOTO, "--case-facts", "nowhere.json"], 2, "check the file's name"),
            (&[PHOTO, "--language", "xx"], 2, "known: en, es"),
            (&[PHOTO, "--um-per-px", "0"], 2, "no scale"),
            (&["nowhere.jpg"], 1, "no report was made"),
            (&[PHOTO, "--out", "nowhere/report.pdf"], 1, "does not exist; make it first"),
        ];
        for (arguments, expected, says) in cases {
            let (code, out, err) = report(&place, arguments);
            assert_eq!(code, Some(expected), "{arguments:?}: {err}");
            assert!(err.contains(says) && out.is_empty(), "{arguments:?}: {err}");
        }
        let left = fs::read_dir(place.path()).unwrap().count();
        assert_eq!(left, 2, "nothing was written");
    }

    #[test]
    fn a_slip_needs_no_photo_and_a_teaching_copy_tells_nothing() {
        let place = tempfile::tempdir().unwrap();
        let (code, _, err) = report(&place, &["--slip", "--animal", "Moth", "--out", "slip.html"]);
        assert_eq!(code, Some(0), "{err}");
        assert!(fs::read_to_string(place.path().join("slip.html")).unwrap().contains("Moth"));
        let (code, _, err) = report(&place, &[PHOTO, "--teaching", "--animal", "Bracken", "--out", "taught.html"]);
        assert_eq!(code, Some(0), "{err}");
        let taught = fs::read_to_string(place.path().join("taught.html")).unwrap();
        assert!(!taught.contains("Bracken") && !taught.contains("quillfeather") && taught.contains("photo 1"));
    }
}
