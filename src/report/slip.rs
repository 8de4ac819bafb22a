//! The slip that goes to the laboratory with the sample.

use super::Report;
use super::blocks::{Block, Rank, Tone};
use super::page::{animal_words, found};
use crate::record::{Entry, together};

/// To whom the laboratory answers: what is known, and lines for the rest and for the signature.
fn answer_to(report: &Report) -> Vec<Block> {
    let words = report.language.words();
    let case = report.case;
    let mut known = Vec::new();
    let mut unknown = Vec::new();
    for (label, value) in [(words.sender, &case.sender), (words.sender_contact, &case.sender_contact)] {
        match value {
            Some(value) => known.push((label.to_owned(), value.clone())),
            None => unknown.push(label.to_owned()),
        }
    }
    known.extend(case.organisation.clone().map(|value| (words.organisation.to_owned(), value)));
    unknown.push(words.slip_sign.to_owned());
    let facts = (!known.is_empty()).then_some(Block::Facts(known));
    facts.into_iter().chain([Block::Lines(unknown)]).collect()
}

/// The blocks of the slip. What is not known has a line to be written on.
pub(super) fn blocks(report: &Report) -> Vec<Block> {
    let words = report.language.words();
    let case = report.case;
    let heading = |words: &str| Block::Heading(Rank::Part, words.to_owned());
    let list = |lines: &str| lines.split('|').map(str::to_owned).collect::<Vec<String>>();
    let asked = case.request.clone().unwrap_or_else(|| words.slip_ask_default.to_owned());

    let mut known = Vec::new();
    let mut unknown = Vec::new();
    let mut told = |label: &str, value: Option<String>| match value {
        Some(value) => known.push((label.to_owned(), value)),
        None => unknown.push(label.to_owned()),
    };
    told(words.animal, case.animal.clone());
    told(words.species, animal_words(case, words));
    told(words.animal_number, case.animal_number.clone());
    told(words.site, case.site.clone());
    told(words.sampled, case.sampled.map(|day| day.to_string()));
    told(words.sampling, case.sampling.clone());
    told(words.laboratory, case.laboratory.clone());
    let mut optional = |label: &str, value: Option<String>| {
        if let Some(value) = value {
            known.push((label.to_owned(), value));
        }
    };
    optional(words.owner, case.owner.clone());
    optional(words.owner_contact, case.owner_contact.clone());
    optional(words.exam_day, case.exam_day.map(|day| day.to_string()));
    optional(words.lamp, case.lamp_nm.map(|nm| format!("{} nm", words.number(nm, 0))));
    optional(words.lamp_seen, case.lamp_seen.clone());
    optional(words.skin, case.skin.clone());
    optional(words.treated, case.treated.clone());
    optional(words.slide, case.slide.clone());
    optional(words.remark, case.remark.clone());

    let mut blocks = vec![
        Block::Title(words.slip_title.to_owned(), format!("{} {}", words.made_on, report.made_on)),
        Block::Paragraph(Tone::Lead, words.slip_intro.to_owned()),
        Block::Facts(known),
    ];
    if !unknown.is_empty() {
        blocks.push(Block::Lines(unknown));
    }
    blocks.push(heading(words.slip_material));
    blocks.push(Block::Boxes(list(words.slip_material_lines)));
    blocks.push(heading(words.slip_ask));
    blocks.push(Block::Paragraph(Tone::Body, asked));
    if !report.photos.is_empty() {
        let entries: Vec<&Entry> = report.photos.iter().map(|photo| photo.entry).collect();
        let (slide, _) = together(&entries);
        let sentence = (words.finding)(&found(&slide, &entries));
        blocks.push(Block::Paragraph(Tone::Small, format!("{} {sentence}", words.slip_photo)));
    }
    blocks.push(Block::Frame(vec![Block::Paragraph(Tone::Body, words.slip_handling.to_owned())]));
    blocks.push(heading(words.slip_answer));
    blocks.extend(answer_to(report));
    blocks.push(heading(words.slip_lab_use));
    blocks.push(Block::Lines(list(words.slip_lab_lines)));
    blocks
}
