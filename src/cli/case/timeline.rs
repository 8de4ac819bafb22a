//! A case and the course of a site in words, line by line.

use std::collections::BTreeMap;

use crate::exports::Language;
use crate::store::{Case, Change, Course, Day, Happening, Kept, short};

/// One line: its day, its place in the order of keeping, its words.
type Line = (Option<Day>, i64, String);

/// The case in words, by day.
pub(super) fn timeline(case: &Case) -> String {
    let animal = &case.animal.fact;
    let mut about: Vec<String> = Vec::new();
    about.extend(animal.coat_length.map(|coat| format!("{coat} coat")));
    about.extend(animal.coat_colour.clone());
    about.extend(animal.age_class.map(|age| age.to_string()));
    about.extend(animal.sex.map(|sex| sex.to_string()));
    about.extend(animal.neuter.map(|neuter| neuter.to_string()));
    about.extend(animal.group.clone());
    about.extend(animal.identifiers.iter().map(|one| format!("{} {}", one.kind, one.value)));
    about.extend(animal.intake.map(|day| format!("came in on {day}")));
    let mut text = format!("{}  {}  {}\n", short(&case.animal.id), animal.name, about.join(", "));
    text.push_str(&against(&case.animal));
    let mut lines = lines(case);
    lines.sort_by_key(|line| (line.0, line.1));
    for (day, _, words) in lines {
        let day = day.map_or("          ".to_owned(), |day| day.to_string());
        text.push_str(&format!("{day}  {words}"));
    }
    text.push_str("Send hair for a fungal culture: only that tells whether an animal carries ringworm.\n");
    text
}

fn lines(case: &Case) -> Vec<Line> {
    let mut lines = Vec::new();
    for exam in &case.exams {
        let sites: Vec<String> = exam
            .fact
            .sites
            .iter()
            .map(|seen| {
                let loss = seen.hair_loss.map(|loss| format!(", hair loss {loss}")).unwrap_or_default();
                format!("{} (fluorescence {}{loss})", seen.site, seen.fluorescence)
            })
            .collect();
        lines.push(line(exam, Some(exam.fact.day), format!("exam under the lamp: {}", sites.join("; "))));
    }
    for slide in &case.slides {
        lines.push(line(slide, Some(slide.fact.day), format!("slide of {}", slide.fact.site)));
        for photo in case.photos.iter().filter(|photo| photo.parent.as_ref() == Some(&slide.id)) {
            lines.push(line(
                photo,
                Some(slide.fact.day),
                format!("  photo {} ({})", photo.fact.file, photo.fact.light),
            ));
            for reading in case.readings.iter().filter(|reading| reading.parent.as_ref() == Some(&photo.id)) {
                let words = format!("    reading: {}", reading.fact.sentence);
                // Beside its photo, however late it was made.
                let (day, _, words) = line(reading, Some(slide.fact.day), words);
                lines.push((day, photo.order, words));
            }
        }
    }
    for treatment in &case.treatments {
        let words = format!("treatment ({}): {}", treatment.fact.kind, treatment.fact.with);
        lines.push(line(treatment, Some(treatment.fact.day), words));
    }
    for culture in &case.cultures {
        lines.push(line(culture, Some(culture.fact.day), format!("culture or test sent: {}", culture.fact.medium)));
    }
    for plate in &case.plates {
        let last = if plate.fact.last { ", last look" } else { "" };
        lines.push(line(plate, Some(plate.fact.day), format!("plate looked at: growth {}{last}", plate.fact.growth)));
    }
    for contact in &case.contacts {
        lines.push(line(contact, Some(contact.fact.day), format!("contact with {}", contact.fact.with)));
    }
    for note in &case.notes {
        lines.push(line(note, note.fact.day, format!("note: {}", note.fact.text)));
    }
    lines
}

fn line<T>(kept: &Kept<T>, day: Option<Day>, words: String) -> Line {
    let withdrawn = if kept.withdrawn { " [withdrawn]" } else { "" };
    // A note may have many lines, and nothing in it may steer the terminal.
    let words = words.replace('\n', " ").replace(char::is_control, "?");
    (day, kept.order, format!("{}  {words}{withdrawn}\n{}", short(&kept.id), against(kept)))
}

/// What was said against a fact.
fn against<T>(kept: &Kept<T>) -> String {
    let told = |told: &crate::store::Told| {
        let what = match &told.change {
            Change::Field { field, value } => format!("{field} is {value}"),
            Change::Withdrawn => "withdrawn".to_owned(),
            other => serde_json::to_string(other).unwrap_or_default(),
        };
        format!("                      corrected by {}: {what} ({})\n", told.by, told.why)
    };
    kept.corrections.iter().map(told).collect()
}

/// How many hairs glow where: of all that lie on the slide, so that the sum may be more than the hairs judged.
fn glowing(zones: &BTreeMap<String, usize>) -> String {
    let terms = Language::English.terms();
    let told: Vec<String> = zones.iter().map(|(zone, n)| format!("{} {n}", terms.zone(zone))).collect();
    match zones.values().sum::<usize>() {
        0 => String::new(),
        all => format!("; of all {all} hairs, judged or not: {}", told.join(", ")),
    }
}

/// The course of a site in words.
pub(super) fn course(course: &Course) -> String {
    let mut text = format!("{}\n", course.site);
    for point in &course.points {
        let words = match &point.happening {
            Happening::Exam(seen) => {
                let loss = seen.hair_loss.map(|loss| format!(", hair loss {loss}")).unwrap_or_default();
                format!("lamp: fluorescence {}{loss}", seen.fluorescence)
            }
            Happening::Slide { infected, zones, width_ratio, n_readings, .. } => {
                let infected = match infected {
                    Some(share) => format!(
                        "{} of {} hairs judged look infected (95 % interval {:.0}-{:.0} %)",
                        share.n,
                        share.of,
                        100.0 * share.low,
                        100.0 * share.high
                    ),
                    None if *n_readings == 0 => "not read yet".to_owned(),
                    None => "no hair could be judged".to_owned(),
                };
                let ratio = width_ratio
                    .map(|ratio| format!("; those that look infected are {ratio:.2} times as wide as ordinary ones"));
                format!("slide: {infected}{}{}", glowing(zones), ratio.unwrap_or_default())
            }
            Happening::Culture(culture) => format!("culture or test sent: {}", culture.medium),
            Happening::Plate(plate) => format!("plate: growth {}", plate.growth),
            Happening::Treatment(treatment) => format!("treatment ({}): {}", treatment.kind, treatment.with),
        };
        text.push_str(&format!("  {}  {}\n", point.day, words.replace(char::is_control, "?")));
    }
    text.push_str(&format!("  {}\n  {}\n", course.sentence, course.advice));
    text
}
