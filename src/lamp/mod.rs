//! What a finding under the lamp is worth: published sensitivities and specificities as predictive values.
//!
//! Beside the pipeline: nothing here knows a photo. The studies stand in `studies`, the arithmetic here.

mod studies;

use crate::maths::proportion::{Interval, Z_95, wilson};

use self::studies::{STUDIES, Told};

/// A share that a study gives, 0 to 1, and its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// The share.
    pub value: f64,
    /// Its interval: as printed, or Wilson's from the counts.
    pub interval: Interval,
    /// Hits and cases; `None` where the study prints shares only.
    pub counts: Option<(usize, usize)>,
}

impl Share {
    /// A share from counts, with Wilson's interval; `None` when there are no cases or more hits than cases.
    pub fn counted(hits: usize, n: usize) -> Option<Share> {
        let interval = wilson(hits, n, Z_95)?;
        Some(Share { value: hits as f64 / n as f64, interval, counts: Some((hits, n)) })
    }

    fn told(told: Told) -> Option<Share> {
        match told {
            Told::Counts { hits, n } => Share::counted(hits, n),
            Told::Printed { value, low, high } => Some(Share { value, interval: Interval { low, high }, counts: None }),
        }
    }
}

/// What a study says of the lamp against culture.
#[derive(Clone, Debug, PartialEq)]
pub struct Study {
    /// Which animals, in words.
    pub animals: &'static str,
    /// Where it is printed.
    pub source: &'static str,
    /// Share of infected animals that fluoresce.
    pub sensitivity: Share,
    /// Share of other animals that do not.
    pub specificity: Share,
    /// Share of its animals that were infected, where it is printed.
    pub prevalence: Option<f64>,
}

/// A number between the two that the ends of the intervals give.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Between {
    /// The number from the shares themselves.
    pub value: f64,
    /// From the ends that make it smallest and largest.
    pub interval: Interval,
}

/// What a finding is worth at a prevalence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Worth {
    /// Share infected among animals that fluoresce.
    pub infected_if_it_glows: Between,
    /// Share infected among animals that do not.
    pub infected_if_dark: Between,
}

/// All studies with counts and shares as they are used.
pub fn studies() -> Vec<Study> {
    let study = |row: &studies::Row| {
        Some(Study {
            animals: row.animals,
            source: row.source,
            sensitivity: Share::told(row.sensitivity)?,
            specificity: Share::told(row.specificity)?,
            prevalence: row.prevalence,
        })
    };
    STUDIES.iter().filter_map(study).collect()
}

impl Study {
    /// What a finding is worth when a share `prevalence` (0 to 1, both excluded) of the animals looked at is infected;
    /// `None` for another number.
    ///
    /// Bayes' rule. The interval takes the ends of both shares' 95 % intervals that lie farthest apart: wider than a
    /// 95 % interval, and what is meant by "between" without a law for how the two shares vary together.
    pub fn worth(&self, prevalence: f64) -> Option<Worth> {
        if !(prevalence > 0.0 && prevalence < 1.0) {
            return None;
        }
        let glows = |se: f64, sp: f64| share(prevalence * se, (1.0 - prevalence) * (1.0 - sp));
        let dark = |se: f64, sp: f64| share(prevalence * (1.0 - se), (1.0 - prevalence) * sp);
        let (se, sp) = (&self.sensitivity, &self.specificity);
        Some(Worth {
            infected_if_it_glows: Between {
                value: glows(se.value, sp.value)?,
                interval: Interval {
                    low: glows(se.interval.low, sp.interval.low)?,
                    high: glows(se.interval.high, sp.interval.high)?,
                },
            },
            infected_if_dark: Between {
                value: dark(se.value, sp.value)?,
                interval: Interval {
                    low: dark(se.interval.high, sp.interval.high)?,
                    high: dark(se.interval.low, sp.interval.low)?,
                },
            },
        })
    }
}

/// The part that `some` is of `some` and `others`; `None` when both are 0.
fn share(some: f64, others: f64) -> Option<f64> {
    (some + others > 0.0).then(|| some / (some + others))
}

#[cfg(test)]
mod tests {
    use super::{Interval, Share, Study, studies};

    fn rounded(value: f64) -> f64 {
        (value * 1000.0).round() / 1000.0
    }

    #[test]
    fn predictive_values_of_the_table_of_facts() {
        // Facts 2.25, arithmetic from the printed shares: infected if it glows, and 1 − infected if dark.
        let plain = |value: f64| Share { value, interval: Interval { low: value, high: value }, counts: None };
        let rows = [
            (0.668, 0.748, 0.018, 0.046, 0.992),
            (0.668, 0.748, 0.2, 0.399, 0.900),
            (0.668, 0.748, 0.5, 0.726, 0.693),
            (0.71, 0.92, 0.018, 0.140, 0.994),
            (0.71, 0.92, 0.2, 0.689, 0.927),
            (0.71, 0.92, 0.5, 0.899, 0.760),
        ];
        for (se, sp, prevalence, ppv, npv) in rows {
            let study =
                Study { animals: "", source: "", sensitivity: plain(se), specificity: plain(sp), prevalence: None };
            let worth = study.worth(prevalence).unwrap();
            assert_eq!(rounded(worth.infected_if_it_glows.value), ppv, "{se} {sp} {prevalence}");
            assert_eq!(rounded(1.0 - worth.infected_if_dark.value), npv, "{se} {sp} {prevalence}");
        }
    }

    #[test]
    fn the_studies_say_what_facts_say() {
        let found: Vec<(f64, f64)> =
            studies().iter().map(|s| (rounded(s.sensitivity.value), rounded(s.specificity.value))).collect();
        // Facts 2.19 (32 of 45, 23 of 25), 2.20, 2.21.
        assert_eq!(found, [(0.711, 0.92), (0.668, 0.748), (0.375, 0.961)]);
        let sensitivity = studies()[0].sensitivity;
        // Wilson's interval for 32 of 45, by scipy.stats.binomtest (1.17.1).
        assert!((sensitivity.interval.low - 0.566_314_594_252_384_2).abs() < 1e-12);
        assert!((sensitivity.interval.high - 0.822_699_175_171_507_4).abs() < 1e-12);
    }

    #[test]
    fn what_cannot_be_a_prevalence_gives_nothing() {
        let study = &studies()[0];
        for wrong in [0.0, 1.0, -0.1, 1.1, f64::NAN, f64::INFINITY] {
            assert_eq!(study.worth(wrong), None, "{wrong}");
        }
        assert_eq!(Share::counted(3, 2), None);
        assert_eq!(Share::counted(0, 0), None);
    }

    #[test]
    fn intervals_hold_their_number_and_a_coin_says_nothing() {
        for study in studies() {
            for prevalence in [0.001, 0.018, 0.2, 0.5, 0.95] {
                let worth = study.worth(prevalence).unwrap();
                for between in [worth.infected_if_it_glows, worth.infected_if_dark] {
                    let Interval { low, high } = between.interval;
                    assert!(0.0 <= low && low <= between.value && between.value <= high && high <= 1.0, "{between:?}");
                }
                assert!(worth.infected_if_it_glows.value > prevalence && worth.infected_if_dark.value < prevalence);
            }
        }
        // Closed form: a test that is right half of the time leaves the prevalence as it was.
        let coin = Share::counted(50, 100).unwrap();
        let study = Study { animals: "", source: "", sensitivity: coin, specificity: coin, prevalence: None };
        let worth = study.worth(0.2).unwrap();
        assert!((worth.infected_if_it_glows.value - 0.2).abs() < 1e-12);
        assert!((worth.infected_if_dark.value - 0.2).abs() < 1e-12);
    }
}
