//! What does reading a whole photo cost, as a ratio to decoding it, and does it grow in proportion to the pixels?

mod shared;

use pilumen::pipeline::{Want, read};
use pilumen::settings::Settings;
use shared::{SHAFTS, SIZES, Table, USUAL, both, decode, drawn, median, model, turns};

fn main() {
    let mut table = Table::new(
        "reads",
        &[
            "photo",
            "file MB",
            "decoding ms",
            "read ms",
            "read / decoding",
            "processors' time, read / decoding",
            "the same with its picture",
            "processors' ms a megapixel",
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
    let once = |want| both(|| read("drawn.jpg", &bytes, &settings, &model, want).expect("a photo")).1;
    // The first turn meets cold caches and memory that the system has yet to give.
    once(Want::Numbers);
    // Decoding, reading, reading with a picture to draw marks on; each by the clock and of the processors.
    let turns: Vec<[[f64; 2]; 3]> = (0..turns(if megapixels > 12 { 5 } else { 9 }))
        .map(|_| [both(|| decode(&bytes)).1, once(Want::Numbers), once(Want::Picture)])
        .collect();
    let of = |work: &dyn Fn(&[[f64; 2]; 3]) -> f64| median(turns.iter().map(work).collect());
    vec![
        format!("{megapixels} MP, {n_shafts} shafts"),
        format!("{:.1}", bytes.len() as f64 / 1e6),
        format!("{:.0}", of(&|turn| turn[0][0])),
        format!("{:.0}", of(&|turn| turn[1][0])),
        format!("{:.2}", of(&|turn| turn[1][0] / turn[0][0])),
        format!("{:.2}", of(&|turn| turn[1][1] / turn[0][1])),
        format!("{:.2}", of(&|turn| turn[2][1] / turn[0][1])),
        format!("{:.0}", of(&|turn| turn[1][1]) / megapixels as f64),
    ]
}
