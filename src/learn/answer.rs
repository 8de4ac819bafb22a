//! What a learner says of a shaft, what is true of it, and whether the two agree.

use serde::{Deserialize, Serialize};

use crate::sim;

/// What a shaft looks like, in the words of the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Call {
    /// Looks infected.
    Infected,
    /// Looks ordinary.
    Normal,
    /// Looks coated.
    Coated,
    /// Not hair.
    Fibre,
    /// Cannot say; never true of a drawn shaft.
    Undetermined,
}

impl Call {
    /// All, in the order of tables; the last one is an answer only.
    pub const ALL: [Call; 5] = [Call::Infected, Call::Normal, Call::Coated, Call::Fibre, Call::Undetermined];

    /// Stable name, as in files.
    pub fn code(self) -> &'static str {
        match self {
            Call::Infected => "infected",
            Call::Normal => "normal",
            Call::Coated => "coated",
            Call::Fibre => "fibre",
            Call::Undetermined => "undetermined",
        }
    }
}

impl From<sim::Look> for Call {
    fn from(look: sim::Look) -> Call {
        match look {
            sim::Look::Infected => Call::Infected,
            sim::Look::Normal => Call::Normal,
            sim::Look::Coated => Call::Coated,
            sim::Look::Fibre => Call::Fibre,
        }
    }
}

/// Where a shaft glows beyond its own glow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Place {
    /// Nowhere.
    None,
    /// From the base.
    Base,
    /// All along.
    Whole,
    /// Towards the tip.
    Tip,
    /// In patches.
    Patchy,
    /// Cannot say; never true of a drawn shaft.
    Unknown,
}

impl Place {
    /// All, in the order of printed choices.
    pub const ALL: [Place; 6] = [Place::None, Place::Base, Place::Whole, Place::Tip, Place::Patchy, Place::Unknown];

    /// Stable name, as in files.
    pub fn code(self) -> &'static str {
        match self {
            Place::None => "none",
            Place::Base => "base",
            Place::Whole => "whole",
            Place::Tip => "tip",
            Place::Patchy => "patchy",
            Place::Unknown => "unknown",
        }
    }
}

impl From<sim::Zone> for Place {
    fn from(zone: sim::Zone) -> Place {
        match zone {
            sim::Zone::None => Place::None,
            sim::Zone::Base => Place::Base,
            sim::Zone::Whole => Place::Whole,
            sim::Zone::Tip => Place::Tip,
            sim::Zone::Patchy => Place::Patchy,
        }
    }
}

/// Which of the two lettered ends is the root's.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum End {
    /// The end marked A.
    A,
    /// The end marked B.
    B,
    /// Cannot say; never true of a drawn shaft.
    Unknown,
}

/// What is true of a shaft, as far as it is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Truth {
    /// What it is.
    pub look: Call,
    /// Where it glows beyond its own glow; absent for what is not hair, where it is not asked.
    pub place: Option<Place>,
    /// Which end is the root's; absent where neither end is in view or it is not hair.
    pub base: Option<End>,
}

/// What a learner said of a shaft.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Answer {
    /// The shaft's number on the photo.
    pub shaft: usize,
    /// What it looks like.
    pub look: Call,
    /// Where it glows; absent when not answered.
    #[serde(default)]
    pub place: Option<Place>,
    /// The root's end; absent when not answered.
    #[serde(default)]
    pub base: Option<End>,
}

/// A shaft with what is true of it and what was said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MarkedShaft {
    /// What is true.
    pub truth: Truth,
    /// What was said.
    pub answer: Answer,
}

impl MarkedShaft {
    /// Whether the look is right; "cannot say" is not.
    pub fn look_is_right(&self) -> bool {
        self.answer.look == self.truth.look
    }

    /// Whether the place is right; absent where it was not asked. Not answering is not right.
    pub fn place_is_right(&self) -> Option<bool> {
        self.truth.place.map(|place| self.answer.place == Some(place))
    }

    /// Whether the root's end is right; absent where it was not asked. Not answering is not right.
    pub fn base_is_right(&self) -> Option<bool> {
        self.truth.base.map(|base| self.answer.base == Some(base))
    }
}

/// A photo that a learner has answered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Marked {
    /// Name of the item, such as `p2-17`.
    pub item: String,
    /// When, as the clock wrote it; empty where it is not known (a printed sheet).
    pub at: String,
    /// Whether the learner had seen it before: then it counts for practice, not for the standing.
    pub back: bool,
    /// Its shafts.
    pub shafts: Vec<MarkedShaft>,
}

impl Marked {
    /// Whether some look was missed: then the photo comes back.
    pub fn was_missed(&self) -> bool {
        self.shafts.iter().any(|shaft| !shaft.look_is_right())
    }
}
