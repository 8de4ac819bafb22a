//! What a person says against a reading or another fact; it stands beside what it corrects and replaces nothing.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{Day, Fact, Kind, some_text, words};

words! {
    /// One end of a centreline as the reading gives it.
    End {
        /// Its first point.
        First = "first",
        /// Its last point.
        Last = "last",
    }
}

/// A correction.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Correction {
    /// What is otherwise.
    pub change: Change,
    /// Why, free words.
    pub why: String,
}

/// What is otherwise. Those with a `shaft` are said of a reading, by the shaft's number there; the rest of any fact.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Change {
    /// The shaft has another look: `infected`, `normal`, `coated`, `fibre` or `undetermined`.
    Look {
        /// Its number in the reading.
        shaft: usize,
        /// The look.
        look: String,
    },
    /// The base is at this end of the centreline.
    BaseEnd {
        /// Its number in the reading.
        shaft: usize,
        /// Which end.
        end: End,
    },
    /// The shaft is one to compare with, or is none.
    Comparison {
        /// Its number in the reading.
        shaft: usize,
        /// Whether it is.
        comparison: bool,
    },
    /// What was read as a shaft is none.
    NotAShaft {
        /// Its number in the reading.
        shaft: usize,
    },
    /// A shaft that was not found.
    MissedShaft {
        /// Points along it, pixels of the full-resolution photo, at least two.
        centreline_px: Vec<[f64; 2]>,
        /// Its look, where the person can say.
        #[serde(default)]
        look: Option<String>,
    },
    /// A field of the fact has another value.
    Field {
        /// Name of the field.
        field: String,
        /// The value; null when nothing is known of it after all.
        value: Value,
    },
    /// The fact is not so at all: entered by mistake.
    Withdrawn,
}

/// Looks by their names in files.
pub(crate) const LOOKS: [&str; 5] = ["infected", "normal", "coated", "fibre", "undetermined"];

/// Most points of a missed shaft that are kept.
const MAX_POINTS: usize = 10_000;

impl Fact for Correction {
    const KIND: Kind = Kind::Correction;

    fn check(&self, _today: Day) -> Result<(), String> {
        some_text("the reason of the correction", &self.why)?;
        let look = |look: &str| {
            let known = LOOKS.contains(&look);
            known.then_some(()).ok_or_else(|| format!("\"{look}\" is no look; give one of {}", LOOKS.join(", ")))
        };
        match &self.change {
            Change::Look { look: name, .. } => look(name),
            Change::MissedShaft { centreline_px, look: name } => {
                if centreline_px.len() < 2 || centreline_px.len() > MAX_POINTS {
                    return Err(format!("a missed shaft needs 2 to {MAX_POINTS} points along it"));
                }
                if !centreline_px.iter().flatten().all(|number| number.is_finite()) {
                    return Err("a missed shaft's points must be numbers".to_owned());
                }
                name.as_deref().map_or(Ok(()), look)
            }
            Change::Field { field, value } => {
                some_text("the name of the field", field)?;
                value.as_str().map_or(Ok(()), |text| super::short_text("the value", Some(text)))
            }
            _ => Ok(()),
        }
    }

    fn words(&self) -> Option<String> {
        match &self.change {
            Change::Field { value: Value::String(text), .. } => Some(text.clone()),
            _ => None,
        }
    }

    /// Which change it is.
    fn state(&self) -> Option<String> {
        let state = match self.change {
            Change::Look { .. } => "look",
            Change::BaseEnd { .. } => "base-end",
            Change::Comparison { .. } => "comparison",
            Change::NotAShaft { .. } => "not-a-shaft",
            Change::MissedShaft { .. } => "missed-shaft",
            Change::Field { .. } => "field",
            Change::Withdrawn => "withdrawn",
        };
        Some(state.to_owned())
    }
}

impl Change {
    /// The number of the shaft it is about; absent for those about no shaft of the reading.
    pub fn shaft(&self) -> Option<usize> {
        match self {
            Change::Look { shaft, .. }
            | Change::BaseEnd { shaft, .. }
            | Change::Comparison { shaft, .. }
            | Change::NotAShaft { shaft } => Some(*shaft),
            _ => None,
        }
    }

    /// Whether it can only be said of a reading.
    pub fn is_about_shafts(&self) -> bool {
        !matches!(self, Change::Field { .. } | Change::Withdrawn)
    }
}
