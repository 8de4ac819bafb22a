//! Glow along the shaft: how bright, against what, where, how evenly, how sharply it begins.
//!
//! Brightness is the "light" of `signals.rs`, in noise units of one station. What compares two brightnesses is
//! bounded, (a − b) / (|a| + |b| + noise): it goes to 0 when both drown in noise, and it exists when the ordinary
//! shafts are darker than the tape, where a plain ratio does not.
//! Ordinary light is taken to grow with the width, as the mean depth of a volume does (on simulated slides this
//! exponent, 1, leaves the least spread among ordinary hairs).
//! Weakness: `glow.range` and `glow.width_correlation` do not allow for that along one shaft.

use crate::maths::robust;

use super::catalogue::Entry;
use super::signals::{Glow, Reading, enough, ground, light, noise, points, values};
use super::stretches::Stretches;

/// How many standard deviations of a station's light a comparison holds for drowned in noise.
const NOISE_WEIGHT: f64 = 2.0;

/// The share of the length that lies below the "brightest" light, and above the "dimmest": a twentieth, so that one
/// wild station does not decide.
pub(super) const BRIGHT_QUANTILE: f64 = 0.95;

/// Fewest noise units that the level must have before its unevenness is told; below, the correction for noise is
/// larger than what is left.
const UNEVEN_LEAST_LEVEL: f64 = 2.0;

/// Looked at on both sides of a boundary for the bright and the dim level, in widths.
const EDGE_REACH: f64 = 6.0;

/// Looked at on both sides of a boundary for the slope between them, in widths.
const EDGE_SLOPE_REACH: f64 = 4.0;

/// From what share of the way from dim to bright to what share the slope is measured; nearer to 0 and 1 the noise of
/// the two levels would decide.
const EDGE_SHARES: [f64; 2] = [0.2, 0.8];

/// Blocks that the shaft is condensed into before ranks are compared; more let noise in, fewer lose the place.
const CORRELATION_BLOCKS: usize = 25;

/// Fewest blocks for a correlation: under eight, chance alone often exceeds 0.7.
const CORRELATION_LEAST_BLOCKS: usize = 8;

pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        key: "glow.level",
        unit: "noise",
        range: [f64::NEG_INFINITY, f64::INFINITY],
        meaning: "Median fluorescence above the ground in noise units of one station; below 0 for a shaft darker than the tape.",
        absent: "Fewer than five stations are clear.",
        disturbed_by: "Exposure, lamp and camera, therefore no vote.",
        votes: false,
        measure: |s| level(&s.light),
    },
    Entry {
        key: "glow.contrast",
        unit: "1",
        range: [-1.0, 1.0],
        meaning: "Median fluorescence against the ground: (shaft − ground) / (shaft + ground).",
        absent: "Fewer than five stations are clear.",
        disturbed_by: "Haze and fluorescence of the tape, leaking lamp light.",
        votes: true,
        measure: |s| Some(contrast(level(&s.light)?, ground(&s.signals.glow), noise(&s.light))),
    },
    Entry {
        key: "glow.peak_contrast",
        unit: "1",
        range: [-1.0, 1.0],
        meaning: "As glow.contrast, for the brightest twentieth of the shaft.",
        absent: "Fewer than five stations are clear.",
        disturbed_by: "As glow.contrast; bright debris on the shaft.",
        votes: true,
        measure: |s| Some(contrast(bright(s.smooth)?, ground(&s.signals.glow), noise(&s.light))),
    },
    Entry {
        key: "glow.over_comparison",
        unit: "1",
        range: [-1.0, 1.0],
        meaning: "Median fluorescence against what a comparison shaft of this width would show: (a − b) / (|a| + |b| + noise); 0.5 is three times as bright.",
        absent: "There is no (other) comparison shaft, or fewer than five stations are clear.",
        disturbed_by: "Coat colour: pigment dims a hair's own glow up to thirteenfold.",
        votes: true,
        measure: |s| Some(over(level(&s.light)?, s.ordinary_light()?, noise(&s.light))),
    },
    Entry {
        key: "glow.peak_over_comparison",
        unit: "1",
        range: [-1.0, 1.0],
        meaning: "As glow.over_comparison, for the brightest twentieth of the shaft.",
        absent: "As glow.over_comparison.",
        disturbed_by: "As glow.over_comparison; bright debris on the shaft.",
        votes: true,
        measure: |s| Some(over(bright(s.smooth)?, s.ordinary_light()?, noise(&s.light))),
    },
    Entry {
        key: "glow.range",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Brightest against dimmest twentieth along the shaft: (bright − dim) / (|bright| + |dim| + noise).",
        absent: "Fewer than five stations are clear.",
        disturbed_by: "Uneven light; taper, since a thicker shaft holds more that glows.",
        votes: true,
        measure: |s| s.summary.range,
    },
    Entry {
        key: "glow.unevenness",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "Spread of the fluorescence along the stretches that fluoresce (all of the shaft if none does) beside a straight trend, noise taken away, as a share of its level.",
        absent: "Fewer than five such stations, or their level is under two noise units.",
        disturbed_by: "Understated noise; other shafts' light near crossings.",
        votes: true,
        measure: |s| unevenness(&lit_or_all(&s.light, s.lit)),
    },
    Entry {
        key: "glow.lit_share",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Share of the measured length that fluoresces by the rule of the zone.",
        absent: "Fewer than five stations are clear.",
        disturbed_by: "A wrong choice of comparison shafts.",
        votes: true,
        measure: |s| enough(&s.light).map(|_| s.along.share()),
    },
    Entry {
        key: "glow.longest_run",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Share of the measured length that the longest unbroken fluorescing stretch covers.",
        absent: "Fewer than five stations are clear.",
        disturbed_by: "As glow.lit_share.",
        votes: true,
        measure: |s| enough(&s.light).map(|_| s.along.longest_share()),
    },
    Entry {
        key: "glow.stretches",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "Number of separate fluorescing stretches.",
        absent: "Fewer than five stations are clear.",
        disturbed_by: "How much of the shaft is in view; debris.",
        votes: true,
        measure: |s| enough(&s.light).map(|_| s.along.runs.len() as f64),
    },
    Entry {
        key: "glow.edge",
        unit: "widths",
        range: [0.0, 8.0],
        meaning: "Length over which the glow climbs from a fifth to four fifths of its step where a fluorescing stretch begins or ends, in widths, median over the boundaries.",
        absent: "The glow has no boundary in view or the width is unknown.",
        disturbed_by: "Blur; noise; a boundary near a crossing.",
        votes: true,
        measure: |s| edge(&s.light, s.lit, s.signals.width_px()?),
    },
    Entry {
        key: "glow.width_correlation",
        unit: "1",
        range: [-1.0, 1.0],
        meaning: "Rank correlation of fluorescence and width along the shaft.",
        absent: "Fewer than eight stations have both, or neither varies beyond its noise.",
        disturbed_by: "Plain taper also correlates, since a thicker shaft holds more that glows.",
        votes: true,
        measure: |s| width_correlation(&s.signals.glow, &s.signals.widths),
    },
    Entry {
        key: "glow.towards_tip",
        unit: "1",
        range: [-1.0, 1.0],
        meaning: "Fluorescence of the tip third against that of the base third: (tip − base) / (|tip| + |base| + noise).",
        absent: "Base and tip are not known, or a third has fewer than five clear stations.",
        disturbed_by: "A wrongly told base end; taper; uneven light.",
        votes: true,
        measure: |s| towards_tip(&s.light, s.base_at_first?),
    },
];

/// Median light; `None` under five stations.
pub(super) fn level(light: &[Reading]) -> Option<f64> {
    robust::median(&values(enough(light)?))
}

/// The light that the brightest twentieth exceeds.
pub(super) fn bright(smooth: &[f64]) -> Option<f64> {
    robust::quantile(enough(smooth)?, BRIGHT_QUANTILE)
}

/// (shaft − ground) / (shaft + ground), −1 to 1, from the light above the ground and the ground's.
pub(super) fn contrast(light: f64, ground: f64, noise_sd: f64) -> f64 {
    let whole = light + 2.0 * ground;
    let least = NOISE_WEIGHT * noise_sd;
    (light / (whole.max(light.abs()) + least).max(f64::MIN_POSITIVE)).clamp(-1.0, 1.0)
}

/// (a − b) / (|a| + |b| + noise), −1 to 1.
pub(super) fn over(light: f64, reference: f64, noise_sd: f64) -> f64 {
    let whole = light.abs() + reference.abs() + NOISE_WEIGHT * noise_sd;
    if whole > 0.0 { (light - reference) / whole } else { 0.0 }
}

/// Brightest against dimmest twentieth.
pub(super) fn range(smooth: &[f64], noise_sd: f64) -> Option<f64> {
    let dim = robust::quantile(enough(smooth)?, 1.0 - BRIGHT_QUANTILE)?;
    Some(over(bright(smooth)?, dim, noise_sd))
}

/// The readings where the shaft fluoresces; all of them where it does not at all.
pub(super) fn lit_or_all(light: &[Reading], lit: &Stretches) -> Vec<Reading> {
    if lit.runs.is_empty() {
        return light.to_vec();
    }
    light.iter().zip(&lit.lit).filter(|(_, lit)| **lit).map(|(r, _)| *r).collect()
}

/// Spread beside a straight trend, noise taken away, as a share of the level.
pub(super) fn unevenness(light: &[Reading]) -> Option<f64> {
    let level = level(light)?;
    let sd = noise(light);
    if level <= 0.0 || level < UNEVEN_LEAST_LEVEL * sd {
        return None;
    }
    let line = robust::line(&points(light))?;
    let rest: Vec<f64> = light.iter().map(|r| r.value - line.at(r.s_px)).collect();
    Some(robust::spread_without_noise(&rest, sd)? / level)
}

/// Length of the slope at the boundaries of the glow, in widths, median over the boundaries.
pub(super) fn edge(light: &[Reading], lit: &Stretches, width_px: f64) -> Option<f64> {
    let lengths: Vec<f64> = lit
        .boundaries
        .iter()
        .filter_map(|boundary| {
            let level = |lit_side: bool| {
                let near: Vec<f64> = light
                    .iter()
                    .zip(&lit.lit)
                    .filter(|(r, lit)| **lit == lit_side && (r.s_px - boundary.s_px).abs() <= EDGE_REACH * width_px)
                    .map(|(r, _)| r.value)
                    .collect();
                robust::median(&near)
            };
            let (bright, dim) = (level(true)?, level(false)?);
            if bright <= dim {
                return None;
            }
            let between = EDGE_SHARES.map(|share| dim + share * (bright - dim));
            let on_slope = light
                .iter()
                .filter(|r| (r.s_px - boundary.s_px).abs() <= EDGE_SLOPE_REACH * width_px)
                .filter(|r| r.value > between[0] && r.value < between[1])
                .count();
            Some((on_slope as f64 * lit.step_px / width_px).min(2.0 * EDGE_SLOPE_REACH))
        })
        .collect();
    robust::median(&lengths)
}

/// Rank correlation of light and width along the shaft, from block medians.
pub(super) fn width_correlation(glow: &[Glow], widths: &[Reading]) -> Option<f64> {
    let varies = |readings: &[Reading]| {
        robust::spread_without_noise(&values(readings), noise(readings)).is_some_and(|spread| spread > 0.0)
    };
    if !varies(&light(glow)) || !varies(widths) {
        return None;
    }
    let with_light: Vec<(f64, f64)> = glow.iter().filter(|g| g.width_px.is_some()).map(|g| (g.s_px, g.light)).collect();
    let with_width: Vec<(f64, f64)> = glow.iter().filter_map(|g| Some((g.s_px, g.width_px?))).collect();
    if with_light.len() < CORRELATION_LEAST_BLOCKS {
        return None;
    }
    let pairs: Vec<(f64, f64)> = robust::block_medians(&with_light, CORRELATION_BLOCKS)
        .into_iter()
        .zip(robust::block_medians(&with_width, CORRELATION_BLOCKS))
        .map(|(light, width)| (light.1, width.1))
        .collect();
    robust::rank_correlation(&pairs)
}

/// Light of the tip third against that of the base third.
pub(super) fn towards_tip(light: &[Reading], base_at_first: bool) -> Option<f64> {
    let (first, last) = (light.first()?.s_px, light.last()?.s_px);
    let third = (last - first) / 3.0;
    let start: Vec<Reading> = light.iter().filter(|r| r.s_px <= first + third).copied().collect();
    let end: Vec<Reading> = light.iter().filter(|r| r.s_px >= last - third).copied().collect();
    let (base, tip) = if base_at_first { (start, end) } else { (end, start) };
    Some(over(level(&tip)?, level(&base)?, noise(light)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(n: usize, sd: f64, value: impl Fn(f64) -> f64) -> Vec<Reading> {
        (0..n).map(|i| i as f64 * 2.0).map(|s_px| Reading { s_px, value: value(s_px), sd }).collect()
    }

    fn stretches(light: &[Reading], lit: impl Fn(f64) -> bool) -> Stretches {
        let places: Vec<f64> = light.iter().map(|r| r.s_px).collect();
        Stretches::new(&places, places.iter().map(|&s| lit(s)).collect(), 2.0)
    }

    #[test]
    fn contrast_is_michelson_and_dies_in_noise() {
        // Shaft 30, ground 10: (30 − 10) / (30 + 10).
        assert_eq!(contrast(20.0, 10.0, 0.0), 0.5);
        assert_eq!(contrast(-10.0, 10.0, 0.0), -1.0, "a black shaft on a lit tape");
        assert!(contrast(0.5, 0.0, 1.0) < 0.25, "half a standard deviation on a black ground is nothing");
        assert_eq!(contrast(0.0, 0.0, 0.0), 0.0);
    }

    #[test]
    fn three_times_as_bright_is_one_half() {
        assert_eq!(over(30.0, 10.0, 0.0), 0.5);
        assert_eq!(over(10.0, 30.0, 0.0), -0.5);
        assert_eq!(over(5.0, -5.0, 0.0), 1.0, "ordinary shafts darker than the tape");
        assert!(over(1.0, -1.0, 10.0) < 0.1);
        assert_eq!(over(0.0, 0.0, 0.0), 0.0);
    }

    #[test]
    fn an_even_glow_with_noise_is_even_and_a_patchy_one_is_not() {
        let noisy: Vec<Reading> = readings(200, 2.0 / robust::TENTHS_PER_SD, |s| {
            20.0 + if ((s / 2.0) as usize).is_multiple_of(2) { 1.0 } else { -1.0 }
        });
        assert!(unevenness(&noisy).unwrap() < 1e-3, "±1 is a standard deviation of 2/2.563 by this estimator");
        let patchy = readings(200, 1.0, |s| if ((s / 60.0) as usize).is_multiple_of(2) { 30.0 } else { 10.0 });
        assert!(
            (unevenness(&patchy).unwrap() - ((20.0 / robust::TENTHS_PER_SD).powi(2) - 1.0).sqrt() / 30.0).abs() < 0.03
        );
        let sloping = readings(200, 0.0, |s| 10.0 + 0.05 * s);
        assert!(unevenness(&sloping).unwrap() < 1e-9, "a straight trend is no patch");
        assert_eq!(unevenness(&readings(200, 1.0, |_| 1.5)), None, "too dim to tell");
        assert_eq!(unevenness(&readings(200, 1.0, |_| -30.0)), None, "a dark shaft has no glow to be uneven");
    }

    #[test]
    fn the_slope_of_a_boundary_is_measured_in_widths() {
        // Climbs from 10 to 30 over 100 px: a fifth to four fifths is 60 px, three widths of 20 px.
        let ramp = readings(300, 0.1, |s| 10.0 + 20.0 * ((s - 250.0) / 100.0).clamp(0.0, 1.0));
        let lit = stretches(&ramp, |s| s > 300.0);
        assert!((edge(&ramp, &lit, 20.0).unwrap() - 3.0).abs() < 0.11);
        let sharp = readings(300, 0.1, |s| if s > 300.0 { 30.0 } else { 10.0 });
        assert_eq!(edge(&sharp, &lit, 20.0), Some(0.0));
        assert_eq!(edge(&sharp, &stretches(&sharp, |_| true), 20.0), None, "no boundary");
    }

    #[test]
    fn glow_that_follows_the_swelling_correlates() {
        let glow = |width: fn(f64) -> f64, light: fn(f64) -> f64| -> (Vec<Glow>, Vec<Reading>) {
            let widths = readings(200, 0.1, width);
            let glow = widths
                .iter()
                .map(|w| Glow {
                    s_px: w.s_px,
                    light: light(w.s_px),
                    light_sd: 0.1,
                    ground: 0.0,
                    rgb: [0.0; 3],
                    rgb_sd: [0.0; 3],
                    ground_rgb: [0.0; 3],
                    width_px: Some(w.value),
                })
                .collect();
            (glow, widths)
        };
        let (follows, widths) = glow(|s| 20.0 + (s / 30.0).sin(), |s| 10.0 + 3.0 * (s / 30.0).sin());
        assert!(width_correlation(&follows, &widths).unwrap() > 0.99);
        let (against, widths) = glow(|s| 20.0 + (s / 30.0).sin(), |s| 10.0 - 3.0 * (s / 30.0).sin());
        assert!(width_correlation(&against, &widths).unwrap() < -0.99);
        let (even, widths) = glow(|_| 20.0, |s| 10.0 + s);
        assert_eq!(width_correlation(&even, &widths), None, "the width does not vary");
    }

    #[test]
    fn base_and_tip_are_compared_in_the_right_order() {
        let fading = readings(90, 0.0, |s| if s < 60.0 { 30.0 } else { 10.0 });
        assert_eq!(towards_tip(&fading, true), Some(-0.5));
        assert_eq!(towards_tip(&fading, false), Some(0.5));
        assert_eq!(towards_tip(&fading[..12], true), None, "thirds of four stations");
    }

    #[test]
    fn only_what_fluoresces_counts_where_something_does() {
        let light = readings(10, 0.1, |s| s);
        assert_eq!(lit_or_all(&light, &stretches(&light, |s| s > 9.0)).len(), 5);
        assert_eq!(lit_or_all(&light, &stretches(&light, |_| false)).len(), 10);
        assert_eq!(range(&[1.0, 1.0, 1.0, 1.0, 1.0], 0.0), Some(0.0));
        assert_eq!(range(&[1.0], 0.0), None);
    }
}
