//! The words of the pages: those that only pages say, from `assets/text/`, and those that all outputs say alike.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use crate::exports::Language;

/// All words of the pages by key, in a language.
pub fn words(language: Language) -> &'static BTreeMap<String, String> {
    static ALL: OnceLock<[BTreeMap<String, String>; 2]> = OnceLock::new();
    let all = ALL.get_or_init(|| {
        Language::ALL.map(|language| {
            let text = match language {
                Language::English => include_str!("assets/text/en.json"),
                Language::Spanish => include_str!("assets/text/es.json"),
            };
            // A file that cannot be read shows as keys without words, which a test forbids.
            let mut words: BTreeMap<String, String> = serde_json::from_str(text).unwrap_or_default();
            words.extend(language.terms().keyed().into_iter().map(|(key, text)| (key, text.to_owned())));
            words
        })
    });
    &all[language as usize]
}

/// The words of the file `text/TAG.json`, as pages load them.
pub(super) fn file(path: &str) -> Option<Vec<u8>> {
    let tag = path.strip_prefix("text/")?.strip_suffix(".json")?;
    let language: Language = tag.parse().ok()?;
    serde_json::to_vec(words(language)).ok()
}
