//! What a reading's finding says, in each language, from the evaluation as it is kept: readings of earlier versions of
//! the program are told in today's words.

use serde_json::{Value, json};

use crate::exports::Language;
use crate::finding::Look;
use crate::finding::slide::SlideCode;
use crate::record::Slide;
use crate::report::{Found, finding_words};

/// The finding and what to do next, by language: `{en: {finding, next}, es: ...}`.
pub(super) fn words(evaluation: &Value) -> Value {
    let slide = slide(evaluation);
    let found = counted(evaluation, &slide);
    let advice = evaluation["advice"].as_str().unwrap_or_default();
    let mut words = json!({});
    for language in Language::ALL {
        let [finding, next] = finding_words(language, &found, advice);
        words[language.tag()] = json!({ "finding": finding, "next": next });
    }
    words
}

fn slide(evaluation: &Value) -> Slide {
    let finding = &evaluation["finding"];
    let code = finding["code"].as_str().unwrap_or_default();
    let count = |look: &str| finding["counts"][look].as_u64().unwrap_or(0) as usize;
    Slide {
        // A code of another version has no words here; its own sentence is told.
        code: SlideCode::ALL.iter().map(|known| known.code()).find(|known| *known == code).unwrap_or_default(),
        sentence: finding["sentence"].as_str().unwrap_or_default().to_owned(),
        counts: Look::ALL.map(|look| count(look.code())),
        undetermined: count("undetermined"),
    }
}

/// Counted as the finding itself counts.
fn counted<'a>(evaluation: &Value, slide: &'a Slide) -> Found<'a> {
    let usable = evaluation["quality"]["usable"].as_bool().unwrap_or(true);
    let all = || evaluation["shafts"].as_array().into_iter().flatten().filter(move |_| usable);
    let is = |shaft: &Value, look: &str| shaft["class"] == look;
    let zone = |shaft: &Value| shaft["glow"]["zone"].as_str().unwrap_or_default().to_owned();
    let tip = |shaft: &Value| !is(shaft, "coated") && !is(shaft, "fibre") && zone(shaft) == "tip";
    let infected = || all().filter(|shaft| is(shaft, "infected") && !tip(shaft));
    let compared = || all().filter(|shaft| shaft["comparison"].as_bool().unwrap_or(false));
    Found {
        slide,
        infected: infected().count(),
        from_base: infected().filter(|shaft| matches!(zone(shaft).as_str(), "base" | "whole")).count(),
        tip_only: all().filter(|shaft| tip(shaft)).count(),
        comparison: compared().count(),
        comparison_ordinary: compared().filter(|shaft| is(shaft, "normal")).count(),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::words;

    #[test]
    fn both_languages_tell_the_same_finding() {
        let shaft = |class: &str, zone: &str, comparison: bool| json!({ "class": class, "glow": { "zone": zone }, "comparison": comparison });
        let evaluation = json!({
            "quality": { "usable": true },
            "shafts": [shaft("infected", "base", false), shaft("infected", "whole", false), shaft("infected", "patchy", false),
                       shaft("normal", "none", true), shaft("undetermined", "none", true)],
            "finding": { "code": "looks-infected-many", "sentence": "3 of 4 hairs judged look infected.",
                         "counts": { "infected": 3, "normal": 1, "coated": 0, "fibre": 0, "undetermined": 1 } },
            "advice": "Until the culture is back. Send hair for a fungal culture and let your vet decide.",
        });
        let told = words(&evaluation);
        assert_eq!(told["en"]["finding"], "3 of 4 hairs judged look infected.");
        let spanish = told["es"]["finding"].as_str().unwrap();
        assert!(spanish.starts_with("3 de 4 pelos juzgados") && spanish.contains("2 de ellos"), "{spanish}");
        assert!(spanish.contains("Solo 1 de 2 pelos de comparación"), "{spanish}");
        assert!(told["es"]["next"].as_str().unwrap().contains("cultivo"));
        let unknown = words(&json!({ "finding": { "code": "of-tomorrow", "sentence": "Something." } }));
        assert!(unknown["es"]["finding"].as_str().unwrap().starts_with("Something."));
    }
}
