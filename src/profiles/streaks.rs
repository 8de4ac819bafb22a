//! What turns out to be no shaft once it is measured: without edges that a cross-section could be fitted to, such as
//! a streak of adhesive, a cloud in the tape's haze or a piece of a bubble's rim.
//!
//! Chosen on simulated photos of the tuning ranges: of 101 traces that follow a shaft 2 had no width at all, of 123
//! that follow none 73. Weakness: a shaft that lies on
//! others all along goes with them.

use super::Profile;
use crate::concerns::ConcernKind;

/// Stations with edges below which a short trace is no shaft.
const FEW_FITTED: usize = 8;
/// What is short, in widths.
const SHORT_WIDTHS: f64 = 12.0;

/// Whether a measured trace is no shaft.
pub(super) fn is_streak(profile: &Profile) -> bool {
    // Too bright to read is not the same as not there.
    if profile.concerns.iter().any(|concern| concern.kind == ConcernKind::ShaftClipped) {
        return false;
    }
    let Some(width) = profile.median_width() else { return true };
    let fitted = profile.stations.iter().filter(|station| station.width_px.is_some()).count();
    fitted < FEW_FITTED && profile.centreline.length() < SHORT_WIDTHS * width.px
}
