//! Which shafts of a record are confirmed to be what: looks that a person gave and a culture does not contradict.
//!
//! | a person says | culture grew the fungus | culture grew nothing |
//! |---|---|---|
//! | looks infected | infected | left out: one of the two is wrong |
//! | looks ordinary, looks coated | left out: shafts beside infected ones may be infected and not glow | as said |
//! | not hair | not hair | not hair |
//!
//! The program's own looks are never a label: it would learn from itself. A look that a person repeats is one that a
//! person gave. Each shaft is measured anew from its photo, with all that people said of the slide.

use std::collections::BTreeSet;

use thiserror::Error;

use crate::corrected;
use crate::finding::{Look, Model};
use crate::settings::{Asked, Settings};
use crate::store::{Change, Kept, Outcome, Page, Reading, Store, StoreError, Told, answered};
use crate::training::LabelledRow;

/// Animals needed whose culture grew the fungus and that have a confirmed shaft, and as many whose culture grew
/// nothing. With five, a comparison in five parts has one of either in each; with fewer than five, even if all agree
/// the 95 % interval (Wilson) of their share reaches down to 0.51 or less, which is a coin's.
pub const FEWEST_OF_EACH: usize = 5;

/// The group of confirmed shafts in a table.
pub const GROUP: &str = "record";

/// Set in the scene number of an animal, so that it is that of no simulated scene.
const ANIMAL_BIT: u64 = 1 << 63;

/// The confirmed shafts of a record.
#[derive(Clone, Debug, Default)]
pub struct Confirmed {
    /// The shafts, in the order of the catalogue of features; the animal is the scene.
    pub rows: Vec<LabelledRow>,
    /// Ids of animals with a confirmed shaft, in order.
    pub animals: Vec<String>,
    /// Of those, with shafts of a slide whose culture grew the fungus.
    pub n_grew: usize,
    /// Of those, with shafts of a slide whose culture grew nothing.
    pub n_nothing: usize,
    /// Shafts that a person looked at and that are left out by the rules.
    pub n_left_out: usize,
    /// Slides with a culture's answer.
    pub n_slides: usize,
}

/// Why confirmed shafts cannot be had.
#[derive(Debug, Error)]
pub enum ConfirmedError {
    /// The record.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Cultures contradict each other.
    #[error(
        "{sentence}; withdraw or correct what is wrong with `pilumen case correct`, or leave such slides out with \
         --leave-out-contradictory"
    )]
    Contradiction {
        /// Which.
        sentence: String,
    },
    /// Too few animals.
    #[error(
        "the record has too few confirmed cases: {n_grew} {grew_noun} whose culture grew the fungus and {n_nothing} \
         whose culture grew nothing have shafts that a person judged, and at least {FEWEST_OF_EACH} of each are \
         needed; judge shafts on the desk (a look may be repeated) and keep the cultures' answers",
        grew_noun = if *.n_grew == 1 { "animal" } else { "animals" }
    )]
    TooFew {
        /// Animals whose culture grew the fungus.
        n_grew: usize,
        /// Animals whose culture grew nothing.
        n_nothing: usize,
    },
    /// A photo of a confirmed slide.
    #[error("the photo {file} of a confirmed slide cannot be read: {why}")]
    Photo {
        /// Its name.
        file: String,
        /// Why.
        why: String,
    },
}

/// The confirmed shafts of a record, measured anew. `told` hears how many slides are done, of how many.
///
/// # Errors
/// When the record or a photo cannot be read, or cultures contradict each other (unless those are to be left out).
pub fn confirmed(
    store: &Store,
    model: &Model,
    leave_out_contradictory: bool,
    mut told: impl FnMut(usize, usize),
) -> Result<Confirmed, ConfirmedError> {
    let mut confirmed = Confirmed::default();
    let animals = store.animals(Page::default())?;
    let (mut grew, mut nothing) = (BTreeSet::new(), BTreeSet::new());
    for (i, line) in animals.iter().enumerate() {
        let id = &line.animal.id;
        let case = store.case(id)?;
        let (answers, unclear) = answered(&case);
        if let (Some(unclear), false) = (unclear.first(), leave_out_contradictory) {
            return Err(ConfirmedError::Contradiction { sentence: unclear.sentence.clone() });
        }
        confirmed.n_slides += answers.len();
        for answer in answers {
            for reading in case.readings_of_slide(&answer.slide.id) {
                for (look, values) in judged_by_people(store, model, reading)? {
                    let Some(look) = label(answer.outcome, look) else {
                        confirmed.n_left_out += 1;
                        continue;
                    };
                    match answer.outcome {
                        Outcome::Grew => grew.insert(id.clone()),
                        Outcome::Nothing => nothing.insert(id.clone()),
                    };
                    confirmed.rows.push(LabelledRow {
                        scene: scene(id),
                        group: GROUP.to_owned(),
                        look,
                        kind: "confirmed".to_owned(),
                        values,
                    });
                }
            }
        }
        told(i + 1, animals.len());
    }
    (confirmed.n_grew, confirmed.n_nothing) = (grew.len(), nothing.len());
    confirmed.animals = grew.union(&nothing).cloned().collect();
    Ok(confirmed)
}

impl Confirmed {
    /// Itself, when it is enough to grow on and to compare with.
    ///
    /// # Errors
    /// When there are fewer than [`FEWEST_OF_EACH`] animals of either kind.
    pub fn enough(self) -> Result<Confirmed, ConfirmedError> {
        if self.n_grew < FEWEST_OF_EACH || self.n_nothing < FEWEST_OF_EACH {
            return Err(ConfirmedError::TooFew { n_grew: self.n_grew, n_nothing: self.n_nothing });
        }
        Ok(self)
    }
}

/// What a shaft is, given what its slide's culture grew and what a person says of it; `None`: left out.
fn label(outcome: Outcome, said: Option<Look>) -> Option<Look> {
    match (outcome, said?) {
        (Outcome::Grew, Look::Infected) => Some(Look::Infected),
        (Outcome::Nothing, look @ (Look::Normal | Look::Coated)) => Some(look),
        (_, Look::Fibre) => Some(Look::Fibre),
        _ => None,
    }
}

/// A look that a person gave, `None` where the person cannot say, and the shaft's features.
type LookAndFeatures = (Option<Look>, Vec<Option<f64>>);

/// The shafts of a reading whose look a person gave.
fn judged_by_people(
    store: &Store,
    model: &Model,
    reading: &Kept<Reading>,
) -> Result<Vec<LookAndFeatures>, ConfirmedError> {
    let said: Vec<Told> = reading.corrections.iter().filter(|told| told.change.is_about_shafts()).cloned().collect();
    let gives_look =
        |told: &Told| matches!(&told.change, Change::Look { .. } | Change::MissedShaft { look: Some(_), .. });
    if !reading.fact.usable || !said.iter().any(gives_look) {
        return Ok(Vec::new());
    }
    let evaluation = store.evaluation(&reading.id)?;
    let photo = reading.parent.as_deref().unwrap_or_default();
    let bytes = store.photo_bytes(photo)?;
    let file = evaluation["photo"]["file"].as_str().unwrap_or("photo").to_owned();
    let failed = |why: String| ConfirmedError::Photo { file: file.clone(), why };
    let settings = settings_of(&reading.fact).map_err(failed)?;
    let read =
        corrected::read(&bytes, &settings, model, &evaluation, &said).map_err(|error| failed(error.to_string()))?;
    let shafts = read.entry.shafts.into_iter().filter(|shaft| read.looks_by_people.contains(&shaft.id));
    Ok(shafts.map(|shaft| (shaft.look, shaft.measures)).collect())
}

/// The settings that a reading was made with, as far as they change what is measured.
pub(super) fn settings_of(reading: &Reading) -> Result<Settings, String> {
    let set = |name: &str| reading.program.settings.get(name).copied();
    let um_per_px = set("um_per_px").or_else(|| set("setup_um_per_px"));
    let asked = Asked { um_per_px, max_megapixels: set("max_megapixels"), ..Asked::default() };
    Settings::check(asked).map_err(|error| error.to_string())
}

/// The scene number of an animal: the first 63 bits of its id.
fn scene(animal: &str) -> u64 {
    let digits: String = animal.chars().filter(char::is_ascii_hexdigit).take(16).collect();
    u64::from_str_radix(&digits, 16).unwrap_or(0) | ANIMAL_BIT
}

#[cfg(test)]
mod tests {
    use super::{ANIMAL_BIT, Look, Outcome, label, scene};

    #[test]
    fn a_label_needs_a_person_and_a_culture_that_does_not_contradict() {
        use Outcome::{Grew, Nothing};
        assert_eq!(label(Grew, Some(Look::Infected)), Some(Look::Infected));
        assert_eq!(label(Nothing, Some(Look::Infected)), None);
        assert_eq!(label(Grew, Some(Look::Normal)), None);
        assert_eq!(label(Grew, Some(Look::Coated)), None);
        assert_eq!(label(Nothing, Some(Look::Coated)), Some(Look::Coated));
        assert_eq!(label(Nothing, None), None);
        for outcome in [Grew, Nothing] {
            assert_eq!(label(outcome, Some(Look::Fibre)), Some(Look::Fibre));
        }
    }

    #[test]
    fn animals_are_scenes_of_their_own() {
        let one = scene("f47ac10b-58cc-4372-a567-0e02b2c3d479");
        assert_eq!(one, 0xf47a_c10b_58cc_4372 | ANIMAL_BIT);
        assert_ne!(one, scene("f47ac10b-58cc-4373-a567-0e02b2c3d479"));
    }
}
