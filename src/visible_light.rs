//! The shafts of a photo found again on a second photo of the field in visible light, and measured there.
//!
//! Each shaft's course is carried over by the rough registration and refined on the second photo as on the first; the
//! refined courses draw the registration in, and where that moves them, all is measured once more.

use crate::field::Field;
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;
use crate::profiles::{self, EndSeen, Profile, Profiles, Visible};
use crate::registration::{Mismatch, Registration, Seen, refined};
use crate::shafts::{self, EndAt, Given, Shafts};

/// A registration that moves by more than this anywhere is followed by a second measurement, pixels: a course is found
/// from farther off, but crossings and neighbours were told from where it was thought to be.
const MEASURE_AGAIN_PX: f64 = 1.0;
/// A shaft counts as seen on the second photo when this many of its stations have a width there.
const LEAST_STATIONS: usize = 5;

/// Measures the shafts on the second photo, into `profiles`; says how that photo lies.
///
/// # Errors
/// When the shafts are not where the registration has them.
pub(crate) fn measured(profiles: &mut Profiles, second: Field, rough: &Registration) -> Result<Registration, Mismatch> {
    let (first, second) = along(profiles, second, rough);
    let mut laid = refined(rough, &seen(profiles, &first))?;
    let corners = [(0, 0), (1, 0), (0, 1), (1, 1)]
        .map(|(x, y)| Point::new((x * profiles.width_px) as f64, (y * profiles.height_px) as f64));
    let moved = corners.iter().map(|&corner| laid.by.of(corner).distance(rough.by.of(corner))).fold(0.0, f64::max);
    let mut found = first;
    if moved > MEASURE_AGAIN_PX {
        found = along(profiles, second, &laid).0;
        laid = refined(&laid, &seen(profiles, &found))?;
    }
    for (shaft, visible) in profiles.shafts.iter_mut().zip(found) {
        shaft.visible = Some(Box::new(visible));
    }
    Ok(laid)
}

/// The shafts measured on the second photo along courses that the registration carries over; gives the photo back.
fn along(profiles: &Profiles, second: Field, by: &Registration) -> (Vec<Visible>, Field) {
    let carried = |shaft: &Profile| Polyline::new(shaft.centreline.points().iter().map(|&p| by.by.of(p)));
    let factor = by.by.factor();
    let width = |shaft: &Profile| shaft.median_width().map(|width| width.px * factor);
    let given = profiles.shafts.iter().map(|shaft| Given {
        line: carried(shaft).unwrap_or_else(|| shaft.centreline.clone()),
        width_px: width(shaft).unwrap_or(WIDTH_UNKNOWN_PX * factor),
        ends: shaft.ends.map(|end| match end {
            EndSeen::Outside => EndAt::Outside,
            EndSeen::Unknown => EndAt::Lost,
            EndSeen::Root | EndSeen::Tapered | EndSeen::Broken | EndSeen::Cut => EndAt::Free,
        }),
    });
    let shafts = shafts::along(second, given.collect());
    let radii: Vec<Option<f64>> = profiles.shafts.iter().map(|shaft| width(shaft).map(|width| width / 2.0)).collect();
    let found = profiles::in_visible_light(&shafts, &radii);
    let Shafts { field, .. } = shafts;
    (found, field)
}

/// What a shaft without a width is taken to be wide, pixels: its course is still sought.
const WIDTH_UNKNOWN_PX: f64 = 10.0;

/// The shafts as both photos show them.
fn seen(profiles: &Profiles, found: &[Visible]) -> Vec<Seen> {
    profiles
        .shafts
        .iter()
        .zip(found)
        .map(|(shaft, visible)| {
            let clear = shaft.stations.iter().filter(|station| station.clear && station.width_px.is_some());
            let n_there = visible.profile.stations.iter().filter(|s| s.clear && s.width_px.is_some()).count();
            Seen {
                places: clear.map(|station| shaft.centreline.at(station.s_px)).collect(),
                width_px: shaft.median_width().map_or(WIDTH_UNKNOWN_PX, |width| width.px),
                line: (n_there >= LEAST_STATIONS).then(|| visible.profile.centreline.clone()),
            }
        })
        .collect()
}
