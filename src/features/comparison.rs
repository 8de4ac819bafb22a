//! The comparison shafts: which they are, and what is ordinary on this photo.
//!
//! A user's marks are taken as they are. Without marks the program chooses, and rather chooses none than a doubtful
//! one: a comparison shaft must be long and clear enough, smooth where that can be told, without spill, even in its
//! glow, and dim against the ground, or, where it glows plainly, plainly smooth and no greener than the ground. Of
//! those the dimmest and what is like it are kept. Weakness: a slide that bears only smooth infected hairs of low
//! contrast would compare them with themselves; a dim textile fibre may pass.

use crate::maths::robust;

use super::colour::Colour;

/// Fewest clear stations of a comparison shaft.
const LEAST_STATIONS: usize = 12;

/// Shortest comparison shaft, in widths; shorter pieces are often broken hair or debris.
const LEAST_WIDTHS: f64 = 8.0;

/// Roughest outline of a comparison shaft, share of the width. Cuticle scales of cat hair stay within two or three
/// per cent; a sheath of spores reaches five and more.
const MOST_ROUGHNESS: f64 = 0.03;

/// Most spill beside a comparison shaft. Blur of a fifth of the width spills about this much; a coat spills more.
const MOST_SPILL: f64 = 0.35;

/// Most that the brightest twentieth may exceed the dimmest, as (a − b) / (a + b + noise): a factor of three.
const MOST_RANGE: f64 = 0.5;

/// Most contrast against the ground (shaft − ground) / (shaft + ground) of a shaft that counts as dim: half again as
/// bright as the tape.
const DIM_CONTRAST: f64 = 0.2;

/// Most that a plainly glowing comparison shaft may be greener than the ground. White hair is about as blue as the
/// haze of the tape; what is greener may be infected.
const MOST_GREENER: f64 = 0.05;

/// How much brighter than the dimmest candidate another may be: as a share of the dimmest one's light, in standard
/// deviations, and as a share of the ground, whichever is most. Pigment alone makes ordinary hair differ more than
/// this; the brighter ones are then simply not used.
const BRIGHTER_SHARE: f64 = 1.0;
/// See [`BRIGHTER_SHARE`].
const BRIGHTER_DEVIATIONS: f64 = 4.0;
/// See [`BRIGHTER_SHARE`].
const BRIGHTER_OF_GROUND: f64 = 0.1;

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
    /// Contrast against the ground.
    pub(super) contrast: Option<f64>,
    /// Median glow of the green channel, linear light.
    pub(super) green: Option<f64>,
    /// Spread of the green channel along the shaft, noise taken away.
    pub(super) green_spread: f64,
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
    /// Light.
    pub(super) light: f64,
    /// Spread of the light among and along them.
    pub(super) light_spread: f64,
    /// Glow of the green channel, linear light.
    pub(super) green: f64,
    /// Spread of the green channel among and along them.
    pub(super) green_spread: f64,
    /// Colour of the glow; its signal may be too weak to be one.
    pub(super) colour: Option<Colour>,
    /// Roughness.
    pub(super) roughness: Option<f64>,
    /// Spill.
    pub(super) spill: Option<f64>,
    /// Depth of the medulla.
    pub(super) medulla: Option<f64>,
}

/// Which shafts serve for comparison: the marked ones, or what the program holds for plainly ordinary.
pub(super) fn choose(summaries: &[Summary], marked: Option<&[usize]>) -> Vec<bool> {
    if let Some(marked) = marked {
        return (0..summaries.len()).map(|i| marked.contains(&i) && summaries[i].light.is_some()).collect();
    }
    let candidates: Vec<bool> = summaries.iter().map(is_ordinary).collect();
    let dimmest = summaries
        .iter()
        .zip(&candidates)
        .filter(|(_, candidate)| **candidate)
        .filter_map(|(summary, _)| Some((summary.light?, summary)))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let Some((least, dimmest)) = dimmest else {
        return candidates;
    };
    let brightest = least
        + (BRIGHTER_SHARE * least.abs())
            .max(BRIGHTER_DEVIATIONS * dimmest.light_sd)
            .max(BRIGHTER_OF_GROUND * dimmest.ground);
    summaries
        .iter()
        .zip(&candidates)
        .map(|(summary, candidate)| *candidate && summary.light.is_some_and(|light| light <= brightest))
        .collect()
}

fn is_ordinary(shaft: &Summary) -> bool {
    let (Some(width_px), Some(contrast)) = (shaft.width_px, shaft.contrast) else {
        return false;
    };
    let known_smooth = shaft.roughness.is_some_and(|roughness| roughness <= MOST_ROUGHNESS);
    let dim = contrast <= DIM_CONTRAST;
    let plainly_bluish = shaft.greener_than_ground.is_some_and(|greener| greener <= MOST_GREENER);
    // Where a shaft hardly differs from the ground, light beside it divided by light inside says nothing.
    let spills = contrast.abs() > DIM_CONTRAST && shaft.spill.is_some_and(|spill| spill > MOST_SPILL);
    !shaft.doubtful
        && shaft.n_stations >= LEAST_STATIONS
        && shaft.length_px >= LEAST_WIDTHS * width_px
        && (known_smooth || shaft.roughness.is_none())
        && !spills
        && (dim || (known_smooth && plainly_bluish))
        && (dim || shaft.range.is_none_or(|range| range <= MOST_RANGE))
        && !partly_lit(shaft)
}

/// Whether a dim shaft has a part that is bright: its brightest twentieth exceeds its dimmest by a factor of three
/// and by more than the ground is known to.
fn partly_lit(shaft: &Summary) -> bool {
    let excess = shaft.range.unwrap_or(0.0);
    let bright = shaft.light.unwrap_or(0.0).abs() + BRIGHTER_DEVIATIONS * shaft.light_sd;
    excess > MOST_RANGE && bright > BRIGHTER_OF_GROUND * shaft.ground
}

/// What is ordinary for the shaft `for_shaft`: medians over the comparison shafts without itself. `None` when none is left.
pub(super) fn ordinary(summaries: &[Summary], chosen: &[bool], for_shaft: usize) -> Option<Ordinary> {
    let others: Vec<&Summary> =
        summaries.iter().enumerate().filter(|(i, _)| *i != for_shaft && chosen[*i]).map(|(_, s)| s).collect();
    let known = |pick: fn(&Summary) -> Option<f64>| others.iter().filter_map(|s| pick(s)).collect::<Vec<f64>>();
    let middle = |pick: fn(&Summary) -> Option<f64>| robust::median(&known(pick));
    // Spread among the shafts and along each of them, added in quadrature.
    let spread = |level: fn(&Summary) -> Option<f64>, along: fn(&Summary) -> f64| {
        let among = robust::spread(&known(level)).unwrap_or(0.0);
        let along = robust::median(&others.iter().map(|s| along(s)).collect::<Vec<_>>()).unwrap_or(0.0);
        among.hypot(along)
    };
    let light = middle(|s| s.light)?;
    Some(Ordinary {
        width_px: middle(|s| s.width_px),
        widest_px: known(|s| s.width_px).into_iter().reduce(f64::max),
        light,
        light_spread: spread(|s| s.light, |s| s.light_spread),
        green: middle(|s| s.green)?,
        green_spread: spread(|s| s.green, |s| s.green_spread),
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

    fn dark_hair() -> Summary {
        Summary {
            n_stations: 200,
            length_px: 600.0,
            width_px: Some(20.0),
            light: Some(3.0),
            light_sd: 1.0,
            light_spread: 0.5,
            ground: 30.0,
            contrast: Some(0.05),
            green: Some(0.02),
            green_spread: 0.005,
            colour: Some(Colour { value: [0.01, 0.02, 0.04], sd: [0.001; 3] }),
            greener_than_ground: Some(-0.1),
            range: Some(0.2),
            roughness: Some(0.01),
            spill: Some(0.2),
            medulla: Some(0.3),
            doubtful: false,
        }
    }

    fn bright(greener: f64, roughness: f64) -> Summary {
        Summary {
            light: Some(60.0),
            contrast: Some(0.5),
            greener_than_ground: Some(greener),
            roughness: Some(roughness),
            ..dark_hair()
        }
    }

    #[test]
    fn dim_smooth_hair_is_chosen_and_the_rest_is_not() {
        let crowd = [
            dark_hair(),
            bright(0.5, 0.06),
            Summary { light: Some(4.0), width_px: Some(24.0), ..dark_hair() },
            Summary { roughness: Some(0.05), ..dark_hair() },
            Summary { n_stations: 6, ..dark_hair() },
            Summary { length_px: 100.0, ..dark_hair() },
            Summary { doubtful: true, ..dark_hair() },
            Summary { width_px: None, ..dark_hair() },
            Summary { range: Some(0.9), ..dark_hair() },
        ];
        assert_eq!(choose(&crowd, None), [true, false, true, false, false, false, false, false, false]);
    }

    #[test]
    fn glowing_hair_serves_only_when_plainly_smooth_and_bluish() {
        assert_eq!(choose(&[bright(-0.1, 0.01)], None), [true], "a white hair");
        assert_eq!(choose(&[bright(0.4, 0.01)], None), [false], "greener than the tape");
        assert_eq!(choose(&[Summary { roughness: None, ..bright(-0.1, 0.0) }], None), [false], "smoothness not known");
        assert_eq!(choose(&[Summary { spill: Some(0.6), ..bright(-0.1, 0.01) }], None), [false], "a coat spills");
        assert_eq!(choose(&[bright(-0.1, 0.01), dark_hair()], None), [false, true], "only what is like the dimmest");
        assert!(choose(&[], None).is_empty());
    }

    #[test]
    fn marks_are_obeyed() {
        let crowd = [dark_hair(), bright(0.5, 0.08), Summary { light: None, ..dark_hair() }];
        assert_eq!(choose(&crowd, Some(&[1, 2, 77])), [false, true, false]);
        assert_eq!(choose(&crowd, Some(&[])), [false, false, false]);
    }

    #[test]
    fn a_comparison_shaft_is_compared_with_the_others() {
        let crowd = [
            dark_hair(),
            Summary { width_px: Some(24.0), light: Some(5.0), ..dark_hair() },
            Summary { width_px: Some(30.0), light: Some(4.0), ..dark_hair() },
        ];
        let chosen = [true, true, false];
        assert_eq!(ordinary(&crowd, &chosen, 2).unwrap().width_px, Some(22.0));
        assert_eq!(ordinary(&crowd, &chosen, 2).unwrap().widest_px, Some(24.0));
        assert_eq!(ordinary(&crowd, &chosen, 0).unwrap().width_px, Some(24.0));
        assert_eq!(ordinary(&crowd, &[true, false, false], 0), None, "it has no other");
        assert_eq!(ordinary(&crowd, &[false; 3], 0), None);
        // Among 3 and 5: median absolute deviation 1, times 1.4826; along: 0.5.
        let spread = ordinary(&crowd, &chosen, 2).unwrap().light_spread;
        assert!((spread - 1.4826f64.hypot(0.5)).abs() < 1e-4);
    }
}
