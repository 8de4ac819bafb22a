//! What does judging one shaft cost: the vote, the novelty and the reasons?

mod shared;

use std::num::NonZero;

use pilumen::finding::model::ModelFile;
use pilumen::finding::novelty::{FeatureScale, ReferenceShaft, ReferenceSpace};
use pilumen::finding::{Look, verdict};
use pilumen::settings::Settings;
use pilumen::{image, pipeline};
use shared::{Table, both, drawn, median, model, turns};

/// Times that all shafts are judged in one turn: the system counts a processor's time in ticks of some milliseconds, so
/// that ten times gave multiples of 24 µs a shaft.
const REPEATS: usize = 200;

fn main() {
    let model = model();
    let bytes = std::fs::read(drawn(4, 20, 1)).expect("it was drawn");
    let image = image::from_bytes(&bytes, &image::Settings::default()).expect("a photo");
    let features = pipeline::measure(image, &Settings::default());
    let values: Vec<Vec<Option<f64>>> = features.rows.iter().map(|row| model.values(&row.values)).collect();
    let space = space();
    let two = NonZero::new(2).expect("two is not zero");
    let mut table = Table::new("judging", &["what", "µs of a processor a shaft"]);
    let mut row = |what: &str, judge: &dyn Fn()| {
        let judged = (REPEATS * features.rows.len()) as f64;
        let turn = || (0..REPEATS).for_each(|_| judge());
        let times = (0..turns(5)).map(|_| both(turn).1[1] * 1e3 / judged).collect();
        table.row(&[what.to_owned(), format!("{:.0}", median(times))]);
    };
    row("the two nearest reference shafts and novelty", &|| {
        values.iter().for_each(|values| drop(std::hint::black_box(space.nearest(values, two))));
    });
    row("look, probabilities, plausible looks, novelty", &|| {
        values.iter().for_each(|values| drop(std::hint::black_box(model.assess(values))));
    });
    row("all of it, with reasons", &|| {
        features.rows.iter().for_each(|row| drop(std::hint::black_box(verdict(row, &model, true, 0.0))));
    });
    let times = (0..turns(20)).map(|_| both(shared::model).1[1] * 1e3).collect();
    table.row(&["(the model read and checked, once a run)".to_owned(), format!("{:.0}", median(times))]);
    table.finish();
}

/// The reference shafts of the program's own model in their space.
fn space() -> ReferenceSpace {
    let file = ModelFile::from_bytes(include_bytes!("../models/shaft-v1.json")).expect("the model is whole");
    let scales = file.features.iter().map(|f| FeatureScale { middle: f.middle, spread: f.spread }).collect();
    let kept = |r: &pilumen::finding::model::ReferenceWire| ReferenceShaft {
        scene: r.scene,
        look: Look::ALL.into_iter().find(|look| look.code() == r.look).expect("a look"),
        kind: r.kind.clone(),
        values: r.values.iter().map(|value| value.map(f64::from)).collect(),
    };
    let references = file.novelty.references.iter().map(kept).collect();
    ReferenceSpace::new(scales, references, file.novelty.unit).expect("the reference shafts are whole")
}
