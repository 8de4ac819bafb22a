//! From what a person types to the one fact that is meant: an id, the beginning of one, a name.

use super::Store;
use super::database::Row;
use super::error::StoreError;
use super::facts::{Animal, Kind, Slide};
use super::kept::{kept, short};

/// Fewest digits of an id that are taken for the beginning of one; less would often be a name such as "Bea".
const FEWEST_DIGITS: usize = 4;

/// Most facts with the words of a label that are looked at; a label that so many share names nothing.
const MOST_LABELS: usize = 10_000;

/// Most facts that are named when something fits several.
const MOST_NAMED: usize = 5;

impl Store {
    /// The id of the animal that is meant: by id, the first digits of one (at least four), name, or identifier such
    /// as a chip number. Names and identifiers are those that stand now; small and capital letters are the same.
    ///
    /// # Errors
    /// When it fits none, or several.
    pub fn find_animal(&self, reference: &str) -> Result<String, StoreError> {
        if let Some(id) = self.by_id(Some(Kind::Animal), reference)? {
            return Ok(id);
        }
        let wanted = reference.trim().to_lowercase();
        let same = |text: &str| text.to_lowercase() == wanted;
        let mut fits = Vec::new();
        let corrections = self.database.corrections_of_animals()?;
        for row in self.database.animals()? {
            let animal = kept::<Animal>(&row, &corrections)?;
            let meant = same(&animal.fact.name) || animal.fact.identifiers.iter().any(|one| same(&one.value));
            if meant && !animal.withdrawn {
                fits.push((animal.id.clone(), format!("{} ({})", animal.fact.name, animal.short())));
            }
        }
        self.one_of("animal", reference, fits)
    }

    /// The id of the slide that is meant: by id, the first digits of one, or what is written on the glass.
    ///
    /// # Errors
    /// When it fits none, or several.
    pub fn find_slide(&self, reference: &str) -> Result<String, StoreError> {
        if let Some(id) = self.by_id(Some(Kind::Slide), reference)? {
            return Ok(id);
        }
        let wanted = reference.trim().to_lowercase();
        let mut fits = Vec::new();
        for row in self.database.search(reference, MOST_LABELS)?.iter().filter(|row| row.kind == Kind::Slide) {
            let slide: super::Kept<Slide> = self.get(&row.id)?;
            if slide.fact.label.as_deref().is_some_and(|label| label.to_lowercase() == wanted) && !slide.withdrawn {
                fits.push((slide.id.clone(), format!("{} of {} ({})", slide.fact.site, slide.fact.day, slide.short())));
            }
        }
        self.one_of("slide", reference, fits)
    }

    /// The id of the fact of a kind (any, when absent) that is meant by an id or the first digits of one; a photo
    /// also by the digits of its digest, an animal and a slide as by their own functions.
    ///
    /// # Errors
    /// When it fits none, or several.
    pub fn find(&self, kind: Option<Kind>, reference: &str) -> Result<String, StoreError> {
        match kind {
            Some(Kind::Animal) => return self.find_animal(reference),
            Some(Kind::Slide) => return self.find_slide(reference),
            _ => (),
        }
        if let Some(id) = self.by_id(kind, reference)? {
            return Ok(id);
        }
        let start = reference.trim().to_lowercase();
        if kind.is_none_or(|kind| kind == Kind::Photo) && is_start(&start) {
            let fits = self.database.photos_from(&start, MOST_NAMED + 1)?;
            if !fits.is_empty() {
                return self.one_of("photo", reference, named(&fits));
            }
        }
        if kind.is_none()
            && let Ok(id) = self.find_animal(reference)
        {
            return Ok(id);
        }
        Err(StoreError::Unknown { what: kind.map_or("fact", Kind::word).to_owned(), reference: shown(reference) })
    }

    /// By id or its first digits; `None` when it is no id that is there.
    fn by_id(&self, kind: Option<Kind>, reference: &str) -> Result<Option<String>, StoreError> {
        let start = reference.trim().to_lowercase();
        if !is_start(&start) {
            return Ok(None);
        }
        let fits = self.database.ids_from(kind, &start, MOST_NAMED + 1)?;
        match fits.as_slice() {
            [] => Ok(None),
            _ => self.one_of(kind.map_or("fact", Kind::word), reference, named(&fits)).map(Some),
        }
    }

    fn one_of(&self, what: &str, reference: &str, mut fits: Vec<(String, String)>) -> Result<String, StoreError> {
        if fits.len() > 1 {
            let mut names: Vec<String> = fits.into_iter().map(|(_, name)| name).collect();
            if names.len() > MOST_NAMED {
                names.truncate(MOST_NAMED);
                names.push("and more".to_owned());
            }
            return Err(StoreError::Ambiguous { reference: shown(reference), fits: names.join(", ") });
        }
        let unknown = || StoreError::Unknown { what: what.to_owned(), reference: shown(reference) };
        fits.pop().map(|(id, _)| id).ok_or_else(unknown)
    }

    /// Where a fact belongs, in words.
    pub(super) fn place_of(&self, row: &Row) -> Result<String, StoreError> {
        let animal = self.animal(&row.animal)?;
        let slide = match &row.parent {
            Some(parent) if row.kind == Kind::Photo => {
                let slide: super::Kept<Slide> = self.get(parent)?;
                format!(" of slide {} ({})", slide.short(), slide.fact.site)
            }
            _ => String::new(),
        };
        Ok(format!("{} {}{slide}, {}", row.kind, short(&row.id), animal.fact.name))
    }
}

fn named(rows: &[Row]) -> Vec<(String, String)> {
    rows.iter().map(|row| (row.id.clone(), format!("{} {}", row.kind, short(&row.id)))).collect()
}

fn is_start(text: &str) -> bool {
    text.len() >= FEWEST_DIGITS && text.bytes().all(|byte| byte.is_ascii_hexdigit() || byte == b'-')
}

/// What was typed, as it may be shown.
fn shown(reference: &str) -> String {
    reference.replace(char::is_control, "?")
}
