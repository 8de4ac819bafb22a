//! The shafts of a reading as they stand: what the program read, with what people said against it.

use serde::Serialize;

use super::facts::{Change, End, Reading};
use super::kept::Kept;

/// One shaft as it stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShaftSeen {
    /// Its number in the reading; absent for one that a person added.
    pub id: Option<usize>,
    /// Its look: `infected`, `normal`, `coated`, `fibre` or `undetermined`.
    pub look: String,
    /// Whether the look is a person's.
    pub look_by_person: bool,
    /// Where it fluoresces; turned round where a person turned the shaft round.
    pub zone: String,
    /// Its outer diameter, pixels.
    pub width_px: Option<f64>,
    /// Whether it serves as a comparison shaft.
    pub comparison: bool,
}

impl Kept<Reading> {
    /// The shafts as they stand: corrections applied in order, shafts that are none left out, missed ones added.
    pub fn shafts(&self) -> Vec<ShaftSeen> {
        let mut shafts: Vec<ShaftSeen> = self
            .fact
            .shafts
            .iter()
            .map(|read| ShaftSeen {
                id: Some(read.id),
                look: read.look.clone(),
                look_by_person: false,
                zone: read.zone.clone(),
                width_px: read.width_px,
                comparison: read.comparison,
            })
            .collect();
        let mut none: Vec<usize> = Vec::new();
        for told in &self.corrections {
            if let Change::MissedShaft { look, .. } = &told.change {
                shafts.push(ShaftSeen {
                    id: None,
                    look: look.clone().unwrap_or_else(|| "undetermined".to_owned()),
                    look_by_person: look.is_some(),
                    zone: "unknown".to_owned(),
                    width_px: None,
                    comparison: false,
                });
            }
            let Some(shaft) = shafts.iter_mut().find(|shaft| shaft.id.is_some() && shaft.id == told.change.shaft())
            else {
                continue;
            };
            match &told.change {
                Change::Look { look, .. } => {
                    shaft.look.clone_from(look);
                    shaft.look_by_person = true;
                    // A look that is given later says that it is a shaft after all.
                    none.retain(|id| Some(*id) != shaft.id);
                }
                Change::Comparison { comparison, .. } => shaft.comparison = *comparison,
                Change::NotAShaft { shaft } => none.push(*shaft),
                Change::BaseEnd { shaft: id, end } => {
                    // The reading gives the base end first wherever it knows it, so `base` and `tip` are by that end.
                    let read = self.fact.shaft(*id).map(|read| read.zone.as_str()).unwrap_or_default();
                    shaft.zone = match (end, read) {
                        (End::Last, "base") => "tip",
                        (End::Last, "tip") => "base",
                        (_, zone) => zone,
                    }
                    .to_owned();
                }
                Change::MissedShaft { .. } | Change::Field { .. } | Change::Withdrawn => (),
            }
        }
        shafts.retain(|shaft| shaft.id.is_none_or(|id| !none.contains(&id)));
        shafts
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use crate::store::facts::{Change, End, Program, Reading, ShaftRead};
    use crate::store::{Kept, Kind, Told};

    fn reading(changes: Vec<Change>) -> Kept<Reading> {
        let shaft = |id: usize, look: &str, zone: &str| ShaftRead {
            id,
            look: look.to_owned(),
            infected: None,
            zone: zone.to_owned(),
            width_px: Some(20.0),
            comparison: false,
        };
        let text = |text: &str| text.to_owned();
        Kept {
            id: text("r"),
            kind: Kind::Reading,
            animal: text("a"),
            parent: None,
            by: text("x"),
            at: text("x"),
            fact: Reading {
                evaluation_sha256: "0".repeat(64),
                program: Program { version: text("0"), model_sha256: text("0"), settings: BTreeMap::new() },
                usable: true,
                finding: text("doubtful"),
                sentence: text("x"),
                um_per_px: None,
                shafts: vec![shaft(1, "infected", "base"), shaft(2, "normal", "none"), shaft(3, "fibre", "whole")],
            },
            corrections: changes
                .into_iter()
                .map(|change| Told {
                    id: text("c"),
                    by: text("x"),
                    at: text("x"),
                    change,
                    why: text("x"),
                    before: None,
                })
                .collect(),
            withdrawn: false,
            order: 1,
        }
    }

    #[test]
    fn what_people_say_stands_and_the_reading_keeps_what_was_read() {
        let kept = reading(vec![
            Change::Look { shaft: 1, look: "coated".into() },
            Change::BaseEnd { shaft: 1, end: End::Last },
            Change::Comparison { shaft: 2, comparison: true },
            Change::NotAShaft { shaft: 3 },
            Change::MissedShaft { centreline_px: vec![[0.0, 0.0], [5.0, 5.0]], look: None },
        ]);
        let shafts = kept.shafts();
        assert_eq!(shafts.len(), 3);
        assert_eq!((shafts[0].look.as_str(), shafts[0].zone.as_str()), ("coated", "tip"));
        assert!(shafts[0].look_by_person && shafts[1].comparison && shafts[2].id.is_none());
        assert_eq!(kept.fact.shafts[0].look, "infected");
    }

    #[test]
    fn the_last_word_on_an_end_holds() {
        let turned = Change::BaseEnd { shaft: 1, end: End::Last };
        let back = Change::BaseEnd { shaft: 1, end: End::First };
        assert_eq!(reading(vec![turned.clone(), back]).shafts()[0].zone, "base");
        assert_eq!(reading(vec![turned.clone(), turned]).shafts()[0].zone, "tip", "twice is not there and back");
    }
}
