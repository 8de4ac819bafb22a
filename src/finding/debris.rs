//! What was traced and measured but is debris after all: the trees of `debris_model` say so, or it is short and unlike
//! any shaft the program knows.
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

/// Probability of debris from which a trace is debris, if nothing speaks for infection.
const LIKELY: f64 = 0.8;
/// The same where it might be an infected shaft: losing one is worse than showing debris.
const ALL_BUT_SURE: f64 = 0.95;
/// Probability of debris from which what stays is not judged.
const DOUBTFUL: f64 = 0.5;
/// Probability of "looks infected" from which it might be one.
const MAYBE_INFECTED: f64 = 0.3;

/// What is known of a trace.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seen {
    /// Its length over the photo's diagonal.
    pub(super) share: f64,
    /// How far it is from the reference shafts.
    pub(super) novelty: f64,
    /// How likely it is an infected shaft, if it is a shaft.
    pub(super) infected: f64,
    /// How likely it follows no shaft.
    pub(super) debris: f64,
}

/// Whether a trace is debris.
pub(super) fn is_debris(seen: Seen) -> bool {
    let least = if seen.infected < MAYBE_INFECTED { LIKELY } else { ALL_BUT_SURE };
    seen.debris > least || (seen.share < SHORT && seen.novelty > NOVELTY_LIMIT)
}

/// Whether a trace that stays may follow no shaft, so that no look should be given to it.
pub(super) fn may_be_debris(debris: f64) -> bool {
    debris > DOUBTFUL
}

#[cfg(test)]
mod tests {
    use super::{Seen, is_debris, may_be_debris};

    const SHAFT: Seen = Seen { share: 0.1, novelty: 0.9, infected: 0.1, debris: 0.1 };

    #[test]
    fn only_what_is_both_short_and_novel_is_debris() {
        assert!(is_debris(Seen { novelty: 1.2, ..SHAFT }));
        assert!(!is_debris(SHAFT), "short, and like a shaft");
        assert!(!is_debris(Seen { share: 0.25, novelty: 3.0, ..SHAFT }), "long: a person should look");
    }

    #[test]
    fn a_look_needs_less_doubt_than_a_place_among_the_shafts() {
        assert!(!is_debris(Seen { debris: 0.6, ..SHAFT }) && may_be_debris(0.6));
        assert!(!may_be_debris(SHAFT.debris));
    }

    #[test]
    fn what_may_be_infected_needs_more() {
        assert!(is_debris(Seen { debris: 0.9, ..SHAFT }));
        assert!(!is_debris(Seen { debris: 0.9, infected: 0.6, ..SHAFT }));
        assert!(is_debris(Seen { debris: 0.99, infected: 0.6, ..SHAFT }));
    }
}
