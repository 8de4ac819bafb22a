//! Rules of thumb: numbers of days that a person may change, each with where it is from.

use serde::Serialize;

use super::Store;
use super::database::RuleRow;
use super::error::StoreError;
use super::facts::{Day, MAX_TEXT_BYTES};
use super::kept::Stamp;

/// What is said of a rule that many follow and nobody measured.
const NO_SOURCE: &str = "common practice, no source";

/// Longest time that a rule may name, days: two years.
const MAX_DAYS: i64 = 730;

/// Most numbers in one rule.
const MAX_NUMBERS: usize = 20;

/// A rule of thumb.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Rule {
    /// Stable name.
    pub name: &'static str,
    /// Its numbers, days, growing.
    pub days: Vec<i64>,
    /// What it says.
    pub says: &'static str,
    /// Where the default is from; for changed rules, who changed it and why.
    pub source: String,
    /// The default.
    pub default: &'static [i64],
}

/// All rules of thumb as they stand.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct Rules(Vec<Rule>);

/// Name, default, what it says, source.
type Default = (&'static str, &'static [i64], &'static str, &'static str);

/// Days after a contact on which an exposed animal with nothing to see is looked at again.
pub(super) const LOOK_AGAIN: &str = "exposure.look-again-days";
/// Days after which fluorescence without hair loss speaks for residue.
pub(super) const RESIDUE: &str = "fluorescence.residue-days";
/// Days after which a doubtful animal is looked at again.
pub(super) const DOUBTFUL: &str = "doubtful.look-again-days";
/// Days after a slide with infected-looking shafts on which the next is made.
pub(super) const NEXT_SLIDE: &str = "slide.follow-up-days";
/// Days after sending on which plates are looked at.
pub(super) const PLATE_LOOK: &str = "culture.look-days";
/// Days that a culture without growth is held at least.
pub(super) const PLATE_HOLD: &str = "culture.hold-days";
/// Days after which a culture is ended at the latest.
pub(super) const PLATE_END: &str = "culture.end-days";

const DEFAULTS: [Default; 13] = [
    (
        LOOK_AGAIN,
        &[7, 14, 21],
        "an exposed animal with nothing to see is looked at again on these days after the contact",
        NO_SOURCE,
    ),
    ("fluorescence.first-days", &[5, 7], "fluorescing hairs show about this many days after exposure", NO_SOURCE),
    ("fluorescence.latest-days", &[10, 14], "and by then at the latest", NO_SOURCE),
    (
        "fluorescence.first-days-seen",
        &[8, 13],
        "in an experiment with adult cats the first infected hairs were seen under the lamp on these days",
        "\"Experimental M. canis infection in cats: correlation between immunological and clinical observations\" \
         (abstract)",
    ),
    (
        "fluorescence.whole-shaft-days",
        &[12, 14],
        "bulbs and lower shafts fluoresce within the first week, the entire shaft by then",
        "University of Florida, open textbook, \"Ringworm Diagnosis\"",
    ),
    ("hair-loss.days", &[7, 14], "hair is lost about this many days after exposure", NO_SOURCE),
    ("hair-loss.latest-days", &[21], "at times as late as this", NO_SOURCE),
    (RESIDUE, &[2], "fluorescence that still shows no hair loss after this many days speaks for residue", NO_SOURCE),
    (DOUBTFUL, &[7], "an animal that was doubtful under the lamp is looked at again after this many days", NO_SOURCE),
    (
        NEXT_SLIDE,
        &[14],
        "after a slide with shafts that look infected, or a doubtful one, the next is made after this many days",
        NO_SOURCE,
    ),
    (
        PLATE_LOOK,
        &[7, 12],
        "plates are looked at by these days: of 202 plates of infected cats all showed growth that could be recognised \
         before day 7, of 19 plates of cats that carried spores on the coat all before day 12",
        "J Feline Med Surg 2019;21:1198-1205 (abstract)",
    ),
    (PLATE_HOLD, &[14], "a plate without growth is held for at least this many days", "Vetlexicon (reference work)"),
    (PLATE_END, &[21], "and looked at for the last time on this day", "J Feline Med Surg 2020;22:598-601 (abstract)"),
];

/// Known apart from the rules that a person may change: how long infection lasted in an experiment, days.
pub(super) const RESOLVED_DAYS: (i64, i64, &str) = (
    77,
    98,
    "\"Experimental M. canis infection in cats: correlation between immunological and clinical observations\" (abstract)",
);

impl Rules {
    /// The defaults.
    pub fn defaults() -> Rules {
        Rules(
            DEFAULTS
                .iter()
                .map(|&(name, default, says, source)| Rule {
                    name,
                    days: default.to_vec(),
                    says,
                    source: source.to_owned(),
                    default,
                })
                .collect(),
        )
    }

    /// All of them.
    pub fn all(&self) -> &[Rule] {
        &self.0
    }

    /// The rule of this name.
    pub fn rule(&self, name: &str) -> Option<&Rule> {
        self.0.iter().find(|rule| rule.name == name)
    }

    /// Its days; empty when there is no such rule.
    pub(super) fn days(&self, name: &str) -> &[i64] {
        self.rule(name).map_or(&[], |rule| rule.days.as_slice())
    }

    /// Its first number of days.
    pub(super) fn first(&self, name: &str) -> i64 {
        self.days(name).first().copied().unwrap_or(0)
    }

    /// Its last number of days.
    pub(super) fn last(&self, name: &str) -> i64 {
        self.days(name).last().copied().unwrap_or(0)
    }

    /// Where it is from.
    pub(super) fn source(&self, name: &str) -> String {
        self.rule(name).map(|rule| rule.source.clone()).unwrap_or_default()
    }

    /// The defaults with what was changed since.
    fn with(rows: &[RuleRow]) -> Rules {
        let mut rules = Rules::defaults();
        for row in rows {
            let days: Option<Vec<i64>> = serde_json::from_str(&row.value).ok();
            // A rule that a later version had is left aside.
            if let (Some(rule), Some(days)) = (rules.0.iter_mut().find(|rule| rule.name == row.name), days) {
                rule.source = format!("set by {} on {}: {}", row.by, row.at.get(..10).unwrap_or(&row.at), row.why);
                rule.days = days;
            }
        }
        rules
    }
}

impl Store {
    /// The rules of thumb as they stand. Errors: when the record cannot be read.
    pub fn rules(&self) -> Result<Rules, StoreError> {
        Ok(Rules::with(&self.database.rules()?))
    }

    /// Changes a rule of thumb; what it was before stays in the record.
    ///
    /// # Errors
    /// When there is no such rule, the days are none, or the disk does not take it.
    pub fn set_rule(&mut self, name: &str, days: &[i64], why: &str, stamp: &Stamp) -> Result<Rules, StoreError> {
        let unusable = |sentence: String| Err(StoreError::Unusable(sentence));
        if !DEFAULTS.iter().any(|rule| rule.0 == name) {
            let known: Vec<&str> = DEFAULTS.iter().map(|rule| rule.0).collect();
            return unusable(format!("there is no rule \"{name}\"; there are {}", known.join(", ")));
        }
        let fits = (1..=MAX_NUMBERS).contains(&days.len())
            && days.iter().all(|day| (0..=MAX_DAYS).contains(day))
            && days.is_sorted();
        if !fits {
            return unusable(format!("a rule has 1 to {MAX_NUMBERS} growing numbers of days, 0 to {MAX_DAYS} each"));
        }
        if why.trim().is_empty() || why.len() > MAX_TEXT_BYTES || stamp.by.trim().is_empty() {
            return unusable("say who changes the rule and why".to_owned());
        }
        let row = RuleRow {
            name: name.to_owned(),
            value: serde_json::to_string(days).unwrap_or_default(),
            why: why.to_owned(),
            by: stamp.by.clone(),
            at: stamp.at.to_string(),
        };
        let lock = self.lock()?;
        self.database.keep_rule(&row)?;
        drop(lock);
        self.rules()
    }
}

/// A day some days later; the last day there is, when there are no more.
pub(super) fn later(day: Day, days: i64) -> Day {
    day.saturating_add(jiff::Span::new().days(days))
}

/// Days from one day to another.
pub(super) fn days_between(from: Day, to: Day) -> i64 {
    (to - from).get_days().into()
}

#[cfg(test)]
mod tests {
    use super::{DEFAULTS, Day, days_between, later};

    #[test]
    fn defaults_are_usable_and_say_where_they_are_from() {
        for (name, days, says, source) in DEFAULTS {
            assert!(!days.is_empty() && days.is_sorted() && !says.is_empty() && !source.is_empty(), "{name}");
        }
    }

    #[test]
    fn days_are_counted_over_months_and_leap_years() {
        let day: Day = "2024-02-20".parse().unwrap();
        assert_eq!(later(day, 14), "2024-03-05".parse().unwrap());
        assert_eq!(days_between(day, "2024-03-05".parse().unwrap()), 14);
        assert_eq!(days_between("2025-03-05".parse().unwrap(), day), -379);
    }
}
