//! What does reading a whole photo cost, as a ratio to decoding it, and does it grow in proportion to the pixels?

mod shared;

use pilumen::pipeline::{Want, read};
use pilumen::settings::Settings;
use shared::{SHAFTS, SIZES, Table, USUAL, decode, drawn, median, model, ms, timed, turns};

fn main() {
    let mut table = Table::new(
        "reads",
        &[
            "photo",
            "file MB",
            "decoding ms",
            "read ms",
            "read / decoding",
            "with its picture / decoding",
            "µs a kilopixel",
        ],
    );
    let sizes = SIZES.map(|megapixels| (megapixels, USUAL.1));
    let shafts = SHAFTS.map(|n_shafts| (USUAL.0, n_shafts));
    for (megapixels, n_shafts) in sizes.into_iter().chain(shafts.into_iter().filter(|pair| *pair != USUAL)) {
        table.row(&row(megapixels, n_shafts));
    }
    table.finish();
}

fn row(megapixels: usize, n_shafts: usize) -> Vec<String> {
    let bytes = std::fs::read(drawn(megapixels, n_shafts, 1)).expect("it was drawn");
    let (model, settings) = (model(), Settings::default());
    let once = |want| timed(|| read("drawn.jpg", &bytes, &settings, &model, want).expect("a photo")).1;
    // The first turn meets cold caches and memory that the system has yet to give.
    once(Want::Numbers);
    let turns: Vec<[f64; 3]> = (0..turns(if megapixels > 12 { 5 } else { 9 }))
        .map(|_| [timed(|| decode(&bytes)).1, once(Want::Numbers), once(Want::Picture)].map(ms))
        .collect();
    let of = |work: &dyn Fn(&[f64; 3]) -> f64| median(turns.iter().map(work).collect());
    vec![
        format!("{megapixels} MP, {n_shafts} shafts"),
        format!("{:.1}", bytes.len() as f64 / 1e6),
        format!("{:.0}", of(&|turn| turn[0])),
        format!("{:.0}", of(&|turn| turn[1])),
        format!("{:.2}", of(&|turn| turn[1] / turn[0])),
        format!("{:.2}", of(&|turn| turn[2] / turn[0])),
        format!("{:.0}", of(&|turn| turn[1]) / megapixels as f64),
    ]
}
