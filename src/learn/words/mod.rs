//! The words of the atlas and of printed series, in each language.

mod en;
mod es;

use std::collections::BTreeMap;
use std::sync::OnceLock;

use super::callouts::Part;
use super::plates::Group;
pub use crate::exports::Language;

/// What is said of a plate.
#[derive(Clone, Copy, Debug)]
pub(super) struct PlateWords {
    /// Its title.
    pub(super) title: &'static str,
    /// What to look for; one sentence each.
    pub(super) look_for: &'static [&'static str],
    /// What it is mistaken for, and how to tell.
    pub(super) mistaken: &'static [&'static str],
}

macro_rules! phrases {
    ($($name:ident),+ $(,)?) => {
        /// Everything else that is said.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Phrase { $(#[allow(missing_docs, reason = "the words say it")] $name),+ }

        impl Phrase {
            /// All phrases.
            pub const ALL: &'static [Phrase] = &[$(Phrase::$name),+];
        }
    };
}

phrases!(
    Atlas,
    Simulated,
    SimulatedLong,
    Culture,
    ToIndex,
    ToDesk,
    Next,
    Before,
    DaysTitle,
    DaysLead,
    DaysInfection,
    DaysRecovery,
    DayOfInfection,
    DayOfRecovery,
    DaysCaution,
    Light,
    Ultraviolet,
    Visible,
    WholeUv,
    WholeVisible,
    CloseUv,
    CloseVisible,
    Short,
    LookFor,
    Mistaken,
    ProgramTitle,
    ProgramSaid,
    ProgramCannot,
    ProgramMissed,
    ProgramWidth,
    Drawn,
    Reasons,
    StripTitle,
    ProfileWidth,
    NotMeasured,
    Along,
    Sources,
    HowToStart,
    Start1,
    Start2,
    Start3,
    Words,
    BaseIs,
    TipIs,
    ShaftIs,
    CuticleIs,
    GlowIs,
    CuffIs,
    SeriesTitle,
    SeriesLead,
    SeriesPhoto,
    SeriesShaft,
    SeriesLook,
    SeriesWhere,
    SeriesRoot,
    SeriesKey,
    KeySaid,
    KeyCannot,
    SeriesName,
    SeriesAnswers,
    SeriesFold,
    PartlySimulated,
    OwnTitle,
    OwnLead,
    OwnQuestion,
    OwnGrew,
    OwnDidNot,
    OwnCannotSay,
    OwnKey,
    OwnCulture,
    OwnPersonSaid,
    NotAsked,
    Width,
);

/// The words for a phrase.
pub(super) fn phrase(language: Language, phrase: Phrase) -> &'static str {
    match language {
        Language::English => en::phrase(phrase),
        Language::Spanish => es::phrase(phrase),
    }
}

/// What is said of a plate; plates without words have their code for a title, which a test forbids.
pub(super) fn plate(language: Language, code: &'static str) -> PlateWords {
    let all = match language {
        Language::English => en::PLATES,
        Language::Spanish => es::PLATES,
    };
    let found = all.iter().find(|(known, _)| *known == code).map(|(_, words)| *words);
    found.unwrap_or(PlateWords { title: code, look_for: &[], mistaken: &[] })
}

/// A part's name for a callout.
pub(super) fn part(language: Language, part: Part) -> &'static str {
    match language {
        Language::English => en::part(part),
        Language::Spanish => es::part(part),
    }
}

/// A heading.
pub(super) fn group(language: Language, group: Group) -> &'static str {
    match language {
        Language::English => en::group(group),
        Language::Spanish => es::group(group),
    }
}

/// A word of the desk by its key (looks, zones, measurements): both show the same words for the same things.
pub(super) fn of_desk(language: Language, key: &str) -> String {
    static ALL: OnceLock<[BTreeMap<String, String>; 2]> = OnceLock::new();
    let all = ALL.get_or_init(|| {
        let files = [include_str!("../../web/assets/text/en.json"), include_str!("../../web/assets/text/es.json")];
        [0, 1].map(|at| {
            let mut words: BTreeMap<String, String> = serde_json::from_str(files[at]).unwrap_or_default();
            words.extend(Language::ALL[at].terms().keyed().into_iter().map(|(key, text)| (key, text.to_owned())));
            words
        })
    });
    all[language as usize].get(key).cloned().unwrap_or_else(|| key.to_owned())
}

#[cfg(test)]
mod tests {
    use super::{Language, Phrase, group, of_desk, part, phrase, plate};
    use crate::learn::{Group, Part, plates};

    fn every_sentence(language: Language) -> Vec<String> {
        let mut all: Vec<String> = Phrase::ALL.iter().map(|one| phrase(language, *one).to_owned()).collect();
        for one in plates() {
            let words = plate(language, one.code);
            all.push(words.title.to_owned());
            all.extend(words.look_for.iter().chain(words.mistaken).map(|sentence| (*sentence).to_owned()));
        }
        all.extend(Part::ALL.iter().map(|one| part(language, *one).to_owned()));
        all.extend(Group::ALL.iter().map(|one| group(language, *one).to_owned()));
        all
    }

    #[test]
    fn both_languages_say_all_of_it() {
        for one in plates() {
            let (english, spanish) = (plate(Language::English, one.code), plate(Language::Spanish, one.code));
            assert_ne!(english.title, one.code, "{} has words", one.code);
            assert_ne!(spanish.title, english.title, "{} is translated", one.code);
            assert!(english.look_for.len() >= 2 && !english.mistaken.is_empty(), "{}", one.code);
            assert_eq!(english.look_for.len(), spanish.look_for.len(), "{}", one.code);
            assert_eq!(english.mistaken.len(), spanish.mistaken.len(), "{}", one.code);
        }
        let holes = |text: &str| {
            text.split('{').skip(1).map(|rest| rest.split('}').next().unwrap().to_owned()).collect::<Vec<_>>()
        };
        for one in Phrase::ALL {
            assert_eq!(holes(phrase(Language::English, *one)), holes(phrase(Language::Spanish, *one)), "{one:?}");
        }
    }

    #[test]
    fn no_word_of_a_veterinarians_judgement() {
        for (language, forbidden) in [
            (Language::English, ["positive", "negative", "diagnos", "cured", " safe", "clear"]),
            (Language::Spanish, ["positiv", "negativ", "diagn", "curad", "segur", " sano"]),
        ] {
            for sentence in every_sentence(language) {
                let low = sentence.to_lowercase();
                for word in forbidden {
                    assert!(!low.contains(word), "{sentence}");
                }
            }
        }
    }

    #[test]
    fn words_of_the_desk_are_found() {
        assert_eq!(of_desk(Language::English, "look.normal"), "looks ordinary");
        assert_eq!(of_desk(Language::Spanish, "look.normal"), "parece corriente");
    }
}
