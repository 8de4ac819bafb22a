//! The fluorescence of a whole shaft, from its stations.

use crate::maths::robust::median;

/// Below this much light a background is taken as black and no contrast is given: it would divide by noise.
/// Half a step of an 8-bit photo's darkest levels (1 / 255 / 12.92 in linear light, IEC 61966-2-1).
const BLACK_GROUND: f64 = 0.5 / 255.0 / 12.92;

/// A colour is given when the glow stands this many standard deviations above nothing; below, the ratios of its
/// channels are noise.
const SEEN_SDS: f64 = 3.0;

/// What one station shines, linear light, red, green, blue.
#[derive(Clone, Copy, Debug)]
pub(super) struct Light {
    /// Above the background.
    pub(super) glow: [f64; 3],
    /// The background.
    pub(super) ground: [f64; 3],
    /// One standard deviation of `glow`.
    pub(super) sd: [f64; 3],
}

/// Fluorescence of a shaft above the background, medians over its unobstructed stations.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Glow {
    /// Glow divided by the background, means of the channels; below 0 for a shaft darker than the tape.
    /// Absent where the background is black or no station is free.
    pub contrast: Option<f64>,
    /// Glow in linear light, 0 to 1, red, green, blue; may be below 0. Absent when no station is free.
    pub linear: Option<[f64; 3]>,
    /// Its colour; absent when the photo has none, or when the glow does not stand out from noise.
    pub colour: Option<GlowColour>,
}

/// The colour of a glow in linear light with the sRGB primaries.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GlowColour {
    /// Share of red, green and blue in the glow; sums to 1.
    pub shares: [f64; 3],
    /// Green divided by blue; absent when blue is not above 0.
    pub green_to_blue: Option<f64>,
}

impl Glow {
    /// The glow of a shaft from its free stations.
    pub(super) fn of(stations: &[Light], monochrome: bool) -> Glow {
        let channel = |value: fn(&Light) -> [f64; 3]| -> Option<[f64; 3]> {
            let [red, green, blue] =
                [0, 1, 2].map(|c| median(&stations.iter().map(|station| value(station)[c]).collect::<Vec<f64>>()));
            Some([red?, green?, blue?])
        };
        let (linear, ground, sd) = (channel(|s| s.glow), channel(|s| s.ground), channel(|s| s.sd));
        let mean = |channels: [f64; 3]| channels.iter().sum::<f64>() / 3.0;
        let contrast = linear
            .zip(ground)
            .filter(|(_, ground)| mean(*ground) > BLACK_GROUND)
            .map(|(glow, ground)| mean(glow) / mean(ground));
        let colour = linear.zip(sd).filter(|_| !monochrome).and_then(|(glow, sd)| GlowColour::of(glow, sd));
        Glow { contrast, linear, colour }
    }
}

impl GlowColour {
    fn of(glow: [f64; 3], sd: [f64; 3]) -> Option<GlowColour> {
        let seen = glow.iter().sum::<f64>() > SEEN_SDS * sd.iter().map(|sd| sd * sd).sum::<f64>().sqrt();
        // A channel that a colour matrix pushed below nothing counts as nothing.
        let [red, green, blue] = glow.map(|channel| channel.max(0.0));
        let sum = red + green + blue;
        (seen && sum > 0.0).then(|| GlowColour {
            shares: [red / sum, green / sum, blue / sum],
            green_to_blue: (blue > 0.0).then(|| green / blue),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::{Glow, Light};

    const STATION: Light = Light { glow: [0.1, 0.4, 0.3], ground: [0.01, 0.02, 0.05], sd: [0.01; 3] };

    #[test]
    fn shares_and_contrast_by_hand() {
        let glow = Glow::of(&[STATION; 3], false);
        assert!((glow.contrast.unwrap() - 10.0).abs() < 1e-12, "0.8 of glow on 0.08 of ground");
        let colour = glow.colour.unwrap();
        assert!((colour.shares[1] - 0.5).abs() < 1e-12);
        assert!((colour.green_to_blue.unwrap() - 4.0 / 3.0).abs() < 1e-12);
    }

    #[test]
    fn what_cannot_be_told_is_absent() {
        assert_eq!(Glow::of(&[], false), Glow::default());
        assert!(Glow::of(&[STATION], true).colour.is_none(), "a monochrome photo has no colour");
        let faint = Light { sd: [0.5; 3], ..STATION };
        assert!(Glow::of(&[faint], false).colour.is_none(), "noise has no colour");
        let black = Light { ground: [0.0; 3], ..STATION };
        assert!(Glow::of(&[black], false).contrast.is_none(), "nothing to compare with");
    }
}
