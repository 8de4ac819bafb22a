//! Widths of all stations of a shaft: samples out of bins, shape and blur from some stations, then every station.

use super::stations::{Sight, Sights};
use crate::maths::cross_section::{
    Curves, Joint, Samples, Section, Shape, StationFit, fit_joint, fit_station, start_at,
};

/// Stations that shape and blur are found from. More cost time and gain little: what is shared is then known far
/// better than what is a station's own.
const JOINT_STATIONS: usize = 16;
/// ... where the light is dim.
const JOINT_STATIONS_DIM: usize = 48;
/// Signal to noise of one station (height over noise, times the root of its pixels) below which a shaft is dim.
const DIM_SIGNAL: f64 = 120.0;
/// Height of a station, as a share of the median, below which it does not help to find the shape.
const LEAST_HEIGHT_SHARE: f64 = 0.3;
/// Bins further out than this many radii plus pixels are ground only and are merged by four: that saves time and
/// loses nothing, as the ground is a straight line there.
const GROUND_RADII: f64 = 1.4;
const GROUND_PX: f64 = 5.0;
const GROUND_MERGE: usize = 4;
/// Share of clipped pixels from which a bin's light is only the least that it can be.
const CLIPPED_SHARE: f32 = 0.1;
/// Relative standard deviation of a width beyond which it is no measurement.
const WORST_SPREAD: f64 = 0.3;
/// How near the last station's radius must be to serve as a start, as a factor.
const NEAR_FACTOR: f64 = 1.35;
/// Range of the factor by which correlated noise may be held to change a variance: compression and colour interpolation
/// raise it, sharpening lowers it.
const CORRELATION_RANGE: [f64; 2] = [0.5, 8.0];

/// The widths of a shaft's stations.
#[derive(Clone, Debug)]
pub(super) struct Widths {
    /// Shape and blur; `None` when they could not be found.
    pub(super) joint: Option<Joint>,
    /// One fit a station.
    pub(super) fits: Vec<Option<StationFit>>,
    /// Variance of fitted numbers over that for the noise as stated: the residuals' own size and correlation.
    pub(super) inflation: f64,
    /// Residual variance over the noise as stated.
    pub(super) noise_factor: f64,
}

/// Distances, light and weights of one station.
#[derive(Clone, Debug, Default)]
pub(super) struct Sampled {
    at_px: Vec<f32>,
    light: Vec<f32>,
    weight: Vec<f32>,
    at_least: Vec<bool>,
}

impl Sampled {
    fn view(&self) -> Samples<'_> {
        Samples { at_px: &self.at_px, light: &self.light, weight: &self.weight, at_least: &self.at_least }
    }
}

/// Mixes the channels of a station's bins; weights are one over the variance of each bin's mean.
fn sampled(sight: &Sight, curves: &mut Curves) -> Sampled {
    let radius = sight.radius_px;
    let n = sight.bins.bins.len();
    let v: Vec<f64> = (0..n).map(|i| sight.bins.middle_px(i).abs() / radius).collect();
    let shaft = curves.light(radius, &v);
    let mut sampled = Sampled::default();
    let ground_from = GROUND_RADII * radius + GROUND_PX;
    let mut i = 0;
    while i < n {
        let ground = sight.bins.middle_px(i).abs() > ground_from;
        let same = |k: usize| k < n && (sight.bins.middle_px(k).abs() > ground_from) == ground;
        let take = if ground { GROUND_MERGE } else { 1 };
        let (mut count, mut at, mut light, mut clipped) = (0.0_f32, 0.0_f32, 0.0_f32, 0.0_f32);
        let mut used = 0;
        while used < take && same(i + used) {
            let bin = &sight.bins.bins[i + used];
            count += bin.count();
            at += bin.at();
            clipped += bin.clipped();
            light += sight.mix.of(bin.light());
            used += 1;
        }
        if count > 0.0 {
            let variance = (sight.variance[0] + sight.variance[1] * shaft[i].max(0.0)).max(0.05 * sight.variance[0]);
            sampled.at_px.push(at / count);
            sampled.light.push(light / count - sight.mix.offset);
            sampled.weight.push(count / variance as f32);
            sampled.at_least.push(clipped > CLIPPED_SHARE * count);
        }
        i += used.max(1);
    }
    sampled
}

/// Fits all stations; `prior_ln_blur` as in [`fit_joint`].
pub(super) fn widths(sights: &Sights, prior_ln_blur: Option<[f64; 2]>) -> Widths {
    let guess = Shape { blur_px: prior_ln_blur.map_or(1.4, |p| p[0].exp()), flatness: 0.1, core: None };
    let mut curves = Curves::new(guess);
    let samples: Vec<Sampled> = sights.sights.iter().map(|s| sampled(s, &mut curves)).collect();
    let starts: Vec<Option<Section>> = sights
        .sights
        .iter()
        .zip(&samples)
        .map(|(sight, s)| start_at(s.view(), 0.0, sight.radius_px, &mut curves).filter(|s| s.height > 0.0))
        .collect();
    let joint = shared(sights, &samples, &starts, prior_ln_blur, guess.blur_px);
    let Some(shape) = joint.as_ref().map(|j| j.shape) else {
        let fits = vec![None; sights.sights.len()];
        return Widths { joint, fits, inflation: 1.0, noise_factor: 1.0 };
    };
    let mut curves = Curves::new(shape);
    // The course's radius came from a clear cylinder of assumed blur; the joint fit says by how much it was off.
    let better = better_radius(&starts, joint.as_ref());
    let mut last: Option<Section> = None;
    let mut fits: Vec<Option<StationFit>> = Vec::with_capacity(samples.len());
    for (s, start) in samples.iter().zip(&starts) {
        let fit = start.and_then(|own| {
            let radius_px = own.radius_px * better;
            // Where the last station's outline agrees, it is the better start: hair changes slowly.
            let near = last.filter(|l| (1.0 / NEAR_FACTOR..NEAR_FACTOR).contains(&(l.radius_px / radius_px)));
            let (centre_px, radius_px) = near.map_or((own.centre_px, radius_px), |l| (l.centre_px, l.radius_px));
            fit_station(s.view(), &Section { centre_px, radius_px, ..own }, &mut curves)
                .or_else(|| fit_station(s.view(), &own, &mut curves))
        });
        last = fit.map(|f| f.section);
        fits.push(fit);
    }
    let (noise_factor, inflation) = noise_of(sights, &fits);
    // Other shapes that are as probable would have given other radii: their median is reported.
    let shift = joint.as_ref().map_or(1.0, |j| j.ln_radius_shift.exp());
    for fit in fits.iter_mut().flatten() {
        fit.section.radius_px *= shift;
        fit.radius_sd_px *= shift;
    }
    for fit in &mut fits {
        let spread = |f: &StationFit| f.radius_sd_px * inflation.sqrt() / f.section.radius_px;
        *fit = fit.filter(|f| spread(f) < WORST_SPREAD);
    }
    Widths { joint, fits, inflation, noise_factor }
}

/// Ratio of the jointly fitted radius to the one the stations started from.
fn better_radius(starts: &[Option<Section>], joint: Option<&Joint>) -> f64 {
    let mean = |radii: Vec<f64>| {
        let n = radii.len().max(1) as f64;
        radii.iter().map(|r| r.ln()).sum::<f64>() / n
    };
    let fitted = joint.map(|j| mean(j.sections.iter().map(|s| s.radius_px).collect()));
    let first = mean(starts.iter().flatten().map(|s| s.radius_px).collect());
    fitted.map_or(1.0, |f| (f - first).exp().clamp(0.4, 2.5))
}

/// Shape and blur from some of the best stations.
fn shared(
    sights: &Sights,
    samples: &[Sampled],
    starts: &[Option<Section>],
    prior_ln_blur: Option<[f64; 2]>,
    start_blur_px: f64,
) -> Option<Joint> {
    let known = |i: &usize| starts[*i].is_some();
    let clear: Vec<usize> = (0..starts.len()).filter(|i| sights.sights[*i].clear).filter(known).collect();
    let usable = if clear.is_empty() { (0..starts.len()).filter(known).collect() } else { clear };
    let height = |i: usize| starts[i].map_or(0.0, |s| s.height);
    let mut heights: Vec<f64> = usable.iter().map(|i| height(*i)).collect();
    heights.sort_by(f64::total_cmp);
    let median = *heights.get(heights.len() / 2)?;
    let good: Vec<usize> = usable.into_iter().filter(|i| height(*i) >= LEAST_HEIGHT_SHARE * median).collect();
    let pixels: f64 = {
        let sight = &sights.sights[*good.first()?];
        2.0 * sight.radius_px * sights.spacing_px
    };
    let most = if median * pixels.sqrt() < DIM_SIGNAL { JOINT_STATIONS_DIM } else { JOINT_STATIONS };
    let chosen: Vec<usize> = (0..good.len().min(most)).map(|k| good[k * good.len() / good.len().min(most)]).collect();
    let stations: Vec<(Samples, Section)> =
        chosen.iter().filter_map(|i| starts[*i].map(|start| (samples[*i].view(), start))).collect();
    fit_joint(&stations, prior_ln_blur, start_blur_px)
}

/// Residual variance over the noise as stated, and the same with the residuals' correlation, over the clear stations.
///
/// Neighbouring bins' noise is correlated where the camera interpolates colours or the file is compressed. The
/// variance of a fitted number, a sum over bins with smooth weights, then grows by 1 + 2 Σ ρ_k.
fn noise_of(sights: &Sights, fits: &[Option<StationFit>]) -> (f64, f64) {
    let clear = |want: bool| {
        sights.sights.iter().zip(fits).filter_map(move |(s, f)| f.filter(|_| s.clear || !want)).collect::<Vec<_>>()
    };
    let mut used = clear(true);
    if used.is_empty() {
        used = clear(false);
    }
    if used.is_empty() {
        return (1.0, 1.0);
    }
    let mut reduced: Vec<f64> = used.iter().map(|f| f.chi2 / f.freedom.max(1.0)).collect();
    reduced.sort_by(f64::total_cmp);
    let noise_factor = reduced[reduced.len() / 2];
    let chi2: f64 = used.iter().map(|f| f.chi2).sum::<f64>().max(f64::MIN_POSITIVE);
    let freedom: f64 = used.iter().map(|f| f.freedom).sum();
    // Fitting five numbers makes independent residuals look anticorrelated by about five over their number.
    let fitted = 5.0 * used.len() as f64 / freedom.max(1.0);
    let correlation: f64 = (0..3).map(|k| used.iter().map(|f| f.lagged[k]).sum::<f64>() / chi2 + fitted).sum();
    (noise_factor, noise_factor * (1.0 + 2.0 * correlation).clamp(CORRELATION_RANGE[0], CORRELATION_RANGE[1]))
}
