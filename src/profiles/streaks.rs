//! What turns out to be no shaft once it is measured: without edges that a cross-section could be fitted to, such as
//! a streak of adhesive, a cloud in the tape's haze or a piece of a bubble's rim.
//!
//! Chosen on simulated photos of the tuning ranges: of 101 traces that follow a shaft 2 had no width at all, of 123
//! that follow none 73. Short thick shafts, which have few stations clear of their ends, were among those taken for
//! streaks: of six such traces that are bright and have edges nearly all along four follow a shaft, on 180 photos.
//! Weakness: a shaft that lies on others all along goes with them.

use super::{Profile, Station};
use crate::concerns::ConcernKind;
use crate::maths::robust::median;

/// Stations with edges below which a short trace is no shaft.
const FEW_FITTED: usize = 8;
/// What is short, in widths.
const SHORT_WIDTHS: f64 = 12.0;

/// Share of the stations with edges, and their least number, from which a trace without a width has edges all the same.
const MOSTLY: f64 = 0.8;
/// See [`MOSTLY`].
const LEAST_FITTED: usize = 6;
/// Standard deviations that its light is then above the ground.
const BRIGHT_SDS: f64 = 25.0;

/// Share of the stations with edges, length in widths, light over the ground's and its standard deviations from which a
/// trace without a width is a shaft that others hide. Chosen so that three such shafts, one on a tuning photo and two
/// of another renderer's, come back; what else passes was only counted in the score of whole sets of photos.
const SOME: f64 = 0.15;
/// See [`SOME`].
const LONG_WIDTHS: f64 = 5.0;
/// See [`SOME`].
const LEAST_OVER_GROUND: f64 = 1.5;
/// See [`SOME`].
const LEAST_SDS: f64 = 20.0;

/// Whether a measured trace is no shaft.
pub(super) fn is_streak(profile: &Profile) -> bool {
    // Too bright to read is not the same as not there.
    if profile.concerns.iter().any(|concern| concern.kind == ConcernKind::ShaftClipped) {
        return false;
    }
    let Some(width) = profile.median_width() else { return !has_edges(profile) && !glows_all_along(profile) };
    let fitted = profile.stations.iter().filter(|station| station.width_px.is_some()).count();
    fitted < FEW_FITTED && profile.centreline.length() < SHORT_WIDTHS * width.px
}

/// Whether it is long, has edges here and there, and glows in two channels as nothing soft does: a shaft that others
/// cross so often, or so wide, that nowhere enough of it is clear for a width.
fn glows_all_along(profile: &Profile) -> bool {
    let stations = &profile.stations;
    let mut widths: Vec<f64> = stations.iter().filter_map(|station| station.width_px).collect();
    let Some(width) = crate::maths::stats::median(&mut widths) else { return false };
    widths.len() >= LEAST_FITTED
        && widths.len() as f64 >= SOME * stations.len() as f64
        && profile.centreline.length() >= LONG_WIDTHS * width
        && (0..3).filter(|&c| is_bright(profile, c, LEAST_OVER_GROUND, LEAST_SDS)).count() >= 2
}

/// Whether the light of a channel is so many times the ground's above it, and so many of its standard deviations.
fn is_bright(profile: &Profile, c: usize, over_ground: f64, sds: f64) -> bool {
    let of = |value: &dyn Fn(&Station) -> f64| median(&profile.stations.iter().map(value).collect::<Vec<_>>());
    let share = of(&|station| station.glow[c] / station.ground[c].max(f64::MIN_POSITIVE));
    let over_noise = of(&|station| station.glow[c] / station.glow_sd[c].max(f64::MIN_POSITIVE));
    share.is_some_and(|share| share >= over_ground) && over_noise.is_some_and(|share| share >= sds)
}

/// Whether edges were found nearly all along, on something as bright as its ground at least: a short thick shaft, or one
/// with something lying on it, has too few clear stations for a width.
fn has_edges(profile: &Profile) -> bool {
    let stations = &profile.stations;
    let fitted = stations.iter().filter(|station| station.width_px.is_some()).count();
    stations.iter().any(|station| station.clear)
        && fitted as f64 >= MOSTLY * stations.len() as f64
        && fitted >= LEAST_FITTED
        && (0..3).any(|c| is_bright(profile, c, 1.0, BRIGHT_SDS))
}
