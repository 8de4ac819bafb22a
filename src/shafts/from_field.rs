//! DOOR: a field to the shafts in it.

use rayon::prelude::*;

use super::overlaps::{note_all_overlaps, note_overlaps};
use super::rims::Rim;
use super::stitches::{Piece, stitched};
use super::tails::{parted, without_tails};
use super::{
    EndAt, Reject, RejectReason, Shaft, added, breaks, centreline, choice, contrast, crossings, rejects, rims, strands,
};
use crate::concerns::{Concern, ConcernKind};
use crate::field::Field;
use crate::maths::distance::distance_inside;
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;
use crate::maths::raster::Raster;
use crate::maths::thinning::thinned;

/// The shafts of one photo, and what was held to be none. Keeps its field.
#[derive(Clone, Debug)]
pub struct Shafts {
    /// The field they were found in.
    pub field: Field,
    /// The shafts, longest first.
    pub shafts: Vec<Shaft>,
    /// Candidates that are no shaft, with the reason.
    pub rejects: Vec<Reject>,
    /// What a person should know.
    pub concerns: Vec<Concern>,
}

/// What a user may set of this stage; what is none is taken away before what was missed is added.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Settings {
    /// Lines, full-resolution pixels, along which the program saw a shaft where there is none.
    pub none: Vec<Vec<Point>>,
    /// Places that a person clicked along a shaft that the program missed, full-resolution pixels, in order.
    pub missed: Vec<Vec<Point>>,
}

/// Most shafts that are kept; beyond, the photo is too crowded to use.
const MOST_SHAFTS: usize = 300;
/// A trace beside another is its halo when its contrast is below this share of the other's.
const HALO_SHARE: f64 = 0.3;
/// Joint surprise from which the user is told to look: see `links::cost`.
const DOUBTFUL: f64 = 7.0;

/// Finds the shafts of a field.
pub fn from_field(field: Field, settings: &Settings) -> Shafts {
    let (mut shafts, rejects) = seek(&field);
    obey(&mut shafts, &field, settings);
    let mut concerns = field.concerns.clone();
    if shafts.is_empty() {
        concerns.push(Concern::new(ConcernKind::NoShaft));
    }
    if shafts.len() >= MOST_SHAFTS {
        concerns.push(Concern::new(ConcernKind::Crowded));
    }
    Shafts { field, shafts, rejects, concerns }
}

/// A shaft whose course is known from another photo.
#[derive(Clone, Debug)]
pub struct Given {
    /// Its centreline, full-resolution pixels of the field's photo.
    pub line: Polyline,
    /// Its width, the same pixels.
    pub width_px: f64,
    /// What becomes of it at its first and last point.
    pub ends: [EndAt; 2],
}

/// The shafts of a field along courses that are known; none is sought, and none is left out.
pub fn along(field: Field, given: Vec<Given>) -> Shafts {
    let mut shafts: Vec<Shaft> = Vec::new();
    for Given { line, width_px, ends } in given {
        let mut shaft = Shaft { centreline: line, width_px, overlaps: Vec::new(), ends, concerns: Vec::new() };
        for other in &mut shafts {
            note_overlaps(&mut shaft, other);
        }
        shafts.push(shaft);
    }
    Shafts { concerns: field.concerns.clone(), field, shafts, rejects: Vec::new() }
}

/// Does what a person said of the shafts.
fn obey(shafts: &mut Vec<Shaft>, field: &Field, settings: &Settings) {
    for line in &settings.none {
        let Some(index) = nearest(line, shafts) else { continue };
        shafts.remove(index);
    }
    let ground = added::Ground { planes: &field.planes, background: &field.background, reduction: field.reduction };
    for clicks in &settings.missed {
        let Some(mut shaft) = added::shaft_along(clicks, &ground) else { continue };
        for other in shafts.iter_mut() {
            note_overlaps(&mut shaft, other);
        }
        shafts.push(shaft);
    }
}

/// The shaft that a line of a former reading lies on.
fn nearest(line: &[Point], shafts: &[Shaft]) -> Option<usize> {
    let lines: Vec<(&Polyline, f64)> = shafts.iter().map(|shaft| (&shaft.centreline, shaft.width_px)).collect();
    crate::maths::polyline::lying_on(line, &lines)
}

fn seek(field: &Field) -> (Vec<Shaft>, Vec<Reject>) {
    let n_averaged = field.reduction as f32;
    let sd = |c: usize, light: f32| field.noise[c].sd(light) / n_averaged;
    let step = |light: f32| step_at(&field.picture.linear, light);
    let found = contrast::contrast(&field.planes, &field.background, &field.inside, &sd, &step);
    let excess = &found.excess;
    let (depth, thin) = rayon::join(|| distance_inside(&found.mask), || thinned(&found.mask));
    let mut strands = breaks::split(strands::strands(thin, &depth), &depth);
    strands.strands.retain(|strand| !breaks::is_fringe(strand, &depth, excess));
    let disc = field.disc.map(|d| {
        let unit = field.reduction as f64;
        (Point::new((d.centre.x + 0.5) / unit - 0.5, (d.centre.y + 0.5) / unit - 0.5), d.radius_px / unit)
    });
    let chained: Vec<Piece> = crossings::chains(&strands, &depth, excess, &found.mask)
        .into_iter()
        .filter_map(|chain| {
            let trace = centreline::trace(&chain, &strands, &depth)?;
            Some(Piece { trace, at_knot: chain.at_knot, closed: chain.closed })
        })
        .collect();
    let pieces = choice::chosen(&strands, &depth, excess, &found.mask, &field.inside, chained);
    let (planes, background) = (&field.planes, &field.background);
    let mut scene = rejects::Scene { planes, background, contrast: &found, disc, rims: &[] };
    let pieces: Vec<Piece> = pieces.into_iter().flat_map(|piece| between_edges(piece, &scene)).collect();
    let faint: Vec<&Piece> = pieces.par_iter().filter(|piece| !scene.glows(&piece.trace)).collect();
    let rims = rims::rims(faint.iter().map(|piece| &piece.trace), &found);
    scene.rims = &rims;
    // A rim that was grown from one trace alone may be that hair's own bow.
    let sure: Vec<&Rim> =
        rims.iter().filter(|rim| pieces.iter().any(|piece| rim.holds(&piece.trace, &found))).collect();
    let pieces = pieces.par_iter().map(|piece| {
        let width_px = piece.trace.width_px;
        let (trace, cut) = without_tails(&piece.trace, |p, way| {
            scene.is_along_edge(p, way) || sure.iter().any(|rim| rim.lies_along(p, way, width_px))
        });
        Piece { trace, at_knot: [0, 1].map(|end| piece.at_knot[end] || cut[end]), closed: piece.closed }
    });
    let is_rim = |piece: &Piece| !scene.glows(&piece.trace) && rims.iter().any(|rim| rim.holds(&piece.trace, &found));
    let mut kept: Vec<Piece> = Vec::new();
    let mut rejected = Vec::new();
    let pieces = stitched(pieces.collect(), is_rim, &found.mask);
    let reasons: Vec<Option<RejectReason>> =
        pieces.par_iter().map(|piece| rejects::reason(&piece.trace, piece.closed, &scene)).collect();
    for (piece, reason) in pieces.into_iter().zip(reasons) {
        let trace = &piece.trace;
        match reason {
            None => kept.push(piece),
            // Faint specks are chance and not worth a word.
            Some(_) if rejects::median_strength(trace, &scene) < rejects::FIRM => (),
            Some(reason) => rejected.push(Reject {
                at: to_full(trace.line.at(0.5 * trace.line.length()), field.reduction),
                extent_px: (trace.line.length() + trace.width_px) * field.reduction as f64,
                reason,
            }),
        }
    }
    kept.sort_by(|a, b| b.trace.line.length().total_cmp(&a.trace.line.length()));
    let strengths: Vec<f64> = kept.iter().map(|k| rejects::median_strength(&k.trace, &scene)).collect();
    let mut shafts = Vec::new();
    for (i, piece) in kept.iter().enumerate() {
        let much_fainter = |k: usize| strengths[i] < HALO_SHARE * strengths[k];
        let twice = (0..i).any(|k| rejects::is_within(&piece.trace, &kept[k].trace, much_fainter(k)));
        if !twice {
            shafts.push(finish(piece, &found.mask, field));
        }
    }
    shafts.sort_by(|a, b| b.centreline.length().total_cmp(&a.centreline.length()));
    shafts.truncate(MOST_SHAFTS);
    note_all_overlaps(&mut shafts);
    (shafts, rejected)
}

/// A piece without the stretches that follow the edge of the eyepiece's field.
fn between_edges(piece: Piece, scene: &rejects::Scene) -> Vec<Piece> {
    let parts = parted(&piece.trace, |p, way| scene.follows_edge(p, way));
    let (last, whole) = (parts.len().saturating_sub(1), piece.at_knot);
    parts
        .into_iter()
        .enumerate()
        .map(|(i, trace)| {
            let at_knot = [if i == 0 { whole[0] } else { true }, if i == last { whole[1] } else { true }];
            Piece { trace, at_knot, closed: piece.closed && last == 0 }
        })
        .collect()
}

/// Light between the sample values next to `light`.
fn step_at(linear: &[f32], light: f32) -> f32 {
    let above = linear.partition_point(|&l| l < light).clamp(1, linear.len().max(2) - 1);
    linear.get(above).zip(linear.get(above - 1)).map_or(0.0, |(above, below)| above - below)
}

/// A trace carried to its ends and to full-resolution pixels.
fn finish(piece: &Piece, mask: &Raster<bool>, field: &Field) -> Shaft {
    let trace = &piece.trace;
    let unit = field.reduction as f64;
    let mut points: Vec<Point> = trace.line.points().to_vec();
    let mut ends = [EndAt::Free; 2];
    let mut grown_px = [0.0; 2];
    for end in [0, 1] {
        if end == 1 {
            points.reverse();
        }
        let (tip, added) = extend(&points, trace.width_px, mask, &field.inside);
        ends[end] = tip;
        if piece.at_knot[end] && tip == EndAt::Free {
            ends[end] = EndAt::Lost;
        }
        if !added.is_empty() {
            grown_px[end] = added[added.len() - 1].distance(points[0]);
            let mut longer: Vec<Point> = added.into_iter().rev().collect();
            longer.append(&mut points);
            points = longer;
        }
        if end == 1 {
            points.reverse();
        }
    }
    let full = Polyline::new(points.iter().map(|&p| to_full(p, field.reduction)));
    let centreline = full.unwrap_or_else(|| trace.line.clone());
    let overlaps = trace.overlaps.iter().map(|&(a, b)| ((a + grown_px[0]) * unit, (b + grown_px[0]) * unit)).collect();
    let mut concerns = Vec::new();
    if trace.doubt > DOUBTFUL {
        concerns.push(Concern::new(ConcernKind::DoubtfulCrossing));
    }
    if ends.contains(&EndAt::Outside) {
        concerns.push(Concern::new(ConcernKind::Partial));
    }
    Shaft { centreline, width_px: trace.width_px * unit, overlaps, ends, concerns }
}

/// Steps on from the first point along the line's direction while on the mask; says what becomes of the shaft there.
fn extend(points: &[Point], width_px: f64, mask: &Raster<bool>, inside: &Raster<bool>) -> (EndAt, Vec<Point>) {
    let Some(line) = Polyline::new(points.iter().copied()) else { return (EndAt::Lost, Vec::new()) };
    // The last half width of a thinned line may lean to a corner of a blunt end.
    let back = (0.3 * width_px).min(0.2 * line.length());
    let reach = (1.5 * width_px).max(8.0);
    let direction = -line.tangent(back + reach, reach);
    let start = line.first();
    let mut added = Vec::new();
    let limit = (1.2 * width_px).ceil().max(3.0) as usize;
    for k in 1..=limit + 3 {
        let p = start + direction * k as f64;
        let (x, y) = (p.x.round() as isize, p.y.round() as isize);
        match inside.get(x, y) {
            None | Some(false) => return (EndAt::Outside, added),
            Some(true) if k <= limit && mask.get(x, y) == Some(true) => added.push(p),
            // A few pixels more are looked at for the border only.
            Some(true) if k > added.len() + 3 => break,
            Some(true) => (),
        }
    }
    (EndAt::Free, added)
}

fn to_full(p: Point, reduction: usize) -> Point {
    let unit = reduction as f64;
    Point::new((p.x + 0.5) * unit - 0.5, (p.y + 0.5) * unit - 0.5)
}
