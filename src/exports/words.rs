//! Small things that are said the same way in every export.

use super::from_record::Shaft;
use super::language::Language;
use crate::concerns::Concern;

/// A sentence that goes on in another, starting small; words in capitals stay so.
pub fn starting_small(sentence: &str) -> String {
    let mut characters = sentence.chars();
    match (characters.next(), characters.clone().next()) {
        (Some(first), Some(second)) if !second.is_uppercase() => first.to_lowercase().chain(characters).collect(),
        _ => sentence.to_owned(),
    }
}

/// A scale without an uncertainty: as many digits as were given, up to what a scale is ever known to.
pub fn plain_scale(um_per_px: f64) -> String {
    format!("{um_per_px:.6}").trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Numbers in growing order as people write them: `1-3, 7`.
pub fn ranges(numbers: &[usize]) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for &number in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == number => *last = number,
            _ => runs.push((number, number)),
        }
    }
    let run = |(first, last): (usize, usize)| match last - first {
        0 => first.to_string(),
        1 => format!("{first}, {last}"),
        _ => format!("{first}-{last}"),
    };
    runs.into_iter().map(run).collect::<Vec<_>>().join(", ")
}

/// Decimals at the most that a scale is shown with, micrometres a pixel: so many that no uncertainty shows as nought.
pub const SCALE_DECIMALS: usize = 9;

/// Decimals at the most that a width is shown with: a hundredth of a pixel or a micrometre is finer than any is known.
const WIDTH_DECIMALS: usize = 2;

/// Decimals of a width whose uncertainty is not known.
const PLAIN_DECIMALS: usize = 1;

impl Language {
    /// A number with so many decimals, as the language writes it.
    pub fn number(self, value: f64, decimals: usize) -> String {
        format!("{value:.decimals$}").replace('.', self.terms().decimal)
    }

    /// A value and its standard uncertainty, `12.3 ± 0.4`: one digit of the value beyond the leading one of the
    /// uncertainty, and never more decimals than `most`.
    pub fn uncertain(self, value: f64, sd: f64, most: usize) -> String {
        let decimals = (1.0 - sd.max(1e-9).log10().floor()).clamp(0.0, most as f64) as usize;
        format!("{} ± {}", self.number(value, decimals), self.number(sd, decimals))
    }

    /// A width with its standard uncertainty, where that is known, and its unit: to a hundredth at most.
    pub fn with_sd(self, value: f64, sd: Option<f64>, unit: &str) -> String {
        match sd.filter(|sd| sd.is_finite()) {
            Some(sd) => format!("{} {unit}", self.uncertain(value, sd, WIDTH_DECIMALS)),
            None => format!("{} {unit}", self.number(value, PLAIN_DECIMALS)),
        }
    }

    /// A shaft's width with its standard uncertainty, in micrometres where the scale is known; of a shaft that is too
    /// thin for the photo what it is at most. `None` where not even that is known.
    pub fn width(self, shaft: &Shaft) -> Option<String> {
        let width = &shaft.width;
        if shaft.is_too_thin() {
            let [px, um] = width.at_most();
            let at_most = |value: f64, unit: &str| format!("≤ {} {unit}", self.number(value, PLAIN_DECIMALS));
            return um.map(|um| at_most(um, "µm")).or_else(|| px.map(|px| at_most(px, "px")));
        }
        match (width.median_um, width.median_px) {
            (Some(um), _) => Some(self.with_sd(um, width.sd_um, "µm")),
            (None, Some(px)) => Some(self.with_sd(px, width.sd_px, "px")),
            (None, None) => None,
        }
    }
}

/// The shafts' concerns, each kind once with the shafts it touches, in the order in which they first come.
pub fn concerns_by_kind<'a>(shafts: impl IntoIterator<Item = &'a Shaft>) -> Vec<(Concern, Vec<usize>)> {
    let mut kinds: Vec<(Concern, Vec<usize>)> = Vec::new();
    for shaft in shafts {
        for concern in &shaft.concerns {
            match kinds.iter_mut().find(|(known, _)| known.kind == concern.kind) {
                // The number in the sentence belongs to one shaft only.
                Some((known, ids)) => {
                    known.value = None;
                    ids.push(shaft.id);
                }
                None => kinds.push((concern.clone(), vec![shaft.id])),
            }
        }
    }
    kinds
}

#[cfg(test)]
mod tests {
    use super::{Language, ranges};

    #[test]
    fn decimals_are_those_the_uncertainty_is_worth() {
        let uncertain = |value, sd, most| Language::English.uncertain(value, sd, most);
        assert_eq!(uncertain(0.499_876_54, 0.000_123, 6), "0.49988 ± 0.00012");
        assert_eq!(uncertain(0.499_876_54, 0.0, 6), "0.499877 ± 0.000000");
        assert_eq!(uncertain(12.345, 0.01, 2), "12.35 ± 0.01");
        assert_eq!(uncertain(1234.0, 123.0, 2), "1234 ± 123");
    }

    #[test]
    fn widths_are_told_to_what_they_are_worth_in_every_language() {
        let english = |value, sd, unit| Language::English.with_sd(value, sd, unit);
        assert_eq!(english(31.2345, Some(0.4321), "µm"), "31.23 ± 0.43 µm");
        assert_eq!(english(31.2345, Some(4.321), "µm"), "31.2 ± 4.3 µm");
        assert_eq!(english(131.2345, Some(43.21), "px"), "131 ± 43 px");
        assert_eq!(english(31.2345, Some(0.0), "µm"), "31.23 ± 0.00 µm");
        assert_eq!(english(31.2345, Some(f64::NAN), "px"), "31.2 px");
        assert_eq!(english(31.2345, None, "px"), "31.2 px");
        assert_eq!(Language::Spanish.with_sd(31.2345, Some(0.4321), "µm"), "31,23 ± 0,43 µm");
    }

    #[test]
    fn runs_of_numbers_are_drawn_together() {
        assert_eq!(ranges(&[1, 2, 3, 7, 9, 10]), "1-3, 7, 9, 10");
        assert_eq!(ranges(&[4]), "4");
        assert_eq!(ranges(&[]), "");
    }
}
