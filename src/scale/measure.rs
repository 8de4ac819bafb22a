//! One family of parallel lines, from a direction across them to its measured ruling.

use rayon::prelude::*;

use super::bands::{Band, Frame, bands};
use super::comb::{Comb, LEAST_PITCH_PX, comb, nearest};
use super::joint::{Joint, Place, joint, lines_of};
use super::lines::{crossings, response};
use super::template::Template;
use super::{Distortion, Ruling};
use crate::maths::raster::Raster;
use crate::maths::robust::median;

/// Sizes of lines that are sought: standard deviations of bell curves, pixels. Each half again the one before; between
/// two of them the answer hardly falls.
const SIZES_PX: [f64; 9] = [1.0, 1.5, 2.2, 3.3, 5.0, 7.5, 11.0, 17.0, 25.0];

/// Bands in which combs are sought; lines that matter cross several.
const N_SOUGHT: usize = 12;

/// Ranks of strength at which crossings are cut off, half as strong as the one of that rank: the lines of one photo
/// are alike, but how many there are is not known beforehand.
const RANKS: [usize; 7] = [4, 8, 16, 32, 64, 128, 256];

/// Bands a photo is cut into, and the rows a band may have: fewer rows are noisy, more smear where the direction is
/// not known well yet.
const N_BANDS: usize = 24;
const BAND_ROWS: std::ops::RangeInclusive<usize> = 12..=64;

/// Fewest lines that make a ruling: four equal distances in a row are no chance.
pub(super) const LEAST_LINES: usize = 5;

/// A comb in one band may be this uneven (share of the spacing) and may lack this share of its teeth.
const MOST_UNEVEN: f64 = 0.09;
const MOST_MISSING_SHARE: f64 = 0.25;

/// A line's height in a band against the template's. Less is another thing, a line that ends there, or noise.
const HEIGHT_SHARES: std::ops::RangeInclusive<f64> = 0.4..=2.5;

/// A line's height against its uncertainty.
const HEIGHT_SDS: f64 = 4.0;

/// A line may lie off its expected place by this share of the pitch.
const OFF_SHARE: f64 = 0.2;

/// A ruling is even: used places lie off it by no more than this share of the pitch. Rulings are made to a thousandth;
/// the rest is for blurred and noisy photos.
const MOST_RESIDUAL_SHARE: f64 = 0.05;

/// Lines run on: they are seen in this share of the bands between their ends. Dust hides some places; a wrong direction
/// sees every third at most.
const LEAST_STEADY: f64 = 0.6;

/// Lines stand out by this share at least; what is fainter may be the pattern that compression leaves.
const LEAST_CONTRAST: f64 = 0.03;

/// Lines wider than this share of the pitch run into their neighbours, and the outermost, which have one neighbour
/// only, are pulled aside: they are left out.
const WIDE_SHARE: f64 = 0.42;

/// Rounds of reading off and fitting; in the second the direction is known to a hundredth of a degree.
const N_ROUNDS: usize = 3;

/// The ruling across the direction `angle`, radians; `None` when there is none.
pub(super) fn measure(grey: &Raster<f32>, angle: f64) -> Option<Ruling> {
    let mut frame = Frame::new(grey.width(), grey.height(), angle);
    let rows = (2.0 * frame.half_extent().1) as usize / N_BANDS;
    let rows = rows.clamp(*BAND_ROWS.start(), *BAND_ROWS.end());
    let mut read = bands(grey, &frame, rows);
    let begun = begin(&read)?;
    let dark = begun.dark;
    let mut places = spread(&read, &begun);
    let mut fit = joint(&places, &frame)?;
    let mut template = None;
    for round in 0..N_ROUNDS {
        if round > 0 {
            let (along_u, along_v) = fit.over_photo(&frame, grey.width(), grey.height()).lines_per_px;
            let [x, y] = frame.direction(along_u, along_v);
            let turned = Frame::new(grey.width(), grey.height(), y.atan2(x));
            places = places.iter().map(|place| turned_place(place, &frame, &turned)).collect();
            frame = turned;
            read = bands(grey, &frame, rows);
            fit = joint(&places, &frame)?;
        }
        let pitch = pitch_of(&fit, &frame, grey)?;
        let known = lines_of(&places, &fit.used);
        let seen = places.iter().zip(&fit.used).filter(|(_, used)| **used).filter_map(|(place, _)| {
            let band = read.iter().find(|band| (band.v - place.v).abs() <= 0.5 * rows as f64)?;
            Some((band, fit.place(place.n, band.v)?))
        });
        let made = Template::of(seen, pitch)?;
        let (first, last) = (*known.keys().next()?, *known.keys().next_back()?);
        places = read_off(&read, &fit, &made, pitch, (first, last));
        template = Some(made);
        fit = joint(&places, &frame)?;
    }
    let template = template?;
    if (template.height < 0.0) != dark {
        return None;
    }
    if steadiness(&places, &fit, rows as f64) < LEAST_STEADY {
        return None;
    }
    ruling(grey, &frame, &places, &fit, &template)
}

/// Share of the bands between each line's ends in which it was seen, over all lines. Near 1 for lines; a direction a
/// few degrees off meets a neighbour of the line it began with every few bands, and counts those as one line.
fn steadiness(places: &[Place], fit: &Joint, rows: f64) -> f64 {
    let (mut n_seen, mut n_between) = (0.0, 0.0);
    for line in lines_of(places, &fit.used).values() {
        let along = line.iter().map(|&i| places[i].v);
        let (from, to) = along.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)));
        n_seen += line.len() as f64;
        n_between += ((to - from) / rows).round() + 1.0;
    }
    if n_between > 0.0 { n_seen / n_between } else { 0.0 }
}

fn turned_place(place: &Place, from: &Frame, to: &Frame) -> Place {
    let (x, y) = from.xy(place.u, place.v);
    let (u, v) = to.uv(x, y);
    Place { n: place.n, u, v }
}

fn pitch_of(fit: &Joint, frame: &Frame, grey: &Raster<f32>) -> Option<f64> {
    let (along_u, along_v) = fit.over_photo(frame, grey.width(), grey.height()).lines_per_px;
    let pitch = 1.0 / along_u.hypot(along_v);
    // A fit through next to nothing may claim any pitch; lines farther apart than the photo is wide show none.
    let diagonal = (grey.width() as f64).hypot(grey.height() as f64);
    (LEAST_PITCH_PX..=diagonal).contains(&pitch).then_some(pitch)
}

/// The best comb of all bands, and how it was seen.
struct Begun {
    comb: Comb,
    band: usize,
    size_px: f64,
    dark: bool,
}

fn begin(read: &[Band]) -> Option<Begun> {
    let n = read.len().min(N_SOUGHT);
    let sought: Vec<usize> = (0..n).map(|i| (2 * i + 1) * read.len() / (2 * n)).collect();
    let tries: Vec<(usize, f64)> = sought.iter().flat_map(|&band| SIZES_PX.map(|size| (band, size))).collect();
    let found: Vec<Option<Begun>> = tries
        .into_par_iter()
        .map(|(band, size_px)| {
            let answer = response(&read[band], size_px);
            [true, false].into_iter().filter_map(|dark| best_comb(&read[band], &answer, dark, band, size_px)).fold(
                None,
                |best: Option<Begun>, one| match best {
                    Some(best) if best.comb.score() >= one.comb.score() => Some(best),
                    _ => Some(one),
                },
            )
        })
        .collect();
    // In the order of bands and sizes, so that equal scores do not depend on threads.
    found.into_iter().flatten().reduce(|best, one| if one.comb.score() > best.comb.score() { one } else { best })
}

fn best_comb(band: &Band, answer: &[f64], dark: bool, index: usize, size_px: f64) -> Option<Begun> {
    let all = crossings(band, answer, dark, size_px);
    let mut strengths: Vec<f64> = all.iter().map(|crossing| crossing.strength).collect();
    strengths.sort_by(|a, b| b.total_cmp(a));
    let mut best: Option<Comb> = None;
    for rank in RANKS {
        let Some(strength) = strengths.get(rank) else { break };
        let strong: Vec<_> = all.iter().copied().filter(|crossing| crossing.strength >= 0.5 * strength).collect();
        let one = comb(&strong);
        let even = one.unevenness().is_some_and(|uneven| uneven <= MOST_UNEVEN);
        let whole = one.n_missing as f64 <= MOST_MISSING_SHARE * one.teeth.len() as f64;
        let enough = one.teeth.len() >= LEAST_LINES;
        if even && whole && enough && best.as_ref().is_none_or(|best| one.score() > best.score()) {
            best = Some(one);
        }
    }
    best.map(|comb| Begun { comb, band: index, size_px, dark })
}

/// The comb's lines followed from its band to all others: each line is expected where it was in the band before.
fn spread(read: &[Band], begun: &Begun) -> Vec<Place> {
    let crossed: Vec<Vec<f64>> = read
        .par_iter()
        .map(|band| {
            let answer = response(band, begun.size_px);
            let all = crossings(band, &answer, begun.dark, begun.size_px);
            let least = *HEIGHT_SHARES.start() * begun.comb.strength;
            all.iter().filter(|crossing| crossing.strength >= least).map(|crossing| crossing.u).collect()
        })
        .collect();
    let pitch = begun.comb.pitch_px().unwrap_or(LEAST_PITCH_PX);
    let at = |band: usize, teeth: &[(i64, f64)]| -> Vec<Place> {
        teeth.iter().map(|&(n, u)| Place { n, u, v: read[band].v }).collect()
    };
    let mut places = at(begun.band, &begun.comb.teeth);
    let up = (0..begun.band).rev().collect::<Vec<_>>();
    let down = (begun.band + 1..read.len()).collect::<Vec<_>>();
    for way in [up, down] {
        let mut expected = begun.comb.teeth.clone();
        for band in way {
            let seen: Vec<(i64, f64)> = expected
                .iter()
                .filter_map(|&(n, u)| {
                    nearest(&crossed[band], u).filter(|place| (place - u).abs() <= OFF_SHARE * pitch).map(|u| (n, u))
                })
                .collect();
            if seen.len() < LEAST_LINES.min(expected.len()) {
                continue;
            }
            // Lines that are not seen here have moved as the others have.
            let moves: Vec<f64> =
                seen.iter().filter_map(|(n, u)| expected.iter().find(|e| e.0 == *n).map(|e| u - e.1)).collect();
            let shift = median(&moves).unwrap_or(0.0);
            places.extend(at(band, &seen));
            expected.iter_mut().for_each(|tooth| {
                tooth.1 = seen.iter().find(|s| s.0 == tooth.0).map_or(tooth.1 + shift, |s| s.1);
            });
        }
    }
    places
}

/// Reads off all lines in all bands by the template; further lines on both sides as long as one follows the other.
fn read_off(read: &[Band], fit: &Joint, template: &Template, pitch: f64, known: (i64, i64)) -> Vec<Place> {
    let at = |n: i64| -> Vec<Place> {
        let one = |band: &Band| {
            let expected = fit.place(n, band.v)?;
            let fitted = template.fit(band, expected)?;
            let sure = fitted.share > HEIGHT_SDS * fitted.share_sd && HEIGHT_SHARES.contains(&fitted.share);
            let near = (fitted.u - expected).abs() <= OFF_SHARE * pitch;
            (sure && near).then_some(Place { n, u: fitted.u, v: band.v })
        };
        read.iter().filter_map(one).collect()
    };
    // One place alone may be dust.
    let least = if read.len() >= 4 { 2 } else { 1 };
    let (first, last) = known;
    let mut lines: Vec<Vec<Place>> = (first..=last).into_par_iter().map(at).collect();
    for (from, way) in [(last, 1), (first, -1)] {
        let mut n = from + way;
        loop {
            let more = at(n);
            if more.len() < least {
                break;
            }
            if way > 0 {
                lines.push(more)
            } else {
                lines.insert(0, more)
            }
            n += way;
        }
    }
    lines.retain(|line| line.len() >= least);
    if template.width_px > WIDE_SHARE * pitch && lines.len() > 2 {
        lines.pop();
        lines.remove(0);
    }
    lines.concat()
}

fn ruling(grey: &Raster<f32>, frame: &Frame, places: &[Place], fit: &Joint, template: &Template) -> Option<Ruling> {
    let (width, height) = (grey.width(), grey.height());
    let lines = lines_of(places, &fit.used);
    let (first, last) = (*lines.keys().next()?, *lines.keys().next_back()?);
    let n_pitches = (last - first) as usize;
    let over = fit.over_photo(frame, width, height);
    let (along_u, along_v) = over.lines_per_px;
    let [x, y] = frame.direction(along_u, along_v);
    let pitch_px = 1.0 / x.hypot(y);
    let span_px = n_pitches as f64 * pitch_px;
    let [bright, faint] = [template.ground.max(template.ground + template.height), template.height.abs()];
    let contrast = if bright > 0.0 { (faint / bright).min(1.0) } else { 0.0 };
    let sound = lines.len() >= LEAST_LINES
        && n_pitches as f64 * (1.0 - MOST_MISSING_SHARE) <= lines.len() as f64
        && fit.residual_px <= MOST_RESIDUAL_SHARE * pitch_px
        && contrast >= LEAST_CONTRAST
        && pitch_px >= LEAST_PITCH_PX
        && over.sd_share.is_finite();
    sound.then(|| Ruling {
        lines_per_px: [x, y],
        sd_share: over.sd_share,
        pitch_px,
        angle_deg: y.atan2(x).to_degrees().rem_euclid(180.0),
        n_lines: lines.len(),
        n_places: fit.used.iter().filter(|used| **used).count(),
        n_pitches,
        span_px,
        span_share: (span_px / (2.0 * frame.half_extent().0)).min(1.0),
        residual_px: fit.residual_px,
        distortion: over.departure.map(|(rms_share, largest_share)| Distortion { rms_share, largest_share }),
        dark: template.height < 0.0,
        contrast,
    })
}

#[cfg(test)]
mod tests {
    use super::{Frame, Place, joint, pitch_of};
    use crate::maths::raster::Raster;

    #[test]
    fn lines_farther_apart_than_the_photo_is_wide_have_no_pitch() {
        let (grey, frame) = (Raster::filled(120, 80, 0.5), Frame::new(120, 80, 0.0));
        let pitch = |apart: f64| {
            let places: Vec<Place> = (0..24)
                .map(|i| Place { n: i / 4, u: (i / 4) as f64 * apart, v: 10.0 * (i % 4) as f64 - 15.0 })
                .collect();
            pitch_of(&joint(&places, &frame)?, &frame, &grey)
        };
        assert!(pitch(20.0).is_some_and(|found| (found - 20.0).abs() < 1e-6));
        assert_eq!(pitch(1e9), None);
    }
}
