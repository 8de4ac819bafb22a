//! Several photos of one slide for a person at a terminal, and as one line of JSON (`docs/slide.schema.json`).

use std::collections::BTreeMap;

use serde::Serialize;

use super::from_record::{CULTURE, Entry, Look, OnPhotos, OneSlide};
use super::language::Language;
use super::rounded::measurement;

/// Name and version of the object's form.
const SCHEMA: &str = "pilumen/slide/1";

#[derive(Serialize)]
struct SlideObject<'a> {
    schema: &'static str,
    photos: Vec<PhotoObject<'a>>,
    shafts: Vec<ShaftObject>,
    finding: FindingObject<'a>,
    advice: &'a str,
}

#[derive(Serialize)]
struct PhotoObject<'a> {
    file: &'a str,
    sha256: &'a str,
    usable: bool,
}

#[derive(Serialize)]
struct ShaftObject {
    on: Vec<On>,
    best_on: On,
    class: &'static str,
    zone: &'static str,
    comparison: bool,
    width: WidthObject,
}

#[derive(Serialize)]
struct On {
    photo: usize,
    id: usize,
}

#[derive(Serialize)]
struct WidthObject {
    median_px: Option<f64>,
    sd_px: Option<f64>,
    median_um: Option<f64>,
    sd_um: Option<f64>,
    at_most_px: Option<f64>,
    at_most_um: Option<f64>,
}

#[derive(Serialize)]
struct FindingObject<'a> {
    code: &'static str,
    sentence: &'a str,
    counts: BTreeMap<&'static str, usize>,
}

/// The slide as one line of JSON, without a line end; `entries` are those it was made of, in their order.
pub fn slide_json(slide: &OneSlide, entries: &[&Entry]) -> String {
    let looks = Look::ALL.iter().map(|look| look.code()).zip(slide.slide.counts);
    let object = SlideObject {
        schema: SCHEMA,
        photos: entries
            .iter()
            .map(|entry| PhotoObject { file: &entry.photo.file, sha256: &entry.photo.sha256, usable: entry.usable })
            .collect(),
        shafts: slide.shafts.iter().map(ShaftObject::of).collect(),
        finding: FindingObject {
            code: slide.slide.code,
            sentence: &slide.slide.sentence,
            counts: looks.chain([("undetermined", slide.slide.undetermined)]).collect(),
        },
        advice: &slide.advice,
    };
    // Nothing in the object can fail to serialise: no map has keys other than text.
    serde_json::to_string(&object).unwrap_or_default()
}

impl ShaftObject {
    fn of(one: &OnPhotos) -> ShaftObject {
        let rounded = |value: Option<f64>| value.and_then(measurement);
        let on = |(photo, id): (usize, usize)| On { photo: photo + 1, id };
        let width = &one.shaft.width;
        let [at_most_px, at_most_um] = if one.shaft.is_too_thin() { width.at_most() } else { [None; 2] };
        ShaftObject {
            on: one.seen.iter().copied().map(on).collect(),
            best_on: on(one.kept),
            class: one.shaft.class(),
            zone: one.shaft.zone,
            comparison: one.shaft.comparison,
            width: WidthObject {
                median_px: rounded(width.median_px),
                sd_px: rounded(width.sd_px),
                median_um: rounded(width.median_um),
                sd_um: rounded(width.sd_um),
                at_most_px: rounded(at_most_px),
                at_most_um: rounded(at_most_um),
            },
        }
    }
}

/// The slide in lines, each with its line end.
pub fn slide_summary(slide: &OneSlide, entries: &[&Entry]) -> String {
    let counted = |n: usize, one: &str| format!("{n} {one}{}", if n == 1 { "" } else { "s" });
    let several: Vec<&OnPhotos> = slide.shafts.iter().filter(|shaft| shaft.seen.len() > 1).collect();
    let mut text = format!(
        "All {} as one slide: {}, {} of them on more than one photo\n",
        counted(entries.len(), "photo"),
        counted(slide.shafts.len(), "shaft"),
        several.len()
    );
    for shaft in several {
        let seen: Vec<String> = shaft.seen.iter().map(|(photo, id)| format!("photo {} no. {id}", photo + 1)).collect();
        let width = Language::English.width(&shaft.shaft).unwrap_or_else(|| "not measured".to_owned());
        text += &format!("  Same    {}: {}, width {width}\n", seen.join(" = "), shaft.shaft.look_words());
    }
    text += &format!("  Finding {}\n", slide.slide.sentence);
    let next = match slide.advice.strip_suffix(CULTURE) {
        Some(next) if slide.slide.sentence.ends_with(CULTURE) && !next.is_empty() => next.trim_end(),
        _ => &slide.advice,
    };
    text += &format!("  Next    {next}\n");
    text
}
