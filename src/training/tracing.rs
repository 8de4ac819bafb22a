//! How well shafts are found, traced, measured and told base from tip, against the truth of simulated scenes.

use super::appraisal::Estimate;
use super::pairing::Pair;
use super::scenes::Measured;
use crate::concerns::ConcernKind;
use crate::features::{Orientation, Zone};
use crate::maths::point::Point;
use crate::maths::resampling;
use crate::maths::stats::{median, quantile, robust_sd};
use crate::record::upper_bound;
use crate::sim;

/// Share of a true shaft's length in view that one trace must cover for the shaft to count as found.
pub const FOUND_COVERED: f64 = 0.7;
/// Height over noise of one pixel from which a width is held against the Cramér-Rao bound.
const BRIGHT: f64 = 10.0;
/// Resamples behind every interval.
const N_RESAMPLES: usize = 1000;
/// Ends of a trace that say nothing of its middle line: left out of the centreline's error, in widths.
const END_WIDTHS: f64 = 1.0;

/// What one scene adds to the figures.
#[derive(Clone, Debug, Default)]
pub struct SceneScore {
    /// True shafts in view.
    pub truths: usize,
    /// Traces.
    pub found: usize,
    /// True shafts that one trace follows.
    pub paired: usize,
    /// True shafts that cross another, and how many of them one trace follows.
    pub crossing: (usize, usize),
    /// Median distance of each paired trace from the true line, pixels.
    pub centreline_px: Vec<f64>,
    /// 95th percentile of the same, divided by 1.5 px or 5 % of the width, whichever is more.
    pub centreline_tail: Vec<f64>,
    /// (measured − true) / true median width of each paired shaft whose width is told.
    pub width: Vec<f64>,
    /// Paired shafts with a width, and how many of them are too thin for it to be told.
    pub too_thin: (usize, usize),
    /// Those with an upper bound instead, and how many of them are no wider than that.
    pub within_bound: (usize, usize),
    /// (measured − true) / stated standard uncertainty.
    pub width_z: Vec<f64>,
    /// (measured − true) over the Cramér-Rao bound, of shafts whose signal is at least `BRIGHT` times the noise.
    pub width_over_bound: Vec<f64>,
    /// The Cramér-Rao bound of those, as a share of the width.
    pub least: Vec<f64>,
    /// Shafts with both ends in view whose base end the program told, and told rightly.
    pub base: (usize, usize),
    /// Shafts with both ends in view that fluoresce at base or tip only, and of how many of them a zone was told.
    pub zone_told: (usize, usize),
    /// Those of which a zone was told, and of how many it is the right one.
    pub zone_right: (usize, usize),
}

/// Scores one scene.
pub fn score(measured: &Measured) -> SceneScore {
    let pairs = measured.pairs(FOUND_COVERED);
    let crossed: Vec<usize> =
        sim::crossings(&measured.truths).iter().flat_map(|c| [c.between.0, c.between.1]).collect();
    let mut out = SceneScore {
        truths: measured.truths.len(),
        found: measured.features.rows.len(),
        paired: pairs.len(),
        ..SceneScore::default()
    };
    for (i, truth) in measured.truths.iter().enumerate() {
        if crossed.contains(&truth.id) {
            out.crossing.0 += 1;
            out.crossing.1 += usize::from(pairs.iter().any(|p| p.truth == i));
        }
    }
    for pair in &pairs {
        add_pair(&mut out, measured, pair);
    }
    out
}

fn add_pair(out: &mut SceneScore, measured: &Measured, pair: &Pair) {
    let truth = &measured.truths[pair.truth];
    let true_line = &measured.true_lines[pair.truth].line;
    let profile = &measured.features.profiles.shafts[pair.found];
    let row = &measured.features.rows[pair.found];
    let shaft = &measured.scene.shafts[truth.id - 1];
    let line = &profile.centreline;
    let cut = END_WIDTHS * truth.median_width_px;
    let mut off: Vec<f64> = (0..200)
        .map(|i| line.length() * f64::from(i) / 199.0)
        .filter(|s| *s > cut && *s < line.length() - cut)
        .map(|s| true_line.nearest(line.at(s)).distance)
        .collect();
    if let (Some(middle), Some(tail)) = (median(&mut off), quantile(&mut off, 0.95)) {
        out.centreline_px.push(middle);
        out.centreline_tail.push(tail / (0.05 * truth.median_width_px).max(1.5));
    }
    if let Some(width) = profile.median_width() {
        // The true median over the same stations: a taper, or a swelling where the photo is clipped, may lie outside.
        let mut there: Vec<f64> = profile
            .stations
            .iter()
            .filter(|station| station.clear && station.width_px.is_some())
            .filter_map(|station| width_at(truth, true_line, line.at(station.s_px)))
            .collect();
        let true_width = median(&mut there);
        let is_too_thin = profile.concerns.iter().any(|concern| concern.kind == ConcernKind::TooThin);
        if let Some(true_width) = true_width {
            out.too_thin.0 += 1;
            out.too_thin.1 += usize::from(is_too_thin);
            if let Some(at_most) = upper_bound(width.px, width.sd_px).filter(|_| is_too_thin) {
                out.within_bound.0 += 1;
                out.within_bound.1 += usize::from(true_width <= at_most);
            }
        }
        if let Some(true_width) = true_width.filter(|_| !is_too_thin) {
            out.width.push((width.px - true_width) / true_width);
            if let Some(least) =
                profile.least.filter(|least| least.signal_to_noise >= BRIGHT && least.width_sd_px > 0.0)
            {
                out.width_over_bound.push((width.px - true_width) / least.width_sd_px);
                out.least.push(least.width_sd_px / true_width);
            }
            if width.sd_px > 0.0 {
                out.width_z.push((width.px - true_width) / width.sd_px);
            }
        }
    }
    if truth.ends_in_view == [true, true] {
        let first_is_base = line.first().distance(true_line.first()) < line.last().distance(true_line.first());
        if row.orientation != Orientation::Unknown {
            out.base.0 += 1;
            out.base.1 += usize::from(first_is_base != row.reversed);
        }
        let wanted = match shaft.zone {
            sim::Zone::Base => Some(Zone::Base),
            sim::Zone::Tip => Some(Zone::Tip),
            _ => None,
        };
        if let Some(wanted) = wanted {
            out.zone_told.0 += 1;
            // `unknown` says that base and tip could not be told apart: no answer is not a wrong one.
            if row.zone != Zone::Unknown {
                out.zone_told.1 += 1;
                out.zone_right.0 += 1;
                out.zone_right.1 += usize::from(row.zone == wanted);
            }
        }
    }
}

fn width_at(truth: &sim::ShaftTruth, line: &crate::maths::polyline::Polyline, place: Point) -> Option<f64> {
    let s = line.nearest(place).s / line.length();
    let last = truth.width_px.len().checked_sub(1)?;
    Some(truth.width_px[((s * last as f64).round() as usize).min(last)])
}

/// One line of the table: a name, its figure with the interval, and on how many cases it rests.
pub type Line = (String, Estimate, usize);

/// The figures of many scenes; intervals by resampling scenes.
pub fn figures(scenes: &[SceneScore], seed: u64) -> Vec<Line> {
    let f1 = |chosen: &[&SceneScore]| {
        let sum = |f: fn(&SceneScore) -> usize| chosen.iter().map(|s| f(s)).sum::<usize>() as f64;
        let (paired, all) = (sum(|s| s.paired), sum(|s| s.truths) + sum(|s| s.found));
        (all > 0.0).then(|| 2.0 * paired / all)
    };
    let share = |f: fn(&SceneScore) -> (usize, usize)| {
        move |chosen: &[&SceneScore]| {
            let (n, hits) = chosen.iter().fold((0, 0), |a, s| (a.0 + f(s).0, a.1 + f(s).1));
            (n > 0).then(|| hits as f64 / n as f64)
        }
    };
    let pooled = |f: fn(&SceneScore) -> &Vec<f64>, statistic: fn(&mut [f64]) -> Option<f64>| {
        move |chosen: &[&SceneScore]| {
            let mut all: Vec<f64> = chosen.iter().flat_map(|s| f(s).iter().copied()).collect();
            statistic(&mut all)
        }
    };
    let n = |f: fn(&SceneScore) -> usize| scenes.iter().map(f).sum::<usize>();
    let mut lines: Vec<Line> = Vec::new();
    let mut add = |name: &str, statistic: &dyn Fn(&[&SceneScore]) -> Option<f64>, cases: usize| {
        lines.push((name.to_owned(), estimate(scenes, seed, statistic), cases));
    };
    add("shafts found, F1", &f1, n(|s| s.truths));
    add("traces on scenes without a shaft, a scene", &false_on_empty, scenes.iter().filter(|s| s.truths == 0).count());
    add("crossing shafts that one trace follows", &share(|s| s.crossing), n(|s| s.crossing.0));
    add("centreline, median error, px", &pooled(|s| &s.centreline_px, median), n(|s| s.centreline_px.len()));
    let tail = |v: &mut [f64]| quantile(v, 0.95);
    add("centreline, 95th percentile over its limit", &pooled(|s| &s.centreline_tail, tail), n(|s| s.paired));
    add("width, bias, share of the width", &pooled(|s| &s.width, median), n(|s| s.width.len()));
    add("width, scatter, share of the width", &pooled(|s| &s.width, robust_sd), n(|s| s.width.len()));
    add("width, z-scores' standard deviation (robust)", &pooled(|s| &s.width_z, robust_sd), n(|s| s.width_z.len()));
    add(
        "width, scatter over the Cramér-Rao bound at a signal of 10 and more",
        &pooled(|s| &s.width_over_bound, robust_sd),
        n(|s| s.width_over_bound.len()),
    );
    add(
        "width, the Cramér-Rao bound of those, share of the width, median",
        &pooled(|s| &s.least, median),
        n(|s| s.least.len()),
    );
    add("width too thin to be told, share of shafts followed", &share(|s| s.too_thin), n(|s| s.too_thin.0));
    add("the same, with an upper bound: within it", &share(|s| s.within_bound), n(|s| s.within_bound.0));
    add("base end told, and rightly", &share(|s| s.base), n(|s| s.base.0));
    add("fluorescence at base or tip only: zone told", &share(|s| s.zone_told), n(|s| s.zone_told.0));
    add("the same, where told: rightly", &share(|s| s.zone_right), n(|s| s.zone_right.0));
    lines
}

fn false_on_empty(chosen: &[&SceneScore]) -> Option<f64> {
    let empty: Vec<_> = chosen.iter().filter(|s| s.truths == 0).collect();
    (!empty.is_empty()).then(|| empty.iter().map(|s| s.found as f64).sum::<f64>() / empty.len() as f64)
}

fn estimate(scenes: &[SceneScore], seed: u64, statistic: &dyn Fn(&[&SceneScore]) -> Option<f64>) -> Estimate {
    let all: Vec<&SceneScore> = scenes.iter().collect();
    let mut values: Vec<f64> = (0..N_RESAMPLES as u64)
        .filter_map(|resample| {
            let group: Vec<usize> = (0..scenes.len()).collect();
            let weights = resampling::resampled_weights(&group, scenes.len(), seed, resample);
            let drawn: Vec<&SceneScore> = scenes
                .iter()
                .zip(&weights)
                .flat_map(|(scene, &weight)| std::iter::repeat_n(scene, weight as usize))
                .collect();
            statistic(&drawn)
        })
        .collect();
    let enough = values.len() * 2 > N_RESAMPLES;
    let interval = if enough {
        quantile(&mut values, 0.025)
            .zip(quantile(&mut values, 0.975))
            .map(|(low, high)| crate::maths::proportion::Interval { low, high })
    } else {
        None
    };
    Estimate { value: statistic(&all), interval }
}
