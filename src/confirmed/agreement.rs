//! How far the program's findings agree with culture, animal by animal.
//!
//! One animal counts once: by the slide with an answer that was taken first, so that nobody chooses, and before what is
//! done about it. Its photos are read anew by the model that is asked about, without what people said of them: what is
//! appraised is the program alone.

use super::labels::{ConfirmedError, settings_of};
use crate::finding::Model;
use crate::maths::proportion::{Interval, Z_95, wilson};
use crate::pipeline::{self, Want};
use crate::record::{Entry, together};
use crate::store::{Case, Outcome, Page, Store, Unclear, answered};

/// Animals with the same outcome below which nothing is told of a share: with nine, even if all agree, the 95 %
/// interval (Wilson) reaches down to 0.70, no better than a lamp held over the animal (0.71 of infected cats in one
/// shelter, facts 2.19).
pub const FEWEST_TO_TELL: usize = 10;

/// What the program found on an animal's slide.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// Some shafts look infected.
    LooksInfected,
    /// It could not say.
    Doubtful,
    /// No shaft looks infected.
    NoneLooksInfected,
    /// No photo was fit to be judged.
    NotUsable,
}

impl Found {
    /// In the order of tables.
    pub const ALL: [Found; 4] = [Found::LooksInfected, Found::Doubtful, Found::NoneLooksInfected, Found::NotUsable];

    /// As told to people.
    pub fn words(self) -> &'static str {
        match self {
            Found::LooksInfected => "shafts look infected",
            Found::Doubtful => "cannot say",
            Found::NoneLooksInfected => "no shaft looks infected",
            Found::NotUsable => "no photo could be judged",
        }
    }

    fn of(code: &str) -> Found {
        match code {
            "looks-infected-many" | "looks-infected-few" => Found::LooksInfected,
            "doubtful" | "no-shaft" => Found::Doubtful,
            "not-usable" => Found::NotUsable,
            _ => Found::NoneLooksInfected,
        }
    }
}

/// Counts of animals by what their culture came to and what the program found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Culture grew the fungus, in the order of [`Found::ALL`].
    pub grew: [usize; 4],
    /// Culture grew nothing.
    pub nothing: [usize; 4],
}

/// A share of animals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Agreeing {
    /// Animals that agree.
    pub n_agree: usize,
    /// Animals of this outcome with a photo that could be judged.
    pub n: usize,
    /// Wilson's 95 % interval; `None` below [`FEWEST_TO_TELL`] animals.
    pub interval: Option<Interval>,
}

impl Counts {
    /// Of animals with this outcome, those on which the program found what agrees; "cannot say" does not agree.
    pub fn agreeing(&self, outcome: Outcome) -> Agreeing {
        let (counts, agrees) = match outcome {
            Outcome::Grew => (&self.grew, Found::LooksInfected),
            Outcome::Nothing => (&self.nothing, Found::NoneLooksInfected),
        };
        let n: usize = counts.iter().sum::<usize>() - counts[Found::NotUsable as usize];
        let n_agree = counts[agrees as usize];
        let interval = if n < FEWEST_TO_TELL { None } else { wilson(n_agree, n, Z_95) };
        Agreeing { n_agree, n, interval }
    }

    /// Animals.
    pub fn n(&self) -> usize {
        self.grew.iter().chain(&self.nothing).sum()
    }
}

/// Agreement with culture.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Agreement {
    /// Animals that the model was not grown on.
    pub others: Counts,
    /// Animals that it was grown on: their agreement says nothing of new animals.
    pub grown_on: Counts,
    /// Slides left out because cultures contradict each other.
    pub unclear: Vec<Unclear>,
    /// Photos that could not be read, each with why.
    pub unread: Vec<String>,
}

/// Reads the slides that have an answer and counts. `grown_on`: ids of animals that the model was grown on; `told`
/// hears how many animals are done, of how many.
///
/// # Errors
/// When the record cannot be read.
pub fn agreement(
    store: &Store,
    model: &Model,
    grown_on: &[String],
    mut told: impl FnMut(usize, usize),
) -> Result<Agreement, ConfirmedError> {
    let mut agreement = Agreement::default();
    let animals = store.animals(Page::default())?;
    for (i, line) in animals.iter().enumerate() {
        let case = store.case(&line.animal.id)?;
        let (answers, unclear) = answered(&case);
        agreement.unclear.extend(unclear);
        for answer in answers {
            let entries = read_again(store, model, &case, &answer.slide.id, &mut agreement.unread)?;
            if entries.is_empty() {
                continue;
            }
            let found = Found::of(together(&entries.iter().collect::<Vec<_>>()).0.code);
            let known = grown_on.contains(&line.animal.id);
            let counts = if known { &mut agreement.grown_on } else { &mut agreement.others };
            match answer.outcome {
                Outcome::Grew => counts.grew[found as usize] += 1,
                Outcome::Nothing => counts.nothing[found as usize] += 1,
            }
            break;
        }
        told(i + 1, animals.len());
    }
    Ok(agreement)
}

/// The photos of a slide that were read, read once more.
fn read_again(
    store: &Store,
    model: &Model,
    case: &Case,
    slide: &str,
    unread: &mut Vec<String>,
) -> Result<Vec<Entry>, ConfirmedError> {
    let mut entries = Vec::new();
    for reading in case.readings_of_slide(slide) {
        let Some(photo) = case.photos.iter().find(|photo| Some(&photo.id) == reading.parent.as_ref()) else { continue };
        let bytes = store.photo_bytes(&photo.id)?;
        let read = settings_of(&reading.fact).and_then(|settings| {
            pipeline::read(&photo.fact.file, &bytes, &settings, model, Want::Numbers).map_err(|error| error.to_string())
        });
        match read {
            Ok(read) => entries.push(read.entry),
            Err(why) => unread.push(format!("{}: {why}", photo.fact.file)),
        }
    }
    Ok(entries)
}

#[cfg(test)]
mod tests {
    use super::{Counts, FEWEST_TO_TELL, Found, Outcome, wilson};
    use crate::maths::proportion::Z_95;

    #[test]
    fn a_share_is_told_only_of_enough_animals() {
        let few = Counts { grew: [9, 0, 0, 3], nothing: [0; 4] };
        assert_eq!((few.agreeing(Outcome::Grew).n, few.agreeing(Outcome::Grew).interval), (9, None));
        let enough = Counts { grew: [8, 1, 1, 3], nothing: [1, 2, 9, 0] };
        let grew = enough.agreeing(Outcome::Grew);
        assert_eq!((grew.n_agree, grew.n, grew.interval), (8, 10, wilson(8, 10, Z_95)));
        let nothing = enough.agreeing(Outcome::Nothing);
        assert_eq!((nothing.n_agree, nothing.n), (9, 12), "cannot say does not agree");
    }

    #[test]
    fn the_reasons_given_for_the_least_numbers_hold() {
        let low = |n| wilson(n, n, Z_95).unwrap().low;
        assert!(low(FEWEST_TO_TELL - 1) < 0.71 && low(FEWEST_TO_TELL) > 0.71);
        let of_each = super::super::FEWEST_OF_EACH;
        assert!(low(of_each - 1) < 0.515 && low(of_each) > 0.56);
    }

    #[test]
    fn every_finding_is_one_of_the_four() {
        assert_eq!(Found::of("looks-infected-few"), Found::LooksInfected);
        assert_eq!(Found::of("tip-only"), Found::NoneLooksInfected);
        assert_eq!(Found::of("no-shaft"), Found::Doubtful);
        assert_eq!(Found::of("not-usable"), Found::NotUsable);
    }
}
