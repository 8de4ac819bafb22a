//! THE list of features: key, unit, range, meaning. Code, docs and tests are held equal to it.
//!
//! Each family's file holds its rows beside the functions they name; here they are put in one order. To add a
//! measurement: one function and one row in a family's file, one entry in docs/measurements.md.

use super::subject::Subject;
use super::{across, branching, colour, ends, fluorescence, quality, shape, structure, visible, width};

/// One feature.
#[derive(Clone, Copy, Debug)]
pub struct Entry {
    /// Stable name, `family.name`.
    pub key: &'static str,
    /// Unit as shown to people; `1` for a ratio.
    pub unit: &'static str,
    /// Smallest and largest value it can take.
    pub range: [f64; 2],
    /// What it means, one sentence.
    pub meaning: &'static str,
    /// When it is absent, one sentence.
    pub absent: &'static str,
    /// What disturbs it, one sentence.
    pub disturbed_by: &'static str,
    /// Whether the ensemble may use it (absolute lengths in pixels, for one, must not decide).
    pub votes: bool,
    /// How it is measured.
    pub(super) measure: fn(&Subject) -> Option<f64>,
}

/// The families in the order of a row.
const FAMILIES: [&[Entry]; 10] = [
    width::ENTRIES,
    fluorescence::ENTRIES,
    colour::ENTRIES,
    across::ENTRIES,
    structure::ENTRIES,
    shape::ENTRIES,
    ends::ENTRIES,
    quality::ENTRIES,
    visible::ENTRIES,
    branching::ENTRIES,
];

const N_ENTRIES: usize = {
    let mut count = 0;
    let mut family = 0;
    while family < FAMILIES.len() {
        count += FAMILIES[family].len();
        family += 1;
    }
    count
};

const ALL: [Entry; N_ENTRIES] = {
    let mut all = [FAMILIES[0][0]; N_ENTRIES];
    let (mut at, mut family) = (0, 0);
    while family < FAMILIES.len() {
        let mut row = 0;
        while row < FAMILIES[family].len() {
            all[at] = FAMILIES[family][row];
            at += 1;
            row += 1;
        }
        family += 1;
    }
    all
};

/// All features, in the order of a row.
pub const CATALOGUE: &[Entry] = &ALL;

/// The place of a feature in a row; `None` for a key the catalogue does not hold.
pub fn position(key: &str) -> Option<usize> {
    CATALOGUE.iter().position(|entry| entry.key == key)
}

/// All features of a shaft. What is not finite is absent.
pub(super) fn measure(subject: &Subject) -> Vec<Option<f64>> {
    CATALOGUE.iter().map(|entry| (entry.measure)(subject).filter(|value| value.is_finite())).collect()
}

#[cfg(test)]
mod tests {
    use super::{CATALOGUE, Entry, position};

    const DOCS: &str = include_str!("../../docs/measurements.md");

    /// The entry of a feature as docs/measurements.md must have it.
    fn documented(entry: &Entry) -> String {
        let bound = |value: f64| match value {
            f64::INFINITY => "∞".to_string(),
            f64::NEG_INFINITY => "−∞".to_string(),
            value => value.to_string().replace('-', "−"),
        };
        format!(
            "### `{}`\n{}\n- Unit {}, from {} to {}; {}.\n- Absent: {}\n- Disturbed by: {}\n",
            entry.key,
            entry.meaning,
            entry.unit,
            bound(entry.range[0]),
            bound(entry.range[1]),
            if entry.votes { "votes" } else { "does not vote" },
            entry.absent,
            entry.disturbed_by
        )
    }

    #[test]
    fn the_docs_hold_one_entry_a_feature_and_no_other() {
        let headings: Vec<&str> = DOCS.lines().filter_map(|line| line.strip_prefix("### ")).collect();
        let keys: Vec<String> = CATALOGUE.iter().map(|entry| format!("`{}`", entry.key)).collect();
        assert_eq!(headings, keys, "headings of docs/measurements.md and the catalogue, in order");
        for entry in CATALOGUE {
            let expected = documented(entry);
            assert!(DOCS.contains(&expected), "docs/measurements.md should hold:\n{expected}");
        }
    }

    #[test]
    fn keys_are_unique_and_sentences_are_sentences() {
        for (i, entry) in CATALOGUE.iter().enumerate() {
            assert_eq!(position(entry.key), Some(i), "{} is there twice", entry.key);
            assert!(entry.range[0] < entry.range[1], "{}", entry.key);
            let family = entry.key.split('.').next().unwrap_or_default();
            assert!(entry.key.len() > family.len() + 1, "{} names no feature of a family", entry.key);
            for sentence in [entry.meaning, entry.absent, entry.disturbed_by] {
                assert!(sentence.ends_with('.') && sentence.len() > 5, "{}: {sentence}", entry.key);
            }
        }
        assert_eq!(position("width.nothing"), None);
    }
}
