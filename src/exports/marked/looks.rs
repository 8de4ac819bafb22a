//! How each look is drawn: a colour, doubled by a dash pattern and, in the legend, by words.
//!
//! Colours: Okabe and Ito, "Color Universal Design", 2008: eight colours that people with and without
//! colour-blindness tell apart.

use super::super::from_record::{Look, UNDETERMINED_WORDS};
use super::pen::Ink;

/// How one look is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Style {
    /// Colour of outline, number and marks.
    pub(super) ink: Ink,
    /// What lies under a line so that it shows on bright and on dark ground.
    pub(super) casing: Ink,
    /// Lengths on and off in units of the sheet; none for a whole line.
    pub(super) dash: &'static [f64],
    /// How much thicker than usual its lines are.
    pub(super) weight: f64,
    /// As shown to people.
    pub(super) words: &'static str,
}

const VERMILLION: Ink = Ink::of([213, 94, 0]);
const SKY_BLUE: Ink = Ink::of([86, 180, 233]);
const YELLOW: Ink = Ink::of([240, 228, 66]);
const REDDISH_PURPLE: Ink = Ink::of([204, 121, 167]);
const BLACK: Ink = Ink::of([0, 0, 0]);

/// Under coloured lines.
const DARK_CASING: Ink = BLACK.opacity(170);

/// Under black lines, which a dark photo would swallow.
const LIGHT_CASING: Ink = Ink::of([255, 255, 255]).opacity(215);

/// How a look is drawn; `None` is "cannot say".
pub(super) fn style(look: Option<Look>) -> Style {
    let (ink, dash): (Ink, &'static [f64]) = match look {
        Some(Look::Infected) => (VERMILLION, &[]),
        Some(Look::Normal) => (SKY_BLUE, &[10.0, 5.0]),
        Some(Look::Coated) => (YELLOW, &[10.0, 4.0, 2.0, 4.0]),
        Some(Look::Fibre) => (REDDISH_PURPLE, &[2.8, 2.8]),
        None => (BLACK, &[5.0, 5.0]),
    };
    Style {
        ink,
        casing: if ink == BLACK { LIGHT_CASING } else { DARK_CASING },
        dash,
        // What asks for action is seen first, also on a grey print.
        weight: if look == Some(Look::Infected) { 1.5 } else { 1.0 },
        words: look.map_or(UNDETERMINED_WORDS, Look::words),
    }
}

/// How a look is marked wherever it is told: the colour and the dashes that it has on the marked photo.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LookMark {
    /// Red, green, blue.
    pub rgb: [u8; 3],
    /// Lengths on and off in thousandths of the marked photo's width; none for a whole line.
    pub dash: &'static [f64],
}

/// The mark of a look by its stable name; what is no look is "cannot say".
pub fn look_mark(class: &str) -> LookMark {
    let style = style(Look::ALL.into_iter().find(|look| look.code() == class));
    LookMark { rgb: [style.ink.0, style.ink.1, style.ink.2], dash: style.dash }
}

/// All looks in the order of the legend, "cannot say" last.
pub(super) fn all() -> impl Iterator<Item = Option<Look>> {
    Look::ALL.into_iter().map(Some).chain([None])
}

#[cfg(test)]
mod tests {
    use super::{all, style};

    #[test]
    fn no_two_looks_share_a_colour_a_dash_or_a_word() {
        let styles: Vec<_> = all().map(style).collect();
        for (i, one) in styles.iter().enumerate() {
            for other in &styles[..i] {
                assert_ne!(one.ink, other.ink, "{} and {}", one.words, other.words);
                assert_ne!(one.dash, other.dash, "{} and {}", one.words, other.words);
                assert_ne!(one.words, other.words);
            }
        }
        assert_eq!(styles.len(), 5);
    }
}
