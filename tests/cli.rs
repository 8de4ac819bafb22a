//! Through the outer door: the commands as a person or a script runs them.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;
use tempfile::TempDir;

use crate::judgement::judges_nobody;
use crate::schema::faults;

fn pilumen() -> Command {
    Command::new(env!("CARGO_BIN_EXE_pilumen"))
}

/// A folder with photos of one bright band on haze, drawn here.
struct Place {
    folder: TempDir,
}

impl Place {
    fn new() -> Place {
        Place { folder: tempfile::tempdir().unwrap() }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn file(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, bytes).unwrap();
        path
    }

    /// A photo of `n_bands` upright bands, 14 pixels wide.
    fn photo(&self, name: &str, n_bands: u32) -> PathBuf {
        let (width, height) = (400, 300);
        let image = image::RgbImage::from_fn(width, height, |x, y| {
            // Grain that repeats, so that the photo is the same every time.
            let grain = (x * 7919 + y * 104_729 + x * y * 31) % 7;
            let from_middle =
                (0..n_bands).map(|i| (x as f64 - 400.0 * f64::from(i + 1) / f64::from(n_bands + 1)).abs());
            let glow = from_middle.map(|d| (1.0 - (d / 7.0).powi(2)).max(0.0).sqrt()).fold(0.0, f64::max);
            let light = |ground: f64, shine: f64| (ground + shine * glow + f64::from(grain)) as u8;
            image::Rgb([light(18.0, 60.0), light(24.0, 150.0), light(40.0, 110.0)])
        });
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        image.save(&path).unwrap();
        path
    }

    fn names_in(&self, name: &str) -> Vec<String> {
        let files = fs::read_dir(self.path(name)).unwrap();
        let mut names: Vec<String> = files.map(|file| file.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn read(arguments: &[&Path]) -> Output {
    pilumen().arg("read").args(arguments).output().unwrap()
}

#[test]
fn every_bad_file_has_its_sentence_and_the_others_are_read() {
    let place = Place::new();
    let good = place.photo("bracken.png", 1);
    fs::create_dir(place.path("bare")).unwrap();
    let cut = {
        let whole = fs::read(&good).unwrap();
        place.file("cut.png", &whole[..whole.len() / 3])
    };
    let bad = [
        (place.path("nowhere.jpg"), "no such file"),
        (place.path("bare"), "no picture in this folder"),
        (place.file("empty.jpg", b""), "it is empty"),
        (place.file("letter.jpg", b"Dear Quillfeather House, the kittens are well.\n"), ""),
        (cut, ""),
    ];
    for (file, says) in &bad {
        let output = read(&[file]);
        assert_eq!(output.status.code(), Some(1), "{}", file.display());
        let sentence = err(&output);
        assert_eq!(sentence.lines().count(), 1, "{sentence}");
        assert!(sentence.starts_with(&format!("{}: ", file.display())), "{sentence}");
        assert!(sentence.contains(says) && sentence.contains("; "), "{sentence}");
        assert!(!sentence.contains("broke down"), "{sentence}");
        assert!(out(&output).is_empty());
    }

    let mut arguments: Vec<&Path> = bad.iter().map(|(file, _)| file.as_path()).collect();
    arguments.insert(2, &good);
    let output = read(&arguments);
    assert_eq!(output.status.code(), Some(1));
    let sentences = err(&output);
    assert_eq!(sentences.lines().count(), bad.len() + 1);
    assert!(sentences.lines().last().unwrap().contains("photos could not be read; each is named above"), "{sentences}");
    assert!(out(&output).contains("bracken.png"), "the good photo is read all the same");
}

#[test]
fn one_photo_twice_is_one_measurement_of_a_slide() {
    let place = Place::new();
    let photo = place.photo("bracken.png", 1);
    let (photo, slide) = (photo.as_path(), Path::new("--one-slide"));
    let twice = read(&[photo, photo, slide]);
    assert!(err(&twice).contains("bracken.png: the same photo was named before; it counts once"), "{}", err(&twice));
    let of_slide = |output: &Output| out(output).split("\n\n").last().map(str::to_owned);
    assert_eq!(of_slide(&twice), of_slide(&read(&[photo, slide])));
}

#[cfg(unix)]
#[test]
fn a_file_that_may_not_be_read_has_its_sentence() {
    use std::os::unix::fs::PermissionsExt;
    let place = Place::new();
    let photo = place.photo("tansy.png", 1);
    fs::set_permissions(&photo, fs::Permissions::from_mode(0o000)).unwrap();
    let output = read(&[&photo]);
    // The superuser may read everything; then the photo is simply read.
    match fs::File::open(&photo) {
        Ok(_) => assert_eq!(output.status.code(), Some(0), "{}", err(&output)),
        Err(_) => assert!(err(&output).contains("not permitted; "), "{}", err(&output)),
    }
}

#[test]
fn a_photo_beyond_the_limit_is_refused() {
    let place = Place::new();
    let photo = place.photo("oriel.png", 1);
    let output = pilumen().args(["read", "--max-megapixels", "0.1"]).arg(&photo).output().unwrap();
    assert_eq!(output.status.code(), Some(1), "120,000 pixels are more than 100,000");
    assert_eq!(err(&output).lines().count(), 1, "{}", err(&output));
    let output = pilumen().args(["read", "--max-megapixels", "0.2"]).arg(&photo).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
}

#[test]
fn unusable_arguments_are_code_2() {
    let place = Place::new();
    let photo = place.photo("moth.png", 1);
    let photo = photo.to_str().unwrap();
    let file = place.file("taken", b"a file");
    let nowhere = place.path("setups.json");
    let nowhere = nowhere.to_str().unwrap();
    let cases: [&[&str]; 16] = [
        &["read"],
        &["read", photo, "--um-per-px", "0"],
        &["read", photo, "--um-per-px", "-0.4"],
        &["read", photo, "--um-per-px", "wide"],
        &["read", photo, "--max-megapixels", "nan"],
        &["read", photo, "--out", file.to_str().unwrap()],
        &["reed", photo],
        &["read", photo, "--um-per-px", "0.5", "--setup", "10x phone"],
        &["read", photo, "--setup", "no such setup", "--setups", nowhere],
        &["read", photo, "--again"],
        &["scale", photo],
        &["scale", photo, "--pitch-um", "0"],
        &["scale", photo, "--pitch-um", "-10"],
        &["scale", photo, "--pitch-um", "nan"],
        &["scale", photo, "--pitch-um", "10", "--na", "1.4"],
        &["scale", photo, "--pitch-um", "10", "--name", " ", "--setups", nowhere],
    ];
    for case in cases {
        let output = pilumen().args(case).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{case:?}");
        assert!(!err(&output).is_empty() && out(&output).is_empty(), "{case:?}");
    }
}

#[test]
fn a_summary_says_what_was_found_and_what_to_do() {
    let place = Place::new();
    let output = read(&[&place.photo("moth-left-pinna.png", 2)]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let text = out(&output);
    assert!(err(&output).is_empty(), "{}", err(&output));
    for part in ["moth-left-pinna.png: 400 × 300 pixels, scale unknown", "Found", "Finding", "Next", "Caution"] {
        assert!(text.contains(part), "{part} is missing in\n{text}");
    }
    assert!(text.contains("culture"));
    judges_nobody("the summary", &text);
}

#[test]
fn json_is_one_object_a_line_and_nothing_else() {
    let place = Place::new();
    let photos = [place.photo("a.png", 1), place.photo("b.png", 0), place.photo("c.png", 3)];
    let output = pilumen().args(["read", "--json", "--um-per-px", "1.5"]).args(&photos).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let text = out(&output);
    let objects: Vec<Value> = text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(objects.len(), 3);
    for (object, name) in objects.iter().zip(["a.png", "b.png", "c.png"]) {
        assert_eq!(faults(object), [""; 0], "{name}");
        assert_eq!(object["photo"]["file"], name);
        assert_eq!(object["photo"]["um_per_px"], 1.5);
        assert_eq!(object["photo"]["scale_from"], "given");
        assert!(object["advice"].as_str().unwrap().contains("culture"));
    }
    assert_eq!(objects[1]["shafts"], Value::Array(Vec::new()), "there is no shaft on the second photo");
    assert!(!objects[0]["shafts"].as_array().unwrap().is_empty(), "there is one on the first");
}

#[test]
fn results_are_kept_whole_and_apart() {
    let place = Place::new();
    let photos = [place.photo("left/moth.png", 1), place.photo("right/moth.png", 2), place.photo("tansy.png", 1)];
    let broken = place.file("broken.jpg", b"no photo");
    let out_folder = place.path("reading");
    let run = || pilumen().arg("read").args(&photos).arg(&broken).arg("--out").arg(&out_folder).output().unwrap();
    let output = run();
    assert_eq!(output.status.code(), Some(1));
    let expected = [
        ".pilumen",
        "centrelines.csv",
        "centrelines.csv-metadata.json",
        "moth-2.json",
        "moth-2.marked.png",
        "moth.json",
        "moth.marked.png",
        "profiles.csv",
        "profiles.csv-metadata.json",
        "shafts.csv",
        "shafts.csv-metadata.json",
        "tansy.json",
        "tansy.marked.png",
    ];
    assert_eq!(place.names_in("reading"), expected, "and nothing half-written");
    for name in ["moth.json", "moth-2.json", "tansy.json"] {
        let object: Value = serde_json::from_slice(&fs::read(out_folder.join(name)).unwrap()).unwrap();
        assert_eq!(faults(&object), [""; 0], "{name}");
    }
    let marked = image::open(out_folder.join("moth.marked.png")).unwrap();
    assert!(marked.width() >= 900 && marked.height() > 700);

    let table = fs::read(out_folder.join("shafts.csv")).unwrap();
    let mut table = csv::Reader::from_reader(table.as_slice());
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    let named: Vec<(&str, &str)> = rows.iter().map(|row| (&row[0], &row[1])).collect();
    let object = |name: &str| -> Value { serde_json::from_slice(&fs::read(out_folder.join(name)).unwrap()).unwrap() };
    let expected: Vec<(&str, &str)> = [("moth.png", "moth"), ("moth.png", "moth-2"), ("tansy.png", "tansy")]
        .into_iter()
        .flat_map(|(photo, reading)| {
            let n = object(&format!("{reading}.json"))["shafts"].as_array().unwrap().len();
            std::iter::repeat_n((photo, reading), n)
        })
        .collect();
    assert_eq!(named, expected, "one row a shaft, photo by photo");

    let before = fs::read(out_folder.join("tansy.json")).unwrap();
    run();
    assert_eq!(fs::read(out_folder.join("tansy.json")).unwrap(), before, "a second run gives the same");
}

#[test]
fn nothing_is_kept_when_no_photo_can_be_read() {
    let place = Place::new();
    let broken = place.file("broken.jpg", b"no photo");
    let output = pilumen().arg("read").arg(&broken).arg("--out").arg(place.path("reading")).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(place.names_in("reading").is_empty());
}

#[test]
fn a_reader_who_has_seen_enough_is_no_fault() {
    let place = Place::new();
    let photos: Vec<PathBuf> = (0..3).map(|i| place.photo(&format!("{i}.png"), 1)).collect();
    let mut child =
        pilumen().args(["read", "--json"]).args(&photos).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    assert!(err(&output).is_empty(), "{}", err(&output));
}

#[cfg(target_os = "linux")]
#[test]
fn results_that_cannot_be_written_are_a_fault() {
    let place = Place::new();
    let photo = place.photo("oriel.png", 1);
    let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let output = pilumen().arg("read").arg(&photo).stdout(full).stderr(Stdio::piped()).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(err(&output).contains("no space left"), "{}", err(&output));
}

#[test]
fn the_help_ends_with_the_caution() {
    let output = pilumen().arg("--help").output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    let text = out(&output).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.ends_with(pilumen::exports::CAUTION), "{text}");
}

#[test]
fn the_lamp_is_told_by_study_and_refuses_what_is_no_share() {
    let told = pilumen().args(["lamp", "--prevalence", "1.8%", "--json"]).output().unwrap();
    assert!(told.status.success());
    let object: Value = serde_json::from_slice(&told.stdout).unwrap();
    // Facts 2.25: 0.140, 0.046 at 1.8 %; the first from counts, 32 of 45 and 23 of 25 (0.7111, 0.92): 0.1401.
    let worth = |at: usize| object["studies"][at]["infected_if_it_glows"]["value"].as_f64().unwrap();
    assert!((worth(0) - 0.1401).abs() < 5e-5 && (worth(1) - 0.0463).abs() < 5e-5, "{object}");
    let refused = pilumen().args(["lamp", "--prevalence", "2"]).output().unwrap();
    assert_eq!(refused.status.code(), Some(2));
    let sentence = String::from_utf8(refused.stderr).unwrap();
    assert_eq!(sentence, "pilumen: \"2\" is no share of animals; name one above 0 and below 1, such as 0.2 or 20%\n");
}
