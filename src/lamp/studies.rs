//! The published studies of the lamp on cats against culture; each as its source prints it.

/// A share as a study tells it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Told {
    /// As counts.
    Counts {
        /// Those of whom it holds.
        hits: usize,
        /// All.
        n: usize,
    },
    /// As a share with its 95 % interval, each 0 to 1.
    Printed {
        /// The share.
        value: f64,
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
}

/// One study.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Row {
    /// Which animals, in words.
    pub(super) animals: &'static str,
    /// Where it is printed.
    pub(super) source: &'static str,
    pub(super) sensitivity: Told,
    pub(super) specificity: Told,
    pub(super) prevalence: Option<f64>,
}

/// The studies, newest first.
pub(super) const STUDIES: [Row; 3] = [
    // The counts follow from the printed shares: 45 of 70 by culture, 34 of 70 under the lamp, 71 % and 92 %.
    Row {
        animals: "70 shelter cats, lamp held by shelter personnel",
        source: "Vet Med (Praha) 2023;68(7):281-286, doi 10.17221/32/2023-VETMED",
        sensitivity: Told::Counts { hits: 32, n: 45 },
        specificity: Told::Counts { hits: 23, n: 25 },
        prevalence: Some(45.0 / 70.0),
    },
    Row {
        animals: "shelter cats and kittens, two years",
        source: "J Feline Med Surg 2019;21(12):1198-1205",
        sensitivity: Told::Printed { value: 0.668, low: 0.602, high: 0.734 },
        specificity: Told::Printed { value: 0.748, low: 0.642, high: 0.851 },
        prevalence: Some(0.018),
    },
    Row {
        animals: "127 pet cats without signs on the skin",
        source: "Vet World 2020;13(12):2798-2805",
        sensitivity: Told::Printed { value: 0.375, low: 0.212, high: 0.573 },
        specificity: Told::Printed { value: 0.961, low: 0.904, high: 0.985 },
        prevalence: Some(26.0 / 127.0),
    },
];
