//! Where along the shaft it fluoresces: the rule, from light to stretches to a zone.
//!
//! 1. The channels are smoothed over a width and a half (running median).
//! 2. The shaft is its own best measure: a part that is plainly greener than the rest of it, or where colours cannot
//!    be told at least twice as bright for its width, fluoresces (`own_measure`). Pigment makes bands of brightness,
//!    not of colour.
//! 3. Else with comparison shafts, a station fluoresces when its light exceeds what an ordinary shaft of its width
//!    would show, by as much again (four times as much in all where its colour is theirs) and by more than the noise,
//!    the spread of the comparison shafts and a share of the ground; or when it is lit at all and plainly greener than
//!    the comparison shafts. White hair that glows like its comparison shafts therefore does not fluoresce. Ordinary
//!    light is taken to grow with width, as the mean depth of a volume does. Without them colour has to stand in: even
//!    light that is greener than the ground is taken for fluorescence all along, even bluish light for a hair's own
//!    glow, and without colour nothing is said.
//! 4. Hysteresis joins weaker neighbours, gaps and stretches shorter than a width and a half are dropped.
//! 5. The pattern of stretches and the base end give the zone.
//!
//! The course of an infection that the zones follow: glow in bulb and proximal shaft within the first week, the
//! entire shaft by 12 to 14 days, then confined to distal shafts, finally tips ("Ringworm Diagnosis", University of
//! Florida open textbook on shelter animal health).
//! Weakness: white hair beside black comparison shafts of a piebald cat may count as fluorescing; a bluish residue
//! no brighter than white hair does not.

use super::Zone;
use super::comparison::Ordinary;
use super::own_measure::{Own, by_colour_alone, by_own_measure};
use super::signals::{Glow, MIN_READINGS, Signals};
use super::smoothed::{LEAST_DEVIATIONS, Smooth, smooth_light};
use super::stretches::{LOWER_SHARE, Stretches, drop_short_runs, with_hysteresis};

/// Share of the ordinary level at this width that fluorescence needs on top of it. Pigment alone makes ordinary
/// hairs of one animal differ: on simulated slides nine in ten lie within 0.6 to 1.7 of their median at equal width.
const LEAST_EXCESS: f64 = 1.0;

/// The same for a station whose colour is that of the comparison shafts: then pigment is the likelier reason, which
/// dims a hair's own glow up to thirteenfold (J. Cosmet. Sci. 62 (2011), Table V) and hardly changes its colour.
const LEAST_EXCESS_SAME_COLOUR: f64 = 3.0;

/// How much greener or bluer a station may be and still be of the comparison shafts' colour.
const SAME_COLOUR: f64 = 0.15;

/// How much greener than the comparison shafts a lit station must be to fluoresce, on the scale of
/// `colour.green_blue_to_comparison`: green against blue 1.9 times the ordinary ratio. A quarter of fungal light
/// mixed into keratin's makes 1.65 times, a half 2.6 times (computed with the CIE 1931 observer and sRGB primaries
/// from Gaussian bands at 455 and 500 nm).
const GREENER_THAN_ORDINARY: f64 = 0.3;

/// How many times brighter its bright part must be for the shaft to be its own measure where colours do not tell but
/// comparison shafts are at hand: pigment in bands makes up to that much.
const OWN_CONTRAST_BESIDE_ORDINARY: f64 = 3.0;

/// Shortest stretch or gap, in widths. A glowing bulb is as long as it is wide or longer.
const SHORTEST_RUN: f64 = 1.5;

/// Shortest stretch or gap, in stations.
const SHORTEST_RUN_STATIONS: usize = 3;

/// Share of the length from which the shaft fluoresces all along.
const WHOLE_SHARE: f64 = 0.85;

/// Share of the fluorescing length that the main stretch must hold for the zone to be named after it.
const MAIN_SHARE: f64 = 0.8;

/// How near the end a stretch must reach to begin there: widths, and share of the measured length, whichever is more.
const AT_END_WIDTHS: f64 = 3.0;
/// See [`AT_END_WIDTHS`].
const AT_END_SHARE: f64 = 0.08;

/// Fewest stations and widths of length that a zone is told from.
const LEAST_STATIONS: usize = 12;
/// See [`LEAST_STATIONS`].
const LEAST_WIDTHS: f64 = 4.0;

/// Share of the centreline at an end that may be hidden (crossing, clipping) for that end's glow to be known.
const MOST_HIDDEN_AT_END: f64 = 0.25;

/// Which stations fluoresce, and the smoothed light they were judged by.
#[derive(Clone, Debug)]
pub(super) struct Fluorescing {
    /// Which of the clear stations fluoresce.
    pub(super) stretches: Stretches,
    /// Where along all of the shaft in sight it fluoresces.
    pub(super) along: Stretches,
    /// Smoothed light, one value a station.
    pub(super) smooth: Vec<f64>,
    /// False where an even glow could be neither held for ordinary nor for fluorescence.
    pub(super) told: bool,
}

/// Which stations of a shaft fluoresce; see the module's rule.
pub(super) fn fluorescing(signals: &Signals, width_px: Option<f64>, ordinary: Option<&Ordinary>) -> Fluorescing {
    let step_px = signals.step_px;
    let (along, told) = stretches(&signals.glow_in_sight, width_px, step_px, ordinary, signals.monochrome);
    let clear: Vec<f64> = signals.glow.iter().map(|g| g.s_px).collect();
    let smooth = smooth_light(&signals.glow, width_px, step_px);
    Fluorescing { stretches: along.seen_at(&clear), along, smooth, told }
}

/// The stretches that fluoresce, and whether that can be told.
fn stretches(
    glow: &[Glow],
    width_px: Option<f64>,
    step_px: f64,
    ordinary: Option<&Ordinary>,
    monochrome: bool,
) -> (Stretches, bool) {
    let at: Vec<f64> = glow.iter().map(|g| g.s_px).collect();
    if glow.len() < MIN_READINGS {
        return (Stretches::new(&at, vec![false; glow.len()], step_px), false);
    }
    let smooth = Smooth::new(glow, width_px, step_px, monochrome);
    let fewest = ((SHORTEST_RUN * width_px.unwrap_or(0.0) / step_px).ceil() as usize).max(SHORTEST_RUN_STATIONS);
    let judged = |high: &[bool], low: &[bool]| {
        let mut lit = with_hysteresis(high, low);
        drop_short_runs(&mut lit, false, fewest, false);
        drop_short_runs(&mut lit, true, fewest, true);
        Stretches::new(&at, lit, step_px)
    };
    let own = by_own_measure(glow, &smooth, &judged);
    let Some(ordinary) = ordinary else {
        return match own {
            Some(own) => (own.stretches, true),
            None => {
                let (whole, told) = by_colour_alone(glow, &smooth, monochrome);
                (Stretches::new(&at, vec![whole; glow.len()], step_px), told)
            }
        };
    };
    let greener = smooth.greener(ordinary.colour.as_ref());
    let over = |share: f64| -> Vec<bool> {
        (0..glow.len())
            .map(|i| {
                smooth.light[i] > bar(&smooth, i, ordinary, width_px, share, greener[i])
                    || greener[i].is_some_and(|greener| greener > share * GREENER_THAN_ORDINARY)
            })
            .collect()
    };
    let compared = judged(&over(1.0), &over(LOWER_SHARE));
    // A boundary that stands out by itself is told better by the shaft's own dim part than by other shafts.
    let strong = |own: &Own| own.contrast >= OWN_CONTRAST_BESIDE_ORDINARY && overlap(&own.stretches, &compared);
    let own = own.filter(|own| own.by_colour || strong(own));
    (own.map_or(compared, |own| own.stretches), true)
}

/// Whether half of what fluoresces by the shaft's own measure does so against the comparison shafts too.
fn overlap(own: &Stretches, compared: &Stretches) -> bool {
    let n_own = own.lit.iter().filter(|&&lit| lit).count();
    let both = own.lit.iter().zip(&compared.lit).filter(|(own, compared)| **own && **compared).count();
    2 * both > n_own
}

/// The light a share of the way from what an ordinary shaft of this station's width shows to where fluorescence
/// begins.
fn bar(
    smooth: &Smooth,
    station: usize,
    ordinary: &Ordinary,
    width_px: Option<f64>,
    share: f64,
    greener: Option<f64>,
) -> f64 {
    let level = ordinary.light_at(width_px.map(|width| width * smooth.relative_width[station]));
    let spread = ordinary.light_spread * (level / ordinary.light).abs().max(1.0);
    let same_colour = greener.is_some_and(|greener| greener.abs() <= SAME_COLOUR);
    let factor = if same_colour { LEAST_EXCESS_SAME_COLOUR } else { LEAST_EXCESS };
    let excess = smooth.least.max(LEAST_DEVIATIONS * spread).max(factor * level.abs());
    level + share * excess
}

/// The zone of a pattern of stretches.
///
/// `base_at_first` is where the base is, if known. Base and tip are told from the part in view: glow that begins at
/// the base's side and does not reach the other is `Base`, also when the base itself lies outside the photo.
pub(super) fn zone(
    fluorescing: &Fluorescing,
    length_px: f64,
    width_px: Option<f64>,
    base_at_first: Option<bool>,
) -> Zone {
    let stretches = &fluorescing.along;
    let n = stretches.lit.len();
    let (Some(&first), Some(&last)) = (stretches.places_px.first(), stretches.places_px.last()) else {
        return Zone::Unknown;
    };
    let span = last - first;
    if !fluorescing.told || n < LEAST_STATIONS || span < LEAST_WIDTHS * width_px.unwrap_or(0.0) {
        return Zone::Unknown;
    }
    if stretches.runs.is_empty() {
        return Zone::None;
    }
    if stretches.share() >= WHOLE_SHARE {
        return Zone::Whole;
    }
    let n_lit: usize = stretches.lit.iter().filter(|&&lit| lit).count();
    let Some(&(from, to)) = stretches.runs.iter().max_by_key(|(from, to)| to - from) else {
        return Zone::None;
    };
    let near = (AT_END_WIDTHS * width_px.unwrap_or(0.0)).max(AT_END_SHARE * span);
    let at_first = stretches.places_px[from] - first <= near;
    let at_last = last - stretches.places_px[to] <= near;
    let one_main = (to - from + 1) as f64 >= MAIN_SHARE * n_lit as f64;
    if !one_main || at_first == at_last {
        return Zone::Patchy;
    }
    let hidden = if at_first { first } else { length_px - last };
    match base_at_first {
        Some(base) if hidden <= MOST_HIDDEN_AT_END * length_px => {
            if base == at_first {
                Zone::Base
            } else {
                Zone::Tip
            }
        }
        _ => Zone::Unknown,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::features::colour::Colour;

    const WIDTH: f64 = 20.0;

    /// A shaft of 300 stations 2 px apart, with `rgb` of the share of the length.
    fn shaft(rgb: impl Fn(f64) -> [f64; 3]) -> Vec<Glow> {
        (0..300)
            .map(|i| {
                let at = rgb(f64::from(i) / 299.0);
                // A little noise that is the same in every run.
                let wobble = [0.3, -0.8, 0.1, 0.9, -0.5, -0.1, 0.6, -0.4][i as usize % 8] * 0.01;
                let rgb = at.map(|c| c + wobble);
                Glow {
                    s_px: f64::from(i) * 2.0,
                    light: rgb.iter().sum::<f64>() / 0.01,
                    light_sd: 3f64.sqrt(),
                    ground: 0.18 / 0.01,
                    rgb,
                    rgb_sd: [0.01; 3],
                    ground_rgb: [0.04, 0.05, 0.09],
                    width_px: Some(WIDTH),
                }
            })
            .collect()
    }

    fn ordinary(rgb: [f64; 3]) -> Ordinary {
        Ordinary {
            width_px: Some(WIDTH),
            widest_px: Some(WIDTH),
            light: rgb.iter().sum::<f64>() / 0.01,
            light_spread: 1.0,
            colour: Some(Colour { value: rgb, sd: [0.002; 3] }),
            roughness: None,
            spill: None,
            medulla: None,
        }
    }

    const DIM: [f64; 3] = [0.01, 0.02, 0.04];
    const FUNGAL: [f64; 3] = [0.02, 0.40, 0.30];

    fn told(glow: &[Glow], ordinary: Option<&Ordinary>, monochrome: bool) -> Fluorescing {
        let (along, told) = stretches(glow, Some(WIDTH), 2.0, ordinary, monochrome);
        Fluorescing { stretches: along.clone(), along, smooth: Vec::new(), told }
    }

    fn of(glow: &[Glow], ordinary: Option<&Ordinary>, base_at_first: Option<bool>) -> Zone {
        let told = told(glow, ordinary, false);
        zone(&told, 600.0, Some(WIDTH), base_at_first)
    }

    /// The course of an infection by the University of Florida open textbook "Ringworm Diagnosis": bulb and proximal
    /// shaft within the first week, the entire shaft by 12 to 14 days, then distal shaft, finally tips.
    #[test]
    fn the_zones_follow_the_course_of_an_infection() {
        let usual = ordinary(DIM);
        let stages: [(f64, f64, Zone); 6] = [
            (0.0, 0.0, Zone::None),  // before the first week
            (0.0, 0.08, Zone::Base), // bulb
            (0.0, 0.4, Zone::Base),  // bulb and proximal shaft
            (0.0, 1.0, Zone::Whole), // day 12 to 14
            (0.5, 1.0, Zone::Tip),   // growing out: distal shaft
            (0.9, 1.0, Zone::Tip),   // finally the tip
        ];
        for (from, to, expected) in stages {
            let glow = shaft(|t| if t >= from && t < to { FUNGAL } else { DIM });
            assert_eq!(of(&glow, Some(&usual), Some(true)), expected, "{from} to {to} with comparison shafts");
            assert_eq!(of(&glow, None, Some(true)), expected, "{from} to {to} by its own measure");
            let turned: Vec<Glow> = glow.iter().rev().map(|g| Glow { s_px: 598.0 - g.s_px, ..*g }).collect();
            assert_eq!(of(&turned, Some(&usual), Some(false)), expected, "{from} to {to} from the other end");
            if matches!(expected, Zone::Base | Zone::Tip) {
                assert_eq!(of(&glow, Some(&usual), None), Zone::Unknown, "the base end is not known");
            }
        }
    }

    #[test]
    fn white_hair_that_glows_like_its_comparison_shafts_does_not_fluoresce() {
        let white = [0.05, 0.18, 0.30];
        assert_eq!(of(&shaft(|_| white), Some(&ordinary(white)), Some(true)), Zone::None);
        let brighter = white.map(|c| c * 1.35);
        assert_eq!(of(&shaft(|_| brighter), Some(&ordinary(white)), Some(true)), Zone::None, "a third brighter");
        let infected = [0.05, 0.45, 0.35];
        let based = shaft(|t| if t < 0.5 { infected } else { white });
        assert_eq!(of(&based, Some(&ordinary(white)), Some(true)), Zone::Base, "greener where infected");
    }

    #[test]
    fn an_even_glow_by_its_own_measure_is_told_by_colour_or_not_at_all() {
        assert_eq!(of(&shaft(|_| [0.05, 0.15, 0.30]), None, None), Zone::None, "bluish: a hair's own glow");
        assert_eq!(of(&shaft(|_| FUNGAL), None, None), Zone::Whole);
        let grey = shaft(|_| [0.3; 3]);
        let told = told(&grey, None, true);
        assert_eq!(zone(&told, 600.0, Some(WIDTH), None), Zone::Unknown, "no colour, no word");
        assert_eq!(of(&shaft(|_| [-0.03; 3]), None, None), Zone::None, "darker than the tape");
    }

    #[test]
    fn a_tapering_white_hair_does_not_fluoresce_at_its_thick_end() {
        let mut glow = shaft(|t| [0.05, 0.15, 0.30].map(|c| c * (1.0 - 0.8 * t)));
        for g in &mut glow {
            g.width_px = Some(WIDTH * (1.0 - 0.8 * g.s_px / 598.0));
        }
        assert_eq!(of(&glow, None, Some(true)), Zone::None);
    }

    #[test]
    fn patches_are_patchy() {
        let usual = ordinary(DIM);
        let both_ends = shaft(|t| if !(0.2..=0.7).contains(&t) { FUNGAL } else { DIM });
        assert_eq!(of(&both_ends, Some(&usual), Some(true)), Zone::Patchy);
        let middle = shaft(|t| if (0.3..0.6).contains(&t) { FUNGAL } else { DIM });
        assert_eq!(of(&middle, Some(&usual), Some(true)), Zone::Patchy);
        let crumb = shaft(|t| if (0.50..0.52).contains(&t) { FUNGAL } else { DIM });
        assert_eq!(of(&crumb, Some(&usual), Some(true)), Zone::None, "shorter than a width and a half");
    }

    #[test]
    fn too_little_in_view_is_not_told() {
        let glow = shaft(|_| FUNGAL);
        assert_eq!(of(&glow[..8], Some(&ordinary(DIM)), Some(true)), Zone::Unknown);
        assert_eq!(of(&[], None, None), Zone::Unknown);
        // The first third of the shaft lies under another: whether the base glows is not known.
        let hidden: Vec<Glow> = shaft(|t| if t < 0.6 { FUNGAL } else { DIM })[100..].to_vec();
        assert_eq!(of(&hidden, Some(&ordinary(DIM)), Some(true)), Zone::Unknown);
    }

    #[test]
    fn a_thicker_shaft_is_granted_more_ordinary_light() {
        let white = [0.05, 0.15, 0.30];
        let mut usual = ordinary(white);
        usual.width_px = Some(WIDTH / 3.0);
        assert_eq!(of(&shaft(|_| white.map(|c| 10.0 * c)), Some(&usual), None), Zone::None);
        assert_eq!(of(&shaft(|_| white.map(|c| 14.0 * c)), Some(&usual), None), Zone::Whole);
        assert_eq!(
            of(&shaft(|_| white.map(|c| 3.0 * c)), Some(&ordinary(white)), None),
            Zone::None,
            "paler, not other"
        );
        assert_eq!(of(&shaft(|_| white.map(|c| 5.0 * c)), Some(&ordinary(white)), None), Zone::Whole);
        let bluish = [0.05, 0.30, 0.90];
        assert_eq!(of(&shaft(|_| bluish), Some(&ordinary(white)), None), Zone::Whole, "of another colour");
    }

    #[test]
    fn bands_of_pigment_do_not_fluoresce() {
        let banded =
            shaft(|t| [0.05, 0.15, 0.30].map(|c| if ((t * 3.0) as usize).is_multiple_of(2) { c } else { 0.3 * c }));
        assert_eq!(of(&banded, None, Some(true)), Zone::None, "brighter, not greener");
    }
}
