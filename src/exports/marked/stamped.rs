//! Words in the corner of a picture that must not be seen without them, such as that it is simulated.

use super::GROUND;
use super::pen::{Block, Ink, Sheet, Weight};
use crate::maths::picture::Picture;
use crate::maths::point::Point;

/// Size of the words and of the space around them, as shares of the picture's longer side.
const WORDS: f64 = 1.0 / 64.0;
const MARGIN: f64 = 0.45;

/// Under the words, and the words.
const FIELD: Ink = Ink::of([16, 16, 16]).opacity(215);
const INK: Ink = Ink::of([255, 255, 255]);

/// The picture with words in its lower left corner; as it was when a side is longer than a raster may be.
pub fn stamped(picture: &Picture, words: &str) -> Picture {
    let Some(mut sheet) = Sheet::new(picture.width as u32, picture.height as u32, GROUND) else {
        return picture.clone();
    };
    sheet.picture(picture, 0, 0, 1);
    let size = (WORDS * picture.width.max(picture.height) as f64).max(11.0);
    let margin = MARGIN * size;
    let field = Block {
        x: margin,
        y: picture.height as f64 - size - 3.0 * margin,
        w: sheet.words_width(words, size, Weight::Bold) + 2.0 * margin,
        h: size + 2.0 * margin,
    };
    sheet.block(field, 0.3 * size, FIELD);
    let at = Point::new(field.x + margin, field.y + margin + 0.82 * size);
    sheet.words(words, at.x, at.y, size, Weight::Bold, INK);
    Picture { rgb: sheet.rgb(), ..picture.clone() }
}

#[cfg(test)]
mod tests {
    use super::stamped;
    use crate::maths::picture::Picture;

    #[test]
    fn only_the_corner_changes_and_it_does() {
        let plain = Picture { width: 400, height: 200, rgb: vec![90; 3 * 400 * 200], shrink: [1.0; 2], gain: 1.0 };
        let marked = stamped(&plain, "simulated");
        let changed: Vec<(usize, usize)> = (0..400 * 200)
            .filter(|i| marked.rgb[3 * i..3 * i + 3] != plain.rgb[3 * i..3 * i + 3])
            .map(|i| (i % 400, i / 400))
            .collect();
        assert!(changed.len() > 400, "words are there");
        assert!(changed.iter().all(|(x, y)| *x < 160 && *y > 150), "and only in the corner");
    }
}
