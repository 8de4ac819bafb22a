//! A model grown on invented shafts: bytes, borders, probabilities, sets, novelty, contributions.

use std::sync::LazyLock;

use rand::seq::SliceRandom;

use super::appraisal::{appraise_looks, judged};
use super::boost::BoostSettings;
use super::card::{Circumstances, card};
use super::groups::leave_one_group_out;
use super::grow::{GrowError, GrowSettings, grow_with};
use super::invented;
use super::table::{LabelledRow, Table};
use crate::concerns::{Concern, ConcernKind};
use crate::features::{Orientation, Row, Zone};
use crate::finding::model::{Column, ModelFile, check_card};
use crate::finding::slide::GlowPlace;
use crate::finding::{Look, Model, ModelError, slide_shaft, verdict};
use crate::judgement::judges_nobody;
use crate::maths::seeds;

/// Small, so that a test takes a second.
const SETTINGS: GrowSettings = GrowSettings {
    boost: BoostSettings {
        n_trees: 40,
        shrinkage: 0.15,
        max_depth: 4,
        min_leaf_shafts: 6,
        scene_share: 0.7,
        feature_share: 0.5,
        pull: 1.0,
    },
    n_references: 160,
    level: 0.9,
    rebalance: 0.0,
};

static GROWN: LazyLock<Vec<u8>> = LazyLock::new(|| bytes(&invented::table(0, 400), 1));

static MODEL: LazyLock<Model> = LazyLock::new(|| Model::from_bytes(&GROWN, &invented::COLUMNS).unwrap());

static NEW_SCENES: LazyLock<Vec<LabelledRow>> = LazyLock::new(|| invented::table(10_000, 300).rows);

fn bytes(table: &Table, seed: u64) -> Vec<u8> {
    grow_with(table, &invented::voting(), seed, &SETTINGS).unwrap().to_bytes().unwrap()
}

#[test]
fn the_same_seed_gives_the_same_bytes_whatever_the_order_and_the_threads() {
    let mut table = invented::table(0, 60);
    let first = bytes(&table, 5);
    table.rows.shuffle(&mut seeds::generator(1, &[]));
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    assert!(pool.install(|| bytes(&table, 5)) == first, "other order, one thread");
    assert!(bytes(&table, 6) != first, "another seed");
    table.rows[0].values[0] = Some(7.25);
    assert!(bytes(&table, 5) != first, "another table");
}

#[test]
fn ties_everywhere_are_still_reproducible() {
    // Features of two values and labels at chance: many questions are equally good, and one of them must be taken for a
    // reason that does not depend on threads.
    let mut table = invented::table(0, 60);
    for row in &mut table.rows {
        for value in &mut row.values {
            *value = value.map(|value| f64::from(u8::from(value > 0.0)));
        }
    }
    let mut looks: Vec<Look> = table.rows.iter().map(|row| row.look).collect();
    looks.shuffle(&mut seeds::generator(2, &[]));
    table.rows.iter_mut().zip(looks).for_each(|(row, look)| row.look = look);
    let first = bytes(&table, 3);
    for _ in 0..5 {
        assert!(bytes(&table, 3) == first);
    }
}

#[test]
fn the_model_is_worth_what_its_probabilities_say_on_new_scenes() {
    let appraisal = appraise_looks(&judged(&MODEL, &NEW_SCENES), 1);
    let value = |estimate: super::appraisal::Estimate| estimate.value.unwrap();
    // The invented looks overlap: these bounds prove that the machinery works, not how good it is on hair.
    assert!(value(appraisal.auroc_infected) > 0.97, "{:?}", appraisal.auroc_infected);
    assert!(value(appraisal.macro_f1_of_judged) > 0.85, "{:?}", appraisal.macro_f1_of_judged);
    assert!(value(appraisal.calibration_error) < 0.05, "{:?}", appraisal.calibration_error);
    for coverage in appraisal.coverage {
        // 90 % less three standard errors of the bound from some 80 scenes and of 300 scenes looked at.
        assert!(value(coverage) > 0.9 - 3.0 * (0.09f64 / 80.0 + 0.09 / 300.0).sqrt(), "{coverage:?}");
    }
}

#[test]
fn hard_shafts_are_left_unsaid_more_often() {
    let appraisal = appraise_looks(&judged(&MODEL, &NEW_SCENES), 1);
    let unsaid = |kind: &str| -> f64 {
        let of_kind = appraisal.kinds.iter().filter(|k| k.kind == kind);
        of_kind.map(|k| k.unsaid.value.unwrap()).sum::<f64>() / 4.0
    };
    assert!(unsaid("hard") > 2.0 * unsaid("plain"), "{} and {}", unsaid("hard"), unsaid("plain"));
}

#[test]
fn contributions_sum_to_probability_less_base() {
    for row in NEW_SCENES.iter().take(100) {
        let values = MODEL.values(&row.values);
        let (assessment, moves) = (MODEL.assess(&values), MODEL.moves(&values));
        for look in 0..Look::COUNT {
            let sum: f64 = moves.moved.iter().map(|moved| moved[look]).sum();
            let expected = assessment.probability[look] - moves.base[look];
            assert!((sum - expected).abs() < 1e-8, "{sum} and not {expected}");
        }
        for moved in &moves.moved {
            assert!(moved.iter().sum::<f64>().abs() < 1e-9, "what one look gets the others lose");
        }
        let look = assessment.most_probable();
        let reasons = MODEL.reasons(&values, look);
        assert!((3..=5).contains(&reasons.len()), "{reasons:?}");
        assert!(reasons.iter().all(|reason| reason.feature != "invented.noise" && reason.reference.is_some()));
    }
}

#[test]
fn whatever_is_absent_there_is_an_answer() {
    let all_absent = MODEL.assess(&MODEL.values(&[None; 16]));
    assert!((all_absent.probability.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    assert!(all_absent.novelty > 1.0, "no reference shaft lacks everything: {}", all_absent.novelty);
    assert!(MODEL.reasons(&MODEL.values(&[None; 16]), Look::Normal).is_empty());
    let row = &NEW_SCENES[0].values;
    for gone in 0..row.len() {
        let mut values = row.clone();
        values[gone] = None;
        let without = MODEL.assess(&MODEL.values(&values));
        assert!((without.probability.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        for wild in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            values[gone] = Some(wild);
            assert_eq!(MODEL.assess(&MODEL.values(&values)), without, "what is not a number counts as absent");
        }
    }
    let huge = MODEL.assess(&MODEL.values(&[Some(1e30); 16]));
    assert!(huge.novelty.is_finite() && huge.novelty > 1.0);
}

#[test]
fn nothing_but_numbers_reaches_the_trees() {
    let mut table = invented::table(0, 60);
    for (i, row) in table.rows.iter_mut().enumerate() {
        row.values[i % 15] = Some([f64::NAN, f64::INFINITY, 1e308, -1e-308][i % 4]);
        // One feature is never there, another always the same.
        row.values[3] = None;
        row.values[9] = Some(4.0);
    }
    let model = Model::from_bytes(&bytes(&table, 1), &invented::COLUMNS).unwrap();
    assert!(model.assess(&model.values(&table.rows[0].values)).novelty.is_finite());
}

#[test]
fn novelty_is_rare_among_new_scenes_and_common_among_strange_shafts() {
    let novelty = |row: &LabelledRow| MODEL.assess(&MODEL.values(&row.values)).novelty;
    let beyond = |rows: &[LabelledRow]| rows.iter().filter(|row| novelty(row) > 1.0).count() as f64 / rows.len() as f64;
    let among_new = beyond(&NEW_SCENES);
    assert!(among_new < 0.04, "{among_new}");
    let strange: Vec<LabelledRow> = NEW_SCENES
        .iter()
        .map(|row| {
            let far = |(i, value): (usize, &Option<f64>)| {
                value.map(|v| v + [6.0, -6.0][i % 2] * 10f64.powi(i as i32 % 7 - 4))
            };
            LabelledRow { values: row.values.iter().enumerate().map(far).collect(), ..row.clone() }
        })
        .collect();
    assert!(beyond(&strange) > 0.95, "{}", beyond(&strange));
}

#[test]
fn the_two_nearest_reference_shafts_are_named() {
    let reference = &MODEL.references()[7];
    let near = MODEL.assess(&reference.values).nearest;
    assert_eq!(near.len(), 2);
    assert!(near[0].distance < 1e-9 && near[0].distance <= near[1].distance);
}

/// A measured shaft with these values and nothing else to say of it.
fn measured(values: &[Option<f64>]) -> Row {
    Row {
        values: values.to_vec(),
        zone: Zone::Tip,
        fluorescing_share: 0.2,
        orientation: Orientation::Measured,
        reversed: false,
        comparison: true,
        concerns: vec![Concern::new(ConcernKind::Partial)],
    }
}

#[test]
fn a_verdict_says_a_look_only_where_quality_allows() {
    let sure = |row: &&LabelledRow| verdict(&measured(&row.values), &MODEL, true, 0.0).look == Some(row.look);
    let row = measured(&NEW_SCENES.iter().find(sure).unwrap().values);
    let free = verdict(&row, &MODEL, true, 0.0);
    assert_eq!(free.concerns, row.concerns, "nothing to add");
    assert!((3..=5).contains(&free.reasons.len()));
    let shaft = slide_shaft(&row, &free);
    assert_eq!((shaft.look, shaft.glow, shaft.comparison), (free.look, GlowPlace::TipOnly, true));
    let unusable = verdict(&row, &MODEL, false, 0.0);
    assert_eq!(unusable.look, None);
    assert_eq!((unusable.probability, &unusable.reasons), (free.probability, &free.reasons));
    let doubtful = verdict(&row, &MODEL, true, 0.6);
    assert_eq!(doubtful.look, None);
    assert!(doubtful.concerns.iter().any(|concern| concern.kind == ConcernKind::MaybeNoShaft));
    let clipped = Row { concerns: vec![Concern::with(ConcernKind::ShaftClipped, 0.9)], ..row.clone() };
    assert_eq!(verdict(&clipped, &MODEL, true, 0.0).look, None);
    let strange = measured(&[Some(1e6); 16]);
    let novel = verdict(&strange, &MODEL, true, 0.0);
    assert_eq!(novel.look, None);
    assert!(novel.concerns.iter().any(|concern| concern.kind == ConcernKind::Novel));
}

#[test]
fn each_camera_left_out_is_judged_by_the_others() {
    let table = invented::table(0, 200);
    let out = leave_one_group_out(&table, &invented::COLUMNS, &invented::voting(), 1, &SETTINGS).unwrap();
    let names: Vec<&str> = out.iter().map(|left| left.group.as_str()).collect();
    assert_eq!(names, ["camera 0", "camera 1", "camera 2", "camera 3"]);
    assert_eq!(out.iter().map(|left| left.appraisal.shafts).sum::<usize>(), table.rows.len());
    assert!(out.iter().all(|left| left.appraisal.auroc_infected.value.unwrap() > 0.9));
    let one = Table { rows: table.rows.into_iter().filter(|row| row.group == "camera 0").collect(), ..table };
    let alone = leave_one_group_out(&one, &invented::COLUMNS, &invented::voting(), 1, &SETTINGS);
    assert!(alone.unwrap_err().to_string().starts_with("without camera 0: 0 scenes are too few"));
}

#[test]
fn the_file_keeps_every_number() {
    let file = ModelFile::from_bytes(&GROWN).unwrap();
    assert_eq!(file.to_bytes().unwrap(), *GROWN);
    assert_eq!(MODEL.sha256().len(), 64);
    assert_eq!(MODEL.feature_keys().count(), 15);
}

#[test]
fn bad_files_are_refused_with_one_sentence() {
    let whole = String::from_utf8(GROWN.clone()).unwrap();
    let refused = |text: &str| Model::from_bytes(text.as_bytes(), &invented::COLUMNS).unwrap_err();
    assert_eq!(refused(&whole.replacen("model/2", "model/1", 1)), ModelError::Older { found: 1 });
    for end in [0, 1, 20, whole.len() / 3, whole.len() / 2, whole.len() - 3] {
        assert_eq!(refused(&whole[..end]), ModelError::Cut { bytes: end });
    }
    assert_eq!(refused(&whole.replacen("model/2", "model/9", 1)), ModelError::Newer { found: 9 });
    assert!(matches!(refused("{\"format\":\"other\"}"), ModelError::NotAModel { .. }));
    assert!(matches!(refused("\u{0}\u{1}not json"), ModelError::NotAModel { .. }));
    let unknown = refused(&whole.replacen("invented.a0", "invented.z0", 1));
    assert_eq!(unknown, ModelError::UnknownFeatures { keys: vec!["invented.z0".into()] });
    let mut columns = invented::COLUMNS;
    columns[2] = Column { unit: "µm", ..columns[2] };
    assert!(matches!(Model::from_bytes(&GROWN, &columns), Err(ModelError::Unit { .. })));
    let damage = |change: &dyn Fn(&mut ModelFile)| {
        let mut file = ModelFile::from_bytes(&GROWN).unwrap();
        change(&mut file);
        Model::from_bytes(&file.to_bytes().unwrap(), &invented::COLUMNS).unwrap_err()
    };
    let damaged = |part: &'static str| ModelError::Damaged { part };
    assert_eq!(damage(&|file| file.ensemble[0].look = "normal".into()), damaged("the list of looks"));
    assert_eq!(damage(&|file| file.ensemble[1].trees[0][0] = 999), damaged("a tree"));
    assert_eq!(damage(&|file| file.ensemble[1].trees[3].truncate(4)), damaged("a tree"));
    assert_eq!(damage(&|file| file.ensemble[2].start = 1e9), damaged("the ensemble"));
    assert_eq!(damage(&|file| file.features[0].cuts.reverse()), damaged("the ensemble"));
    assert_eq!(damage(&|file| file.conformal.level = 1.5), damaged("the bounds of plausible looks"));
    assert_eq!(damage(&|file| file.novelty.unit = 0.0), damaged("the reference shafts"));
    assert_eq!(damage(&|file| file.novelty.references.clear()), damaged("the reference shafts"));
    assert_eq!(damage(&|file| file.novelty.references[0].values.truncate(2)), damaged("the reference shafts"));
    for error in [
        refused("{"),
        unknown,
        refused(&whole.replacen("model/2", "model/9", 1)),
        refused(&whole.replacen("model/2", "model/1", 1)),
        damaged("a tree"),
    ] {
        let sentence = error.to_string();
        assert!(!sentence.contains('\n') && !sentence.ends_with('.'), "{sentence}");
    }
}

#[test]
fn a_card_names_its_file_and_no_other() {
    let file = ModelFile::from_bytes(&GROWN).unwrap();
    let appraisal = appraise_looks(&judged(&MODEL, &NEW_SCENES[..200]), 1);
    let about = Circumstances {
        grown_by: "invented".into(),
        grown_on: "Invented shafts.".into(),
        appraised_on: "Invented shafts of other scenes.".into(),
        checked_on: Vec::new(),
    };
    let text = card(&GROWN, &file, &appraisal, &about);
    assert_eq!(check_card(&GROWN, &text), Ok(()));
    assert!(matches!(check_card(&bytes(&invented::table(0, 60), 1), &text), Err(ModelError::CardDiffers { .. })));
    assert!(matches!(check_card(&GROWN, "no card"), Err(ModelError::CardDiffers { .. })));
    assert!(text.contains("| coverage of the plausible looks, infected |"));
    judges_nobody("the card", &text);
}

#[test]
fn what_cannot_be_grown_on_is_said() {
    let table = invented::table(0, 60);
    let grow = |table: &Table| grow_with(table, &invented::voting(), 1, &SETTINGS).unwrap_err();
    let few = Table { rows: invented::table(0, 10).rows, ..table.clone() };
    assert!(matches!(grow(&few), GrowError::TooFewScenes { found: 10 }));
    assert!(matches!(grow(&Table { rows: vec![], ..table.clone() }), GrowError::TooFewScenes { found: 0 }));
    let mut no_fibre = table.clone();
    no_fibre.rows.retain(|row| row.look != Look::Fibre);
    assert_eq!(grow(&no_fibre).to_string(), "no shaft that is fibre is left for growing; add scenes with such shafts");
    let mut short = table.clone();
    short.rows[3].values.pop();
    assert!(matches!(grow(&short), GrowError::RowLength { found: 15, expected: 16 }));
    assert!(matches!(grow_with(&table, &[], 1, &SETTINGS), Err(GrowError::FeatureCount { found: 0 })));
}
