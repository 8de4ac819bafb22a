//! `index.html`: the case for a person who has nothing but a browser.

use std::collections::BTreeMap;
use std::fmt::Write;

use crate::maths::markup::escaped;
use crate::store::case::Case;
use crate::store::course::Happening;
use crate::store::facts::Day;
use crate::store::kept::{Kept, Stamp};
use crate::store::rules::Rules;

/// Endings of pictures that browsers show.
const SHOWN: [&str; 4] = ["jpg", "jpeg", "png", "webp"];

const STYLE: &str = "body{font:16px/1.5 sans-serif;max-width:50rem;margin:2rem auto;padding:0 1rem;color:#222}\
table{border-collapse:collapse;width:100%}td,th{border:1px solid #bbb;padding:.3rem .5rem;text-align:left;\
vertical-align:top}img{max-width:100%;height:auto}.advice{border:2px solid #0072b2;padding:.5rem 1rem}";

/// The page of a case; `photos` are the photos' paths in the bag by id.
pub(super) fn page(case: &Case, photos: &BTreeMap<String, String>, rules: &Rules, stamp: &Stamp) -> String {
    let animal = &case.animal.fact;
    let name = escaped(&animal.name);
    let mut page = format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>{name}</title><style>{STYLE}</style>\
         </head><body>\n<h1>{name}</h1>\n<p>Packed on {} by pilumen {}. The facts are in case.json, described by \
         case.schema.json; each photo is as it came.</p>\n<p class=\"advice\"><strong>A lamp and a photo support a \
         decision, they never make one: send hairs for fungal culture.</strong> A site on which nothing glows excludes \
         nothing.</p>\n<table>\n",
        stamp.today,
        env!("CARGO_PKG_VERSION"),
    );
    let mut line = |what: &str, value: Option<String>| {
        if let Some(value) = value {
            // Writing to a text does not fail.
            let _ = writeln!(page, "<tr><th>{what}</th><td>{}</td></tr>", escaped(&value));
        }
    };
    let coat = [animal.coat_length.map(|coat| coat.to_string()), animal.coat_colour.clone()];
    let coat: Vec<String> = coat.into_iter().flatten().collect();
    line("Coat", (!coat.is_empty()).then(|| coat.join(", ")));
    line("Age", animal.age_class.map(|age| age.to_string()));
    line("Sex", animal.sex.map(|sex| sex.to_string()));
    line("Neutered", animal.neuter.map(|neuter| neuter.to_string()));
    line("Came in", animal.intake.map(|day| day.to_string()));
    line("Group", animal.group.clone());
    for identifier in &animal.identifiers {
        line(&escaped(&identifier.kind), Some(identifier.value.clone()));
    }
    page.push_str("</table>\n<h2>What happened</h2>\n<table><tr><th>Day</th><th>What</th><th>Told by</th></tr>\n");
    let mut rows = rows_of(case, photos);
    rows.sort_by_key(|row| row.0);
    for (day, what, by) in rows {
        let day = day.map(|day| day.to_string()).unwrap_or_default();
        let _ = writeln!(page, "<tr><td>{day}</td><td>{what}</td><td>{}</td></tr>", escaped(&by));
    }
    page.push_str("</table>\n<h2>Sites</h2>\n");
    let coincidences = case.coincidences(rules);
    for site in case.sites() {
        let course = case.course(&site);
        let slides = course.points.iter().filter(|point| matches!(point.happening, Happening::Slide { .. })).count();
        let _ = write!(page, "<h3>{}</h3>\n<p>", escaped(site.name()));
        if let Some(one) = coincidences.iter().find(|one| one.site == site) {
            let _ = write!(page, "{}: {} ({}). ", one.day, escaped(&one.sentence), escaped(&one.source));
        }
        if slides > 0 {
            page.push_str(&escaped(&course.sentence));
        }
        page.push_str("</p>\n");
    }
    page.push_str("</body></html>\n");
    page
}

type RowOfPage = (Option<Day>, String, String);

fn rows_of(case: &Case, photos: &BTreeMap<String, String>) -> Vec<RowOfPage> {
    let mut rows: Vec<RowOfPage> = Vec::new();
    let mut put = |day: Option<Day>, what: String, by: &str| rows.push((day, what, by.to_owned()));
    for exam in &case.exams {
        let sites: Vec<String> = exam
            .fact
            .sites
            .iter()
            .map(|seen| {
                let mut words = format!("{}: fluorescence {}", seen.site, seen.fluorescence);
                let more = [
                    seen.colour.clone(),
                    seen.evenness.map(|evenness| evenness.to_string()),
                    seen.hair_loss.map(|loss| format!("hair loss {loss}")),
                    seen.crust.map(|crust| format!("crust {crust}")),
                ];
                for word in more.into_iter().flatten() {
                    let _ = write!(words, ", {word}");
                }
                words
            })
            .collect();
        let lamp = exam.fact.lamp_nm.map(|nm| format!(" ({nm} nm)")).unwrap_or_default();
        put(Some(exam.fact.day), told(exam, &format!("Exam under the lamp{lamp}. {}", sites.join("; "))), &exam.by);
    }
    for slide in &case.slides {
        let words = [slide.fact.plucked.as_ref(), slide.fact.comparison_hairs.as_ref(), slide.fact.label.as_ref()];
        let words: Vec<String> = words.into_iter().flatten().cloned().collect();
        let mut what = told(slide, &format!("Slide of {}. {}", slide.fact.site, words.join("; ")));
        for photo in case.photos.iter().filter(|photo| photo.parent.as_ref() == Some(&slide.id)) {
            let path = photos.get(&photo.id).map(|path| path.trim_start_matches("data/")).unwrap_or_default();
            let path = escaped(path);
            let file = told(photo, &photo.fact.file);
            let is_shown = path.rsplit_once('.').is_some_and(|(_, ending)| SHOWN.contains(&ending));
            let picture = if is_shown { format!("<br><img src=\"{path}\" alt=\"{file}\">") } else { String::new() };
            let _ = write!(what, "<br><a href=\"{path}\">{file}</a>{picture}");
            for reading in case.readings.iter().filter(|reading| reading.parent.as_ref() == Some(&photo.id)) {
                let made = format!("{} Read by pilumen {}.", reading.fact.sentence, reading.fact.program.version);
                let _ = write!(what, "<br>{}", told(reading, &made));
            }
        }
        put(Some(slide.fact.day), what, &slide.by);
    }
    for treatment in &case.treatments {
        let fact = &treatment.fact;
        let dose = fact.dose.as_ref().map(|dose| format!(", {dose}")).unwrap_or_default();
        let until = fact.until.map(|day| format!(", until {day}")).unwrap_or_default();
        put(
            Some(fact.day),
            told(treatment, &format!("Treatment ({}): {}{dose}{until}", fact.kind, fact.with)),
            &treatment.by,
        );
    }
    for culture in &case.cultures {
        let site = culture.fact.site.as_ref().map(|site| format!(" from {site}")).unwrap_or_default();
        put(
            Some(culture.fact.day),
            told(culture, &format!("Culture or test sent{site}: {}", culture.fact.medium)),
            &culture.by,
        );
    }
    for plate in &case.plates {
        let species = plate.fact.species.as_ref().map(|species| format!(", {species}")).unwrap_or_default();
        let confirmed = match plate.fact.confirmed_microscopically {
            Some(true) => ", confirmed under the microscope",
            Some(false) => ", not confirmed under the microscope",
            None => "",
        };
        let last = if plate.fact.last { "; last look" } else { "" };
        put(
            Some(plate.fact.day),
            told(plate, &format!("Plate: growth {}{species}{confirmed}{last}", plate.fact.growth)),
            &plate.by,
        );
    }
    for contact in &case.contacts {
        let how = contact.fact.how.as_ref().map(|how| format!(" ({how})")).unwrap_or_default();
        put(Some(contact.fact.day), told(contact, &format!("Contact with {}{how}", contact.fact.with)), &contact.by);
    }
    for note in &case.notes {
        put(note.fact.day, told(note, &format!("Note: {}", note.fact.text)), &note.by);
    }
    rows
}

/// A fact in words, with what was said against it.
fn told<T>(kept: &Kept<T>, words: &str) -> String {
    let mut html = escaped(words);
    if kept.withdrawn {
        html = format!("<s>{html}</s>");
    }
    for told in &kept.corrections {
        let what = serde_json::to_string(&told.change).unwrap_or_default();
        let _ = write!(
            html,
            "<br><em>Corrected by {} at {}: {} ({})</em>",
            escaped(&told.by),
            escaped(&told.at),
            escaped(&told.why),
            escaped(&what)
        );
    }
    html
}
