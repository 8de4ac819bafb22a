//! The comparison shafts: which they are, and what is ordinary on this photo.
//!
//! A user's marks are taken as they are. Without marks the program chooses, and rather chooses none than a doubtful
//! one: a comparison shaft must be long and clear enough, smooth, of one colour along its length and that colour not
//! greener than the tape's haze, and neither a ribbon nor a plain filament. Where none is, at least three that are
//! very smooth, very even in colour and alike may be greener than the haze: yellowed hair is. Of the candidates those
//! are kept that agree with their middle in colour and in light for their width. The bounds were set on simulated
//! slides drawn for training.
//! Weakness: a slide that bears only smooth infected hairs, blurred and little greener than the tape, would compare
//! them with themselves; a dull textile fibre may pass.

use crate::maths::robust;

use super::colour::{self, Colour};

/// Fewest clear stations of a comparison shaft.
const LEAST_STATIONS: usize = 12;

/// Shortest comparison shaft, in widths; shorter pieces are often broken hair or debris.
const LEAST_WIDTHS: f64 = 8.0;

/// Roughest outline of a comparison shaft, share of the width. On simulated slides three in four ordinary shafts lie
/// below 0.005 and three in four shafts infected all along above 0.011.
const MOST_ROUGHNESS: f64 = 0.01;

/// Most blur as a share of the width for a shaft whose roughness cannot be told: it must at least be well in focus
/// for its colour and taper to mean something.
const MOST_BLUR: f64 = 0.5;

/// Most spill beside a comparison shaft; blur is allowed for already.
const MOST_SPILL: f64 = 0.1;

/// Most spread and swelling of the width: ordinary hair reaches 0.14 and 0.18, twisted ribbons twice that.
const MOST_SPREAD: f64 = 0.16;
/// See [`MOST_SPREAD`].
const MOST_SWELLING: f64 = 0.2;

/// Spread and taper below which a shaft is a filament of constant width and not hair.
const FILAMENT_SPREAD: f64 = 0.012;
/// See [`FILAMENT_SPREAD`].
const FILAMENT_TAPER: f64 = 0.02;

/// Most variation of the colour along a comparison shaft; partly infected shafts lie above 0.05.
const MOST_VARIATION: f64 = 0.035;

/// Most that a comparison shaft may be greener than the ground, on the scale of `colour.green_blue_to_ground`.
const MOST_GREENER: f64 = 0.2;

/// Least on the same scale: optical brighteners are far bluer than any hair.
const LEAST_GREENER: f64 = -0.8;

/// Most that the brightest twentieth may exceed the dimmest, as (a − b) / (a + b + noise); pigment and taper alone
/// make up to 0.7.
const MOST_RANGE: f64 = 0.7;

/// Most roughness and variation of colour of the several alike shafts that may be greener than the ground.
const ALIKE_ROUGHNESS: f64 = 0.006;
/// See [`ALIKE_ROUGHNESS`].
const ALIKE_VARIATION: f64 = 0.02;

/// Fewest alike shafts that may be greener than the ground: one or two infected hairs may look smooth by chance.
const LEAST_ALIKE: usize = 3;

/// Most that a candidate's colour may differ from the candidates' middle, on the scale of
/// `colour.green_blue_to_comparison`.
const MOST_OTHER_COLOUR: f64 = 0.2;

/// How many times as bright for its width as the candidates' middle one may be, or the middle as it. On simulated
/// slides nine in ten ordinary hairs lie within 0.6 to 1.7.
const MOST_OTHER_LIGHT: f64 = 2.0;

/// How many standard deviations of a station apart is always near enough, however dim.
const NEAR_DEVIATIONS: f64 = 4.0;

/// What share of the ground's light apart is always near enough: the background is not known better.
const NEAR_OF_GROUND: f64 = 0.1;

/// What is known of one shaft before any is compared.
#[derive(Clone, Debug, Default)]
pub(super) struct Summary {
    /// Clear stations.
    pub(super) n_stations: usize,
    /// Length, pixels.
    pub(super) length_px: f64,
    /// Median width, pixels.
    pub(super) width_px: Option<f64>,
    /// Median light.
    pub(super) light: Option<f64>,
    /// Standard deviation of one station's light.
    pub(super) light_sd: f64,
    /// Spread of the light along the shaft, noise taken away.
    pub(super) light_spread: f64,
    /// Median light of the ground.
    pub(super) ground: f64,
    /// Spread of the width along the shaft.
    pub(super) spread: Option<f64>,
    /// Taper.
    pub(super) taper: Option<f64>,
    /// Largest swelling.
    pub(super) swelling: Option<f64>,
    /// Blur as a share of the width.
    pub(super) blur_to_width: Option<f64>,
    /// Variation of the colour along the shaft.
    pub(super) variation: Option<f64>,
    /// Colour of the whole shaft, unless the photo is monochrome.
    pub(super) colour: Option<Colour>,
    /// How much greener than bluer it is than the ground.
    pub(super) greener_than_ground: Option<f64>,
    /// Brightest against dimmest along the shaft.
    pub(super) range: Option<f64>,
    /// Roughness of the outline.
    pub(super) roughness: Option<f64>,
    /// Spill beside the outline.
    pub(super) spill: Option<f64>,
    /// Depth of the medulla.
    pub(super) medulla: Option<f64>,
    /// Whether its width is only an upper bound or its trace is doubtful.
    pub(super) doubtful: bool,
}

/// What is ordinary: medians over the comparison shafts.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Ordinary {
    /// Width, pixels.
    pub(super) width_px: Option<f64>,
    /// Width of the widest, pixels.
    pub(super) widest_px: Option<f64>,
    /// Light of one of that width.
    pub(super) light: f64,
    /// Spread of the light among and along them at that width.
    pub(super) light_spread: f64,
    /// Colour of the glow; its signal may be too weak to be one.
    pub(super) colour: Option<Colour>,
    /// Roughness.
    pub(super) roughness: Option<f64>,
    /// Spill.
    pub(super) spill: Option<f64>,
    /// Depth of the medulla.
    pub(super) medulla: Option<f64>,
}

impl Ordinary {
    /// Light that an ordinary shaft of this width would show: in proportion to the width, as the mean depth of a
    /// volume is. A shaft darker than the tape is not taken to be darker when it is thicker.
    pub(super) fn light_at(&self, width_px: Option<f64>) -> f64 {
        at_width(self.light, self.width_px, width_px)
    }
}

/// Light of a shaft of width `from_px` as it would be at width `to_px`; unchanged where a width is not known or the
/// light is below 0.
fn at_width(light: f64, from_px: Option<f64>, to_px: Option<f64>) -> f64 {
    match (from_px, to_px) {
        (Some(from), Some(to)) if light > 0.0 && from > 0.0 => light * to / from,
        _ => light,
    }
}

/// Which shafts serve for comparison: the marked ones, or what the program holds for plainly ordinary.
pub(super) fn choose(summaries: &[Summary], marked: Option<&[usize]>) -> Vec<bool> {
    if let Some(marked) = marked {
        return (0..summaries.len()).map(|i| marked.contains(&i) && summaries[i].light.is_some()).collect();
    }
    let mut candidates: Vec<bool> =
        summaries.iter().map(|shaft| may_be_ordinary(shaft) && is_hair_coloured(shaft)).collect();
    if !candidates.contains(&true) {
        candidates = summaries.iter().map(|shaft| may_be_ordinary(shaft) && is_plain(shaft)).collect();
        if candidates.iter().filter(|&&candidate| candidate).count() < LEAST_ALIKE {
            return vec![false; summaries.len()];
        }
        let agreed = agreeing(summaries, &candidates);
        let enough = agreed.iter().filter(|&&agrees| agrees).count() >= LEAST_ALIKE;
        return if enough { agreed } else { vec![false; summaries.len()] };
    }
    agreeing(summaries, &candidates)
}

/// The candidates that agree with their middle in colour and in light for their width.
fn agreeing(summaries: &[Summary], candidates: &[bool]) -> Vec<bool> {
    let known: Vec<&Summary> =
        summaries.iter().zip(candidates).filter(|(_, candidate)| **candidate).map(|(summary, _)| summary).collect();
    let colour = common_colour(&known);
    let usual = robust::median(&known.iter().filter_map(|s| s.width_px).collect::<Vec<_>>());
    let light = |s: &Summary| s.light.map(|light| at_width(light, s.width_px, usual));
    let middle = robust::median(&known.iter().filter_map(|s| light(s)).collect::<Vec<_>>());
    let agrees = |s: &Summary| {
        let (Some(light), Some(middle)) = (light(s), middle) else {
            return false;
        };
        let near = (NEAR_DEVIATIONS * s.light_sd).max(NEAR_OF_GROUND * s.ground);
        let like_light = (light - middle).abs() <= near
            || (light <= MOST_OTHER_LIGHT * middle && middle <= MOST_OTHER_LIGHT * light);
        let other =
            s.colour.zip(colour).and_then(|(own, common)| colour::relative(&own, &common, colour::GREEN, colour::BLUE));
        like_light && other.is_none_or(|other| other.abs() <= MOST_OTHER_COLOUR)
    };
    summaries.iter().zip(candidates).map(|(summary, candidate)| *candidate && agrees(summary)).collect()
}

/// Whether everything but its colour is as of an ordinary hair that is seen well enough.
fn may_be_ordinary(shaft: &Summary) -> bool {
    let (Some(width_px), Some(_)) = (shaft.width_px, shaft.light) else {
        return false;
    };
    let at_most = |value: Option<f64>, most: f64| value.is_none_or(|value| value <= most);
    let filament = shaft.spread.is_some_and(|spread| spread < FILAMENT_SPREAD)
        && shaft.taper.is_some_and(|taper| taper < FILAMENT_TAPER);
    !shaft.doubtful
        && shaft.n_stations >= LEAST_STATIONS
        && shaft.length_px >= LEAST_WIDTHS * width_px
        && at_most(shaft.roughness, MOST_ROUGHNESS)
        && (shaft.roughness.is_some() || at_most(shaft.blur_to_width, MOST_BLUR))
        && at_most(shaft.spill, MOST_SPILL)
        && at_most(shaft.spread, MOST_SPREAD)
        && at_most(shaft.swelling, MOST_SWELLING)
        && at_most(shaft.variation, MOST_VARIATION)
        && at_most(shaft.range, MOST_RANGE)
        && !filament
}

/// Whether its colour is that of unstained hair; a shaft too dim to have a colour is not held for a coloured one.
fn is_hair_coloured(shaft: &Summary) -> bool {
    shaft.greener_than_ground.is_none_or(|greener| (LEAST_GREENER..=MOST_GREENER).contains(&greener))
}

/// Whether it is seen so well and found so smooth and even that a greener colour may be its own.
fn is_plain(shaft: &Summary) -> bool {
    shaft.roughness.is_some_and(|roughness| roughness <= ALIKE_ROUGHNESS)
        && shaft.variation.is_some_and(|variation| variation <= ALIKE_VARIATION)
        && shaft.greener_than_ground.is_some_and(|greener| greener > MOST_GREENER)
}

/// What is ordinary for the shaft `for_shaft`: medians over the comparison shafts without itself. `None` when none is left.
pub(super) fn ordinary(summaries: &[Summary], chosen: &[bool], for_shaft: usize) -> Option<Ordinary> {
    let others: Vec<&Summary> =
        summaries.iter().enumerate().filter(|(i, _)| *i != for_shaft && chosen[*i]).map(|(_, s)| s).collect();
    let known = |pick: fn(&Summary) -> Option<f64>| others.iter().filter_map(|s| pick(s)).collect::<Vec<f64>>();
    let middle = |pick: fn(&Summary) -> Option<f64>| robust::median(&known(pick));
    let usual = middle(|s| s.width_px);
    // Spread among the shafts and along each of them, added in quadrature.
    let lights: Vec<f64> = others.iter().filter_map(|s| Some(at_width(s.light?, s.width_px, usual))).collect();
    let along: Vec<f64> = others.iter().map(|s| at_width(s.light_spread, s.width_px, usual)).collect();
    Some(Ordinary {
        width_px: usual,
        widest_px: known(|s| s.width_px).into_iter().reduce(f64::max),
        light: robust::median(&lights)?,
        light_spread: robust::spread(&lights).unwrap_or(0.0).hypot(robust::median(&along).unwrap_or(0.0)),
        colour: common_colour(&others),
        roughness: middle(|s| s.roughness),
        spill: middle(|s| s.spill),
        medulla: middle(|s| s.medulla),
    })
}

/// Median colour, with the median of the single standard deviations: not divided by their number, because hairs
/// differ by more than their noise.
fn common_colour(shafts: &[&Summary]) -> Option<Colour> {
    let colours: Vec<Colour> = shafts.iter().filter_map(|s| s.colour).collect();
    let mut common = Colour { value: [0.0; 3], sd: [0.0; 3] };
    for channel in 0..3 {
        common.value[channel] = robust::median(&colours.iter().map(|c| c.value[channel]).collect::<Vec<_>>())?;
        common.sd[channel] = robust::median(&colours.iter().map(|c| c.sd[channel]).collect::<Vec<_>>())?;
    }
    Some(common)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hair() -> Summary {
        Summary {
            n_stations: 200,
            length_px: 600.0,
            width_px: Some(20.0),
            light: Some(40.0),
            light_sd: 1.0,
            light_spread: 3.0,
            ground: 30.0,
            spread: Some(0.06),
            taper: Some(0.15),
            swelling: Some(0.05),
            blur_to_width: Some(0.1),
            variation: Some(0.01),
            colour: Some(Colour { value: [0.01, 0.02, 0.04], sd: [0.001; 3] }),
            greener_than_ground: Some(-0.1),
            range: Some(0.3),
            roughness: Some(0.003),
            spill: Some(0.01),
            medulla: Some(0.3),
            doubtful: false,
        }
    }

    #[test]
    fn ordinary_hair_is_chosen_and_the_rest_is_not() {
        let others = [
            ("infected all along", Summary { roughness: Some(0.016), greener_than_ground: Some(0.5), ..hair() }),
            ("infected in part", Summary { variation: Some(0.2), ..hair() }),
            ("coated", Summary { spill: Some(0.3), ..hair() }),
            ("rough", Summary { roughness: Some(0.02), ..hair() }),
            ("green fibre", Summary { greener_than_ground: Some(0.87), ..hair() }),
            ("brightened fibre", Summary { greener_than_ground: Some(-1.0), ..hair() }),
            ("filament", Summary { spread: Some(0.008), taper: Some(0.01), ..hair() }),
            ("cotton", Summary { spread: Some(0.25), swelling: Some(0.29), ..hair() }),
            ("few stations", Summary { n_stations: 6, ..hair() }),
            ("short", Summary { length_px: 100.0, ..hair() }),
            ("doubtful", Summary { doubtful: true, ..hair() }),
            ("no width", Summary { width_px: None, ..hair() }),
            ("no light", Summary { light: None, ..hair() }),
            ("uneven", Summary { range: Some(0.9), ..hair() }),
            ("blurred beyond telling", Summary { roughness: None, blur_to_width: Some(0.7), ..hair() }),
        ];
        for (what, other) in others {
            assert_eq!(choose(&[hair(), other], None), [true, false], "{what}");
        }
        let dark = Summary { light: Some(-5.0), colour: None, greener_than_ground: None, variation: None, ..hair() };
        assert_eq!(choose(&[dark], None), [true], "too dark to have a colour");
        assert!(choose(&[], None).is_empty());
    }

    #[test]
    fn only_what_agrees_with_the_middle_is_kept() {
        let thick = Summary { width_px: Some(60.0), light: Some(120.0), ..hair() };
        let bright = Summary { light: Some(90.0), ..hair() };
        let dim = Summary { light: Some(15.0), ..hair() };
        let greener = Summary { colour: Some(Colour { value: [0.01, 0.04, 0.04], sd: [0.001; 3] }), ..hair() };
        assert_eq!(
            choose(&[hair(), thick, bright, hair(), dim, greener], None),
            [true, true, false, true, false, false]
        );
    }

    #[test]
    fn several_plain_and_alike_hairs_may_be_yellowed() {
        let yellowed = Summary { greener_than_ground: Some(0.5), ..hair() };
        assert_eq!(choose(&[yellowed.clone(), yellowed.clone()], None), [false; 2], "two may be chance");
        assert_eq!(choose(&[yellowed.clone(), yellowed.clone(), yellowed.clone()], None), [true; 3]);
        let rough = Summary { roughness: Some(0.008), ..yellowed.clone() };
        assert_eq!(choose(&[rough.clone(), rough.clone(), rough], None), [false; 3]);
        assert_eq!(choose(&[yellowed.clone(), yellowed.clone(), yellowed, hair()], None), [false, false, false, true]);
    }

    #[test]
    fn marks_are_obeyed() {
        let crowd = [hair(), Summary { roughness: Some(0.08), ..hair() }, Summary { light: None, ..hair() }];
        assert_eq!(choose(&crowd, Some(&[1, 2, 77])), [false, true, false]);
        assert_eq!(choose(&crowd, Some(&[])), [false, false, false]);
    }

    #[test]
    fn a_comparison_shaft_is_compared_with_the_others() {
        let crowd = [
            hair(),
            Summary { width_px: Some(24.0), light: Some(60.0), ..hair() },
            Summary { width_px: Some(30.0), light: Some(40.0), ..hair() },
        ];
        let chosen = [true, true, false];
        let both = ordinary(&crowd, &chosen, 2).unwrap();
        assert_eq!((both.width_px, both.widest_px), (Some(22.0), Some(24.0)));
        assert_eq!(ordinary(&crowd, &chosen, 0).unwrap().width_px, Some(24.0));
        assert_eq!(ordinary(&crowd, &[true, false, false], 0), None, "it has no other");
        assert_eq!(ordinary(&crowd, &[false; 3], 0), None);
        // At width 22: 40 · 22/20 = 44 and 60 · 22/24 = 55; median 49.5, median absolute deviation 5.5. Along: 3.3 and
        // 2.75, median 3.025.
        assert!((both.light - 49.5).abs() < 1e-9);
        assert!((both.light_spread - (5.5f64 * 1.482_602_218_505_602).hypot(3.025)).abs() < 1e-9);
        assert!((both.light_at(Some(44.0)) - 99.0).abs() < 1e-9, "twice as thick, twice the light");
        assert_eq!(both.light_at(None), both.light);
        assert_eq!(Ordinary { light: -5.0, ..both }.light_at(Some(44.0)), -5.0);
    }
}
