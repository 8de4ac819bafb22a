//! What does each stage of a reading cost, by the photo's size and by its number of shafts?
//!
//! Each time also as a ratio to decoding the same photo in the same turn.

mod shared;

use pilumen::image::Settings as ImageSettings;
use pilumen::{exports, features, field, finding, image, profiles, shafts};
use shared::{SHAFTS, SIZES, Table, USUAL, both, decode, drawn, median, model, turns};

/// The stages whose time is told, in the order of the flow.
const STAGES: [&str; 6] = ["image", "field", "shafts", "profiles", "features", "finding"];

fn main() {
    let mut by_size = Table::new("stages-by-size", &columns("megapixels"));
    for megapixels in SIZES {
        by_size.row(&row(megapixels, USUAL.1, megapixels));
    }
    by_size.finish();
    let mut by_shafts = Table::new("stages-by-shafts", &columns("shafts drawn"));
    for n_shafts in SHAFTS {
        by_shafts.row(&row(USUAL.0, n_shafts, n_shafts));
    }
    by_shafts.finish();
}

fn columns(first: &str) -> Vec<&str> {
    [first, "shafts found", "decoding"].into_iter().chain(STAGES).collect()
}

/// Milliseconds of processors' time of each stage, and in brackets how many times as much as decoding takes.
fn row(megapixels: usize, n_shafts: usize, first: usize) -> Vec<String> {
    let bytes = std::fs::read(drawn(megapixels, n_shafts, 1)).expect("it was drawn");
    let model = model();
    let mut times: Vec<[f64; 7]> = Vec::new();
    let mut n_found = 0;
    for _ in 0..turns(if megapixels > 12 { 3 } else { 5 }) {
        let (_, decoding) = both(|| decode(&bytes));
        let (image, t_image) = both(|| image::from_bytes(&bytes, &ImageSettings::default()).expect("a photo"));
        let (field, t_field) = both(|| field::from_image(image, &field::Settings::default()));
        let (found, t_shafts) = both(|| shafts::from_field(field, &shafts::Settings::default()));
        let (profiles, t_profiles) = both(|| profiles::from_shafts(&found, &profiles::Settings::default()));
        n_found = profiles.shafts.len();
        let (features, t_features) = both(|| features::from_profiles(profiles, &features::Settings::default()));
        let (finding, t_finding) = both(|| finding::from_features(features, &model));
        let _ = std::hint::black_box((finding, exports::CAUTION));
        times.push(
            [decoding, t_image, t_field, t_shafts, t_profiles, t_features, t_finding].map(|[_, processors]| processors),
        );
    }
    let column = |i: usize| median(times.iter().map(|turn| turn[i]).collect());
    let ratio = |i: usize| median(times.iter().map(|turn| turn[i] / turn[0]).collect());
    let stages = (1..7).map(|i| format!("{:.1} ({:.2})", column(i), ratio(i)));
    [first.to_string(), n_found.to_string(), format!("{:.1}", column(0))].into_iter().chain(stages).collect()
}
