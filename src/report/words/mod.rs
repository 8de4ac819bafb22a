//! What the report says, in each language it speaks: one file a language, and the compiler holds their keys equal.

mod en;
mod es;

use crate::concerns::Concern;
pub use crate::exports::Language;
use crate::record::Slide;

impl Language {
    pub(super) fn words(self) -> &'static Words {
        match self {
            Language::English => &en::WORDS,
            Language::Spanish => &es::WORDS,
        }
    }
}

/// What a finding's sentence is made of.
#[derive(Clone, Copy, Debug)]
pub struct Found<'a> {
    /// What the shafts add up to, with its sentence in English.
    pub slide: &'a Slide,
    /// Shafts that look infected other than at the tip only.
    pub infected: usize,
    /// Of those, fluorescing from the base on or all along.
    pub from_base: usize,
    /// Hairs that fluoresce towards the tip only.
    pub tip_only: usize,
    /// Comparison shafts.
    pub comparison: usize,
    /// Of those, ordinary in looks.
    pub comparison_ordinary: usize,
}

macro_rules! words {
    ($($key:ident)*) => {
        /// Every text of the report. `{name}` is filled in.
        pub(super) struct Words {
            /// The finding's sentence.
            pub(super) finding: fn(&Found) -> String,
            /// What to do after a finding: its code, and the sentence in English.
            pub(super) advice: fn(&str, &str) -> String,
            /// A concern: what was noticed, what to do.
            pub(super) concern: fn(&Concern) -> [String; 2],
            /// The language; what all outputs say alike is told by it.
            pub(super) language: Language,
            $(pub(super) $key: &'static str,)*
        }

        impl Words {
            /// Every text with its key.
            #[cfg(test)]
            fn all(&self) -> Vec<(&'static str, &'static str)> {
                vec![$((stringify!($key), self.$key)),*]
            }
        }
    };
}

words! {
    title slip_title teaching_title
    animal animal_number species cat cat_female female male neutered neutered_female not_neutered born
    born_female organisation owner
    owner_contact site exam_day lamp lamp_seen skin treated sampled sampling slide laboratory sender
    sender_contact remark photos photo in_photo scale made_on not_told
    scale_value scale_unknown scale_given scale_setup scale_file
    finding_head sure_head sure_none sure_range sure_always next_head
    seen_head look shafts numbers infected normal coated fibre undetermined
    comparison_head comparison_none comparison_infected_none comparison_infected comparison_ordinary width
    where_glows
    missed_head missed_nothing missed_undetermined missed_more missed_shafts missed_shaft missed_unusable
    culture_head culture_text culture_boxes
    cautions_head caution_decision caution_light caution_infection caution_people caution_rules
    photo_caption photo_of_several photo_alt photo_bar photo_no_bar photo_brighter photo_signs
    course_head course_glow course_note course_now day hairs_judged look_infected remark_column
    annex shaft_head strip_alt width_chart width_chart_alt glow_chart_alt axis_along
    axis_along_px
    length ends base tip end_root end_broken end_cut end_outside end_unknown end_tapered orientation
    orientation_given orientation_measured orientation_unknown glow_share probability plausible novelty nearest
    nearest_one
    reasons_head no_reference notes no_shafts
    methods_head methods_find methods_width methods_glow methods_look methods_novelty methods_finding
    limits_head limits_simulated limits_fungi limits_photo limits_width
    program_head version model_digest photo_digest settings settings_none photo_facts captured camera
    footer page translit
    slip_intro slip_material slip_material_lines slip_ask slip_ask_default slip_answer slip_sign slip_photo
    slip_lab_use slip_lab_lines slip_handling
}

/// A text with its places filled in.
pub(super) fn fill(text: &str, places: &[(&str, &str)]) -> String {
    let mut filled = String::with_capacity(text.len());
    let mut rest = text;
    // One pass: what is filled in may hold braces of its own.
    while let Some(open) = rest.find('{') {
        let Some(length) = rest[open..].find('}') else { break };
        let name = &rest[open + 1..open + length];
        filled += &rest[..open];
        match places.iter().find(|(place, _)| *place == name) {
            Some((_, value)) => filled += value,
            None => filled += &rest[open..=open + length],
        }
        rest = &rest[open + length + 1..];
    }
    filled + rest
}

impl Words {
    /// A look by its stable name.
    pub(super) fn look_words(&self, class: &str) -> &'static str {
        match class {
            "infected" => self.infected,
            "normal" => self.normal,
            "coated" => self.coated,
            "fibre" => self.fibre,
            _ => self.undetermined,
        }
    }

    /// A zone by its stable name.
    pub(super) fn zone(&self, zone: &str) -> &'static str {
        self.language.terms().zone(zone)
    }

    /// What is seen at an end, by its stable name.
    pub(super) fn end(&self, end: &str) -> &'static str {
        match end {
            "root" => self.end_root,
            "tapered" => self.end_tapered,
            "broken" => self.end_broken,
            "cut" => self.end_cut,
            "outside" => self.end_outside,
            _ => self.end_unknown,
        }
    }

    /// How base and tip are known, by its stable name.
    pub(super) fn orientation_words(&self, orientation: &str) -> &'static str {
        match orientation {
            "given" => self.orientation_given,
            "measured" => self.orientation_measured,
            _ => self.orientation_unknown,
        }
    }

    /// A number with the language's decimal sign.
    pub(super) fn number(&self, value: f64, decimals: usize) -> String {
        self.language.number(value, decimals)
    }

    /// What stands between the whole and the tenths of a number.
    pub(super) fn decimal(&self) -> &'static str {
        self.language.terms().decimal
    }
}

#[cfg(test)]
mod tests {
    use super::{Found, Language, fill};
    use crate::concerns::{Concern, ConcernKind};
    use crate::finding::Look;
    use crate::finding::advice::advice;
    use crate::finding::slide::{GlowPlace, SlideCode, SlideShaft, code, finding};
    use crate::record::Slide;

    fn places(text: &str) -> Vec<&str> {
        let mut names: Vec<&str> =
            text.split('{').skip(1).filter_map(|rest| rest.split_once('}').map(|(name, _)| name)).collect();
        names.sort_unstable();
        names
    }

    fn digits(text: &str) -> Vec<String> {
        let mut runs: Vec<String> =
            text.split(|c: char| !c.is_ascii_digit()).filter(|run| !run.is_empty()).map(str::to_owned).collect();
        runs.sort_unstable();
        runs
    }

    #[test]
    fn every_text_is_there_in_every_language_with_the_same_places() {
        let english = Language::English.words().all();
        for language in Language::ALL {
            for ((key, text), (_, original)) in language.words().all().into_iter().zip(&english) {
                assert!(!text.trim().is_empty(), "{language}: {key} is empty");
                assert_eq!(places(text), places(original), "{language}: places of {key}");
                assert_eq!(text.split('|').count(), original.split('|').count(), "{language}: lines of {key}");
            }
        }
        let spanish = Language::Spanish.words().all();
        let same: Vec<_> =
            english.iter().zip(&spanish).filter(|(a, b)| a.1 == b.1 && a.1.split(' ').count() > 2).collect();
        assert!(same.is_empty(), "left untranslated: {same:?}");
    }

    #[test]
    fn no_language_speaks_as_a_vet_would() {
        for language in Language::ALL {
            for (key, text) in language.words().all() {
                crate::judgement::judges_nobody(&format!("{language}: {key}"), text);
            }
        }
    }

    /// All sorts of slides: `n` shafts, their looks and zones by the digits of a counter.
    fn slides() -> Vec<Vec<SlideShaft>> {
        let looks = [Some(Look::Infected), Some(Look::Normal), Some(Look::Coated), Some(Look::Fibre), None];
        let glows = [GlowPlace::BaseOrWhole, GlowPlace::TipOnly, GlowPlace::Nowhere, GlowPlace::Elsewhere];
        (0..3000_usize)
            .map(|i| {
                (0..i % 17)
                    .map(|k| {
                        let dice = (i * 2_654_435_761 + k * 40_503 * (i / 7 + 1)) >> 5;
                        // Few looks a slide, so that every finding comes about.
                        let look = looks[(i / 17 + (dice % 3) * (i % 3)) % 5];
                        let leans_infected = look.is_none() && dice % 7 == 0;
                        let glow = glows[(dice / 5) % (1 + i % 4)];
                        SlideShaft { look, leans_infected, glow, comparison: dice % 6 == 0 }
                    })
                    .collect()
            })
            .collect()
    }

    #[test]
    fn the_finding_says_the_same_numbers_in_every_language() {
        let mut seen = std::collections::BTreeSet::new();
        for (i, shafts) in slides().iter().enumerate() {
            let usable = i % 50 != 0;
            let made = finding(shafts, usable);
            seen.insert(made.code);
            let slide = Slide {
                code: made.code,
                sentence: made.sentence.clone(),
                counts: made.counts,
                undetermined: made.undetermined,
            };
            let bare = |s: &&SlideShaft| !matches!(s.look, Some(Look::Coated | Look::Fibre));
            let tip = |s: &SlideShaft| bare(&s) && s.glow == GlowPlace::TipOnly;
            let infected: Vec<_> = shafts.iter().filter(|s| s.look == Some(Look::Infected) && !tip(s)).collect();
            let found = Found {
                slide: &slide,
                infected: infected.len(),
                from_base: infected.iter().filter(|s| s.glow == GlowPlace::BaseOrWhole).count(),
                tip_only: shafts.iter().filter(|s| tip(s)).count(),
                comparison: shafts.iter().filter(|s| s.comparison).count(),
                comparison_ordinary: shafts.iter().filter(|s| s.comparison && s.look == Some(Look::Normal)).count(),
            };
            let spanish = Language::Spanish.words();
            let translated = (spanish.finding)(&found);
            assert_eq!(digits(&translated), digits(&made.sentence), "{}: {} / {translated}", made.code, made.sentence);
            assert!(translated.contains("cultivo") && translated != made.sentence);
            let next = advice(code(shafts, usable));
            let next = (spanish.advice)(made.code, &next);
            assert!(next.contains("cultivo"), "{next}");
        }
        let missing: Vec<_> = SlideCode::ALL.iter().filter(|code| !seen.contains(code.code())).collect();
        assert!(missing.is_empty(), "{missing:?} did not come about");
    }

    #[test]
    fn every_concern_is_told_in_every_language() {
        for kind in ConcernKind::ALL {
            for concern in [Concern::new(kind), Concern::with(kind, 0.25)] {
                let english = (Language::English.words().concern)(&concern);
                let spanish = (Language::Spanish.words().concern)(&concern);
                assert!(
                    spanish.iter().zip(&english).all(|(es, en)| !es.is_empty() && es != en),
                    "{kind:?}: {spanish:?}"
                );
                let same = |text: &str| digits(&text.replace(',', "."));
                assert_eq!(same(&spanish[0]), same(&english[0]), "{kind:?}");
            }
        }
    }

    #[test]
    fn places_are_filled_once() {
        assert_eq!(fill("{a} of {b}: {c}", &[("a", "{b}"), ("b", "2")]), "{b} of 2: {c}");
        assert_eq!(fill("open {", &[]), "open {");
    }
}
