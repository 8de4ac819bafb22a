//! What is exactly true of a scene, for measuring tools to be held against.
//!
//! The outline that counts: the outer optical boundary of the shaft as drawn. For an infected hair that is the hair
//! with its sheath of spores; for a coated hair the hair with its film, however thin, where the film goes on unbroken
//! (all along, or from one end on): patches, puddles and air trapped beside the hair do not count. Scale teeth and spore
//! grains are averaged out.

use serde_json::{Value, json};

use crate::maths::point::Point;
use crate::maths::robust::median;

use super::family::FAMILIES;
use super::place::shown_runs;
use super::scene::{Look, Scene, Shaft};
use super::visibility::contrast_to_noise;

/// Spacing of the centreline and of the profiles in truth files, pixels.
pub const TRUTH_STEP_PX: f64 = 1.0;
/// A station glows when it has at least this share of the full added glow.
const GLOWS_FROM: f32 = 0.5;

/// The rule of the outline in words, for readers of truth files.
const WIDTH_RULE: &str = "outer optical boundary: hair with its spore sheath; with its film where the film is unbroken; \
                          patches, puddles and trapped air left out; scale teeth and grains averaged";

/// What is true of one shaft, as far as it is in view.
#[derive(Clone, Debug, PartialEq)]
pub struct ShaftTruth {
    /// Number from 1 on, in the order of the scene.
    pub id: usize,
    /// What it is.
    pub look: Look,
    /// Middle of the counted outline, root end first, one point a [`TRUTH_STEP_PX`].
    pub centreline_px: Vec<Point>,
    /// Width of the counted outline at each point, pixels.
    pub width_px: Vec<f64>,
    /// Median of `width_px`.
    pub median_width_px: f64,
    /// Length in view, pixels.
    pub length_px: f64,
    /// Share of the length in view that has at least half of the full added glow.
    pub fluorescing_share: f64,
    /// Whether the root end and the tip end are in view.
    pub ends_in_view: [bool; 2],
    /// Sigma of the blur at the middle of the part in view, pixels.
    pub blur_px: f64,
}

/// Where two shafts cross.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// Numbers of the two shafts.
    pub between: (usize, usize),
    /// The place.
    pub at: Point,
    /// Angle between them, radians, 0 to π/2.
    pub angle: f64,
}

/// What is true of each shaft of a scene that is in view.
pub fn shaft_truths(scene: &Scene) -> Vec<ShaftTruth> {
    scene.shafts.iter().enumerate().filter_map(|(i, shaft)| shaft_truth(scene, i + 1, shaft)).collect()
}

fn shaft_truth(scene: &Scene, id: usize, shaft: &Shaft) -> Option<ShaftTruth> {
    let runs = shown_runs(scene, &shaft.course, shaft.from_px, shaft.to_px);
    let (from, to) = runs.into_iter().max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)))?;
    let n = ((to - from) / TRUTH_STEP_PX).round().max(1.0) as usize;
    let stations: Vec<f64> = (0..=n).map(|i| from + (to - from) * i as f64 / n as f64).collect();
    let width_px: Vec<f64> = stations.iter().map(|s| shaft.make_at(*s).counted_width_px()).collect();
    let n_glowing = stations.iter().filter(|s| shaft.make_at(**s).glow >= GLOWS_FROM).count();
    Some(ShaftTruth {
        id,
        look: shaft.look,
        centreline_px: stations.iter().map(|s| shaft.middle_at(*s)).collect(),
        median_width_px: median(&width_px).unwrap_or(0.0),
        width_px,
        length_px: to - from,
        fluorescing_share: n_glowing as f64 / stations.len() as f64,
        ends_in_view: [from <= shaft.from_px + 1e-6, to >= shaft.to_px - 1e-6],
        blur_px: shaft.blur_at(0.5 * (from + to)),
    })
}

/// All places where two shafts' centrelines cross in view.
pub fn crossings(truths: &[ShaftTruth]) -> Vec<Crossing> {
    let mut found = Vec::new();
    for (i, a) in truths.iter().enumerate() {
        for b in &truths[i + 1..] {
            for p in a.centreline_px.windows(2) {
                let mut j = 0;
                while j + 1 < b.centreline_px.len() {
                    let q = &b.centreline_px[j..j + 2];
                    // Points lie about a step apart (less than one and a half on the outside of a bend), so a far one
                    // tells how many after it cannot be near.
                    let away = p[0].distance(q[0]) / TRUTH_STEP_PX;
                    j += ((away - 3.0) / 1.5).max(1.0) as usize;
                    if away > 4.0 {
                        continue;
                    }
                    let (along, other, between) = (p[1] - p[0], q[1] - q[0], q[0] - p[0]);
                    let area = along.cross(other);
                    if area == 0.0 {
                        continue;
                    }
                    let (t, u) = (between.cross(other) / area, between.cross(along) / area);
                    if (0.0..1.0).contains(&t) && (0.0..1.0).contains(&u) {
                        let sine = (area / (along.dot(along) * other.dot(other)).sqrt()).abs().min(1.0);
                        found.push(Crossing { between: (a.id, b.id), at: p[0] + along * t, angle: libm::asin(sine) });
                    }
                }
            }
        }
    }
    found
}

/// Everything true of the scene as JSON.
pub fn truth_json(scene: &Scene) -> Value {
    let truths = shaft_truths(scene);
    let crossings = crossings(&truths);
    let shafts: Vec<Value> =
        truths.iter().map(|truth| shaft_json(scene, &scene.shafts[truth.id - 1], truth, &crossings)).collect();
    let camera = &scene.camera;
    json!({
        "schema": "pilumen/truth/1",
        "simulated": true,
        "seed": scene.seed,
        "set": scene.set,
        "photo": {
            "width_px": scene.width_px,
            "height_px": scene.height_px,
            "um_per_px": scene.um_per_px,
            "comparison_slide": scene.comparison_slide,
            "coat": scene.coat.code(),
            "lens_blur_px": scene.optics.lens_blur_px,
            "disc": scene.optics.disc.map(|d| json!({
                "centre_px": [d.centre.x, d.centre.y], "radius_px": d.radius_px, "softness_px": d.softness_px})),
            "scale_bar": scene.scale_bar.map(|b| json!({
                "from_px": [b.from.x, b.from.y], "length_px": b.length_px, "thick_px": b.thick_px})),
            "haze": scene.light.haze,
            "camera": {
                "family": FAMILIES[camera.family].name,
                "exposure": camera.exposure,
                "full_electrons": camera.full_electrons,
                "white_balance": camera.white_balance,
                "hue_turn_deg": camera.hue_turn.to_degrees(),
                "saturation": camera.saturation,
                "tone": format!("{:?}", camera.tone),
                "mosaic": format!("{:?}", camera.mosaic),
                "denoise_px": camera.denoise_px,
                "sharpen_amount": camera.sharpen.1,
                "jpeg_quality": camera.jpeg_quality,
            },
        },
        "width_rule": WIDTH_RULE,
        "shafts": shafts,
        "crossings": crossings.iter().map(|c| json!({
            "between": [c.between.0, c.between.1], "at_px": [c.at.x, c.at.y], "angle_deg": c.angle.to_degrees()
        })).collect::<Vec<Value>>(),
        "debris": scene.debris.iter().map(|d| json!({
            "kind": d.kind.code(), "at_px": [d.at.x, d.at.y], "half_extent_px": [d.long_px, d.short_px], "angle": d.angle
        })).collect::<Vec<Value>>(),
        "strays": scene.strays.iter().map(|s| s.kind.code()).collect::<Vec<&str>>(),
    })
}

fn shaft_json(scene: &Scene, shaft: &Shaft, truth: &ShaftTruth, crossings: &[Crossing]) -> Value {
    let end = |seen: bool, code: &'static str| if seen { code } else { "outside" };
    let n_crossings = crossings.iter().filter(|c| c.between.0 == truth.id || c.between.1 == truth.id).count();
    json!({
        "id": truth.id,
        "look": shaft.look.code(),
        "kind": shaft.kind,
        "build": shaft.build.code(),
        "comparison": shaft.comparison,
        "centreline_px": truth.centreline_px.iter().map(|p| [rounded(p.x), rounded(p.y)]).collect::<Vec<[f64; 2]>>(),
        "length_px": truth.length_px,
        "width": {
            "median_px": truth.median_width_px,
            "median_um": truth.median_width_px * scene.um_per_px,
            "profile_px": truth.width_px.iter().map(|w| rounded(*w)).collect::<Vec<f64>>(),
        },
        "glow": {
            "zone": shaft.zone.code(),
            "fraction": truth.fluorescing_share,
            "extra_peak_nm": shaft.extra_spectrum.peak_nm(),
            "own_peak_nm": shaft.own_spectrum.peak_nm(),
        },
        "ends": {
            "base": end(truth.ends_in_view[0], shaft.base_end.code()),
            "tip": end(truth.ends_in_view[1], shaft.tip_end.code()),
        },
        "blur_px": {"base": shaft.blur_px[0], "tip": shaft.blur_px[1], "middle": truth.blur_px},
        "crossings": n_crossings,
        "contrast_to_noise": contrast_to_noise(scene, shaft),
        "trapped_air": shaft.makes.iter().any(|m| m.air_px[0] > 0.0 || m.air_px[1] > 0.0),
    })
}

/// To a thousandth of a pixel: files stay small, and no tool is appraised finer.
fn rounded(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

#[cfg(test)]
mod tests {
    use super::{shaft_truths, truth_json};
    use crate::sim::cross_section::{Grain, sight};
    use crate::sim::{Look, Ranges, Scene, Zone};

    /// Distance between the outermost lines of sight that meet the shaft as drawn, roughness included.
    fn drawn_width_px(scene: &Scene, shaft: &crate::sim::Shaft, s_px: f64) -> f64 {
        let make = crate::sim::Make { air_px: [0.0; 2], ..*shaft.make_at(s_px) };
        let reach = shaft.reach_px() + 1.0;
        let step = reach / 800.0;
        let n = (2.0 * reach / step) as usize;
        let met = (0..n).filter(|i| {
            let x = -reach + step * (*i as f64 + 0.5);
            sight(&make, Grain::EVEN, x as f32, scene.um_per_px as f32).lost > 0.0
        });
        met.count() as f64 * step
    }

    #[test]
    fn true_widths_are_those_drawn() {
        let mut n = [0usize; 4];
        for seed in 0..60 {
            let scene = Scene::draw(seed, &Ranges::training());
            for truth in shaft_truths(&scene) {
                let shaft = &scene.shafts[truth.id - 1];
                // Patches lie outside the outline by rule, see the file's opening.
                if shaft.zone == Zone::Patchy && shaft.look == Look::Coated {
                    continue;
                }
                let (from, to) = (shaft.from_px + 0.2 * truth.length_px, shaft.to_px - 0.2 * truth.length_px);
                let places: Vec<f64> = (0..60).map(|i| from + (to - from) * i as f64 / 59.0).collect();
                let drawn: f64 = places.iter().map(|s| drawn_width_px(&scene, shaft, *s)).sum();
                let told: f64 = places.iter().map(|s| shaft.make_at(*s).counted_width_px()).sum();
                let ratio = drawn / told;
                assert!((ratio - 1.0).abs() < 0.02, "seed {seed}, shaft {}, {}: {ratio}", truth.id, shaft.kind);
                n[shaft.look as usize] += 1;
            }
        }
        assert!(n.iter().all(|n| *n >= 5), "too few shafts of a look were compared: {n:?}");
    }

    #[test]
    fn json_holds_what_the_structs_say() {
        let scene = Scene::draw(3, &Ranges::training());
        let json = truth_json(&scene);
        let truths = shaft_truths(&scene);
        let shafts = json["shafts"].as_array().unwrap();
        assert_eq!(shafts.len(), truths.len());
        for (written, truth) in shafts.iter().zip(&truths) {
            let median = written["width"]["median_px"].as_f64().unwrap();
            assert_eq!(median, truth.median_width_px);
            let profile = written["width"]["profile_px"].as_array().unwrap();
            assert_eq!(profile.len(), written["centreline_px"].as_array().unwrap().len());
            let mut sorted: Vec<f64> = profile.iter().map(|w| w.as_f64().unwrap()).collect();
            sorted.sort_by(f64::total_cmp);
            assert!((sorted[sorted.len() / 2] - median).abs() < 0.05, "median {median} of its own profile");
        }
        assert_eq!(json["photo"]["um_per_px"].as_f64().unwrap(), scene.um_per_px);
    }
}
