//! Structure: roughness of the outline, whether both edges move together, and the texture of the glow.
//!
//! A bumpy, uneven surface and a misshapen shaft mark an infected hair (Small Animal Dermatology, 3rd ed., p. 322,
//! as restated); its sheath of spores is irregular. Bend and taper are removed by a local straight line, noise in
//! quadrature. Weakness: roughness finer than the blur is invisible, so that these refuse rather than call a
//! blurred shaft smooth.

use crate::maths::along::beside_local_line;
use crate::maths::raster::Raster;
use crate::maths::robust::{self, SD_PER_MAD};

use super::across::{clear_columns, height, middle, rows_between};
use super::catalogue::Entry;
use super::signals::{EdgePair, Strip, enough};

/// Reach of the local straight line to each side, in widths. Bumps up to about four widths long count as roughness;
/// what is longer is taper, crimp or swelling and has measures of its own.
const BUMP_REACH: f64 = 2.0;

/// Thinnest shaft whose outline is told rough or smooth, pixels. Under five, one bump is narrower than a pixel.
const THINNEST_PX: f64 = 5.0;

/// Most blur (Gaussian sigma) as a share of the width: a bump two widths long keeps half its height there
/// (exp(−2π²·0.35²/2²) = 0.55), a shorter one loses more.
const MOST_BLUR: f64 = 0.35;

/// Most noise of an edge as a share of the width; above, taking the noise away leaves mostly its error.
const MOST_EDGE_NOISE: f64 = 0.08;

/// Least roughness that a ratio is formed with, share of the width: no outline can be told smoother than this, and
/// without it a perfectly smooth comparison shaft would make any ratio.
const LEAST_ROUGHNESS: f64 = 0.005;

/// Half-width of the band in which texture is looked for, in widths: inside the blurred edge.
const TEXTURE_BAND: f64 = 0.35;

/// Where the ground begins, in widths from the middle; its covariance between channels is taken away. The strip ends
/// at one width.
const GROUND_FROM: f64 = 0.85;

/// Most rows looked at in the band and in the ground; more only cost time.
const MOST_ROWS: usize = 12;

/// Fewest noise units that a channel must have inside for its texture to be told.
const TEXTURE_LEAST_LEVEL: f64 = 3.0;

/// Length that texture is coarser than nothing and finer than, in widths: beyond it lies unevenness.
const TEXTURE_COARSE: f64 = 1.0;

/// Fewest columns of the strip a width for its texture: the strip of a long shaft is too coarse to show any.
const TEXTURE_LEAST_COLUMNS: usize = 3;

/// Least texture, share of the level, of which it is told how it runs: below lies what compression makes.
const BANDS_LEAST_TEXTURE: f64 = 0.01;

/// Coarsest scale at which grains are looked for, µm a pixel. Spores of the small-spored kinds are 2 to 3 µm (from
/// memory of medical mycology texts); a 4x/0.10 objective resolves 3.1 µm, a 10x/0.25 1.24 µm at 510 nm (Rayleigh),
/// and 0.5 µm a pixel is the latter's Nyquist limit.
const GRAIN_COARSEST_UM_PER_PX: f64 = 0.5;

/// Most blur (Gaussian sigma) in micrometres at which 2 to 3 µm grains are still apart.
const GRAIN_MOST_BLUR_UM: f64 = 1.0;

pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        key: "structure.roughness",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "Spread of the outline's edges beside a local straight line, bend, taper and noise taken away, as a share of the width.",
        absent: "The shaft is under five pixels wide, blurred by more than 0.35 of its width, its edges noisier than 0.08 of it, or its blur unknown.",
        disturbed_by: "Understated noise of the edges; sharpening halos; debris.",
        votes: true,
        measure: |s| s.summary.roughness,
    },
    Entry {
        key: "structure.roughness_to_comparison",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "Roughness divided by that of the comparison shafts, neither taken as less than half a per cent of the width.",
        absent: "Either is unknown or there is no (other) comparison shaft.",
        disturbed_by: "Comparison shafts in another plane of focus.",
        votes: true,
        measure: |s| Some(roughness_ratio(s.summary.roughness?, s.ordinary?.roughness?)),
    },
    Entry {
        key: "structure.edges_correlation",
        unit: "1",
        range: [-1.0, 1.0],
        meaning: "Correlation of the left and the right edge's bumps, outwards counted up: 1 for swelling all around, −1 for a kinked course, 0 for grains on either side.",
        absent: "As structure.roughness, or the edges do not move at all.",
        disturbed_by: "A centreline that wavers pulls it down; defocus that varies pulls it up.",
        votes: true,
        measure: |s| edges_correlation(&s.signals.edges, s.signals.width_px()?, s.signals.blur_px?),
    },
    Entry {
        key: "structure.texture",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "Texture of the glow finer than a width along the shaft, common to the two brightest channels (noise is not common), as a share of their level.",
        absent: "The photo is monochrome, the width is unknown, or a second channel is under three noise units.",
        disturbed_by: "Compression and colour reconstruction make noise common to channels; blur smooths it.",
        votes: true,
        measure: |s| if s.signals.monochrome { None } else { texture(&s.signals.strip, s.signals.width_px()?) },
    },
    Entry {
        key: "structure.bands",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Share of that texture that runs straight across the shaft: 1 for a ladder or bands, little for grains.",
        absent: "As structure.texture, or that is under a hundredth of the level.",
        disturbed_by: "A shaft few pixels wide, whose rows blur into each other.",
        votes: true,
        measure: |s| if s.signals.monochrome { None } else { bands(&s.signals.strip, s.signals.width_px()?) },
    },
    Entry {
        key: "structure.grain",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "Texture of the glow within single stations along the shaft beyond the noise, as a share of its height, where grains of 2 to 3 µm would show.",
        absent: "The scale is unknown or coarser than 0.5 µm a pixel, the blur exceeds 1 µm, or fewer than five clear stations are bright and wide enough.",
        disturbed_by: "Cuticle scales and a ladder-like medulla lie in the same range; compression.",
        votes: true,
        measure: |s| {
            let height = height(&s.signals.strip, s.signals.width_px()?)?;
            grain(&s.signals.texture, height, s.signals.um_per_px?, s.signals.blur_px?)
        },
    },
];

/// Spread of the edges beside a local straight line, noise taken away, as a share of the width. Both sides count alike.
pub(super) fn roughness(edges: &[EdgePair], width_px: f64, blur_px: f64) -> Option<f64> {
    let (bumps, sd) = bumps(edges, width_px, blur_px)?;
    let side =
        |pick: fn(&(f64, f64)) -> f64| robust::spread_without_noise(&bumps.iter().map(pick).collect::<Vec<_>>(), sd);
    let (left, right) = (side(|b| b.0)?, side(|b| b.1)?);
    Some((0.5 * (left * left + right * right)).sqrt() / width_px)
}

/// Roughness divided by that of the comparison shafts.
pub(super) fn roughness_ratio(roughness: f64, ordinary: f64) -> f64 {
    roughness.max(LEAST_ROUGHNESS) / ordinary.max(LEAST_ROUGHNESS)
}

/// Correlation of both edges' bumps.
pub(super) fn edges_correlation(edges: &[EdgePair], width_px: f64, blur_px: f64) -> Option<f64> {
    let (bumps, _) = bumps(edges, width_px, blur_px)?;
    // One wild station (a grain of dust) would decide a plain correlation.
    let limit = |pick: fn(&(f64, f64)) -> f64| {
        robust::median(&bumps.iter().map(|b| pick(b).abs()).collect::<Vec<_>>()).map(|mad| 3.0 * SD_PER_MAD * mad)
    };
    let (left, right) = (limit(|b| b.0)?, limit(|b| b.1)?);
    let held: Vec<(f64, f64)> = bumps.iter().map(|b| (b.0.clamp(-left, left), b.1.clamp(-right, right))).collect();
    robust::correlation(&held)
}

/// What each edge leaves beside its local straight line, pixels outwards, and the edges' noise; `None` where the
/// resolution forbids.
fn bumps(edges: &[EdgePair], width_px: f64, blur_px: f64) -> Option<(Vec<(f64, f64)>, f64)> {
    let edges = enough(edges)?;
    let sd = robust::median(&edges.iter().map(|e| e.sd_px).collect::<Vec<_>>())?;
    if width_px < THINNEST_PX || blur_px > MOST_BLUR * width_px || sd > MOST_EDGE_NOISE * width_px {
        return None;
    }
    let places: Vec<f64> = edges.iter().map(|e| e.s_px).collect();
    let reach = BUMP_REACH * width_px;
    let side =
        |pick: fn(&EdgePair) -> f64| beside_local_line(&places, &edges.iter().map(pick).collect::<Vec<_>>(), reach);
    Some((side(|e| e.left_px).into_iter().zip(side(|e| e.right_px)).collect(), sd))
}

/// Texture finer than a width; `None` where the strip has under three columns a width.
pub(super) fn texture(strip: &Strip, width_px: f64) -> Option<f64> {
    Some(common_texture(strip, width_px, coarse_columns(strip, width_px)?)?.variance.max(0.0).sqrt())
}

/// Share of the texture that is common to the rows; `None` where there is next to no texture.
pub(super) fn bands(strip: &Strip, width_px: f64) -> Option<f64> {
    let seen = common_texture(strip, width_px, coarse_columns(strip, width_px)?)?;
    (seen.variance > BANDS_LEAST_TEXTURE * BANDS_LEAST_TEXTURE).then(|| (seen.of_mean / seen.variance).clamp(0.0, 1.0))
}

fn coarse_columns(strip: &Strip, width_px: f64) -> Option<usize> {
    let coarse = (TEXTURE_COARSE * width_px / strip.step_px).round() as usize;
    (coarse >= TEXTURE_LEAST_COLUMNS).then_some(coarse)
}

/// Texture within stations beyond the noise as a share of the height, which is in noise units; `None` where the
/// resolution cannot show grains.
pub(super) fn grain(texture: &[f64], height: f64, um_per_px: f64, blur_px: f64) -> Option<f64> {
    if um_per_px > GRAIN_COARSEST_UM_PER_PX || blur_px * um_per_px > GRAIN_MOST_BLUR_UM || height < TEXTURE_LEAST_LEVEL
    {
        return None;
    }
    Some((middle(texture)? - 1.0).max(0.0).sqrt() / height)
}

/// Texture along the rows of the band inside a shaft, in squared shares of the level.
struct Texture {
    /// Mean over the rows.
    variance: f64,
    /// Of the rows' mean: what runs across the shaft.
    of_mean: f64,
}

/// Texture along the rows, columns less means over `coarse` columns, common to the two brightest channels, less what
/// is common to them in the ground.
fn common_texture(strip: &Strip, width_px: f64, coarse: usize) -> Option<Texture> {
    let n_rows = strip.channels[0].height();
    let inside = rows_between(n_rows, strip.step_px, -TEXTURE_BAND * width_px, TEXTURE_BAND * width_px);
    let columns: Vec<usize> = clear_columns(strip).collect();
    if columns.len() < coarse {
        return None;
    }
    let levels: Vec<f64> = strip.channels.iter().map(|channel| level(channel, &columns, inside)).collect();
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| levels[b].total_cmp(&levels[a]));
    let [a, b, _] = order;
    if levels[b] < TEXTURE_LEAST_LEVEL {
        return None;
    }
    let covariances = |rows: (usize, usize)| {
        let stride = (rows.1 - rows.0).div_ceil(MOST_ROWS).max(1);
        let beside = |channel: usize| -> Vec<Vec<f64>> {
            let rows = (rows.0..rows.1).step_by(stride);
            rows.map(|y| beside_mean(strip.channels[channel].row(y), &strip.clear, coarse)).collect()
        };
        let (one, other) = (beside(a), beside(b));
        let n_rows = one.len();
        let n = one.first()?.len();
        let (mut single, mut of_mean) = (0.0, 0.0);
        for x in 0..n {
            single += (0..n_rows).map(|y| one[y][x] * other[y][x]).sum::<f64>() / n_rows as f64;
            let mean = |rows: &[Vec<f64>]| rows.iter().map(|row| row[x]).sum::<f64>() / n_rows as f64;
            of_mean += mean(&one) * mean(&other);
        }
        (n > 0).then(|| [single / n as f64, of_mean / n as f64])
    };
    let reach = GROUND_FROM * width_px;
    let span = n_rows as f64 * strip.step_px;
    // Both sides of the ground where the strip reaches that far; nothing to take away where it does not.
    let ground = if 0.5 * span > reach {
        let sides =
            [rows_between(n_rows, strip.step_px, -span, -reach), rows_between(n_rows, strip.step_px, reach, span)];
        let seen: Vec<[f64; 2]> = sides.into_iter().filter_map(covariances).collect();
        [0, 1].map(|i| seen.iter().map(|side| side[i]).sum::<f64>() / seen.len().max(1) as f64)
    } else {
        [0.0; 2]
    };
    let inside = covariances(inside)?;
    let share = |i: usize| (inside[i] - ground[i]) / (levels[a] * levels[b]);
    Some(Texture { variance: share(0), of_mean: share(1) })
}

fn level(channel: &Raster<f32>, columns: &[usize], rows: (usize, usize)) -> f64 {
    let sum: f64 = (rows.0..rows.1).flat_map(|y| columns.iter().map(move |&x| f64::from(channel.at(x, y)))).sum();
    sum / ((rows.1 - rows.0) * columns.len()).max(1) as f64
}

/// Value less the mean over `coarse` columns about it, at each place whose window lies clear.
fn beside_mean(row: &[f32], clear: &[bool], coarse: usize) -> Vec<f64> {
    let n = row.len().min(clear.len());
    let reach = coarse / 2;
    let mut sums = Vec::with_capacity(n + 1);
    let mut unclear = Vec::with_capacity(n + 1);
    let (mut sum, mut count) = (0.0, 0usize);
    sums.push(sum);
    unclear.push(count);
    for x in 0..n {
        sum += f64::from(row[x]);
        count += usize::from(!clear[x]);
        sums.push(sum);
        unclear.push(count);
    }
    let mean = |x: usize| (sums[x + reach + 1] - sums[x - reach]) / (2 * reach + 1) as f64;
    (reach..n.saturating_sub(reach))
        .filter(|&x| unclear[x + reach + 1] == unclear[x - reach])
        .map(|x| f64::from(row[x]) - mean(x))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn edges(n: usize, sd_px: f64, left: impl Fn(f64) -> f64, right: impl Fn(f64) -> f64) -> Vec<EdgePair> {
        (0..n)
            .map(|i| i as f64 * 2.0)
            .map(|s_px| EdgePair { s_px, left_px: left(s_px), right_px: right(s_px), sd_px })
            .collect()
    }

    #[test]
    fn bend_and_taper_are_not_rough() {
        let bent = edges(400, 0.05, |s| 10.0 - 0.005 * s + (s / 200.0).sin(), |s| 10.0 - 0.005 * s - (s / 200.0).sin());
        assert!(roughness(&bent, 20.0, 1.0).unwrap() < 0.002);
    }

    #[test]
    fn bumps_are_rough_by_their_share_of_the_width() {
        // The tenths of a sine of amplitude 1 are ±sin 72°, so the estimate is 2 · 0.9511 / 2.563 = 0.7421; the local
        // line takes little of it, since its window holds four periods.
        let bumpy = |sd| edges(800, sd, |s| 10.0 + (s / 3.1).sin(), |s| 10.0 + (s / 3.1).cos());
        assert!((roughness(&bumpy(0.0), 20.0, 1.0).unwrap() - 0.7421 / 20.0).abs() < 0.003);
        let less = roughness(&bumpy(0.5), 20.0, 1.0).unwrap();
        assert!((less - (0.7421f64.powi(2) - 0.25).sqrt() / 20.0).abs() < 0.005, "stated noise is taken away: {less}");
        let one_side = edges(800, 0.0, |s| 10.0 + (s / 3.1).sin(), |_| 10.0);
        assert!((roughness(&one_side, 20.0, 1.0).unwrap() - 0.7421 / 20.0 / 2f64.sqrt()).abs() < 0.003);
    }

    #[test]
    fn where_resolution_forbids_it_is_absent_and_not_zero() {
        let plain = |sd| edges(100, sd, |_| 10.0, |_| 10.0);
        assert_eq!(roughness(&plain(0.1), 20.0, 1.0), Some(0.0));
        assert_eq!(roughness(&plain(0.1), 4.0, 0.5), None, "four pixels");
        assert_eq!(roughness(&plain(0.1), 20.0, 7.1), None, "blurred");
        assert_eq!(roughness(&plain(2.0), 20.0, 1.0), None, "noisy");
        assert_eq!(edges_correlation(&plain(0.1), 20.0, 1.0), None, "the edges do not move");
    }

    #[test]
    fn swelling_moves_both_edges_out_and_a_kink_does_not() {
        let wave = |s: f64| (s * TAU / 25.0).sin();
        let swollen = edges(400, 0.1, |s| 10.0 + wave(s), |s| 10.0 + wave(s));
        assert!(edges_correlation(&swollen, 20.0, 1.0).unwrap() > 0.99);
        let kinked = edges(400, 0.1, |s| 10.0 + wave(s), |s| 10.0 - wave(s));
        assert!(edges_correlation(&kinked, 20.0, 1.0).unwrap() < -0.99);
        let apart = edges(400, 0.1, wave, |s| (s * TAU / 25.0).cos());
        assert!(edges_correlation(&apart, 20.0, 1.0).unwrap().abs() < 0.1);
    }

    #[test]
    fn a_ratio_never_divides_by_a_perfect_outline() {
        assert_eq!(roughness_ratio(0.04, 0.01), 4.0);
        assert_eq!(roughness_ratio(0.02, 0.0), 4.0);
        assert_eq!(roughness_ratio(0.0, 0.0), 1.0);
    }

    fn strip_of(channels: &[Raster<f32>; 3]) -> Strip<'_> {
        Strip { channels, step_px: 1.0, clear: vec![true; channels[0].width()] }
    }

    fn shaft(light: impl Fn(usize, usize) -> f64) -> Raster<f32> {
        Raster::from_fn(600, 81, |x, y| if y.abs_diff(40) <= 10 { light(x, y) as f32 } else { 0.0 })
    }

    #[test]
    fn texture_common_to_channels_counts_and_noise_does_not() {
        // A square wave of ±3 on 30, period 8: its mean over whole periods is 30, its share 0.1.
        let wave = |x: usize| if x % 8 < 4 { 33.0 } else { 27.0 };
        let grainy = [shaft(|x, _| wave(x)), shaft(|x, _| wave(x)), shaft(|_, _| 1.0)];
        let seen = texture(&strip_of(&grainy), 20.0).unwrap();
        assert!((seen - 0.1).abs() < 0.01, "{seen}");
        // A fixed scramble of the place (splitmix64's finaliser) stands for independent noise.
        let scramble = |x: usize, y: usize, salt: usize| {
            let mut z = ((x * 81 + y) * 3 + salt) as u64;
            z = z.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
            z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            (z ^ (z >> 31)) as f64 / u64::MAX as f64
        };
        let noise = |salt| shaft(move |x, y| 30.0 + 10.0 * (scramble(x, y, salt) - 0.5));
        let noisy = [noise(1), noise(2), noise(3)];
        assert!(texture(&strip_of(&noisy), 20.0).unwrap() < 0.03, "±5 of noise in each channel");
        assert!(bands(&strip_of(&grainy), 20.0).unwrap() > 0.95, "a wave that runs straight across");
        // Cells of four by four pixels, bright or dark each for itself: about twelve rows of three independent cells.
        let cells = || shaft(|x, y| 30.0 + 12.0 * (scramble(x / 4, y / 4, 7) - 0.5));
        let loose = bands(&strip_of(&[cells(), cells(), shaft(|_, _| 1.0)]), 20.0).unwrap();
        assert!((0.15..0.5).contains(&loose), "{loose}");
        let dim = [shaft(|x, _| wave(x)), shaft(|_, _| 1.0), shaft(|_, _| 1.0)];
        assert_eq!(texture(&strip_of(&dim), 20.0), None, "one channel cannot tell texture from noise");
    }

    #[test]
    fn grains_need_a_scale_that_shows_them() {
        let texture = [1.0 + 16.0; 9];
        assert!((grain(&texture, 40.0, 0.25, 1.0).unwrap() - 0.1).abs() < 1e-12, "√16 / 40");
        assert_eq!(grain(&[0.8; 9], 40.0, 0.25, 1.0), Some(0.0), "smoother than its noise");
        assert_eq!(grain(&texture, 40.0, 0.6, 1.0), None, "4x does not resolve grains");
        assert_eq!(grain(&texture, 40.0, 0.25, 5.0), None, "blur of 1.25 µm");
        assert_eq!(grain(&texture, 2.0, 0.25, 1.0), None, "too dim");
        assert_eq!(grain(&texture[..4], 40.0, 0.25, 1.0), None, "four stations");
        let coarse = [shaft(|x, _| x as f64), shaft(|x, _| x as f64), shaft(|_, _| 1.0)];
        let strip = Strip { step_px: 9.0, ..strip_of(&coarse) };
        assert_eq!(super::texture(&strip, 20.0), None, "two columns a width");
    }
}
