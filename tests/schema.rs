//! The evaluation object against its JSON Schema, with the few keywords of draft 2020-12 that the schema uses.
//!
//! A whole validator would be a hundred crates for one check; a keyword that is not known here fails the test, so
//! that nothing in the schema goes unread. Besides, every name that is written must be described.
//! Once held against jsonschema 4.26.0 (Python): the same verdict on the golden file and on all planted faults.

use pilumen::exports::{Format, from_record};
use pilumen::record::{Entry, Width};
use serde_json::{Map, Value, json};

use crate::sample::{SMALL, Sample};

pub(crate) fn schema() -> Value {
    serde_json::from_str(include_str!("../docs/evaluation.schema.json")).expect("the schema is JSON")
}

/// Everything that is wrong with an object, each with its place; empty when it is as the schema says.
pub(crate) fn faults(object: &Value) -> Vec<String> {
    faults_by(&schema(), object)
}

/// The same by another schema.
pub(crate) fn faults_by(root: &Value, object: &Value) -> Vec<String> {
    let mut faults = Vec::new();
    check(root, root, object, "$", &mut faults);
    faults
}

fn evaluation(entry: &Entry) -> Value {
    serde_json::from_slice(&from_record(entry, None, Format::Json)).expect("an evaluation is JSON")
}

#[test]
fn made_entries_are_as_the_schema_says() {
    for n_shafts in [0, 1, 5, 23] {
        for um_per_px in [None, Some(0.42)] {
            let entry = Sample { n_shafts, um_per_px, width: 900, height: 700, ..SMALL }.entry();
            assert_eq!(faults(&evaluation(&entry)), [""; 0], "{n_shafts} shafts, scale {um_per_px:?}");
        }
    }
}

#[test]
fn an_entry_without_any_measurement_is_as_the_schema_says() {
    let mut entry = SMALL.entry();
    entry.blur_px = None;
    for shaft in &mut entry.shafts {
        shaft.width = Width::default();
        shaft.glow = pilumen::record::Glow::default();
        shaft.measures = vec![None; shaft.measures.len()];
        shaft.stations.iter_mut().for_each(|s| (s.width_px, s.width_sd_px, s.edges, s.glow) = (None, None, None, None));
    }
    assert_eq!(faults(&evaluation(&entry)), [""; 0]);
}

#[test]
fn a_number_that_is_none_becomes_null_and_never_breaks_the_form() {
    let mut entry = SMALL.entry();
    let shaft = &mut entry.shafts[0];
    shaft.novelty = f64::NAN;
    shaft.fluorescing_share = f64::INFINITY;
    shaft.reasons[0].value = f64::NAN;
    shaft.width.median_px = Some(f64::NAN);
    shaft.probability = [f64::NAN; 4];
    let object = evaluation(&entry);
    assert_eq!(faults(&object), [""; 0]);
    assert_eq!(object["shafts"][0]["novelty"], Value::Null);
}

#[test]
fn probabilities_sum_to_one_as_written() {
    let object = evaluation(&SMALL.entry());
    for shaft in object["shafts"].as_array().unwrap() {
        let sum: f64 = shaft["probability"].as_object().unwrap().values().map(|p| p.as_f64().unwrap()).sum();
        assert!((sum - 1.0).abs() < 1e-9, "{sum}");
    }
}

#[test]
fn the_check_finds_what_is_wrong() {
    let good = evaluation(&SMALL.entry());
    let planted: [(&str, Value, &str); 9] = [
        ("/schema", json!("pilumen/evaluation/2"), "is not the constant"),
        ("/photo/width_px", json!(0), "below"),
        ("/photo/width_px", json!("wide"), "is no integer"),
        ("/photo/sha256", json!("abc"), "shorter"),
        ("/shafts/0/class", json!("odd"), "is none of"),
        ("/shafts/0/ends/base", json!("tapered"), "is none of"),
        ("/shafts/0/centreline_px/0", json!([1.0]), "fewer"),
        ("/shafts/0/width/profile_px/0", json!("thin"), "is no number or null"),
        ("/shafts/0/probability/infected", json!(1.5), "above"),
    ];
    for (place, value, complaint) in planted {
        let mut bad = good.clone();
        *bad.pointer_mut(place).unwrap_or_else(|| panic!("no {place}")) = value;
        let faults = faults(&bad);
        assert!(faults.len() == 1 && faults[0].contains(complaint), "{place}: {faults:?}");
    }
    let mut without = good.clone();
    without["photo"].as_object_mut().unwrap().remove("file");
    assert_eq!(faults(&without), ["$.photo lacks file"]);
    let mut more = good;
    more["photo"]["mood"] = json!("fine");
    assert_eq!(faults(&more), ["$.photo.mood is not described"]);
}

#[test]
fn every_property_says_what_it_is() {
    fn walk(place: &str, schema: &Value, mute: &mut Vec<String>) {
        for (name, property) in schema["properties"].as_object().into_iter().flatten() {
            let place = format!("{place}.{name}");
            let by_its_place = ["infected", "normal", "coated", "fibre", "undetermined"].contains(&name.as_str());
            if property.get("description").is_none() && property.get("$ref").is_none() && !by_its_place {
                mute.push(place.clone());
            }
            walk(&place, property, mute);
        }
    }
    let root = schema();
    let mut mute = Vec::new();
    walk("$", &root, &mut mute);
    root["$defs"].as_object().unwrap().iter().for_each(|(name, def)| walk(name, def, &mut mute));
    assert_eq!(mute, [""; 0]);
}

fn check(root: &Value, schema: &Value, value: &Value, place: &str, faults: &mut Vec<String>) {
    let keywords: &Map<String, Value> = schema.as_object().expect("a schema is an object");
    for (keyword, says) in keywords {
        let number = || (value.as_f64(), says.as_f64().unwrap_or(f64::NAN));
        let count = || says.as_u64().unwrap_or(0) as usize;
        let fault = match keyword.as_str() {
            "$schema" | "$id" | "$defs" | "title" | "description" => None,
            "$ref" => {
                let target = says.as_str().and_then(|path| root.pointer(path.trim_start_matches('#')));
                check(root, target.unwrap_or_else(|| panic!("{says} leads nowhere")), value, place, faults);
                None
            }
            "const" => (value != says).then(|| "is not the constant".to_owned()),
            "enum" => (!says.as_array().unwrap().contains(value)).then(|| format!("is none of {says}")),
            "type" => {
                let kinds: Vec<&str> = match says {
                    Value::String(kind) => vec![kind],
                    kinds => kinds.as_array().unwrap().iter().map(|kind| kind.as_str().unwrap()).collect(),
                };
                let fits = kinds.iter().any(|kind| match *kind {
                    "object" => value.is_object(),
                    "array" => value.is_array(),
                    "string" => value.is_string(),
                    "boolean" => value.is_boolean(),
                    "null" => value.is_null(),
                    "number" => value.is_number(),
                    "integer" => value.is_u64() || value.is_i64(),
                    other => panic!("type {other} is not known here"),
                });
                (!fits).then(|| format!("is no {}", kinds.join(" or ")))
            }
            "minimum" => matches!(number(), (Some(v), least) if v < least).then(|| format!("is below {says}")),
            "exclusiveMinimum" => {
                matches!(number(), (Some(v), least) if v <= least).then(|| format!("is not above {says}"))
            }
            "maximum" => matches!(number(), (Some(v), most) if v > most).then(|| format!("is above {says}")),
            "minLength" => {
                value.as_str().filter(|s| s.chars().count() < count()).map(|_| format!("is shorter than {says}"))
            }
            "maxLength" => {
                value.as_str().filter(|s| s.chars().count() > count()).map(|_| format!("is longer than {says}"))
            }
            "minItems" => value.as_array().filter(|v| v.len() < count()).map(|_| format!("has fewer than {says}")),
            "maxItems" => value.as_array().filter(|v| v.len() > count()).map(|_| format!("has more than {says}")),
            "items" => {
                for (i, item) in value.as_array().into_iter().flatten().enumerate() {
                    check(root, says, item, &format!("{place}[{i}]"), faults);
                }
                None
            }
            "prefixItems" => {
                for (i, (item, says)) in
                    value.as_array().into_iter().flatten().zip(says.as_array().unwrap()).enumerate()
                {
                    check(root, says, item, &format!("{place}[{i}]"), faults);
                }
                None
            }
            "required" => {
                for name in says.as_array().unwrap().iter().map(|name| name.as_str().unwrap()) {
                    if value.as_object().is_some_and(|object| !object.contains_key(name)) {
                        faults.push(format!("{place} lacks {name}"));
                    }
                }
                None
            }
            "properties" => {
                for (name, member) in value.as_object().into_iter().flatten() {
                    match says.get(name) {
                        Some(says) => check(root, says, member, &format!("{place}.{name}"), faults),
                        None => faults.push(format!("{place}.{name} is not described")),
                    }
                }
                None
            }
            "additionalProperties" => {
                assert!(!keywords.contains_key("properties"), "only maps have additionalProperties here");
                for (name, member) in value.as_object().into_iter().flatten() {
                    check(root, says, member, &format!("{place}.{name}"), faults);
                }
                None
            }
            other => panic!("keyword {other} is not known here"),
        };
        faults.extend(fault.map(|fault| format!("{place} {fault}")));
    }
}
