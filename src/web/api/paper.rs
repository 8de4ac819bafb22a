//! The page for the vet and the slip for the laboratory, of one photo as it stands, with what the case tells.

use axum::extract::{Path, Query, State};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;

use super::super::answer::Refusal;
use super::super::desk::Desk;
use super::files::{Read, download, read};
use crate::handed;
use crate::pipeline;
use crate::report::{Document, Language, Paper, ReadPhoto, Report};
use crate::store::Stamp;

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
        let picture = pipeline::picture(&bytes, &settings, pipeline::PICTURE_SIDE_PX)?;
        let photos = [ReadPhoto { entry: &corrected.entry, picture: &picture }];
        let language: Language = wanted.language.as_deref().unwrap_or("en").parse().map_err(Refusal::unusable)?;
        let facts = handed::facts(&store.case(&photo.animal)?, &slide, language);
        let report = Report { case: &facts, photos: &photos, made_on: Stamp::now("").today, language, teaching: false };
        let paper = if wanted.letter { Paper::Letter } else { Paper::A4 };
        let pdf = report.pdf(document, paper).map_err(|error| Refusal::broken(error.to_string()))?;
        Ok(download("application/pdf", &format!("{stem}.{kind}.pdf"), pdf).into_response())
    })
    .await
}
