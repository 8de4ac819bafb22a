//! Colour of the glow in linear light, as bounded ratios that refuse when the light is too weak.
//!
//! No hue angle: that of a near-grey is undefined (CIE a and b of a grey are 0 but for rounding). Fungal glow is
//! centred near 490 nm and broad, brighteners lie at 425 to 450 nm, so that green against blue parts them; but white
//! or yellowed hair has a shoulder at 495 nm of its own and some carpet fibre is apple green, so that colour alone
//! must never decide. What is relative to the ground or to the comparison shafts does not change with the camera's
//! white balance: a gain of a channel cancels exactly in (G·b − B·g) / (G·b + B·g).
//! Sources: infected hair 490.2 nm, AMA Arch. Derm. 71 (1955) 511; hair's own bands, Int. J. Cosmet. Sci. 31 (2009);
//! brighteners, Materials 14 (2021) 4995.
//! Weakness: a colour outside the camera's gamut is clipped to red = 0 and then reads as less saturated.

use crate::maths::robust::{self, MEDIAN_SD_FACTOR};

use super::catalogue::Entry;
use super::signals::{Glow, MIN_READINGS};
use super::stretches::Stretches;

/// Red, green, blue.
pub(super) const RED: usize = 0;
/// Red, green, blue.
pub(super) const GREEN: usize = 1;
/// Red, green, blue.
pub(super) const BLUE: usize = 2;

/// Least standard deviations that a sum of channels must stand above 0 before its colour is told.
const LEAST_SIGNAL: f64 = 4.0;

/// Largest standard deviation of a bounded colour ratio that is still told. At 0.1 a ratio of 0.3 still has its sign;
/// much smaller would silence dim shafts that are plain to the eye.
const LARGEST_SD: f64 = 0.1;

/// Share of the stronger channel's light below which the weaker one's is taken as clipped: a colour matrix turns the
/// red of blue-green light to nothing or a little less, and noise decides which.
const LEAST_OF_GAMUT: f64 = 0.04;

/// Blocks along the shaft for the variation of colour; many make each too noisy, few miss patches.
const VARIATION_BLOCKS: usize = 15;

/// Fewest blocks with a colour for a spread.
const VARIATION_LEAST_BLOCKS: usize = 4;

/// Light of a stretch in three channels with its noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Colour {
    /// Red, green, blue, linear light; may be below 0.
    pub(super) value: [f64; 3],
    /// One standard deviation of each.
    pub(super) sd: [f64; 3],
}

pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        key: "colour.green_share",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Green's share of the glow in linear light, where the shaft fluoresces (all of it if it does not).",
        absent: "The photo is monochrome, or the glow is under four standard deviations.",
        disturbed_by: "White balance, therefore no vote.",
        votes: false,
        measure: |s| share(&s.colour?, GREEN),
    },
    Entry {
        key: "colour.blue_share",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Blue's share of the glow in linear light, where the shaft fluoresces (all of it if it does not).",
        absent: "As colour.green_share.",
        disturbed_by: "White balance and leaking lamp light, therefore no vote.",
        votes: false,
        measure: |s| share(&s.colour?, BLUE),
    },
    Entry {
        key: "colour.green_blue",
        unit: "1",
        range: [-1.0, 1.0],
        meaning: "Green against blue in the glow: (green − blue) / (green + blue).",
        absent: "The photo is monochrome, green and blue are under four standard deviations, or the ratio is uncertain by more than 0.1.",
        disturbed_by: "White balance; leaking lamp light; clipping to the camera's gamut.",
        votes: true,
        measure: |s| balance(&s.colour?, GREEN, BLUE),
    },
    Entry {
        key: "colour.red_green",
        unit: "1",
        range: [-1.0, 1.0],
        meaning: "Red against green in the glow: (red − green) / (red + green); yellow to orange residue has more red.",
        absent: "As colour.green_blue, for red and green.",
        disturbed_by: "As colour.green_blue.",
        votes: true,
        measure: |s| balance(&s.colour?, RED, GREEN),
    },
    Entry {
        key: "colour.green_blue_to_ground",
        unit: "1",
        range: [-1.0, 1.0],
        meaning: "How much greener than bluer the glow is than the ground beside it: (G·b − B·g) / (G·b + B·g), free of white balance.",
        absent: "As colour.green_blue, for the glow or the ground.",
        disturbed_by: "The tape's own fluorescence; leaking lamp light.",
        votes: true,
        measure: |s| relative(&s.colour?, &s.ground?, GREEN, BLUE),
    },
    Entry {
        key: "colour.green_blue_to_comparison",
        unit: "1",
        range: [-1.0, 1.0],
        meaning: "How much greener than bluer the glow is than the comparison shafts': (G·b − B·g) / (G·b + B·g), free of white balance.",
        absent: "As colour.green_blue, or the comparison shafts are too dim to have a colour, or there are none.",
        disturbed_by: "Comparison shafts of another coat colour.",
        votes: true,
        measure: |s| relative(&s.colour?, &s.ordinary?.colour?, GREEN, BLUE),
    },
    Entry {
        key: "colour.red_green_to_comparison",
        unit: "1",
        range: [-1.0, 1.0],
        meaning: "How much redder than greener the glow is than the comparison shafts', free of white balance.",
        absent: "As colour.green_blue_to_comparison, for red and green; or the comparison shafts have next to no red.",
        disturbed_by: "Comparison shafts of another coat colour.",
        votes: true,
        measure: |s| relative(&s.colour?, &s.ordinary?.colour?, RED, GREEN),
    },
    Entry {
        key: "colour.lit_to_dim",
        unit: "1",
        range: [-1.0, 1.0],
        meaning: "How much greener than bluer the fluorescing stretches are than the rest of the same shaft, free of white balance.",
        absent: "The shaft fluoresces all along or nowhere, or either part is too dim to have a colour.",
        disturbed_by: "A dim part that shows mostly the ground's rest.",
        votes: true,
        measure: |s| lit_to_dim(&s.signals.glow, s.lit, s.signals.monochrome),
    },
    Entry {
        key: "colour.variation",
        unit: "1",
        range: [0.0, 2.0],
        meaning: "Spread of green against blue along the shaft, noise taken away.",
        absent: "The photo is monochrome or fewer than four of fifteen stretches are bright enough to have a colour.",
        disturbed_by: "Coloured haze that changes across the photo; colour fringes of the lens.",
        votes: true,
        measure: |s| s.summary.variation,
    },
];

impl Colour {
    /// Median of a channel over stations, with the standard deviation of that median; `None` under five stations.
    fn of(glow: &[&Glow], value: impl Fn(&Glow) -> [f64; 3]) -> Option<Colour> {
        if glow.len() < MIN_READINGS {
            return None;
        }
        let mut colour = Colour { value: [0.0; 3], sd: [0.0; 3] };
        for channel in 0..3 {
            let all: Vec<f64> = glow.iter().map(|g| value(g)[channel]).collect();
            let noise: Vec<f64> = glow.iter().map(|g| g.rgb_sd[channel]).collect();
            colour.value[channel] = robust::median(&all)?;
            colour.sd[channel] = robust::median(&noise)? * MEDIAN_SD_FACTOR / (glow.len() as f64).sqrt();
        }
        Some(colour)
    }

    fn is_seen(&self, a: usize, b: usize) -> bool {
        let sum = self.value[a] + self.value[b];
        sum > 0.0 && sum > LEAST_SIGNAL * self.sd[a].hypot(self.sd[b])
    }

    /// Whether one of two channels is next to nothing beside the other: clipped to the edge of the camera's gamut, it
    /// says nothing that another light could be compared with.
    fn is_at_edge(&self, a: usize, b: usize) -> bool {
        self.value[a].min(self.value[b]) < LEAST_OF_GAMUT * self.value[a].max(self.value[b])
    }
}

/// Colour of the glow where the shaft fluoresces, of all of it where it does not.
pub(super) fn of_glow(glow: &[Glow], lit: &Stretches) -> Option<Colour> {
    let all = lit.runs.is_empty();
    let chosen: Vec<&Glow> = glow.iter().zip(&lit.lit).filter(|(_, lit)| all || **lit).map(|(g, _)| g).collect();
    Colour::of(&chosen, |g| g.rgb)
}

/// Colour of the whole shaft.
pub(super) fn of_all(glow: &[Glow]) -> Option<Colour> {
    Colour::of(&glow.iter().collect::<Vec<_>>(), |g| g.rgb)
}

/// Colour of the ground beside the shaft; its noise is taken to be that of the glow, which is no smaller.
pub(super) fn of_ground(glow: &[Glow]) -> Option<Colour> {
    Colour::of(&glow.iter().collect::<Vec<_>>(), |g| g.ground_rgb)
}

/// A channel's share of the three, 0 to 1.
pub(super) fn share(colour: &Colour, channel: usize) -> Option<f64> {
    let sum: f64 = colour.value.iter().sum();
    let sd = colour.sd.iter().map(|s| s * s).sum::<f64>().sqrt();
    (sum > 0.0 && sum > LEAST_SIGNAL * sd).then(|| (colour.value[channel] / sum).clamp(0.0, 1.0))
}

/// (a − b) / (a + b), −1 to 1; `None` when the two channels are too weak to tell.
pub(super) fn balance(colour: &Colour, a: usize, b: usize) -> Option<f64> {
    if !colour.is_seen(a, b) {
        return None;
    }
    bounded(colour.value[a], colour.sd[a], colour.value[b], colour.sd[b])
}

/// (a·b′ − b·a′) / (a·b′ + b·a′), −1 to 1, the dashes marking the reference; `None` when either is too weak.
pub(super) fn relative(colour: &Colour, reference: &Colour, a: usize, b: usize) -> Option<f64> {
    if !colour.is_seen(a, b) || !reference.is_seen(a, b) || reference.is_at_edge(a, b) {
        return None;
    }
    let crossed = |one: usize, other: usize| {
        let (value, sd) = (colour.value[one].max(0.0), colour.sd[one]);
        let (by, by_sd) = (reference.value[other].max(0.0), reference.sd[other]);
        (value * by, (value * by_sd).hypot(by * sd))
    };
    let ((x, x_sd), (y, y_sd)) = (crossed(a, b), crossed(b, a));
    bounded(x, x_sd, y, y_sd)
}

/// (x − y) / (x + y) with negative light held for none; `None` when its standard deviation exceeds [`LARGEST_SD`].
fn bounded(x: f64, x_sd: f64, y: f64, y_sd: f64) -> Option<f64> {
    let (x, y) = (x.max(0.0), y.max(0.0));
    let sum = x + y;
    if sum <= 0.0 {
        return None;
    }
    let sd = 2.0 * (y * x_sd).hypot(x * y_sd) / (sum * sum);
    (sd <= LARGEST_SD).then(|| (x - y) / sum)
}

/// Green against blue of the fluorescing stretches relative to the rest of the same shaft.
pub(super) fn lit_to_dim(glow: &[Glow], lit: &Stretches, monochrome: bool) -> Option<f64> {
    if monochrome {
        return None;
    }
    let part = |wanted: bool| {
        let chosen = glow.iter().zip(&lit.lit).filter(|(_, lit)| **lit == wanted).map(|(g, _)| g);
        let chosen: Vec<&Glow> = chosen.collect();
        Colour::of(&chosen, |g| g.rgb)
    };
    relative(&part(true)?, &part(false)?, GREEN, BLUE)
}

/// Spread of green against blue over stretches of the shaft, noise taken away.
pub(super) fn variation(glow: &[Glow], monochrome: bool) -> Option<f64> {
    if monochrome {
        return None;
    }
    let mut balances = Vec::new();
    let mut noise = Vec::new();
    for bounds in robust::block_bounds(glow.len(), VARIATION_BLOCKS).windows(2) {
        let colour = Colour::of(&glow[bounds[0]..bounds[1]].iter().collect::<Vec<_>>(), |g| g.rgb);
        if let Some(colour) = colour
            && let Some(value) = balance(&colour, GREEN, BLUE)
        {
            let (g, b) = (colour.value[GREEN].max(0.0), colour.value[BLUE].max(0.0));
            balances.push(value);
            noise.push(2.0 * (b * colour.sd[GREEN]).hypot(g * colour.sd[BLUE]) / ((g + b) * (g + b)));
        }
    }
    if balances.len() < VARIATION_LEAST_BLOCKS {
        return None;
    }
    robust::spread_without_noise(&balances, robust::median(&noise)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn glow(n: usize, rgb: impl Fn(usize) -> [f64; 3]) -> Vec<Glow> {
        (0..n)
            .map(|i| Glow {
                s_px: i as f64,
                light: 0.0,
                light_sd: 1.0,
                ground: 0.0,
                rgb: rgb(i),
                rgb_sd: [0.01; 3],
                ground_rgb: [0.02, 0.03, 0.06],
                width_px: None,
            })
            .collect()
    }

    #[test]
    fn shares_and_balances_in_closed_form() {
        let colour = of_all(&glow(100, |_| [0.1, 0.6, 0.3])).unwrap();
        assert!((share(&colour, GREEN).unwrap() - 0.6).abs() < 1e-12);
        assert!((balance(&colour, GREEN, BLUE).unwrap() - 1.0 / 3.0).abs() < 1e-12);
        assert!((balance(&colour, RED, GREEN).unwrap() + 5.0 / 7.0).abs() < 1e-12);
        assert!((colour.sd[0] - 0.01 * 1.2533 / 10.0).abs() < 1e-6);
    }

    #[test]
    fn a_mixture_of_keratin_and_fungal_light_moves_monotonically() {
        // G/B of mixtures (1 − f)·455 nm + f·500 nm for f = 0, .25, .5, .75, 1, computed with the CIE 1931 observer
        // and sRGB primaries (colour-science 0.4.7).
        let ratios = [0.217, 0.359, 0.557, 0.857, 1.359];
        let keratin = of_all(&glow(50, |_| [0.0, 0.3 * ratios[0], 0.3])).unwrap();
        let seen: Vec<f64> = ratios
            .iter()
            .map(|r| relative(&of_all(&glow(50, |_| [0.0, 0.3 * r, 0.3])).unwrap(), &keratin, GREEN, BLUE).unwrap())
            .collect();
        assert!(seen[0].abs() < 1e-12, "keratin against itself");
        assert!(seen.windows(2).all(|pair| pair[0] < pair[1]));
        assert!((seen[4] - (1.359 - 0.217) / (1.359 + 0.217)).abs() < 1e-9);
    }

    #[test]
    fn white_balance_cancels_exactly_in_what_is_relative() {
        let (shaft, reference) = ([0.2, 0.7, 0.4], [0.1, 0.2, 0.5]);
        let gains = [2.0, 1.0, 0.6];
        let times = |rgb: [f64; 3]| [rgb[0] * gains[0], rgb[1] * gains[1], rgb[2] * gains[2]];
        let of = |rgb: [f64; 3]| of_all(&glow(50, |_| rgb)).unwrap();
        let plain = relative(&of(shaft), &of(reference), GREEN, BLUE).unwrap();
        let gained = relative(&of(times(shaft)), &of(times(reference)), GREEN, BLUE).unwrap();
        assert!((plain - gained).abs() < 1e-12);
        assert!(
            (balance(&of(shaft), GREEN, BLUE).unwrap() - balance(&of(times(shaft)), GREEN, BLUE).unwrap()).abs() > 0.1
        );
    }

    #[test]
    fn weak_light_has_no_colour() {
        let dim = of_all(&glow(5, |_| [0.002, 0.006, 0.003])).unwrap();
        assert_eq!((share(&dim, GREEN), balance(&dim, GREEN, BLUE)), (None, None));
        let dark = of_all(&glow(50, |_| [-0.1, -0.3, -0.2])).unwrap();
        assert_eq!((share(&dark, GREEN), balance(&dark, GREEN, BLUE)), (None, None));
        let bright = of_all(&glow(50, |_| [0.1, 0.3, 0.2])).unwrap();
        assert_eq!(relative(&bright, &dim, GREEN, BLUE), None, "nor is there one relative to it");
        assert!(of_all(&glow(4, |_| [0.1, 0.3, 0.2])).is_none());
    }

    #[test]
    fn a_greener_stretch_is_told_from_the_rest_of_its_shaft() {
        let glow = glow(100, |i| if i < 40 { [0.0, 0.5, 0.3] } else { [0.0, 0.1, 0.3] });
        let places: Vec<f64> = (0..100).map(f64::from).collect();
        let lit = Stretches::new(&places, (0..100).map(|i| i < 40).collect(), 1.0);
        // (G·b − B·g) / (G·b + B·g) = (0.5·0.3 − 0.3·0.1) / (0.5·0.3 + 0.3·0.1).
        assert!((lit_to_dim(&glow, &lit, false).unwrap() - 0.12 / 0.18).abs() < 1e-12);
        assert_eq!(lit_to_dim(&glow, &lit, true), None);
        let all = Stretches::new(&places, vec![true; 100], 1.0);
        assert_eq!(lit_to_dim(&glow, &all, false), None);
        assert_eq!(of_glow(&glow, &lit).unwrap().value, [0.0, 0.5, 0.3]);
    }

    #[test]
    fn colour_that_varies_is_told_from_colour_that_does_not() {
        assert_eq!(variation(&glow(150, |_| [0.1, 0.5, 0.5]), false), Some(0.0));
        let patchy =
            variation(&glow(150, |i| if (i / 10) % 2 == 0 { [0.1, 0.6, 0.3] } else { [0.1, 0.3, 0.6] }), false);
        // Blocks of ten are ±1/3: the tenths are 2/3 apart.
        assert!((patchy.unwrap() - 2.0 / 3.0 / robust::TENTHS_PER_SD).abs() < 0.01);
        assert_eq!(variation(&glow(160, |_| [0.0, 0.001, 0.001]), false), None);
    }
}
