//! Files of JSON that people and other programs may have written: the model, the setups, the facts of a report.

use std::fs;

use pilumen::features::Features;
use pilumen::finding::{from_features, model_from_bytes};
use pilumen::image::{Settings, from_bytes};
use pilumen::pipeline;
use pilumen::record::CaseFacts;
use pilumen::setups::SetupsFile;
use serde_json::{Value, json};

use super::{World, must, told};

/// Trees a look that are left in the model to damage: the whole file would be damaged in its trees only.
const TREES_LEFT: usize = 2;

/// Reference shafts that are left.
const REFERENCES_LEFT: usize = 4;

/// A model file with few trees; what it judges is damaged as it is.
pub(in super::super) fn model() -> World {
    let mut model: Value = serde_json::from_slice(&fs::read("models/shaft-v1.json").unwrap()).unwrap();
    for trees in model["ensemble"].as_array_mut().unwrap() {
        trees["trees"].as_array_mut().unwrap().truncate(TREES_LEFT);
    }
    model["novelty"]["references"].as_array_mut().unwrap().truncate(REFERENCES_LEFT);
    let seed = model.to_string().into_bytes();
    assert!(model_from_bytes(&seed).is_ok(), "{}", told(&model_from_bytes(&seed)));
    let features: Features = {
        let photo = fs::read("fixtures/demo/quillfeather-moth-left-pinna.jpg").unwrap();
        pipeline::measure(from_bytes(&photo, &Settings::default()).unwrap(), &pilumen::settings::Settings::default())
    };
    assert!(!features.rows.is_empty(), "something is judged");
    World::new(vec![seed], move |bytes| {
        let read = model_from_bytes(bytes);
        let Ok(model) = &read else { return Ok(told(&read)) };
        let finding = from_features(features.clone(), model);
        for verdict in &finding.verdicts {
            let sum: f64 = verdict.probability.iter().sum();
            must(verdict.probability.iter().all(|p| (0.0..=1.0).contains(p)), "a probability outside 0 to 1")?;
            must((sum - 1.0).abs() < 1e-6, "probabilities do not sum to 1")?;
            must(!verdict.novelty.is_nan(), "a novelty that is no number")?;
        }
        Ok(finding.slide.code.to_owned())
    })
}

/// A file of setups.
pub(in super::super) fn setups() -> World {
    let setup = |name: &str, aperture: Value| {
        json!({
            "name": name, "um_per_px": 0.42, "um_per_px_sd": 0.001, "width_px": 4000, "height_px": 3000,
            "aperture": aperture, "pitch_um": 10.0, "pitch_um_sd": null, "span_um": 900.0, "lines": 91,
            "squareness": 1.0, "squareness_sd": 0.001, "distortion": null, "photos": ["a.jpg"], "program": "0.1.0",
        })
    };
    let seeds = [
        json!({ "schema": "pilumen/setups/1", "setups": [setup("4x phone", json!(0.1)), setup("10x", Value::Null)] }),
        json!({ "schema": "pilumen/setups/1", "setups": [] }),
        json!({ "schema": "pilumen/setups/2", "setups": [] }),
    ];
    let place = tempfile::tempdir().unwrap();
    World::new(seeds.iter().map(|seed| seed.to_string().into_bytes()).collect(), move |bytes| {
        let path = place.path().join("setups.json");
        fs::write(&path, bytes).map_err(|error| error.to_string())?;
        let all = SetupsFile::at(Some(path)).map_err(|error| error.to_string())?.all();
        for setup in all.iter().flatten() {
            must(setup.um_per_px.is_finite() && setup.um_per_px > 0.0, "a scale that is no length")?;
            must(!setup.name.chars().any(char::is_control), "a name steers the terminal")?;
            let asked = pilumen::settings::Asked { setup: Some(setup.clone()), ..Default::default() };
            must(pilumen::settings::Settings::check(asked).is_ok(), "a setup that is read but not taken")?;
            must(!setup.to_json().is_empty(), "a setup that cannot be written")?;
        }
        Ok(told(&all))
    })
}

/// The facts of a report.
pub(in super::super) fn case_facts() -> World {
    let whole = json!({
        "animal": "Moth", "animal_number": "QH-7", "species": "cat", "sex": "female", "neutered": true,
        "born": "2025-04-01", "coat": "smoke", "organisation": "Quillfeather House (invented)", "site": "left pinna",
        "exam_day": "2026-03-01", "lamp_nm": 365.0, "lamp_seen": "apple green", "slide": "A1",
        "visits": [{ "day": "2026-02-01", "hairs": 12, "infected": 3, "zone": "base", "remark": "first" }],
        "remark": "shy",
    });
    let seeds = vec![whole.to_string().into_bytes(), b"{}".to_vec(), b"{\"visits\":[]}".to_vec()];
    World::new(seeds, |bytes| {
        let read = CaseFacts::from_json(bytes);
        if let Ok(facts) = &read {
            let steers = |text: &Option<String>| text.as_ref().is_some_and(|text| text.contains('\u{1b}'));
            must(!steers(&facts.animal) && !steers(&facts.remark), "a fact steers the terminal")?;
        }
        Ok(told(&read))
    })
}
