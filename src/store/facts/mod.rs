//! What is kept: one struct a kind of fact, checked before it is kept, written as JSON.
//!
//! A field that is absent was not told; it is never a stand-in for "no".

use serde::Serialize;
use serde::de::DeserializeOwned;

mod animal;
mod correction;
mod culture;
mod exam;
mod kind;
mod others;
mod reading;
mod sites;
mod slide;

pub use animal::{AgeClass, Animal, CoatLength, Identifier, Neuter, Sex};
pub use correction::{Change, Correction, End};
pub use culture::{Culture, Growth, PlateReading};
pub use exam::{Answer, Evenness, Exam, LampKind, SiteSeen};
pub use kind::Kind;
pub use others::{Contact, Note, Treatment, TreatmentKind};
pub use reading::{Program, Reading, ShaftRead};
pub use sites::{BODY_MAP, Site, SitePlace};
pub use slide::{Light, Photo, Slide};

/// A day of the calendar, written 2026-11-25.
pub type Day = jiff::civil::Date;

/// Longest free text that is kept, bytes: a page of notes, not a file.
pub const MAX_TEXT_BYTES: usize = 20_000;

/// One kind of fact.
pub trait Fact: Serialize + DeserializeOwned + Clone {
    /// Which.
    const KIND: Kind;

    /// Why this cannot be kept, as a sentence that starts small; `today` is the day it is told on.
    ///
    /// # Errors
    /// When it contradicts itself, lies in the future, or is empty.
    fn check(&self, today: Day) -> Result<(), String>;

    /// The day it is about; absent for facts that are about no day.
    fn day(&self) -> Option<Day> {
        None
    }

    /// What a search finds it by; absent when it has no words of its own.
    fn words(&self) -> Option<String> {
        None
    }

    /// A short state that lists ask for; its meaning depends on the kind.
    fn state(&self) -> Option<String> {
        None
    }
}

/// Checks that a day has come.
fn not_after(what: &str, day: Day, today: Day) -> Result<(), String> {
    if day > today {
        return Err(format!(
            "{what} {day} lies in the future (today is {today}); check the date, and the computer's clock"
        ));
    }
    // No lamp examination was made before lamps: a slip of the finger such as 0206 for 2026.
    if day.year() < EARLIEST_YEAR {
        return Err(format!("{what} {day} is too long ago to be meant; check the year"));
    }
    Ok(())
}

/// No day before this year is taken: no cat of today was born then. A slip such as 0206 for 2026 is found by it.
const EARLIEST_YEAR: i16 = 1980;

/// Checks that a text says something, and is a text and not a file.
fn some_text(what: &str, text: &str) -> Result<(), String> {
    if text.trim().is_empty() {
        return Err(format!("{what} is empty; write something there"));
    }
    short_text(what, Some(text))
}

/// Checks that a text, where there is one, is a text and not a file.
fn short_text(what: &str, text: Option<&str>) -> Result<(), String> {
    let Some(text) = text else { return Ok(()) };
    if text.len() > MAX_TEXT_BYTES {
        return Err(format!("{what} is longer than {MAX_TEXT_BYTES} bytes; keep it short"));
    }
    if text.chars().any(|c| c.is_control() && c != '\n' && c != '\t') {
        return Err(format!("{what} has control characters in it; write plain text"));
    }
    Ok(())
}

/// Several texts as one to be searched.
fn joined<'a>(parts: impl IntoIterator<Item = Option<&'a str>>) -> Option<String> {
    let parts: Vec<&str> = parts.into_iter().flatten().filter(|part| !part.is_empty()).collect();
    (!parts.is_empty()).then(|| parts.join(" "))
}

/// A closed list of words: an enum that is written, shown and read as the same word.
macro_rules! words {
    ($(#[$about:meta])* $name:ident { $($(#[$means:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$about])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
        pub enum $name { $($(#[$means])* #[serde(rename = $word)] $variant),+ }

        impl $name {
            /// All of them, in the order of this list.
            pub const ALL: &'static [$name] = &[$($name::$variant),+];

            /// The word as it is written and shown.
            pub fn word(self) -> &'static str {
                match self { $($name::$variant => $word),+ }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.word())
            }
        }

        impl std::str::FromStr for $name {
            type Err = String;

            fn from_str(word: &str) -> Result<$name, String> {
                let known = || $name::ALL.iter().map(|one| one.word()).collect::<Vec<_>>().join(", ");
                $name::ALL.iter().copied().find(|one| one.word() == word.trim().to_lowercase())
                    .ok_or_else(|| format!("\"{word}\" is none of: {}", known()))
            }
        }
    };
}
use words;
