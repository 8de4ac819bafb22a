//! Infection of a hair: where it has spread, the sheath of spores, the structure it breaks down, the glow it adds.

use super::body::{Body, Stretch};
use super::dice::Dice;
use super::ranges::Ranges;
use super::scene::Zone;
use super::spectra::{self, Spectrum};
use super::texture;

/// How far an infection has come in one hair, in the order of facts 2.9-2.10.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stage {
    /// First week: from the root up.
    Base,
    /// By the second week: all along.
    Whole,
    /// Uneven, in stretches.
    Patchy,
    /// Recovered: the hair has grown on, the pigment stays near the tip; no sheath any more.
    TipOnly,
}

/// What infection made of a hair.
pub(super) struct Infection {
    pub(super) extra_spectrum: Spectrum,
    pub(super) zone: Zone,
}

/// How heavily a hair is infected.
pub(super) struct Severity {
    /// Seed of all that varies along the hair.
    pub(super) seed: u32,
    /// Outer diameter with the sheath over the hair's, where the sheath is full.
    pub(super) ratio: f32,
    /// Added glow of a full station inside the hair, and in the sheath, relative to unpigmented hair.
    pub(super) glow: [f32; 2],
    /// How much the sheath's cover wanders: 0 even, 1 with bare places.
    pub(super) bare_share: f32,
    /// Size of the sheath's lumps, µm.
    pub(super) lumps_um: f32,
    /// How rough the sheath's outline is: factor on the grains that stand out of it.
    pub(super) rough: f32,
    /// How far the inner structure is broken down, 0 to 1.
    pub(super) tearing: f32,
    /// How much of the sheath and of the damage there is, 0 to 1.
    pub(super) sheathed: f32,
}

/// Infects a bare hair. `strength` is the added glow of a full station relative to unpigmented hair.
pub(super) fn infect(
    dice: &mut Dice,
    ranges: &Ranges,
    stretch: &Stretch,
    body: &mut Body,
    stage: Stage,
    strength: f64,
    shown_um: (f32, f32),
) -> Infection {
    let seed = dice.seed();
    // Facts 2.1: the sheath "may double" the normal thickness; §7: factor 1.2-2.0.
    let ratio = dice.uniform(1.2, 2.0) as f32;
    let inside = (strength * dice.uniform(0.6, 1.2)) as f32;
    let in_sheath = (strength * dice.uniform(0.6, 1.3)) as f32;
    let shown = shown_um.1 - shown_um.0;
    let reached = shown_um.0 + shown * dice.uniform(0.2, 0.65) as f32;
    let tip_begins = shown_um.1 - shown * dice.uniform(0.08, 0.35) as f32;
    let front_um = (shown * dice.log_uniform(0.05, 0.35) as f32).clamp(10.0, 600.0);
    let patch_um = (shown * dice.uniform(0.12, 0.3) as f32).max(40.0);
    let patch_slope = dice.uniform(1.0, 2.6) as f32;
    let bare_share = dice.uniform(-0.3, 0.9) as f32;
    let lumps_um = dice.uniform(18.0, 45.0) as f32;
    let tearing = dice.uniform(0.3, 1.0) as f32;
    let sheathed = if stage == Stage::TipOnly { 0.0 } else { 1.0 };
    let rough = dice.uniform(0.3, 1.8) as f32;
    let severity = Severity { seed, ratio, glow: [inside, in_sheath], bare_share, lumps_um, rough, tearing, sheathed };
    spread_along(stretch, body, &severity, |s_um| match stage {
        Stage::Base => ramp((reached - s_um) / front_um),
        Stage::Whole => 1.0,
        Stage::Patchy => ramp(0.5 + patch_slope * texture::along(seed ^ 1, s_um / patch_um)),
        Stage::TipOnly => ramp((s_um - tip_begins) / front_um),
    });
    // Facts 2.8: 2-4 µm.
    body.surface.grain_um = dice.uniform(2.0, 4.0);
    // From spores that lie so close that they look smooth to clumps with dark gaps between them.
    body.surface.shell_contrast = dice.uniform(0.2, 1.0) as f32;
    let peak_nm = dice.among(&ranges.infected_peak_nm);
    let zone = match stage {
        Stage::Base => Zone::Base,
        Stage::Whole => Zone::Whole,
        Stage::Patchy => Zone::Patchy,
        Stage::TipOnly => Zone::Tip,
    };
    Infection { extra_spectrum: spectra::infected(peak_nm, dice.uniform(70.0, 100.0), dice.uniform(0.0, 0.3)), zone }
}

/// Gives a bare hair the glow, sheath and damage of an infection that has this share (0 to 1) at each place, µm from
/// the base.
pub(super) fn spread_along(stretch: &Stretch, body: &mut Body, severity: &Severity, spread_at: impl Fn(f32) -> f32) {
    let um_per_px = stretch.um_per_px as f32;
    let &Severity { seed, ratio, glow: [inside, in_sheath], bare_share, lumps_um, rough, tearing, sheathed } = severity;
    for i in 0..stretch.n_stations() {
        let s_um = stretch.um_past_base(i);
        let spread = spread_at(s_um);
        let glow = spread * (0.82 + 0.18 * texture::along(seed ^ 2, s_um / 120.0));
        let make = &mut body.makes[i];
        make.glow = glow;
        make.inside = inside * glow;
        make.own *= 1.0 - 0.35 * spread;
        if sheathed <= 0.0 {
            continue;
        }
        // Spores clothe the shaft unevenly: bare places, lumps, both sides a little unlike (facts 2.1, 2.6).
        let clothed = (0.75 + bare_share * texture::along(seed ^ 3, s_um / 170.0)).clamp(0.15, 1.0) * spread * sheathed;
        let lumps = 0.16 * texture::along(seed ^ 4, s_um / lumps_um)
            + 0.14 * texture::along(seed ^ 11, s_um / (2.7 * lumps_um));
        let radius = make.outer_px[0].max(0.0);
        let mean_px = radius * (ratio - 1.0) * clothed * (1.0 + lumps);
        for side in 0..2 {
            let unlike = 1.0 + 0.12 * texture::along(seed ^ (5 + side as u32), s_um / (1.6 * lumps_um));
            let sheath_px = (mean_px * unlike).clamp(0.0, radius);
            // Grains of 2-3 µm stand out of the outline; their mean is no offset.
            let grain = 0.55 * texture::along(seed ^ (7 + side as u32), s_um / 2.6)
                + 0.45 * texture::along(seed ^ (9 + side as u32), s_um / 6.0);
            let rough_px = (1.4 * rough * grain / um_per_px).clamp(-0.6 * sheath_px, 0.6 * sheath_px);
            make.outer_px[side] = radius + sheath_px;
            make.counted_px[side] = make.outer_px[side];
            // The cuticle under the sheath is eaten: its teeth go.
            make.edge_px[side] = radius + (make.edge_px[side] - radius) * (1.0 - spread);
            make.shell_px[side] = (make.outer_px[side] + rough_px).max(make.edge_px[side]);
        }
        make.shell = in_sheath * glow;
        make.damage = tearing * spread * sheathed;
        // Facts 2.3: medullary and melanin pattern no longer visible.
        make.medulla *= 1.0 - 0.95 * spread;
        make.pigment_per_um *= 1.0 - 0.55 * spread;
    }
}

/// 0 below 0, 1 above 1, smooth between.
pub(super) fn ramp(t: f32) -> f32 {
    let t = t.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}
