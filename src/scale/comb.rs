//! Which crossings of a band are teeth of one comb: evenly spaced, with some missing and some that are dust.

use super::lines::Crossing;
use crate::maths::robust::quantile;

/// A tooth may lie off its expected place by this share of the spacing: more takes in dust, less loses lines where
/// the lens distorts.
const TOLERANCE: f64 = 0.2;

/// So many teeth in a row may be missing (hidden by dust) before the comb ends.
const MOST_MISSING: usize = 3;

/// How much of the latest spacing goes into the expected one: it follows distortion and not a single tooth.
const FOLLOW: f64 = 0.3;

/// Crossings from which combs are begun; more cost time and find the same.
const MOST_SEEDS: usize = 60;

/// Nearest spacing that can be told, pixels: below it, neighbouring lines run into each other.
pub(super) const LEAST_PITCH_PX: f64 = 4.0;

/// A comb found in one band.
#[derive(Clone, Debug, Default)]
pub(super) struct Comb {
    /// Number and place of each tooth, in order; numbers from 0, absent teeth left out.
    pub(super) teeth: Vec<(i64, f64)>,
    /// Teeth that should be there and are not.
    pub(super) n_missing: usize,
    /// Strength of a strong tooth, linear light.
    pub(super) strength: f64,
    score: f64,
}

impl Comb {
    /// How much speaks for it. A strong tooth counts 1, one of half its strength nothing, a faint one as much against
    /// the comb; a missing tooth counts 2 against it, a stray up to a half by its strength. So noise that happens to
    /// lie half-way between lines makes no finer comb.
    pub(super) fn score(&self) -> f64 {
        self.score
    }

    /// Mean spacing, pixels; `None` under two teeth.
    pub(super) fn pitch_px(&self) -> Option<f64> {
        let (first, last) = (self.teeth.first()?, self.teeth.last()?);
        (last.0 > first.0).then(|| (last.1 - first.1) / (last.0 - first.0) as f64)
    }

    /// How unevenly the teeth stand: root mean square of half the second difference of neighbours against the
    /// spacing. About 0.14 for teeth anywhere within the tolerance, 0 for an even comb.
    pub(super) fn unevenness(&self) -> Option<f64> {
        let pitch = self.pitch_px()?;
        let bends: Vec<f64> = self
            .teeth
            .windows(3)
            .filter(|three| three[2].0 - three[0].0 == 2)
            .map(|three| 0.5 * (three[0].1 - 2.0 * three[1].1 + three[2].1) / pitch)
            .collect();
        (!bends.is_empty()).then(|| (bends.iter().map(|b| b * b).sum::<f64>() / bends.len() as f64).sqrt())
    }
}

/// The best comb among crossings, which are ordered by u. Empty when there are under three crossings.
pub(super) fn comb(crossings: &[Crossing]) -> Comb {
    let places: Vec<f64> = crossings.iter().map(|crossing| crossing.u).collect();
    let every = places.len().div_ceil(MOST_SEEDS).max(1);
    let mut best = Comb::default();
    let mut best_score = 0.0;
    for seed in (0..places.len()).step_by(every) {
        // Up to two strays may lie between a line and the next.
        for next in seed + 1..(seed + 4).min(places.len()) {
            let pitch = places[next] - places[seed];
            if pitch < LEAST_PITCH_PX {
                continue;
            }
            let found = grown(&places, crossings, seed, pitch);
            if found.score() > best_score {
                best_score = found.score();
                best = found;
            }
        }
    }
    best
}

/// Rank among the teeth, from the weakest, of the one that stands for a strong tooth.
const STRONG: f64 = 0.8;

fn grown(places: &[f64], crossings: &[Crossing], seed: usize, pitch: f64) -> Comb {
    let mut teeth = vec![(0, places[seed])];
    let mut n_missing = 0;
    for way in [1.0, -1.0] {
        let (mut number, mut at, mut pitch, mut missing) = (0i64, places[seed], pitch, 0);
        loop {
            let steps = missing as f64 + 1.0;
            let expected = at + way * steps * pitch;
            match nearest(places, expected).filter(|place| (place - expected).abs() <= TOLERANCE * pitch) {
                Some(place) => {
                    number += way as i64 * (missing as i64 + 1);
                    pitch += FOLLOW * ((place - at).abs() / steps - pitch);
                    (at, n_missing, missing) = (place, n_missing + missing, 0);
                    teeth.push((number, place));
                }
                None if missing < MOST_MISSING => missing += 1,
                None => break,
            }
            // Places are finite in number and each step moves on, but rounding must not hold it up.
            if teeth.len() > places.len() {
                break;
            }
        }
    }
    teeth.sort_by_key(|tooth| tooth.0);
    let first = teeth[0];
    let last = teeth[teeth.len() - 1];
    let from = places.partition_point(|place| *place < first.1);
    let within = &crossings[from..places.partition_point(|place| *place <= last.1)];
    let is_tooth = |u: f64| teeth.binary_search_by(|tooth| tooth.1.total_cmp(&u)).is_ok();
    let strengths: Vec<f64> = within.iter().filter(|c| is_tooth(c.u)).map(|c| c.strength).collect();
    let strength = quantile(&strengths, STRONG).unwrap_or(0.0);
    let counts = |c: &Crossing| {
        let share = if strength > 0.0 { (c.strength / strength).min(1.0) } else { 0.0 };
        if is_tooth(c.u) { 2.0 * share - 1.0 } else { -0.5 * share }
    };
    let score = within.iter().map(counts).sum::<f64>() - 2.0 * n_missing as f64;
    teeth.iter_mut().for_each(|tooth| tooth.0 -= first.0);
    Comb { teeth, n_missing, strength, score }
}

/// The place nearest to `expected`; places are ordered.
pub(super) fn nearest(places: &[f64], expected: f64) -> Option<f64> {
    let after = places.partition_point(|place| *place < expected);
    let around = [after.checked_sub(1), Some(after)];
    let near = around.into_iter().flatten().filter_map(|i| places.get(i).copied());
    near.min_by(|a, b| (a - expected).abs().total_cmp(&(b - expected).abs()))
}

#[cfg(test)]
mod tests {
    use super::{comb, nearest};
    use crate::scale::lines::Crossing;

    fn crossings(places: &[f64]) -> Vec<Crossing> {
        places.iter().map(|&u| Crossing { u, strength: 1.0 }).collect()
    }

    #[test]
    fn absent_teeth_and_dust_do_not_miscount() {
        let mut places: Vec<f64> =
            (0..20).filter(|i| ![4, 11, 12].contains(i)).map(|i| 7.0 + 12.5 * f64::from(i)).collect();
        places.extend([13.0, 62.0, 200.5]);
        places.sort_by(f64::total_cmp);
        let found = comb(&crossings(&places));
        assert_eq!((found.teeth.len(), found.n_missing), (17, 3));
        assert!((found.score() - (17.0 - 2.0 * 3.0 - 0.5 * 3.0)).abs() < 1e-9, "three absent and three strays");
        assert!((found.pitch_px().unwrap() - 12.5).abs() < 1e-12);
        assert!(found.teeth.iter().all(|(n, u)| (u - 7.0 - 12.5 * *n as f64).abs() < 1e-9));
    }

    #[test]
    fn a_spacing_that_changes_slowly_is_followed() {
        let places: Vec<f64> = (0..80).map(|i| f64::from(i) * 10.0 * (1.0 + 0.001 * f64::from(i))).collect();
        let found = comb(&crossings(&places));
        assert_eq!((found.teeth.len(), found.n_missing), (80, 0));
    }

    #[test]
    fn nothing_makes_no_comb() {
        assert!(comb(&[]).teeth.is_empty());
        assert!(comb(&crossings(&[5.0])).teeth.is_empty());
        assert_eq!(nearest(&[], 1.0), None);
        assert_eq!(nearest(&[1.0, 4.0, 6.0], 5.1), Some(6.0));
    }
}
