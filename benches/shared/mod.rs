//! What all benches share: drawn photos, times that take turns, and tables that renew the ones in the documents.
//!
//! A bench prints a table. With `RENEW_FIGURES=1` it also writes it into docs/performance.md, between the two marks
//! that bear its name. Under load only ratios mean something: what is compared takes turns, and the median of
//! the turns' ratios is told.
#![allow(dead_code, reason = "no bench uses all of it")]

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use pilumen::finding::{Model, model_from_bytes};
use pilumen::sim::{Ranges, Scene, photo};

/// Sizes of photos, millions of pixels.
pub(crate) const SIZES: [usize; 4] = [1, 4, 12, 48];

/// Numbers of shafts.
pub(crate) const SHAFTS: [usize; 4] = [0, 5, 20, 60];

/// The size whose number of shafts varies, and the number when the size varies.
pub(crate) const USUAL: (usize, usize) = (12, 20);

/// JPEG quality: what phones write by default.
const QUALITY: u8 = 92;

/// The program's own model.
pub(crate) fn model() -> Model {
    model_from_bytes(include_bytes!("../../models/shaft-v1.json")).expect("the model is whole")
}

/// Whether the long form was asked for: `PILUMEN_BENCH=full`.
pub(crate) fn full() -> bool {
    std::env::var("PILUMEN_BENCH").is_ok_and(|form| form == "full")
}

/// Turns that are measured, by what one takes: `PILUMEN_BENCH_TURNS` sets them.
pub(crate) fn turns(usual: usize) -> usize {
    std::env::var("PILUMEN_BENCH_TURNS").ok().and_then(|n| n.parse().ok()).unwrap_or(usual)
}

/// A drawn photo, JPEG 4 : 3, 0.8 micrometres a pixel, so that a larger photo shows a larger field with hairs as wide
/// in pixels and longer. Drawn once and kept in the folder for build products.
pub(crate) fn drawn(megapixels: usize, n_shafts: usize, seed: u64) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("photos");
    let path = folder.join(format!("{megapixels}mp-{n_shafts}-shafts-{seed}.jpg"));
    if !path.exists() {
        let width = ((megapixels as f64 * 1e6 * 4.0 / 3.0).sqrt() as usize).next_multiple_of(4);
        let mut ranges = Ranges::training();
        ranges.photo_width_px = (width, width);
        ranges.aspects = vec![0.75];
        ranges.um_per_px = vec![(0.8, 0.8 + 1e-9)];
        ranges.n_shafts = (n_shafts, n_shafts);
        ranges.exposure = (0.25, 0.95);
        ranges.disc_share = 0.0;
        ranges.png_share = 0.0;
        let bytes = photo(&Scene::draw(seed, &ranges)).encode_jpeg(QUALITY).expect("it can be encoded");
        fs::create_dir_all(&folder).expect("build products can be written");
        fs::write(&path, bytes).expect("build products can be written");
    }
    path
}

/// What decoding alone takes: the same decoder as the program's, to 8-bit RGB, on one thread, nothing else done.
pub(crate) fn decode(bytes: &[u8]) -> usize {
    let options = zune_core::options::DecoderOptions::default();
    let mut decoder = zune_jpeg::JpegDecoder::new_with_options(zune_core::bytestream::ZCursor::new(bytes), options);
    decoder.decode().expect("a drawn photo").len()
}

/// How long something takes.
pub(crate) fn timed<T>(work: impl FnOnce() -> T) -> (T, Duration) {
    let began = Instant::now();
    let done = std::hint::black_box(work());
    (done, began.elapsed())
}

/// How much time of processors all threads of this program have used, milliseconds: what others do meanwhile does not
/// count, so that its ratios hold under load too. Work on two threads counts twice.
pub(crate) fn processor_ms() -> f64 {
    let threads = fs::read_dir("/proc/self/task").into_iter().flatten().flatten();
    let used = threads.filter_map(|thread| fs::read_to_string(thread.path().join("schedstat")).ok());
    used.filter_map(|text| text.split(' ').next()?.parse::<f64>().ok()).sum::<f64>() / 1e6
}

/// What something takes: by the clock, and of all processors; milliseconds.
pub(crate) fn both<T>(work: impl FnOnce() -> T) -> (T, [f64; 2]) {
    let before = processor_ms();
    let (done, took) = timed(work);
    (done, [ms(took), processor_ms() - before])
}

/// Median of times or ratios.
pub(crate) fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

/// Milliseconds.
pub(crate) fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

/// A table for people.
pub(crate) struct Table {
    name: &'static str,
    lines: Vec<String>,
}

impl Table {
    /// A table of this name with these columns.
    pub(crate) fn new(name: &'static str, columns: &[&str]) -> Table {
        let rule = format!("|{}", "---|".repeat(columns.len()));
        let table = Table { name, lines: vec![format!("| {} |", columns.join(" | ")), rule] };
        println!("\n{}", table.lines.join("\n"));
        table
    }

    /// Adds a row and shows it.
    pub(crate) fn row(&mut self, cells: &[String]) {
        self.lines.push(format!("| {} |", cells.join(" | ")));
        println!("{}", self.lines[self.lines.len() - 1]);
    }

    /// Renews the table in the document where that was asked for.
    pub(crate) fn finish(self) {
        if std::env::var_os("RENEW_FIGURES").is_none() {
            return;
        }
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/performance.md");
        let text = fs::read_to_string(&path).expect("docs/performance.md is there");
        let (begin, end) = (format!("<!-- {} -->\n", self.name), format!("<!-- end of {} -->", self.name));
        let (before, rest) = text.split_once(&begin).unwrap_or_else(|| panic!("no mark {begin}"));
        let (_, after) = rest.split_once(&end).unwrap_or_else(|| panic!("no mark {end}"));
        fs::write(&path, format!("{before}{begin}{}\n{end}{after}", self.lines.join("\n"))).expect("it can be written");
    }
}
