//! Which shafts a slide holds, and the making of each: plan, place, body, then infection or residue.

use super::body::{Body, HairWish, Stretch, diameter_range_um, hair};
use super::dice::Dice;
use super::fibre::{Dye, fibre};
use super::infect::{Stage, infect};
use super::place::{Placed, View, fits, n_met, place, shown_runs};
use super::ranges::{Crossings, Ranges};
use super::residue::{Residue, coat, trap_air};
use super::scene::{Build, Coat, End, Look, Scene, Shaft, Zone};
use super::spectra::{self, Spectrum};
use super::visibility::contrast_to_noise;

/// Narrowest shaft that is drawn, pixels: below it nobody could say more than that something is there.
pub const NARROWEST_PX: f64 = 5.0;
/// Widest shaft that is drawn, pixels.
pub const WIDEST_PX: f64 = 300.0;
/// Attempts to place one shaft before it is left out.
const PLACE_ATTEMPTS: usize = 60;

/// What kind of slide it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Slide {
    Healthy,
    Infected,
    Coated,
    Mixed,
}

/// What all shafts of a slide share.
struct Theme {
    slide: Slide,
    coat: Coat,
    infected_share: f64,
    residue: Residue,
    residue_spectrum: Spectrum,
    blur_px: f64,
    fibre_share: f64,
}

/// Draws the slide's theme and its shafts into the scene.
pub(super) fn draw_shafts(scene: &mut Scene, ranges: &Ranges, theme_dice: &mut Dice, dice: &mut Dice) {
    let theme = draw_theme(ranges, theme_dice);
    scene.coat = theme.coat;
    scene.comparison_slide = theme.slide == Slide::Healthy && theme.fibre_share == 0.0;
    let wanted = theme_dice.whole(ranges.n_shafts.0, ranges.n_shafts.1);
    for i in 0..wanted {
        let plan = Plan::drawn(dice, &theme, i, scene.um_per_px);
        if let Some(shaft) = make_shaft(dice, scene, ranges, &theme, &plan) {
            scene.shafts.push(shaft);
        }
    }
    // The exposure is set by the brightest shaft, so who is visible is known only now.
    let visible: Vec<bool> =
        scene.shafts.iter().map(|shaft| contrast_to_noise(scene, shaft) >= ranges.least_contrast).collect();
    let mut keep = visible.into_iter();
    scene.shafts.retain(|_| keep.next().unwrap_or(true));
}

fn draw_theme(ranges: &Ranges, dice: &mut Dice) -> Theme {
    let [healthy, infected, coated, mixed] = ranges.slides;
    let slide = dice.weighted(&[
        (Slide::Healthy, healthy),
        (Slide::Infected, infected),
        (Slide::Coated, coated),
        (Slide::Mixed, mixed),
    ]);
    let coat = dice.weighted(&[
        (Coat::White, 0.24),
        (Coat::Yellowed, 0.12),
        (Coat::Cream, 0.1),
        (Coat::Ginger, 0.12),
        (Coat::Grey, 0.14),
        (Coat::Tabby, 0.16),
        (Coat::Black, 0.12),
    ]);
    let residue = dice.weighted(&Residue::ALL);
    Theme {
        slide,
        coat,
        infected_share: dice.uniform(0.25, 0.9),
        residue,
        residue_spectrum: residue.spectrum(dice),
        blur_px: dice.log_uniform(ranges.blur_px.0, ranges.blur_px.1),
        fibre_share: if dice.chance(0.5) { dice.uniform(0.05, 0.4) } else { 0.0 },
    }
}

/// What one shaft is to be, before it is placed.
struct Plan {
    look: Look,
    build: Build,
    coat: Coat,
    kind: &'static str,
    short: bool,
    diameter_um: f64,
    stage: Option<Stage>,
    strength: f64,
    dye: Dye,
}

impl Plan {
    fn drawn(dice: &mut Dice, theme: &Theme, i: usize, um_per_px: f64) -> Plan {
        let look = draw_look(dice, theme, i);
        let build = draw_build(dice, look, um_per_px);
        let (least, most) = diameter_range_um(build);
        let diameter_um =
            dice.uniform(least.max(NARROWEST_PX * um_per_px).min(most), most.min(WIDEST_PX * um_per_px).max(least));
        let mut plan = Plan {
            look,
            build,
            coat: draw_coat(dice, theme.coat),
            kind: "",
            short: false,
            diameter_um,
            stage: None,
            strength: 0.0,
            dye: Dye::drawn(dice, build),
        };
        match look {
            Look::Infected => plan.infected(dice),
            Look::Normal => plan.ordinary(dice, theme),
            Look::Coated => {
                plan.kind = theme.residue.kind();
                plan.strength = dice.log_uniform(0.25, 2.5);
            }
            Look::Fibre => {
                plan.kind = match (build, plan.dye) {
                    (Build::Cotton, _) => "cotton",
                    (_, Dye::Green) => "green-synthetic",
                    (_, Dye::Brightener) => "bright-synthetic",
                    (_, Dye::Coloured) => "coloured-synthetic",
                    (_, Dye::Dull) => "dull-synthetic",
                };
            }
        }
        plan
    }

    fn infected(&mut self, dice: &mut Dice) {
        self.strength = dice.log_uniform(0.7, 3.0);
        let (kind, stage) = dice.weighted(&[
            (("base", Stage::Base), 0.3),
            (("whole", Stage::Whole), 0.24),
            (("broken-short", Stage::Whole), 0.16),
            (("patchy", Stage::Patchy), 0.12),
            (("faint", Stage::Whole), 0.1),
            (("faint-base", Stage::Base), 0.08),
        ]);
        self.kind = kind;
        self.stage = Some(stage);
        self.short = kind == "broken-short";
        if kind.starts_with("faint") {
            self.strength = dice.log_uniform(0.12, 0.4);
        }
    }

    fn ordinary(&mut self, dice: &mut Dice, theme: &Theme) {
        self.kind = match (self.build, self.coat) {
            (Build::Human, _) => "human",
            (_, Coat::White) => "white",
            (_, Coat::Yellowed) => "yellowed",
            (_, Coat::Tabby) => "banded",
            (_, Coat::Black) => "black",
            _ => "plain",
        };
        // Recovering animals: the pigment is left at the tips (facts 2.10).
        let recovering = matches!(theme.slide, Slide::Infected | Slide::Mixed) && self.build != Build::Human;
        if recovering && dice.chance(0.12) {
            self.kind = "tip-only";
            self.stage = Some(Stage::TipOnly);
            self.strength = dice.log_uniform(0.4, 2.0);
        }
    }

    /// How much of it must be in view.
    fn draw_view(&self, dice: &mut Dice, ranges: &Ranges) -> View {
        let (both, one) = ranges.ends_in_view;
        match self.stage {
            Some(Stage::Base) => dice.weighted(&[(View::Both, both + 0.2), (View::Base, one + 0.2)]),
            Some(Stage::TipOnly) => dice.weighted(&[(View::Both, both + 0.2), (View::Tip, one + 0.1)]),
            _ if self.short => View::Both,
            _ => dice.weighted(&[
                (View::Both, both),
                (View::Base, 0.5 * one),
                (View::Tip, 0.5 * one),
                (View::Through, (1.0 - both - one).max(0.0)),
            ]),
        }
    }
}

fn draw_look(dice: &mut Dice, theme: &Theme, i: usize) -> Look {
    if dice.chance(theme.fibre_share) {
        return Look::Fibre;
    }
    match theme.slide {
        Slide::Healthy => Look::Normal,
        Slide::Infected if i == 0 || dice.chance(theme.infected_share) => Look::Infected,
        Slide::Coated if i == 0 || dice.chance(theme.infected_share) => Look::Coated,
        Slide::Infected | Slide::Coated => Look::Normal,
        Slide::Mixed => {
            dice.weighted(&[(Look::Infected, 0.3), (Look::Normal, 0.3), (Look::Coated, 0.2), (Look::Fibre, 0.2)])
        }
    }
}

fn draw_build(dice: &mut Dice, look: Look, um_per_px: f64) -> Build {
    let builds: &[(Build, f64)] = match look {
        Look::Fibre => &[(Build::Cotton, 0.3), (Build::Polyester, 0.35), (Build::Carpet, 0.35)],
        Look::Normal => &[(Build::Down, 0.33), (Build::Awn, 0.37), (Build::Guard, 0.26), (Build::Human, 0.04)],
        _ => &[(Build::Down, 0.3), (Build::Awn, 0.42), (Build::Guard, 0.28)],
    };
    let visible: Vec<(Build, f64)> = builds
        .iter()
        .copied()
        .filter(|(build, _)| {
            let (least, most) = diameter_range_um(*build);
            // Half of its range at least must be wide enough, and its narrowest not too wide. Cotton is seen on edge too.
            let seen = if *build == Build::Cotton { 0.6 } else { 1.0 };
            seen * 0.5 * (least + most) / um_per_px >= NARROWEST_PX && least / um_per_px <= WIDEST_PX
        })
        .collect();
    if visible.is_empty() {
        if look == Look::Fibre { Build::Carpet } else { Build::Guard }
    } else {
        dice.weighted(&visible)
    }
}

/// Hairs of one coat are alike, but most coats hold a few paler hairs.
fn draw_coat(dice: &mut Dice, coat: Coat) -> Coat {
    let paler = match coat {
        Coat::White | Coat::Yellowed => coat,
        Coat::Cream => Coat::White,
        Coat::Ginger => Coat::Cream,
        Coat::Grey | Coat::Tabby => Coat::Cream,
        Coat::Black => Coat::Grey,
    };
    if dice.chance(0.15) { paler } else { coat }
}

fn make_shaft(dice: &mut Dice, scene: &Scene, ranges: &Ranges, theme: &Theme, plan: &Plan) -> Option<Shaft> {
    let um_per_px = scene.um_per_px;
    let view = plan.draw_view(dice, ranges);
    // Sheath and film widen a hair up to twofold, bulbs too.
    let swell = match plan.look {
        Look::Infected => 2.3,
        Look::Coated => 1.6,
        Look::Normal => 1.3,
        Look::Fibre => 1.05,
    };
    let half_px = 0.5 * plan.diameter_um / um_per_px * swell;
    let blur_px = draw_blur(dice, scene, ranges, theme);
    let most_blur = blur_px[0].max(blur_px[1]);
    let wants_crossing = ranges.crossings == Crossings::Many && !scene.shafts.is_empty();
    let placed = (0..PLACE_ATTEMPTS).find_map(|attempt| {
        let placed = place(dice, scene, plan.build, view, half_px, plan.short)?;
        let rule = ranges.crossings;
        let lonely =
            wants_crossing && attempt < PLACE_ATTEMPTS / 2 && n_met(scene, &placed, half_px, &scene.shafts) == 0;
        (!lonely && fits(scene, &placed, half_px, most_blur, &scene.shafts, rule)).then_some(placed)
    })?;
    let (base_end, tip_end) = draw_ends(dice, plan);
    Some(build_shaft(dice, scene, ranges, theme, plan, placed, (base_end, tip_end), blur_px))
}

fn draw_ends(dice: &mut Dice, plan: &Plan) -> (End, End) {
    let broken = |dice: &mut Dice| End::Broken { ragged_um: plan.diameter_um * dice.uniform(0.15, 0.7) };
    let cut = |dice: &mut Dice| End::Cut { slope: dice.uniform(-0.4, 0.4) };
    let base = match dice.unit() {
        _ if matches!(plan.stage, Some(Stage::Base)) => End::Root,
        share if share < 0.65 => End::Root,
        share if share < 0.85 => broken(dice),
        _ => cut(dice),
    };
    let tip = match dice.unit() {
        _ if plan.short => broken(dice),
        share if plan.look == Look::Infected && share < 0.5 => broken(dice),
        share if share < 0.75 => End::Tapered,
        share if share < 0.88 => broken(dice),
        _ => cut(dice),
    };
    (base, tip)
}

/// Sigma at base and tip: the scene's focus, the hair's own depth, for some a run through the focus.
fn draw_blur(dice: &mut Dice, scene: &Scene, ranges: &Ranges, theme: &Theme) -> [f64; 2] {
    let own = theme.blur_px * libm::exp(ranges.blur_spread * dice.standard_normal());
    let tilt = if dice.chance(ranges.tilted_share) { dice.uniform(1.2, 2.2) } else { 1.0 };
    let pair = if dice.chance(0.5) { [own, own * tilt] } else { [own * tilt, own] };
    let sharpest = scene.optics.lens_blur_px.min(ranges.blur_px.1).max(ranges.blur_px.0);
    pair.map(|sigma| sigma.clamp(sharpest, ranges.blur_px.1.max(sharpest)))
}

#[expect(clippy::too_many_arguments, reason = "one maker of one shaft; each argument is a decision already taken")]
fn build_shaft(
    dice: &mut Dice,
    scene: &Scene,
    ranges: &Ranges,
    theme: &Theme,
    plan: &Plan,
    placed: Placed,
    ends: (End, End),
    blur_px: [f64; 2],
) -> Shaft {
    let um_per_px = scene.um_per_px;
    let Placed { course, from_px, to_px } = placed;
    let stretch = Stretch { course: &course, from_px, to_px, um_per_px };
    let shown = shown_runs(scene, &course, from_px, to_px);
    let shown_px = shown.iter().copied().max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0))).unwrap_or((from_px, to_px));
    let shown_um = (((shown_px.0 - from_px) * um_per_px) as f32, ((shown_px.1 - from_px) * um_per_px) as f32);
    let mut body: Body = if plan.look == Look::Fibre {
        fibre(dice, &stretch, plan.build, plan.dye, plan.diameter_um)
    } else {
        let wish = HairWish {
            build: plan.build,
            coat: if plan.build == Build::Human { Coat::Grey } else { plan.coat },
            diameter_um: plan.diameter_um,
            base_end: ends.0,
            tip_end: ends.1,
        };
        hair(dice, &stretch, &wish)
    };
    let mut extra_spectrum = spectra::infected(497.0, 85.0, 0.1);
    let mut zone = Zone::None;
    if let Some(stage) = plan.stage {
        let infection = infect(dice, ranges, &stretch, &mut body, stage, plan.strength, shown_um);
        (extra_spectrum, zone) = (infection.extra_spectrum, infection.zone);
    } else if plan.look == Look::Coated {
        extra_spectrum = theme.residue_spectrum.clone();
        zone = coat(dice, &stretch, &mut body, theme.residue, plan.strength, shown_um);
    } else if plan.look == Look::Fibre && plan.dye != Dye::Dull {
        zone = Zone::Whole;
        body.makes.iter_mut().for_each(|make| make.glow = 1.0);
    }
    let extra_air = dice.chance(ranges.trapped_air_share);
    if extra_air {
        trap_air(dice, &stretch, &mut body.makes, plan.diameter_um);
    }
    let Body { makes, surface, own_spectrum, loss_tint, base_end, tip_end } = body;
    Shaft {
        look: plan.look,
        build: plan.build,
        kind: plan.kind,
        comparison: plan.look == Look::Normal && plan.stage.is_none() && plan.build != Build::Human,
        zone,
        course,
        from_px,
        to_px,
        base_end,
        tip_end,
        makes,
        own_spectrum,
        extra_spectrum,
        loss_tint,
        surface,
        blur_px,
        texture: dice.seed(),
    }
}
