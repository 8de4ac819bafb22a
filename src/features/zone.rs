//! Where along the shaft it fluoresces: the rule, from light to stretches to a zone.
//!
//! 1. The light and the green channel are smoothed over a width and a half (running median).
//! 2. With comparison shafts, a station fluoresces when its light, or its green alone, stands above an ordinary
//!    shaft's by more than the noise, more than the comparison shafts differ, half the ordinary level, and a share of
//!    the ground. A thicker shaft is allowed proportionally more ordinary light, up to twice. White hair that glows
//!    like its comparison shafts therefore does not fluoresce.
//! 3. Without them, the shaft is its own measure: if its bright part is at least twice as bright as its dim part,
//!    and not only because it is thicker, the upper part fluoresces. If it glows evenly, colour has to stand in: even
//!    light that is greener than the ground is taken for fluorescence all along, even bluish light for a hair's own
//!    glow, and without colour nothing is said.
//! 4. Hysteresis joins weaker neighbours, gaps and stretches shorter than a width and a half are dropped.
//! 5. The pattern of stretches and the base end give the zone.
//!
//! The course of an infection that the zones follow: glow in bulb and proximal shaft within the first week, the
//! entire shaft by 12 to 14 days, then confined to distal shafts, finally tips ("Ringworm Diagnosis", University of
//! Florida open textbook on shelter animal health).
//! Weakness: white hair beside black comparison shafts of a piebald cat counts as fluorescing.

use crate::maths::along::running_median;
use crate::maths::robust::{self, MEDIAN_SD_FACTOR};

use super::Zone;
use super::colour;
use super::comparison::Ordinary;
use super::fluorescence::BRIGHT_QUANTILE;
use super::signals::{Glow, MIN_READINGS, Reading, channel, ground, light, noise, places, values};
use super::stretches::{Stretches, drop_short_runs, with_hysteresis};

/// Reach of the smoothing to each side, in widths. Shorter lets noise make patches, longer hides a bulb.
const SMOOTHING_REACH: f64 = 0.75;

/// Standard deviations above the ordinary level (noise, and spread of the comparison shafts) that fluorescence needs.
const LEAST_DEVIATIONS: f64 = 3.0;

/// Share of the ordinary level that fluorescence needs on top of it. Ordinary hairs of one animal differ by pigment
/// and thickness; under a half, every second white hair would fluoresce.
const LEAST_EXCESS: f64 = 0.5;

/// Share of the ground's light that fluorescence needs: the background is not known better than a few per cent.
const LEAST_OF_GROUND: f64 = 0.08;

/// Most that a shaft may be thicker than the comparison shafts and be granted more ordinary light for it. Infection
/// thickens a shaft up to twice; a larger grant would hide infected hair behind its own swelling.
const MOST_THICKER: f64 = 2.0;

/// The lower threshold of the hysteresis, as a share of the way from the ordinary level to the upper one.
const LOWER_SHARE: f64 = 0.6;

/// How many times brighter the bright part must be than the dim part when the shaft is its own measure. An even
/// volume's brightness follows its width, and most tapers change that less than twofold.
const OWN_CONTRAST: f64 = 2.0;

/// How many times brighter the bright part must be for its width.
const OWN_CONTRAST_PER_WIDTH: f64 = 1.4;

/// Share of the length below the "dim" light when the shaft is its own measure.
const DIM_QUANTILE: f64 = 0.15;

/// How much greener than the ground an even glow must be to count as fluorescence without comparison shafts, on the
/// scale of `colour.green_blue_to_ground`. Keratin on a bluish tape stays near 0; a fungal glow lies well above 0.3.
const GREENER_THAN_GROUND: f64 = 0.2;

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
    /// The stretches.
    pub(super) stretches: Stretches,
    /// Smoothed light, one value a station.
    pub(super) smooth: Vec<f64>,
    /// False where an even glow could be neither held for ordinary nor for fluorescence.
    pub(super) told: bool,
}

/// Which stations of a shaft fluoresce; see the module's rule.
pub(super) fn fluorescing(
    glow: &[Glow],
    width_px: Option<f64>,
    step_px: f64,
    ordinary: Option<&Ordinary>,
    monochrome: bool,
) -> Fluorescing {
    let reading = light(glow);
    let places = places(&reading);
    let reach = SMOOTHING_REACH * width_px.unwrap_or(step_px);
    let smooth = running_median(&places, &values(&reading), reach);
    let blank = |flag: bool| Stretches::new(&places, vec![flag; glow.len()], step_px);
    if glow.len() < MIN_READINGS {
        return Fluorescing { stretches: blank(false), smooth, told: false };
    }
    // Half the stations of a window are taken to be independent: neighbours share blur and resampled pixels.
    let independent = (reach / step_px).max(1.0);
    let quieter = if independent > 1.0 { (MEDIAN_SD_FACTOR / independent.sqrt()).min(1.0) } else { 1.0 };
    let fewest = ((SHORTEST_RUN * width_px.unwrap_or(0.0) / step_px).ceil() as usize).max(SHORTEST_RUN_STATIONS);
    let judged = |high: &[bool], low: &[bool]| {
        let mut lit = with_hysteresis(high, low);
        drop_short_runs(&mut lit, false, fewest, false);
        drop_short_runs(&mut lit, true, fewest, true);
        Stretches::new(&places, lit, step_px)
    };
    let ground_light = ground(glow);
    if let Some(ordinary) = ordinary {
        let thicker = match (width_px, ordinary.width_px) {
            (Some(width), Some(usual)) => (width / usual).clamp(1.0, MOST_THICKER),
            _ => 1.0,
        };
        let green = channel(glow, colour::GREEN);
        let smooth_green = running_median(&places, &values(&green), reach);
        let ground_green = robust::median(&glow.iter().map(|g| g.ground_rgb[colour::GREEN]).collect::<Vec<_>>());
        let by_light = Bar::new(&reading, quieter, ordinary.light, ordinary.light_spread, thicker, ground_light);
        let by_green = Bar::new(
            &green,
            quieter,
            ordinary.green,
            ordinary.green_spread,
            thicker,
            ground_green.unwrap_or(0.0).max(0.0),
        );
        let over = |share: f64| -> Vec<bool> {
            smooth
                .iter()
                .zip(&smooth_green)
                .map(|(light, green)| *light > by_light.at(share) || (!monochrome && *green > by_green.at(share)))
                .collect()
        };
        return Fluorescing { stretches: judged(&over(1.0), &over(LOWER_SHARE)), smooth, told: true };
    }
    let sd = noise(&reading) * quieter;
    let (Some(dim), Some(bright)) =
        (robust::quantile(&smooth, DIM_QUANTILE), robust::quantile(&smooth, BRIGHT_QUANTILE))
    else {
        return Fluorescing { stretches: blank(false), smooth, told: false };
    };
    let least = (LEAST_DEVIATIONS * sd).max(LEAST_OF_GROUND * ground_light);
    if bright < least {
        return Fluorescing { stretches: blank(false), smooth, told: true };
    }
    if bright - dim > 2.0 * least && bright > OWN_CONTRAST * dim {
        let over = |share: f64| -> Vec<bool> {
            let bar = dim + share * (bright - dim);
            smooth.iter().map(|light| *light > bar).collect()
        };
        let stretches = judged(&over(0.5), &over(0.5 * LOWER_SHARE));
        if brighter_for_its_width(glow, &stretches) {
            return Fluorescing { stretches, smooth, told: true };
        }
    }
    if robust::median(&smooth).is_none_or(|level| level < least) {
        return Fluorescing { stretches: blank(false), smooth, told: true };
    }
    let greener = if monochrome {
        None
    } else {
        colour::of_all(glow)
            .zip(colour::of_ground(glow))
            .and_then(|(shaft, ground)| colour::relative(&shaft, &ground, colour::GREEN, colour::BLUE))
    };
    let whole = greener.is_some_and(|greener| greener >= GREENER_THAN_GROUND);
    Fluorescing { stretches: blank(whole), smooth, told: greener.is_some() }
}

/// The ordinary level of a signal and how far above it fluorescence begins.
struct Bar {
    ordinary: f64,
    excess: f64,
}

impl Bar {
    fn new(signal: &[Reading], quieter: f64, level: f64, spread: f64, thicker: f64, ground: f64) -> Bar {
        // A shaft darker than the tape does not get darker by being granted more light.
        let ordinary = level.max(0.0) * thicker + level.min(0.0);
        let excess = (LEAST_DEVIATIONS * noise(signal) * quieter)
            .max(LEAST_DEVIATIONS * spread)
            .max(LEAST_EXCESS * ordinary.abs())
            .max(LEAST_OF_GROUND * ground);
        Bar { ordinary, excess }
    }

    fn at(&self, share: f64) -> f64 {
        self.ordinary + share * self.excess
    }
}

/// Whether the fluorescing part is brighter than the rest also when each is divided by its width; true where widths
/// are not known.
fn brighter_for_its_width(glow: &[Glow], lit: &Stretches) -> bool {
    let per_width = |wanted: bool| {
        let chosen: Vec<f64> = glow
            .iter()
            .zip(&lit.lit)
            .filter(|(_, lit)| **lit == wanted)
            .filter_map(|(g, _)| Some(g.light / g.width_px?))
            .collect();
        (chosen.len() >= MIN_READINGS).then(|| robust::median(&chosen)).flatten()
    };
    match (per_width(true), per_width(false)) {
        (Some(bright), Some(dim)) => bright > OWN_CONTRAST_PER_WIDTH * dim,
        _ => true,
    }
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
    let stretches = &fluorescing.stretches;
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
            green: rgb[1],
            green_spread: 0.01,
            colour: Some(Colour { value: rgb, sd: [0.002; 3] }),
            roughness: None,
            spill: None,
            medulla: None,
        }
    }

    const DIM: [f64; 3] = [0.01, 0.02, 0.04];
    const FUNGAL: [f64; 3] = [0.02, 0.40, 0.30];

    fn of(glow: &[Glow], ordinary: Option<&Ordinary>, base_at_first: Option<bool>) -> Zone {
        let told = fluorescing(glow, Some(WIDTH), 2.0, ordinary, false);
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
        let told = fluorescing(&grey, Some(WIDTH), 2.0, None, true);
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
    fn a_thicker_shaft_is_granted_more_ordinary_light_and_not_more_than_twice() {
        let white = [0.05, 0.15, 0.30];
        let mut usual = ordinary(white);
        usual.width_px = Some(WIDTH / 1.8);
        assert_eq!(of(&shaft(|_| white.map(|c| 1.8 * c)), Some(&usual), None), Zone::None);
        usual.width_px = Some(WIDTH / 8.0);
        assert_eq!(of(&shaft(|_| white.map(|c| 8.0 * c)), Some(&usual), None), Zone::Whole);
    }
}
