//! Small things that are said the same way in every export.

use super::from_record::Shaft;
use crate::concerns::Concern;

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

/// A value and its standard uncertainty, `12.3 ± 0.4`: one digit of the value beyond the leading one of the
/// uncertainty, and never more decimals than `most`.
pub fn uncertain(value: f64, sd: f64, most: usize) -> String {
    let decimals = (1.0 - sd.max(1e-9).log10().floor()).clamp(0.0, most as f64) as usize;
    format!("{value:.decimals$} ± {sd:.decimals$}")
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
    use super::{ranges, uncertain};

    #[test]
    fn decimals_are_those_the_uncertainty_is_worth() {
        assert_eq!(uncertain(0.499_876_54, 0.000_123, 6), "0.49988 ± 0.00012");
        assert_eq!(uncertain(0.499_876_54, 0.0, 6), "0.499877 ± 0.000000");
        assert_eq!(uncertain(12.345, 0.01, 2), "12.35 ± 0.01");
        assert_eq!(uncertain(1234.0, 123.0, 2), "1234 ± 123");
    }

    #[test]
    fn runs_of_numbers_are_drawn_together() {
        assert_eq!(ranges(&[1, 2, 3, 7, 9, 10]), "1-3, 7, 9, 10");
        assert_eq!(ranges(&[4]), "4");
        assert_eq!(ranges(&[]), "");
    }
}
