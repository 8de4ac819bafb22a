//! DOOR: shafts to what changes along them.

use rayon::prelude::*;

use super::branches::{self, Trace};
use super::course::{Course, course};
use super::measure::{Measured, Task, Traced, measure};
use super::neighbours::{Owners, Surroundings};
use super::photo::{Depth, Photo};
use super::scene::{PixelNoise, Scene};
use super::sections::sections;
use super::streaks::is_streak;
use super::{EndSeen, Profile, Profiles, Visible};
use crate::concerns::{Concern, ConcernKind};
use crate::maths::raster::Raster;
use crate::maths::robust::median;
use crate::shafts::{EndAt, RejectReason, Shaft, Shafts};

/// What a user may set of this stage.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Settings {}

/// Blur that hides a sheath's grains and a ladder, pixels, if the shafts are no wider than a few blurs.
const OUT_OF_FOCUS_WIDTHS: f64 = 0.25;
/// Standard deviation of ln blur from which on the other shafts of the photo help.
const POOR_BLUR: f64 = 0.12;
/// Least number of other shafts that can help.
const LEAST_HELPERS: usize = 3;
/// Least spread of ln blur from shaft to shaft that is assumed: shafts lie at different depths.
const LEAST_BLUR_SPREAD: f64 = 0.15;

/// Measures every shaft, station by station.
pub fn from_shafts(shafts: &Shafts, settings: &Settings) -> Profiles {
    let Settings {} = settings;
    let Some(scene) = scene_of(shafts) else {
        return gathered(shafts, shafts.shafts.iter().map(unmeasured).collect());
    };
    gathered(shafts, measured(&scene, &shafts.shafts))
}

/// Measures every shaft of a photo in visible light along courses that are known from the photo under the UV lamp:
/// one result a shaft, in their order. `true_radius_px` is half of each shaft's width by the UV photo, in pixels of
/// this one; absent where it is not known.
pub fn in_visible_light(shafts: &Shafts, true_radius_px: &[Option<f64>]) -> Vec<Visible> {
    let Some(scene) = scene_of(shafts) else { return Vec::new() };
    let measured = measured(&scene, &shafts.shafts);
    let seen = measured.into_iter().zip(true_radius_px.iter().copied().chain(std::iter::repeat(None)));
    seen.map(|(measured, radius_px)| {
        let profile = measured.profile;
        let sections = radius_px.and_then(|radius_px| sections(&scene, &profile, radius_px));
        Visible { profile, sections }
    })
    .collect()
}

/// What is measured on; `None` when the photo's samples and table do not fit.
fn scene_of(shafts: &Shafts) -> Option<Scene<'_>> {
    let field = &shafts.field;
    let picture = &field.picture;
    let photo =
        photo_of(picture.width, picture.height, picture.samples.eight(), picture.samples.sixteen(), &picture.linear)?;
    Some(Scene {
        photo,
        noise: field.noise.map(|noise| PixelNoise { floor: noise.floor, slope: noise.slope }),
        background: &field.background,
        planes: &field.planes,
        trusted: &field.inside,
        reduction: field.reduction.max(1),
        disc: field.disc.map(|disc| (disc.centre, disc.radius_px)),
    })
}

/// The photo's samples with a table that fits them; `None` when something is missing.
fn photo_of<'a>(
    width: usize,
    height: usize,
    eight: Option<&'a [u8]>,
    sixteen: Option<&'a [u16]>,
    linear: &'a [f32],
) -> Option<Photo<'a>> {
    let depth = match (eight, sixteen) {
        (Some(samples), _) => Depth::Eight(samples, linear.get(..256)?.try_into().ok()?),
        (None, Some(samples)) => Depth::Sixteen(samples, linear.get(..65536)?.try_into().ok()?),
        (None, None) => return None,
    };
    Photo::new(width, height, depth)
}

/// The profiles of all shafts with what they say of the photo.
fn gathered(shafts: &Shafts, measured: Vec<Measured>) -> Profiles {
    let field = &shafts.field;
    let picture = &field.picture;
    let (streaks, mut measured): (Vec<Measured>, Vec<Measured>) =
        measured.into_iter().partition(|m| is_streak(&m.profile));
    branch(&mut measured);
    let blur_px = median(&measured.iter().filter_map(|m| m.profile.blur_px).collect::<Vec<_>>());
    let mut concerns = shafts.concerns.clone();
    if measured.is_empty() && !shafts.shafts.is_empty() {
        concerns.push(Concern::new(ConcernKind::NoShaft));
    }
    let streaks = streaks.iter().map(|m| {
        let line = &m.profile.centreline;
        (line.at(0.5 * line.length()), line.length(), name_of(RejectReason::Streak))
    });
    let rejects = shafts.rejects.iter().map(|r| (r.at, r.extent_px, name_of(r.reason))).chain(streaks).collect();
    let relative: Vec<f64> =
        measured.iter().filter_map(|m| Some(m.profile.blur_px? / m.profile.median_width()?.px)).collect();
    if let (Some(blur_px), Some(relative)) = (blur_px, median(&relative)) {
        let known = concerns.iter().any(|c| c.kind == ConcernKind::OutOfFocus);
        if relative > OUT_OF_FOCUS_WIDTHS && !known {
            concerns.push(Concern::with(ConcernKind::OutOfFocus, blur_px));
        }
    }
    Profiles {
        width_px: picture.width,
        height_px: picture.height,
        scale: field.scale,
        monochrome: picture.monochrome,
        disc: field.disc.map(|disc| (disc.centre, disc.radius_px)),
        blur_px,
        shafts: measured.into_iter().map(|m| m.profile).collect(),
        rejects,
        concerns,
    }
}

/// Finds out where the traces branch. What has no width is taken for a line.
fn branch(measured: &mut [Measured]) {
    let width_px = |m: &Measured| m.profile.median_width().map_or(0.0, |width| width.px);
    let traces: Vec<Trace> = measured
        .iter()
        .map(|m| Trace { line: &m.profile.centreline, width_px: width_px(m), ends: m.profile.ends })
        .collect();
    let of_each = branches::branches(&traces);
    for (m, branches) in measured.iter_mut().zip(of_each) {
        m.profile.branches = Some(branches);
    }
}

fn measured(scene: &Scene, shafts: &[Shaft]) -> Vec<Measured> {
    let owners_of =
        |rough: Vec<_>| Owners::new(scene.photo.width, scene.photo.height, &rough, scene.trusted, scene.reduction);
    let rough = owners_of(shafts.iter().map(|s| (&s.centreline, s.width_px / 2.0)).collect());
    let courses: Vec<Option<Course>> = shafts
        .par_iter()
        .with_max_len(1)
        .enumerate()
        .map(|(i, shaft)| {
            let around = Surroundings::new(&rough, i, scene.trusted, scene.reduction);
            course(scene, &around, &shaft.centreline, shaft.width_px, &shaft.overlaps)
        })
        .collect();
    let refined = owners_of(
        shafts
            .iter()
            .zip(&courses)
            .map(|(shaft, course)| {
                course.as_ref().map_or((&shaft.centreline, shaft.width_px / 2.0), |c| (&c.line, c.radius_px))
            })
            .collect(),
    );
    let one = |i: usize, prior: Option<[f64; 2]>| -> Measured {
        let Some(course) = &courses[i] else { return unmeasured(&shafts[i]) };
        let shaft = &shafts[i];
        let task = Task {
            scene,
            around: Surroundings::new(&refined, i, scene.trusted, scene.reduction),
            course,
            overlaps: &shaft.overlaps,
            traced_px: shaft.centreline.length(),
            ends: shaft.ends.map(|end| match end {
                EndAt::Free => Traced::Free,
                EndAt::Outside => Traced::Outside,
                EndAt::Lost => Traced::Lost,
            }),
            concerns: &shaft.concerns,
        };
        measure(&task, prior)
    };
    let first: Vec<Measured> = (0..shafts.len()).into_par_iter().with_max_len(1).map(|i| one(i, None)).collect();
    let priors: Vec<Option<[f64; 2]>> = (0..first.len()).map(|i| help_from_others(&first, i)).collect();
    first
        .into_par_iter()
        .with_max_len(1)
        .enumerate()
        .map(|(i, alone)| match priors[i] {
            Some(prior) => one(i, Some(prior)),
            None => alone,
        })
        .collect()
}

/// What the other shafts say of a shaft's blur, where it is poorly known itself.
fn help_from_others(measured: &[Measured], shaft: usize) -> Option<[f64; 2]> {
    let poor = |ln_blur: &Option<[f64; 2]>| ln_blur.is_none_or(|b| b[1] > POOR_BLUR);
    if !poor(&measured[shaft].ln_blur) {
        return None;
    }
    let good: Vec<f64> =
        measured.iter().filter(|m| !poor(&m.ln_blur)).filter_map(|m| m.ln_blur.map(|b| b[0])).collect();
    if good.len() < LEAST_HELPERS {
        return None;
    }
    let middle = median(&good)?;
    // 1.4826 median absolute deviations are a Gaussian's standard deviation (from memory).
    let spread = 1.4826 * median(&good.iter().map(|b| (b - middle).abs()).collect::<Vec<_>>())?;
    Some([middle, spread.max(LEAST_BLUR_SPREAD)])
}

/// A shaft of which nothing could be measured.
fn unmeasured(shaft: &Shaft) -> Measured {
    let mut concerns = shaft.concerns.clone();
    if concerns.iter().all(|c| c.kind != ConcernKind::FewStations) {
        concerns.push(Concern::new(ConcernKind::FewStations));
    }
    let outside = |end: EndAt| if end == EndAt::Outside { EndSeen::Outside } else { EndSeen::Unknown };
    let profile = Profile {
        centreline: shaft.centreline.clone(),
        stations: Vec::new(),
        strip: [0, 1, 2].map(|_| Raster::filled(0, 0, 0.0)),
        strip_step_px: 1.0,
        blur_px: None,
        emission: None,
        width_shared_sd: None,
        ends: shaft.ends.map(outside),
        least: None,
        branches: None,
        visible: None,
        concerns,
    };
    Measured { profile, ln_blur: None, clipped_share: 0.0 }
}

fn name_of(reason: RejectReason) -> &'static str {
    match reason {
        RejectReason::Bubble => "bubble",
        RejectReason::Dust => "dust",
        RejectReason::Flake => "flake",
        RejectReason::Streak => "streak",
        RejectReason::ScaleBar => "scale-bar",
        RejectReason::FieldEdge => "field-edge",
    }
}
