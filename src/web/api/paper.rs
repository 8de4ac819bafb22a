//! The page for the vet and the slip for the laboratory, of one photo as it stands, with what the case tells.

use axum::extract::{Path, Query, State};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;

use super::super::answer::Refusal;
use super::super::desk::Desk;
use super::files::{Read, download, read};
use crate::pipeline;
use crate::record::{CaseFacts, Sex, Visit};
use crate::reference_strips;
use crate::report::{Document, Language, Paper, ReadPhoto, Report};
use crate::store::{self, Answer, Case, Happening, Kept, Slide, Stamp};

/// In which language and on which paper.
#[derive(Deserialize)]
pub(super) struct Wanted {
    #[serde(default)]
    language: Option<String>,
    #[serde(default)]
    letter: bool,
}

/// `report` or `slip`, as PDF.
pub(super) async fn paper(
    State(desk): State<Desk>,
    Path((id, kind)): Path<(String, String)>,
    Query(wanted): Query<Wanted>,
) -> Result<Response, Refusal> {
    desk.apart(move |desk| {
        let document = match kind.as_str() {
            "report" => Document::Report,
            "slip" => Document::Slip,
            _ => return Err(Refusal::unknown("there is no such paper; take one the page offers")),
        };
        let Read { store, photo, bytes, settings, corrected, stem } = read(desk, &id)?;
        let slide = store.slide(photo.parent.as_deref().unwrap_or_default())?;
        let facts = facts(&store.case(&photo.animal)?, &slide);
        let picture = pipeline::picture(&bytes, &settings, pipeline::PICTURE_SIDE_PX)?;
        let photos = [ReadPhoto { entry: &corrected.entry, picture: &picture }];
        let language: Language = wanted.language.as_deref().unwrap_or("en").parse().map_err(Refusal::unusable)?;
        let strips = reference_strips::strips(&corrected.entry.program.model_sha256);
        let report =
            Report { case: &facts, photos: &photos, made_on: Stamp::now("").today, language, teaching: false, strips };
        let paper = if wanted.letter { Paper::Letter } else { Paper::A4 };
        let pdf = report.pdf(document, paper).map_err(|error| Refusal::broken(error.to_string()))?;
        Ok(download("application/pdf", &format!("{stem}.{kind}.pdf"), pdf).into_response())
    })
    .await
}

/// What the case tells of a slide: nothing that was not told, and no owner, whom the record does not know.
fn facts(case: &Case, slide: &Kept<Slide>) -> CaseFacts {
    let animal = &case.animal.fact;
    let site = &slide.fact.site;
    let exams = case.standing_exams();
    let exam = exams.iter().rev().find(|exam| exam.fact.day <= slide.fact.day);
    let seen = exam.and_then(|exam| exam.fact.sites.iter().find(|seen| seen.site == *site));
    let answered = |answer: Answer| match answer {
        Answer::Yes => "fluorescence",
        Answer::No => "no fluorescence",
        Answer::Unsure => "unsure",
    };
    let visits = case.course(site).points.into_iter().filter(|point| point.day < slide.fact.day);
    let treated: Vec<String> = case
        .treatments
        .iter()
        .filter(|one| !one.withdrawn && one.fact.day <= slide.fact.day)
        .map(|one| format!("{} {}, {}", one.fact.day, one.fact.kind, one.fact.with))
        .collect();
    CaseFacts {
        animal: Some(animal.name.clone()),
        animal_number: animal.identifiers.first().map(|one| format!("{} {}", one.kind, one.value)),
        sex: animal.sex.map(|sex| match sex {
            store::Sex::Female => Sex::Female,
            store::Sex::Male => Sex::Male,
        }),
        neutered: animal.neuter.map(|neuter| neuter == store::Neuter::Neutered),
        age: animal.age_class.map(|age| age.to_string()),
        coat: animal.coat_colour.clone(),
        site: Some(site.name().to_owned()),
        exam_day: exam.map(|exam| exam.fact.day),
        lamp_nm: exam.and_then(|exam| exam.fact.lamp_nm),
        lamp_seen: seen.map(|seen| match &seen.colour {
            Some(colour) => format!("{}, {colour}", answered(seen.fluorescence)),
            None => answered(seen.fluorescence).to_owned(),
        }),
        treated: (!treated.is_empty()).then(|| treated.join("; ")),
        sampled: Some(slide.fact.day),
        sampling: slide.fact.plucked.clone(),
        slide: slide.fact.label.clone(),
        sender: Some(slide.by.clone()),
        visits: visits
            .filter_map(|point| {
                let Happening::Slide { infected, zones, .. } = point.happening else { return None };
                let zone = zones.into_iter().max_by_key(|(_, n)| *n).map(|(zone, _)| zone);
                let share = infected.map(|share| (share.of, share.n));
                Some(Visit {
                    day: point.day,
                    hairs: share.map(|share| share.0),
                    infected: share.map(|share| share.1),
                    zone,
                    remark: None,
                })
            })
            .collect(),
        ..CaseFacts::default()
    }
}
