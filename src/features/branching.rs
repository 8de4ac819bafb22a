//! Branching: ends that lie on other traces. No look is told by it; the trees that tell debris ask for it.
//!
//! Hair shafts are single, unbranched filaments (any textbook of histology; common practice, no source). Weakness:
//! where shafts lie in a knot their traces end on each other too.

use super::catalogue::Entry;

/// Ends of one photo's traces that lie on other traces.
#[derive(Clone, Copy, Debug)]
pub(super) struct Branching {
    /// How many of this trace's ends lie on another: 0 to 2.
    pub(super) ends_on_others: usize,
    /// How many ends of other traces lie on it.
    pub(super) others_end_here: usize,
    /// Share of all ends in view on the photo that lie on another trace; `None` when none is in view.
    pub(super) of_photo: Option<f64>,
}

pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        key: "branching.ends_on_others",
        unit: "1",
        range: [0.0, 2.0],
        meaning: "Number of its ends that lie on another trace; asked for by the trees that tell debris.",
        absent: "The photo's traces were not compared.",
        disturbed_by: "Shafts that are lost in a knot or under another shaft.",
        votes: false,
        measure: |s| Some(s.branching?.ends_on_others as f64),
    },
    Entry {
        key: "branching.others_end_here",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "Number of other traces' ends that lie on it; asked for by the trees that tell debris.",
        absent: "As branching.ends_on_others.",
        disturbed_by: "As branching.ends_on_others; long shafts are met more often.",
        votes: false,
        measure: |s| Some(s.branching?.others_end_here as f64),
    },
    Entry {
        key: "branching.of_photo",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Share of all ends in view on the photo that lie on another trace; asked for by the trees that tell debris.",
        absent: "As branching.ends_on_others, or no end is in view.",
        disturbed_by: "Many hairs in one knot.",
        votes: false,
        measure: |s| s.branching?.of_photo,
    },
];
