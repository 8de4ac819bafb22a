//! Long and thin things that are neither hair nor fibre: what lies on them teaches the program what it must not judge.
//!
//! Threads of moulds, roots and vessels, barbs of a feather, walls of plant cells, star-shaped plant hairs, yarn,
//! writing, print and cracks. They are drawn from simple rules of growth, not from life; they need only be unlike
//! shafts in the ways in which the world is: they branch, meet, turn sharply, repeat. To show a classifier things that
//! it must not know, so that it knows them from others too, is outlier exposure (Hendrycks, Mazeika and Dietterich,
//! "Deep Anomaly Detection with Outlier Exposure", ICLR 2019).

use crate::maths::point::Point;

use super::dice::Dice;
use super::scene::Scene;
use super::spectra::{self, Spectrum};
use super::stray_shapes::strokes;

/// A long and thin thing that is no shaft.
#[derive(Clone, Debug)]
pub struct Stray {
    /// What it is.
    pub kind: StrayKind,
    /// The lines it is made of; where two lie on each other the brighter one is seen.
    pub strokes: Vec<Stroke>,
    /// How light is spread across a line.
    pub section: Section,
    /// Brightness, same units as shafts.
    pub strength: f64,
    /// Share of the light from below that is lost in it.
    pub lost: f64,
    /// Its glow.
    pub spectrum: Spectrum,
    /// Sigma of its blur, pixels.
    pub blur_px: f64,
    /// Contrast of blotches in its light, 0 to 1.
    pub blotches: f32,
    /// Seed of those.
    pub texture: u32,
}

/// One line of a stray thing.
#[derive(Clone, Debug)]
pub struct Stroke {
    /// Its course.
    pub points: Vec<Point>,
    /// Half its width at each point, pixels.
    pub half_px: Vec<f64>,
}

/// Kinds of stray things.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StrayKind {
    /// Branching threads of a mould.
    Threads,
    /// A tree of roots or vessels, thinner with every fork.
    Tree,
    /// A quill with barbs on both sides.
    Barbs,
    /// The net of walls of a plant's cells.
    Walls,
    /// Star-shaped plant hairs.
    Stars,
    /// Many filaments twisted into one, with loose ends.
    Yarn,
    /// Writing by hand.
    Script,
    /// Printed signs.
    Print,
    /// Cracks and scratches.
    Cracks,
}

impl StrayKind {
    /// All kinds.
    pub const ALL: [StrayKind; 9] = [
        StrayKind::Threads,
        StrayKind::Tree,
        StrayKind::Barbs,
        StrayKind::Walls,
        StrayKind::Stars,
        StrayKind::Yarn,
        StrayKind::Script,
        StrayKind::Print,
        StrayKind::Cracks,
    ];

    /// Stable name for truth files.
    pub fn code(self) -> &'static str {
        match self {
            StrayKind::Threads => "threads",
            StrayKind::Tree => "tree",
            StrayKind::Barbs => "barbs",
            StrayKind::Walls => "walls",
            StrayKind::Stars => "stars",
            StrayKind::Yarn => "yarn",
            StrayKind::Script => "script",
            StrayKind::Print => "print",
            StrayKind::Cracks => "cracks",
        }
    }
}

/// How light is spread across a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Section {
    /// Alike all over: ink, a wall.
    Flat,
    /// As of a solid rod.
    Solid,
    /// As of a tube: brightest near the rims.
    Tube,
}

impl Section {
    /// Light at a distance from the middle, as a share of the half width; 0 from 1 on.
    pub fn light(self, q: f64) -> f64 {
        if q >= 1.0 {
            return 0.0;
        }
        let solid = (1.0 - q * q).sqrt();
        match self {
            Section::Flat => 1.0,
            Section::Solid => solid,
            // Chord of the rod less the chord of a bore of three quarters of its width.
            Section::Tube => 0.3 + 1.1 * (solid - (0.5625 - q * q).max(0.0).sqrt()),
        }
    }
}

/// The stray things of a scene: some of one kind.
pub(super) fn draw_strays(scene: &Scene, dice: &mut Dice) -> Vec<Stray> {
    let kind = dice.pick(&StrayKind::ALL);
    let n = match kind {
        StrayKind::Stars => dice.whole(2, 6),
        StrayKind::Script => dice.whole(2, 5),
        StrayKind::Walls => 1,
        _ => dice.whole(1, 3),
    };
    // Things of one slide are of one make.
    let make = Make::drawn(scene, kind, dice);
    (0..n).map(|_| make.stray(kind, strokes(scene, kind, dice), dice)).collect()
}

/// What all stray things of a scene share.
struct Make {
    section: Section,
    strength: f64,
    lost: f64,
    spectrum: Spectrum,
    blur_px: f64,
    blotches: f32,
}

impl Make {
    fn drawn(scene: &Scene, kind: StrayKind, dice: &mut Dice) -> Make {
        let section = match kind {
            StrayKind::Script | StrayKind::Print | StrayKind::Cracks => Section::Flat,
            StrayKind::Yarn => Section::Solid,
            _ => dice.pick(&[Section::Flat, Section::Solid, Section::Solid, Section::Tube]),
        };
        // Some are dark on the tape's glow: ink, vessels full of blood.
        let dark = dice.chance(0.2);
        Make {
            section,
            strength: if dark { 0.0 } else { dice.log_uniform(0.25, 3.0) },
            lost: if dark { dice.uniform(0.4, 0.9) } else { dice.uniform(0.0, 0.3) },
            spectrum: spectrum(dice),
            blur_px: scene.optics.lens_blur_px * dice.log_uniform(1.0, 3.0) + 0.4,
            blotches: if dice.chance(0.5) { 0.0 } else { dice.uniform(0.1, 0.6) as f32 },
        }
    }

    fn stray(&self, kind: StrayKind, strokes: Vec<Stroke>, dice: &mut Dice) -> Stray {
        Stray {
            kind,
            strokes,
            section: self.section,
            strength: self.strength * dice.uniform(0.7, 1.3),
            lost: self.lost,
            spectrum: self.spectrum.clone(),
            blur_px: self.blur_px * dice.log_uniform(0.8, 1.25),
            blotches: self.blotches,
            texture: dice.seed(),
        }
    }
}

/// A colour that hair, residues or fibres have too: colour alone must not give a thing away.
fn spectrum(dice: &mut Dice) -> Spectrum {
    match dice.whole(0, 6) {
        0 => spectra::keratin(dice.unit(), spectra::KERATIN_TAIL * dice.uniform(0.2, 3.0)),
        1 => spectra::infected(dice.uniform(487.0, 509.0), dice.uniform(70.0, 100.0), dice.uniform(0.05, 0.3)),
        2 => spectra::brightener(dice.uniform(425.0, 450.0), dice.uniform(60.0, 80.0)),
        3 => spectra::carpet_green(dice.uniform(515.0, 535.0), dice.uniform(50.0, 80.0)),
        4 => spectra::dyed_lint(dice.uniform(550.0, 620.0)),
        5 => spectra::dander(dice.unit()),
        _ => spectra::ointment(dice.unit()),
    }
}

#[cfg(test)]
mod tests {
    use super::{Section, StrayKind};
    use crate::sim::{Condition, Ranges, Scene};

    #[test]
    fn every_kind_is_drawn_and_lies_in_view() {
        let ranges = Ranges::training().under(Condition::Strays);
        let mut seen = std::collections::HashSet::new();
        for seed in 0..80 {
            let scene = Scene::draw(seed, &ranges);
            for stray in &scene.strays {
                seen.insert(stray.kind.code());
                let shown = stray.strokes.iter().flat_map(|s| &s.points).any(|p| scene.shows(*p, 0.0));
                assert!(shown || scene.optics.disc.is_some(), "seed {seed}: {:?} lies outside", stray.kind);
                assert!(stray.strokes.iter().all(|s| s.points.len() == s.half_px.len() && s.points.len() > 1));
                assert!(stray.strokes.iter().flat_map(|s| &s.half_px).all(|h| *h > 0.0), "{:?}", stray.kind);
            }
        }
        assert_eq!(seen.len(), StrayKind::ALL.len(), "{seen:?}");
    }

    #[test]
    fn scenes_of_other_conditions_hold_none() {
        assert!((0..20).all(|seed| Scene::draw(seed, &Ranges::training()).strays.is_empty()));
    }

    #[test]
    fn a_tube_is_brightest_near_its_rims() {
        assert!(Section::Tube.light(0.7) > 1.3 * Section::Tube.light(0.0));
        assert!(Section::Solid.light(0.0) > Section::Solid.light(0.7));
        assert!([Section::Flat, Section::Solid, Section::Tube].iter().all(|s| s.light(1.0) == 0.0));
    }
}
