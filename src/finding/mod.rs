//! 6 · What each shaft is held to be, and why; and what the shafts of a slide add up to.

use crate::concerns::Concern;

pub mod abstention;

pub mod advice;

pub mod calibration;

pub mod conformal;

mod debris;

pub mod debris_model;

pub mod ensemble;

mod from_features;

pub mod judgement;

pub mod model;

pub mod novelty;

pub mod reasons;

pub mod shapley;

pub mod slide;

pub use from_features::{
    Finding, as_debris, from_features, model_from_bytes, slide_shaft, verdict, with_looks, without_debris,
};

pub use model::{Model, ModelError};

/// What a shaft may look like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Look {
    /// Looks infected.
    Infected,
    /// Looks ordinary.
    Normal,
    /// Looks coated: residue of medicine, soap, food or dander on an ordinary shaft.
    Coated,
    /// Not hair: textile or plant fibre.
    Fibre,
}

impl Look {
    /// How many looks there are.
    pub const COUNT: usize = 4;

    /// All looks, in the order of probabilities.
    pub const ALL: [Look; Look::COUNT] = [Look::Infected, Look::Normal, Look::Coated, Look::Fibre];

    /// Stable name for files and programs.
    pub fn code(self) -> &'static str {
        match self {
            Look::Infected => "infected",
            Look::Normal => "normal",
            Look::Coated => "coated",
            Look::Fibre => "fibre",
        }
    }

    /// As shown to people.
    pub fn words(self) -> &'static str {
        match self {
            Look::Infected => "looks infected",
            Look::Normal => "looks ordinary",
            Look::Coated => "looks coated",
            Look::Fibre => "not hair",
        }
    }
}

/// What is held of one shaft.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// The look; `None` when the program cannot say.
    pub look: Option<Look>,
    /// Calibrated probability of each look, in the order of [`Look::ALL`]; sums to 1.
    pub probability: [f64; 4],
    /// The looks that cannot be ruled out at 90 %.
    pub plausible: Vec<Look>,
    /// Distance from the reference shafts; 1 = as far as 99 % of them are from each other.
    pub novelty: f64,
    /// The nearest two reference shafts (one where the model has one only), nearest first.
    pub nearest: Vec<Nearest>,
    /// The measurements that moved the vote most, strongest first.
    pub reasons: Vec<Reason>,
    /// What a person should know about this shaft.
    pub concerns: Vec<Concern>,
}

/// A reference shaft that a judged shaft is like.
#[derive(Clone, Debug, PartialEq)]
pub struct Nearest {
    /// Its number among the model's reference shafts, from 1.
    pub id: usize,
    /// What it is.
    pub look: Look,
    /// The kind of shaft within the look, as training named it.
    pub kind: String,
    /// Its distance in the unit of novelty.
    pub distance: f64,
}

/// One measurement that moved the vote.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// Key in the catalogue of features.
    pub feature: &'static str,
    /// What was measured.
    pub value: f64,
    /// Its unit.
    pub unit: &'static str,
    /// The middle value among ordinary reference shafts, where there is one.
    pub reference: Option<f64>,
    /// The look it speaks for.
    pub towards: Look,
    /// How much it moved that look's probability, −1 to 1.
    pub weight: f64,
}

/// What the shafts of one photo or slide add up to.
#[derive(Clone, Debug, PartialEq)]
pub struct SlideFinding {
    /// Stable name for files and programs.
    pub code: &'static str,
    /// One to three sentences for a person.
    pub sentence: String,
    /// Shafts by look, in the order of [`Look::ALL`].
    pub counts: [usize; 4],
    /// Shafts of which the program cannot say.
    pub undetermined: usize,
}
