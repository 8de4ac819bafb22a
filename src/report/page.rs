//! The first page: what a busy vet reads in a minute.

use super::blocks::{Block, Cell, Rank, Tone};
use super::words::{Found, Words, fill};
use super::{ReadPhoto, Report};
use crate::exports::{Outlined, SCALE_DECIMALS, concerns_by_kind, outlined, plain_scale, ranges};
use crate::maths::robust::median;
use crate::record::{CaseFacts, Entry, Look, Sex, Shaft, Slide, UNDETERMINED, together};

/// Least and largest share of the page's width that the photo takes; the tables stand beside it.
const PHOTO_SHARE: [f64; 2] = [0.36, 0.62];

/// Width of the text on the narrower paper, points.
const COLUMN: f64 = 511.0;

/// Room for what can be shortened.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fit {
    /// Height of the photo, points.
    pub(super) photo_height: f64,
    /// Most points on what could not be assessed.
    pub(super) max_missed: usize,
    /// Longest value of a fact, characters; the annex has it in full.
    pub(super) max_fact: usize,
}

/// The blocks of the first page.
pub(super) fn blocks(report: &Report, fit: &Fit, shown: Option<&Outlined>) -> Vec<Block> {
    let words = report.language.words();
    let entries: Vec<&Entry> = report.photos.iter().map(|photo| photo.entry).collect();
    let (slide, advice) = together(&entries);
    let heading = |words: &str| Block::Heading(Rank::Part, words.to_owned());

    let mut blocks = vec![title(report)];
    let facts = facts(report, words).into_iter().map(|(label, value)| (label, shortened(&value, fit.max_fact)));
    blocks.push(Block::Facts(facts.collect()));
    let sentence = (words.finding)(&found(&slide, &entries));
    let next = (words.advice)(slide.code, &advice);
    blocks.push(Block::Frame(vec![
        heading(words.finding_head),
        Block::Paragraph(Tone::Lead, sentence.clone()),
        Block::Paragraph(Tone::Body, format!("{}: {} {}", words.sure_head, sure(&entries, words), words.sure_always)),
        Block::Paragraph(Tone::Body, format!("{}: {}", words.next_head, without_what_was_said(&next, &sentence))),
    ]));
    let mut beside = vec![heading(words.seen_head), looks(&entries, words), heading(words.comparison_head)];
    beside.extend(comparison(&entries, words));
    // As wide as the photo is when it is as high as it may be.
    let aspect = shown.map_or(1.0, |shown| shown.picture.width as f64 / shown.picture.height.max(1) as f64);
    let share = (fit.photo_height * aspect / COLUMN).clamp(PHOTO_SHARE[0], PHOTO_SHARE[1]);
    blocks.push(Block::Beside { share, left: photo(report, fit, shown).into_iter().collect(), right: beside });
    blocks.push(heading(words.missed_head));
    blocks.push(Block::Bullets(Tone::Body, missed(&entries, words, fit.max_missed)));
    blocks.push(Block::Beside {
        share: 0.42,
        left: vec![
            heading(words.culture_head),
            Block::Paragraph(Tone::Body, words.culture_text.to_owned()),
            Block::Boxes(words.culture_boxes.split('|').map(str::to_owned).collect()),
        ],
        right: vec![
            heading(words.cautions_head),
            Block::Bullets(
                Tone::Small,
                [
                    words.caution_decision,
                    words.caution_light,
                    words.caution_infection,
                    words.caution_people,
                    words.caution_rules,
                ]
                .map(str::to_owned)
                .to_vec(),
            ),
        ],
    });
    blocks
}

/// The advice without sentences that the finding has said already, unless nothing would be left.
fn without_what_was_said(advice: &str, finding: &str) -> String {
    let sentences: Vec<&str> = advice.split_inclusive(". ").filter(|s| !finding.contains(s.trim())).collect();
    if sentences.is_empty() { advice.to_owned() } else { sentences.concat().trim().to_owned() }
}

/// A value of at most so many characters, at least one.
pub(super) fn shortened(value: &str, most: usize) -> String {
    if value.chars().count() <= most {
        return value.to_owned();
    }
    value.chars().take(most - 1).chain(['…']).collect()
}

/// The title with the day, and what kind of copy it is.
fn title(report: &Report) -> Block {
    let words = report.language.words();
    let mut aside = vec![format!("{} {}", words.made_on, report.made_on)];
    if report.teaching {
        aside.insert(0, words.teaching_title.to_owned());
    }
    Block::Title(words.title.to_owned(), aside.join(" · "))
}

/// What is known of the case, in the order in which it is asked for; what nobody told is left out, but for the
/// animal and the site.
pub(super) fn facts(report: &Report, words: &Words) -> Vec<(String, String)> {
    let case = report.case;
    let mut facts = Vec::new();
    let mut told = |label: &str, value: Option<String>| {
        if let Some(value) = value {
            facts.push((label.to_owned(), value));
        }
    };
    let untold = |value: Option<String>| Some(value.unwrap_or_else(|| words.not_told.to_owned()));
    let shown = |value: Option<String>| if report.teaching { value } else { untold(value) };
    told(words.animal, shown(case.animal.clone()));
    told(words.species, animal_words(case, words));
    told(words.animal_number, case.animal_number.clone());
    told(words.site, shown(case.site.as_deref().map(|site| words.language.terms().site(site))));
    told(words.exam_day, case.exam_day.map(|day| day.to_string()));
    told(words.lamp, case.lamp_nm.map(|nm| format!("{} nm", words.number(nm, 0))));
    told(words.lamp_seen, shown(case.lamp_seen.clone()));
    told(words.skin, case.skin.clone());
    told(words.treated, case.treated.clone());
    told(words.sampled, case.sampled.map(|day| day.to_string()));
    told(words.sampling, case.sampling.clone());
    told(words.slide, case.slide.clone());
    told(words.organisation, case.organisation.clone());
    told(words.owner, case.owner.clone());
    told(words.owner_contact, case.owner_contact.clone());
    told(words.sender, case.sender.clone());
    told(words.remark, case.remark.clone());
    told(words.photos, Some(report.photos.len().to_string()));
    told(words.scale, Some(scale(report, words)));
    facts
}

/// Species, breed, sex and age in one line.
pub(super) fn animal_words(case: &CaseFacts, words: &Words) -> Option<String> {
    let sex = case.sex.map(|sex| match sex {
        Sex::Female => words.female.to_owned(),
        Sex::Male => words.male.to_owned(),
    });
    // Some languages say all of this otherwise of a female.
    let is_female = case.sex == Some(Sex::Female);
    let said = |of_all: &'static str, of_female: &'static str| if is_female { of_female } else { of_all };
    let neutered = case.neutered.map(|is| match is {
        true => said(words.neutered, words.neutered_female).to_owned(),
        false => words.not_neutered.to_owned(),
    });
    let born = case.born.map(|day| format!("{} {day}", said(words.born, words.born_female)));
    let species = case.species.clone().or_else(|| Some(said(words.cat, words.cat_female).to_owned()));
    let parts = [species, case.breed.clone(), case.coat.clone(), sex, neutered, born, case.age.clone()];
    Some(parts.into_iter().flatten().collect::<Vec<_>>().join(", "))
}

/// The scale of the first photo that has one.
fn scale(report: &Report, words: &Words) -> String {
    let scale = report.photos.iter().find_map(|photo| photo.entry.photo.scale);
    let Some(scale) = scale else { return words.scale_unknown.to_owned() };
    let source = match scale.source.code() {
        "given" => words.scale_given,
        "setup" => words.scale_setup,
        _ => words.scale_file,
    };
    let um = match scale.sd_um_per_px {
        Some(sd) => words.language.uncertain(scale.um_per_px, sd, SCALE_DECIMALS),
        None => plain_scale(scale.um_per_px).replace('.', words.decimal()),
    };
    fill(words.scale_value, &[("um", &um), ("source", source)])
}

/// What the finding's sentence is made of, counted as the finding itself counts.
pub(super) fn found<'a>(slide: &'a Slide, entries: &[&Entry]) -> Found<'a> {
    let shafts = || entries.iter().filter(|entry| entry.usable).flat_map(|entry| &entry.shafts);
    let tip = |shaft: &Shaft| !matches!(shaft.look, Some(Look::Coated | Look::Fibre)) && shaft.zone == "tip";
    let infected = || shafts().filter(|shaft| shaft.look == Some(Look::Infected) && !tip(shaft));
    Found {
        slide,
        infected: infected().count(),
        from_base: infected().filter(|shaft| matches!(shaft.zone, "base" | "whole")).count(),
        tip_only: shafts().filter(|shaft| tip(shaft)).count(),
        comparison: shafts().filter(|shaft| shaft.comparison).count(),
        comparison_ordinary: shafts().filter(|shaft| shaft.comparison && shaft.look == Some(Look::Normal)).count(),
    }
}

/// With what probability the infected-looking shafts were judged so.
fn sure(entries: &[&Entry], words: &Words) -> String {
    let infected = entries.iter().flat_map(|entry| &entry.shafts).filter(|shaft| shaft.look == Some(Look::Infected));
    let percents: Vec<f64> = infected.map(|shaft| 100.0 * shaft.probability[0]).collect();
    let (low, high) = percents.iter().fold((f64::INFINITY, 0.0_f64), |(low, high), &p| (low.min(p), high.max(p)));
    if percents.is_empty() {
        return words.sure_none.to_owned();
    }
    let [low, high] = [low, high].map(|p| words.number(p, 0));
    let range = if low == high { low } else { format!("{low}–{high}") };
    fill(words.sure_range, &[("range", &range)])
}

/// The photo of page 1 with its marks; which one it is where there are several.
fn photo(report: &Report, fit: &Fit, shown: Option<&Outlined>) -> Option<Block> {
    let (place, all) = (report.first_page(), report.photos.len());
    let of_several = [("n", (place + 1).to_string()), ("all", all.to_string())];
    let of_several = of_several.each_ref().map(|(key, value)| (*key, value.as_str()));
    let mut block = captioned(report, report.photos.get(place)?, shown?.clone(), fit.photo_height);
    if let Block::Picture { caption: Some(caption), .. } = &mut block
        && all > 1
    {
        caption.insert_str(0, &format!("{} ", fill(report.language.words().photo_of_several, &of_several)));
    }
    Some(block)
}

/// A photo with its marks, and under it what they mean.
pub(super) fn marked(report: &Report, photo: &ReadPhoto, max_height: f64) -> Option<Block> {
    let outlined = outlined(photo.entry, photo.picture)?;
    Some(captioned(report, photo, outlined, max_height))
}

fn captioned(report: &Report, photo: &ReadPhoto, outlined: Outlined, max_height: f64) -> Block {
    let words = report.language.words();
    let (entry, picture) = (photo.entry, photo.picture);
    let (file, n) = (&entry.photo.file, entry.shafts.len().to_string());
    let bar = match &outlined.bar {
        Some(length) => fill(words.photo_bar, &[("length", &length.replace('.', words.decimal()))]),
        None => words.photo_no_bar.to_owned(),
    };
    let mut caption = vec![fill(words.photo_caption, &[("file", file)]), bar, words.photo_signs.to_owned()];
    if picture.gain > 1.0 {
        let gain = words.number(picture.gain, usize::from(picture.gain < 10.0));
        caption.push(fill(words.photo_brighter, &[("gain", &gain)]));
    }
    let alt = fill(words.photo_alt, &[("file", file), ("n", &n)]);
    Block::Picture { picture: outlined.picture, alt, caption: Some(caption.join(" ")), max_height }
}

/// A row a look: its mark, its words, how many and which.
fn looks(entries: &[&Entry], words: &Words) -> Block {
    let several = entries.len() > 1;
    let rows = Look::ALL.map(Look::code).into_iter().chain([UNDETERMINED]).map(|class| {
        let ids: Vec<String> = entries
            .iter()
            .enumerate()
            .filter_map(|(i, entry)| {
                let of_look = entry.shafts.iter().filter(|shaft| shaft.class() == class);
                let ids: Vec<usize> = of_look.map(|shaft| shaft.id).collect();
                // The photo's number stands before its shafts' where there are several.
                let which = if several { format!("{}: {}", i + 1, ranges(&ids)) } else { ranges(&ids) };
                (!ids.is_empty()).then_some(which)
            })
            .collect();
        let n: usize = entries.iter().map(|e| e.shafts.iter().filter(|s| s.class() == class).count()).sum();
        vec![
            Cell { words: words.look_words(class).to_owned(), mark: Some(class) },
            n.to_string().into(),
            ids.join("; ").into(),
        ]
    });
    Block::Table {
        head: [words.look, words.shafts, words.numbers].map(str::to_owned).to_vec(),
        rows: rows.collect(),
        shares: vec![0.52, 0.2, 0.28],
    }
}

/// A shaft and the entry of its photo.
type OnPhoto<'a> = (&'a Entry, &'a Shaft);

/// Infected-looking shafts beside the comparison shafts.
fn comparison(entries: &[&Entry], words: &Words) -> Vec<Block> {
    let shafts = || entries.iter().flat_map(|entry| entry.shafts.iter().map(move |shaft| (*entry, shaft)));
    let infected: Vec<_> = shafts().filter(|(_, shaft)| shaft.look == Some(Look::Infected)).collect();
    let ordinary: Vec<_> = shafts().filter(|(_, shaft)| shaft.comparison && shaft.look == Some(Look::Normal)).collect();
    let sentence = |words: &str| vec![Block::Paragraph(Tone::Body, words.to_owned())];
    if infected.is_empty() {
        return sentence(words.comparison_infected_none);
    }
    if ordinary.is_empty() {
        return sentence(words.comparison_none);
    }
    // Micrometres only if every shaft has them: photos of two scales must not be mixed.
    let in_um = infected.iter().chain(&ordinary).all(|(entry, _)| entry.photo.scale.is_some());
    let width = |group: &[OnPhoto]| {
        let widths: Vec<f64> = group
            .iter()
            .filter(|(_, shaft)| !shaft.is_too_thin())
            .filter_map(|(_, shaft)| if in_um { shaft.width.median_um } else { shaft.width.median_px })
            .collect();
        let unit = if in_um { "µm" } else { "px" };
        median(&widths).map_or(words.not_told.to_owned(), |middle| format!("{} {unit}", words.number(middle, 1)))
    };
    let lit = |group: &[OnPhoto]| {
        let shares: Vec<f64> = group.iter().map(|(_, shaft)| shaft.fluorescing_share).collect();
        median(&shares).map_or(words.not_told.to_owned(), |middle| format!("{} %", words.number(100.0 * middle, 0)))
    };
    let head = |text: &str, group: &[OnPhoto]| fill(text, &[("n", &group.len().to_string())]);
    let row = |label: &str, of: &dyn Fn(&[OnPhoto]) -> String| {
        vec![Cell::from(label), Cell::from(of(&infected)), Cell::from(of(&ordinary))]
    };
    vec![Block::Table {
        head: vec![
            String::new(),
            head(words.comparison_infected, &infected),
            head(words.comparison_ordinary, &ordinary),
        ],
        rows: vec![row(words.width, &width), row(words.glow_share, &lit)],
        shares: vec![0.36, 0.32, 0.32],
    }]
}

/// The numbers of the shafts that are `wanted`; with the photo's before them where there are several.
fn which(entries: &[&Entry], words: &Words, wanted: impl Fn(&Shaft) -> bool) -> String {
    let of = |entry: &Entry| -> Vec<usize> { entry.shafts.iter().filter(|s| wanted(s)).map(|s| s.id).collect() };
    if let [entry] = entries {
        return ranges(&of(entry));
    }
    let of_each = entries.iter().enumerate().map(|(i, entry)| (i + 1, of(entry))).filter(|(_, ids)| !ids.is_empty());
    let told = |(n, ids): (usize, Vec<usize>)| fill(words.in_photo, &[("n", &n.to_string()), ("ids", &ranges(&ids))]);
    of_each.map(told).collect::<Vec<_>>().join("; ")
}

/// What could not be assessed: unusable photos, shafts of which the program cannot say, concerns.
fn missed(entries: &[&Entry], words: &Words, most: usize) -> Vec<String> {
    let mut points = Vec::new();
    for entry in entries.iter().filter(|entry| !entry.usable) {
        points.push(fill(words.missed_unusable, &[("file", &entry.photo.file)]));
    }
    let all: usize = entries.iter().map(|entry| entry.shafts.len()).sum();
    let unsaid: usize = entries.iter().flat_map(|e| &e.shafts).filter(|s| s.look.is_none()).count();
    if unsaid > 0 {
        let ids = which(entries, words, |shaft| shaft.look.is_none());
        let (n, all) = (unsaid.to_string(), all.to_string());
        points.push(fill(words.missed_undetermined, &[("n", &n), ("all", &all), ("ids", &ids)]));
    }
    points.extend(notes(entries, words));
    if points.is_empty() {
        return vec![words.missed_nothing.to_owned()];
    }
    if points.len() > most {
        let more = points.len() - most;
        points.truncate(most);
        points.push(fill(words.missed_more, &[("n", &more.to_string())]));
    }
    points
}

/// The concerns about photos and shafts, each kind once.
pub(super) fn notes(entries: &[&Entry], words: &Words) -> Vec<String> {
    let mut notes = Vec::new();
    for concern in entries.iter().flat_map(|entry| &entry.concerns) {
        let [message, advice] = (words.concern)(concern);
        let note = format!("{message} {advice}");
        if !notes.contains(&note) {
            notes.push(note);
        }
    }
    for (concern, ids) in concerns_by_kind(entries.iter().flat_map(|entry| &entry.shafts)) {
        let [message, advice] = (words.concern)(&concern);
        let sentence = if ids.len() == 1 { words.missed_shaft } else { words.missed_shafts };
        let ids = match entries.len() {
            1 => ranges(&ids),
            _ => format!("({})", which(entries, words, |s| s.concerns.iter().any(|c| c.kind == concern.kind))),
        };
        notes.push(fill(sentence, &[("ids", &ids), ("message", &message), ("advice", &advice)]));
    }
    notes
}
