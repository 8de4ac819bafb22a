//! The kinds of facts, and what each may belong to.

use super::words;

words! {
    /// The kinds of facts in a record.
    Kind {
        /// An animal; a case is everything that belongs to it.
        Animal = "animal",
        /// One examination under the lamp.
        Exam = "exam",
        /// One tape preparation.
        Slide = "slide",
        /// One photo of a slide.
        Photo = "photo",
        /// What the program read from a photo.
        Reading = "reading",
        /// What a person says against a reading or another fact.
        Correction = "correction",
        /// A treatment or a bath.
        Treatment = "treatment",
        /// A culture or another laboratory test that was sent.
        Culture = "culture",
        /// One look at a culture's plate, or the laboratory's answer.
        Plate = "plate",
        /// A note in free words.
        Note = "note",
        /// A contact through which the animal was exposed.
        Contact = "contact",
    }
}

impl Kind {
    /// What a fact of this kind may belong to; empty for an animal, which belongs to nothing.
    pub fn parents(self) -> &'static [Kind] {
        match self {
            Kind::Animal => &[],
            Kind::Exam | Kind::Treatment | Kind::Contact => &[Kind::Animal],
            Kind::Slide | Kind::Culture => &[Kind::Animal, Kind::Exam],
            Kind::Photo => &[Kind::Slide],
            Kind::Reading => &[Kind::Photo],
            Kind::Plate => &[Kind::Culture],
            Kind::Note | Kind::Correction => Kind::ALL,
        }
    }
}
