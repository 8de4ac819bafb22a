//! How much memory does the program take at its peak, by the photo's size and by the number of photos; how fast does it
//! start, how large is it?
//!
//! The peak is the system's own count (VmHWM) of a program that was started for one reading.

mod shared;

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use shared::{SIZES, Table, USUAL, decode, drawn, median, ms, timed, turns};

/// Settings of the system's allocator (mallopt(3), from memory): it keeps no freed block of 128 KiB or more for the next
/// use, so that the peak is about what the program itself held.
const GIVES_BACK: [(&str, &str); 2] = [("MALLOC_MMAP_THRESHOLD_", "131072"), ("MALLOC_TRIM_THRESHOLD_", "131072")];

fn main() {
    let mut table = Table::new("memory", &["read", "peak MB", "bytes a pixel, program's own taken off"]);
    let own = peak_kb(&[&std::path::PathBuf::from("fixtures/micrographs/particles/mask_001.png")], &[], &[]);
    table.row(&["65,536 pixels (the program's own)".to_owned(), format!("{:.0}", own as f64 / 1024.0), String::new()]);
    for (megapixels, n_shafts) in SIZES.map(|size| (size, USUAL.1)).into_iter().chain([(12, 0), (12, 60)]) {
        let photo = drawn(megapixels, n_shafts, 1);
        let kb = median((0..turns(3)).map(|_| peak_kb(&[&photo], &[], &[]) as f64).collect());
        let (width, height) = image::image_dimensions(&photo).expect("a photo");
        let a_pixel = (kb - own as f64) * 1024.0 / (f64::from(width) * f64::from(height));
        table.row(&[
            format!("{megapixels} MP, {n_shafts} shafts"),
            format!("{:.0}", kb / 1024.0),
            format!("{a_pixel:.1}"),
        ]);
    }
    let place = tempfile::tempdir().expect("a folder for a while");
    let photos: Vec<_> = (1..=4).map(|seed| drawn(4, 8, seed)).collect();
    for n in [2, 8, 32, 128] {
        let folder = place.path().join(n.to_string());
        std::fs::create_dir(&folder).expect("a folder");
        for i in 0..n {
            std::fs::copy(&photos[i % photos.len()], folder.join(format!("{i}.jpg"))).expect("it can be copied");
        }
        let mb = [&[][..], &GIVES_BACK].map(|environment| {
            let out = tempfile::tempdir().expect("a folder for a while");
            peak_kb(&[&folder], &["--out", &out.path().to_string_lossy()], environment) as f64 / 1024.0
        });
        let of =
            |mb: f64, how: &str| [format!("{n} photos of 4 MP, with --out{how}"), format!("{mb:.0}"), String::new()];
        table.row(&of(mb[0], ""));
        table.row(&of(mb[1], ", all that is freed given back at once"));
    }
    table.finish();

    let mut table = Table::new("start", &["what", "figure"]);
    let version = || {
        let run = Command::new(env!("CARGO_BIN_EXE_pilumen")).arg("--version").stdout(Stdio::null()).status();
        assert!(run.expect("it runs").success());
    };
    version();
    let bytes = std::fs::read(drawn(1, USUAL.1, 1)).expect("it was drawn");
    let runs: Vec<[f64; 2]> = (0..turns(21)).map(|_| [timed(version).1, timed(|| decode(&bytes)).1].map(ms)).collect();
    let fastest = runs.iter().map(|run| run[0]).fold(f64::INFINITY, f64::min);
    table.row(&[
        "`pilumen --version`, median".to_owned(),
        format!("{:.1} ms", median(runs.iter().map(|run| run[0]).collect())),
    ]);
    table.row(&["`pilumen --version`, fastest".to_owned(), format!("{fastest:.1} ms")]);
    table.row(&[
        "(decoding 1 MP meanwhile)".to_owned(),
        format!("{:.1} ms", median(runs.iter().map(|run| run[1]).collect())),
    ]);
    let size = std::fs::metadata(env!("CARGO_BIN_EXE_pilumen")).expect("it is there").len();
    table.row(&["the program's file".to_owned(), format!("{:.1} MB", size as f64 / 1e6)]);
    table.finish();
}

/// Peak of resident memory while `pilumen read` runs in an environment with these variables too, kilobytes.
fn peak_kb(photos: &[&std::path::PathBuf], more: &[&str], environment: &[(&str, &str)]) -> u64 {
    let mut child = Command::new(env!("CARGO_BIN_EXE_pilumen"))
        .arg("read")
        .args(photos)
        .args(more)
        .envs(environment.iter().copied())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("it runs");
    let status = format!("/proc/{}/status", child.id());
    let mut peak = 0;
    loop {
        // The peak only grows, so the last look before the end sees what went before.
        let text = std::fs::read_to_string(Path::new(&status)).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        peak = peak.max(line.and_then(|line| line.trim().trim_end_matches(" kB").parse().ok()).unwrap_or(0));
        if let Some(status) = child.try_wait().expect("it can be waited for") {
            assert!(status.success(), "{photos:?} are read");
            return peak;
        }
        std::thread::sleep(Duration::from_micros(500));
    }
}
