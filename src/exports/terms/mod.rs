//! Words that the command line, the report, the desk and the atlas say alike, in each language: where a shaft glows,
//! brightness, comparison shafts, places on the body. **A word of this kind is changed here and nowhere else.**

mod en;
mod es;

use super::language::Language;

/// The shared words of a language. `zones`, `kinds` and `sites` are pairs of stable name and words.
pub struct Terms {
    /// What stands between the whole and the tenths of a number.
    pub decimal: &'static str,
    /// Where along the shaft it glows more than an ordinary shaft does, by the stable name of the zone. Each can stand
    /// alone.
    pub zones: &'static [(&'static str, &'static str)],
    /// Light of a shaft less the background's. A shaft's own faint glow is in it.
    pub brightness_above: &'static str,
    /// Light of a shaft less the background's, in times of the background.
    pub brightness_over: &'static str,
    /// Of an ordinary comparison shaft.
    pub serves: &'static str,
    /// Of a comparison shaft that looks infected after all.
    pub taken: &'static str,
    /// Kinds of reference shafts within a look, by the name that the simulator gives them.
    pub kinds: &'static [(&'static str, &'static str)],
    /// Places on the body, by their name in the record.
    pub sites: &'static [(&'static str, &'static str)],
}

/// The zone that is told where none is known.
const UNKNOWN_ZONE: &str = "unknown";

/// The look that an ordinary comparison shaft cannot have.
const INFECTED: &str = "infected";

impl Language {
    /// The words of this language.
    pub fn terms(self) -> &'static Terms {
        match self {
            Language::English => &en::TERMS,
            Language::Spanish => &es::TERMS,
        }
    }
}

impl Terms {
    /// Where a shaft glows, by the stable name of the zone.
    pub fn zone(&self, zone: &str) -> &'static str {
        let named = |name: &str| self.zones.iter().find(|(known, _)| *known == name).map(|(_, words)| *words);
        named(zone).or_else(|| named(UNKNOWN_ZONE)).unwrap_or_default()
    }

    /// What a shaft was compared for, by its look; nothing for one that is no comparison shaft.
    pub fn comparison(&self, is_comparison: bool, look: &str) -> Option<&'static str> {
        is_comparison.then_some(if look == INFECTED { self.taken } else { self.serves })
    }

    /// A place on the body by its name in the record or as a person typed it; other words as they are.
    pub fn site(&self, name: &str) -> String {
        let plain = name.trim().to_lowercase().replace(['-', '_'], " ");
        if let Some((_, words)) = self.sites.iter().find(|(known, _)| *known == plain) {
            return (*words).to_owned();
        }
        // What a person wrote stays in that person's words.
        name.trim().strip_prefix("other:").map_or(name, str::trim).to_owned()
    }

    /// A kind of reference shaft by its name; a kind that only another program's model knows is told by its name.
    pub fn kind<'a>(&self, kind: &'a str) -> &'a str {
        self.kinds.iter().find(|(known, _)| *known == kind).map_or(kind, |(_, words)| words)
    }

    /// All of them by keys, for pages.
    pub fn keyed(&self) -> Vec<(String, &'static str)> {
        let group = |head: &'static str, pairs: &'static [(&'static str, &'static str)]| {
            pairs.iter().map(move |(name, words)| (format!("{head}.{name}"), *words))
        };
        let single = [
            ("brightness.above", self.brightness_above),
            ("brightness.over", self.brightness_over),
            ("comparison.serves", self.serves),
            ("comparison.taken", self.taken),
            ("number.decimal", self.decimal),
        ];
        let single = single.into_iter().map(|(key, words)| (key.to_owned(), words));
        group("zone", self.zones)
            .chain(group("site", self.sites))
            .chain(group("shaftKind", self.kinds))
            .chain(single)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::Language;

    #[test]
    fn the_languages_have_the_same_words() {
        let keys =
            |language: Language| -> Vec<String> { language.terms().keyed().into_iter().map(|(key, _)| key).collect() };
        assert_eq!(keys(Language::English), keys(Language::Spanish));
        for language in Language::ALL {
            assert!(language.terms().keyed().iter().all(|(_, words)| !words.trim().is_empty()), "{language}");
        }
    }

    #[test]
    fn places_are_known_however_they_are_typed() {
        let spanish = Language::Spanish.terms();
        assert_eq!(spanish.site("Left-Pinna "), "oreja izquierda");
        assert_eq!(spanish.site("other: behind the elbow"), "behind the elbow");
        assert_eq!(spanish.site("left pinna, outer edge"), "left pinna, outer edge");
        assert_eq!(Language::English.terms().site("left pinna"), "left pinna");
    }

    #[test]
    fn english_names_of_places_are_those_of_the_record() {
        // Whoever reads a name on the desk can type it at the command line.
        assert!(Language::English.terms().sites.iter().all(|(name, words)| name == words));
    }

    #[test]
    fn a_comparison_shaft_that_looks_infected_is_said_to_be_taken() {
        let english = Language::English.terms();
        assert_eq!(english.comparison(true, "infected"), Some("was taken as comparison"));
        assert_eq!(english.comparison(true, "undetermined"), Some("serves as comparison"));
        assert_eq!(english.comparison(false, "infected"), None);
        assert_eq!(english.zone("none of the known"), english.zone("unknown"));
    }
}
