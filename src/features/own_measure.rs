//! Where a shaft fluoresces, told from itself alone: its bright or green part against the rest of it.

use crate::maths::robust;

use super::colour;
use super::fluorescence::BRIGHT_QUANTILE;
use super::signals::{Glow, MIN_READINGS};
use super::smoothed::{LEAST_COLOURED, Smooth};
use super::stretches::{LOWER_SHARE, Stretches};

/// How many times brighter for its width the bright part must be than the dim part when the shaft is its own measure.
const OWN_CONTRAST: f64 = 2.0;

/// How much greener than the least green part of a shaft its most green part must be when the shaft is its own
/// measure.
const OWN_GREENER: f64 = 0.15;

/// How many times as bright as the rest a greener stretch must be: fungal light comes on top of the hair's own, while
/// a pale green rest beside a brighter blue part is pigment's work. Residue and broken pigment may take a little away.
const LEAST_BRIGHTER: f64 = 0.8;

/// Share of the length below the "dim" light when the shaft is its own measure.
const DIM_QUANTILE: f64 = 0.15;

/// How much greener than the ground an even glow must be to count as fluorescence without comparison shafts, on the
/// scale of `colour.green_blue_to_ground`. Keratin on a bluish tape stays near 0; yellowed hair
/// may reach 0.4 and a faint infection fall to 0.2, so that this is the weakest step of the rule.
const GREENER_THAN_GROUND: f64 = 0.25;

/// The stretches of a shaft that stands out against its own dim part.
pub(super) struct Own {
    /// Where it fluoresces.
    pub(super) stretches: Stretches,
    /// How many times brighter for its width the bright part is than the dim one.
    pub(super) contrast: f64,
    /// Whether its colour stands out.
    pub(super) by_colour: bool,
}

/// The stretches of a shaft that stands out against its own dim part; `None` when it does not.
///
/// A stretch may stand out by its light or by its colour: where the camera clips the light, colour is what remains.
pub(super) fn by_own_measure(
    glow: &[Glow],
    smooth: &Smooth,
    judged: &dyn Fn(&[bool], &[bool]) -> Stretches,
) -> Option<Own> {
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
pub(super) fn by_colour_alone(glow: &[Glow], smooth: &Smooth, monochrome: bool) -> (bool, bool) {
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
