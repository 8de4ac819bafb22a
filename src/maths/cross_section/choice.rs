//! Which shape a shaft has, and how far its width hangs on that.
//!
//! A clear cylinder is fitted to some stations first. With its centres, radii and heights the stations are laid on top
//! of each other, which makes one cross-section with little noise; on that, several shapes are tried from several
//! starts (clear, flattened, with a core, both, a shell, a hair in a dimmer sheath). Each gets its probability by Bayes'
//! rule: prior times evidence, the evidence by Laplace's approximation, exp(−½ χ²) · √(det Σ) / Π prior standard
//! deviations (Schwarz' criterion is its limit for many samples; MacKay, "Bayesian interpolation", 1992; both from
//! memory). A richer shape thus must explain more than noise would, and where the blur hides the shape, several keep
//! their probability: the width is then their median, and its uncertainty holds how far they differ.
//!
//! One shape is told, and fitted to the stations themselves: the plainest that explains the section, by shares of its
//! own. Where the blur hides the shape, the most probable one would be now this, now that for shafts that look alike.

use super::expected::{PRIOR_LN_BLUR, clear, cored, cored_flattened, flattened, hole, hollow, sheathed};
use super::joint::{Freedom, Model, Solution, solve};
use super::station::{Curves, OWN, SHARED};
use super::{Core, Samples, Section, Shape};

/// Factors on radius and blur from which the clear cylinder is tried until one settles. A thin shaft taken for a thin
/// line in a wide blur lies in a long flat valley; from a broad shaft in a small blur the way out is short.
const FIRST_STARTS: [(f64, f64); 4] = [(1.0, 1.0), (1.7, 0.5), (0.8, 0.6), (1.3, 2.0)];
/// Width of a bin of the laid-together section, pixels.
const BIN_PX: f64 = 0.5;
/// Most bins of it: wider sections get wider bins, but not wider than a third of the blur.
const MOST_BINS: f64 = 160.0;
/// A station whose residual variance exceeds the median by this factor has dust or a neighbour on it.
const WORST_STATION: f64 = 2.0;
/// Radius in blurs from which on the blur hides no shape, and residual variance with which a shape explains a section.
const SHARP_RADII: f64 = 8.0;
const EXPLAINED: f64 = 1.6;
/// A shape this much less probable than the best says nothing more.
const NEGLIGIBLE: f64 = 1e-4;

/// Shape, blur and what they do to the width.
#[derive(Clone, Debug)]
pub struct Joint {
    /// Shape and blur of the shape that is told.
    pub shape: Shape,
    /// The stations' own numbers, in the order given, for stations that were used.
    pub sections: Vec<Section>,
    /// ln blur, the probability-weighted mean of all shapes.
    pub ln_blur: f64,
    /// One standard deviation of ln blur.
    pub ln_blur_sd: f64,
    /// ln radius of the probability-weighted median of all shapes less that of the one told.
    pub ln_radius_shift: f64,
    /// Standard deviation that shape and blur together put on every station's ln radius alike.
    pub ln_radius_sd: f64,
}

/// Fits shape and blur to stations whose own numbers are known roughly.
///
/// `prior_ln_blur` is mean and standard deviation of ln blur (pixels) where something is known of it, from the
/// photo's other shafts for one. `None` without stations or when nothing settles.
pub fn fit_joint(
    stations: &[(Samples, Section)],
    prior_ln_blur: Option<[f64; 2]>,
    start_blur_px: f64,
) -> Option<Joint> {
    let prior_blur = prior_ln_blur.unwrap_or(PRIOR_LN_BLUR);
    let n_samples: usize = stations.iter().map(|(s, _)| s.weight.iter().filter(|w| **w > 0.0).count()).sum();
    if stations.is_empty() || n_samples <= OWN * stations.len() + SHARED {
        return None;
    }
    let from = |shape: Shape, wider: f64, model: &Model| {
        let broader = |s: &Section| Section {
            radius_px: (s.radius_px * wider).max(0.8 * shape.blur_px),
            height: s.height / wider,
            ..*s
        };
        let starts: Vec<(Samples, Section)> = stations.iter().map(|(samples, s)| (*samples, broader(s))).collect();
        solve(&starts, shape, model)
    };
    let clear = clear(prior_blur);
    let plain = FIRST_STARTS
        .iter()
        .find_map(|(wider, blurrier)| {
            from(Shape { blur_px: start_blur_px * blurrier, flatness: 0.0, core: None }, *wider, &clear)
        })
        .or_else(|| {
            // A bright thin coat on a dim shaft is so unlike a clear cylinder that none settles on it.
            let [flattened, hollow] = [flattened(prior_blur), hollow(prior_blur)];
            from(Shape { blur_px: start_blur_px, flatness: 0.8, core: None }, 0.92, &flattened)
                .or_else(|| from(Shape { blur_px: start_blur_px, flatness: 0.0, core: hole(0.85) }, 0.84, &hollow))
        })?;
    let (stations, sections) = without_spoilt(stations, &plain);
    let together = Together::new(&stations, &sections, plain.shape.blur_px);
    let tried = together.try_shapes(&plain, prior_blur);
    let Some(weighed) = weigh(&tried) else {
        return settled(&plain, 1.0, &Weighed::NOTHING);
    };
    let Tried { model, solution: found } = &tried[weighed.told];
    let ratio = found.sections[0].radius_px / together.start.radius_px;
    let starts: Vec<(Samples, Section)> = stations
        .iter()
        .zip(&sections)
        .map(|(samples, s)| {
            let height = s.height * found.sections[0].height / together.start.height;
            (*samples, Section { radius_px: s.radius_px * ratio, height, ..*s })
        })
        .collect();
    // A misfit that all stations share shows in the section laid together and makes the shared numbers unsure.
    let misfit = together.noise_factor(found);
    match solve(&starts, found.shape, model) {
        Some(solution) => settled(&solution, misfit, &weighed),
        // What the section laid together says could not be confirmed: a tenth more uncertainty.
        None => settled(
            &plain,
            misfit,
            &Weighed { shift: 0.0, between: weighed.between + 0.01, blur_shift: 0.0, ..weighed },
        ),
    }
}

fn settled(solution: &Solution, misfit: f64, weighed: &Weighed) -> Option<Joint> {
    let noise = solution.noise_factor.max(misfit);
    let own = (solution.ln_radius_by.transpose() * solution.covariance * solution.ln_radius_by)[(0, 0)] * noise;
    let joint = Joint {
        shape: solution.shape,
        sections: solution.sections.clone(),
        ln_blur: solution.shape.blur_px.ln() + weighed.blur_shift,
        ln_blur_sd: (solution.covariance[(0, 0)] * noise + weighed.between_ln_blur).sqrt(),
        ln_radius_shift: weighed.shift,
        ln_radius_sd: (own + weighed.between).sqrt(),
    };
    (joint.ln_blur_sd.is_finite() && joint.ln_radius_sd.is_finite()).then_some(joint)
}

/// The stations that the clear cylinder fits about as well as it fits most.
fn without_spoilt<'a>(stations: &[(Samples<'a>, Section)], plain: &Solution) -> (Vec<Samples<'a>>, Vec<Section>) {
    let mut curves = Curves::new(plain.shape);
    let reduced: Vec<f64> = stations
        .iter()
        .zip(&plain.sections)
        .map(|((samples, _), section)| {
            let chi2 = super::station::normal::<OWN>(*samples, section, &mut curves).chi2;
            chi2 / samples.weight.len().saturating_sub(OWN).max(1) as f64
        })
        .collect();
    let mut sorted = reduced.clone();
    sorted.sort_by(f64::total_cmp);
    let limit = WORST_STATION * sorted[sorted.len() / 2];
    stations
        .iter()
        .zip(&plain.sections)
        .zip(&reduced)
        .filter(|(_, r)| **r <= limit)
        .map(|((s, p), _)| (s.0, *p))
        .unzip()
}

/// Stations laid on top of each other.
struct Together {
    at_px: Vec<f32>,
    light: Vec<f32>,
    weight: Vec<f32>,
    start: Section,
}

struct Tried {
    model: Model,
    solution: Solution,
}

impl Together {
    fn new(stations: &[Samples], sections: &[Section], blur_px: f64) -> Together {
        let n = sections.len() as f64;
        let radius = (sections.iter().map(|s| s.radius_px.ln()).sum::<f64>() / n).exp();
        let height = sections.iter().map(|s| s.height).sum::<f64>() / n;
        let reach = stations
            .iter()
            .zip(sections)
            .flat_map(|(samples, s)| {
                samples.at_px.iter().map(|t| (f64::from(*t) - s.centre_px).abs() * radius / s.radius_px)
            })
            .fold(0.0, f64::max);
        let step = (2.0 * reach / MOST_BINS).min(blur_px / 3.0).max(BIN_PX);
        let n_bins = ((2.0 * reach / step) as usize + 2).min(1 << 16);
        let mut sums = vec![[0.0_f64; 3]; n_bins];
        for (samples, s) in stations.iter().zip(sections) {
            let (stretch, scale) = (radius / s.radius_px, height / s.height);
            for ((&at, &light), &weight) in samples.at_px.iter().zip(samples.light).zip(samples.weight) {
                let place = (f64::from(at) - s.centre_px) * stretch;
                let above = (f64::from(light) - s.ground - s.slope * f64::from(at)) * scale;
                let weight = f64::from(weight) / (scale * scale);
                if let Some(sum) = sums.get_mut(((place + reach) / step) as usize) {
                    sum[0] += weight;
                    sum[1] += weight * place;
                    sum[2] += weight * above;
                }
            }
        }
        let used: Vec<[f64; 3]> = sums.into_iter().filter(|s| s[0] > 0.0).collect();
        Together {
            at_px: used.iter().map(|s| (s[1] / s[0]) as f32).collect(),
            light: used.iter().map(|s| (s[2] / s[0]) as f32).collect(),
            weight: used.iter().map(|s| s[0] as f32).collect(),
            start: Section { centre_px: 0.0, radius_px: radius, height, ground: 0.0, slope: 0.0 },
        }
    }

    fn try_shapes(&self, plain: &Solution, prior_blur: [f64; 2]) -> Vec<Tried> {
        let blur_px = plain.shape.blur_px;
        let core = |radius_share: f64, strength: f64| Some(Core { radius_share, strength });
        let [clear, flattened] = [clear(prior_blur), flattened(prior_blur)];
        let [cored, both] = [cored(prior_blur), cored_flattened(prior_blur)];
        let [hollow, sheathed] = [hollow(prior_blur), sheathed(prior_blur)];
        // Radius relative to the clear cylinder's: flatter shapes need a smaller one for the same light.
        let starts = [
            (clear, 1.0, 1.0, 0.0, None),
            (flattened, 0.97, 1.1, 0.3, None),
            (flattened, 0.92, 1.2, 0.8, None),
            (cored, 0.98, 1.0, 0.0, core(0.45, -0.25)),
            (cored, 1.02, 1.0, 0.0, core(0.45, 0.25)),
            (cored, 0.90, 1.2, 0.0, core(0.85, -0.5)),
            (both, 0.96, 1.1, 0.3, core(0.45, -0.2)),
            (both, 0.98, 1.1, 0.3, core(0.45, 0.2)),
            (hollow, 0.84, 1.6, 0.0, hole(0.8)),
            (hollow, 0.76, 1.6, 0.0, hole(0.92)),
            (sheathed, 1.1, 0.9, 0.0, core(0.8, 1.0)),
            (sheathed, 1.15, 0.8, 0.0, core(0.75, 2.0)),
        ];
        let samples = Samples { at_px: &self.at_px, light: &self.light, weight: &self.weight, at_least: &[] };
        let mut tried: Vec<Tried> = Vec::new();
        let sharp = self.start.radius_px > SHARP_RADII * blur_px;
        for (model, smaller, wider, flatness, core) in starts {
            let is_shell = core.is_some_and(|core| core.radius_share > 0.7);
            let is_opaque = flatness > 0.5;
            // What a simpler shape explains, where the blur hides nothing, no shell does, and no second start is
            // needed.
            let coreless = tried.iter().filter(|t| t.model.core == Freedom::None);
            let explained = coreless.map(|t| self.noise_factor(&t.solution)).any(|noise| noise < EXPLAINED);
            if sharp && explained && (is_shell || is_opaque) {
                continue;
            }
            let radius_px = self.start.radius_px * smaller;
            let shape = Shape { blur_px: blur_px * wider, flatness, core };
            let Some(start) = super::start_at(samples, 0.0, radius_px, &mut Curves::new(shape)) else { continue };
            if start.height <= 0.0 {
                continue;
            }
            let Some(solution) = solve(&[(samples, start)], shape, &model) else { continue };
            // Two starts of one model count once: the better.
            match tried.iter_mut().find(|t| t.model == model) {
                Some(other) if other.solution.objective <= solution.objective => {}
                Some(other) => other.solution = solution,
                None => tried.push(Tried { model, solution }),
            }
        }
        tried
    }

    fn noise_factor(&self, solution: &Solution) -> f64 {
        solution.chi2 / self.weight.len().saturating_sub(OWN + SHARED).max(1) as f64
    }
}

/// What the shapes tried add up to.
struct Weighed {
    /// The shape that is told.
    told: usize,
    /// ln radius of the probability-weighted median shape less that of the one told.
    shift: f64,
    /// Variance about that median: how far probable shapes differ, and their own uncertainty, that of the one told left
    /// out.
    between: f64,
    /// Probability-weighted mean of ln blur less that of the one told.
    blur_shift: f64,
    /// Variance about that mean.
    between_ln_blur: f64,
}

impl Weighed {
    /// Nothing to weigh.
    const NOTHING: Weighed = Weighed { told: 0, shift: 0.0, between: 0.0, blur_shift: 0.0, between_ln_blur: 0.0 };
}

fn weigh(tried: &[Tried]) -> Option<Weighed> {
    let noise = tried.iter().map(|t| t.solution.noise_factor).fold(f64::INFINITY, f64::min);
    let evidence: Vec<f64> = tried.iter().map(|t| t.solution.ln_evidence(&t.model, noise)).collect();
    let logs = |share: fn(&Model) -> f64| -> Vec<f64> {
        tried.iter().zip(&evidence).map(|(t, evidence)| share(&t.model).ln() + evidence).collect()
    };
    let largest = |logs: &[f64]| (0..logs.len()).max_by(|a, b| logs[*a].total_cmp(&logs[*b]));
    let met = logs(|model| model.shares.met);
    let top = met[largest(&met)?];
    let told = largest(&logs(|model| model.shares.told))?;
    let off = |k: usize, of: &dyn Fn(&Solution) -> f64| of(&tried[k].solution) - of(&tried[told].solution);
    let ln_radius = |s: &Solution| s.sections[0].radius_px.ln();
    let ln_blur = |s: &Solution| s.shape.blur_px.ln();
    let mut probable: Vec<(f64, f64, usize)> = met
        .iter()
        .enumerate()
        .map(|(k, log)| (off(k, &ln_radius), (log - top).exp(), k))
        .filter(|(_, probability, _)| *probability >= NEGLIGIBLE)
        .collect();
    probable.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = probable.iter().map(|p| p.1).sum();
    let mut below = 0.0;
    let shift = probable.iter().find(|(_, probability, _)| {
        below += probability;
        below >= 0.5 * total
    })?;
    let shift = shift.0;
    let blur_shift: f64 = probable.iter().map(|(_, probability, k)| probability / total * off(*k, &ln_blur)).sum();
    let (mut between, mut between_ln_blur) = (0.0, 0.0);
    for (off_radius, probability, k) in &probable {
        let solution = &tried[*k].solution;
        let own = (solution.ln_radius_by.transpose() * solution.covariance * solution.ln_radius_by)[(0, 0)] * noise;
        // The uncertainty of the one told is added from the stations themselves.
        let own = if *k == told { 0.0 } else { own };
        between += probability / total * ((off_radius - shift).powi(2) + own);
        between_ln_blur += probability / total * (off(*k, &ln_blur) - blur_shift).powi(2);
    }
    let finite = [shift, between, blur_shift, between_ln_blur].iter().all(|number| number.is_finite());
    finite.then_some(Weighed { told, shift, between, blur_shift, between_ln_blur })
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, StandardNormal};

    use super::{Joint, fit_joint};
    use crate::maths::cross_section::{Core, Curves, Samples, Section, Shape};

    /// Fits 16 stations of one cross-section, a hundred times as bright as its noise.
    fn fitted(shape: Shape, radius_px: f64, seed: u64) -> Joint {
        let mut noise = ChaCha8Rng::seed_from_u64(seed);
        let section = Section { centre_px: 0.0, radius_px, height: 1.0, ground: 0.1, slope: 0.0 };
        let at_px: Vec<f32> =
            (0..(6.0 * radius_px) as usize).map(|i| (i as f64 + 0.5 - 3.0 * radius_px) as f32).collect();
        let v: Vec<f64> = at_px.iter().map(|&at| f64::from(at).abs() / radius_px).collect();
        let clean = Curves::new(shape).light(radius_px, &v);
        let weight = vec![1e4_f32; at_px.len()];
        let lights: Vec<Vec<f32>> = (0..16)
            .map(|_| {
                let noisy = |light: &f64| {
                    let noise: f64 = StandardNormal.sample(&mut noise);
                    (0.1 + light + 0.01 * noise) as f32
                };
                clean.iter().map(noisy).collect()
            })
            .collect();
        let stations: Vec<(Samples, Section)> = lights
            .iter()
            .map(|light| (Samples { at_px: &at_px, light, weight: &weight, at_least: &[] }, section))
            .collect();
        fit_joint(&stations, None, shape.blur_px).expect("settles")
    }

    /// A clear fibre as thin as its blur: every shape explains it. The plain one is told, and the width allows for all.
    #[test]
    fn where_the_blur_hides_the_shape_the_plain_one_is_told_and_the_width_is_less_sure() {
        for seed in 1..6 {
            let joint = fitted(Shape { blur_px: 2.0, flatness: 0.0, core: None }, 3.5, seed);
            assert_eq!((joint.shape.flatness, joint.shape.core), (0.0, None), "seed {seed}");
            let sharp = fitted(Shape { blur_px: 0.8, flatness: 0.0, core: None }, 20.0, seed);
            let off = |joint: &Joint, true_px: f64| {
                joint.sections[0].radius_px.ln() + joint.ln_radius_shift - f64::ln(true_px)
            };
            assert!(joint.ln_radius_sd > 3.0 * sharp.ln_radius_sd, "seed {seed}: {joint:?}");
            assert!(off(&joint, 3.5).abs() < 3.0 * joint.ln_radius_sd.max(0.01), "seed {seed}: {joint:?}");
            assert!(off(&sharp, 20.0).abs() < 0.01, "seed {seed}: {sharp:?}");
        }
    }

    /// Half the width dark, and nothing hides it.
    #[test]
    fn a_medulla_that_is_seen_is_told() {
        let core = Core { radius_share: 0.5, strength: -0.25 };
        let joint = fitted(Shape { blur_px: 1.2, flatness: 0.0, core: Some(core) }, 20.0, 7);
        let found = joint.shape.core.expect("a core");
        assert!((found.radius_share - 0.5).abs() < 0.03 && (found.strength + 0.25).abs() < 0.03, "{found:?}");
    }

    /// A hair in a sheath a third as bright: without that shape the sheath is taken for blur.
    #[test]
    fn a_dim_sheath_belongs_to_the_width() {
        let core = Core { radius_share: 0.75, strength: 2.0 };
        for seed in 1..4 {
            let joint = fitted(Shape { blur_px: 1.2, flatness: 0.0, core: Some(core) }, 14.0, seed);
            let radius_px = joint.sections[0].radius_px * joint.ln_radius_shift.exp();
            assert!((radius_px / 14.0 - 1.0).abs() < 0.03, "seed {seed}: {radius_px} for 14, {joint:?}");
        }
    }
}
