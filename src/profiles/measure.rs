//! One shaft from its course to its profile.

use super::course::Course;
use super::ends::{EndShape, classify, look_at_end};
use super::fluorescence::{Outline, light, without_medulla};
use super::least::least;
use super::median_width::model_sd_px;
use super::neighbours::Surroundings;
use super::scene::Scene;
use super::stations::{Sights, sights};
use super::strip::{step_px, strip};
use super::width::{Widths, widths};
use super::{EndSeen, Profile, Station};
use crate::concerns::{Concern, ConcernKind};
use crate::maths::cross_section::{Curves, Shape};
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;
use crate::maths::smooth::{penalty_for, smooth_twice};

/// Width over blur below which the width is an upper bound: the cylinder's own spread (a quarter of its width) is
/// then less than half of the blur's, and its share in the breadth of the profile is a tenth.
const LEAST_WIDTH_BLURS: f64 = 2.5;
/// Relative uncertainty shared by all stations beyond which a width is no more than a bound.
const LEAST_SHARED: f64 = 0.15;
/// Least number of clear stations with a width.
const LEAST_CLEAR: usize = 5;
/// Share of clipped pixels inside the outlines that is worth a word.
const CLIPPED_SHARE: f64 = 0.05;
/// Waves of the centreline shorter than this many widths are noise of the stations.
const SMOOTHING_WIDTHS: f64 = 3.0;
/// The centreline is held to be no better than this share of the radius at a station, so that a sharp station does
/// not pull the line into corners.
const LEAST_CENTRE_SHARE: f64 = 0.02;
/// An end this near to the border, widths, leaves the photo.
const BORDER_WIDTHS: f64 = 0.6;

/// What becomes of the shaft at an end, as far as it was traced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Traced {
    /// It ends in view.
    Free,
    /// It leaves the photo or the field.
    Outside,
    /// It can be followed no further.
    Lost,
}

/// A shaft to be measured.
#[derive(Clone, Copy, Debug)]
pub(super) struct Task<'a> {
    pub(super) scene: &'a Scene<'a>,
    pub(super) around: Surroundings<'a>,
    pub(super) course: &'a Course,
    /// Stretches of the traced line that lie on other shafts.
    pub(super) overlaps: &'a [(f64, f64)],
    /// Length of the traced line, pixels.
    pub(super) traced_px: f64,
    pub(super) ends: [Traced; 2],
    pub(super) concerns: &'a [Concern],
}

/// The profile of a shaft and how well its blur is known: ln blur and its standard deviation.
#[derive(Clone, Debug)]
pub(super) struct Measured {
    pub(super) profile: Profile,
    pub(super) ln_blur: Option<[f64; 2]>,
    pub(super) clipped_share: f64,
}

/// Measures a shaft; `prior_ln_blur` is what is known of the blur beforehand.
pub(super) fn measure(task: &Task, prior_ln_blur: Option<[f64; 2]>) -> Measured {
    let Task { scene, around, course, .. } = *task;
    let traced: [Traced; 2] = [0, 1].map(|e| {
        let at = if e == 0 { course.line.first() } else { course.line.last() };
        let near = scene.distance_to_border(at) < (BORDER_WIDTHS * 2.0 * course.radius_px).max(3.0);
        if near { Traced::Outside } else { task.ends[e] }
    });
    let shapes: [Option<EndShape>; 2] = [0, 1].map(|e| {
        let line = if e == 0 { course.line.reversed() } else { course.line.clone() };
        let s = if e == 0 { 0.0 } else { course.line.length() };
        (traced[e] == Traced::Free)
            .then(|| look_at_end(scene, &around, &line, course.radius_px, &course.look_at(s, 0.0)))
            .flatten()
    });
    let beyond = shapes.map(|shape| shape.map_or(0.0, |s| s.beyond_px));
    let (line, offset) = trimmed(&course.line, beyond);
    let free = traced.map(|t| t != Traced::Lost);
    let scale = course.line.length() / task.traced_px.max(1e-9);
    let overlaps: Vec<(f64, f64)> = task.overlaps.iter().map(|(a, b)| (a * scale, b * scale)).collect();
    let sights = sights(scene, &around, course, &line, offset, free, &overlaps);
    let widths = widths(&sights, prior_ln_blur);
    let centreline = inside_photo(scene, centreline(&line, &sights, &widths, course.radius_px));
    let stations = stations(scene, &sights, &widths, &centreline, course.radius_px);
    let bin_px = sights.sights.first().map_or(0.0, |s| s.bins.step_px);
    let mut profile = assemble(task, centreline, stations, &widths, traced, shapes, bin_px);
    profile.least = least(&sights, &widths);
    let ln_blur = widths.joint.as_ref().map(|j| [j.ln_blur, j.ln_blur_sd]);
    let clipped_share = mean_clipped(&sights);
    let mut measured = Measured { profile, ln_blur, clipped_share };
    add_concerns(&mut measured, traced, &widths);
    measured
}

fn mean_clipped(sights: &Sights) -> f64 {
    sights.sights.iter().map(|s| s.clipped).sum::<f64>() / sights.sights.len().max(1) as f64
}

/// The line shortened or lengthened at its ends, of which at least a fifth always stays, and the arc length on the new
/// line at which the old one began.
fn trimmed(line: &Polyline, beyond: [f64; 2]) -> (Polyline, f64) {
    let length = line.length();
    let shortest = 0.4 * length;
    let (from, to) = ((-beyond[0]).min(shortest), length + beyond[1].max(-shortest));
    let mut points: Vec<Point> = Vec::new();
    points.push(line.at(from));
    points.extend(line.points().iter().zip(line.arc()).filter(|(_, s)| **s > from && **s < to).map(|(p, _)| *p));
    points.push(line.at(to));
    Polyline::new(points).map_or_else(|| (line.clone(), 0.0), |line| (line, -from))
}

/// The centreline through the fitted centres, smoothed; the course's line where nothing was fitted.
fn centreline(line: &Polyline, sights: &Sights, widths: &Widths, radius_px: f64) -> Polyline {
    let least = LEAST_CENTRE_SHARE * radius_px;
    let places: Vec<(Point, f64)> = widths
        .fits
        .iter()
        .zip(&sights.sights)
        .map(|(fit, sight)| match fit {
            Some(fit) => {
                let variance = fit.centre_sd_px.powi(2) * widths.inflation + least * least;
                let clear = if sight.clear { 1.0 } else { 0.1 };
                (sight.at + sight.normal * fit.section.centre_px, clear * least * least / variance)
            }
            None => (sight.at, 1e-3),
        })
        .collect();
    let wavelength = SMOOTHING_WIDTHS * 2.0 * radius_px / sights.spacing_px;
    let Some(inner) = smoothed(&places, wavelength).and_then(Polyline::new) else { return line.clone() };
    let half = sights.spacing_px / 2.0;
    let (first, last) = (inner.at(-half), inner.at(inner.length() + half));
    Polyline::new(std::iter::once(first).chain(inner.points().iter().copied()).chain(std::iter::once(last)))
        .unwrap_or(inner)
}

/// The line with what a fit or an end put beyond the photo's border brought back to it.
fn inside_photo(scene: &Scene, line: Polyline) -> Polyline {
    let [right, bottom] = [scene.photo.width, scene.photo.height].map(|n| n as f64 - 0.5);
    let back = |p: &Point| Point::new(p.x.clamp(-0.5, right), p.y.clamp(-0.5, bottom));
    let strays = |p: &Point| *p != back(p);
    if !line.points().iter().any(strays) {
        return line;
    }
    Polyline::new(line.points().iter().map(back)).unwrap_or(line)
}

/// Weighted places smoothed, those that lie far off given up.
fn smoothed(places: &[(Point, f64)], wavelength: f64) -> Option<Vec<Point>> {
    if places.len() < 3 {
        return None;
    }
    let xs: Vec<f64> = places.iter().map(|p| p.0.x).collect();
    let ys: Vec<f64> = places.iter().map(|p| p.0.y).collect();
    let mut weights: Vec<f64> = places.iter().map(|p| p.1).collect();
    let penalty = penalty_for(wavelength) * weights.iter().sum::<f64>() / weights.len() as f64;
    let mut result = None;
    for _ in 0..2 {
        let (sx, sy) = (smooth_twice(&xs, &weights, penalty)?, smooth_twice(&ys, &weights, penalty)?);
        let off: Vec<f64> = (0..xs.len()).map(|i| (xs[i] - sx[i]).hypot(ys[i] - sy[i])).collect();
        let mut sorted = off.clone();
        sorted.sort_by(f64::total_cmp);
        let scale = (4.0 * sorted[sorted.len() / 2]).max(0.2);
        for ((weight, place), off) in weights.iter_mut().zip(places).zip(&off) {
            *weight = place.1 / (1.0 + (off / scale).powi(4));
        }
        result = Some(sx.into_iter().zip(sy).map(|(x, y)| Point::new(x, y)).collect());
    }
    result
}

/// The stations with their numbers, measured against the final centreline.
fn stations(scene: &Scene, sights: &Sights, widths: &Widths, centreline: &Polyline, radius_px: f64) -> Vec<Station> {
    let shape = widths.joint.as_ref().map_or(Shape { blur_px: 1.0, flatness: 0.0, core: None }, |j| j.shape);
    let typical = typical_radius(sights, widths).unwrap_or(radius_px);
    let shared = widths.joint.as_ref().map_or(0.0, |j| j.ln_radius_sd);
    let (mut curves, mut plain) = (Curves::new(shape), Curves::new(without_medulla(shape)));
    let spacing = centreline.length() / sights.sights.len().max(1) as f64;
    let reach = (2.0 * radius_px).max(2.0 * spacing);
    sights
        .sights
        .iter()
        .zip(&widths.fits)
        .enumerate()
        .map(|(i, (sight, fit))| {
            let s_px = (i as f64 + 0.5) * spacing;
            let centre = fit.map_or(0.0, |f| f.section.centre_px);
            let radius = fit.map_or(typical, |f| f.section.radius_px);
            let spread = fit.map_or(0.0, |f| f.radius_sd_px * widths.inflation.sqrt() / f.section.radius_px);
            let outline = Outline { centre_px: centre, radius_px: radius, radius_spread: spread };
            let light = light(scene, sight, &outline, &mut curves, &mut plain);
            // The station was laid across the course's line; on the final one it may stand a little oblique.
            let upright = centreline.tangent(s_px, reach).normal().dot(sight.normal).abs().max(0.5);
            let line_at = (centreline.at(s_px) - sight.at).dot(sight.normal);
            let own_sd = fit.map(|f| 2.0 * f.radius_sd_px * widths.inflation.sqrt() * upright);
            let width = fit.map(|f| 2.0 * f.section.radius_px * upright);
            Station {
                s_px,
                clear: sight.clear,
                in_sight: sight.in_sight,
                width_px: width,
                width_sd_px: width
                    .zip(own_sd)
                    .map(|(w, own)| own.hypot(shared * w).hypot(model_sd_px(w, Some(shape.blur_px)))),
                width_own_sd_px: own_sd,
                edges_px: fit.map(|f| {
                    let off = (f.section.centre_px - line_at) * upright;
                    [f.section.radius_px * upright - off, f.section.radius_px * upright + off]
                }),
                glow: light.glow,
                ground: light.ground,
                glow_sd: light.glow_sd.map(|sd| sd * widths.noise_factor.sqrt()),
                glow_shared_sd: light.glow_shared_sd,
                unclipped_glow: light.unclipped_glow,
                core_to_rim: light.core_to_rim,
                spill: light.spill,
                medulla: light.medulla,
                texture: light.texture,
                residual: fit.map(|f| (f.chi2 / f.freedom.max(1.0)).sqrt()),
                clipped: sight.clipped,
            }
        })
        .collect()
}

fn typical_radius(sights: &Sights, widths: &Widths) -> Option<f64> {
    let radii = |clear: bool| {
        let pairs = sights.sights.iter().zip(&widths.fits).filter(move |(s, _)| s.clear || !clear);
        pairs.filter_map(|(_, f)| f.map(|f| f.section.radius_px)).collect::<Vec<f64>>()
    };
    let mut radii = Some(radii(true)).filter(|r| !r.is_empty()).unwrap_or_else(|| radii(false));
    radii.sort_by(f64::total_cmp);
    radii.get(radii.len() / 2).copied()
}

fn assemble(
    task: &Task,
    centreline: Polyline,
    stations: Vec<Station>,
    widths: &Widths,
    traced: [Traced; 2],
    shapes: [Option<EndShape>; 2],
    bin_px: f64,
) -> Profile {
    let joint = widths.joint.as_ref();
    let length = centreline.length();
    let mut profile = Profile {
        strip: strip(task.scene, &centreline, task.course.radius_px),
        strip_step_px: step_px(&centreline, task.course.radius_px),
        blur_px: joint.map(|j| optical_blur(j.shape.blur_px, bin_px)),
        emission: joint.map(|j| j.shape.into()),
        width_shared_sd: joint.map(|j| j.ln_radius_sd),
        ends: [EndSeen::Unknown; 2],
        least: None,
        branches: None,
        visible: None,
        concerns: task.concerns.to_vec(),
        centreline,
        stations,
    };
    let median = profile.median_width().map(|m| m.px);
    for e in 0..2 {
        let from_end = |s: f64| if e == 0 { s } else { length - s };
        let mut towards: Vec<(f64, f64)> =
            profile.stations.iter().filter_map(|s| Some((from_end(s.s_px), s.width_px?))).collect();
        towards.sort_by(|a, b| a.0.total_cmp(&b.0));
        profile.ends[e] = match (traced[e], median) {
            (Traced::Outside, _) => EndSeen::Outside,
            (Traced::Free, Some(median)) => classify(shapes[e], &towards, median),
            // Where the light is lost, a shaft that had thinned before ended in a tip near by.
            (Traced::Lost, Some(median)) if classify(None, &towards, median) == EndSeen::Tapered => EndSeen::Tapered,
            _ => EndSeen::Unknown,
        };
    }
    profile
}

/// The blur without what the extent of pixels and bins adds: a twelfth of its square each.
fn optical_blur(blur_px: f64, bin_px: f64) -> f64 {
    (blur_px * blur_px - (1.0 + bin_px * bin_px) / 12.0).max(0.0).sqrt()
}

fn add_concerns(measured: &mut Measured, traced: [Traced; 2], widths: &Widths) {
    let clear = measured.profile.stations.iter().filter(|s| s.clear && s.width_px.is_some()).count();
    let median = measured.profile.median_width().map(|m| m.px);
    let concerns = &mut measured.profile.concerns;
    let mut add = |concern: Concern| {
        if concerns.iter().all(|c| c.kind != concern.kind) {
            concerns.push(concern);
        }
    };
    if let Some(joint) = &widths.joint {
        let thin = median.is_some_and(|w| w < LEAST_WIDTH_BLURS * joint.shape.blur_px);
        if thin || joint.ln_radius_sd > LEAST_SHARED {
            add(Concern::with(ConcernKind::TooThin, joint.shape.blur_px));
        }
    }
    if clear < LEAST_CLEAR {
        add(Concern::new(ConcernKind::FewStations));
    }
    if traced.contains(&Traced::Outside) {
        add(Concern::new(ConcernKind::Partial));
    }
    if measured.clipped_share > CLIPPED_SHARE {
        add(Concern::with(ConcernKind::ShaftClipped, measured.clipped_share));
    }
}
