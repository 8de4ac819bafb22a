//! Where along the shaft it fluoresces: the rule, from light to stretches to a zone.
//!
//! 1. The channels are smoothed over a width and a half (running median).
//! 2. With comparison shafts, a station fluoresces when its light exceeds what an ordinary shaft of its width would
//!    show, by as much again (four times as much in all where its colour is theirs) and by more than the noise, the
//!    spread of the comparison shafts and a share of the ground; or when it is lit at all and plainly greener than
//!    the comparison shafts. White hair that glows like
//!    its comparison shafts therefore does not fluoresce. Ordinary light is taken to grow with width, as the mean
//!    depth of a volume does.
//! 3. Without them, the shaft is its own measure: if its bright part is, for its width, at least twice as bright as
//!    its dim part, and greener where both have a colour (pigment makes bands of brightness, not of colour), the
//!    upper part fluoresces. If it glows evenly, colour has to stand in: even light that is greener than the ground
//!    is taken for fluorescence all along, even bluish light for a hair's own glow, and without colour nothing is
//!    said.
//! 4. Hysteresis joins weaker neighbours, gaps and stretches shorter than a width and a half are dropped.
//! 5. The pattern of stretches and the base end give the zone.
//!
//! The course of an infection that the zones follow: glow in bulb and proximal shaft within the first week, the
//! entire shaft by 12 to 14 days, then confined to distal shafts, finally tips ("Ringworm Diagnosis", University of
//! Florida open textbook on shelter animal health).
//! Weakness: white hair beside black comparison shafts of a piebald cat may count as fluorescing; a bluish residue
//! no brighter than white hair does not.

use crate::maths::along::running_median;
use crate::maths::robust::{self, MEDIAN_SD_FACTOR};

use super::Zone;
use super::colour::{self, Colour};
use super::comparison::Ordinary;
use super::fluorescence::BRIGHT_QUANTILE;
use super::signals::{Glow, MIN_READINGS, Signals, channel, ground, light, noise, places, values};
use super::stretches::{Stretches, drop_short_runs, with_hysteresis};

/// Reach of the smoothing to each side, in widths. Shorter lets noise make patches, longer hides a bulb.
const SMOOTHING_REACH: f64 = 0.75;

/// Standard deviations above the ordinary level (noise, and spread of the comparison shafts) that fluorescence needs.
const LEAST_DEVIATIONS: f64 = 3.0;

/// Share of the ordinary level at this width that fluorescence needs on top of it. Pigment alone makes ordinary
/// hairs of one animal differ: on simulated slides nine in ten lie within 0.6 to 1.7 of their median at equal width.
const LEAST_EXCESS: f64 = 1.0;

/// The same for a station whose colour is that of the comparison shafts: then pigment is the likelier reason, which
/// dims a hair's own glow up to thirteenfold (J. Cosmet. Sci. 62 (2011), Table V) and hardly changes its colour.
const LEAST_EXCESS_SAME_COLOUR: f64 = 3.0;

/// How much greener or bluer a station may be and still be of the comparison shafts' colour.
const SAME_COLOUR: f64 = 0.15;

/// Share of the ground's light that fluorescence needs: the background is not known better than a few per cent.
const LEAST_OF_GROUND: f64 = 0.08;

/// How much greener than the comparison shafts a lit station must be to fluoresce, on the scale of
/// `colour.green_blue_to_comparison`: green against blue 1.9 times the ordinary ratio. A quarter of fungal light
/// mixed into keratin's makes 1.65 times, a half 2.6 times (computed with the CIE 1931 observer and sRGB primaries
/// from Gaussian bands at 455 and 500 nm).
const GREENER_THAN_ORDINARY: f64 = 0.3;

/// The lower threshold of the hysteresis, as a share of the way from the ordinary level to the upper one.
const LOWER_SHARE: f64 = 0.6;

/// How many times brighter for its width the bright part must be than the dim part when the shaft is its own measure.
const OWN_CONTRAST: f64 = 2.0;

/// The same where comparison shafts are at hand: pigment in bands makes up to that much.
const OWN_CONTRAST_BESIDE_ORDINARY: f64 = 3.0;

/// How much greener than the least green part of a shaft its most green part must be when the shaft is its own
/// measure.
const OWN_GREENER: f64 = 0.15;

/// How many times as bright as the rest a greener stretch must be: fungal light comes on top of the hair's own, while
/// a pale green rest beside a brighter blue part is pigment's work. Residue and broken pigment may take a little away.
const LEAST_BRIGHTER: f64 = 0.8;

/// Share of the stations that must be bright enough to have a colour for colour to be asked.
const LEAST_COLOURED: f64 = 0.6;

/// Share of the length below the "dim" light when the shaft is its own measure.
const DIM_QUANTILE: f64 = 0.15;

/// How much greener than the ground an even glow must be to count as fluorescence without comparison shafts, on the
/// scale of `colour.green_blue_to_ground`. Keratin on a bluish tape stays near 0; yellowed hair
/// may reach 0.4 and a faint infection fall to 0.2, so that this is the weakest step of the rule.
const GREENER_THAN_GROUND: f64 = 0.25;

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

/// A shaft's light and colour along it, smoothed over a width and a half.
struct Smooth {
    /// Light.
    light: Vec<f64>,
    /// Green and blue (red, which nothing here asks for, is left at 0); empty for a monochrome photo.
    rgb: Vec<[f64; 3]>,
    /// Width of the shaft at each station relative to its median; 1 where it is not known.
    relative_width: Vec<f64>,
    /// One standard deviation of the smoothed channels.
    rgb_sd: [f64; 3],
    /// Light that is more than noise and more than the ground is uncertain by.
    least: f64,
}

impl Smooth {
    fn new(glow: &[Glow], width_px: Option<f64>, step_px: f64, monochrome: bool) -> Smooth {
        let reading = light(glow);
        let at = places(&reading);
        let reach = reach_px(width_px, step_px);
        // Half the stations of a window are taken to be independent: neighbours share blur and resampled pixels.
        let independent = (reach / step_px).max(1.0);
        let quieter = if independent > 1.0 { (MEDIAN_SD_FACTOR / independent.sqrt()).min(1.0) } else { 1.0 };
        let channels = [0, 1, 2].map(|c| channel(glow, c));
        let rgb = if monochrome {
            Vec::new()
        } else {
            let [green, blue] =
                [colour::GREEN, colour::BLUE].map(|c| running_median(&at, &values(&channels[c]), reach));
            green.into_iter().zip(blue).map(|(green, blue)| [0.0, green, blue]).collect()
        };
        let widths: Vec<f64> = glow.iter().map(|g| g.width_px.or(width_px).unwrap_or(1.0)).collect();
        let usual = width_px.unwrap_or(1.0);
        let light_sd = noise(&reading) * quieter;
        Smooth {
            light: smooth_light(glow, width_px, step_px),
            rgb,
            relative_width: running_median(&at, &widths, reach).into_iter().map(|w| w / usual).collect(),
            rgb_sd: channels.map(|c| noise(&c) * quieter),
            least: (LEAST_DEVIATIONS * light_sd).max(LEAST_OF_GROUND * ground(glow)),
        }
    }

    /// Whether enough of the shaft is bright enough to have a colour.
    fn has_colours(&self) -> bool {
        let Some(colour) = self.colour() else { return false };
        let seen = self.greener(Some(&colour)).iter().flatten().count();
        seen as f64 >= LEAST_COLOURED * self.light.len() as f64
    }

    /// Median colour along the shaft; `None` for a monochrome photo.
    fn colour(&self) -> Option<Colour> {
        let middle = |c: usize| robust::median(&self.rgb.iter().map(|rgb| rgb[c]).collect::<Vec<_>>());
        Some(Colour { value: [middle(0)?, middle(1)?, middle(2)?], sd: self.rgb_sd })
    }

    /// How much greener than the reference each station is; `None` where it is too dim to have a colour.
    fn greener(&self, reference: Option<&Colour>) -> Vec<Option<f64>> {
        let one = |i: usize| {
            let value = *self.rgb.get(i)?;
            if self.light[i] < self.least {
                return None;
            }
            colour::relative(&Colour { value, sd: self.rgb_sd }, reference?, colour::GREEN, colour::BLUE)
        };
        (0..self.light.len()).map(one).collect()
    }
}

fn reach_px(width_px: Option<f64>, step_px: f64) -> f64 {
    SMOOTHING_REACH * width_px.unwrap_or(step_px)
}

/// The light along a shaft smoothed over a width and a half.
pub(super) fn smooth_light(glow: &[Glow], width_px: Option<f64>, step_px: f64) -> Vec<f64> {
    let reading = light(glow);
    running_median(&places(&reading), &values(&reading), reach_px(width_px, step_px))
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

/// The stretches of a shaft that stands out against its own dim part.
struct Own {
    stretches: Stretches,
    /// How many times brighter for its width the bright part is than the dim one.
    contrast: f64,
    /// Whether its colour stands out.
    by_colour: bool,
}

/// The stretches of a shaft that stands out against its own dim part; `None` when it does not.
///
/// A stretch may stand out by its light or by its colour: where the camera clips the light, colour is what remains.
fn by_own_measure(glow: &[Glow], smooth: &Smooth, judged: &dyn Fn(&[bool], &[bool]) -> Stretches) -> Option<Own> {
    let light = light_scores(smooth);
    let green = green_scores(smooth);
    let by_colour = green.is_some();
    let (scores, contrast): (Vec<f64>, f64) = match (light, green) {
        // Colour first: the light of ordinary hair changes with width and pigment.
        (Some((light, contrast)), Some(green)) => {
            (light.iter().zip(green).map(|(light, green)| green.unwrap_or(*light)).collect(), contrast)
        }
        (None, Some(green)) => (green.iter().map(|green| green.unwrap_or(0.0)).collect(), 1.0),
        // With colours that do not differ, pigment is the likelier reason.
        (Some((light, contrast)), None) if !smooth.has_colours() => (light, contrast),
        _ => return None,
    };
    let over = |share: f64| -> Vec<bool> { scores.iter().map(|score| *score > share).collect() };
    let stretches = judged(&over(0.5), &over(0.5 * LOWER_SHARE));
    // The dim part has no colour to compare with: then the bright one must at least be greener than the ground.
    let like_ground = || {
        let bright = colour::of_glow(glow, &stretches).zip(colour::of_ground(glow));
        bright.and_then(|(b, g)| colour::relative(&b, &g, colour::GREEN, colour::BLUE)).is_some_and(|g| g < OWN_GREENER)
    };
    if !by_colour && !smooth.rgb.is_empty() && like_ground() {
        return None;
    }
    let brighter = stretches_brighter(smooth, &stretches)?;
    (!by_colour || brighter > LEAST_BRIGHTER).then_some(Own { stretches, contrast, by_colour })
}

/// How many times brighter what fluoresces is than the rest of the shaft, by medians.
fn stretches_brighter(smooth: &Smooth, stretches: &Stretches) -> Option<f64> {
    let part = |wanted: bool| {
        let lit = smooth.light.iter().zip(&stretches.lit).filter(|(_, lit)| **lit == wanted).map(|(l, _)| *l);
        robust::median(&lit.collect::<Vec<_>>())
    };
    Some(part(true)? / part(false)?.max(smooth.least))
}

/// Where each station's light for its width lies between the shaft's dim and bright parts, 0 to 1 in ratio (glow
/// fades out over a few widths, and its brightest part may be far brighter than the rest), and how many times brighter
/// the bright part is; `None` where that is too little.
fn light_scores(smooth: &Smooth) -> Option<(Vec<f64>, f64)> {
    let for_width: Vec<f64> = smooth.light.iter().zip(&smooth.relative_width).map(|(l, w)| l / w.max(0.1)).collect();
    let dim = robust::quantile(&for_width, DIM_QUANTILE)?;
    let bright = robust::quantile(&for_width, BRIGHT_QUANTILE)?;
    if bright - dim < 2.0 * smooth.least || bright < OWN_CONTRAST * dim {
        return None;
    }
    let floor = dim.max(smooth.least);
    let contrast = bright / floor;
    let scores = for_width.iter().map(|light| (light.max(1e-9) / floor).ln() / contrast.ln()).collect();
    Some((scores, contrast))
}

/// Where each station's green against blue lies between the shaft's least and most green parts, 0 to 1; `None` where
/// they are alike, or too few stations have a colour.
fn green_scores(smooth: &Smooth) -> Option<Vec<Option<f64>>> {
    let own = smooth.greener(Some(&smooth.colour()?));
    let seen: Vec<f64> = own.iter().flatten().copied().collect();
    if (seen.len() as f64) < LEAST_COLOURED * own.len() as f64 || seen.len() < MIN_READINGS {
        return None;
    }
    let least = robust::quantile(&seen, DIM_QUANTILE)?;
    let most = robust::quantile(&seen, BRIGHT_QUANTILE)?;
    if most - least < OWN_GREENER {
        return None;
    }
    Some(own.iter().map(|greener| greener.map(|greener| (greener - least) / (most - least))).collect())
}

/// Whether a shaft that does not stand out against itself fluoresces all along, and whether that can be told.
fn by_colour_alone(glow: &[Glow], smooth: &Smooth, monochrome: bool) -> (bool, bool) {
    if robust::median(&smooth.light).is_none_or(|level| level < smooth.least) {
        return (false, true);
    }
    if monochrome {
        return (false, false);
    }
    let greener = colour::of_all(glow)
        .zip(colour::of_ground(glow))
        .and_then(|(shaft, ground)| colour::relative(&shaft, &ground, colour::GREEN, colour::BLUE));
    (greener.is_some_and(|greener| greener >= GREENER_THAN_GROUND), greener.is_some())
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
