//! A backlog of photos: a folder read in parallel, broken off and gone on with.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use tempfile::TempDir;

struct Place {
    folder: TempDir,
}

impl Place {
    /// A folder `photos` with this many photos of one to three bands.
    fn new(n: u32) -> Place {
        let place = Place { folder: tempfile::tempdir().unwrap() };
        fs::create_dir(place.path("photos")).unwrap();
        (0..n).for_each(|i| band(&place.path(&format!("photos/{i:03}.png")), i % 3 + 1, i));
        place
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn command(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_pilumen"));
        command.arg("read").arg(self.path("photos")).arg("--out").arg(self.path("reading"));
        command
    }

    fn read(&self, arguments: &[&str]) -> Output {
        self.command().args(arguments).output().unwrap()
    }

    fn table(&self) -> String {
        fs::read_to_string(self.path("reading/shafts.csv")).unwrap()
    }

    fn readings(&self) -> usize {
        let files = fs::read_dir(self.path("reading")).into_iter().flatten().flatten();
        files.filter(|file| file.file_name().to_string_lossy().ends_with(".marked.png")).count()
    }
}

fn band(path: &Path, n_bands: u32, seed: u32) {
    let photo = image::RgbImage::from_fn(320, 240, |x, y| {
        let grain = (x * 7919 + y * 104_729 + x * y * 31 + seed * 97) % 7;
        let away = (0..n_bands).map(|i| (f64::from(x) - 320.0 * f64::from(i + 1) / f64::from(n_bands + 1)).abs());
        let glow = away.map(|d| (1.0 - (d / 7.0).powi(2)).max(0.0).sqrt()).fold(0.0, f64::max);
        let light = |ground: f64, shine: f64| (ground + shine * glow + f64::from(grain)) as u8;
        image::Rgb([light(18.0, 60.0), light(24.0, 150.0), light(40.0, 110.0)])
    });
    photo.save(path).unwrap();
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

#[test]
fn a_folder_is_read_whole_in_order_and_a_bad_photo_stops_nothing() {
    let place = Place::new(6);
    fs::write(place.path("photos/002-torn.jpg"), b"no photo").unwrap();
    fs::write(place.path("photos/list.txt"), b"notes").unwrap();
    let output = place.read(&[]);
    assert_eq!(output.status.code(), Some(1));
    let sentences = err(&output);
    assert_eq!(sentences.lines().count(), 2, "one sentence for one bad photo, and one at the end: {sentences}");
    assert!(
        sentences.contains("002-torn.jpg: ")
            && sentences.ends_with("1 of 7 photos could not be read; each is named above\n")
    );
    let said: Vec<String> =
        out(&output).lines().filter(|l| l.contains("pixels, ")).map(|l| l[..3].to_owned()).collect();
    assert_eq!(said, ["000", "001", "002", "003", "004", "005"]);
    let table = place.table();
    let mut rows = csv::Reader::from_reader(table.as_bytes());
    let photos: Vec<String> = rows.records().map(|row| row.unwrap()[0].to_owned()).collect();
    assert!(photos.is_sorted() && photos.len() >= 6, "{photos:?}");
    assert_eq!(place.readings(), 6);
}

#[test]
fn what_was_read_before_is_not_read_again() {
    let place = Place::new(4);
    let first = place.read(&["--um-per-px", "0.5"]);
    assert_eq!(first.status.code(), Some(0), "{}", err(&first));
    let (table, marked) = (place.table(), place.path("reading/001.marked.png"));
    // What stands there is believed to be the picture, so that a photo read again would show.
    fs::write(&marked, b"left alone").unwrap();
    let second = place.read(&["--um-per-px", "0.5"]);
    assert_eq!(second.status.code(), Some(0), "{}", err(&second));
    assert!(out(&second).contains("001.png: read before") && out(&second).contains("4 photos were read before"));
    assert_eq!(fs::read(&marked).unwrap(), b"left alone");
    assert_eq!(place.table(), table, "the table made of kept results is the same to the byte");

    let objects = |output: &Output| out(output);
    let json = objects(&place.read(&["--json", "--um-per-px", "0.5"]));
    assert_eq!(fs::read(&marked).unwrap(), b"left alone");
    let anew = objects(&place.read(&["--json", "--um-per-px", "0.5", "--again"]));
    assert_eq!(json, anew, "kept objects are what reading gives");
    assert_ne!(fs::read(&marked).unwrap(), b"left alone");
    assert_eq!(place.table(), table);
}

#[test]
fn other_photos_settings_and_torn_results_are_read_again() {
    let place = Place::new(3);
    place.read(&[]);
    let n_before = |output: &Output| out(output).matches("read before, ").count();
    assert_eq!(n_before(&place.read(&[])), 3);
    assert_eq!(n_before(&place.read(&["--um-per-px", "0.5"])), 0, "another setting");
    assert_eq!(n_before(&place.read(&["--um-per-px", "0.5"])), 3);
    band(&place.path("photos/001.png"), 2, 3);
    assert_eq!(n_before(&place.read(&["--um-per-px", "0.5"])), 2, "another photo of the same name");
    let whole = fs::read(place.path("reading/002.json")).unwrap();
    fs::write(place.path("reading/002.json"), &whole[..whole.len() / 2]).unwrap();
    fs::remove_file(place.path("reading/000.marked.png")).unwrap();
    assert_eq!(n_before(&place.read(&["--um-per-px", "0.5"])), 1, "torn and missing results");
    assert_eq!(fs::read(place.path("reading/002.json")).unwrap(), whole);
}

#[cfg(unix)]
#[test]
fn an_interrupt_leaves_whole_results_and_the_next_run_goes_on() {
    let place = Place::new(60);
    let mut child = place.command().stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
    let begun = Instant::now();
    while place.readings() < 3 && begun.elapsed() < Duration::from_secs(120) {
        std::thread::sleep(Duration::from_millis(5));
    }
    let killed = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(killed.success());
    let _ = child.stdin.take();
    let output = child.wait_with_output().unwrap();
    let n_read = place.readings();
    assert_eq!(output.status.code(), Some(1), "{}", err(&output));
    assert!((3..60).contains(&n_read), "{n_read} photos before the interrupt");
    assert!(err(&output).contains(&format!("stopped: {n_read} of 60 photos were read; ")), "{}", err(&output));
    let unfinished = fs::read_dir(place.path("reading")).unwrap().flatten();
    let unfinished = unfinished.filter(|file| file.file_name().to_string_lossy().contains("unfinished")).count();
    assert_eq!(unfinished, 0, "nothing half-written");
    let read_until_then = place.table();

    let output = place.read(&[]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    assert_eq!(out(&output).matches("read before, ").count(), n_read);
    assert_eq!(place.readings(), 60);
    assert!(place.table().starts_with(&read_until_then), "the table goes on where it was");
    let once = place.table();
    place.read(&["--again"]);
    assert_eq!(place.table(), once, "as if it had never been broken off");
}
