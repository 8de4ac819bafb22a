//! What is held of a shaft's cross-section before it is seen.
//!
//! Only where the blur hides the shape does this matter. Hairs of cats have a wide, unbroken medulla, awn and down
//! alike (fur atlas, docs/sources.md 1.1 and 1.2; the rule that animals' medullas take over a third of the width is
//! 1.13), and nearly all some pigment; fibres have neither. The shares themselves are common practice, no source.

use super::Core;
use super::joint::{Freedom, Model, Prior, Shares};

/// What a microscope photo's blur is like: ln of 1.4 pixels, give or take a factor of 2.2.
pub(super) const PRIOR_LN_BLUR: [f64; 2] = [0.336, 0.8];
/// Flatness of a shaft that is not clear. The optical depth across a hair is seldom over 1 (flatness 0.33), but black
/// hair's is three and more (0.6 and more).
const PRIOR_FLATNESS: [f64; 2] = [0.15, 0.22];
/// Strength of a core: most are air-filled ladders, which give less light of their own than the cortex.
const PRIOR_STRENGTH: [f64; 2] = [-0.2, 0.25];
/// ln of a medulla's radius share: from a third to two thirds.
const PRIOR_LN_CORE: [f64; 2] = [-0.75, 0.4];
/// ln of a hole's radius share: coatings are a tenth to a quarter of the radius thick.
const PRIOR_LN_HOLE: [f64; 2] = [-0.16, 0.12];
/// ln of the radius share of a hair within a dim sheath: spores "may double" the thickness of a hair (veterinary
/// teaching text, docs/sources.md 2.1), mostly they add a third.
const PRIOR_LN_SHEATHED: [f64; 2] = [-0.3, 0.15];
/// Light of that hair over its sheath's, in units of the sheath's: as bright to several times as bright.
const PRIOR_SHEATHED_STRENGTH: [f64; 2] = [1.5, 1.5];

/// Evenly emitting and clear.
pub(super) fn clear(blur: [f64; 2]) -> Model {
    model(false, Freedom::None, prior(blur, PRIOR_LN_CORE), Shares { met: 0.20, told: 0.60 })
}

/// With pigment.
pub(super) fn flattened(blur: [f64; 2]) -> Model {
    model(true, Freedom::None, prior(blur, PRIOR_LN_CORE), Shares { met: 0.08, told: 0.25 })
}

/// With a medulla.
pub(super) fn cored(blur: [f64; 2]) -> Model {
    model(false, Freedom::Full, prior(blur, PRIOR_LN_CORE), Shares { met: 0.20, told: 0.05 })
}

/// With a medulla and pigment.
pub(super) fn cored_flattened(blur: [f64; 2]) -> Model {
    model(true, Freedom::Full, prior(blur, PRIOR_LN_CORE), Shares { met: 0.40, told: 0.05 })
}

/// Nothing but a coat that glows.
pub(super) fn hollow(blur: [f64; 2]) -> Model {
    model(false, Freedom::Hole, prior(blur, PRIOR_LN_HOLE), Shares { met: 0.04, told: 0.05 })
}

/// In a sheath that is dimmer than the hair.
pub(super) fn sheathed(blur: [f64; 2]) -> Model {
    let prior = Prior { strength: PRIOR_SHEATHED_STRENGTH, ..prior(blur, PRIOR_LN_SHEATHED) };
    model(false, Freedom::Full, prior, Shares { met: 0.08, told: 0.03 })
}

/// A core that gives no light.
pub(super) fn hole(radius_share: f64) -> Option<Core> {
    Some(Core { radius_share, strength: -radius_share })
}

fn model(is_flat: bool, core: Freedom, prior: Prior, shares: Shares) -> Model {
    Model { flatness: is_flat.then_some(()), core, prior, shares }
}

fn prior(blur: [f64; 2], ln_core: [f64; 2]) -> Prior {
    Prior { ln_blur: blur, flatness: PRIOR_FLATNESS, strength: PRIOR_STRENGTH, ln_core }
}
