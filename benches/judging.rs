//! What does judging one shaft cost: the vote, the novelty and the reasons?

mod shared;

use pilumen::finding::verdict;
use pilumen::settings::Settings;
use pilumen::{image, pipeline};
use shared::{Table, drawn, median, model, timed, turns};

fn main() {
    let model = model();
    let bytes = std::fs::read(drawn(4, 20, 1)).expect("it was drawn");
    let image = image::from_bytes(&bytes, &image::Settings::default()).expect("a photo");
    let features = pipeline::measure(image, &Settings::default());
    let mut table = Table::new("judging", &["what", "µs a shaft"]);
    let times = (0..turns(50))
        .map(|_| {
            let (_, took) = timed(|| features.rows.iter().map(|row| verdict(row, &model, true)).collect::<Vec<_>>());
            took.as_secs_f64() * 1e6 / features.rows.len() as f64
        })
        .collect();
    table.row(&["look, probabilities, plausible looks, novelty, reasons".to_owned(), format!("{:.0}", median(times))]);
    let times = (0..turns(20)).map(|_| timed(shared::model).1.as_secs_f64() * 1e6).collect();
    table.row(&["(the model read and checked, once a run)".to_owned(), format!("{:.0}", median(times))]);
    table.finish();
}
