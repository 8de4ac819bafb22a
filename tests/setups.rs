//! From a photo of a stage micrometer to widths in micrometres, through the outer door.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;
use tempfile::TempDir;

use crate::ruling::Ruled;
use crate::schema::faults;

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

    fn ruled(&self, name: &str, ruled: &Ruled) -> PathBuf {
        fs::write(self.path(name), ruled.png()).unwrap();
        self.path(name)
    }

    fn run(&self, arguments: &[&str], photos: &[&Path]) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_pilumen"));
        command.env("PILUMEN_SETUPS", self.path("setups.json")).args(arguments).args(photos);
        command.output().unwrap()
    }
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// A bright band, 14 pixels wide, as a PNG of this size.
fn band(path: &Path, width: u32, height: u32) {
    let photo = image::RgbImage::from_fn(width, height, |x, y| {
        let grain = (x * 7919 + y * 104_729 + x * y * 31) % 7;
        let glow = (1.0 - ((f64::from(x) - f64::from(width) / 2.0) / 7.0).powi(2)).max(0.0).sqrt();
        let light = |ground: f64, shine: f64| (ground + shine * glow + f64::from(grain)) as u8;
        image::Rgb([light(18.0, 60.0), light(24.0, 150.0), light(40.0, 110.0)])
    });
    photo.save(path).unwrap();
}

#[test]
fn a_scale_is_found_saved_listed_and_used() {
    let place = Place::new();
    let ruled = Ruled { width: 400, height: 300, ..Ruled::plain(20.0, 15.0, 1) };
    let photo = place.ruled("ruling.png", &ruled);
    let output = place.run(&["scale", "--pitch-um", "10", "--name", "10x phone", "--na", "0.25"], &[&photo]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let text = out(&output);
    for part in ["0.50", "µm a pixel", "dark lines 20.0", "tells 1.24 µm apart", "Saved   \"10x phone\"", "Note"] {
        assert!(text.contains(part), "{part} is missing in\n{text}");
    }

    let listed = place.run(&["setups", "--json"], &[]);
    let setup: Value = serde_json::from_str(out(&listed).trim()).unwrap();
    assert_eq!((&setup["name"], &setup["width_px"]), (&Value::from("10x phone"), &Value::from(400)));
    let um = setup["um_per_px"].as_f64().unwrap();
    assert!((um / 0.5 - 1.0).abs() < 2e-3, "{um}");
    assert!(out(&place.run(&["setups"], &[])).starts_with("10x phone: 0.50"));

    // The name is taken; the file stays as it was.
    let before = fs::read(place.path("setups.json")).unwrap();
    let again = place.run(&["scale", "--pitch-um", "20", "--name", "10X Phone"], &[&photo]);
    assert_eq!((again.status.code(), err(&again).lines().count()), (Some(1), 1));
    assert!(err(&again).contains("already; choose another name"), "{}", err(&again));
    assert_eq!(fs::read(place.path("setups.json")).unwrap(), before);

    let hair = place.path("hair.png");
    band(&hair, 400, 300);
    let read = place.run(&["read", "--json", "--setup", "10x phone"], &[&hair]);
    let object: Value = serde_json::from_str(&out(&read)).unwrap();
    assert_eq!(faults(&object), [""; 0]);
    assert_eq!((&object["photo"]["scale_from"], &object["photo"]["setup"]), (&"setup".into(), &"10x phone".into()));
    assert_eq!(object["photo"]["um_per_px"].as_f64(), Some(um));
    let width = &object["shafts"][0]["width"];
    let number = |key: &str| width[key].as_f64().unwrap();
    // The scale's uncertainty and that of the width in pixels add in squares.
    let scale_sd = setup["um_per_px_sd"].as_f64().unwrap();
    let expected = (number("sd_px") * um).hypot(number("median_px") * scale_sd);
    assert!((number("sd_um") / expected - 1.0).abs() < 1e-3, "{} against {expected}", number("sd_um"));
    let codes = |object: &Value| object["quality"]["concerns"].to_string();
    assert!(!codes(&object).contains("setup-other-size"));

    let cropped = place.path("cropped.png");
    band(&cropped, 360, 300);
    let read = place.run(&["read", "--json", "--setup", "10x phone"], &[&cropped]);
    assert!(codes(&serde_json::from_str(&out(&read)).unwrap()).contains("setup-other-size"));
}

#[test]
fn replacing_is_asked_for() {
    let place = Place::new();
    let fine = place.ruled("fine.png", &Ruled { width: 400, height: 300, ..Ruled::plain(16.0, 0.0, 2) });
    let wide = place.ruled("wide.png", &Ruled { width: 400, height: 300, ..Ruled::plain(25.0, 0.0, 3) });
    for (photo, more, code) in [(&fine, None, 0), (&wide, None, 1), (&wide, Some("--replace"), 0)] {
        let mut arguments = vec!["scale", "--pitch-um", "10", "--name", "desk"];
        arguments.extend(more);
        assert_eq!(place.run(&arguments, &[photo]).status.code(), Some(code));
    }
    let desk: Value = serde_json::from_str(out(&place.run(&["setups", "--json"], &[])).trim()).unwrap();
    assert!((desk["um_per_px"].as_f64().unwrap() / 0.4 - 1.0).abs() < 2e-3, "{desk}");
}

#[test]
fn without_a_name_nothing_is_saved() {
    let place = Place::new();
    let photo = place.ruled("ruling.png", &Ruled { width: 400, height: 300, ..Ruled::plain(20.0, 70.0, 4) });
    let output = place.run(&["scale", "--pitch-um", "10", "--json"], &[&photo]);
    let found: Value = serde_json::from_str(&out(&output)).unwrap();
    assert_eq!(found["name"], Value::Null);
    assert!(found["concerns"].to_string().contains("squareness-unknown"));
    assert!(!place.path("setups.json").exists());
    let none = place.run(&["setups"], &[]);
    assert_eq!(none.status.code(), Some(0));
    assert!(out(&none).starts_with("There is no setup yet"));
}

#[test]
fn what_gives_no_scale_is_one_sentence_and_nothing_saved() {
    let place = Place::new();
    let small = |ruled: Ruled| Ruled { width: 400, height: 300, ..ruled };
    let ruling = place.ruled("ruling.png", &small(Ruled::plain(20.0, 0.0, 5)));
    let zoomed = place.ruled("zoomed.png", &small(Ruled::plain(22.0, 3.0, 6)));
    let stretched = place.ruled("stretched.png", &small(Ruled::plain(24.0, 90.0, 7)));
    let cropped = place.ruled("cropped.png", &Ruled { width: 380, height: 300, ..Ruled::plain(20.0, 0.0, 8) });
    let hair = place.path("hair.png");
    band(&hair, 400, 300);
    let cases: [(&[&Path], &str); 6] = [
        (&[&hair], "hair.png: no evenly ruled lines"),
        (&[&ruling, &zoomed], "scales that disagree"),
        (&[&ruling, &stretched], "width and height disagree"),
        (&[&ruling, &cropped], "differ in size"),
        (&[&ruling, &hair], "hair.png: no evenly ruled lines"),
        (&[Path::new("nowhere.png")], "no such file"),
    ];
    for (photos, says) in cases {
        let output = place.run(&["scale", "--pitch-um", "10", "--name", "desk"], photos);
        assert_eq!((output.status.code(), err(&output).lines().count()), (Some(1), 1), "{}", err(&output));
        assert!(err(&output).contains(says) && err(&output).contains("; "), "{says}: {}", err(&output));
        assert!(out(&output).is_empty() && !place.path("setups.json").exists(), "{says}");
    }
    fs::write(place.path("setups.json"), "no setups").unwrap();
    for arguments in [&["setups"][..], &["read", "--setup", "desk"], &["scale", "--pitch-um", "10", "--name", "desk"]] {
        let photos: &[&Path] = if arguments == ["setups"] { &[] } else { &[&ruling] };
        let output = place.run(arguments, photos);
        assert!(output.status.code() != Some(0) && err(&output).lines().count() == 1, "{}", err(&output));
        assert!(err(&output).contains("no file of setups; "), "{}", err(&output));
    }
    assert_eq!(fs::read(place.path("setups.json")).unwrap(), b"no setups", "left as it was");
}
