//! Why the desk did not do something, in Spanish: the table of `sentences`, filled in.

use super::sentences::TOLD;
use crate::exports::starting_small;

/// Joins a sentence and what to do about it.
const JOINT: &str = "; ";

/// A sentence in Spanish; parts of it that have no Spanish words stay as they are. `None` where it has none at all.
pub(in crate::web) fn refused(sentence: &str) -> Option<String> {
    if let Some(told) = whole(sentence) {
        return Some(told);
    }
    // An error and its remedy are told apart; a remedy may itself have a joint in it.
    let parts: Vec<&str> = sentence.split(JOINT).collect();
    let mut told: Vec<String> = Vec::new();
    let mut is_told = false;
    let mut at = 0;
    while at < parts.len() {
        let longest = (at + 1..=parts.len()).rev();
        let found = longest.into_iter().find_map(|end| Some((end, whole(&parts[at..end].join(JOINT))?)));
        is_told |= found.is_some();
        let (end, words) = found.unwrap_or((at + 1, parts[at].to_owned()));
        told.push(if at == 0 { words } else { starting_small(&words) });
        at = end;
    }
    is_told.then(|| told.join(JOINT))
}

/// A sentence of the table, filled in.
fn whole(sentence: &str) -> Option<String> {
    TOLD.iter().find_map(|(english, spanish)| {
        let filled = filled(english, sentence)?;
        let mut parts = spanish.split("{}");
        let mut told = parts.next().unwrap_or_default().to_owned();
        for (value, part) in filled.iter().zip(parts) {
            told.push_str(value);
            told.push_str(part);
        }
        Some(told)
    })
}

/// What a pattern's places hold in a sentence; `None` when it is another sentence. Its first letter may be a capital.
fn filled<'a>(pattern: &str, sentence: &'a str) -> Option<Vec<&'a str>> {
    let mut parts = pattern.split("{}");
    let first = parts.next().unwrap_or_default();
    let head = sentence.get(..first.len())?;
    let same =
        head == first || head.chars().map(|c| c.to_ascii_lowercase()).eq(first.chars().map(|c| c.to_ascii_lowercase()));
    if !same {
        return None;
    }
    let mut rest = &sentence[first.len()..];
    let mut filled = Vec::new();
    let parts: Vec<&str> = parts.collect();
    for (i, part) in parts.iter().enumerate() {
        let end = if i + 1 == parts.len() {
            rest.len().checked_sub(part.len()).filter(|&end| rest.is_char_boundary(end) && rest[end..] == **part)
        } else {
            rest.find(part)
        }?;
        filled.push(&rest[..end]);
        rest = &rest[end + part.len()..];
    }
    rest.is_empty().then_some(filled)
}

#[cfg(test)]
mod tests {
    use super::super::sentences::TOLD;
    use super::refused;
    use crate::image::{Settings, from_bytes};
    use crate::registration::Mismatch;
    use crate::scale::ScaleError;
    use crate::web::answer::with_help;

    #[test]
    fn both_sides_have_the_same_places() {
        for (english, spanish) in TOLD {
            assert_eq!(english.matches("{}").count(), spanish.matches("{}").count(), "{english}");
            assert_ne!(english, spanish);
        }
    }

    #[test]
    fn a_sentence_and_what_to_do_are_both_told() {
        let error = from_bytes(b"no picture", &Settings::default()).unwrap_err();
        let told = refused(&with_help(&error, error.help())).unwrap();
        assert_eq!(told, "no es una imagen JPEG, PNG, WebP ni TIFF; guarde la foto como JPEG, PNG, WebP o TIFF.");
        assert_eq!(
            refused("this photo (a.jpg) is already in the record: slide 1; nothing was added").unwrap(),
            "esta foto (a.jpg) ya está en el registro: slide 1; no se añadió nada"
        );
        assert_eq!(refused("something that nobody says"), None);
    }

    #[test]
    fn every_scale_error_is_told() {
        let all = [
            ScaleError::Pitch(0.0),
            ScaleError::PitchSd(-1.0),
            ScaleError::NoRuling,
            ScaleError::DifferentSizes([1, 2], [3, 4]),
            ScaleError::Disagree(0.5, 0.6),
            ScaleError::NotSquare(0.5, 0.6),
        ];
        for error in all {
            let told = refused(&with_help(&error, error.help())).unwrap();
            assert!(!told.contains(" the ") && !told.contains(" and "), "{told}");
        }
    }

    #[test]
    fn every_mismatch_of_two_photos_is_told() {
        let all = [
            Mismatch::OtherSize { uv: [4, 3], visible: [3, 4] },
            Mismatch::OtherField { agreement: None },
            Mismatch::ShaftsApart { agreement: 0.5 },
        ];
        for error in all {
            let told = refused(&with_help(&error, error.help())).unwrap();
            assert!(!told.contains(" the ") && !told.contains(" and "), "{told}");
        }
    }

    /// Sentences in the desk's own sources that are answered with.
    #[test]
    fn every_sentence_of_the_desk_is_told() {
        let mut files = vec![std::path::PathBuf::from("src/web")];
        let mut n = 0;
        while let Some(path) = files.pop() {
            if path.is_dir() {
                files.extend(std::fs::read_dir(path).unwrap().map(|one| one.unwrap().path()));
                continue;
            }
            let text = std::fs::read_to_string(&path).unwrap_or_default();
            if path.extension().is_none_or(|ending| ending != "rs") || path.ends_with("refused.rs") {
                continue;
            }
            for name in ["unusable", "unknown", "forbidden", "broken"] {
                for rest in text.split(&format!("Refusal::{name}(")).skip(1) {
                    let rest = rest.trim_start().trim_start_matches("format!(").trim_start();
                    let Some(literal) = rest.strip_prefix('"').and_then(|rest| rest.split('"').next()) else {
                        continue;
                    };
                    // Names in braces are filled in; a line's end in a literal is none in the sentence.
                    let mut sentence = String::new();
                    for (i, part) in literal.split('{').enumerate() {
                        sentence += if i == 0 { part } else { "x" };
                        sentence += if i == 0 { "" } else { part.split_once('}').map_or("", |(_, rest)| rest) };
                    }
                    // An error's own words and its remedy are told by the tests above.
                    if !sentence.chars().any(|c| c.is_alphabetic() && c != 'x') {
                        continue;
                    }
                    n += 1;
                    assert!(refused(&sentence).is_some(), "{}: {sentence}", path.display());
                }
            }
        }
        assert!(n > 20, "{n} sentences were found");
    }
}
