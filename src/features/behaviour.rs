//! How the features of whole slides behave: drawn profiles with known truth in, rows out.

use super::{Features, Settings, from_profiles};
use crate::concerns::{Concern, ConcernKind};
use crate::features::catalogue::{CATALOGUE, position};
use crate::features::{Orientation, Zone};
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;
use crate::maths::raster::Raster;
use crate::profiles::{Branches, EndSeen, Profile, Profiles, Station};
use crate::units::{Scale, ScaleSource};

const DIM: [f64; 3] = [0.010, 0.020, 0.040];
const FUNGAL: [f64; 3] = [0.020, 0.300, 0.220];
const GROUND: [f64; 3] = [0.04, 0.05, 0.09];
const NOISE: f64 = 0.004;

/// Independent-looking numbers in −1 to 1 that are the same in every run (splitmix64's finaliser).
fn wobble(at: usize, salt: u64) -> f64 {
    let mut z = (at as u64).wrapping_add(salt << 32).wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    (z ^ (z >> 31)) as f64 / u64::MAX as f64 * 2.0 - 1.0
}

/// A shaft with known truth: `shape` gives half-widths of both edges and glow at a share of the length.
struct Drawn {
    n_stations: usize,
    step_px: f64,
    y_px: f64,
    ends: [EndSeen; 2],
    medulla: f64,
    spill: f64,
}

impl Drawn {
    fn at(y_px: f64, ends: [EndSeen; 2]) -> Drawn {
        Drawn { n_stations: 301, step_px: 2.0, y_px, ends, medulla: 0.3, spill: 0.02 }
    }

    fn profile(&self, edges: impl Fn(usize) -> [f64; 2], glow: impl Fn(f64) -> [f64; 3]) -> Profile {
        let length = (self.n_stations - 1) as f64 * self.step_px;
        let stations: Vec<Station> = (0..self.n_stations)
            .map(|i| {
                let edges_px = edges(i);
                let glow = glow(i as f64 / (self.n_stations - 1) as f64);
                let glow = [0, 1, 2].map(|c| glow[c] + NOISE * wobble(i, 7 + c as u64));
                Station {
                    s_px: i as f64 * self.step_px,
                    clear: true,
                    in_sight: true,
                    width_px: Some(edges_px[0] + edges_px[1]),
                    width_sd_px: Some(0.2),
                    width_own_sd_px: Some(0.2),
                    edges_px: Some(edges_px),
                    glow,
                    unclipped_glow: Some(glow),
                    ground: GROUND,
                    glow_sd: [NOISE; 3],
                    glow_shared_sd: 0.0,
                    core_to_rim: Some(1.4 + 0.05 * wobble(i, 21)),
                    spill: Some(self.spill + 0.01 * wobble(i, 22)),
                    medulla: Some(self.medulla + 0.02 * wobble(i, 23)),
                    texture: Some(1.0 + 0.1 * wobble(i, 24)),
                    residual: Some(1.1),
                    clipped: 0.0,
                }
            })
            .collect();
        let strip_step_px = 2.0;
        let n_columns = (length / strip_step_px) as usize + 1;
        let strip = [0, 1, 2].map(|c: usize| {
            Raster::from_fn(n_columns, 21, |x, y| {
                let nearest =
                    &stations[((x as f64 * strip_step_px / self.step_px).round() as usize).min(stations.len() - 1)];
                let from_middle = (y as f64 - 10.0).abs() * strip_step_px;
                let inside = from_middle < 0.5 * nearest.width_px.unwrap_or(0.0);
                let light = if inside { nearest.glow[c] / NOISE } else { 0.0 };
                (light + wobble(x * 21 + y, 30 + c as u64)) as f32
            })
        });
        let centreline = Polyline::new((0..self.n_stations).map(|i| {
            let s = i as f64 * self.step_px;
            Point::new(s, self.y_px + 3.0 * (s / 90.0).sin())
        }));
        Profile {
            centreline: centreline.expect("a drawn shaft has a course"),
            stations,
            strip,
            strip_step_px,
            blur_px: Some(1.5),
            emission: None,
            width_shared_sd: None,
            least: None,
            branches: Some(Branches { ends_on_others: 0, others_end_here: 0, of_photo: Some(0.0) }),
            visible: None,
            ends: self.ends,
            concerns: Vec::new(),
        }
    }

    /// Dim, smooth, tapering by a tenth, with a medulla.
    fn ordinary(&self) -> Profile {
        self.profile(|i| [9.0 - 0.003 * i as f64, 9.0 - 0.003 * i as f64].map(|e| e + 0.05 * wobble(i, 1)), |_| DIM)
    }

    /// Swollen and rough over the part `lit`, glowing there.
    fn infected(&self, lit: impl Fn(f64) -> bool) -> Profile {
        let n = self.n_stations as f64;
        self.profile(
            |i| {
                let radius = if lit(i as f64 / n) { 14.0 } else { 9.0 };
                let rough = if lit(i as f64 / n) { 1.5 } else { 0.05 };
                [radius + rough * wobble(i / 3, 2), radius + rough * wobble(i / 3, 3)]
            },
            |t| if lit(t) { FUNGAL } else { DIM },
        )
    }
}

fn photo(shafts: Vec<Profile>) -> Profiles {
    Profiles {
        width_px: 800,
        height_px: 600,
        scale: Some(Scale { um_per_px: 1.2, sd_um_per_px: None, source: ScaleSource::Given }),
        monochrome: false,
        disc: None,
        blur_px: Some(1.5),
        shafts,
        rejects: Vec::new(),
        concerns: vec![Concern::new(ConcernKind::ScaleUnknown)],
    }
}

const ROOT_TO_TIP: [EndSeen; 2] = [EndSeen::Root, EndSeen::Tapered];

fn slide() -> Profiles {
    let broken = [EndSeen::Root, EndSeen::Broken];
    photo(vec![
        Drawn::at(100.0, ROOT_TO_TIP).ordinary(),
        Drawn::at(200.0, [EndSeen::Outside, EndSeen::Outside]).ordinary(),
        Drawn { medulla: 0.0, spill: 0.05, ..Drawn::at(300.0, broken) }.infected(|t| t < 0.55),
        Drawn { medulla: 0.0, ..Drawn::at(400.0, ROOT_TO_TIP) }.infected(|_| true),
    ])
}

fn measured(profiles: Profiles) -> Features {
    from_profiles(profiles, &Settings::default())
}

#[test]
fn a_slide_of_ordinary_and_infected_shafts_is_measured_as_it_was_drawn() {
    let features = measured(slide());
    let rows = &features.rows;
    assert_eq!(rows.iter().map(|row| row.comparison).collect::<Vec<_>>(), [true, true, false, false]);
    assert_eq!(rows.iter().map(|row| row.zone).collect::<Vec<_>>(), [Zone::None, Zone::None, Zone::Base, Zone::Whole]);
    assert!((rows[2].fluorescing_share - 0.55).abs() < 0.03);
    let near = |row: usize, key: &str, expected: f64, within: f64| {
        let value = rows[row].value(key);
        assert!(value.is_some_and(|value| (value - expected).abs() <= within), "{key} of {row}: {value:?}");
    };
    near(0, "width.level_px", 17.1, 0.1);
    near(0, "width.level_um", 17.1 * 1.2, 0.15);
    near(0, "width.taper", 1.8 / 17.1, 0.01);
    near(0, "width.to_comparison", 1.0, 0.01);
    near(3, "width.to_comparison", 28.0 / 17.1, 0.03);
    near(2, "width.lit_step", 28.0 / 18.0, 0.06);
    let usual = 0.07 * 28.0 / 17.1;
    near(3, "glow.over_comparison", (0.54 - usual) / (0.54 + usual + 2.0 * NOISE * 3f64.sqrt()), 0.02);
    near(3, "glow.contrast", 0.54 / (0.54 + 0.36 + 2.0 * NOISE * 3f64.sqrt()), 0.02);
    near(3, "colour.green_blue", 0.08 / 0.52, 0.02);
    near(3, "colour.green_blue_to_ground", (0.3 * 0.09 - 0.22 * 0.05) / (0.3 * 0.09 + 0.22 * 0.05), 0.02);
    near(2, "colour.lit_to_dim", (0.3 * 0.04 - 0.22 * 0.02) / (0.3 * 0.04 + 0.22 * 0.02), 0.03);
    near(3, "across.medulla_over_comparison", -0.3, 0.01);
    near(2, "ends.broken", 0.5, 0.0);
    near(3, "photo.blur_to_width", 1.5 / 28.0, 0.002);
    near(2, "glow.lit_share", 0.55, 0.03);
    assert!(rows[0].value("structure.roughness").unwrap() < 0.01);
    assert!(rows[3].value("structure.roughness").unwrap() > 0.02);
    assert!(rows[3].value("structure.roughness_to_comparison").unwrap() > 4.0);
    assert_eq!(rows[0].value("no.such"), None);
}

#[test]
fn a_row_has_one_value_a_feature_each_in_its_range() {
    let features = measured(slide());
    for row in &features.rows {
        assert_eq!(row.values.len(), CATALOGUE.len());
        for (entry, value) in CATALOGUE.iter().zip(&row.values) {
            if let Some(value) = value {
                let [least, most] = entry.range;
                assert!(value.is_finite() && *value >= least && *value <= most, "{} = {value}", entry.key);
            }
        }
    }
    // Every feature is there for one of them, but the fit of the cross-section and grains, which were not drawn, and
    // those of a photo in visible light, of which there is none.
    for (i, entry) in CATALOGUE.iter().enumerate() {
        let seen = features.rows.iter().any(|row| row.values[i].is_some());
        let absent = ["across.flatness", "across.core", "structure.grain"].contains(&entry.key);
        let drawn = !absent && !entry.key.starts_with("visible.");
        assert_eq!(seen, drawn, "{}", entry.key);
    }
}

/// Largest difference of any feature between two measurements, as a share of its size; panics where one is absent.
fn compare(a: &Features, b: &Features, except: &[&str], tolerance: f64) {
    for (row_idx, (one, other)) in a.rows.iter().zip(&b.rows).enumerate() {
        for (i, entry) in CATALOGUE.iter().enumerate() {
            if except.contains(&entry.key) {
                continue;
            }
            match (one.values[i], other.values[i]) {
                (None, None) => (),
                (Some(x), Some(y)) => {
                    assert!((x - y).abs() <= tolerance * x.abs().max(1.0), "{} of {row_idx}: {x} and {y}", entry.key);
                }
                (x, y) => panic!("{} of {row_idx}: {x:?} and {y:?}", entry.key),
            }
        }
        assert_eq!((one.zone, one.comparison, one.orientation), (other.zone, other.comparison, other.orientation));
    }
}

#[test]
fn more_light_and_another_white_balance_change_no_ratio() {
    let before = measured(slide());
    let mut brighter = slide();
    for station in brighter.shafts.iter_mut().flat_map(|shaft| &mut shaft.stations) {
        let unclipped = station.unclipped_glow.as_mut().unwrap();
        for light in [&mut station.glow, unclipped, &mut station.ground, &mut station.glow_sd] {
            *light = light.map(|c| 3.0 * c);
        }
    }
    compare(&before, &measured(brighter), &[], 1e-9);
    let mut balanced = slide();
    for station in balanced.shafts.iter_mut().flat_map(|shaft| &mut shaft.stations) {
        let unclipped = station.unclipped_glow.as_mut().unwrap();
        for light in [&mut station.glow, unclipped, &mut station.ground, &mut station.glow_sd] {
            *light = [light[0] * 1.8, light[1], light[2] * 0.6];
        }
    }
    let of_colour =
        ["colour.green_share", "colour.blue_share", "colour.green_blue", "colour.red_green", "colour.variation"];
    compare(&before, &measured(balanced), &of_colour, 1e-9);
}

#[test]
fn a_shaft_traced_from_its_other_end_measures_the_same() {
    let before = measured(slide());
    let mut turned = slide();
    for shaft in &mut turned.shafts {
        let length = shaft.centreline.length();
        let last = shaft.stations.last().map_or(0.0, |station| station.s_px);
        assert!(length >= last);
        shaft.centreline = shaft.centreline.reversed();
        shaft.stations.reverse();
        for station in &mut shaft.stations {
            station.s_px = last - station.s_px;
            station.edges_px = station.edges_px.map(|[left, right]| [right, left]);
        }
        shaft.ends.reverse();
        for channel in &mut shaft.strip {
            let (columns, rows) = (channel.width(), channel.height());
            *channel = Raster::from_fn(columns, rows, |x, y| channel.at(columns - 1 - x, rows - 1 - y));
        }
    }
    let after = measured(turned);
    compare(&before, &after, &[], 1e-6);
    assert!(!before.rows[2].reversed && after.rows[2].reversed);
}

#[test]
fn a_photo_of_twice_the_size_changes_only_what_is_in_pixels() {
    let before = measured(slide());
    let mut larger = slide();
    larger.blur_px = Some(3.0);
    larger.scale = Some(Scale { um_per_px: 0.6, sd_um_per_px: None, source: ScaleSource::Given });
    for shaft in &mut larger.shafts {
        let twice = shaft.centreline.points().iter().map(|p| Point::new(2.0 * p.x, 2.0 * p.y));
        shaft.centreline = Polyline::new(twice).unwrap();
        shaft.blur_px = shaft.blur_px.map(|blur| 2.0 * blur);
        shaft.strip_step_px *= 2.0;
        for station in &mut shaft.stations {
            station.s_px *= 2.0;
            station.width_px = station.width_px.map(|width| 2.0 * width);
            station.width_sd_px = station.width_sd_px.map(|sd| 2.0 * sd);
            station.width_own_sd_px = station.width_own_sd_px.map(|sd| 2.0 * sd);
            station.edges_px = station.edges_px.map(|edges| edges.map(|edge| 2.0 * edge));
        }
    }
    compare(&before, &measured(larger), &["width.level_px"], 1e-6);
}

#[test]
fn without_comparison_shafts_what_is_relative_is_absent_and_a_concern_is_noted() {
    let only_infected = photo(vec![Drawn::at(100.0, ROOT_TO_TIP).infected(|_| true)]);
    let features = measured(only_infected);
    for entry in CATALOGUE.iter().filter(|entry| entry.key.contains("comparison")) {
        assert_eq!(features.rows[0].value(entry.key), None, "{}", entry.key);
    }
    let kinds: Vec<ConcernKind> = features.concerns.iter().map(|concern| concern.kind).collect();
    assert_eq!(kinds, [ConcernKind::ScaleUnknown, ConcernKind::NoComparison]);
    assert_eq!(features.rows[0].zone, Zone::Whole, "greener than the tape");
    assert!(measured(photo(Vec::new())).concerns.iter().all(|concern| concern.kind != ConcernKind::NoComparison));
}

#[test]
fn marks_of_a_person_are_obeyed() {
    let settings = Settings { comparison: Some(vec![1]), base_end: vec![(2, true), (2, false)] };
    let features = from_profiles(slide(), &settings);
    assert_eq!(features.rows.iter().map(|row| row.comparison).collect::<Vec<_>>(), [false, true, false, false]);
    let row = &features.rows[2];
    assert_eq!(
        (row.orientation, row.reversed, row.zone),
        (Orientation::Given, true, Zone::Tip),
        "the last mark counts"
    );
    assert_eq!(features.rows[1].value("width.to_comparison"), None, "it has no other");
    assert!(features.rows[0].value("width.to_comparison").is_some());
    let none = from_profiles(slide(), &Settings { comparison: Some(Vec::new()), base_end: Vec::new() });
    assert!(none.concerns.iter().any(|concern| concern.kind == ConcernKind::NoComparison));
}

#[test]
fn a_monochrome_photo_has_no_colour() {
    let mut grey = slide();
    grey.monochrome = true;
    for station in grey.shafts.iter_mut().flat_map(|shaft| &mut shaft.stations) {
        station.glow = [station.glow[1]; 3];
        station.unclipped_glow = Some(station.glow);
        station.ground = [station.ground[1]; 3];
    }
    let features = measured(grey);
    for entry in CATALOGUE.iter().filter(|entry| entry.key.starts_with("colour.") || entry.key == "structure.texture") {
        assert!(features.rows.iter().all(|row| row.value(entry.key).is_none()), "{}", entry.key);
    }
    assert_eq!(features.rows[2].zone, Zone::Base, "light alone tells it from the comparison shafts");
}

#[test]
fn a_shaft_of_which_nothing_is_clear_is_all_absent_but_its_course() {
    let mut hidden = slide();
    for station in &mut hidden.shafts[0].stations {
        station.clear = false;
        station.in_sight = false;
    }
    hidden.shafts[1].stations.clear();
    for station in &mut hidden.shafts[3].stations {
        station.width_px = Some(f64::NAN);
        station.glow = [f64::INFINITY; 3];
    }
    let features = measured(hidden);
    for row in [0, 1] {
        let seen: Vec<&str> = CATALOGUE
            .iter()
            .zip(&features.rows[row].values)
            .filter(|(_, value)| value.is_some())
            .map(|(entry, _)| entry.key)
            .collect();
        let of_the_course = |key: &&str| {
            ["shape.straightness", "photo.clear_share"].contains(key)
                || ["ends.", "branching."].iter().any(|family| key.starts_with(family))
        };
        assert!(seen.iter().all(of_the_course), "{seen:?}");
        assert_eq!(features.rows[row].zone, Zone::Unknown);
        assert!(features.rows[row].concerns.iter().any(|concern| concern.kind == ConcernKind::FewStations));
    }
    assert!(features.rows[1].concerns.iter().any(|concern| concern.kind == ConcernKind::Partial));
    assert_eq!(features.rows[3].value("width.level_px"), None, "what is not finite is not there");
    assert_eq!(features.rows[3].value("glow.level"), None);
}

#[test]
fn what_cannot_be_resolved_is_absent() {
    let mut blurred = slide();
    for shaft in &mut blurred.shafts {
        shaft.blur_px = Some(20.0);
    }
    let features = measured(blurred);
    assert!(features.rows.iter().all(|row| row.value("structure.roughness").is_none()));
    let mut unscaled = slide();
    unscaled.scale = None;
    let features = measured(unscaled);
    assert!(
        features.rows.iter().all(|row| row.value("width.level_um").is_none() && row.value("structure.grain").is_none())
    );
    assert!(features.rows[2].value("width.to_comparison").is_some(), "ratios need no scale");
    assert_eq!(position("width.level_px"), Some(0));
}
