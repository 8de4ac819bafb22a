//! What a second photo of the same field in visible light says of the shaft: roughness, texture, the medulla.
//!
//! Under the UV lamp the outline glows and glares, the medulla is a faint dark line, and a coat hides both. In light
//! from below the air-filled medulla is black (facts 1.12) and its width over that of the shaft, the medullary index,
//! tells hair of animals, mostly more than a third, from human hair, mostly less (facts 1.13). Infection makes the
//! medulla invisible (facts 2.3). None of these votes: the ensemble was grown on photos under the UV lamp alone, and
//! must not be given values from where it has never been.
//!
//! Weakness: a medulla that a mountant fills is clear (facts 1.12) and reads as none; where cortex and medulla are
//! equally dark (black hair) the two cannot be told apart. A pale hair with a dark medulla may be taken for the medulla
//! alone by the fit of the outline: what rests on the outline is then absent.

use crate::maths::robust;
use crate::maths::two_cylinders::inner;

use super::catalogue::Entry;
use super::signals::{Signals, Strip};
use super::structure;

/// Widths by the two photos that differ by more than this factor are not of one outline.
const SAME_OUTLINE: f64 = 1.25;
/// How many times smaller the squares must become by an inner cylinder for a block to show a medulla. Of noise alone,
/// three numbers more explain a twentieth of the squares of 65 places; the blur's and the outline's misfit, more.
const MEDULLA_BETTER: f64 = 2.0;
/// Least that a medulla takes away on its axis, as −ln of what passes: under it, streaks of pigment look alike.
const MEDULLA_LEAST_LOSS: f64 = 0.05;
/// Fewest blocks along a shaft with a medulla for its width to be told.
const LEAST_BLOCKS: usize = 3;
/// Most blur (Gaussian sigma) as a share of the radius: a medulla of half the radius keeps half of its depth there.
const MOST_BLUR_RADII: f64 = 0.4;

/// A shaft in the photo in visible light.
#[derive(Clone, Debug)]
pub(super) struct Shadow<'a> {
    /// Its signals there; lengths are pixels of that photo.
    pub(super) signals: Signals<'a>,
    /// What light passes across it.
    pub(super) sections: Option<Sections<'a>>,
}

/// The share of the ground's light that passes across a shaft, in blocks along it.
#[derive(Clone, Debug)]
pub(super) struct Sections<'a> {
    /// Radius of the shaft by the UV photo, pixels of the photo in visible light.
    pub(super) radius_px: f64,
    /// Distances from the axis, radii.
    pub(super) at: Vec<f64>,
    /// Share that passes at each, a block.
    pub(super) passed: &'a [Vec<f64>],
}

/// The medulla as blocks along the shaft show it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Medulla {
    /// Median of its radius over the shaft's; absent with too few blocks that show one.
    pub(super) index: Option<f64>,
    /// Share of the blocks that show one.
    pub(super) share: f64,
}

pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        key: "visible.width_to_uv",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "Width in the photo in visible light divided by that under the UV lamp.",
        absent: "There is no second photo in visible light, or fewer than five clear stations have a width in either.",
        disturbed_by: "A pale hair with a dark medulla, of which the medulla alone may be fitted; glare under the lamp.",
        votes: false,
        measure: |s| width_to_uv(s.shadow?, s.signals),
    },
    Entry {
        key: "visible.roughness",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "As structure.roughness, of the outline in visible light.",
        absent: "As structure.roughness there, there is no such photo, or the widths of both photos differ by more than a quarter.",
        disturbed_by: "Sharpening halos; debris; refraction along the edges.",
        votes: false,
        measure: |s| {
            let shadow = outlined(s.shadow?, s.signals)?;
            structure::roughness(&shadow.signals.edges, shadow.signals.width_px()?, shadow.signals.blur_px?)
        },
    },
    Entry {
        key: "visible.edges_correlation",
        unit: "1",
        range: [-1.0, 1.0],
        meaning: "As structure.edges_correlation, of the outline in visible light.",
        absent: "As visible.roughness, or the edges do not move at all.",
        disturbed_by: "As structure.edges_correlation.",
        votes: false,
        measure: |s| {
            let shadow = outlined(s.shadow?, s.signals)?;
            structure::edges_correlation(&shadow.signals.edges, shadow.signals.width_px()?, shadow.signals.blur_px?)
        },
    },
    Entry {
        key: "visible.texture",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "As structure.texture, of what the shaft takes away from the light of the ground.",
        absent: "As structure.texture there, or there is no such photo.",
        disturbed_by: "The steps of a ladder-like medulla lie in the same range; compression.",
        votes: false,
        measure: |s| {
            let shadow = s.shadow?;
            if shadow.signals.monochrome {
                return None;
            }
            let dark = shadow.signals.strip.channels.each_ref().map(|channel| channel.map(|light| -light));
            let strip = Strip { channels: &dark, ..shadow.signals.strip.clone() };
            structure::texture(&strip, uv_width_there(shadow, s.signals)?)
        },
    },
    Entry {
        key: "visible.medulla_px",
        unit: "px",
        range: [0.0, f64::INFINITY],
        meaning: "Diameter of the medulla as it darkens the light from below, median over blocks along the shaft, in pixels of the photo under the UV lamp.",
        absent: "As visible.medullary_index.",
        disturbed_by: "Magnification; as visible.medullary_index.",
        votes: false,
        measure: |s| Some(s.medulla?.index? * s.signals.width_px()?),
    },
    Entry {
        key: "visible.medulla_um",
        unit: "µm",
        range: [0.0, f64::INFINITY],
        meaning: "The same in micrometres.",
        absent: "As visible.medullary_index, or the scale is unknown.",
        disturbed_by: "As visible.medullary_index.",
        votes: false,
        measure: |s| Some(s.medulla?.index? * s.signals.width_px()? * s.signals.um_per_px?),
    },
    Entry {
        key: "visible.medullary_index",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Medullary index: diameter of the medulla divided by that of the shaft, median over blocks along the shaft that show one.",
        absent: "There is no second photo in visible light, the shaft is under six pixels wide there or too blurred, or fewer than three blocks show a medulla.",
        disturbed_by: "A sheath or film that makes the shaft wider; black cortex; a mountant that fills the medulla.",
        votes: false,
        measure: |s| s.medulla?.index,
    },
    Entry {
        key: "visible.medulla_share",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Share of the blocks along the shaft that show a medulla; 0 is none.",
        absent: "There is no second photo in visible light, or the shaft is under six pixels wide there or too blurred.",
        disturbed_by: "As visible.medullary_index; noise.",
        votes: false,
        measure: |s| Some(s.medulla?.share),
    },
];

/// Width of the shaft by the photo under the UV lamp, in pixels of the photo in visible light.
fn uv_width_there(shadow: &Shadow, uv: &Signals) -> Option<f64> {
    shadow.sections.as_ref().map(|sections| 2.0 * sections.radius_px).or_else(|| uv.width_px())
}

/// Width there over width under the lamp.
fn width_to_uv(shadow: &Shadow, uv: &Signals) -> Option<f64> {
    Some(shadow.signals.width_px()? / uv_width_there(shadow, uv)?)
}

/// The shadow, where its outline is the one that glows.
fn outlined<'a, 'b>(shadow: &'a Shadow<'b>, uv: &Signals) -> Option<&'a Shadow<'b>> {
    let ratio = width_to_uv(shadow, uv)?;
    (ratio < SAME_OUTLINE && ratio > 1.0 / SAME_OUTLINE).then_some(shadow)
}

/// The medulla of a shadow; `None` where none could be seen if there were one.
pub(super) fn medulla(shadow: &Shadow) -> Option<Medulla> {
    let sections = shadow.sections.as_ref()?;
    let blur = shadow.signals.blur_px?.hypot(12f64.sqrt().recip()) / sections.radius_px;
    if blur > MOST_BLUR_RADII {
        return None;
    }
    let seen: Vec<f64> = sections
        .passed
        .iter()
        .filter_map(|passed| inner(&sections.at, passed, blur))
        .filter(|found| found.better >= MEDULLA_BETTER && found.inner_loss >= MEDULLA_LEAST_LOSS)
        .map(|found| found.share)
        .collect();
    let index = if seen.len() >= LEAST_BLOCKS { robust::median(&seen) } else { None };
    Some(Medulla { index, share: seen.len() as f64 / sections.passed.len() as f64 })
}
