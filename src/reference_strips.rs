//! Strips of the reference shafts of the program's own model: small pictures shown beside a judged shaft.
//!
//! They lie in one sheet, `models/shaft-v1.strips.jpg`, one strip a reference shaft, the first on top; `pilumen strips`
//! draws it. A strip that could not be drawn is black all over. Models grown elsewhere have no sheet.

use std::sync::OnceLock;

use crate::maths::picture::Picture;
use crate::training::strips::{STRIP_COLUMNS, STRIP_ROWS};

/// The sheet as it is kept.
const SHEET: &[u8] = include_bytes!("../models/shaft-v1.strips.jpg");

/// Digest of the model whose reference shafts the sheet shows.
pub const OF_MODEL: &str = "269b6c9efcd093914c19c45f2c297308f1aa61cc84a5920d7dbe8a75db538984";

/// Light up to which a strip counts as black: JPEG rings a little beside brighter strips.
const BLACK: u8 = 6;

/// The sheet as JPEG; `None` for another model than the program's own.
pub fn sheet(model_sha256: &str) -> Option<&'static [u8]> {
    (model_sha256 == OF_MODEL).then_some(SHEET)
}

/// The strips in the order of the model's reference shafts; none for another model than the program's own.
pub fn strips(model_sha256: &str) -> &'static [Option<Picture>] {
    static STRIPS: OnceLock<Vec<Option<Picture>>> = OnceLock::new();
    if model_sha256 != OF_MODEL { &[] } else { STRIPS.get_or_init(cut) }
}

fn cut() -> Vec<Option<Picture>> {
    let Ok(sheet) = ::image::load_from_memory(SHEET) else { return Vec::new() };
    let sheet = sheet.to_rgb8();
    if sheet.width() as usize != STRIP_COLUMNS {
        return Vec::new();
    }
    let strip = |rgb: &[u8]| {
        let seen = rgb.iter().any(|&light| light > BLACK);
        seen.then(|| Picture {
            width: STRIP_COLUMNS,
            height: STRIP_ROWS,
            rgb: rgb.to_vec(),
            shrink: [1.0; 2],
            gain: 1.0,
        })
    };
    sheet.as_raw().chunks_exact(3 * STRIP_COLUMNS * STRIP_ROWS).map(strip).collect()
}

#[cfg(test)]
mod tests {
    use super::{OF_MODEL, SHEET, sheet, strips};
    use crate::finding::model::{ModelFile, sha256};

    const MODEL: &[u8] = include_bytes!("../models/shaft-v1.json");

    /// What all files of models may weigh beside the model itself.
    const MOST_BYTES: usize = 1 << 20;

    #[test]
    fn the_sheet_is_that_of_the_programs_own_model() {
        assert_eq!(
            OF_MODEL,
            sha256(MODEL),
            "draw the sheet anew with `pilumen strips` and write its model's digest here"
        );
        let n = ModelFile::from_bytes(MODEL).unwrap().novelty.references.len();
        assert_eq!(strips(OF_MODEL).len(), n);
        assert!(SHEET.len() < MOST_BYTES, "{}", SHEET.len());
        assert!(strips("other").is_empty() && sheet("other").is_none());
    }
}
