//! The facts of a case as a person gives them: the record, a JSON file, options, each outdoing those before.

use std::fs;
use std::path::{Path, PathBuf};

use jiff::civil::Date;

use super::terminal::{said, shown};
use super::typed::day;
use crate::record::CaseFacts;

/// Largest file of facts, bytes: a long case with two hundred visits has a tenth of it.
const MAX_BYTES: u64 = 1 << 20;

/// What may be told of a case.
#[derive(clap::Args)]
pub(super) struct CaseOptions {
    /// Facts of the case as a JSON object: animal, animal_number, species, breed, sex, neutered, born, age, coat,
    /// organisation, owner, owner_contact, site, exam_day, lamp_nm, lamp_seen, skin, treated, sampled, sampling,
    /// slide, laboratory, request, sender, sender_contact, remark, visits [day, hairs, infected, zone, remark];
    /// all may be left out, days are written 2026-11-25
    #[arg(long, value_name = "FILE.json")]
    case_facts: Option<PathBuf>,

    /// Name of the animal
    #[arg(long, value_name = "NAME")]
    animal: Option<String>,

    /// Place on the animal, such as "left pinna"
    #[arg(long, value_name = "PLACE")]
    site: Option<String>,

    /// Day of the examination under the lamp
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    exam_day: Option<Date>,

    /// What was seen under the lamp
    #[arg(long, value_name = "WORDS")]
    lamp_seen: Option<String>,

    /// Day the sample was taken
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    sampled: Option<Date>,

    /// How the sample was taken
    #[arg(long, value_name = "WORDS")]
    sampling: Option<String>,

    /// Show the owner's name and contact, which stay out of every file otherwise
    #[arg(long)]
    with_owner: bool,

    /// Make a teaching copy: nothing that tells which animal, whose, where or when
    #[arg(long, conflicts_with = "with_owner")]
    teaching: bool,
}

impl CaseOptions {
    /// Whether a teaching copy is made.
    pub(super) fn is_teaching(&self) -> bool {
        self.teaching
    }

    /// The facts that may leave the program, or a sentence on why they cannot be used. `known` is what the record
    /// tells; the file outdoes it.
    pub(super) fn facts(&self, known: CaseFacts) -> Result<CaseFacts, String> {
        let mut facts = match &self.case_facts {
            Some(path) => from_file(path)?.or(known),
            None => known,
        };
        let texts = [
            (&mut facts.animal, &self.animal),
            (&mut facts.site, &self.site),
            (&mut facts.lamp_seen, &self.lamp_seen),
            (&mut facts.sampling, &self.sampling),
        ];
        for (fact, given) in texts {
            if given.is_some() {
                fact.clone_from(given);
            }
        }
        facts.exam_day = self.exam_day.or(facts.exam_day);
        facts.sampled = self.sampled.or(facts.sampled);
        let facts = facts.checked().map_err(|error| error.to_string())?;
        Ok(match (self.teaching, self.with_owner) {
            (true, _) => facts.without_identity(),
            (false, true) => facts,
            (false, false) => facts.without_owner(),
        })
    }
}

fn from_file(path: &Path) -> Result<CaseFacts, String> {
    let of_file = |what: String| format!("{}: {what}", shown(path));
    let unread =
        |error: std::io::Error| of_file(format!("the facts cannot be read: {}; check the file's name", said(&error)));
    let about = fs::metadata(path).map_err(unread)?;
    if about.len() > MAX_BYTES {
        return Err(of_file("it is too large to be the facts of a case; give the right file".to_owned()));
    }
    let bytes = fs::read(path).map_err(unread)?;
    CaseFacts::from_json(&bytes).map_err(|error| of_file(error.to_string()))
}
