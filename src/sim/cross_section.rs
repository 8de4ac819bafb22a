//! Light from one line of sight through a shaft: chord lengths through cortex, medulla and shell, with absorption.
//!
//! The lamp and the camera look from the same side. Light made at depth z returns with exp(−pigment · z), where
//! `pigment` adds the loss of the exciting light on the way in and of the glow on the way out, so a path of length c
//! gives (1 − exp(−pigment · c)) / pigment: the chord itself without pigment, a flat 1/pigment in black hair.

use super::make::Make;

/// Paths are counted in units of this length: an unpigmented awn hair then glows with about 1 on its axis.
pub const REFERENCE_PATH_UM: f32 = 40.0;

/// What one line of sight meets.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Sight {
    /// The shaft's own glow, units of an unpigmented reference path.
    pub(super) own: f32,
    /// Added glow (fungal, or of a residue), same units.
    pub(super) extra: f32,
    /// Lamp light scattered back by the air in the medulla and by the cuticle, same units.
    pub(super) scatter: f32,
    /// Share of the light from below that is lost, 0 to 1.
    pub(super) lost: f32,
}

/// Structure of the shaft at one place, as factors on the plain cross-section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Grain {
    /// Factor on the cortex's light, mean 1.
    pub(super) cortex: f32,
    /// Factor on the shell's light, mean 1.
    pub(super) shell: f32,
    /// Share of the medulla that is filled with air, 0 to 1.
    pub(super) air: f32,
}

impl Grain {
    /// No structure: even cortex and shell, an unbroken medulla.
    pub(super) const EVEN: Grain = Grain { cortex: 1.0, shell: 1.0, air: 1.0 };
}

/// Loss of light from below in the cortex itself, per µm: keratin in adhesive scatters a little.
const KERATIN_LOSS_PER_UM: f32 = 0.0025;
/// Loss of light from below in an air-filled medulla, per µm: it looks black in transmitted light (facts 1.12).
const AIR_LOSS_PER_UM: f32 = 0.06;
/// Loss in the spore sheath or film, per µm.
const SHELL_LOSS_PER_UM: f32 = 0.006;
/// Lamp light thrown back by the medulla's air per reference path, before the lamp leak's own strength.
const AIR_SCATTER: f32 = 1.6;
/// Lamp light thrown back by the cortex per reference path.
const CORTEX_SCATTER: f32 = 0.15;

/// Lamp light thrown back by a channel of trapped air: keratin to air reflects 4.7 % against 0.08 % to adhesive
/// (facts 3.19), so it outshines the same path of medulla walls.
const AIR_CHANNEL_SCATTER: f32 = 1.5;

/// What a line of sight at signed distance `x_px` from the axis meets.
pub(super) fn sight(make: &Make, grain: Grain, x_px: f32, um_per_px: f32) -> Sight {
    let side = usize::from(x_px >= 0.0);
    let (edge, shell_edge) = (make.edge_px[side], make.shell_px[side].max(make.edge_px[side]));
    let distance = x_px.abs();
    if distance >= shell_edge {
        return air_channel(distance - shell_edge, make.air_px[side]);
    }
    let depth_um = make.thickness * um_per_px;
    let hair = dome(distance, edge) * (make.edge_px[0] + make.edge_px[1]) * depth_um;
    let medulla_edge = make.medulla * edge;
    let medulla = dome(distance, medulla_edge) * make.medulla * (make.edge_px[0] + make.edge_px[1]) * depth_um;
    let cortex = (hair - medulla).max(0.0);
    let outer = dome(distance, shell_edge)
        * (make.shell_px[0] + make.shell_px[1]).max(make.edge_px[0] + make.edge_px[1])
        * depth_um;
    let shell = (outer - hair).max(0.0);

    let pigment = make.pigment_per_um;
    let through_half_cortex = libm::expf(-0.5 * pigment * cortex);
    let made = returned(cortex, pigment) / REFERENCE_PATH_UM * grain.cortex;
    // Light made in the medulla's walls, seen through the cortex above it; air cells glow little themselves.
    let made_inside = medulla * (1.0 - 0.8 * grain.air) * through_half_cortex / REFERENCE_PATH_UM;
    let air = medulla * grain.air;
    let lost_exponent = (pigment + KERATIN_LOSS_PER_UM) * cortex + AIR_LOSS_PER_UM * air + SHELL_LOSS_PER_UM * shell;
    let core_passes = libm::expf(-pigment * cortex - AIR_LOSS_PER_UM * air);
    let shell_light = shell / REFERENCE_PATH_UM * 0.5 * (1.0 + core_passes) * grain.shell;
    Sight {
        own: make.own * (made + made_inside),
        extra: make.inside * (made + made_inside) + make.shell * shell_light,
        scatter: (CORTEX_SCATTER * cortex + AIR_SCATTER * air) * through_half_cortex / REFERENCE_PATH_UM,
        lost: 1.0 - libm::expf(-lost_exponent),
    }
}

/// A channel of air beside the shaft: its far wall throws the lamp back, and it passes less light from below.
fn air_channel(beyond_px: f32, width_px: f32) -> Sight {
    if beyond_px >= width_px {
        return Sight::default();
    }
    let t = beyond_px / width_px;
    let wall = 4.0 * t * (1.0 - t);
    Sight { scatter: AIR_CHANNEL_SCATTER * (0.3 + 0.7 * t) * wall, lost: 0.35 * wall, ..Sight::default() }
}

/// Height of a half circle of radius 1 at `distance / radius`; 0 beyond it.
fn dome(distance: f32, radius: f32) -> f32 {
    if distance >= radius {
        return 0.0;
    }
    let q = distance / radius;
    (1.0 - q * q).sqrt()
}

/// Light that returns from a path, in the path's own unit: (1 − exp(−pigment · path)) / pigment.
fn returned(path_um: f32, pigment_per_um: f32) -> f32 {
    let t = pigment_per_um * path_um;
    if t < 1e-3 { path_um * (1.0 - 0.5 * t) } else { (1.0 - libm::expf(-t)) / pigment_per_um }
}

#[cfg(test)]
mod tests {
    use super::{Grain, REFERENCE_PATH_UM, sight};
    use crate::sim::make::Make;

    fn cylinder(radius_px: f32) -> Make {
        Make { own: 1.0, ..Make::bare(radius_px) }
    }

    #[test]
    fn a_clear_cylinder_glows_as_its_chord() {
        let make = cylinder(20.0);
        for i in 0..200 {
            let x = -20.5 + 0.205 * i as f32;
            let chord = 2.0 * (400.0 - x * x).max(0.0).sqrt();
            let seen = sight(&make, Grain::EVEN, x, 0.5).own;
            assert!((seen - chord * 0.5 / REFERENCE_PATH_UM).abs() < 2e-3, "x {x}: {seen}");
        }
    }

    #[test]
    fn pigment_gives_the_closed_form_and_flattens() {
        let make = Make { pigment_per_um: 0.08, ..cylinder(20.0) };
        let at = |x: f32| sight(&make, Grain::EVEN, x, 1.0).own * REFERENCE_PATH_UM;
        for x in [0.0f32, 7.0, 15.0, 19.0] {
            let chord = 2.0 * (400.0 - x * x).sqrt();
            let expected = (1.0 - (-0.08 * chord).exp()) / 0.08;
            assert!((at(x) / expected - 1.0).abs() < 1e-4, "x {x}: {} for {expected}", at(x));
        }
        assert!(at(14.0) / at(0.0) > 0.9, "a chord alone would give 0.71");
        assert!(at(0.0) < 40.0 / 3.0, "black hair glows at most 1/pigment");
    }

    #[test]
    fn a_shell_glows_as_the_difference_of_two_chords() {
        let make = Make { shell: 1.0, shell_px: [15.0; 2], outer_px: [15.0; 2], ..Make::bare(10.0) };
        for x in [0.0f32, 5.0, 9.9, 12.0, 14.9, 15.1] {
            let chord = |r: f32| 2.0 * (r * r - x * x).max(0.0).sqrt();
            let expected = (chord(15.0) - chord(10.0)) / REFERENCE_PATH_UM;
            let seen = sight(&make, Grain::EVEN, x, 1.0).extra;
            assert!((seen - expected).abs() < 1e-5, "x {x}: {seen} for {expected}");
        }
    }

    #[test]
    fn air_in_the_medulla_darkens_the_glow_and_throws_back_lamp_light() {
        let hollow = Make { medulla: 0.5, ..cylinder(20.0) };
        let (full, airy) = (sight(&cylinder(20.0), Grain::EVEN, 0.0, 1.0), sight(&hollow, Grain::EVEN, 0.0, 1.0));
        assert!(airy.own < 0.7 * full.own, "the core makes less light");
        assert!(airy.scatter > 3.0 * full.scatter, "facts 1.12: white in reflected light");
        assert!(airy.lost > 0.6 && full.lost < 0.2, "facts 1.12: black in transmitted light");
    }
}
