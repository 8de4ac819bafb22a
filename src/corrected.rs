//! A photo read again with what people said of its shafts: everything is measured anew and numbers stay.
//!
//! A correction names a shaft by its number in a reading. Here its line in that reading's evaluation is found again on
//! the photo, so that the answer does not depend on the order in which shafts are found, and a reading by an older
//! version or model can still be corrected.

use serde_json::Value;

use crate::finding::{Look, Model};
use crate::image::ImageError;
use crate::maths::point::Point;
use crate::maths::polyline::{Polyline, lying_on};
use crate::pipeline::{self, Said};
use crate::record::Entry;
use crate::settings::Settings;
use crate::store::{Change, End, Told};

/// A photo read again.
#[derive(Clone, Debug)]
pub struct Corrected {
    /// The reading as it stands.
    pub entry: Entry,
    /// Numbers of shafts whose look a person gave.
    pub looks_by_people: Vec<usize>,
    /// Numbers of shafts that a person added.
    pub added: Vec<usize>,
}

/// Reads a photo again with the corrections that were said of a reading of it, oldest first.
///
/// # Errors
/// When the bytes are no picture that can be read.
pub fn read(
    bytes: &[u8],
    settings: &Settings,
    model: &Model,
    evaluation: &Value,
    corrections: &[Told],
) -> Result<Corrected, ImageError> {
    let before = Before::of(evaluation);
    let said = said(&before, corrections);
    let file = evaluation["photo"]["file"].as_str().unwrap_or("photo");
    let mut entry = pipeline::read_as_said(file, bytes, settings, model, &said)?;
    let added = number(&mut entry, &before);
    let looks_by_people = looks_by_people(&entry, &said);
    Ok(Corrected { entry, looks_by_people, added })
}

/// The shafts of the reading that was corrected.
struct Before {
    shafts: Vec<Known>,
}

struct Known {
    id: usize,
    line: Vec<Point>,
    comparison: bool,
}

impl Before {
    fn of(evaluation: &Value) -> Before {
        let known = |shaft: &Value| {
            Some(Known {
                id: shaft["id"].as_u64()? as usize,
                line: shaft["centreline_px"].as_array()?.iter().filter_map(place).collect(),
                comparison: shaft["comparison"].as_bool().unwrap_or(false),
            })
        };
        Before { shafts: evaluation["shafts"].as_array().into_iter().flatten().filter_map(known).collect() }
    }

    fn line(&self, id: usize) -> Option<&Vec<Point>> {
        self.shafts.iter().find(|shaft| shaft.id == id).map(|shaft| &shaft.line)
    }
}

fn place(pair: &Value) -> Option<Point> {
    Some(Point::new(pair.get(0)?.as_f64()?, pair.get(1)?.as_f64()?))
}

/// What is said, with lines in place of numbers.
fn said(before: &Before, corrections: &[Told]) -> Said {
    let mut said = Said::default();
    let mut none: Vec<usize> = Vec::new();
    let mut comparison: Vec<usize> =
        before.shafts.iter().filter(|shaft| shaft.comparison).map(|shaft| shaft.id).collect();
    let mut is_compared = false;
    for told in corrections {
        match &told.change {
            Change::Look { shaft, look } => {
                // A look that is given later says that it is a shaft after all.
                none.retain(|id| id != shaft);
                if let Some(line) = before.line(*shaft) {
                    said.looks.push((line.clone(), look_named(look)));
                }
            }
            Change::BaseEnd { shaft, end } => {
                let Some(line) = before.line(*shaft) else { continue };
                let base = if *end == End::First { line.first() } else { line.last() };
                said.base.extend(base.map(|&base| (line.clone(), base)));
            }
            Change::Comparison { shaft, comparison: is } => {
                is_compared = true;
                comparison.retain(|id| id != shaft);
                comparison.extend(is.then_some(*shaft));
            }
            Change::NotAShaft { shaft } => none.push(*shaft),
            Change::MissedShaft { centreline_px, look } => {
                let line: Vec<Point> = centreline_px.iter().map(|&[x, y]| Point::new(x, y)).collect();
                if let Some(look) = look {
                    said.looks.push((line.clone(), look_named(look)));
                }
                said.missed.push(line);
            }
            Change::Field { .. } | Change::Withdrawn => (),
        }
    }
    let lines = |ids: &[usize]| ids.iter().filter_map(|&id| before.line(id)).cloned().collect();
    said.none = lines(&none);
    said.stand =
        before.shafts.iter().filter(|shaft| !none.contains(&shaft.id)).map(|shaft| shaft.line.clone()).collect();
    said.comparison = is_compared.then(|| lines(&comparison));
    said
}

fn look_named(name: &str) -> Option<Look> {
    Look::ALL.into_iter().find(|look| look.code() == name)
}

/// Gives the shafts the numbers they had, and new ones to new shafts, which are returned; puts them in order.
fn number(entry: &mut Entry, before: &Before) -> Vec<usize> {
    let lines = lines_of(entry);
    let mut numbers: Vec<Option<usize>> = vec![None; lines.len()];
    for known in &before.shafts {
        // One that was taken away has lost its number, unless it was clicked along again.
        if let Some(index) =
            lying_on(&known.line, &with_widths(&lines, entry)).filter(|&index| numbers[index].is_none())
        {
            numbers[index] = Some(known.id);
        }
    }
    let mut next = before.shafts.iter().map(|shaft| shaft.id).max().unwrap_or(0);
    let mut added = Vec::new();
    for (shaft, number) in entry.shafts.iter_mut().zip(numbers) {
        shaft.id = number.unwrap_or_else(|| {
            next += 1;
            added.push(next);
            next
        });
    }
    entry.shafts.sort_by_key(|shaft| shaft.id);
    added
}

/// The centrelines of an entry's shafts.
fn lines_of(entry: &Entry) -> Vec<Polyline> {
    let line = |points: &Vec<Point>| Polyline::new(points.iter().copied());
    entry.shafts.iter().filter_map(|shaft| line(&shaft.centreline)).collect()
}

fn with_widths<'a>(lines: &'a [Polyline], entry: &Entry) -> Vec<(&'a Polyline, f64)> {
    lines.iter().zip(entry.shafts.iter().map(|shaft| shaft.width.median_px.unwrap_or(0.0))).collect()
}

fn looks_by_people(entry: &Entry, said: &Said) -> Vec<usize> {
    let lines = lines_of(entry);
    let all = with_widths(&lines, entry);
    let mut ids: Vec<usize> =
        said.looks.iter().filter_map(|(line, _)| lying_on(line, &all)).map(|index| entry.shafts[index].id).collect();
    ids.sort_unstable();
    ids.dedup();
    ids
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::read;
    use crate::exports::{Format, from_record};
    use crate::finding::{Model, model_from_bytes};
    use crate::pipeline::{self, Want};
    use crate::settings::Settings;
    use crate::store::{Change, End, Told};

    const PHOTO: &[u8] = include_bytes!("../fixtures/demo/quillfeather-moth-left-pinna.jpg");

    fn model() -> Model {
        model_from_bytes(include_bytes!("../models/shaft-v1.json")).unwrap()
    }

    fn told(change: Change) -> Told {
        let text = String::new;
        Told { id: text(), by: text(), at: text(), change, why: text(), before: None }
    }

    fn evaluation() -> Value {
        let read = pipeline::read("demo.jpg", PHOTO, &Settings::default(), &model(), Want::Numbers).unwrap();
        serde_json::from_slice(&from_record(&read.entry, None, Format::Json)).unwrap()
    }

    fn again(evaluation: &Value, changes: Vec<Change>) -> super::Corrected {
        let told: Vec<Told> = changes.into_iter().map(told).collect();
        read(PHOTO, &Settings::default(), &model(), evaluation, &told).unwrap()
    }

    #[test]
    fn without_corrections_nothing_changes() {
        let before = evaluation();
        let after = again(&before, Vec::new()).entry;
        assert_eq!(serde_json::from_slice::<Value>(&from_record(&after, None, Format::Json)).unwrap(), before);
    }

    #[test]
    fn a_shaft_taken_away_and_clicked_along_is_measured_as_before() {
        let before = evaluation();
        let shafts = before["shafts"].as_array().unwrap();
        // A shaft that lies free: one of the longest with a width.
        let shaft = shafts.iter().find(|s| s["width"]["median_px"].is_number() && s["concerns"] == json!([])).unwrap();
        let id = shaft["id"].as_u64().unwrap() as usize;
        let line = shaft["centreline_px"].as_array().unwrap();
        // Five clicks, each up to 4 pixels beside the centreline, as a hand would set them.
        let clicks: Vec<[f64; 2]> = (0..5)
            .map(|k| {
                let at = &line[k * (line.len() - 1) / 4];
                let off = [0.0, 4.0, -4.0, 3.0, 0.0][k];
                [at[0].as_f64().unwrap() + off, at[1].as_f64().unwrap() - off]
            })
            .collect();
        let after = again(
            &before,
            vec![
                Change::NotAShaft { shaft: id },
                Change::MissedShaft { centreline_px: clicks, look: Some("coated".into()) },
            ],
        );
        assert_eq!(after.entry.shafts.len(), shafts.len());
        let found =
            after.entry.shafts.iter().find(|s| s.id == id).expect("it lies where it lay, so it keeps its number");
        assert_eq!(found.class(), "coated");
        assert_eq!(after.looks_by_people, [id]);
        let (was, is) = (shaft["width"]["median_px"].as_f64().unwrap(), found.width.median_px.unwrap());
        assert!((was - is).abs() < 0.03 * was, "width {was} before, {is} when clicked along");
        assert_eq!(shaft["glow"]["zone"].as_str().unwrap(), found.zone);
    }

    #[test]
    fn corrections_of_ends_comparison_and_looks_are_measured_with() {
        let before = evaluation();
        let known =
            before["shafts"].as_array().unwrap().iter().find(|s| s["ends"]["orientation"] == "measured").unwrap();
        let id = known["id"].as_u64().unwrap() as usize;
        let after = again(&before, vec![Change::BaseEnd { shaft: id, end: End::Last }]);
        let turned = after.entry.shafts.iter().find(|s| s.id == id).unwrap();
        assert_eq!(turned.orientation, "given");
        let last = known["centreline_px"].as_array().unwrap().last().unwrap();
        assert!((turned.centreline[0].x - last[0].as_f64().unwrap()).abs() < 1.0, "the base end comes first");

        let all: Vec<usize> =
            before["shafts"].as_array().unwrap().iter().map(|s| s["id"].as_u64().unwrap() as usize).collect();
        let marked = |shaft: usize, comparison: bool| Change::Comparison { shaft, comparison };
        let mut changes: Vec<Change> = all.iter().map(|&shaft| marked(shaft, false)).collect();
        changes.push(marked(all[0], true));
        let after = again(&before, changes);
        let compared: Vec<usize> = after.entry.shafts.iter().filter(|s| s.comparison).map(|s| s.id).collect();
        assert_eq!(compared, [all[0]]);

        let looks = all.iter().map(|&shaft| Change::Look { shaft, look: "fibre".into() }).collect();
        assert_eq!(again(&before, looks).entry.slide.code, "fibre-only");
        let none: Vec<Change> = all.iter().map(|&shaft| Change::NotAShaft { shaft }).collect();
        let left: Vec<(usize, f64)> =
            again(&before, none.clone()).entry.shafts.iter().map(|shaft| (shaft.id, shaft.length_px)).collect();
        assert!(left.is_empty(), "{left:?} of {all:?} are left");
        let mut back = none;
        back.push(Change::Look { shaft: all[0], look: "normal".into() });
        assert_eq!(again(&before, back).entry.shafts.len(), 1, "a look given later says that it is one after all");
    }

    #[test]
    fn clicks_out_of_sight_do_no_harm() {
        let before = evaluation();
        for clicks in [vec![[-1e9, 4.0], [-1e9, 8.0]], vec![[1e12, 1e12], [-1e12, 3.0]], vec![[5.0, 5.0], [5.0, 5.0]]] {
            let after = again(&before, vec![Change::MissedShaft { centreline_px: clicks, look: None }]);
            assert!(after.entry.shafts.len() <= before["shafts"].as_array().unwrap().len() + 1);
        }
    }
}
