//! What does a second core give for a folder of photos, and what could it give: two programs that share nothing but the
//! machine?
//!
//! `PILUMEN_BENCH=full` reads 200 photos of 12 megapixels instead of 16 of 4.

mod shared;

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use tempfile::TempDir;

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
    let half = |first: usize| {
        let half = tempfile::tempdir().expect("a folder for a while");
        for n in (first..n_photos).step_by(2) {
            let photo = format!("{n:03}.jpg");
            std::fs::copy(place.path().join(&photo), half.path().join(photo)).expect("it can be copied");
        }
        half
    };
    let halves = [half(0), half(1)];
    let mut table = Table::new(
        "batch",
        &[
            "photos",
            "1 core s",
            "2 cores s",
            "efficiency on 2 cores",
            "efficiency of two programs, half of the photos and one core each",
            "photos a minute on 2 cores",
        ],
    );
    let turns: Vec<[f64; 3]> = (0..turns(if full() { 1 } else { 5 }))
        .map(|_| {
            let one = run(&[(place.path(), "0")]);
            let two = run(&[(place.path(), "0,1")]);
            let apart = run(&[(halves[0].path(), "0"), (halves[1].path(), "1")]);
            [one, two, apart].map(|time| time.as_secs_f64())
        })
        .collect();
    let of = |work: &dyn Fn(&[f64; 3]) -> f64| median(turns.iter().map(work).collect());
    table.row(&[
        format!("{n_photos} of {megapixels} MP"),
        format!("{:.1}", of(&|turn| turn[0])),
        format!("{:.1}", of(&|turn| turn[1])),
        format!("{:.2}", of(&|turn| turn[0] / (2.0 * turn[1]))),
        format!("{:.2}", of(&|turn| turn[0] / (2.0 * turn[2]))),
        format!("{:.0}", of(&|turn| n_photos as f64 * 60.0 / turn[1])),
    ]);
    table.finish();
}

/// Reads each folder on its cores, all at the same time; what is kept goes to folders that vanish.
fn run(folders: &[(&Path, &str)]) -> Duration {
    let outs: Vec<_> = folders.iter().map(|_| tempfile::tempdir().expect("a folder for a while")).collect();
    let begin = |((folder, cores), out): (&(&Path, &str), &TempDir)| {
        Command::new("taskset")
            .args(["-c", cores, env!("CARGO_BIN_EXE_pilumen"), "read"])
            .arg(folder)
            .arg("--out")
            .arg(out.path())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("taskset, of util-linux, is there")
    };
    let (all_read, took) = timed(|| {
        let mut programs: Vec<_> = folders.iter().zip(&outs).map(begin).collect();
        programs.iter_mut().all(|program| program.wait().expect("it can be waited for").success())
    });
    assert!(all_read, "all photos are read");
    took
}
