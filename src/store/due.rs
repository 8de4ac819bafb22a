//! What is due: re-examinations, cultures to send, to read and to hold, slides to make.

use serde::Serialize;

use super::Store;
use super::case::Case;
use super::coincidence::Suggestion;
use super::due_says::{CultureSaid, DueSays};
use super::error::StoreError;
use super::facts::{Day, Growth, Kind};
use super::kept::short;
use super::rules::{
    DOUBTFUL, LOOK_AGAIN, NEXT_SLIDE, PLATE_END, PLATE_HOLD, PLATE_LOOK, RESIDUE, Rules, days_between, later,
};

/// Days after which something that nobody did is no longer listed: the list is for what can still be done, and a
/// look that was due a quarter of a year ago tells nothing of that exposure any more.
const FORGOTTEN_DAYS: i64 = 90;

/// Findings after which another slide is made.
const FOLLOWED: [&str; 4] = ["looks-infected-many", "looks-infected-few", "doubtful", "tip-only"];

/// A photo that could not be judged: another is made at once.
const NOT_USABLE: &str = "not-usable";

/// Kinds of things that are due.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum DueKind {
    /// An exposed or doubtful animal is to be looked at again.
    Reexamination,
    /// Hairs are to be sent for culture.
    CultureToSend,
    /// A plate is to be looked at.
    PlateToRead,
    /// What grew is to be confirmed under the microscope.
    GrowthToConfirm,
    /// A culture is to be held longer; the day is that of the next look.
    CultureToHold,
    /// Another slide is to be made.
    SlideToMake,
}

/// One thing that is due.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Due {
    /// What kind of thing.
    pub kind: DueKind,
    /// The day it is due.
    pub day: Day,
    /// Id of the animal.
    pub animal: String,
    /// Its name.
    pub name: String,
    /// Id of the contact, exam, culture or slide that it is about.
    pub about: String,
    /// What to do, for a person, in English.
    pub sentence: String,
    /// The same as what it is made of, for other languages.
    #[serde(skip)]
    pub says: DueSays,
    /// Where the rule is from.
    pub source: String,
}

impl Store {
    /// What is due until `today`, and what will be within `ahead` days, the most overdue first. Cultures that are to
    /// be held are listed whenever their next look is.
    ///
    /// # Errors
    /// When the record cannot be read.
    pub fn due(&self, today: Day, ahead: u16) -> Result<Vec<Due>, StoreError> {
        let rules = self.rules()?;
        let last = later(today, ahead.into());
        let since = |days: i64| later(today, -(days + FORGOTTEN_DAYS)).to_string();
        let exposed = since(rules.last(LOOK_AGAIN));
        let seen = since(rules.first(DOUBTFUL).max(rules.first(RESIDUE)));
        let findings: Vec<&str> = FOLLOWED.iter().copied().chain([NOT_USABLE]).collect();
        let mut due = Vec::new();
        for animal in self.database.waiting(&exposed, &seen, &findings)?.0 {
            due.extend(self.case_to_be_due(&animal)?.due(&rules, today));
        }
        due.retain(|one| one.day <= last || one.kind == DueKind::CultureToHold);
        due.sort_by(|a, b| (a.day, &a.name, &a.about).cmp(&(b.day, &b.name, &b.about)));
        Ok(due)
    }

    /// A case with no more than what is due depends on: of photos and readings those of the newest slide of each site.
    fn case_to_be_due(&self, animal: &str) -> Result<Case, StoreError> {
        let mut rows = self.database.case_without_photos(animal)?;
        let case = Case::of(&rows, animal)?;
        let slides = case.standing_slides();
        for site in case.sites() {
            let Some(slide) = slides.iter().rev().find(|slide| slide.fact.site == site) else { continue };
            for photo in self.database.children(&slide.id, Kind::Photo)? {
                rows.extend(self.database.children(&photo.id, Kind::Reading)?);
                rows.push(photo);
            }
        }
        Case::of(&rows, animal)
    }
}

impl Case {
    /// What is or will be due for this animal; nothing for one that was withdrawn.
    pub fn due(&self, rules: &Rules, today: Day) -> Vec<Due> {
        if self.animal.withdrawn {
            return Vec::new();
        }
        let mut due = self.looks_due(rules);
        due.extend(self.cultures_due(rules, today));
        due.extend(self.slides_due(rules));
        due.retain(|one| days_between(one.day, today) <= FORGOTTEN_DAYS);
        due.sort_by_key(|one| one.day);
        due
    }

    fn one(&self, kind: DueKind, day: Day, about: &str, says: DueSays, source: String) -> Due {
        let (animal, name) = (self.animal.id.clone(), self.animal.fact.name.clone());
        Due { kind, day, animal, name, about: about.to_owned(), sentence: says.to_string(), says, source }
    }

    /// Exposed animals, and those that were doubtful under the lamp.
    fn looks_due(&self, rules: &Rules) -> Vec<Due> {
        let mut due = Vec::new();
        let exams = self.standing_exams();
        let fluoresced_since = |day: Day| {
            exams.iter().any(|exam| {
                exam.fact.day >= day && exam.fact.sites.iter().any(|seen| seen.fluorescence == super::Answer::Yes)
            })
        };
        for contact in self.contacts.iter().filter(|contact| !contact.withdrawn) {
            let from = contact.fact.day;
            let looked = exams.iter().map(|exam| exam.fact.day).max();
            let next = rules.days(LOOK_AGAIN).iter().map(|&days| (days, later(from, days)));
            let next = next.into_iter().find(|&(_, day)| looked.is_none_or(|looked| looked < day));
            // Once something fluoresced, that is followed up and not the contact.
            if let Some((days, day)) = next.filter(|_| !fluoresced_since(from)) {
                let says = DueSays::AfterContact { days, with: contact.fact.with.clone(), on: from };
                due.push(self.one(DueKind::Reexamination, day, &contact.id, says, rules.source(LOOK_AGAIN)));
            }
        }
        for site in self.coincidences(rules) {
            let about = &site.exam;
            let place = site.site.clone();
            match site.suggests {
                Suggestion::TooEarly => {
                    let day = later(site.since.unwrap_or(site.day), rules.first(RESIDUE));
                    let says = DueSays::HairLost { place: place.clone() };
                    due.push(self.one(DueKind::Reexamination, day, about, says, site.source));
                }
                Suggestion::LiftCrust => {
                    let says = DueSays::LiftCrust { place: place.clone() };
                    due.push(self.one(DueKind::Reexamination, site.day, about, says, rules.source(DOUBTFUL)));
                }
                Suggestion::CannotSay => {
                    let day = later(site.day, rules.first(DOUBTFUL));
                    let says = DueSays::Doubtful { place: place.clone(), on: site.day };
                    due.push(self.one(DueKind::Reexamination, day, about, says, rules.source(DOUBTFUL)));
                }
                Suggestion::Coincide | Suggestion::Residue | Suggestion::LossOnly | Suggestion::Neither => (),
            }
            let sent = self
                .cultures
                .iter()
                .any(|culture| !culture.withdrawn && later(culture.fact.day, rules.last(PLATE_END)) >= site.day);
            let wanted = matches!(site.suggests, Suggestion::Coincide | Suggestion::Residue | Suggestion::LossOnly);
            if wanted && !sent {
                let says = DueSays::SendHairs { place };
                due.push(self.one(DueKind::CultureToSend, site.day, about, says, rules.source(DOUBTFUL)));
            }
        }
        due
    }

    /// Cultures that are not at their end.
    fn cultures_due(&self, rules: &Rules, today: Day) -> Vec<Due> {
        let mut due = Vec::new();
        for culture in self.cultures.iter().filter(|culture| !culture.withdrawn) {
            let plates = self.plates_of(&culture.id);
            if plates.iter().any(|plate| plate.fact.last) {
                continue;
            }
            let sent = culture.fact.day;
            let of = CultureSaid { medium: culture.fact.medium.clone(), sent, id: short(&culture.id).to_owned() };
            let looked = plates.last().map(|plate| plate.fact.day);
            let (hold, end) = (rules.first(PLATE_HOLD), rules.first(PLATE_END));
            let mut days: Vec<i64> = rules.days(PLATE_LOOK).to_vec();
            if !culture.fact.other_test {
                days.extend([hold, end]);
                days.sort_unstable();
                days.dedup();
            }
            if let Some(plate) = plates.iter().rev().find(|plate| plate.fact.growth != Growth::None) {
                let unconfirmed = plate.fact.growth != Growth::Other && plate.fact.confirmed_microscopically.is_none();
                if unconfirmed && !culture.fact.other_test {
                    let source = "Vetlexicon (reference work)".to_owned();
                    let says = DueSays::ConfirmGrowth { of };
                    due.push(self.one(DueKind::GrowthToConfirm, plate.fact.day, &culture.id, says, source));
                    continue;
                }
            }
            let next = days.iter().copied().find(|&days| looked.is_none_or(|looked| looked < later(sent, days)));
            // Looked at on the last day and nobody said that this was the last word.
            let day = later(sent, next.unwrap_or(end));
            let rule = match next {
                Some(days) if rules.days(PLATE_LOOK).contains(&days) => PLATE_LOOK,
                Some(days) if days == hold => PLATE_HOLD,
                _ => PLATE_END,
            };
            if culture.fact.other_test {
                due.push(self.one(DueKind::PlateToRead, day, &culture.id, DueSays::Answer { of }, rules.source(rule)));
            } else if day > today && looked.is_some() {
                let says = DueSays::Hold { of, next: day, days: days_between(sent, day) };
                due.push(self.one(DueKind::CultureToHold, day, &culture.id, says, rules.source(rule)));
            } else {
                let days = days_between(sent, today.max(day));
                let says = DueSays::LookAtPlate { of, days, last: next.is_none_or(|days| days == end) };
                due.push(self.one(DueKind::PlateToRead, day, &culture.id, says, rules.source(rule)));
            }
        }
        due
    }

    /// Slides that should be followed by another, by the newest slide of each site.
    fn slides_due(&self, rules: &Rules) -> Vec<Due> {
        let mut due = Vec::new();
        let slides = self.standing_slides();
        for site in self.sites() {
            let Some(slide) = slides.iter().rev().find(|slide| slide.fact.site == site) else { continue };
            let readings = self.readings_of_slide(&slide.id);
            let found = |codes: &[&str]| readings.iter().any(|reading| codes.contains(&reading.fact.finding.as_str()));
            let day = slide.fact.day;
            if found(&FOLLOWED) {
                let says = DueSays::NextSlide { place: site, of: day };
                let day = later(day, rules.first(NEXT_SLIDE));
                due.push(self.one(DueKind::SlideToMake, day, &slide.id, says, rules.source(NEXT_SLIDE)));
            } else if !readings.is_empty() && readings.iter().all(|reading| reading.fact.finding == NOT_USABLE) {
                let says = DueSays::NextPhoto { place: site, of: day };
                due.push(self.one(DueKind::SlideToMake, day, &slide.id, says, rules.source(NEXT_SLIDE)));
            }
        }
        due
    }
}
