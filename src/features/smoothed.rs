//! A shaft's light and colour along it, smoothed, with what is too little to say anything.

use crate::maths::along::running_median;
use crate::maths::robust::{self, MEDIAN_SD_FACTOR};

use super::colour::{self, Colour};
use super::signals::{Glow, channel, ground, light, noise, places, values};

/// Standard deviations that light must exceed the ordinary level by to be more than noise.
pub(super) const LEAST_DEVIATIONS: f64 = 3.0;

/// Reach of the smoothing to each side, in widths. Shorter lets noise make patches, longer hides a bulb.
const SMOOTHING_REACH: f64 = 0.75;

/// Share of the ground's light that fluorescence needs: the background is not known better than a few per cent.
const LEAST_OF_GROUND: f64 = 0.08;

/// Share of the stations that must be bright enough to have a colour for colour to be asked.
pub(super) const LEAST_COLOURED: f64 = 0.6;

/// A shaft's light and colour along it, smoothed over a width and a half.
pub(super) struct Smooth {
    /// Light.
    pub(super) light: Vec<f64>,
    /// Green and blue (red, which nothing here asks for, is left at 0); empty for a monochrome photo.
    pub(super) rgb: Vec<[f64; 3]>,
    /// Width of the shaft at each station relative to its median; 1 where it is not known.
    pub(super) relative_width: Vec<f64>,
    /// One standard deviation of the smoothed channels.
    pub(super) rgb_sd: [f64; 3],
    /// Light that is more than noise and more than the ground is uncertain by.
    pub(super) least: f64,
}

impl Smooth {
    pub(super) fn new(glow: &[Glow], width_px: Option<f64>, step_px: f64, monochrome: bool) -> Smooth {
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
    pub(super) fn has_colours(&self) -> bool {
        let Some(colour) = self.colour() else { return false };
        let seen = self.greener(Some(&colour)).iter().flatten().count();
        seen as f64 >= LEAST_COLOURED * self.light.len() as f64
    }

    /// Median colour along the shaft; `None` for a monochrome photo.
    pub(super) fn colour(&self) -> Option<Colour> {
        let middle = |c: usize| robust::median(&self.rgb.iter().map(|rgb| rgb[c]).collect::<Vec<_>>());
        Some(Colour { value: [middle(0)?, middle(1)?, middle(2)?], sd: self.rgb_sd })
    }

    /// How much greener than the reference each station is; `None` where it is too dim to have a colour.
    pub(super) fn greener(&self, reference: Option<&Colour>) -> Vec<Option<f64>> {
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
