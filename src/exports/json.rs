//! The evaluation object: one line of JSON a photo, documented by `docs/evaluation.schema.json`.
//!
//! Names are fixed; additions are allowed within a version of [`SCHEMA`].

use std::collections::BTreeMap;

use serde::Serialize;

use super::from_record::{Entry, Glow, Look, Nearest, Reason, Shaft, VisiblePhoto, Width};
use super::language::Language;
use super::reasons::reasons_told;
use super::rounded::{measurement, place, probabilities};
use crate::concerns::Concern;
use crate::maths::point::Point;

/// Name and version of the object's form.
pub(super) const SCHEMA: &str = "pilumen/evaluation/1";

/// Family of the catalogue whose values make up `structure`.
const STRUCTURE: &str = "structure.";

/// The entry as one line of JSON, without a line end.
pub(super) fn evaluation(entry: &Entry) -> String {
    // Nothing in the object can fail to serialise: no map has keys other than text.
    serde_json::to_string(&Evaluation::of(entry)).unwrap_or_default()
}

#[derive(Serialize)]
struct Evaluation<'a> {
    schema: &'static str,
    photo: PhotoObject<'a>,
    quality: QualityObject,
    shafts: Vec<ShaftObject>,
    rejects: Vec<RejectObject>,
    finding: FindingObject<'a>,
    advice: &'a str,
    program: ProgramObject<'a>,
}

#[derive(Serialize)]
struct PhotoObject<'a> {
    file: &'a str,
    sha256: &'a str,
    width_px: usize,
    height_px: usize,
    um_per_px: Option<f64>,
    um_per_px_sd: Option<f64>,
    scale_from: Option<&'static str>,
    setup: Option<&'a str>,
    format: &'static str,
    captured_at: Option<&'a str>,
    camera: Option<&'a str>,
    visible: Option<VisibleObject<'a>>,
}

#[derive(Serialize)]
struct VisibleObject<'a> {
    file: &'a str,
    sha256: &'a str,
    shift_px: [Option<f64>; 2],
    turn_deg: Option<f64>,
    factor: Option<f64>,
    residual_px: Option<f64>,
    shafts: usize,
    stations: usize,
    agreement: Option<f64>,
    peak_quality: Option<f64>,
}

#[derive(Serialize)]
struct QualityObject {
    usable: bool,
    blur_px: Option<f64>,
    monochrome: bool,
    concerns: Vec<ConcernObject>,
}

#[derive(Serialize)]
struct ConcernObject {
    code: &'static str,
    message: String,
    advice: &'static str,
    value: Option<f64>,
}

#[derive(Serialize)]
struct ShaftObject {
    id: usize,
    centreline_px: Vec<[Option<f64>; 2]>,
    length_px: Option<f64>,
    length_um: Option<f64>,
    station_at_px: Vec<Option<f64>>,
    width: WidthObject,
    ends: EndsObject,
    glow: GlowObject,
    structure: BTreeMap<&'static str, Option<f64>>,
    features: BTreeMap<&'static str, FeatureObject>,
    comparison: bool,
    class: &'static str,
    probability: ByLook<f64>,
    plausible: Vec<&'static str>,
    novelty: Option<f64>,
    nearest: Vec<NearestObject>,
    reasons: Vec<ReasonObject>,
    concerns: Vec<ConcernObject>,
}

#[derive(Serialize)]
struct WidthObject {
    median_px: Option<f64>,
    median_um: Option<f64>,
    sd_px: Option<f64>,
    sd_um: Option<f64>,
    at_most_px: Option<f64>,
    at_most_um: Option<f64>,
    spread_px: Option<f64>,
    cv: Option<f64>,
    stations: usize,
    profile_px: Vec<Option<f64>>,
    profile_sd_px: Vec<Option<f64>>,
}

#[derive(Serialize)]
struct EndsObject {
    base: &'static str,
    tip: &'static str,
    orientation: &'static str,
}

#[derive(Serialize)]
struct GlowObject {
    zone: &'static str,
    fraction: Option<f64>,
    contrast: Option<f64>,
    linear: Option<[Option<f64>; 3]>,
    colour: Option<ColourObject>,
    profile: Vec<Option<f64>>,
}

#[derive(Serialize)]
struct ColourObject {
    red: Option<f64>,
    green: Option<f64>,
    blue: Option<f64>,
    green_to_blue: Option<f64>,
}

#[derive(Serialize)]
struct FeatureObject {
    value: Option<f64>,
    unit: &'static str,
}

#[derive(Serialize)]
struct NearestObject {
    id: usize,
    look: &'static str,
    kind: String,
    distance: Option<f64>,
}

#[derive(Serialize)]
struct ReasonObject {
    feature: &'static str,
    value: Option<f64>,
    unit: &'static str,
    reference: Option<f64>,
    towards: &'static str,
    weight: Option<f64>,
    words: ReasonWords,
}

#[derive(Serialize)]
struct ReasonWords {
    en: String,
    es: String,
}

#[derive(Serialize)]
struct ByLook<T> {
    infected: T,
    normal: T,
    coated: T,
    fibre: T,
}

#[derive(Serialize)]
struct Counts {
    #[serde(flatten)]
    looks: ByLook<usize>,
    undetermined: usize,
}

#[derive(Serialize)]
struct RejectObject {
    at_px: [Option<f64>; 2],
    extent_px: Option<f64>,
    reason: &'static str,
}

#[derive(Serialize)]
struct FindingObject<'a> {
    code: &'static str,
    sentence: &'a str,
    counts: Counts,
}

#[derive(Serialize)]
struct ProgramObject<'a> {
    name: &'static str,
    version: &'a str,
    model_sha256: &'a str,
    settings: BTreeMap<&'static str, f64>,
}

impl<'a> Evaluation<'a> {
    fn of(entry: &'a Entry) -> Evaluation<'a> {
        let (photo, scale) = (&entry.photo, entry.photo.scale);
        Evaluation {
            schema: SCHEMA,
            photo: PhotoObject {
                file: &photo.file,
                sha256: &photo.sha256,
                width_px: photo.width_px,
                height_px: photo.height_px,
                // Not rounded: this is what the user or the file gave.
                um_per_px: scale.map(|scale| scale.um_per_px).filter(|um| um.is_finite()),
                um_per_px_sd: scale.and_then(|scale| scale.sd_um_per_px).filter(|sd| sd.is_finite()),
                scale_from: scale.map(|scale| scale.source.code()),
                setup: photo.setup.as_deref(),
                format: photo.format,
                captured_at: photo.captured_at.as_deref(),
                camera: photo.camera.as_deref(),
                visible: photo.visible.as_ref().map(VisibleObject::of),
            },
            quality: QualityObject {
                usable: entry.usable,
                blur_px: entry.blur_px.and_then(measurement),
                monochrome: entry.monochrome,
                concerns: entry.concerns.iter().map(ConcernObject::of).collect(),
            },
            shafts: entry.shafts.iter().map(|shaft| ShaftObject::of(shaft, entry)).collect(),
            rejects: entry
                .rejects
                .iter()
                .map(|reject| RejectObject {
                    at_px: pair(reject.at),
                    extent_px: measurement(reject.extent_px),
                    reason: reject.reason,
                })
                .collect(),
            finding: FindingObject {
                code: entry.slide.code,
                sentence: &entry.slide.sentence,
                counts: Counts { looks: ByLook::of(entry.slide.counts), undetermined: entry.slide.undetermined },
            },
            advice: &entry.advice,
            program: ProgramObject {
                name: "pilumen",
                version: &entry.program.version,
                model_sha256: &entry.program.model_sha256,
                settings: entry.program.settings.iter().copied().collect(),
            },
        }
    }
}

impl VisibleObject<'_> {
    fn of(photo: &VisiblePhoto) -> VisibleObject<'_> {
        VisibleObject {
            file: &photo.file,
            sha256: &photo.sha256,
            shift_px: photo.shift_px.map(measurement),
            turn_deg: measurement(photo.turn_deg),
            factor: measurement(photo.factor),
            residual_px: photo.residual_px.and_then(measurement),
            shafts: photo.n_shafts,
            stations: photo.n_stations,
            agreement: measurement(photo.agreement),
            peak_quality: measurement(photo.peak_quality),
        }
    }
}

impl ShaftObject {
    fn of(shaft: &Shaft, entry: &Entry) -> ShaftObject {
        let measures = || entry.catalogue.iter().zip(shaft.measures.iter().map(|value| value.and_then(measurement)));
        ShaftObject {
            id: shaft.id,
            centreline_px: shaft.centreline.iter().map(|&point| pair(point)).collect(),
            length_px: measurement(shaft.length_px),
            length_um: entry.photo.scale.and_then(|scale| measurement(scale.um_from_px(shaft.length_px))),
            station_at_px: shaft.stations.iter().map(|station| place(station.at_px)).collect(),
            width: WidthObject::of(&shaft.width, shaft),
            ends: EndsObject { base: shaft.base, tip: shaft.tip, orientation: shaft.orientation },
            glow: GlowObject::of(&shaft.glow, shaft),
            structure: measures()
                .filter_map(|(measure, value)| Some((measure.key.strip_prefix(STRUCTURE)?, value)))
                .collect(),
            features: measures()
                .map(|(measure, value)| (measure.key, FeatureObject { value, unit: measure.unit }))
                .collect(),
            comparison: shaft.comparison,
            class: shaft.class(),
            probability: ByLook::of(probabilities(shaft.probability)),
            plausible: shaft.plausible.iter().map(|look| look.code()).collect(),
            novelty: measurement(shaft.novelty),
            nearest: shaft.nearest.iter().map(NearestObject::of).collect(),
            reasons: reasons(shaft),
            concerns: shaft.concerns.iter().map(ConcernObject::of).collect(),
        }
    }
}

impl WidthObject {
    fn of(width: &Width, shaft: &Shaft) -> WidthObject {
        let rounded = |value: Option<f64>| value.and_then(measurement);
        let [at_most_px, at_most_um] = if shaft.is_too_thin() { width.at_most() } else { [None; 2] };
        WidthObject {
            at_most_px: rounded(at_most_px),
            at_most_um: rounded(at_most_um),
            median_px: rounded(width.median_px),
            median_um: rounded(width.median_um),
            sd_px: rounded(width.sd_px),
            sd_um: rounded(width.sd_um),
            spread_px: rounded(width.spread_px),
            cv: rounded(width.cv()),
            stations: width.n_measured,
            profile_px: shaft.stations.iter().map(|station| rounded(station.width_px)).collect(),
            profile_sd_px: shaft.stations.iter().map(|station| rounded(station.width_sd_px)).collect(),
        }
    }
}

impl GlowObject {
    fn of(glow: &Glow, shaft: &Shaft) -> GlowObject {
        GlowObject {
            zone: shaft.zone,
            fraction: measurement(shaft.fluorescing_share),
            contrast: glow.contrast.and_then(measurement),
            linear: glow.linear.map(|channels| channels.map(measurement)),
            colour: glow.colour.map(|colour| {
                let [red, green, blue] = colour.shares.map(measurement);
                ColourObject { red, green, blue, green_to_blue: colour.green_to_blue.and_then(measurement) }
            }),
            profile: shaft.stations.iter().map(|station| station.glow.and_then(measurement)).collect(),
        }
    }
}

/// The reasons of a shaft, with their sentences.
fn reasons(shaft: &Shaft) -> Vec<ReasonObject> {
    let told = reasons_told(shaft, Language::English).into_iter().zip(reasons_told(shaft, Language::Spanish));
    shaft.reasons.iter().zip(told).map(|(reason, (en, es))| ReasonObject::of(reason, ReasonWords { en, es })).collect()
}

impl ReasonObject {
    fn of(reason: &Reason, words: ReasonWords) -> ReasonObject {
        ReasonObject {
            feature: reason.feature,
            value: measurement(reason.value),
            unit: reason.unit,
            reference: reason.reference.and_then(measurement),
            towards: reason.towards.code(),
            weight: measurement(reason.weight),
            words,
        }
    }
}

impl NearestObject {
    fn of(near: &Nearest) -> NearestObject {
        let (look, kind) = (near.look.code(), near.kind.clone());
        NearestObject { id: near.id, look, kind, distance: measurement(near.distance) }
    }
}

impl ConcernObject {
    fn of(concern: &Concern) -> ConcernObject {
        ConcernObject {
            code: concern.code(),
            message: concern.message(),
            advice: concern.advice(),
            value: concern.value.and_then(measurement),
        }
    }
}

impl<T: Copy> ByLook<T> {
    /// By name rather than by place, so that the order of the looks may change without a fault here.
    fn of(values: [T; 4]) -> ByLook<T> {
        let value = |look: Look| values[Look::ALL.iter().position(|&known| known == look).unwrap_or(0)];
        ByLook {
            infected: value(Look::Infected),
            normal: value(Look::Normal),
            coated: value(Look::Coated),
            fibre: value(Look::Fibre),
        }
    }
}

fn pair(point: Point) -> [Option<f64>; 2] {
    [place(point.x), place(point.y)]
}
