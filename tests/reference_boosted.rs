//! The ensemble and its statistics against independent libraries: numbers in fixtures/reference/boosted.

use std::fs;
use std::path::PathBuf;

use pilumen::finding::ensemble::{Node, Tree};
use pilumen::finding::shapley;
use pilumen::maths::agreement::Confusion;
use pilumen::maths::scoring;
use pilumen::maths::softmax::softmax_in_place;
use pilumen::training::boost::{BoostSettings, GrowingRows, grow_ensemble};
use serde_json::Value;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/boosted")
}

fn reference() -> Value {
    serde_json::from_str(&fs::read_to_string(folder().join("reference.json")).unwrap()).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

fn assert_near(name: &str, got: f64, expected: &Value, tolerance: f64) {
    let expected = expected.as_f64().unwrap();
    assert!((got - expected).abs() <= tolerance, "{name}: {got} and not {expected}");
}

/// A public set: rows for growing and rows for testing.
struct PublicSet {
    train: (Vec<Vec<Option<f64>>>, Vec<usize>),
    test: (Vec<Vec<Option<f64>>>, Vec<usize>),
}

fn public_set(name: &str) -> PublicSet {
    let mut set = PublicSet { train: Default::default(), test: Default::default() };
    let mut reader = csv::Reader::from_path(folder().join(format!("{name}.csv"))).unwrap();
    for record in reader.records() {
        let record = record.unwrap();
        let part = if &record[0] == "train" { &mut set.train } else { &mut set.test };
        part.0.push(record.iter().skip(2).map(|cell| Some(cell.parse().unwrap())).collect());
        part.1.push(record[1].parse().unwrap());
    }
    set
}

/// The probabilities that scores stand for before anything is calibrated.
fn shares(mut scores: Vec<f64>) -> Vec<f64> {
    softmax_in_place(&mut scores);
    scores
}

struct Scores {
    accuracy: f64,
    macro_auroc: f64,
    log_loss: f64,
}

/// Our boosted trees on a public set, every row a scene of its own; the mean over three seeds.
fn our_scores(name: &str, n_classes: usize) -> Scores {
    let set = public_set(name);
    let values: Vec<&[Option<f64>]> = set.train.0.iter().map(Vec::as_slice).collect();
    let scene: Vec<u64> = (0..values.len() as u64).collect();
    let rows = GrowingRows { values: &values, class: &set.train.1, scene: &scene, n_classes };
    // As the other one was grown: all rows and features to every tree, shallow leaves of few rows.
    let settings = BoostSettings {
        n_trees: 100,
        shrinkage: 0.1,
        max_depth: 3,
        min_leaf_shafts: 5,
        scene_share: 1.0,
        feature_share: 1.0,
        pull: 1.0,
    };
    let seeds = [1, 2, 3];
    let mut mean = Scores { accuracy: 0.0, macro_auroc: 0.0, log_loss: 0.0 };
    for seed in seeds {
        let ensemble = grow_ensemble(&rows, seed, &settings).unwrap();
        let p: Vec<Vec<f64>> = set.test.0.iter().map(|row| shares(ensemble.scores(&ensemble.bins(row)))).collect();
        let n = p.len() as f64;
        let most = |p: &[f64]| (0..p.len()).fold(0, |best, i| if p[i] > p[best] { i } else { best });
        let right = p.iter().zip(&set.test.1).filter(|(p, class)| most(p) == **class).count();
        let auroc = |class: usize| {
            let score: Vec<f64> = p.iter().map(|p| p[class]).collect();
            let truth: Vec<bool> = set.test.1.iter().map(|c| *c == class).collect();
            scoring::auroc(&score, &truth, &vec![1.0; score.len()]).unwrap()
        };
        mean.accuracy += right as f64 / n / 3.0;
        mean.macro_auroc += (0..n_classes).map(auroc).sum::<f64>() / n_classes as f64 / 3.0;
        mean.log_loss += p.iter().zip(&set.test.1).map(|(p, &class)| -p[class].ln()).sum::<f64>() / n / 3.0;
    }
    mean
}

#[test]
fn the_boosted_trees_are_as_good_as_independent_ones_on_public_data() {
    let reference = reference();
    for (name, ensemble) in reference["ensembles"].as_object().unwrap() {
        let ours = our_scores(name, ensemble["n_classes"].as_u64().unwrap() as usize);
        let of = |key: &str| ensemble[key].as_f64().unwrap();
        let figures = format!(
            "{name}: accuracy {:.4} (theirs {:.4}), AUROC {:.4} ({:.4}), uncalibrated log loss {:.3} ({:.3})",
            ours.accuracy,
            of("accuracy"),
            ours.macro_auroc,
            of("macro_auroc"),
            ours.log_loss,
            of("log_loss")
        );
        println!("{figures}");
        // One standard error of their accuracy on so many rows, and at least one row.
        let n = of("n_test");
        let allowed = (of("accuracy") * (1.0 - of("accuracy")) / n).sqrt().max(1.0 / n);
        assert!(ours.accuracy >= of("accuracy") - allowed, "{figures}");
        assert!(ours.macro_auroc >= of("macro_auroc") - 0.005, "{figures}");
        assert!(ours.log_loss <= of("log_loss") * 1.1, "{figures}");
    }
}

#[test]
fn scores_of_stored_vectors() {
    let vectors = &reference()["vectors"];
    let truth: Vec<usize> = vectors["truth"].as_array().unwrap().iter().map(|c| c.as_u64().unwrap() as usize).collect();
    let p: Vec<[f64; 4]> =
        vectors["probability"].as_array().unwrap().iter().map(|row| numbers(row).try_into().unwrap()).collect();
    let said = numbers(&vectors["said_infected"]);
    let yes: Vec<bool> = truth.iter().map(|class| *class == 0).collect();
    let ones = vec![1.0; said.len()];
    let tight = 1e-9;
    assert_near("AUROC", scoring::auroc(&said, &yes, &ones).unwrap(), &vectors["auroc"], tight);
    let weight = numbers(&vectors["weight"]);
    assert_near("weighted AUROC", scoring::auroc(&said, &yes, &weight).unwrap(), &vectors["auroc_weighted"], tight);
    assert_near("Brier", scoring::brier(&said, &yes).unwrap(), &vectors["brier"], tight);
    assert_near("log loss", scoring::log_loss(&p, &truth).unwrap(), &vectors["log_loss"], tight);
    let binary = scoring::binary_log_loss(&said, &yes).unwrap();
    assert_near("two-class log loss", binary, &vectors["binary_log_loss"], tight);
    let mut table = Confusion::new(4);
    for (p, &class) in p.iter().zip(&truth) {
        table.add(class, (0..4).fold(0, |best, i| if p[i] > p[best] { i } else { best }), 1.0);
    }
    let f1 = (0..4).map(|class| table.score(class).f1.unwrap()).sum::<f64>() / 4.0;
    assert_near("macro-F1", f1, &vectors["macro_f1"], tight);
    assert_near("kappa", table.kappa().unwrap(), &vectors["kappa"], tight);
}

#[test]
fn the_calibration_curve_of_stored_vectors() {
    let vectors = &reference()["vectors"];
    let yes: Vec<bool> = numbers(&vectors["truth"]).iter().map(|class| *class == 0.0).collect();
    let said = numbers(&vectors["off_edges"]);
    let curve = scoring::calibration_curve(&said, &yes, &vec![1.0; said.len()], 10);
    assert_eq!(curve.len(), numbers(&vectors["calibration_seen"]).len());
    for (bin, (seen, mean)) in
        curve.iter().zip(numbers(&vectors["calibration_seen"]).iter().zip(numbers(&vectors["calibration_said"])))
    {
        assert!((bin.seen - seen).abs() < 1e-9 && (bin.said - mean).abs() < 1e-9, "{bin:?} and not {seen} at {mean}");
    }
}

#[test]
fn contributions_equal_those_of_an_independent_library() {
    let reference = &reference()["contributions"];
    let n_features = reference["n_features"].as_u64().unwrap() as usize;
    let node = |triple: &[f64]| match *triple {
        [first, seen, adds] if first < 0.0 => Node::leaf(seen as u32, adds as i32),
        [feature, below, _] => Node::question(feature as u16, below as u8, false),
        _ => panic!("three numbers a node"),
    };
    let trees: Vec<Tree> = reference["trees"]
        .as_array()
        .unwrap()
        .iter()
        .map(|tree| Tree::from_leaves(numbers(tree).chunks(3).map(node).collect(), n_features).unwrap())
        .collect();
    let rows = reference["bins"].as_array().unwrap().iter().zip(reference["contributions"].as_array().unwrap());
    let mut compared = 0;
    for (bins, expected) in rows {
        let bins: Vec<u8> = numbers(bins).iter().map(|&bin| bin as u8).collect();
        let mut moved = vec![0.0; n_features];
        trees.iter().for_each(|tree| shapley::add_tree(tree, &bins, &mut moved));
        for (got, expected) in moved.iter().zip(numbers(expected)) {
            assert!((got - expected).abs() < 1e-6, "{got} and not {expected}");
            compared += 1;
        }
    }
    assert!(compared > 500, "{compared}");
}
