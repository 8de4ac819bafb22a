//! Reasons in words: what was measured on a shaft, beside what is ordinary, and what it speaks for or against.
//!
//! One place for every output that shows reasons. One file a language; a language has one row a feature that may vote.

mod en;
mod es;

use super::from_record::{Look, Reason, Shaft};
use super::language::Language;

/// How a feature is told. A phrase may hold `{x}`, in whose place "how many times" stands.
pub(super) struct Told {
    /// Its key in the catalogue.
    key: &'static str,
    /// When it is neither more nor less than what is ordinary, or that is not known.
    name: &'static str,
    /// When it is more.
    more: &'static str,
    /// When it is less.
    less: &'static str,
}

/// The words around the phrases.
pub(super) struct Around {
    told: &'static [Told],
    decimal: &'static str,
    /// Holds `{ordinary}`.
    ordinary: &'static str,
    /// After a phrase that compares.
    than_ordinary: &'static str,
    /// Holds `{look}`.
    speaks_for: &'static str,
    /// Holds `{look}` and `{likely}`.
    speaks_against: &'static str,
    looks: [&'static str; 4],
}

/// Features that are a quotient already: so many times what comparison shafts show.
const QUOTIENTS: [&str; 3] = ["width.to_comparison", "width.to_widest_comparison", "structure.roughness_to_comparison"];

/// Features that are (a − b) / (a + b): a is (1 + value) / (1 − value) times b.
const CONTRASTS: [&str; 5] = [
    "glow.over_comparison",
    "glow.peak_over_comparison",
    "colour.green_blue_to_ground",
    "colour.green_blue_to_comparison",
    "colour.red_green_to_comparison",
];

/// Beyond so many times the number says nothing more.
const MOST_TIMES: f64 = 99.0;

/// Why a shaft looks as it does: one sentence a reason, strongest first, without a stop at the end. What is as in
/// ordinary shafts in the digits that are told is no reason to a reader and is left out.
pub fn reasons_told(shaft: &Shaft, language: Language) -> Vec<String> {
    let likely = likely(shaft);
    let is_same = |reason: &Reason| reason.reference.is_some_and(|o| significant(o) == significant(reason.value));
    shaft.reasons.iter().filter(|reason| !is_same(reason)).map(|reason| told(reason, likely, language)).collect()
}

/// The look that is said of a shaft, or the most probable one where the program cannot say.
fn likely(shaft: &Shaft) -> Look {
    let p = &shaft.probability;
    let most = Look::ALL[(0..Look::ALL.len()).fold(0, |best, i| if p[i] > p[best] { i } else { best })];
    shaft.look.unwrap_or(most)
}

/// One reason for or against `likely`.
pub fn told(reason: &Reason, likely: Look, language: Language) -> String {
    let around = match language {
        Language::English => &en::AROUND,
        Language::Spanish => &es::AROUND,
    };
    let look = around.looks[reason.towards as usize];
    let speaks = if reason.towards == likely {
        around.speaks_for.replace("{look}", look)
    } else {
        around.speaks_against.replace("{likely}", around.looks[likely as usize]).replace("{look}", look)
    };
    format!("{}: {speaks}", seen(reason, around))
}

/// What was seen, with its number where that has a unit or counts times.
fn seen(reason: &Reason, around: &Around) -> String {
    let number = |value: f64| significant(value).replace('.', around.decimal);
    let Some(row) = around.told.iter().find(|row| row.key == reason.feature) else {
        return format!("{} {}", reason.feature, number(reason.value));
    };
    let times = if QUOTIENTS.contains(&row.key) {
        Some(reason.value)
    } else if CONTRASTS.contains(&row.key) {
        Some(((1.0 + reason.value) / (1.0 - reason.value).max(1e-9)).clamp(0.0, MOST_TIMES))
    } else {
        None
    };
    let ordinary = if times.is_some() { Some(1.0) } else { reason.reference };
    let measured = times.unwrap_or(reason.value);
    let phrase = match ordinary {
        // What looks the same in the digits shown is the same.
        Some(ordinary) if significant(measured) == significant(ordinary) => row.name,
        Some(ordinary) if measured > ordinary => row.more,
        Some(_) => row.less,
        None => row.name,
    };
    if phrase.contains("{x}") {
        return phrase.replace("{x}", &number(measured));
    }
    match (reason.reference.filter(|_| times.is_none()), reason.unit) {
        // A number without a unit says nothing to a reader; the table of all measurements has it.
        (Some(_), "1") => format!("{phrase} ({})", around.than_ordinary),
        (Some(ordinary), unit) => {
            let ordinary = around.ordinary.replace("{ordinary}", &format!("{} {unit}", number(ordinary)));
            format!("{phrase} ({} {unit}; {ordinary})", number(measured))
        }
        (None, unit) if times.is_none() && unit != "1" => format!("{phrase} ({} {unit})", number(measured)),
        (None, _) => format!("{phrase} ({})", number(measured)),
    }
}

/// A number with two significant digits, and no more than three decimals.
fn significant(value: f64) -> String {
    if value.abs() < 5e-4 {
        return "0".to_owned();
    }
    let decimals = (1.0 - value.abs().log10().floor()).clamp(0.0, 3.0) as usize;
    format!("{value:.decimals$}")
}

#[cfg(test)]
mod tests {
    use super::{Language, Look, Reason, told};

    fn reason(feature: &'static str, value: f64, reference: Option<f64>, towards: Look) -> Reason {
        Reason { feature, value, unit: "1", reference, towards, weight: 0.2 }
    }

    #[test]
    fn a_rough_outline_is_told_in_times() {
        let rough = reason("structure.roughness_to_comparison", 4.04, Some(1.1), Look::Infected);
        assert_eq!(
            told(&rough, Look::Infected, Language::English),
            "outline 4.0 times as rough as the comparison shafts': speaks for “looks infected”"
        );
        assert_eq!(
            told(&rough, Look::Infected, Language::Spanish),
            "contorno 4,0 veces tan áspero como el de los pelos de comparación: habla a favor de «parece infectado»"
        );
    }

    #[test]
    fn what_speaks_for_another_look_speaks_against_this_one() {
        // (1 + 0.5) / (1 − 0.5) = 3 times as bright.
        let bright = reason("glow.over_comparison", 0.5, Some(0.0), Look::Infected);
        assert_eq!(
            told(&bright, Look::Coated, Language::English),
            "fluoresces 3.0 times as brightly as a comparison shaft would: speaks against “looks coated” and for \
             “looks infected”"
        );
    }

    #[test]
    fn what_has_a_unit_is_told_with_the_ordinary_value_and_what_has_none_in_words() {
        let smooth = reason("structure.roughness", 0.012, Some(0.034), Look::Normal);
        assert_eq!(
            told(&smooth, Look::Normal, Language::English),
            "outline smoother (against ordinary shafts): speaks for “looks ordinary”"
        );
        let alone = reason("structure.roughness", 0.012, None, Look::Normal);
        assert!(told(&alone, Look::Normal, Language::English).starts_with("roughness of the outline (0.012): "));
        let same = reason("structure.roughness", 0.0340001, Some(0.034), Look::Normal);
        assert!(told(&same, Look::Normal, Language::English).starts_with("roughness of the outline (against "));
        let long = Reason { unit: "µm", ..reason("structure.roughness", 12.0, Some(34.0), Look::Normal) };
        assert!(told(&long, Look::Normal, Language::English).contains("(12 µm; ordinary shafts 34 µm)"));
        let unknown = reason("invented.key", f64::INFINITY, None, Look::Normal);
        assert!(told(&unknown, Look::Normal, Language::Spanish).starts_with("invented.key inf: "));
    }
}
