//! The shafts of a reading as they stand: what the program read, with what people said against it.

use serde::Serialize;

use super::facts::{Change, End, Reading};
use super::kept::Kept;
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;
use crate::maths::same_lines::{Drawn, Lines, groups};

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
    /// Places along its centreline, pixels.
    #[serde(skip)]
    pub line_px: Vec<[f64; 2]>,
}

/// The shafts of several readings of one slide, each once though it be seen on several photos.
///
/// A look that a person gave stands before the program's; looks that contradict each other leave it open. Where it
/// fluoresces is told by the longest line.
pub fn each_once(readings: &[&Kept<Reading>]) -> Vec<ShaftSeen> {
    let shafts: Vec<Vec<ShaftSeen>> = readings.iter().map(|reading| reading.shafts()).collect();
    // Only shafts with a line can be told again.
    let lined: Vec<Vec<usize>> =
        shafts.iter().map(|shafts| (0..shafts.len()).filter(|&i| line_of(&shafts[i]).is_some()).collect()).collect();
    let pictures: Vec<Lines> = readings
        .iter()
        .zip(shafts.iter().zip(&lined))
        .map(|(reading, (shafts, lined))| Lines {
            size_px: reading.fact.photo_px.map_or([0.0; 2], |px| px.map(f64::from)),
            lines: lined
                .iter()
                .filter_map(|&i| Some(Drawn { line: line_of(&shafts[i])?, width_px: shafts[i].width_px }))
                .collect(),
        })
        .collect();
    let mut once: Vec<ShaftSeen> = Vec::new();
    for group in groups(&pictures) {
        let members: Vec<&ShaftSeen> = group.iter().map(|m| &shafts[m.picture][lined[m.picture][m.line]]).collect();
        once.extend(agreed(&members));
    }
    for (shafts, lined) in shafts.iter().zip(&lined) {
        once.extend((0..shafts.len()).filter(|i| !lined.contains(i)).map(|i| shafts[i].clone()));
    }
    once
}

fn line_of(shaft: &ShaftSeen) -> Option<Polyline> {
    Polyline::new(shaft.line_px.iter().map(|&[x, y]| Point::new(x, y)))
}

/// One shaft of what several photos say of it; `None` of nothing.
fn agreed(members: &[&ShaftSeen]) -> Option<ShaftSeen> {
    let length = |shaft: &ShaftSeen| line_of(shaft).map_or(0.0, |line| line.length());
    let longest = members.iter().max_by(|a, b| length(a).total_cmp(&length(b)))?;
    let mut shaft = (*longest).clone();
    let person: Vec<&&ShaftSeen> = members.iter().filter(|member| member.look_by_person).collect();
    let says = if person.is_empty() { members.iter().collect() } else { person };
    let looks: Vec<&str> = says.iter().map(|member| member.look.as_str()).filter(|look| *look != OPEN).collect();
    let first = looks.first().copied().filter(|first| looks.iter().all(|look| look == first));
    shaft.look = first.unwrap_or(OPEN).to_owned();
    shaft.look_by_person = members.iter().any(|member| member.look_by_person);
    shaft.comparison = members.iter().any(|member| member.comparison);
    Some(shaft)
}

/// The look of a shaft of which nobody can say.
const OPEN: &str = "undetermined";

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
                line_px: read.line_px.clone(),
            })
            .collect();
        let mut none: Vec<usize> = Vec::new();
        for told in &self.corrections {
            if let Change::MissedShaft { look, centreline_px } = &told.change {
                shafts.push(ShaftSeen {
                    id: None,
                    look: look.clone().unwrap_or_else(|| "undetermined".to_owned()),
                    look_by_person: look.is_some(),
                    zone: "unknown".to_owned(),
                    width_px: None,
                    comparison: false,
                    line_px: centreline_px.clone(),
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

    use super::each_once;
    use crate::store::facts::{Change, End, Program, Reading, ShaftRead};
    use crate::store::{Kept, Kind, Told};

    fn reading(changes: Vec<Change>) -> Kept<Reading> {
        reading_along(changes, &[])
    }

    fn reading_along(changes: Vec<Change>, lines: &[Vec<[f64; 2]>]) -> Kept<Reading> {
        let shaft = |id: usize, look: &str, zone: &str| ShaftRead {
            id,
            look: look.to_owned(),
            infected: None,
            zone: zone.to_owned(),
            width_px: Some(20.0),
            comparison: false,
            line_px: lines.get(id - 1).cloned().unwrap_or_default(),
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
                photo_px: Some([900, 700]),
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

    /// Three bent lines, moved by (dx, dy).
    fn lines(dx: f64, dy: f64) -> Vec<Vec<[f64; 2]>> {
        let line = |x: f64, y: f64, angle: f64, bend: f64| {
            (-12..=12)
                .map(|i| {
                    let t = 16.0 * f64::from(i);
                    let off = bend * t * t;
                    [x + dx + t * angle.cos() - off * angle.sin(), y + dy + t * angle.sin() + off * angle.cos()]
                })
                .collect()
        };
        vec![line(300.0, 200.0, 0.3, 4e-4), line(560.0, 400.0, 1.4, -3e-4), line(280.0, 500.0, -0.5, 2e-4)]
    }

    #[test]
    fn a_shaft_on_two_photos_of_a_slide_counts_once() {
        let first = reading_along(Vec::new(), &lines(0.0, 0.0));
        let second = reading_along(vec![Change::Look { shaft: 1, look: "coated".into() }], &lines(14.0, -9.0));
        let once = each_once(&[&first, &second]);
        assert_eq!(once.len(), 3);
        assert_eq!((once[0].look.as_str(), once[0].look_by_person), ("coated", true), "a person's word stands");
        assert_eq!((once[1].look.as_str(), once[2].look.as_str()), ("normal", "fibre"));
        // Readings without lines cannot be told apart and are counted as they are.
        assert_eq!(each_once(&[&reading(Vec::new()), &reading(Vec::new())]).len(), 6);
    }

    #[test]
    fn the_last_word_on_an_end_holds() {
        let turned = Change::BaseEnd { shaft: 1, end: End::Last };
        let back = Change::BaseEnd { shaft: 1, end: End::First };
        assert_eq!(reading(vec![turned.clone(), back]).shafts()[0].zone, "base");
        assert_eq!(reading(vec![turned.clone(), turned]).shafts()[0].zone, "tip", "twice is not there and back");
    }
}
