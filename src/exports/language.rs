//! The languages that people are told things in.

use std::fmt;
use std::str::FromStr;

/// A language; every output that has words has them in all of these.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Language {
    /// English.
    #[default]
    English,
    /// Spanish.
    Spanish,
}

impl Language {
    /// All languages.
    pub const ALL: [Language; 2] = [Language::English, Language::Spanish];

    /// Its tag, BCP 47.
    pub fn tag(self) -> &'static str {
        match self {
            Language::English => "en",
            Language::Spanish => "es",
        }
    }

    /// Its own name.
    pub fn name(self) -> &'static str {
        match self {
            Language::English => "English",
            Language::Spanish => "Español",
        }
    }
}

impl fmt::Display for Language {
    fn fmt(&self, to: &mut fmt::Formatter) -> fmt::Result {
        to.write_str(self.tag())
    }
}

impl FromStr for Language {
    type Err = String;

    fn from_str(tag: &str) -> Result<Language, String> {
        let known = Language::ALL.into_iter().find(|language| language.tag().eq_ignore_ascii_case(tag));
        known.ok_or_else(|| format!("there is no language \"{}\"; known: en, es", tag.replace(char::is_control, "?")))
    }
}
