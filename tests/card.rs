//! The model's card, held against what the program makes of the same scenes again: a change of model or code that
//! changes a score is seen here.

use std::fs;
use std::process::Command;

use crate::docs::text;

/// What the card says it was made by: the last preset and the seeds of docs/accuracy.md.
const MADE_BY: [&str; 5] = ["appraise", "--preset", "appraisal", "--scenes", "50"];

/// `RENEW_GOLDEN=1` rewrites the card and the section of docs/accuracy.md that holds the same table.
#[test]
fn the_cards_scores_come_out_again() {
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("card.md");
    let output = Command::new(env!("CARGO_BIN_EXE_pilumen")).args(MADE_BY).arg("--card").arg(&path).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let card = fs::read_to_string(&path).unwrap();
    let table = String::from_utf8(output.stdout).unwrap();
    if std::env::var_os("RENEW_GOLDEN").is_some() {
        fs::write("models/README.md", &card).unwrap();
    }
    assert_eq!(text("models/README.md"), card, "scores changed; appraise anew (RENEW_GOLDEN=1) and say why");
    let accuracy = text("docs/accuracy.md");
    assert!(accuracy.contains(table.trim_end()), "docs/accuracy.md has another table than\n{table}");
}
