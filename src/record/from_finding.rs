//! DOOR: a finding to the entry that is kept of it.

use super::{
    Entry, Glow, Measure, Nearest, Photo, Provenance, Reason, Reject, Shaft, Slide, Station, Width, glow::Light,
    width::Middle,
};
use crate::concerns::Concern;
use crate::finding::Finding;
use crate::finding::abstention::leans_infected;
use crate::finding::advice::advice;
use crate::finding::slide::{self, GlowPlace, SlideShaft};
use crate::maths::point::Point;

pub use crate::finding::Look;
pub use crate::finding::advice::CULTURE;

/// Reach of the tangent along the centreline, in widths of the shaft, when the outline is laid beside it:
/// less shows every wobble of the centreline, more cuts the corners of a curl.
const TANGENT_REACH_WIDTHS: f64 = 0.5;

/// The entry of one photo.
pub fn from_finding(finding: &Finding, provenance: Provenance) -> Entry {
    let profiles = &finding.features.profiles;
    let shafts = (0..profiles.shafts.len()).map(|index| shaft(finding, index)).collect();
    let rejects = profiles.rejects.iter().map(|&(at, extent_px, reason)| Reject { at, extent_px, reason });
    let catalogue = finding.features.catalogue().iter().map(|entry| Measure { key: entry.key, unit: entry.unit });
    let Provenance { file, sha256, setup, format, captured_at, camera, visible, program } = provenance;
    Entry {
        photo: Photo {
            file,
            sha256,
            width_px: profiles.width_px,
            height_px: profiles.height_px,
            scale: profiles.scale,
            setup,
            format,
            captured_at,
            camera,
            visible,
        },
        usable: finding.usable,
        concerns: once_a_kind(&finding.concerns),
        blur_px: profiles.blur_px,
        monochrome: profiles.monochrome,
        shafts,
        rejects: rejects.collect(),
        catalogue: catalogue.collect(),
        slide: Slide {
            code: finding.slide.code,
            sentence: finding.slide.sentence.clone(),
            counts: finding.slide.counts,
            undetermined: finding.slide.undetermined,
        },
        advice: finding.advice.clone(),
        program,
    }
}

/// What the shafts of all usable photos of one slide add up to, and what to do next. A shaft that is seen on two
/// photos counts twice: where photos may overlap, ask [`super::one_slide()`].
pub fn together(entries: &[&Entry]) -> (Slide, String) {
    let usable = || entries.iter().filter(|entry| entry.usable);
    added_up(usable().flat_map(|entry| &entry.shafts), usable().next().is_some())
}

/// What shafts of one slide, each counted once, add up to, and what to do next; `usable` when one of its photos is.
pub(super) fn added_up<'a>(shafts: impl Iterator<Item = &'a Shaft>, usable: bool) -> (Slide, String) {
    let shafts: Vec<SlideShaft> = shafts
        .map(|shaft| SlideShaft {
            look: shaft.look,
            leans_infected: leans_infected(shaft.look, &shaft.probability, &shaft.concerns),
            glow: glow_place(shaft.zone),
            comparison: shaft.comparison,
        })
        .collect();
    let found = slide::finding(&shafts, usable);
    let slide =
        Slide { code: found.code, sentence: found.sentence, counts: found.counts, undetermined: found.undetermined };
    (slide, advice(slide::code(&shafts, usable)))
}

/// Where a shaft fluoresces, by the stable name of its zone.
fn glow_place(zone: &str) -> GlowPlace {
    match zone {
        "none" => GlowPlace::Nowhere,
        "base" | "whole" => GlowPlace::BaseOrWhole,
        "tip" => GlowPlace::TipOnly,
        _ => GlowPlace::Elsewhere,
    }
}

fn shaft(finding: &Finding, index: usize) -> Shaft {
    let profiles = &finding.features.profiles;
    let (profile, row, verdict) = (&profiles.shafts[index], &finding.features.rows[index], &finding.verdicts[index]);

    let length_px = profile.centreline.length();
    let mut stations: Vec<Station> = profile
        .stations
        .iter()
        .map(|station| {
            // A width beside another shaft or at the very end may be fitted, but it is none to rely on.
            let width_px = station.width_px.filter(|width| station.clear && width.is_finite());
            let edges =
                station.edges_px.filter(|edges| edges.iter().all(|edge| edge.is_finite())).map(|[left, right]| {
                    let reach = TANGENT_REACH_WIDTHS * (left + right).abs();
                    let normal = profile.centreline.tangent(station.s_px, reach.max(1.0)).normal();
                    let middle = profile.centreline.at(station.s_px);
                    [middle - normal * left, middle + normal * right]
                });
            Station {
                at_px: station.s_px,
                width_px,
                width_sd_px: station.width_sd_px.filter(|sd| width_px.is_some() && sd.is_finite()),
                edges: edges.filter(|_| width_px.is_some()),
                glow: station.clear.then(|| station.glow.iter().sum::<f64>() / 3.0).filter(|glow| glow.is_finite()),
            }
        })
        .collect();
    let mut centreline: Vec<Point> = profile.centreline.points().to_vec();
    let mut ends = profile.ends.map(|end| end.code());
    if row.reversed {
        centreline.reverse();
        ends.reverse();
        stations.reverse();
        for station in &mut stations {
            station.at_px = length_px - station.at_px;
            // Left and right change places when the direction does.
            station.edges = station.edges.map(|[left, right]| [right, left]);
        }
    }

    let middle = profile.median_width().map(|median| Middle {
        px: median.px,
        sd_px: median.sd_px,
        common_sd_px: median.common_sd_px,
    });
    let widths: Vec<f64> = stations.iter().filter_map(|station| station.width_px).collect();
    let lights: Vec<Light> = profile
        .stations
        .iter()
        .filter(|station| station.clear)
        .map(|station| Light {
            glow: station.glow,
            ground: station.ground,
            sd: [0, 1, 2].map(|c| station.glow_sd[c].hypot(station.glow_shared_sd * station.glow[c])),
        })
        .collect();
    Shaft {
        id: index + 1,
        centreline,
        length_px,
        width: Width::of(middle, &widths, profiles.scale),
        // A root end does not taper and a tip bears no root: such a sight contradicts the orientation.
        base: if ends[0] == "tapered" { "unknown" } else { ends[0] },
        tip: if ends[1] == "root" { "unknown" } else { ends[1] },
        orientation: row.orientation.code(),
        zone: row.zone.code(),
        fluorescing_share: row.fluorescing_share,
        glow: Glow::of(&lights, profiles.monochrome),
        comparison: row.comparison,
        measures: row.values.iter().map(|value| value.filter(|value| value.is_finite())).collect(),
        look: verdict.look,
        probability: verdict.probability,
        plausible: verdict.plausible.clone(),
        novelty: verdict.novelty,
        nearest: verdict
            .nearest
            .iter()
            .map(|near| Nearest { id: near.id, look: near.look, kind: near.kind.clone(), distance: near.distance })
            .collect(),
        reasons: verdict
            .reasons
            .iter()
            .map(|reason| Reason {
                feature: reason.feature,
                value: reason.value,
                unit: reason.unit,
                reference: reason.reference,
                towards: reason.towards,
                weight: reason.weight,
            })
            .collect(),
        concerns: once_a_kind([&profile.concerns, &row.concerns, &verdict.concerns].into_iter().flatten()),
        stations,
    }
}

/// The concerns in their order, each kind once: later stages repeat what earlier ones said.
fn once_a_kind<'a>(concerns: impl IntoIterator<Item = &'a Concern>) -> Vec<Concern> {
    let mut kept: Vec<Concern> = Vec::new();
    for concern in concerns {
        if kept.iter().all(|known| known.kind != concern.kind) {
            kept.push(concern.clone());
        }
    }
    kept
}
