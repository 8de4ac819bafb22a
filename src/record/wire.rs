//! The written form of a case's facts: one JSON object, checked when it is read.

use std::ops::RangeInclusive;

use jiff::civil::Date;
use serde::Deserialize;

use super::case::{CaseFacts, Sex, Visit};

/// Longest text of one fact, characters: a long paragraph. More is a slip of the clipboard.
const MAX_CHARACTERS: usize = 2_000;

/// Most earlier visits.
const MAX_VISITS: usize = 200;

/// Wavelengths that a lamp for this can have, nanometres: UV-A and the border to violet, as cheap lamps are off.
const LAMP_NM: RangeInclusive<f64> = 300.0..=420.0;

/// Why facts cannot be used, as a sentence that starts small.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FactsError {
    /// No JSON, or an object with other members.
    #[error("{0}; see `pilumen help report` for the facts that may be given")]
    Form(String),
    /// A text that is too long.
    #[error("the fact `{0}` is longer than {MAX_CHARACTERS} characters; shorten it")]
    TooLong(&'static str),
    /// A text with characters that steer printers or terminals.
    #[error("the fact `{0}` holds control characters; write it again without them")]
    Control(&'static str),
    /// A wavelength no such lamp has.
    #[error("{0} nm is no wavelength of such a lamp; give 300 to 420, such as 365")]
    Lamp(String),
    /// A visit with more infected hairs than hairs, or too many visits.
    #[error("{0}")]
    Visit(&'static str),
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Wire {
    animal: Option<String>,
    animal_number: Option<String>,
    species: Option<String>,
    breed: Option<String>,
    sex: Option<WireSex>,
    neutered: Option<bool>,
    born: Option<Date>,
    age: Option<String>,
    coat: Option<String>,
    organisation: Option<String>,
    owner: Option<String>,
    owner_contact: Option<String>,
    site: Option<String>,
    exam_day: Option<Date>,
    lamp_nm: Option<f64>,
    lamp_seen: Option<String>,
    skin: Option<String>,
    treated: Option<String>,
    sampled: Option<Date>,
    sampling: Option<String>,
    slide: Option<String>,
    laboratory: Option<String>,
    request: Option<String>,
    sender: Option<String>,
    sender_contact: Option<String>,
    remark: Option<String>,
    visits: Vec<WireVisit>,
}

#[derive(Deserialize)]
#[serde(rename_all = "lowercase")]
enum WireSex {
    Female,
    Male,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WireVisit {
    day: Date,
    #[serde(default)]
    hairs: Option<usize>,
    #[serde(default)]
    infected: Option<usize>,
    #[serde(default)]
    zone: Option<String>,
    #[serde(default)]
    remark: Option<String>,
}

impl CaseFacts {
    /// The facts in a JSON object; its members are named as the fields here, days are written 2026-11-25.
    ///
    /// # Errors
    /// When it is no such object or a fact cannot be used.
    pub fn from_json(bytes: &[u8]) -> Result<CaseFacts, FactsError> {
        // A list would be taken for the members in their order.
        if bytes.trim_ascii_start().first() != Some(&b'{') {
            return Err(FactsError::Form("the facts are no JSON object".to_owned()));
        }
        let wire: Wire = serde_json::from_slice(bytes).map_err(|error| FactsError::Form(error.to_string()))?;
        let visits = wire.visits.into_iter().map(|visit| Visit {
            day: visit.day,
            hairs: visit.hairs,
            infected: visit.infected,
            zone: visit.zone,
            remark: visit.remark,
        });
        CaseFacts {
            animal: wire.animal,
            animal_number: wire.animal_number,
            species: wire.species,
            breed: wire.breed,
            sex: wire.sex.map(|sex| match sex {
                WireSex::Female => Sex::Female,
                WireSex::Male => Sex::Male,
            }),
            neutered: wire.neutered,
            born: wire.born,
            age: wire.age,
            coat: wire.coat,
            organisation: wire.organisation,
            owner: wire.owner,
            owner_contact: wire.owner_contact,
            site: wire.site,
            exam_day: wire.exam_day,
            lamp_nm: wire.lamp_nm,
            lamp_seen: wire.lamp_seen,
            skin: wire.skin,
            treated: wire.treated,
            sampled: wire.sampled,
            sampling: wire.sampling,
            slide: wire.slide,
            laboratory: wire.laboratory,
            request: wire.request,
            sender: wire.sender,
            sender_contact: wire.sender_contact,
            remark: wire.remark,
            visits: visits.collect(),
        }
        .checked()
    }

    /// The facts, if each can be used; an empty text is the same as none.
    ///
    /// # Errors
    /// When a fact cannot be used.
    pub fn checked(mut self) -> Result<CaseFacts, FactsError> {
        for (name, text) in self.texts_mut() {
            *text = text.take().map(|words| words.trim().to_owned()).filter(|words| !words.is_empty());
            if let Some(words) = text {
                check(name, words)?;
            }
        }
        if let Some(nm) = self.lamp_nm.filter(|nm| !LAMP_NM.contains(nm)) {
            return Err(FactsError::Lamp(nm.to_string()));
        }
        if self.visits.len() > MAX_VISITS {
            return Err(FactsError::Visit("there are more than 200 visits; leave the oldest out"));
        }
        for visit in &self.visits {
            [&visit.zone, &visit.remark].into_iter().flatten().try_for_each(|words| check("visits", words))?;
            if visit.infected.is_some_and(|infected| visit.hairs.is_none_or(|hairs| infected > hairs)) {
                return Err(FactsError::Visit(
                    "a visit has more infected hairs than hairs; correct one of the numbers",
                ));
            }
        }
        self.visits.sort_by_key(|visit| visit.day);
        Ok(self)
    }

    fn texts_mut(&mut self) -> [(&'static str, &mut Option<String>); 20] {
        [
            ("animal", &mut self.animal),
            ("animal_number", &mut self.animal_number),
            ("species", &mut self.species),
            ("breed", &mut self.breed),
            ("age", &mut self.age),
            ("coat", &mut self.coat),
            ("organisation", &mut self.organisation),
            ("owner", &mut self.owner),
            ("owner_contact", &mut self.owner_contact),
            ("site", &mut self.site),
            ("lamp_seen", &mut self.lamp_seen),
            ("skin", &mut self.skin),
            ("treated", &mut self.treated),
            ("sampling", &mut self.sampling),
            ("slide", &mut self.slide),
            ("laboratory", &mut self.laboratory),
            ("request", &mut self.request),
            ("sender", &mut self.sender),
            ("sender_contact", &mut self.sender_contact),
            ("remark", &mut self.remark),
        ]
    }
}

fn check(name: &'static str, words: &str) -> Result<(), FactsError> {
    if words.chars().count() > MAX_CHARACTERS {
        return Err(FactsError::TooLong(name));
    }
    // A line break in a name is no harm on paper, but one that steers a printer or turns the direction of letters is.
    let steers =
        |c: char| c.is_control() && c != '\n' || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    if words.chars().any(steers) { Err(FactsError::Control(name)) } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::{CaseFacts, FactsError};

    fn refused(json: &str) -> String {
        CaseFacts::from_json(json.as_bytes()).unwrap_err().to_string()
    }

    #[test]
    fn facts_are_read_and_trimmed() {
        let json = br#"{"animal":" Moth ","site":"","exam_day":"2026-11-20","sex":"female","lamp_nm":365,
            "visits":[{"day":"2026-11-10","hairs":9,"infected":3},{"day":"2026-11-01"}]}"#;
        let facts = CaseFacts::from_json(json).unwrap();
        assert_eq!(facts.animal.as_deref(), Some("Moth"));
        assert_eq!(facts.site, None, "an empty text says nothing");
        assert_eq!(facts.exam_day.unwrap().to_string(), "2026-11-20");
        assert_eq!(facts.visits[0].day.to_string(), "2026-11-01", "oldest first");
    }

    #[test]
    fn what_cannot_be_used_has_its_sentence() {
        assert!(refused("").contains("pilumen help report"));
        assert!(refused("[]").contains("pilumen help report"));
        assert!(refused(r#"{"anmial":"Moth"}"#).contains("anmial"));
        assert!(refused(r#"{"exam_day":"20.11.2026"}"#).contains("pilumen help report"));
        assert!(refused("{\"animal\":\"Mo\\u0007th\"}").contains("control characters"));
        assert!(refused("{\"animal\":\"Mo\\u202eth\"}").contains("control characters"));
        assert!(refused(&format!("{{\"remark\":\"{}\"}}", "a".repeat(2001))).contains("shorten"));
        assert!(refused(r#"{"lamp_nm":254}"#).contains("254 nm"));
        assert!(refused(r#"{"visits":[{"day":"2026-11-01","hairs":2,"infected":3}]}"#).contains("more infected"));
        assert_eq!(
            CaseFacts { lamp_nm: Some(f64::NAN), ..CaseFacts::default() }.checked().unwrap_err(),
            FactsError::Lamp("NaN".to_owned())
        );
    }
}
