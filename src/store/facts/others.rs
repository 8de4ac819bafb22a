//! Treatments and baths, notes, and contacts through which an animal was exposed.

use serde::{Deserialize, Serialize};

use super::{Day, Fact, Kind, joined, not_after, short_text, some_text, words};

words! {
    /// What kind of treatment.
    TreatmentKind {
        /// A bath or dip.
        Bath = "bath",
        /// Something put on the skin.
        Topical = "topical",
        /// Something given by mouth or needle.
        Systemic = "systemic",
        /// Clipping of the coat.
        Clipping = "clipping",
        /// Something else.
        Other = "other",
    }
}

/// A treatment or a bath.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Treatment {
    /// The day it was given or begun.
    pub day: Day,
    /// The day it ended; absent for a single one, or while it goes on.
    #[serde(default)]
    pub until: Option<Day>,
    /// What kind.
    pub kind: TreatmentKind,
    /// What was given, free words.
    pub with: String,
    /// How much and how often, free words.
    #[serde(default)]
    pub dose: Option<String>,
}

impl Fact for Treatment {
    const KIND: Kind = Kind::Treatment;

    fn check(&self, today: Day) -> Result<(), String> {
        some_text("what was given", &self.with)?;
        short_text("the dose", self.dose.as_deref())?;
        if let Some(until) = self.until.filter(|&until| until < self.day) {
            return Err(format!("the treatment ends on {until}, before it begins on {}; check the days", self.day));
        }
        not_after("the day of the treatment", self.day, today)
    }

    fn day(&self) -> Option<Day> {
        Some(self.day)
    }

    fn words(&self) -> Option<String> {
        joined([Some(self.with.as_str())])
    }
}

/// A note in free words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Note {
    /// The day it is about; absent: no day in particular.
    #[serde(default)]
    pub day: Option<Day>,
    /// The words.
    pub text: String,
}

impl Fact for Note {
    const KIND: Kind = Kind::Note;

    fn check(&self, today: Day) -> Result<(), String> {
        some_text("the note", &self.text)?;
        self.day.map_or(Ok(()), |day| not_after("the day of the note", day, today))
    }

    fn day(&self) -> Option<Day> {
        self.day
    }

    fn words(&self) -> Option<String> {
        Some(self.text.clone())
    }
}

/// A contact through which the animal whose case this is was, or may have been, exposed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Contact {
    /// The last day of the contact.
    pub day: Day,
    /// Id of the animal it was exposed to, where that is in a record; it need not be in this one.
    #[serde(default)]
    pub source: Option<String>,
    /// Who or what it was exposed to, in words; the name of the animal.
    pub with: String,
    /// What kind of contact, free words: `same room`, `shared brush`.
    #[serde(default)]
    pub how: Option<String>,
}

impl Fact for Contact {
    const KIND: Kind = Kind::Contact;

    fn check(&self, today: Day) -> Result<(), String> {
        some_text("what the animal was exposed to", &self.with)?;
        short_text("the kind of contact", self.how.as_deref())?;
        not_after("the day of the contact", self.day, today)
    }

    fn day(&self) -> Option<Day> {
        Some(self.day)
    }

    fn words(&self) -> Option<String> {
        joined([Some(self.with.as_str()), self.how.as_deref()])
    }
}
