//! The facts of a case that no photo tells: the animal, the site, the examination, the sample.
//!
//! All of it is optional. What is absent was not told, and is never a stand-in for "no".

use jiff::civil::Date;

/// Facts of a case for a report, a slip or an archive file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CaseFacts {
    /// Name of the animal.
    pub animal: Option<String>,
    /// Its number or chip, as others know it.
    pub animal_number: Option<String>,
    /// Its species, free words; absent: a cat, which this program is made for.
    pub species: Option<String>,
    /// Its breed, free words.
    pub breed: Option<String>,
    /// Its sex.
    pub sex: Option<Sex>,
    /// Whether it was neutered.
    pub neutered: Option<bool>,
    /// The day it was born.
    pub born: Option<Date>,
    /// Its age in free words, where the day is not known.
    pub age: Option<String>,
    /// Its coat, free words.
    pub coat: Option<String>,
    /// The shelter, network or clinic it is with.
    pub organisation: Option<String>,
    /// Name of the owner. Leaves the program only where the user asks for it.
    pub owner: Option<String>,
    /// How to reach the owner. Leaves the program only where the user asks for it.
    pub owner_contact: Option<String>,
    /// The place on the animal.
    pub site: Option<String>,
    /// The day of the examination under the lamp.
    pub exam_day: Option<Date>,
    /// Peak wavelength of the lamp, nanometres.
    pub lamp_nm: Option<f64>,
    /// What was seen under the lamp, free words.
    pub lamp_seen: Option<String>,
    /// Whether hair was missing, skin red or crusted: free words.
    pub skin: Option<String>,
    /// What the animal was treated or bathed with before, free words.
    pub treated: Option<String>,
    /// The day the sample was taken.
    pub sampled: Option<Date>,
    /// How the sample was taken, free words (plucked, brushed, tape).
    pub sampling: Option<String>,
    /// The slide's own label.
    pub slide: Option<String>,
    /// The laboratory the sample goes to.
    pub laboratory: Option<String>,
    /// What the laboratory is asked to do, free words; absent: a fungal culture.
    pub request: Option<String>,
    /// Who sends the sample and wants the answer.
    pub sender: Option<String>,
    /// How to reach the sender.
    pub sender_contact: Option<String>,
    /// Free words.
    pub remark: Option<String>,
    /// Earlier looks at the same site, oldest first.
    pub visits: Vec<Visit>,
}

/// Sex of an animal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sex {
    /// Female.
    Female,
    /// Male.
    Male,
}

/// An earlier look at the same site.
#[derive(Clone, Debug, PartialEq)]
pub struct Visit {
    /// The day.
    pub day: Date,
    /// Hairs judged.
    pub hairs: Option<usize>,
    /// Hairs that looked infected among them.
    pub infected: Option<usize>,
    /// Where along the hair most of them fluoresced, by its stable name.
    pub zone: Option<String>,
    /// What a culture of that day gave, and other things worth a word.
    pub remark: Option<String>,
}

impl CaseFacts {
    /// These facts, and of another telling what these leave out.
    pub fn or(self, other: CaseFacts) -> CaseFacts {
        CaseFacts {
            animal: self.animal.or(other.animal),
            animal_number: self.animal_number.or(other.animal_number),
            species: self.species.or(other.species),
            breed: self.breed.or(other.breed),
            sex: self.sex.or(other.sex),
            neutered: self.neutered.or(other.neutered),
            born: self.born.or(other.born),
            age: self.age.or(other.age),
            coat: self.coat.or(other.coat),
            organisation: self.organisation.or(other.organisation),
            owner: self.owner.or(other.owner),
            owner_contact: self.owner_contact.or(other.owner_contact),
            site: self.site.or(other.site),
            exam_day: self.exam_day.or(other.exam_day),
            lamp_nm: self.lamp_nm.or(other.lamp_nm),
            lamp_seen: self.lamp_seen.or(other.lamp_seen),
            skin: self.skin.or(other.skin),
            treated: self.treated.or(other.treated),
            sampled: self.sampled.or(other.sampled),
            sampling: self.sampling.or(other.sampling),
            slide: self.slide.or(other.slide),
            laboratory: self.laboratory.or(other.laboratory),
            request: self.request.or(other.request),
            sender: self.sender.or(other.sender),
            sender_contact: self.sender_contact.or(other.sender_contact),
            remark: self.remark.or(other.remark),
            visits: if self.visits.is_empty() { other.visits } else { self.visits },
        }
    }

    /// The same without the owner's name and contact.
    pub fn without_owner(&self) -> CaseFacts {
        CaseFacts { owner: None, owner_contact: None, ..self.clone() }
    }

    /// What may be shown to learners: nothing that tells which animal, whose, where or when. Free words are left out
    /// as well, because anybody may have written a name there.
    pub fn without_identity(&self) -> CaseFacts {
        CaseFacts { sex: self.sex, neutered: self.neutered, lamp_nm: self.lamp_nm, ..CaseFacts::default() }
    }
}

impl super::Photo {
    /// The photo under another name, without time and camera: as a teaching copy shows it.
    pub fn without_identity(&self, file: &str) -> super::Photo {
        super::Photo { file: file.to_owned(), captured_at: None, camera: None, ..self.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::{CaseFacts, Sex};

    #[test]
    fn a_teaching_copy_has_no_identity() {
        let words = |text: &str| Some(text.to_owned());
        let facts = CaseFacts {
            animal: words("Moth"),
            owner: words("Quillfeather House"),
            site: words("left pinna"),
            remark: words("Moth's brother"),
            sex: Some(Sex::Female),
            lamp_nm: Some(365.0),
            ..CaseFacts::default()
        };
        let taught = facts.without_identity();
        assert_eq!(taught, CaseFacts { sex: Some(Sex::Female), lamp_nm: Some(365.0), ..CaseFacts::default() });
        assert_eq!(facts.without_owner().owner, None);
        assert_eq!(facts.without_owner().animal, facts.animal);
    }
}
