//! Which culture answers for which slide: the one definition of a confirmed slide, for practice, for growing a model and
//! for telling how far findings agree.
//!
//! **Which.** A culture answers for a slide of the same animal and site, none of them withdrawn, that was taken at most
//! [`APART_DAYS`] days before or after it, when its last word is told, and is that a ringworm fungus grew (unless
//! somebody said that the microscope did not bear it out: red medium alone is no proof), or that nothing grew. What is
//! suspected, or something else that grew, is no word: a mould may hide the fungus. A sample of the whole coat speaks of
//! the animal and of no site, and other tests than cultures may find the traces of dead spores; neither counts.
//!
//! Where cultures contradict each other, or a culture itself, the slide has no answer.

use super::case::Case;
use super::facts::{Culture, Growth, Slide};
use super::kept::{Kept, short};

/// Days between the slide and the culture within which both speak of the same hair. Within a week a glow at the base reaches
/// up the shaft (facts 2.9), so that a longer time would tell of other hair than is on the slide; common practice, no source.
pub const APART_DAYS: i32 = 7;

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

/// A slide with a culture's answer.
#[derive(Clone, Copy, Debug)]
pub struct Answered<'a> {
    /// The slide.
    pub slide: &'a Kept<Slide>,
    /// The answer.
    pub outcome: Outcome,
}

/// Cultures that contradict each other, or themselves: a sentence for a person.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unclear {
    /// What contradicts what.
    pub sentence: String,
}

/// The slides of a case that have an answer, and those that have two that contradict each other; by day.
pub fn answered(case: &Case) -> (Vec<Answered<'_>>, Vec<Unclear>) {
    let (mut clear, mut unclear) = (Vec::new(), Vec::new());
    for slide in case.standing_slides() {
        let of_slide = |culture: &&Kept<Culture>| {
            !culture.withdrawn
                && !culture.fact.other_test
                && culture.fact.site.as_ref() == Some(&slide.fact.site)
                && (culture.fact.day - slide.fact.day).get_days().abs() <= APART_DAYS
        };
        let told: Vec<(&Kept<Culture>, Said)> =
            case.cultures.iter().filter(of_slide).filter_map(|one| Some((one, said(case, one)?))).collect();
        let of = |wanted: Said| told.iter().find(|(_, said)| *said == wanted).map(|(culture, _)| *culture);
        let about = || format!("{}, {}, slide {}", case.animal.fact.name, slide.fact.site.name(), slide.short());
        match (of(Said::Both), of(Said::One(Outcome::Grew)), of(Said::One(Outcome::Nothing))) {
            (Some(culture), _, _) => unclear.push(Unclear {
                sentence: format!(
                    "{}: culture {} both grew the fungus and has as its last word that nothing grew",
                    about(),
                    culture.short()
                ),
            }),
            (None, Some(grew), Some(nothing)) => unclear.push(Unclear {
                sentence: format!(
                    "{}: culture {} of {} grew the fungus and culture {} of {} grew nothing",
                    about(),
                    short(&grew.id),
                    grew.fact.day,
                    short(&nothing.id),
                    nothing.fact.day
                ),
            }),
            (None, Some(_), None) => clear.push(Answered { slide, outcome: Outcome::Grew }),
            (None, None, Some(_)) => clear.push(Answered { slide, outcome: Outcome::Nothing }),
            (None, None, None) => (),
        }
    }
    (clear, unclear)
}

/// What the plates of a culture say.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Said {
    One(Outcome),
    /// The fungus grew, and the last word is that nothing did.
    Both,
}

/// The last word of a culture; `None` while it has none.
fn said(case: &Case, culture: &Kept<Culture>) -> Option<Said> {
    let plates = case.plates_of(&culture.id);
    let grew = |growth: Growth, microscope: Option<bool>| growth == Growth::Ringworm && microscope != Some(false);
    let last = plates.iter().rfind(|plate| plate.fact.last)?;
    match last.fact.growth {
        Growth::Ringworm if grew(last.fact.growth, last.fact.confirmed_microscopically) => {
            Some(Said::One(Outcome::Grew))
        }
        Growth::None if plates.iter().any(|one| grew(one.fact.growth, one.fact.confirmed_microscopically)) => {
            Some(Said::Both)
        }
        Growth::None => Some(Said::One(Outcome::Nothing)),
        _ => None,
    }
}
