//! What turns out to be no shaft once it is measured: long and faint, without edges that a cross-section could be
//! fitted to, such as a streak of adhesive or a cloud in the tape's haze.

use super::Profile;

/// Light above or below the ground, as a share of the ground, that every shaft seen so far has passed in some channel.
/// Clouds in the haze of simulated tapes stay below (tried on photos of the tuning and appraisal ranges).
const LEAST_CONTRAST: f64 = 0.05;
/// Share of the clear stations that must have edges when the contrast is below that.
const LEAST_FITTED: f64 = 0.5;
/// The same limit for a trace of which not one of several clear stations has edges.
const NO_EDGES_CONTRAST: f64 = 0.3;
/// Clear stations from which the lack of edges means something.
const FEWEST_STATIONS: usize = 3;

/// Whether a measured trace is a streak.
pub(super) fn is_streak(profile: &Profile) -> bool {
    let clear: Vec<_> = profile.stations.iter().filter(|station| station.clear).collect();
    if clear.len() < FEWEST_STATIONS {
        return false;
    }
    let fitted = clear.iter().filter(|station| station.width_px.is_some()).count();
    let contrast = (0..3)
        .filter_map(|c| {
            let mut shares: Vec<f64> = clear
                .iter()
                .filter(|station| station.ground[c] > 0.0)
                .map(|station| station.glow[c] / station.ground[c])
                .collect();
            crate::maths::stats::median(&mut shares)
        })
        .fold(0.0, |most: f64, share| most.max(share.abs()));
    let few = (fitted as f64) < LEAST_FITTED * clear.len() as f64;
    (few && contrast < LEAST_CONTRAST) || (fitted == 0 && contrast < NO_EDGES_CONTRAST)
}
