//! Ends: broken, tapered, root, cut; and which end is the base.
//!
//! Roots are bulbs, clubs or frayed starts, tips taper to a point, infected hairs break ("The Use of Trichograms in
//! Veterinary Dermatology", Clinician's Brief, 2017). Weakness: a hair broken at both ends has no known base unless
//! it tapers strongly, and awn hairs swell below the tip, so that taper alone is believed only when it is strong.

use crate::maths::robust;

use super::catalogue::Entry;
use super::signals::{Reading, points};
use super::stretches::Stretches;
use super::width::signed_taper;

/// Change of the width along the dark part of a shaft, as a share of its median, from which taper tells base from
/// tip. Guard hairs lose most of their width towards the tip; awn hairs swell below it by less than this.
const ORIENTING_TAPER: f64 = 0.4;

/// How strictly the width must fall along the way (rank correlation, without sign) for taper to tell base from tip.
const ORIENTING_ORDER: f64 = 0.85;

/// Share of the shaft that must be dark for its taper to be believed: where it glows, infection or a coat may have
/// thickened it, and that is the very thing base and tip are wanted for.
const ORIENTING_DARK_SHARE: f64 = 0.5;

/// Fewest widths of the dark part for its taper.
const ORIENTING_READINGS: usize = 20;

/// Blocks that the dark part is condensed into before its order is told; more let noise disturb it.
const ORIENTING_BLOCKS: usize = 25;

/// What is seen at an end of a shaft.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    /// A root: bulb, club or frayed start.
    Root,
    /// Narrows to a point.
    Tapered,
    /// A ragged or oblique end.
    Broken,
    /// A square, clean end.
    Cut,
    /// It leaves the photo or the field.
    Outside,
    /// Its shape cannot be told.
    Unknown,
}

impl End {
    /// Whether the end itself is seen and its shape told.
    pub(super) fn is_in_view(self) -> bool {
        !matches!(self, End::Outside | End::Unknown)
    }
}

pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        key: "ends.broken",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Share of the ends in view that are ragged or oblique.",
        absent: "No end is in view with a shape that can be told.",
        disturbed_by: "Plucking breaks ordinary hairs too; blur hides it.",
        votes: true,
        measure: |s| share(s.signals.ends, End::Broken),
    },
    Entry {
        key: "ends.tapered",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Share of the ends in view that narrow to a point.",
        absent: "As ends.broken.",
        disturbed_by: "An end that dips out of focus.",
        votes: true,
        measure: |s| share(s.signals.ends, End::Tapered),
    },
    Entry {
        key: "ends.root",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Share of the ends in view that are roots.",
        absent: "As ends.broken.",
        disturbed_by: "A flake of dander that sits on an end.",
        votes: true,
        measure: |s| share(s.signals.ends, End::Root),
    },
    Entry {
        key: "ends.cut",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Share of the ends in view that are square and clean.",
        absent: "As ends.broken.",
        disturbed_by: "Clipping of the coat.",
        votes: true,
        measure: |s| share(s.signals.ends, End::Cut),
    },
];

/// Share of the ends in view that are of this kind.
pub(super) fn share(ends: [End; 2], kind: End) -> Option<f64> {
    let in_view = ends.iter().filter(|end| end.is_in_view()).count();
    (in_view > 0).then(|| ends.iter().filter(|&&end| end == kind).count() as f64 / in_view as f64)
}

/// Whether the base is at the first end, as far as the ends' shapes and then the taper of the dark part tell.
///
/// A root at one end only, or a tapered tip at one end only, tells; a strong taper the other way contradicts, and
/// then nothing is told. Roots or tips at both ends leave it to the taper.
pub(super) fn base_at_first(ends: [End; 2], widths: &[Reading], lit: &Stretches) -> Option<bool> {
    let one_only = |kind: End| match ends.map(|end| end == kind) {
        [true, false] => Some(true),
        [false, true] => Some(false),
        _ => None,
    };
    let by_root = one_only(End::Root);
    let by_tip = one_only(End::Tapered).map(|tip_at_first| !tip_at_first);
    let by_shape = match (by_root, by_tip) {
        (Some(root), Some(tip)) if root != tip => return None,
        (told, other) => told.or(other),
    };
    let by_taper = by_taper(widths, lit);
    match (by_shape, by_taper) {
        (Some(shape), Some(taper)) if shape != taper => None,
        (shape, taper) => shape.or(taper),
    }
}

fn by_taper(widths: &[Reading], lit: &Stretches) -> Option<bool> {
    let dark: Vec<Reading> = widths.iter().filter(|w| !lit.is_lit(w.s_px)).copied().collect();
    if dark.len() < ORIENTING_READINGS || (dark.len() as f64) < ORIENTING_DARK_SHARE * widths.len() as f64 {
        return None;
    }
    let change = signed_taper(&dark)?;
    let order = robust::rank_correlation(&robust::block_medians(&points(&dark), ORIENTING_BLOCKS))?;
    let told = change.abs() >= ORIENTING_TAPER && order.abs() >= ORIENTING_ORDER && order.signum() == change.signum();
    told.then_some(change < 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn widths(width: impl Fn(f64) -> f64) -> Vec<Reading> {
        (0..200).map(|i| i as f64 * 2.0).map(|s_px| Reading { s_px, value: width(s_px), sd: 0.2 }).collect()
    }

    fn lit(lit: impl Fn(f64) -> bool) -> Stretches {
        let places: Vec<f64> = (0..200).map(|i| f64::from(i) * 2.0).collect();
        Stretches::new(&places, places.iter().map(|&s| lit(s)).collect(), 2.0)
    }

    #[test]
    fn shares_count_only_ends_in_view() {
        assert_eq!(share([End::Broken, End::Root], End::Broken), Some(0.5));
        assert_eq!(share([End::Broken, End::Outside], End::Broken), Some(1.0));
        assert_eq!(share([End::Cut, End::Unknown], End::Broken), Some(0.0));
        assert_eq!(share([End::Outside, End::Unknown], End::Broken), None);
    }

    #[test]
    fn root_and_tip_tell_the_base() {
        let plain = widths(|_| 20.0);
        let dark = lit(|_| false);
        let told = |first, last| base_at_first([first, last], &plain, &dark);
        assert_eq!(told(End::Root, End::Broken), Some(true));
        assert_eq!(told(End::Outside, End::Root), Some(false));
        assert_eq!(told(End::Tapered, End::Broken), Some(false));
        assert_eq!(told(End::Root, End::Tapered), Some(true));
        assert_eq!(told(End::Root, End::Root), None);
        assert_eq!(told(End::Tapered, End::Tapered), None);
        assert_eq!(told(End::Broken, End::Broken), None);
        assert_eq!(told(End::Outside, End::Outside), None);
    }

    #[test]
    fn only_a_strong_taper_of_the_dark_part_tells_the_base() {
        let both_broken = [End::Broken, End::Broken];
        let strong = widths(|s| 28.0 - 0.04 * s);
        assert_eq!(base_at_first(both_broken, &strong, &lit(|_| false)), Some(true));
        assert_eq!(base_at_first(both_broken, &widths(|s| 12.0 + 0.04 * s), &lit(|_| false)), Some(false));
        assert_eq!(base_at_first(both_broken, &widths(|s| 22.0 - 0.01 * s), &lit(|_| false)), None, "weak");
        assert_eq!(base_at_first(both_broken, &strong, &lit(|s| s < 300.0)), None, "three quarters glow");
        assert_eq!(base_at_first([End::Broken, End::Root], &strong, &lit(|_| false)), None, "root against taper");
        assert_eq!(base_at_first([End::Root, End::Broken], &strong, &lit(|_| false)), Some(true), "both agree");
        let swollen_where_lit = widths(|s| if s < 120.0 { 40.0 } else { 20.0 });
        assert_eq!(
            base_at_first(both_broken, &swollen_where_lit, &lit(|s| s < 120.0)),
            None,
            "a sheath at one end is no taper"
        );
    }
}
