//! Width along the shaft: level, spread, taper, swelling, rhythm, and steps where the glow changes.
//!
//! Widths are outer diameters, so a swollen sheath of spores counts. Every spread has the stations' own noise taken
//! away in quadrature. Weakness: guard, awn and down hairs of one cat differ eightfold in width (10 to 80 µm), so
//! the ratio to comparison shafts says little unless these are of the same hair type.

use crate::maths::along::running_median;
use crate::maths::robust::{self, MEDIAN_SD_FACTOR};

use super::catalogue::Entry;
use super::signals::{Reading, enough, noise, places, points, values};
use super::stretches::{Boundary, Stretches};

/// Reach of the running median that swelling is measured on, in widths to each side. Narrower lets noise swell,
/// wider smooths a real bulge away.
const SWELLING_REACH: f64 = 0.5;

/// The share of the length that lies below the reported swelling: the top twentieth counts as "largest", so that a
/// single bad station does not.
const SWELLING_QUANTILE: f64 = 0.95;

/// Normal quantile at [`SWELLING_QUANTILE`]: what noise alone would swell, in standard deviations.
const NOISE_QUANTILE: f64 = 1.644_853_626_951_472_2;

/// Cells a width when looking for a rhythm; twists shorter than two cells do not occur in fibres.
const RHYTHM_CELLS: f64 = 4.0;

/// Longest period looked for, in widths. Cotton turns 200 to 300 times an inch at 15 to 20 µm, a half turn (one
/// narrow view) each 2 to 4 widths; twice that leaves room for loosely twisted plant fibre.
const RHYTHM_LONGEST: f64 = 12.0;

/// Periods that must fit into the view before a rhythm can be told.
const RHYTHM_PERIODS: f64 = 3.0;

/// Left out on both sides of a boundary of the glow, in widths: blur and the boundary's own slope lie there.
const STEP_GUARD: f64 = 1.0;

/// Looked at on both sides of a boundary of the glow, in widths. Long enough for a median, short enough that an
/// ordinary taper (about 0.3 % a width) changes little.
const STEP_REACH: f64 = 8.0;

/// Fewest widths on each side of a boundary.
const STEP_READINGS: usize = 3;

pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        key: "width.level_px",
        unit: "px",
        range: [0.0, f64::INFINITY],
        meaning: "Median outer diameter in pixels of the photo.",
        absent: "Fewer than five clear stations have a width.",
        disturbed_by: "Magnification and photo size, therefore no vote.",
        votes: false,
        measure: |s| level(&s.signals.widths),
    },
    Entry {
        key: "width.level_um",
        unit: "µm",
        range: [0.0, f64::INFINITY],
        meaning: "Median outer diameter in micrometres.",
        absent: "As width.level_px, or the scale is unknown.",
        disturbed_by: "Hair type: ordinary cat hair spans 10 to 80 µm, therefore no vote.",
        votes: false,
        measure: |s| Some(level(&s.signals.widths)? * s.signals.um_per_px?),
    },
    Entry {
        key: "width.spread",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "Spread of the width along the shaft beside a straight taper, noise taken away, as a share of the median width.",
        absent: "Fewer than five clear stations have a width.",
        disturbed_by: "Understated noise of the widths; wrongly joined traces.",
        votes: true,
        measure: |s| s.summary.spread,
    },
    Entry {
        key: "width.taper",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "Change of the width from one end of the measured stretch to the other, as a share of the median width, without sign.",
        absent: "Fewer than five clear stations have a width.",
        disturbed_by: "How much of the shaft is in view; defocus along the shaft.",
        votes: true,
        measure: |s| s.summary.taper,
    },
    Entry {
        key: "width.to_comparison",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "Median width divided by the median width of the comparison shafts (of the others, for one of them).",
        absent: "The width is unknown or there is no (other) comparison shaft.",
        disturbed_by: "Comparison shafts of another hair type.",
        votes: true,
        measure: |s| Some(level(&s.signals.widths)? / s.ordinary?.width_px?),
    },
    Entry {
        key: "width.to_widest_comparison",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "Median width divided by the width of the widest comparison shaft.",
        absent: "As width.to_comparison.",
        disturbed_by: "The number of comparison shafts; a guard hair among them.",
        votes: true,
        measure: |s| Some(level(&s.signals.widths)? / s.ordinary?.widest_px?),
    },
    Entry {
        key: "width.swelling",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "By what share the widest twentieth of the shaft stands above its own straight taper, noise taken away.",
        absent: "Fewer than five clear stations have a width.",
        disturbed_by: "Debris on the shaft; a bulb in view; the natural swelling below an awn hair's tip.",
        votes: true,
        measure: |s| s.summary.swelling,
    },
    Entry {
        key: "width.rhythm",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "How regularly the width comes and goes: the highest return of its self-correlation at a period of up to twelve widths, 0 without a period.",
        absent: "The measured stretch is shorter than three periods of three widths, or the width does not vary at all.",
        disturbed_by: "A medulla or scales seen as width at high magnification; noise lowers it.",
        votes: true,
        measure: |s| rhythm(&s.signals.widths),
    },
    Entry {
        key: "width.lit_step",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "Width just inside a fluorescing stretch divided by the width just outside it on the same shaft, median over the boundaries.",
        absent: "No boundary of the glow has three widths within eight widths on both sides.",
        disturbed_by: "Blooming of bright light into the outline; a root bulb.",
        votes: true,
        measure: |s| lit_step(&s.signals.widths, s.lit),
    },
];

/// Median width, in the unit of the readings; `None` under five readings.
pub(super) fn level(widths: &[Reading]) -> Option<f64> {
    robust::median(&values(enough(widths)?))
}

/// Spread beside the straight taper, noise taken away, as a share of the median width.
pub(super) fn spread(widths: &[Reading]) -> Option<f64> {
    let level = level(widths)?;
    let line = robust::line(&points(widths))?;
    let rest: Vec<f64> = widths.iter().map(|w| w.value - line.at(w.s_px)).collect();
    Some(robust::spread_without_noise(&rest, noise(widths))? / level)
}

/// Change along the measured stretch as a share of the median width, without sign.
pub(super) fn taper(widths: &[Reading]) -> Option<f64> {
    signed_taper(widths).map(f64::abs)
}

/// Change along the measured stretch as a share of the median width; above 0 where the shaft widens with arc length.
pub(super) fn signed_taper(widths: &[Reading]) -> Option<f64> {
    let level = level(widths)?;
    let line = robust::line(&points(widths))?;
    Some(line.slope * (widths[widths.len() - 1].s_px - widths[0].s_px) / level)
}

/// By what share the widest twentieth stands above the straight taper, noise taken away.
pub(super) fn swelling(widths: &[Reading]) -> Option<f64> {
    let level = level(widths)?;
    let line = robust::line(&points(widths))?;
    let reach = SWELLING_REACH * level;
    let smooth = running_median(&places(widths), &values(widths), reach);
    let above: Vec<f64> = widths.iter().zip(&smooth).map(|(w, smooth)| smooth - line.at(w.s_px)).collect();
    let top = robust::quantile(&above, SWELLING_QUANTILE)?.max(0.0);
    let span = widths[widths.len() - 1].s_px - widths[0].s_px;
    let in_window = (2.0 * reach * (widths.len() - 1) as f64 / span.max(1e-9)).max(1.0);
    let by_noise = NOISE_QUANTILE * noise(widths) * MEDIAN_SD_FACTOR / in_window.sqrt();
    Some((top * top - by_noise * by_noise).max(0.0).sqrt() / level)
}

/// Highest return of the width's self-correlation after it first fell below 0, at periods up to twelve widths.
pub(super) fn rhythm(widths: &[Reading]) -> Option<f64> {
    let level = level(widths)?;
    let line = robust::line(&points(widths))?;
    let (from, to) = (widths[0].s_px, widths[widths.len() - 1].s_px);
    let span = to - from;
    if span < RHYTHM_PERIODS * 3.0 * level {
        return None;
    }
    // Counted from the middle, so that the shaft traced from its other end falls into the same cells.
    let half = (0.5 * span * RHYTHM_CELLS / level).round();
    let n_cells = 2 * half as usize + 1;
    let mut cells = vec![(0.0, 0usize); n_cells];
    for w in widths {
        let cell = (((w.s_px - 0.5 * (from + to)) * RHYTHM_CELLS / level).round() + half) as usize;
        if let Some((sum, count)) = cells.get_mut(cell) {
            *sum += w.value - line.at(w.s_px);
            *count += 1;
        }
    }
    let cells: Vec<Option<f64>> = cells.into_iter().map(|(sum, n)| (n > 0).then(|| sum / n as f64)).collect();
    let longest = (RHYTHM_LONGEST * RHYTHM_CELLS).min(n_cells as f64 / RHYTHM_PERIODS) as usize;
    let returns: Vec<Option<f64>> = (1..=longest).map(|lag| self_correlation(&cells, lag)).collect();
    if returns.iter().all(Option::is_none) {
        return None;
    }
    // Only what comes back after going away is a rhythm: a single broad bulge has correlation at short lags too.
    let fallen = returns.iter().position(|r| r.is_some_and(|r| r < 0.0));
    let best = fallen.map_or(0.0, |at| returns[at..].iter().flatten().copied().fold(0.0, f64::max));
    Some(best.min(1.0))
}

fn self_correlation(cells: &[Option<f64>], lag: usize) -> Option<f64> {
    let (mut aa, mut bb, mut ab) = (0.0, 0.0, 0.0);
    for (a, b) in cells.iter().zip(&cells[lag..]) {
        if let (Some(a), Some(b)) = (a, b) {
            aa += a * a;
            bb += b * b;
            ab += a * b;
        }
    }
    let product = (aa * bb).sqrt();
    (product > 0.0).then(|| ab / product)
}

/// Width inside a fluorescing stretch divided by the width outside it, median over the boundaries.
pub(super) fn lit_step(widths: &[Reading], lit: &Stretches) -> Option<f64> {
    let level = level(widths)?;
    let steps: Vec<f64> = lit
        .boundaries
        .iter()
        .filter_map(|boundary| {
            let side = |lit_side: bool| {
                let near: Vec<f64> = widths
                    .iter()
                    .filter(|w| {
                        let into_lit = distance_into_lit(boundary, w.s_px);
                        let away = if lit_side { into_lit } else { -into_lit };
                        away >= STEP_GUARD * level && away <= STEP_REACH * level && lit.is_lit(w.s_px) == lit_side
                    })
                    .map(|w| w.value)
                    .collect();
                (near.len() >= STEP_READINGS).then(|| robust::median(&near)).flatten()
            };
            Some(side(true)? / side(false)?)
        })
        .collect();
    robust::median(&steps)
}

fn distance_into_lit(boundary: &Boundary, s_px: f64) -> f64 {
    if boundary.lit_after { s_px - boundary.s_px } else { boundary.s_px - s_px }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::features::stretches::Stretches;

    fn widths(n: usize, sd: f64, width: impl Fn(f64) -> f64) -> Vec<Reading> {
        (0..n).map(|i| i as f64 * 2.0).map(|s_px| Reading { s_px, value: width(s_px), sd }).collect()
    }

    /// Noise of standard deviation 1 at the normal quantiles, in a shuffled order that a test can rely on.
    fn noise_at(i: usize) -> f64 {
        const TENTHS: [f64; 10] = [-1.645, 1.036, -0.385, 0.126, 0.674, -1.036, 1.645, -0.674, -0.126, 0.385];
        TENTHS[(i * 7) % 10]
    }

    #[test]
    fn a_cone_has_taper_and_no_spread() {
        let cone = widths(201, 0.0, |s| 24.0 - 0.02 * s);
        assert_eq!(level(&cone), Some(20.0));
        assert!((taper(&cone).unwrap() - 8.0 / 20.0).abs() < 1e-9);
        assert!(signed_taper(&cone).unwrap() < 0.0);
        assert!(spread(&cone).unwrap() < 1e-9);
        assert!(swelling(&cone).unwrap() < 1e-9);
    }

    #[test]
    fn spread_of_a_wave_is_its_own_without_the_noise() {
        // A square wave of ±2 about 20: the tenths are 4 apart, so the estimate is 4 / 2.563 / 20.
        let wave = widths(400, 0.0, |s| if ((s / 50.0) as usize).is_multiple_of(2) { 22.0 } else { 18.0 });
        assert!((spread(&wave).unwrap() - 4.0 / robust::TENTHS_PER_SD / 20.0).abs() < 0.002);
        let noisy: Vec<Reading> =
            (0..400).map(|i| Reading { s_px: i as f64, value: 20.0 + noise_at(i), sd: 1.0 }).collect();
        assert!(spread(&noisy).unwrap() < 0.01, "stated noise is taken away: {:?}", spread(&noisy));
        assert!(swelling(&noisy).unwrap() < 0.03, "noise does not swell: {:?}", swelling(&noisy));
    }

    #[test]
    fn a_bulge_swells_and_a_spike_does_not() {
        let bulge = widths(300, 0.1, |s| if (200.0..260.0).contains(&s) { 30.0 } else { 20.0 });
        assert!((swelling(&bulge).unwrap() - 0.5).abs() < 0.01);
        let spike = widths(300, 0.1, |s| if (200.0..206.0).contains(&s) { 60.0 } else { 20.0 });
        assert!(swelling(&spike).unwrap() < 0.01);
    }

    #[test]
    fn a_twisted_ribbon_has_a_rhythm_and_a_rough_shaft_has_none() {
        let ribbon = widths(500, 0.1, |s| 20.0 + 5.0 * (s * std::f64::consts::TAU / 80.0).sin());
        assert!(rhythm(&ribbon).unwrap() > 0.95);
        let bulge = widths(500, 0.1, |s| 20.0 + 5.0 * (-(s - 480.0) * (s - 480.0) / 800.0).exp());
        assert!(rhythm(&bulge).unwrap() < 0.2, "{:?}", rhythm(&bulge));
        let rough = widths(500, 0.1, |s| 20.0 + noise_at((s * s / 37.0) as usize % 1009));
        assert!(rhythm(&rough).unwrap() < 0.5, "{:?}", rhythm(&rough));
        assert_eq!(rhythm(&widths(60, 0.1, |s| 20.0 + s.sin())), None, "too short for three periods");
        assert_eq!(rhythm(&widths(500, 0.1, |_| 20.0)), None, "nothing varies");
    }

    #[test]
    fn a_step_at_the_boundary_of_the_glow_is_measured_there() {
        let stations: Vec<f64> = (0..300).map(|i| f64::from(i) * 2.0).collect();
        let lit = Stretches::new(&stations, stations.iter().map(|&s| s < 300.0).collect(), 2.0);
        let swollen = widths(300, 0.1, |s| if s < 300.0 { 30.0 } else { 20.0 });
        assert!((lit_step(&swollen, &lit).unwrap() - 1.5).abs() < 1e-9);
        let plain = widths(300, 0.1, |_| 20.0);
        assert_eq!(lit_step(&plain, &lit), Some(1.0));
        let all_lit = Stretches::new(&stations, vec![true; 300], 2.0);
        assert_eq!(lit_step(&plain, &all_lit), None, "no boundary");
    }

    #[test]
    fn too_few_widths_say_nothing() {
        let few = widths(4, 0.1, |_| 20.0);
        assert_eq!(
            (level(&few), spread(&few), taper(&few), swelling(&few), rhythm(&few)),
            (None, None, None, None, None)
        );
    }
}
