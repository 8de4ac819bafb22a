//! DOOR: profiles to named numbers.

use super::branching::Branching;
use super::comparison::{self, Summary};
use super::ends::{self, End};
use super::signals::{self, EdgePair, Glow, Reading, Signals, Strip};
use super::subject::Subject;
use super::visible::{Sections, Shadow};
use super::{Orientation, Row, across, catalogue, colour, fluorescence, smoothed, structure, width, zone};
use crate::concerns::{Concern, ConcernKind};
use crate::maths::robust;
use crate::profiles::{self, EndSeen, Profile, Profiles, Station};

/// Fewest clear stations that a shaft is measured well on.
const FEW_STATIONS: usize = 12;

/// One row a shaft, and the profiles they came from.
#[derive(Clone, Debug)]
pub struct Features {
    /// What was measured station by station.
    pub profiles: Profiles,
    /// One row a shaft, in the same order.
    pub rows: Vec<Row>,
    /// What a person should know about the photo (the profiles' concerns and this stage's).
    pub concerns: Vec<Concern>,
}

/// What a user may set of this stage.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Settings {
    /// The shafts (by their order) that serve for comparison; `None` lets the program choose, an empty list allows none.
    pub comparison: Option<Vec<usize>>,
    /// Shafts (by their order) whose base end a person set: true when the base is the centreline's first point.
    pub base_end: Vec<(usize, bool)>,
}

/// Condenses profiles into named numbers.
pub fn from_profiles(profiles: Profiles, settings: &Settings) -> Features {
    let noise: Vec<[f64; 3]> = profiles
        .shafts
        .iter()
        .flat_map(|shaft| shaft.stations.iter().filter(|station| station.clear).map(|station| station.glow_sd))
        .filter(|sd| sd.iter().all(|sd| sd.is_finite()))
        .collect();
    let weights = signals::channel_weights(&noise);
    let all: Vec<Signals> = profiles.shafts.iter().map(|shaft| signals_of(shaft, &profiles, weights)).collect();
    let summaries: Vec<Summary> =
        all.iter().zip(&profiles.shafts).map(|(signals, shaft)| summary_of(signals, shaft)).collect();
    let chosen = comparison::choose(&summaries, settings.comparison.as_deref());
    let rows: Vec<Row> = (0..all.len()).map(|i| row_of(i, &all[i], &summaries, &chosen, settings, &profiles)).collect();
    let mut concerns = profiles.concerns.clone();
    if !rows.is_empty() && !chosen.contains(&true) {
        note(&mut concerns, ConcernKind::NoComparison);
    }
    Features { profiles, rows, concerns }
}

fn row_of(
    shaft_idx: usize,
    signals: &Signals,
    summaries: &[Summary],
    chosen: &[bool],
    settings: &Settings,
    profiles: &Profiles,
) -> Row {
    let shaft = &profiles.shafts[shaft_idx];
    let summary = &summaries[shaft_idx];
    let ordinary = comparison::ordinary(summaries, chosen, shaft_idx);
    let fluorescing = zone::fluorescing(signals, summary.width_px, ordinary.as_ref());
    let given = settings.base_end.iter().rev().find(|(idx, _)| *idx == shaft_idx).map(|(_, at_first)| *at_first);
    let base_at_first = given.or_else(|| ends::base_at_first(signals.ends, &signals.widths, &fluorescing.stretches));
    let orientation = match (given, base_at_first) {
        (Some(_), _) => Orientation::Given,
        (None, Some(_)) => Orientation::Measured,
        (None, None) => Orientation::Unknown,
    };
    let shadow = shadow_of(shaft, profiles);
    let branching = shaft.branches.map(|branches| Branching {
        ends_on_others: branches.ends_on_others,
        others_end_here: branches.others_end_here,
        of_photo: branches.of_photo,
    });
    let subject =
        Subject::new(signals, summary, ordinary.as_ref(), &fluorescing, base_at_first, branching, shadow.as_ref());
    let mut concerns = shaft.concerns.clone();
    if summary.n_stations < FEW_STATIONS || summary.width_px.is_none() {
        note(&mut concerns, ConcernKind::FewStations);
    }
    if shaft.ends.contains(&EndSeen::Outside) {
        note(&mut concerns, ConcernKind::Partial);
    }
    Row {
        values: catalogue::measure(&subject),
        zone: zone::zone(&fluorescing, signals.length_px(), summary.width_px, base_at_first),
        fluorescing_share: fluorescing.along.share(),
        orientation,
        reversed: base_at_first == Some(false),
        comparison: chosen[shaft_idx],
        concerns,
    }
}

/// Adds a concern unless one of its kind is there.
fn note(concerns: &mut Vec<Concern>, kind: ConcernKind) {
    if concerns.iter().all(|concern| concern.kind != kind) {
        concerns.push(Concern::new(kind));
    }
}

/// A profile as the feature functions see it: clear stations only, finite numbers only. Without `weights` (no noise
/// known anywhere on the photo) there is no unit for light, and the shaft has no glow.
fn signals_of<'a>(shaft: &'a Profile, profiles: &Profiles, weights: Option<[f64; 3]>) -> Signals<'a> {
    let clear: Vec<&Station> = shaft.stations.iter().filter(|station| station.clear).collect();
    let finite = |value: Option<f64>| value.filter(|value| value.is_finite());
    let each = |pick: fn(&Station) -> Option<f64>| clear.iter().filter_map(|station| finite(pick(station))).collect();
    let width_of = |station: &Station| finite(station.width_px).filter(|width| *width > 0.0);
    // What shape and blur put on all stations alike is no spread along the shaft: a station's own part is its noise.
    let width_sd = |station: &Station| finite(station.width_own_sd_px.or(station.width_sd_px)).filter(|sd| *sd >= 0.0);
    let steps: Vec<f64> = shaft.stations.windows(2).map(|pair| pair[1].s_px - pair[0].s_px).collect();
    let step_px = robust::median(&steps).filter(|step| *step > 0.0).unwrap_or(1.0);
    Signals {
        centreline: &shaft.centreline,
        step_px,
        n_stations: shaft.stations.len(),
        widths: clear
            .iter()
            .filter_map(|&st| Some(Reading { s_px: st.s_px, value: width_of(st)?, sd: width_sd(st)? }))
            .collect(),
        edges: clear
            .iter()
            .filter_map(|&st| {
                let [left_px, right_px] = st.edges_px.filter(|edges| edges.iter().all(|edge| edge.is_finite()))?;
                // Two edges of equal, independent noise make the width's.
                let sd_px = width_sd(st)? / std::f64::consts::SQRT_2;
                Some(EdgePair { s_px: st.s_px, left_px: left_px.abs(), right_px: right_px.abs(), sd_px })
            })
            .collect(),
        glow: weights.map_or_else(Vec::new, |weights| {
            clear.iter().filter_map(|&st| glow_at(st, width_of(st), weights)).collect()
        }),
        glow_in_sight: weights.map_or_else(Vec::new, |weights| {
            let in_sight = shaft.stations.iter().filter(|station| station.in_sight);
            in_sight.filter_map(|st| glow_at(st, width_of(st), weights)).collect()
        }),
        core_to_rim: each(|station| station.core_to_rim),
        spill: each(|station| station.spill),
        medulla: each(|station| station.medulla),
        residual: each(|station| station.residual),
        texture: each(|station| station.texture),
        flatness: shaft.emission.and_then(|emission| finite(Some(emission.flatness))),
        core: shaft.emission.and_then(|emission| finite(Some(emission.core_strength.unwrap_or(0.0)))),
        strip: Strip { channels: &shaft.strip, step_px: shaft.strip_step_px, clear: clear_columns(shaft, step_px) },
        blur_px: finite(shaft.blur_px).or(finite(profiles.blur_px)),
        ends: shaft.ends.map(end_of),
        monochrome: profiles.monochrome,
        um_per_px: profiles.scale.map(|scale| scale.um_per_px),
    }
}

/// The shaft in the photo in visible light; `None` where there is no such photo.
fn shadow_of<'a>(shaft: &'a Profile, profiles: &'a Profiles) -> Option<Shadow<'a>> {
    let visible = shaft.visible.as_deref()?;
    let sections = visible.sections.as_ref().map(|sections| Sections {
        radius_px: sections.radius_px,
        at: (0..profiles::SECTION_PLACES).map(profiles::Sections::place).collect(),
        passed: &sections.passed,
    });
    // Light as such is not compared there, so that channels need no common unit.
    let signals = Signals { blur_px: visible.profile.blur_px, ..signals_of(&visible.profile, profiles, None) };
    Some(Shadow { signals, sections })
}

fn glow_at(station: &Station, width_px: Option<f64>, weights: [f64; 3]) -> Option<Glow> {
    let all = [station.glow, station.glow_sd, station.ground];
    let light = signals::weighted_sum(weights, station.glow);
    all.iter().flatten().all(|value| value.is_finite()).then(|| Glow {
        s_px: station.s_px,
        light,
        light_sd: signals::weighted_sd(weights, station.glow_sd).hypot(station.glow_shared_sd * light),
        ground: signals::weighted_sum(weights, station.ground),
        rgb: station.unclipped_glow.filter(|glow| glow.iter().all(|c| c.is_finite())).unwrap_or([0.0; 3]),
        rgb_sd: station.glow_sd,
        ground_rgb: station.ground,
        width_px,
    })
}

/// Which columns of the strip belong to a clear station: the nearest one, no farther than its spacing.
fn clear_columns(shaft: &Profile, step_px: f64) -> Vec<bool> {
    let stations = &shaft.stations;
    (0..shaft.strip[0].width())
        .map(|x| {
            let s_px = x as f64 * shaft.strip_step_px;
            let after = stations.partition_point(|station| station.s_px < s_px);
            let candidates = [after.checked_sub(1).and_then(|i| stations.get(i)), stations.get(after)];
            candidates
                .into_iter()
                .flatten()
                .min_by(|a, b| (a.s_px - s_px).abs().total_cmp(&(b.s_px - s_px).abs()))
                .is_some_and(|nearest| nearest.clear && (nearest.s_px - s_px).abs() <= step_px)
        })
        .collect()
}

fn end_of(end: EndSeen) -> End {
    match end {
        EndSeen::Root => End::Root,
        EndSeen::Tapered => End::Tapered,
        EndSeen::Broken => End::Broken,
        EndSeen::Cut => End::Cut,
        EndSeen::Outside => End::Outside,
        EndSeen::Unknown => End::Unknown,
    }
}

fn summary_of(signals: &Signals, shaft: &Profile) -> Summary {
    let light = signals::light(&signals.glow);
    let level = fluorescence::level(&light);
    let light_sd = signals::noise(&light);
    let ground = signals::ground(&signals.glow);
    let width_px = signals.width_px();
    let shaft_colour = colour::of_all(&signals.glow).filter(|_| !signals.monochrome);
    let smooth = smoothed::smooth_light(&signals.glow, width_px, signals.step_px);
    let spread = |readings: &[Reading]| {
        robust::spread_without_noise(&signals::values(readings), signals::noise(readings)).unwrap_or(0.0)
    };
    let doubtful = [ConcernKind::TooThin, ConcernKind::DoubtfulCrossing, ConcernKind::ShaftClipped];
    Summary {
        n_stations: signals.glow.len(),
        length_px: signals.length_px(),
        width_px,
        light: level,
        light_sd,
        light_spread: spread(&light),
        ground,
        spread: width::spread(&signals.widths),
        taper: width::taper(&signals.widths),
        swelling: width::swelling(&signals.widths),
        blur_to_width: signals.blur_px.zip(width_px).map(|(blur, width)| blur / width),
        variation: colour::variation(&signals.glow, signals.monochrome),
        colour: shaft_colour,
        greener_than_ground: shaft_colour
            .zip(colour::of_ground(&signals.glow))
            .and_then(|(shaft, ground)| colour::relative(&shaft, &ground, colour::GREEN, colour::BLUE)),
        range: fluorescence::range(&smooth, light_sd),
        roughness: width_px
            .zip(signals.blur_px)
            .and_then(|(width, blur)| structure::roughness(&signals.edges, width, blur)),
        spill: across::middle(&signals.spill),
        medulla: across::middle(&signals.medulla),
        doubtful: shaft.concerns.iter().any(|concern| doubtful.contains(&concern.kind)),
    }
}
