//! Whether fluorescence and hair loss coincide at a site, and what that suggests by the rules of thumb.

use serde::Serialize;

use super::case::Case;
use super::facts::{Answer, Day, Exam, Site, SiteSeen};
use super::kept::Kept;
use super::rules::{RESIDUE, Rules, days_between, later};

/// Several ringworm fungi do not fluoresce in hair (facts: M. canis, M. audouinii, M. distortum, M. ferrugineum and
/// T. schoenleinii do).
const DARK_EXCLUDES_NOTHING: &str = "a site that does not fluoresce excludes nothing: several ringworm fungi do not \
                                     fluoresce in hair";

/// What a site suggests. Never more than that: each sentence ends in a culture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Suggestion {
    /// Fluorescence and hair loss on one site: speaks for an active site.
    Coincide,
    /// Fluorescence, no hair loss yet, seen too short a time ago to tell.
    TooEarly,
    /// Fluorescence that still shows no hair loss: speaks for residue.
    Residue,
    /// Hair loss without fluorescence.
    LossOnly,
    /// No fluorescence, but crust was not lifted.
    LiftCrust,
    /// Neither was seen.
    Neither,
    /// Something was not looked at, or could not be told.
    CannotSay,
}

/// One site of an animal, as the latest exam saw it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Coincidence {
    /// Where.
    pub site: Site,
    /// The day of the latest exam of the site.
    pub day: Day,
    /// Id of that exam.
    pub exam: String,
    /// Whether it fluoresced.
    pub fluorescence: Answer,
    /// Whether hair was missing.
    pub hair_loss: Option<Answer>,
    /// The first day of the run of exams that all saw it fluoresce without hair loss; absent when it does not now.
    pub since: Option<Day>,
    /// What it suggests.
    pub suggests: Suggestion,
    /// The same for a person, with what to do.
    pub sentence: String,
    /// Where the rule is from.
    pub source: String,
}

impl Case {
    /// Every site that an exam looked at, as the latest exam saw it.
    pub fn coincidences(&self, rules: &Rules) -> Vec<Coincidence> {
        let exams = self.standing_exams();
        let mut sites: Vec<&Site> =
            exams.iter().flat_map(|exam| exam.fact.sites.iter().map(|seen| &seen.site)).collect();
        sites.sort();
        sites.dedup();
        sites.into_iter().filter_map(|site| coincidence(&exams, site, rules)).collect()
    }
}

fn coincidence(exams: &[&Kept<Exam>], site: &Site, rules: &Rules) -> Option<Coincidence> {
    let looks: Vec<(&Kept<Exam>, &SiteSeen)> = exams
        .iter()
        .filter_map(|exam| exam.fact.sites.iter().find(|seen| seen.site == *site).map(|seen| (*exam, seen)))
        .collect();
    let &(exam, seen) = looks.last()?;
    let dry = |seen: &SiteSeen| seen.fluorescence == Answer::Yes && seen.hair_loss == Some(Answer::No);
    let since = looks.iter().rev().take_while(|(_, seen)| dry(seen)).last().map(|(exam, _)| exam.fact.day);
    let wait = rules.first(RESIDUE);
    let (suggests, mut sentence) = match (seen.fluorescence, seen.hair_loss) {
        (Answer::Yes, Some(Answer::Yes)) => (
            Suggestion::Coincide,
            "fluorescence and hair loss coincide, which speaks for an active site; send hairs from it for culture"
                .to_owned(),
        ),
        (Answer::Yes, Some(Answer::No)) => {
            let first = since.unwrap_or(exam.fact.day);
            if days_between(first, exam.fact.day) >= wait {
                (
                    Suggestion::Residue,
                    format!(
                        "it has fluoresced since {first} without hair loss, which speaks for residue (medicine, soap, \
                         food, dander, fabric); a culture tells"
                    ),
                )
            } else {
                (
                    Suggestion::TooEarly,
                    format!(
                        "it fluoresces without hair loss; look again on {} whether hair is lost, and send a culture",
                        later(first, wait)
                    ),
                )
            }
        }
        (Answer::No, _) if seen.crust == Some(Answer::Yes) && seen.crust_lifted != Some(Answer::Yes) => (
            Suggestion::LiftCrust,
            "no fluorescence, but there is crust: lift it and look again before the site is called dark".to_owned(),
        ),
        (Answer::No, Some(Answer::Yes)) => {
            (Suggestion::LossOnly, format!("hair loss without fluorescence; {DARK_EXCLUDES_NOTHING}; send a culture"))
        }
        (Answer::No, Some(Answer::No)) => {
            (Suggestion::Neither, format!("neither fluorescence nor hair loss was seen; {DARK_EXCLUDES_NOTHING}"))
        }
        _ => (
            Suggestion::CannotSay,
            "it was not told, or could not be seen, whether it fluoresces and has lost hair; look again, and send a \
             culture"
                .to_owned(),
        ),
    };
    if exam.fact.bathed_before == Some(Answer::Yes) || exam.fact.treated_before == Some(Answer::Yes) {
        sentence.push_str(
            ". The animal was bathed or treated before: sources disagree whether that takes fluorescence away, and \
             what was put on may fluoresce itself",
        );
    }
    Some(Coincidence {
        site: site.clone(),
        day: exam.fact.day,
        exam: exam.id.clone(),
        fluorescence: seen.fluorescence,
        hair_loss: seen.hair_loss,
        since,
        suggests,
        sentence,
        source: rules.source(RESIDUE),
    })
}
