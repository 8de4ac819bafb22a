//! What does a second core give for a folder of photos, and does the memory stay what it was?
//!
//! `PILUMEN_BENCH=full` reads 200 photos of 12 megapixels instead of 16 of 4.

mod shared;

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use shared::{Table, drawn, full, median, timed, turns};

/// Different photos; more are links to these.
const N_DIFFERENT: u64 = 8;

fn main() {
    let (n_photos, megapixels) = if full() { (200, 12) } else { (16, 4) };
    let place = tempfile::tempdir().expect("a folder for a while");
    for n in 0..n_photos {
        let photo = drawn(megapixels, 8, 1 + n as u64 % N_DIFFERENT);
        std::fs::copy(photo, place.path().join(format!("{n:03}.jpg"))).expect("it can be copied");
    }
    let mut table = Table::new(
        "batch",
        &["photos", "1 core s", "2 cores s", "efficiency on 2 cores", "photos a minute on 2 cores"],
    );
    let turns: Vec<[f64; 2]> = (0..turns(if full() { 1 } else { 3 }))
        .map(|_| [run(place.path(), "0"), run(place.path(), "0,1")].map(|time| time.as_secs_f64()))
        .collect();
    let of = |work: &dyn Fn(&[f64; 2]) -> f64| median(turns.iter().map(work).collect());
    table.row(&[
        format!("{n_photos} of {megapixels} MP"),
        format!("{:.1}", of(&|turn| turn[0])),
        format!("{:.1}", of(&|turn| turn[1])),
        format!("{:.2}", of(&|turn| turn[0] / (2.0 * turn[1]))),
        format!("{:.0}", of(&|turn| n_photos as f64 * 60.0 / turn[1])),
    ]);
    table.finish();
}

/// Reads the folder on these cores; what is kept goes to a folder that vanishes.
fn run(folder: &Path, cores: &str) -> Duration {
    let out = tempfile::tempdir().expect("a folder for a while");
    let (status, took) = timed(|| {
        Command::new("taskset")
            .args(["-c", cores, env!("CARGO_BIN_EXE_pilumen"), "read"])
            .arg(folder)
            .arg("--out")
            .arg(out.path())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .expect("taskset, of util-linux, is there")
    });
    assert!(status.success(), "all photos are read");
    took
}
