//! A photo and its finding made by hand, so that exporters can be tested without the stages before them.
//!
//! Everything is invented: the cats of Quillfeather House, their shafts and their looks.

use pilumen::concerns::{Concern, ConcernKind};
use pilumen::features::catalogue::CATALOGUE;
use pilumen::features::{Features, Orientation, Row, Zone};
use pilumen::finding::{Finding, Look, Nearest, Reason, SlideFinding, Verdict};
use pilumen::maths::picture::Picture;
use pilumen::maths::point::{Point, Vec2};
use pilumen::maths::polyline::Polyline;
use pilumen::maths::raster::Raster;
use pilumen::profiles::{EndSeen, Profile, Profiles, Station};
use pilumen::record::{Entry, Measure, Program, Provenance, Width, from_finding};
use pilumen::units::{Scale, ScaleSource};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A photo of `n_shafts` shafts with the looks in turn.
#[derive(Clone, Copy)]
pub(crate) struct Sample {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) n_shafts: usize,
    /// Width of the shafts, pixels.
    pub(crate) shaft_px: f64,
    /// Light of the background, linear, 0 to 1.
    pub(crate) ground: f64,
    pub(crate) um_per_px: Option<f64>,
    /// Unevenness of the background, share of its light.
    pub(crate) grain: f64,
    pub(crate) seed: u64,
}

/// Four shafts of four looks on a small photo: what the golden files show.
pub(crate) const SMALL: Sample = Sample {
    width: 240,
    height: 160,
    n_shafts: 5,
    shaft_px: 12.0,
    ground: 0.02,
    um_per_px: Some(2.5),
    grain: 0.0,
    seed: 7,
};

impl Sample {
    pub(crate) fn finding(&self) -> Finding {
        let mut dice = ChaCha8Rng::seed_from_u64(self.seed);
        let shafts: Vec<Profile> = (0..self.n_shafts).map(|i| self.profile(i, &mut dice)).collect();
        let rows: Vec<Row> = (0..self.n_shafts).map(row).collect();
        let verdicts: Vec<Verdict> = (0..self.n_shafts).map(verdict).collect();
        let mut counts = [0; 4];
        for look in verdicts.iter().filter_map(|verdict| verdict.look) {
            counts[Look::ALL.iter().position(|&known| known == look).unwrap()] += 1;
        }
        let undetermined = verdicts.iter().filter(|verdict| verdict.look.is_none()).count();
        let mut concerns = vec![Concern::new(ConcernKind::NoComparison), Concern::with(ConcernKind::Clipped, 0.031)];
        if self.um_per_px.is_none() {
            concerns.push(Concern::new(ConcernKind::ScaleUnknown));
        }
        let profiles = Profiles {
            width_px: self.width,
            height_px: self.height,
            scale: self.um_per_px.map(|um_per_px| Scale { um_per_px, sd_um_per_px: None, source: ScaleSource::Given }),
            monochrome: false,
            disc: None,
            blur_px: Some(1.437),
            shafts,
            rejects: vec![(Point::new(0.2 * self.width as f64, 0.9 * self.height as f64), 9.5, "bubble")],
            concerns: Vec::new(),
        };
        Finding {
            features: Features { profiles, rows, concerns: Vec::new() },
            verdicts,
            slide: SlideFinding {
                code: if counts[0] > 0 { "some-look-infected" } else { "none-looks-infected" },
                sentence: format!(
                    "{} of {} shafts look infected: thicker and rougher than ordinary shafts, with green light along \
                     the shaft. A made-up finding of a made-up photo.",
                    counts[0], self.n_shafts
                ),
                counts,
                undetermined,
            },
            usable: true,
            advice: "Send hairs from this site for fungal culture; keep the cat apart until the result is known."
                .to_owned(),
            concerns,
        }
    }

    /// The entry, with widths and a small catalogue of its own, so that the golden files do not move with the stages.
    pub(crate) fn entry(&self) -> Entry {
        let mut entry = from_finding(&self.finding(), provenance());
        entry.catalogue = vec![
            Measure { key: "width.level_um", unit: "um" },
            Measure { key: "glow.level", unit: "noise units" },
            Measure { key: "structure.roughness", unit: "1" },
        ];
        for shaft in &mut entry.shafts {
            let i = shaft.id as f64;
            // How the profiles weigh their stations is theirs to change, and not what the exporters are held to.
            let median_px = self.shaft_px * (1.0 + 0.01 * i);
            shaft.width = Width {
                median_px: Some(median_px),
                sd_px: Some(0.01 * self.shaft_px),
                spread_px: Some(0.035 * self.shaft_px),
                median_um: self.um_per_px.map(|um| um * median_px),
                sd_um: self.um_per_px.map(|um| um * 0.01 * self.shaft_px),
                ..shaft.width
            };
            shaft.measures = vec![Some(28.123_456 + i), (shaft.id % 2 == 1).then_some(40.0 * i), Some(0.01 * i)];
        }
        entry
    }

    /// The photo as people see it: hazy tape with bright bands where the shafts are.
    pub(crate) fn picture(&self, shrink: usize) -> Picture {
        let finding = self.finding();
        let (width, height) = (self.width.div_ceil(shrink), self.height.div_ceil(shrink));
        let mut dice = ChaCha8Rng::seed_from_u64(self.seed + 1);
        let haze: Vec<f64> =
            (0..width * height).map(|_| self.ground * (1.0 + self.grain * dice.gen_range(-1.0..1.0))).collect();
        let mut light: Vec<[f64; 3]> = haze.iter().map(|&g| [0.5 * g, 0.7 * g, 1.6 * g]).collect();
        for profile in &finding.features.profiles.shafts {
            for step in 0..(profile.centreline.length() * 2.0 / shrink as f64) as usize {
                let s = step as f64 * shrink as f64 / 2.0;
                let (middle, normal) = (profile.centreline.at(s), profile.centreline.tangent(s, 3.0).normal());
                let half = self.shaft_px / 2.0;
                for across in -40..=40 {
                    let t = f64::from(across) / 40.0;
                    let at = middle + normal * (t * half);
                    let (x, y) = ((at.x / shrink as f64).round(), (at.y / shrink as f64).round());
                    if x >= 0.0 && y >= 0.0 && (x as usize) < width && (y as usize) < height {
                        // Flat without grain: a golden picture should be small.
                        let shine = if self.grain > 0.0 { (1.0 - t * t).sqrt() } else { 1.0 };
                        let pixel = &mut light[y as usize * width + x as usize];
                        let glow = profile.stations[0].glow;
                        for c in 0..3 {
                            pixel[c] = pixel[c].max(glow[c] * shine + self.ground);
                        }
                    }
                }
            }
        }
        let byte = |l: f64| (255.0 * l.clamp(0.0, 1.0).powf(1.0 / 2.2)).round() as u8;
        Picture {
            width,
            height,
            rgb: light.iter().flat_map(|pixel| pixel.map(byte)).collect(),
            shrink: [shrink as f64; 2],
            gain: if self.ground < 0.001 { 8.0 } else { 1.0 },
        }
    }

    fn profile(&self, i: usize, dice: &mut ChaCha8Rng) -> Profile {
        let (w, h) = (self.width as f64, self.height as f64);
        let from = Point::new(dice.gen_range(0.06..0.3) * w, dice.gen_range(0.06..0.94) * h);
        let angle = if i == 0 { 0.25 } else { dice.gen_range(-1.2..1.2) };
        let (length, bend) = (dice.gen_range(0.3..0.75) * w, dice.gen_range(-1.0..1.0));
        let mut points = vec![from];
        for step in 1..=60 {
            let direction = Vec2::from_angle(angle + bend * f64::from(step) / 60.0);
            let next = *points.last().unwrap() + direction * (length / 60.0);
            if next.x < 0.0 || next.y < 0.0 || next.x > w - 1.0 || next.y > h - 1.0 {
                break;
            }
            points.push(next);
        }
        if points.len() < 2 {
            points.push(from + Vec2::new(0.1 * w, 0.0));
        }
        let centreline = Polyline::new(points).unwrap();
        let n_stations = (centreline.length() / (0.25 * self.shaft_px).max(1.0)).max(4.0) as usize;
        let look = look_of(i);
        let glow = match look {
            Some(Look::Infected) => [0.08, 0.40, 0.26],
            Some(Look::Normal) => [0.05, 0.10, 0.20],
            Some(Look::Coated) => [0.32, 0.30, 0.16],
            Some(Look::Fibre) => [0.10, 0.22, 0.75],
            None => [0.06, 0.14, 0.13],
        };
        let stations = (0..n_stations)
            .map(|k| {
                let s_px = centreline.length() * (k as f64 + 0.5) / n_stations as f64;
                let wide = self.shaft_px * (1.0 + 0.05 * dice.gen_range(-1.0..1.0));
                let clear = i % 4 != 1 || !(n_stations / 3..n_stations / 2).contains(&k);
                Station {
                    s_px,
                    clear,
                    in_sight: clear,
                    width_px: clear.then_some(wide),
                    width_sd_px: clear.then_some(0.03 * self.shaft_px),
                    width_own_sd_px: clear.then_some(0.03 * self.shaft_px),
                    edges_px: clear.then_some([wide / 2.0, wide / 2.0]),
                    glow,
                    unclipped_glow: Some(glow),
                    ground: [self.ground; 3],
                    glow_sd: [0.004; 3],
                    glow_shared_sd: 0.0,
                    core_to_rim: Some(1.2),
                    spill: Some(0.1),
                    medulla: Some(0.0),
                    residual: Some(1.1),
                    texture: Some(1.0),
                    clipped: 0.0,
                }
            })
            .collect();
        Profile {
            centreline,
            stations,
            strip: [0, 1, 2].map(|_| Raster::filled(2, 3, 0.0)),
            strip_step_px: 1.0,
            blur_px: Some(1.4),
            emission: None,
            width_shared_sd: Some(0.004),
            least: None,
            branches: None,
            visible: None,
            ends: if i.is_multiple_of(2) {
                [EndSeen::Root, EndSeen::Tapered]
            } else {
                [EndSeen::Broken, EndSeen::Outside]
            },
            concerns: if i % 4 == 1 { vec![Concern::new(ConcernKind::Partial)] } else { Vec::new() },
        }
    }
}

fn look_of(i: usize) -> Option<Look> {
    [Some(Look::Infected), Some(Look::Normal), Some(Look::Coated), Some(Look::Fibre), None][i % 5]
}

fn row(i: usize) -> Row {
    Row {
        values: CATALOGUE.iter().enumerate().map(|(at, _)| (at % 3 != 2).then_some(at as f64 / 8.0)).collect(),
        zone: [Zone::Whole, Zone::None, Zone::Patchy, Zone::Unknown, Zone::Base][i % 5],
        fluorescing_share: [0.96, 0.0, 0.41, 1.0, 0.3][i % 5],
        orientation: if i % 3 == 2 { Orientation::Unknown } else { Orientation::Measured },
        reversed: i % 5 == 4,
        comparison: i % 5 == 1,
        concerns: Vec::new(),
    }
}

fn verdict(i: usize) -> Verdict {
    let look = look_of(i);
    let probability = Look::ALL.map(|known| look.map_or(0.25, |look| if look == known { 0.94 } else { 0.02 }));
    Verdict {
        look,
        probability,
        plausible: look.map_or(vec![Look::Infected, Look::Coated], |look| vec![look]),
        novelty: 0.4312,
        nearest: vec![Nearest { id: 7, look: Look::Normal, kind: "plain".to_owned(), distance: 0.4312 }],
        reasons: vec![Reason {
            feature: "glow.level",
            value: 41.237,
            unit: "noise units",
            reference: Some(6.2),
            towards: Look::Infected,
            weight: 0.31,
        }],
        concerns: if look.is_none() { vec![Concern::new(ConcernKind::FewStations)] } else { Vec::new() },
    }
}

fn provenance() -> Provenance {
    Provenance {
        file: "bracken-left-pinna.jpg".to_owned(),
        sha256: "ab".repeat(32),
        setup: None,
        format: "jpeg",
        captured_at: Some("2026-03-01T18:22:05".to_owned()),
        camera: None,
        visible: None,
        program: Program {
            version: "0.1.0".to_owned(),
            model_sha256: "0123456789abcdef".repeat(4),
            settings: vec![("um_per_px", 2.5)],
        },
    }
}
