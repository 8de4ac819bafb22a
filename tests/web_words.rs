//! The words of the desk's pages: all that are needed, in both languages, and none of a veterinarian's judgement.

use std::collections::BTreeSet;

use pilumen::concerns::{Concern, ConcernKind};
use pilumen::exports::Language;
use pilumen::store::BODY_MAP;
use pilumen::web::PAGES;
use serde_json::Value;

use crate::judgement::judges_nobody;

/// As pages get them: their own words and those that all outputs say alike.
fn words(language: &str) -> serde_json::Map<String, Value> {
    let all = pilumen::web::words(language.parse().unwrap());
    all.iter().map(|(key, text)| (key.clone(), Value::from(text.as_str()))).collect()
}

#[test]
fn no_page_says_in_its_own_words_what_all_say_alike() {
    for language in ["en", "es"] {
        let text = std::fs::read_to_string(format!("src/web/assets/text/{language}.json")).unwrap();
        let own: serde_json::Map<String, Value> = serde_json::from_str(&text).unwrap();
        let shared = language.parse::<Language>().unwrap().terms().keyed();
        let twice: Vec<_> = shared.iter().filter(|(key, _)| own.contains_key(key)).collect();
        assert!(twice.is_empty(), "{language}: {twice:?}");
        assert!(shared.len() > BODY_MAP.len());
    }
}

#[test]
fn every_kind_of_reference_shaft_has_words() {
    let model: Value = serde_json::from_str(include_str!("../models/shaft-v1.json")).unwrap();
    let references = model["novelty"]["references"].as_array().unwrap();
    assert!(!references.is_empty());
    for language in ["en", "es"] {
        let words = words(language);
        let told = |kind: &str| words.contains_key(&format!("shaftKind.{kind}"));
        let untold: BTreeSet<&str> =
            references.iter().map(|one| one["kind"].as_str().unwrap()).filter(|kind| !told(kind)).collect();
        assert!(untold.is_empty() && told("confirmed"), "{language}: {untold:?}");
    }
}

#[test]
fn both_languages_say_the_same_things() {
    let (english, spanish) = (words("en"), words("es"));
    assert_eq!(english.keys().collect::<Vec<_>>(), spanish.keys().collect::<Vec<_>>());
    let holes = |text: &Value| -> BTreeSet<String> {
        text.as_str().unwrap().split('{').skip(1).filter_map(|rest| Some(rest.split_once('}')?.0.to_owned())).collect()
    };
    for (key, text) in &english {
        assert_eq!(holes(text), holes(&spanish[key]), "{key}");
        assert!(
            !text.as_str().unwrap().trim().is_empty() && !spanish[key].as_str().unwrap().trim().is_empty(),
            "{key}"
        );
    }
    // What is only places to fill in says the same in any language.
    let said = |text: &Value| -> String {
        let parts = text.as_str().unwrap().split('{').map(|part| part.rsplit('}').next().unwrap_or_default());
        parts.collect()
    };
    let same: Vec<&String> = english
        .iter()
        .filter(|(key, text)| spanish[*key] == **text && said(text).chars().filter(|c| c.is_alphabetic()).count() > 8)
        .map(|(key, _)| key)
        .collect();
    assert!(same.is_empty(), "sentences that were left untranslated: {same:?}");
}

#[test]
fn no_word_of_a_veterinarians_judgement_is_on_the_pages() {
    for language in ["en", "es"] {
        for (key, text) in words(language) {
            judges_nobody(&format!("{language} {key}"), text.as_str().unwrap());
        }
    }
}

#[test]
fn every_word_that_scripts_and_the_program_need_is_there() {
    let english = words("en");
    let mut needed: BTreeSet<String> = BTreeSet::new();
    for file in std::fs::read_dir("src/web/assets/js").unwrap() {
        let text = std::fs::read_to_string(file.unwrap().path()).unwrap();
        for start in ["t(\"", "button(\"", "panel(\"", "pick(\"", "form(\"", "[\""] {
            for rest in text.split(start).skip(1) {
                let key = rest.split('"').next().unwrap();
                if key.contains('.') && !key.contains(' ') && !key.contains('/') {
                    needed.insert(key.to_owned());
                }
            }
        }
    }
    assert!(needed.len() > 150, "{} keys were found in scripts", needed.len());
    needed.extend(pilumen::features::catalogue::CATALOGUE.iter().map(|entry| format!("feature.{}", entry.key)));
    needed.extend(BODY_MAP.iter().map(|place| format!("site.{}", place.name)));
    for (_, script, is_named) in PAGES {
        needed.insert(format!("title.{script}"));
        needed.extend(is_named.then(|| format!("nav.{script}")));
    }
    needed.extend(ConcernKind::ALL.iter().flat_map(|&kind| {
        let code = Concern::new(kind).code();
        [format!("concern.{code}"), format!("concern.{code}.do")]
    }));
    let missing: Vec<&String> = needed.iter().filter(|key| !english.contains_key(*key)).collect();
    assert!(missing.is_empty(), "{missing:?}");
}
