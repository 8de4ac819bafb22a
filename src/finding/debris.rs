//! What was traced and measured but is debris after all: short, and unlike any shaft the program knows.
//!
//! Rims of bubbles, edges of flakes and puddles, streaks of adhesive pass every test on outlines; measured, they are
//! far from all reference shafts. On tuning scenes that nobody had looked at (`tuning-clear`, `-crossings`, `-dim` and
//! `-empty`, seeds 501 to 540) 36 traces that went this way lay on no shaft and 3 on one; 614 traces stayed.
//! A long novel trace stays: it may be a kind of hair that was never seen, and a person should look.

use super::abstention::NOVELTY_LIMIT;

/// Length below which something novel is debris, share of the photo's diagonal. Rims and edges are seldom longer; a
/// hair of a new kind that long or longer is kept and called "cannot say".
const SHORT: f64 = 0.18;

/// The name of the reason, beside those of the stage that traces.
pub(super) const UNLIKE: &str = "unlike-shafts";

/// Whether a trace is debris: its length and the photo's diagonal in pixels, and how far it is from the reference shafts.
pub(super) fn is_debris(length_px: f64, diagonal_px: f64, novelty: f64) -> bool {
    length_px < SHORT * diagonal_px && novelty > NOVELTY_LIMIT
}

#[cfg(test)]
mod tests {
    use super::is_debris;

    #[test]
    fn only_what_is_both_short_and_novel_is_debris() {
        assert!(is_debris(200.0, 2000.0, 1.2));
        assert!(!is_debris(200.0, 2000.0, 0.9), "short, and like a shaft");
        assert!(!is_debris(500.0, 2000.0, 3.0), "long: a person should look");
    }
}
