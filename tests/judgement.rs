//! The words of a veterinarian's judgement, which no output says; the one list that all tests hold outputs against.
//!
//! Unit tests of the crate have it too: `src/lib.rs` takes this file in.

/// Beginnings of words, English and Spanish together: no word of either language that an output needs begins so.
const BEGINNINGS: [&str; 13] = [
    "positiv", "negativ", "diagn", "safe", "segur", "cured", "cures", "curad", "healthy", "saludabl", "sick", "enferm",
    "clear",
];

/// Whole words, whose beginnings are those of harmless ones (culture, sanitary).
const WHOLE: [&str; 8] = ["cure", "curing", "cura", "curar", "sano", "sana", "sanos", "sanas"];

/// What is said of a thing and not of an animal, and is left out before the words are looked at: tape, names of ranges of
/// simulated scenes (in a manual's page too), such scenes, the title of a textbook's chapter that is cited.
const OF_THINGS: [&str; 8] = [
    "clear tape",
    "-clear",
    "\\-clear",
    "healthy scenes",
    "\"ringworm diagnosis\"",
    "&quot;ringworm diagnosis&quot;",
    "*ringworm diagnosis*",
    "textbook, ringworm diagnosis",
];

/// The words of `text` that must not be said, each as it stands there in small letters.
pub(crate) fn judging(text: &str) -> Vec<String> {
    let mut text = text.to_lowercase();
    for thing in OF_THINGS {
        text = text.replace(thing, " ");
    }
    let judges = |word: &str| WHOLE.contains(&word) || BEGINNINGS.iter().any(|start| word.starts_with(start));
    text.split(|c: char| !c.is_alphabetic()).filter(|word| judges(word)).map(str::to_owned).collect()
}

/// Fails, naming the text and the words, when `text` says what must not be said.
#[track_caller]
pub(crate) fn judges_nobody(name: &str, text: &str) {
    let said = judging(text);
    assert!(said.is_empty(), "{name} says {said:?}: {}", text.chars().take(600).collect::<String>());
}

#[test]
fn each_word_is_found_in_any_form_and_harmless_ones_are_not() {
    for said in [
        "Positive!",
        "NEGATIVE",
        "diagnostic",
        "Diagnóstico",
        "cured",
        "a cure",
        "safely",
        "clearly clear",
        "sana",
        "enfermo",
        "negativos",
        "seguridad",
    ] {
        assert!(!judging(said).is_empty(), "{said}");
    }
    for harmless in ["a fungal culture", "press it on clear tape", "procure", "nuclear", "cultivo", "sanitario", ""] {
        assert_eq!(judging(harmless), [""; 0], "{harmless}");
    }
}
