//! An animal, as it came in.

use serde::{Deserialize, Serialize};

use super::{Day, Fact, Kind, joined, not_after, short_text, some_text, words};

words! {
    /// How long the coat is.
    CoatLength {
        /// Short coat.
        Short = "short",
        /// Half-long coat.
        Medium = "medium",
        /// Long coat.
        Long = "long",
        /// Hardly any coat.
        Hairless = "hairless",
    }
}

words! {
    /// How old the animal is, roughly.
    AgeClass {
        /// Not weaned, up to about two months.
        Neonate = "neonate",
        /// Up to about half a year.
        Kitten = "kitten",
        /// Up to about one year.
        Juvenile = "juvenile",
        /// Grown up.
        Adult = "adult",
        /// Old.
        Senior = "senior",
    }
}

words! {
    /// Sex.
    Sex {
        /// Female.
        Female = "female",
        /// Male.
        Male = "male",
    }
}

words! {
    /// Whether it was neutered.
    Neuter {
        /// Neutered.
        Neutered = "neutered",
        /// Not neutered.
        Intact = "intact",
    }
}

/// An animal. Only the name is needed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Animal {
    /// What it is called here; need not be unique.
    pub name: String,
    /// How long the coat is.
    #[serde(default)]
    pub coat_length: Option<CoatLength>,
    /// Colour of the coat, free words.
    #[serde(default)]
    pub coat_colour: Option<String>,
    /// How old it is, roughly.
    #[serde(default)]
    pub age_class: Option<AgeClass>,
    /// Sex.
    #[serde(default)]
    pub sex: Option<Sex>,
    /// Whether it was neutered.
    #[serde(default)]
    pub neuter: Option<Neuter>,
    /// Numbers and names by which others know it: chip, tattoo, shelter number.
    #[serde(default)]
    pub identifiers: Vec<Identifier>,
    /// The day it came in.
    #[serde(default)]
    pub intake: Option<Day>,
    /// The group or litter it lives or came with.
    #[serde(default)]
    pub group: Option<String>,
}

/// A number or name by which others know the animal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Identifier {
    /// What kind: `chip`, `tattoo`, `shelter number`, free words.
    pub kind: String,
    /// The number or name.
    pub value: String,
}

impl Fact for Animal {
    const KIND: Kind = Kind::Animal;

    fn check(&self, today: Day) -> Result<(), String> {
        some_text("the animal's name", &self.name)?;
        short_text("the coat's colour", self.coat_colour.as_deref())?;
        short_text("the group", self.group.as_deref())?;
        for identifier in &self.identifiers {
            some_text("the kind of an identifier", &identifier.kind)?;
            some_text("an identifier", &identifier.value)?;
        }
        self.intake.map_or(Ok(()), |day| not_after("the day of intake", day, today))
    }

    fn day(&self) -> Option<Day> {
        self.intake
    }

    fn words(&self) -> Option<String> {
        let plain = [Some(self.name.as_str()), self.coat_colour.as_deref(), self.group.as_deref()];
        joined(plain.into_iter().chain(self.identifiers.iter().map(|one| Some(one.value.as_str()))))
    }
}
