//! Letters: which typeface has them, how wide words are, where lines break.
//!
//! Two typefaces are embedded: one for reading, which has Latin letters, and a fallback with Greek, Cyrillic, Armenian,
//! Hebrew, Arabic and Georgian ones. What neither has is spelled in Latin letters between ‹ ›, and the page says so.
//! Weakness: a line in which scripts of both directions mix is set run by run from left to right; a name of one
//! script is right, a sentence that changes its script is not.

use std::collections::HashMap;

use krilla::text::Font;
use rustybuzz::UnicodeBuffer;

const REGULAR: &[u8] = include_bytes!("../../exports/font/AtkinsonHyperlegible-Regular.ttf");
const BOLD: &[u8] = include_bytes!("../../exports/font/AtkinsonHyperlegible-Bold.ttf");
const FALLBACK: &[u8] = include_bytes!("../font/DejaVuSans-subset.ttf");

/// What no typeface and no spelling has.
const UNKNOWN: &str = "?";

/// A typeface and weight.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Face {
    Regular,
    Bold,
    Fallback,
}

/// Letters of one face in a row.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Run {
    pub(super) face: Face,
    pub(super) words: String,
    /// Width at a size of 1.
    pub(super) width: f64,
}

/// A line as it is set.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Line {
    pub(super) runs: Vec<Run>,
    /// Width at a size of 1.
    pub(super) width: f64,
}

struct Typeface {
    font: Font,
    shape: rustybuzz::Face<'static>,
}

/// The embedded typefaces.
pub(super) struct Letters {
    faces: [Typeface; 3],
    widths: HashMap<(Face, String), f64>,
    spelled: bool,
}

impl Letters {
    /// The typefaces; `None` only were they damaged.
    pub(super) fn new() -> Option<Letters> {
        let face = |bytes: &'static [u8]| {
            let shape = rustybuzz::Face::from_slice(bytes, 0)?;
            Some(Typeface { font: Font::new(bytes.to_vec().into(), 0)?, shape })
        };
        Some(Letters { faces: [face(REGULAR)?, face(BOLD)?, face(FALLBACK)?], widths: HashMap::new(), spelled: false })
    }

    /// The typeface as it is embedded.
    pub(super) fn font(&self, face: Face) -> Font {
        self.faces[face as usize].font.clone()
    }

    /// Whether anything had to be spelled in Latin letters.
    pub(super) fn has_spelled(&self) -> bool {
        self.spelled
    }

    /// One line, however long.
    pub(super) fn line(&mut self, text: &str, bold: bool) -> Line {
        let text = self.plain(text);
        let runs = self.runs(&text, bold);
        let width = runs.iter().map(|run| run.width).sum();
        Line { runs, width }
    }

    /// Lines no wider than `width` at a size of 1, broken at blanks; a word that is wider is broken anywhere.
    pub(super) fn lines(&mut self, text: &str, bold: bool, width: f64) -> Vec<Line> {
        let text = self.plain(text);
        let mut lines = Vec::new();
        for paragraph in text.split('\n') {
            let mut filled = String::new();
            for word in paragraph.split(' ').filter(|word| !word.is_empty()) {
                let longer = if filled.is_empty() { word.to_owned() } else { format!("{filled} {word}") };
                if self.width(&longer, bold) <= width {
                    filled = longer;
                    continue;
                }
                if !filled.is_empty() {
                    lines.push(std::mem::take(&mut filled));
                }
                let mut rest = word;
                while self.width(rest, bold) > width {
                    let end = self.fitting(rest, bold, width);
                    lines.push(rest[..end].to_owned());
                    rest = &rest[end..];
                }
                filled = rest.to_owned();
            }
            lines.push(filled);
        }
        lines.into_iter().map(|line| self.line(&line, bold)).collect()
    }

    /// How many bytes of a word fit; at least its first letter. Marks stay with their letters.
    fn fitting(&mut self, word: &str, bold: bool, width: f64) -> usize {
        let ends: Vec<usize> =
            word.char_indices().skip(1).filter(|(_, c)| !is_mark(*c)).map(|(at, _)| at).chain([word.len()]).collect();
        let n = ends.partition_point(|&end| self.width(&word[..end], bold) <= width);
        ends[n.saturating_sub(1)]
    }

    fn width(&mut self, text: &str, bold: bool) -> f64 {
        self.runs(text, bold).iter().map(|run| run.width).sum()
    }

    /// Text without control characters, blanks as blanks; what no typeface has is spelled.
    fn plain(&mut self, text: &str) -> String {
        let mut plain = String::with_capacity(text.len());
        let mut open = false;
        for c in text.chars() {
            let c = match c {
                '\n' => c,
                c if c.is_control() || c == '\u{a0}' => ' ',
                c => c,
            };
            // What only joins or steers other letters has no place without them.
            if matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}')
            {
                continue;
            }
            if c == '\n' || self.has(Face::Regular, c) || self.has(Face::Fallback, c) {
                if std::mem::take(&mut open) {
                    plain.push('›');
                }
                plain.push(c);
                continue;
            }
            if !std::mem::replace(&mut open, true) {
                plain.push('‹');
            }
            self.spelled = true;
            plain += deunicode::deunicode_char(c).unwrap_or(UNKNOWN);
        }
        if open {
            plain.push('›');
        }
        // A spelling may end in a blank.
        plain.replace(" ›", "›")
    }

    fn has(&self, face: Face, c: char) -> bool {
        self.faces[face as usize].shape.glyph_index(c).is_some()
    }

    /// Letters grouped by the face that has them; a blank stays with what is before it.
    fn runs(&mut self, text: &str, bold: bool) -> Vec<Run> {
        let main = if bold { Face::Bold } else { Face::Regular };
        let mut parts: Vec<(Face, String)> = Vec::new();
        for c in text.chars() {
            let wanted = if self.has(main, c) { main } else { Face::Fallback };
            match parts.last_mut() {
                Some((face, words)) if *face == wanted || c == ' ' && *face == Face::Fallback => words.push(c),
                // A mark is set by the face of its letter, so the letter goes with it.
                Some((_, words)) if is_mark(c) => {
                    let letter = words.pop();
                    parts.retain(|(_, words)| !words.is_empty());
                    parts.push((Face::Fallback, letter.into_iter().chain([c]).collect()));
                }
                _ => parts.push((wanted, c.to_string())),
            }
        }
        parts
            .into_iter()
            .map(|(face, words)| {
                let width = self.shaped(face, &words);
                Run { face, words, width }
            })
            .collect()
    }

    /// Width of words in a face at a size of 1.
    fn shaped(&mut self, face: Face, words: &str) -> f64 {
        if let Some(&known) = self.widths.get(&(face, words.to_owned())) {
            return known;
        }
        let shape = &self.faces[face as usize].shape;
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(words);
        buffer.guess_segment_properties();
        let glyphs = rustybuzz::shape(shape, &[], buffer);
        let advance: i32 = glyphs.glyph_positions().iter().map(|glyph| glyph.x_advance).sum();
        let width = f64::from(advance) / f64::from(shape.units_per_em());
        self.widths.insert((face, words.to_owned()), width);
        width
    }
}

/// Marks that are set over, under or in the letter before them, in the scripts that the faces have.
fn is_mark(c: char) -> bool {
    matches!(c, '\u{300}'..='\u{36f}' | '\u{483}'..='\u{489}' | '\u{591}'..='\u{5bd}' | '\u{5bf}' | '\u{5c1}'..='\u{5c2}'
        | '\u{5c4}'..='\u{5c5}' | '\u{5c7}' | '\u{610}'..='\u{61a}' | '\u{64b}'..='\u{65f}' | '\u{670}'
        | '\u{6d6}'..='\u{6dc}' | '\u{6df}'..='\u{6e4}' | '\u{6e7}'..='\u{6e8}' | '\u{6ea}'..='\u{6ed}')
}

#[cfg(test)]
mod tests {
    use super::{Face, Letters};

    fn shown(letters: &mut Letters, text: &str) -> String {
        letters.line(text, false).runs.iter().map(|run| run.words.as_str()).collect()
    }

    #[test]
    fn no_letter_is_lost_silently() {
        let mut letters = Letters::new().unwrap();
        for text in ["Moth", "Áñü ß ø", "Мотылёк", "Σκόρος", "عثة", "עש", "Ցեց", "ჩრჩილი", "≤ 3 µm ± 1 → “a”"]
        {
            assert_eq!(shown(&mut letters, text), text);
        }
        assert!(!letters.has_spelled());
        let spelled = shown(&mut letters, "Cat 猫, ねこ");
        assert!(spelled.starts_with("Cat ‹Mao›, ‹") && !spelled.is_ascii(), "{spelled}");
        assert!(letters.has_spelled());
        for text in ["\u{e000}", "\u{10ffff}", "a\u{0}b\u{7}", "🐈", "\u{fffe}"] {
            let shown = shown(&mut letters, text);
            assert!(!shown.is_empty() && !shown.contains(char::is_control), "{text:?} is shown as {shown:?}");
        }
    }

    #[test]
    fn every_letter_set_has_a_glyph() {
        let mut letters = Letters::new().unwrap();
        let all: String = ('\u{20}'..='\u{ffff}').collect();
        for bold in [false, true] {
            for run in letters.line(&all, bold).runs {
                let shape = &letters.faces[run.face as usize].shape;
                assert!(
                    run.words.chars().all(|c| shape.glyph_index(c).is_some()),
                    "{:?} lacks {:?}",
                    run.face,
                    run.words
                );
            }
        }
    }

    #[test]
    fn lines_fit_and_lose_nothing() {
        let mut letters = Letters::new().unwrap();
        let text = format!("{} {} Мотылёк из дома", "a few short words ".repeat(9), "x".repeat(200));
        let lines = letters.lines(&text, true, 12.0);
        assert!(lines.len() > 5 && lines.iter().all(|line| line.width <= 12.0));
        let kept = |text: &str| text.chars().filter(|c| *c != ' ').collect::<String>();
        let set: String = lines.iter().flat_map(|line| &line.runs).map(|run| run.words.as_str()).collect();
        assert_eq!(kept(&set), kept(&text));
    }

    #[test]
    fn a_mark_stays_with_its_letter() {
        let mut letters = Letters::new().unwrap();
        let runs = letters.line("Bre\u{301}n", false).runs;
        let with_mark = runs.iter().find(|run| run.words.contains('\u{301}')).unwrap();
        assert!(with_mark.words.contains("e\u{301}"), "{runs:?}");
        assert!(with_mark.face == Face::Fallback || runs.len() == 1);
        assert!(letters.line("\u{301}", false).runs.len() == 1, "a mark alone is set alone");
    }
}
