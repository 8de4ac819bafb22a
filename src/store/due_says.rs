//! What is to be done, as what it is made of; told in English here, in other languages by who shows it.

use std::fmt;

use super::facts::{Day, Site};

/// What is to be done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DueSays {
    /// An exposed animal is looked at again.
    AfterContact {
        /// Days after the contact.
        days: i64,
        /// With whom.
        with: String,
        /// The day of the contact.
        on: Day,
    },
    /// It fluoresced without hair loss.
    HairLost {
        /// Where.
        place: Site,
    },
    /// Crust may hide what fluoresces.
    LiftCrust {
        /// Where.
        place: Site,
    },
    /// The lamp left doubt.
    Doubtful {
        /// Where.
        place: Site,
        /// The day of that exam.
        on: Day,
    },
    /// No hair was sent for culture since it was seen.
    SendHairs {
        /// From where.
        place: Site,
    },
    /// What grew is to be confirmed under the microscope.
    ConfirmGrowth {
        /// Which culture.
        of: CultureSaid,
    },
    /// A laboratory's answer is to be entered.
    Answer {
        /// Which test.
        of: CultureSaid,
    },
    /// A culture is held longer.
    Hold {
        /// Which culture.
        of: CultureSaid,
        /// The day of the next look.
        next: Day,
        /// Days from sending to that day.
        days: i64,
    },
    /// A plate is looked at.
    LookAtPlate {
        /// Which culture.
        of: CultureSaid,
        /// Days since it was sent.
        days: i64,
        /// Whether it is the last look.
        last: bool,
    },
    /// Shafts are to be followed up.
    NextSlide {
        /// Where.
        place: Site,
        /// The day of the slide before.
        of: Day,
    },
    /// No photo could be judged.
    NextPhoto {
        /// Where.
        place: Site,
        /// The day of the slide.
        of: Day,
    },
}

/// How a culture is named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CultureSaid {
    /// Its medium.
    pub medium: String,
    /// The day it was sent.
    pub sent: Day,
    /// Its short id.
    pub id: String,
}

impl fmt::Display for CultureSaid {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(to, "{} of {} ({})", self.medium, self.sent, self.id)
    }
}

impl fmt::Display for DueSays {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            DueSays::AfterContact { days, with, on } => {
                write!(to, "look under the lamp again: {days} days after contact with {with} on {on}")
            }
            DueSays::HairLost { place } => write!(to, "look at {place} again: has it lost hair?"),
            DueSays::LiftCrust { place } => write!(to, "lift the crust at {place} and look again"),
            DueSays::Doubtful { place, on } => write!(to, "look at {place} again: it was doubtful on {on}"),
            DueSays::SendHairs { place } => {
                write!(to, "send hairs from {place} for culture: none was sent since it was seen")
            }
            DueSays::ConfirmGrowth { of } => {
                write!(to, "{of}: something grew; confirm it under the microscope, red medium alone is no proof")
            }
            DueSays::Answer { of } => write!(to, "{of}: enter the laboratory's answer"),
            DueSays::Hold { of, next, days } => write!(to, "{of}: hold it, look next on {next} (day {days})"),
            DueSays::LookAtPlate { of, days, last } => {
                let last = if *last { ", for the last time" } else { "" };
                write!(to, "{of}: look at the plate (day {days}){last}, and write down what grew")
            }
            DueSays::NextSlide { place, of } => {
                write!(to, "make another slide of {place}: that of {of} had shafts to be followed up")
            }
            DueSays::NextPhoto { place, of } => {
                write!(to, "take another photo of {place}: none of {of} could be judged")
            }
        }
    }
}
