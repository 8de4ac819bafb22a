//! Which culture answers for which slide.
//!
//! A culture has an answer when a ringworm fungus grew on a plate that stands, unless the microscope said otherwise,
//! or when the last word on it is that nothing grew. Other tests than cultures have none: some find the traces of dead
//! spores. Moulds and suspect growth are no answer: a mould may hide the fungus.
//!
//! A culture answers for a slide of the same animal and site, taken at the same exam or within the days of the rule
//! `culture.same-sampling-days`. Nothing grown from the whole coat answers for every site; a fungus grown from the
//! whole coat answers for none, for nobody knows where it sat.

use crate::store::{Case, Culture, Growth, Kept, Rules, SAME_SAMPLING, Slide, short};

/// What a culture came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Culture grew the fungus.
    Grew,
    /// Culture grew nothing.
    Nothing,
}

impl Outcome {
    /// As told to people.
    pub fn words(self) -> &'static str {
        match self {
            Outcome::Grew => "culture grew the fungus",
            Outcome::Nothing => "culture grew nothing",
        }
    }
}

/// The site that stands for the whole animal.
const WHOLE_COAT: &str = "whole coat";

/// A slide with a culture's answer.
#[derive(Clone, Copy, Debug)]
pub struct Answered<'a> {
    /// The slide.
    pub slide: &'a Kept<Slide>,
    /// The culture that answers, the nearest in days.
    pub culture: &'a Kept<Culture>,
    /// Its answer.
    pub outcome: Outcome,
}

/// Cultures that contradict each other, or themselves: a sentence for a person.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unclear {
    /// Id of the slide that has no answer for this reason.
    pub slide: String,
    /// What contradicts what, and what to do.
    pub sentence: String,
}

/// The slides of a case that have an answer, and those that have two that contradict each other; by day.
pub fn answered<'a>(case: &'a Case, rules: &Rules) -> (Vec<Answered<'a>>, Vec<Unclear>) {
    let within = rules.rule(SAME_SAMPLING).and_then(|rule| rule.days.first().copied()).unwrap_or(0);
    let (mut clear, mut unclear) = (Vec::new(), Vec::new());
    for slide in case.standing_slides() {
        let mut answers: Vec<(i64, &Kept<Culture>, Outcome)> = Vec::new();
        let mut own_contradiction = None;
        for culture in case.cultures.iter().filter(|culture| !culture.withdrawn && !culture.fact.other_test) {
            let days = i64::from((culture.fact.day - slide.fact.day).get_days().abs());
            let same_exam = culture.parent == slide.parent && culture.parent.as_deref() != Some(&case.animal.id);
            if !same_exam && days > within {
                continue;
            }
            let site = culture.fact.site.as_ref().map(crate::store::Site::name);
            let whole = site.is_none_or(|site| site == WHOLE_COAT);
            let same_site = site == Some(slide.fact.site.name());
            match outcome(case, culture) {
                Some(Ok(outcome)) if same_site || (whole && outcome == Outcome::Nothing) => {
                    answers.push((days, culture, outcome));
                }
                Some(Err(())) if same_site || whole => own_contradiction = Some(culture),
                _ => (),
            }
        }
        answers.sort_by_key(|(days, culture, _)| (*days, culture.order));
        let of = |wanted: Outcome| answers.iter().find(|(_, _, outcome)| *outcome == wanted).map(|answer| answer.1);
        let about = format!("{}, {}, slide {}", case.animal.fact.name, slide.fact.site.name(), short(&slide.id));
        let sentence = match (own_contradiction, of(Outcome::Grew), of(Outcome::Nothing)) {
            (Some(culture), _, _) => Some(format!(
                "{about}: culture {} both grew the fungus and has as its last word that nothing grew",
                short(&culture.id)
            )),
            (None, Some(grew), Some(nothing)) => Some(format!(
                "{about}: culture {} of {} grew the fungus and culture {} of {} grew nothing",
                short(&grew.id),
                grew.fact.day,
                short(&nothing.id),
                nothing.fact.day
            )),
            _ => None,
        };
        match (sentence, answers.first()) {
            (Some(sentence), _) => unclear.push(Unclear { slide: slide.id.clone(), sentence }),
            (None, Some(&(_, culture, outcome))) => clear.push(Answered { slide, culture, outcome }),
            (None, None) => (),
        }
    }
    (clear, unclear)
}

/// The answer of a culture; `None` while it has none, `Err` when its own plates contradict each other.
fn outcome(case: &Case, culture: &Kept<Culture>) -> Option<Result<Outcome, ()>> {
    let plates = case.plates_of(&culture.id);
    let grew = plates
        .iter()
        .any(|plate| plate.fact.growth == Growth::Ringworm && plate.fact.confirmed_microscopically != Some(false));
    let nothing = plates.iter().any(|plate| plate.fact.last && plate.fact.growth == Growth::None);
    match (grew, nothing) {
        (true, true) => Some(Err(())),
        (true, false) => Some(Ok(Outcome::Grew)),
        (false, true) => Some(Ok(Outcome::Nothing)),
        (false, false) => None,
    }
}
