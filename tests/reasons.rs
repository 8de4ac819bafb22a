//! Reasons in words: every feature that may vote has its phrases in both languages.

use pilumen::exports::{Language, told};
use pilumen::features::catalogue::CATALOGUE;
use pilumen::record::{Look, Reason};

use crate::judgement::judges_nobody;

fn sentence(
    feature: &'static str,
    unit: &'static str,
    value: f64,
    reference: Option<f64>,
    language: Language,
) -> String {
    told(&Reason { feature, value, unit, reference, towards: Look::Infected, weight: 0.1 }, Look::Infected, language)
}

#[test]
fn every_feature_that_votes_is_told_in_words_and_never_by_its_key() {
    for entry in CATALOGUE.iter().filter(|entry| entry.votes) {
        for language in [Language::English, Language::Spanish] {
            let all: Vec<String> = [(0.9, Some(0.1)), (0.1, Some(0.9)), (0.5, None)]
                .into_iter()
                .map(|(value, reference)| sentence(entry.key, entry.unit, value, reference, language))
                .collect();
            for text in &all {
                assert!(!text.contains(entry.key) && !text.contains(['{', '}', '\n']), "{}: {text}", entry.key);
                assert!(!text.ends_with('.'), "{text}");
            }
        }
        // A phrase that is the same in both languages was not translated.
        let told = |language| sentence(entry.key, entry.unit, 0.9, Some(0.1), language);
        assert_ne!(told(Language::English), told(Language::Spanish));
        let more = sentence(entry.key, entry.unit, 5.0, Some(0.1), Language::English);
        let less = sentence(entry.key, entry.unit, -0.5, Some(0.1), Language::English);
        assert_ne!(more.split('(').next(), less.split('(').next(), "{}: more and less read alike", entry.key);
    }
}

#[test]
fn no_sentence_says_what_must_not_be_said() {
    for entry in CATALOGUE.iter().filter(|entry| entry.votes) {
        for value in [-0.4, 0.4] {
            for language in Language::ALL {
                judges_nobody(entry.key, &sentence(entry.key, entry.unit, value, Some(0.0), language));
            }
        }
    }
}
