//! Glow across the shaft: core against rim, spill beyond the outline, the medulla, and what a cylinder cannot explain.
//!
//! A hair that glows through its volume is brightest in the middle; a coat glows at the rim, spills over the outline
//! and forms menisci. Infection makes the medulla invisible; textile fibre never had one. In UV the air-filled
//! medulla shows as a dark middle line (it is opaque in transmitted light; "Microscopy of Hair Part II", Forensic
//! Science Communications, 2004, as quoted).
//! Weakness: blur rounds every cross-section and spills on its own; `photo.blur_to_width` stands beside these in
//! every row, and what is relative to comparison shafts of like width cancels it in part.

use crate::maths::robust;

use super::catalogue::Entry;
use super::signals::{MIN_READINGS, Strip, enough};

/// Share of the length that lies below the reported high spill: the top tenth, where menisci and blobs are.
const HIGH_QUANTILE: f64 = 0.9;

/// Depth of the dark middle line from which a medulla counts as seen, share of the height. Noise of single stations
/// reaches a few per cent; a plain medulla of half the diameter without glow is several times deeper.
const MEDULLA_SEEN: f64 = 0.1;

/// Inner and outer bound of a flank when left and right are compared, in widths from the middle. The middle itself
/// and the blurred edge say nothing of sides.
const FLANK: [f64; 2] = [0.12, 0.42];

/// Length of a cell when left and right are compared, in widths; shorter cells are noise, longer ones hide patches.
const FLANK_CELL: f64 = 1.0;

/// Fewest noise units of the two flanks' mean for a comparison.
const FLANK_LEAST_LIGHT: f64 = 1.0;

/// Half-width of the band that counts as the height of the cross-section, in widths.
const HEIGHT_BAND: f64 = 0.15;

/// Fewest noise units that the height must have before a misfit is put in relation to it.
const HEIGHT_LEAST: f64 = 2.0;

pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        key: "across.core_to_rim",
        unit: "1",
        range: [f64::NEG_INFINITY, f64::INFINITY],
        meaning: "Glow of the middle third of the outline divided by that of the outer third, median over the stations; below 1 when the rim glows more.",
        absent: "Fewer than five clear stations have it.",
        disturbed_by: "Blur raises it; a visible medulla lowers it.",
        votes: true,
        measure: |s| middle(&s.signals.core_to_rim),
    },
    Entry {
        key: "across.flatness",
        unit: "1",
        range: [-0.5, 1.0],
        meaning: "How the fitted cross-section spreads its light: 0 in proportion to the depth of a clear volume, 1 flat as of an opaque surface.",
        absent: "The cross-section could not be fitted.",
        disturbed_by: "Sharpening by the camera; a shaft few pixels wide hardly shows it.",
        votes: true,
        measure: |s| s.signals.flatness,
    },
    Entry {
        key: "across.core",
        unit: "1",
        range: [f64::NEG_INFINITY, f64::INFINITY],
        meaning: "Height of a core in the fitted cross-section as a share of the cylinder's height, below 0 for a dark core (a medulla, or a coat that glows at the rim), 0 where the fit found none.",
        absent: "The cross-section could not be fitted.",
        disturbed_by: "As across.flatness.",
        votes: true,
        measure: |s| s.signals.core,
    },
    Entry {
        key: "across.spill",
        unit: "1",
        range: [f64::NEG_INFINITY, f64::INFINITY],
        meaning: "Glow just outside the outline divided by the glow inside, median over the stations.",
        absent: "Fewer than five clear stations have it.",
        disturbed_by: "Blur and glare; neighbours that glow.",
        votes: true,
        measure: |s| s.summary.spill,
    },
    Entry {
        key: "across.spill_high",
        unit: "1",
        range: [f64::NEG_INFINITY, f64::INFINITY],
        meaning: "As across.spill, for the tenth of the stations with most of it.",
        absent: "Fewer than five clear stations have it.",
        disturbed_by: "As across.spill; debris beside the shaft.",
        votes: true,
        measure: |s| robust::quantile(enough(&s.signals.spill)?, HIGH_QUANTILE),
    },
    Entry {
        key: "across.spill_over_comparison",
        unit: "1",
        range: [f64::NEG_INFINITY, f64::INFINITY],
        meaning: "across.spill less that of the comparison shafts.",
        absent: "Either is unknown or there is no (other) comparison shaft.",
        disturbed_by: "Comparison shafts too dim for their spill to be known well.",
        votes: true,
        measure: |s| Some(s.summary.spill? - s.ordinary?.spill?),
    },
    Entry {
        key: "across.medulla",
        unit: "1",
        range: [f64::NEG_INFINITY, f64::INFINITY],
        meaning: "Depth of the dark middle line against the fitted cylinder as a share of its height, median over the stations; 0 is none.",
        absent: "Fewer than five clear stations have it.",
        disturbed_by: "Blur fills it in; a mountant that fills the medulla makes it vanish; a coat that glows only at the rim looks alike.",
        votes: true,
        measure: |s| s.summary.medulla,
    },
    Entry {
        key: "across.medulla_share",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Share of the stations where the middle line is darker than the cylinder by a tenth of its height or more.",
        absent: "Fewer than five clear stations have it.",
        disturbed_by: "As across.medulla; noise.",
        votes: true,
        measure: |s| medulla_share(&s.signals.medulla),
    },
    Entry {
        key: "across.medulla_over_comparison",
        unit: "1",
        range: [f64::NEG_INFINITY, f64::INFINITY],
        meaning: "across.medulla less that of the comparison shafts; below 0 where a medulla that the others show is lost.",
        absent: "Either is unknown or there is no (other) comparison shaft.",
        disturbed_by: "Comparison shafts of another hair type: down hair often shows none.",
        votes: true,
        measure: |s| Some(s.summary.medulla? - s.ordinary?.medulla?),
    },
    Entry {
        key: "across.misfit",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "What the fitted cross-section leaves beyond the noise, as a share of the shaft's height above the ground.",
        absent: "Fewer than five clear stations were fitted, the width is unknown, or the height is under two noise units.",
        disturbed_by: "Sharpening by the camera; strong compression; neighbours within a width.",
        votes: true,
        measure: |s| misfit(&s.signals.residual, height(&s.signals.strip, s.signals.width_px()?)?),
    },
    Entry {
        key: "across.asymmetry",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Difference of the left and right flanks' glow divided by their sum, without sign, median over cells of one width.",
        absent: "The width is unknown or fewer than five cells are bright enough.",
        disturbed_by: "A centreline that lies off the middle; light from one side; simulated hairs are more even than those of other renderers, therefore no vote.",
        votes: false,
        measure: |s| asymmetry(&s.signals.strip, s.signals.width_px()?),
    },
];

/// Median; `None` under five values.
pub(super) fn middle(values: &[f64]) -> Option<f64> {
    robust::median(enough(values)?)
}

/// Share of the stations with a medulla seen.
pub(super) fn medulla_share(depths: &[f64]) -> Option<f64> {
    let depths = enough(depths)?;
    Some(depths.iter().filter(|&&depth| depth >= MEDULLA_SEEN).count() as f64 / depths.len() as f64)
}

/// What the fit leaves beyond the noise as a share of the height; both in noise units.
pub(super) fn misfit(residual: &[f64], height: f64) -> Option<f64> {
    let residual = middle(residual)?;
    (height >= HEIGHT_LEAST).then(|| (residual * residual - 1.0).max(0.0).sqrt() / height)
}

/// Height of the shaft above or below the ground in its middle, noise units, root mean square over the channels,
/// median along the strip. `None` without five clear columns.
pub(super) fn height(strip: &Strip, width_px: f64) -> Option<f64> {
    let mut square = 0.0;
    for channel in strip.channels {
        let rows = rows_between(channel.height(), strip.step_px, -HEIGHT_BAND * width_px, HEIGHT_BAND * width_px);
        let heights: Vec<f64> = clear_columns(strip).map(|x| column_mean(channel, x, rows)).collect();
        let height = middle(&heights)?;
        square += height * height / 3.0;
    }
    Some(square.sqrt())
}

/// Difference of the flanks divided by their sum, without sign, median over cells along the shaft.
pub(super) fn asymmetry(strip: &Strip, width_px: f64) -> Option<f64> {
    let [inner, outer] = FLANK.map(|share| share * width_px);
    let rows = strip.channels[0].height();
    let left = rows_between(rows, strip.step_px, -outer, -inner);
    let right = rows_between(rows, strip.step_px, inner, outer);
    let columns: Vec<usize> = clear_columns(strip).collect();
    let n_cells = (columns.len() as f64 * strip.step_px / (FLANK_CELL * width_px)) as usize;
    let mut differences = Vec::new();
    for bounds in robust::block_bounds(columns.len(), n_cells.saturating_sub(1) | 1).windows(2) {
        let cell = &columns[bounds[0]..bounds[1]];
        let mean = |rows| {
            let sum: f64 = cell.iter().flat_map(|&x| strip.channels.iter().map(move |c| column_mean(c, x, rows))).sum();
            sum / (3 * cell.len()) as f64
        };
        let (left, right) = (mean(left), mean(right));
        if left + right >= 2.0 * FLANK_LEAST_LIGHT {
            differences.push(((right - left) / (right + left)).abs().min(1.0));
        }
    }
    (differences.len() >= MIN_READINGS).then(|| robust::median(&differences)).flatten()
}

/// First row and one past the last row whose distance from the middle row lies between two distances, pixels; at
/// least one row.
pub(super) fn rows_between(n_rows: usize, step_px: f64, from_px: f64, to_px: f64) -> (usize, usize) {
    let middle = (n_rows.saturating_sub(1)) as f64 / 2.0;
    let row = |px: f64| (middle + px / step_px).clamp(0.0, n_rows.saturating_sub(1) as f64);
    let (first, last) = (row(from_px).round() as usize, row(to_px).round() as usize);
    (first, (last + 1).min(n_rows).max(first))
}

/// Columns of the strip that lie clear.
pub(super) fn clear_columns<'a>(strip: &'a Strip) -> impl Iterator<Item = usize> + 'a {
    let n_columns = strip.channels[0].width().min(strip.clear.len());
    (0..n_columns).filter(|&x| strip.clear[x])
}

fn column_mean(channel: &crate::maths::raster::Raster<f32>, x: usize, rows: (usize, usize)) -> f64 {
    let sum: f64 = (rows.0..rows.1).map(|y| f64::from(channel.at(x, y))).sum();
    sum / (rows.1 - rows.0).max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::maths::raster::Raster;

    fn strip_of(channels: &[Raster<f32>; 3]) -> Strip<'_> {
        Strip { channels, step_px: 0.5, clear: vec![true; channels[0].width()] }
    }

    fn raster(value: impl Fn(f64, f64) -> f64) -> Raster<f32> {
        Raster::from_fn(400, 121, |x, y| value(x as f64 * 0.5, (y as f64 - 60.0) * 0.5) as f32)
    }

    #[test]
    fn medians_over_stations_need_five() {
        assert_eq!(middle(&[1.0, 9.0, 2.0, 3.0, 4.0]), Some(3.0));
        assert_eq!(middle(&[1.0; 4]), None);
        assert_eq!(medulla_share(&[0.0, 0.05, 0.1, 0.3, 0.0]), Some(0.4));
        assert_eq!(medulla_share(&[0.5; 3]), None);
    }

    #[test]
    fn misfit_is_a_share_of_the_height_beyond_the_noise() {
        let residual = [5f64.sqrt(); 9];
        assert!((misfit(&residual, 40.0).unwrap() - 2.0 / 40.0).abs() < 1e-12, "sqrt(5 − 1) / 40");
        assert_eq!(misfit(&[0.9; 9], 40.0), Some(0.0), "within the noise");
        assert_eq!(misfit(&residual, 1.0), None, "no height to relate it to");
    }

    #[test]
    fn height_of_a_plateau() {
        let plain = |level: f64| raster(move |_, y| if y.abs() < 10.0 { level } else { 0.0 });
        let channels = [plain(0.0), plain(30.0), plain(-40.0)];
        // √((0 + 900 + 1600) / 3)
        assert!((height(&strip_of(&channels), 20.0).unwrap() - (2500.0f64 / 3.0).sqrt()).abs() < 1e-6);
    }

    #[test]
    fn a_one_sided_coat_is_asymmetric_and_a_cylinder_is_not() {
        let cylinder = raster(|_, y| 30.0 * (1.0 - (y / 10.0).powi(2)).max(0.0).sqrt());
        let even = [cylinder.clone(), cylinder.clone(), cylinder];
        assert!(asymmetry(&strip_of(&even), 20.0).unwrap() < 1e-6);
        let one_sided = raster(|_, y| {
            if y.abs() >= 10.0 {
                0.0
            } else if y > 0.0 {
                30.0
            } else {
                10.0
            }
        });
        let lopsided = [one_sided.clone(), one_sided.clone(), one_sided];
        assert!((asymmetry(&strip_of(&lopsided), 20.0).unwrap() - 0.5).abs() < 1e-6);
        let dim = [raster(|_, _| 0.1), raster(|_, _| 0.1), raster(|_, _| 0.1)];
        assert_eq!(asymmetry(&strip_of(&dim), 20.0), None, "too dim to have sides");
    }

    #[test]
    fn rows_lie_where_the_middle_row_says() {
        assert_eq!(rows_between(121, 0.5, -5.0, 5.0), (50, 71));
        assert_eq!(rows_between(121, 0.5, 100.0, 200.0), (120, 121), "beyond the strip its last row");
        assert_eq!(rows_between(0, 0.5, -1.0, 1.0), (0, 0));
    }
}
