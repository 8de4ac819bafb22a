//! The commands of the record, as a person or a script runs them.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;
use tempfile::TempDir;

use crate::judgement::judges_nobody;

/// A place with a record of its own.
pub(super) struct Place {
    pub(super) folder: TempDir,
}

impl Place {
    pub(super) fn new() -> Place {
        Place { folder: tempfile::tempdir().unwrap() }
    }

    pub(super) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(super) fn command(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_pilumen"));
        command.env("PILUMEN_RECORD", self.path("record")).env("PILUMEN_BY", super::world::WHO);
        command
    }

    pub(super) fn run(&self, arguments: &[&str]) -> Output {
        self.command().args(arguments).output().unwrap()
    }

    /// The answer in JSON of a command that must succeed.
    pub(super) fn json(&self, arguments: &[&str]) -> Value {
        let output = self.run(&[arguments, &["--json"]].concat());
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", err(&output));
        serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{arguments:?}: {}", out(&output)))
    }

    /// The id of what a command kept.
    pub(super) fn id(&self, arguments: &[&str]) -> String {
        self.json(arguments)["id"].as_str().unwrap().to_owned()
    }

    /// The sentence of a command that must be refused with this exit code.
    pub(super) fn refused(&self, code: i32, arguments: &[&str]) -> String {
        let output = self.run(arguments);
        assert_eq!(output.status.code(), Some(code), "{arguments:?}: {}{}", out(&output), err(&output));
        assert!(out(&output).is_empty(), "{}", out(&output));
        err(&output)
    }

    /// A small photo with a band or two, unlike those of other numbers.
    pub(super) fn photo(&self, name: &str, n: u32) -> PathBuf {
        let image = image::RgbImage::from_fn(160, 120, |x, y| {
            let grain = ((x * 7919 + y * 104_729 + x * y * (31 + n)) % 7) as u8;
            let from_middle = (f64::from(x) - 40.0 - f64::from(n % 80)).abs();
            let glow = (1.0 - (from_middle / 6.0).powi(2)).max(0.0).sqrt();
            image::Rgb([18.0, 24.0, 40.0].map(|ground| (ground + 120.0 * glow) as u8 + grain))
        });
        let path = self.path(name);
        image.save(&path).unwrap();
        path
    }

    pub(super) fn is_whole(&self) {
        let output = self.run(&["check"]);
        assert_eq!(output.status.code(), Some(0), "{}{}", out(&output), err(&output));
    }
}

pub(super) fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

pub(super) fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn a_case_from_a_shell() {
    let place = Place::new();
    let moth = place.id(&["case", "animal", "Moth", "--coat", "long", "--age", "kitten", "--id", "chip=QH-1"]);
    place.id(&["case", "animal", "Tansy"]);
    let exam = place.id(&[
        "case",
        "exam",
        "Moth",
        "--lamp-nm",
        "365",
        "--lamp",
        "led",
        "--site",
        "left pinna: fluorescence=yes, hair-loss=yes",
    ]);
    let slide = place.id(&["case", "slide", &exam[..8], "--site", "left pinna", "--label", "QH 1"]);
    let photo = place.photo("moth.png", 1);
    let kept = place.id(&["case", "photo", "QH 1", text(&photo)]);
    let culture = place.id(&["case", "culture", "Moth", "--medium", "DTM", "--site", "left pinna"]);
    place.id(&["case", "plate", &culture, "--growth", "suspect"]);
    place.id(&["case", "treatment", "qh-1", "--kind", "bath", "--with", "lime sulfur"]);
    place.id(&["case", "note", "Moth", "shy"]);
    place.id(&["case", "contact", "Tansy", "--with", "Moth", "--how", "same room"]);
    place.id(&["case", "correct", "Moth", "--field", "coat-colour", "--value", "smoke", "--why", "in daylight"]);
    let reading = place.json(&["case", "reread", &kept]);
    let reading = reading["id"].as_str().unwrap();
    assert_eq!(place.json(&["case", "repeat", reading])["same"], true);
    let shown = place.json(&["case", "show", "Moth"]);
    assert_eq!(shown["animal"]["fact"]["coat_colour"], "smoke");
    assert_eq!(shown["animal"]["corrections"][0]["why"], "in daylight");
    assert_eq!(shown["photos"][0]["parent"], slide);
    assert_eq!(shown["readings"].as_array().unwrap().len(), 1);
    assert_eq!(place.json(&["case", "list"]).as_array().unwrap().len(), 2);
    assert_eq!(place.json(&["case", "search", "lime"])[0]["kind"], "treatment");
    let due = place.json(&["case", "due", "--ahead", "7"]);
    let kinds: Vec<&str> = due.as_array().unwrap().iter().map(|one| one["kind"].as_str().unwrap()).collect();
    assert!(kinds.contains(&"reexamination") && kinds.contains(&"growth-to-confirm"), "{due}");
    assert_eq!(place.json(&["case", "sites", "Moth"])[0]["suggests"], "coincide");
    assert!(place.json(&["case", "course", "Moth"])[0]["advice"].as_str().unwrap().contains("culture"));
    let rules = place.json(&["case", "rules", "--set", "exposure.look-again-days", "--days", "7,21", "--why", "ours"]);
    assert_eq!(rules[0]["days"], serde_json::json!([7, 21]));
    place.is_whole();

    let pack = place.path("moth.zip");
    place.json(&["pack", "Moth", text(&pack)]);
    let other = place.path("other");
    let unpacked = place.json(&["unpack", text(&pack), "--record", text(&other)]);
    assert_eq!(unpacked["animal"], moth);
    assert_eq!(place.json(&["case", "show", "Moth", "--record", text(&other)])["photos"], shown["photos"]);
    place.json(&["backup", text(&place.path("backup"))]);
    assert_eq!(place.json(&["check", "--record", text(&place.path("backup"))])["damaged"], serde_json::json!([]));

    // In words, for people, none of them a veterinarian's judgement.
    for arguments in [
        ["case", "show", "Moth"].as_slice(),
        &["case", "list"],
        &["case", "due"],
        &["case", "sites", "Moth"],
        &["case", "course", "Moth"],
        &["case", "rules"],
        &["case", "search", "shy"],
        &["check"],
    ] {
        let output = place.run(arguments);
        assert_eq!(output.status.code(), Some(0), "{}", err(&output));
        let words = out(&output);
        assert!(!words.is_empty());
        judges_nobody(&arguments.join(" "), &words);
    }
}

#[test]
fn what_is_refused_is_refused_in_one_sentence() {
    let place = Place::new();
    assert!(place.refused(2, &["case", "list"]).contains("there is no record in"));
    let moth = place.id(&["case", "animal", "Moth"]);
    place.id(&["case", "animal", "Tansy"]);
    let slide = place.id(&["case", "slide", "Moth", "--site", "chin"]);
    let other = place.id(&["case", "slide", "Tansy", "--site", "chin"]);
    let photo = place.photo("moth.png", 1);
    place.id(&["case", "photo", &slide, text(&photo)]);
    let before = place.json(&["case", "list"]);
    for (code, says, arguments) in [
        (2, "there is no animal \"Nobody\"", ["case", "exam", "Nobody"].as_slice()),
        (2, "lies in the future", &["case", "exam", "Moth", "--day", "2999-01-01"]),
        (2, "is no site on the body map", &["case", "slide", "Moth", "--site", "elbow"]),
        (1, "already in the record", &["case", "photo", &slide, text(&photo)]),
        (1, "already in the record", &["case", "photo", &other, text(&photo)]),
        (1, "there is no such file", &["case", "photo", &slide, "nowhere.jpg"]),
        (2, "no record of this program", &["case", "list", "--record", text(&place.path("foreign"))]),
        (2, "slide", &["read", text(&photo), "--case", "Moth", "--slide", "0000-0000"]),
        (2, "of another animal", &["read", text(&photo), "--case", "Moth", "--slide", &other]),
        (1, "no pack", &["unpack", text(&photo)]),
        (2, "is not empty", &["case", "demo"]),
    ] {
        if says.starts_with("no record of") {
            fs::create_dir_all(place.path("foreign")).unwrap();
            rusqlite::Connection::open(place.path("foreign/record.db"))
                .unwrap()
                .execute_batch("CREATE TABLE x (y)")
                .unwrap();
            let sentence = place.refused(1, arguments);
            assert!(sentence.contains(says), "{sentence}");
            continue;
        }
        let sentence = place.refused(code, arguments);
        assert!(sentence.contains(says), "{arguments:?}: {sentence}");
        assert!(!sentence.contains("panicked"), "{sentence}");
    }
    let nobody = place.command().env_remove("PILUMEN_BY").args(["case", "note", "Moth", "x"]).output().unwrap();
    assert_eq!(nobody.status.code(), Some(2));
    assert!(err(&nobody).contains("--by NAME"));
    assert_eq!(place.json(&["case", "list"]), before);
    assert_eq!(place.json(&["case", "show", &moth])["photos"].as_array().unwrap().len(), 1);
    place.is_whole();
}

#[test]
fn an_import_that_was_cut_short_goes_on() {
    let place = Place::new();
    place.id(&["case", "animal", "Moth"]);
    let slide = place.id(&["case", "slide", "Moth", "--site", "chin"]);
    let photos: Vec<PathBuf> = (0..3).map(|n| place.photo(&format!("{n}.png"), n)).collect();
    place.id(&["case", "photo", &slide, text(&photos[0])]);
    let all: Vec<&str> = photos.iter().map(|photo| text(photo)).collect();
    let output = place.run(&[&["case", "photo", &slide, "--resume"], all.as_slice()].concat());
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    assert_eq!(out(&output).lines().count(), 3);
    assert_eq!(place.json(&["case", "show", "Moth"])["photos"].as_array().unwrap().len(), 3);
}

#[test]
fn readings_are_filed_as_they_are_made() {
    let place = Place::new();
    place.id(&["case", "animal", "Moth"]);
    let slide = place.id(&["case", "slide", "Moth", "--site", "chin"]);
    let photos = [place.photo("a.png", 1), place.photo("b.png", 2)];
    let broken = place.path("broken.jpg");
    fs::write(&broken, "no photo").unwrap();
    let arguments = [
        "read",
        text(&photos[0]),
        text(&broken),
        text(&photos[1]),
        "--case",
        "Moth",
        "--slide",
        &slide,
        "--um-per-px",
        "0.5",
    ];
    let output = place.run(&arguments);
    assert_eq!(output.status.code(), Some(1), "the broken one was not read");
    assert!(out(&output).contains("Kept    photo "), "{}", out(&output));
    place.run(&arguments);
    let case = place.json(&["case", "show", "Moth"]);
    assert_eq!(case["photos"].as_array().unwrap().len(), 2, "a photo is kept once");
    let readings = case["readings"].as_array().unwrap();
    assert_eq!(readings.len(), 4, "readings stand beside each other");
    assert_eq!(readings[0]["fact"]["program"]["settings"]["um_per_px"], 0.5);
    for reading in readings {
        assert_eq!(place.json(&["case", "repeat", reading["id"].as_str().unwrap()])["same"], true);
    }
    place.is_whole();
}

#[test]
fn a_photo_in_visible_light_is_kept_beside_the_one_it_was_read_with() {
    let place = Place::new();
    place.id(&["case", "animal", "Moth"]);
    let slide = place.id(&["case", "slide", "Moth", "--site", "chin"]);
    let scene = |shafts| {
        let mut ranges = pilumen::sim::Ranges::named("training-clear").unwrap();
        (ranges.photo_width_px, ranges.n_shafts, ranges.disc_share) = ((640, 700), (shafts, shafts), 0.0);
        pilumen::sim::Scene::draw(78, &ranges)
    };
    let file = |name: &str, scene: &pilumen::sim::Scene| {
        let path = place.path(name);
        fs::write(&path, pilumen::sim::photo(scene).encode_as(scene).unwrap().0).unwrap();
        path
    };
    let (uv, visible) = (file("uv.jpg", &scene(4)), file("visible.jpg", &scene(4).in_visible_light()));
    let arguments = ["read", text(&uv), "--visible", text(&visible), "--case", "Moth", "--slide", &slide];
    for _ in 0..2 {
        let output = place.run(&arguments);
        assert_eq!(output.status.code(), Some(0), "{}", err(&output));
        assert!(out(&output).contains(", visible photo "), "{}", out(&output));
    }
    let case = place.json(&["case", "show", "Moth"]);
    let photos = case["photos"].as_array().unwrap();
    assert_eq!(photos.len(), 2, "each is kept once");
    assert!(photos.iter().any(|photo| photo["fact"]["light"] == "visible" && photo["fact"]["file"] == "visible.jpg"));
    let id = photos.iter().find(|photo| photo["fact"]["file"] == "uv.jpg").unwrap()["id"].clone();
    let readings: Vec<_> = case["readings"].as_array().unwrap().iter().filter(|one| one["parent"] == id).collect();
    assert_eq!(readings.len(), 2);
    for reading in readings {
        assert_eq!(place.json(&["case", "repeat", reading["id"].as_str().unwrap()])["same"], true);
    }
    place.is_whole();
}

#[test]
fn the_demo_record_says_that_it_is_invented() {
    let place = Place::new();
    let output = place.run(&["case", "demo"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    assert!(out(&output).contains("Invented"), "{}", out(&output));
    let list = place.json(&["case", "list"]);
    let names: Vec<&str> = list.as_array().unwrap().iter().map(|one| one["fact"]["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["Bracken", "Moth", "Oriel", "Pepperpot", "Tansy"]);
    for one in list.as_array().unwrap() {
        let case = place.json(&["case", "show", one["id"].as_str().unwrap()]);
        assert!(case["notes"][0]["fact"]["text"].as_str().unwrap().contains("do not exist"));
        assert!(case["animal"]["by"].as_str().unwrap().contains("invented"));
    }
    assert!(!place.json(&["case", "due"]).as_array().unwrap().is_empty());
    place.is_whole();
}
