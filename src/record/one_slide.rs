//! Several photos of one slide: the same shaft is told on all of them, counted once, and measured by all.
//!
//! Which shafts are one is told by their lines (`maths/same_lines.rs`). Each photo's width has an own error (noise), to
//! which the photos' visible disagreement is added (`maths/between.rs`), and a common one: no shaft is quite the
//! model's, whatever it is seen through, and that does not fall with more photos. With weights w, one over the sum of
//! the squares of all three, brought to a sum of 1: sd² = Σ w² (own² + between²) + (Σ w common)². A look that one photo
//! gives stands where others cannot say; photos that contradict each other leave it open. Where it fluoresces is told
//! by the photo that shows most of the shaft.
//!
//! Weakness: shafts of photos that cannot be judged are not looked for on others; `same_lines` has its own.

use super::from_finding::added_up;
use super::{Entry, Look, Shaft, Slide, Width};
use crate::maths::between::{Measured, mean};
use crate::maths::polyline::Polyline;
use crate::maths::same_lines::{Drawn, Lines, Member, groups};

/// Least share of a width's variance that is taken to be its photo's own: nothing is known better than that.
const LEAST_OWN_SHARE: f64 = 0.01;

/// What the photos of one slide add up to.
#[derive(Clone, Debug)]
pub struct OneSlide {
    /// The photos' entries with every shaft on one of them only, the best measured, with what all photos say of it.
    pub entries: Vec<Entry>,
    /// The shafts with where they are seen, in the order of the first photo that shows them; those of photos that can
    /// be judged.
    pub shafts: Vec<OnPhotos>,
    /// What the shafts add up to.
    pub slide: Slide,
    /// Always: send a culture; one or two sentences.
    pub advice: String,
}

/// One shaft and where it is seen.
#[derive(Clone, Debug, PartialEq)]
pub struct OnPhotos {
    /// Number of the photo (from 0) and of the shaft on it (its id), by photo.
    pub seen: Vec<(usize, usize)>,
    /// The one of these that it is kept on, with what all of them say: see [`OneSlide::entries`].
    pub kept: (usize, usize),
    /// What all photos say of it.
    pub shaft: Shaft,
}

/// The photos of one slide together.
pub fn one_slide(entries: &[&Entry]) -> OneSlide {
    let judged: Vec<usize> = (0..entries.len()).filter(|&i| entries[i].usable).collect();
    let pictures: Vec<Lines> = judged.iter().map(|&i| lines(entries[i])).collect();
    let found = if judged.len() > 1 { groups(&pictures) } else { alone(&pictures) };
    let shafts: Vec<OnPhotos> = found
        .iter()
        .map(|group| {
            let members: Vec<(usize, &Shaft, f64)> = group
                .iter()
                .map(|&Member { picture, line, factor }| {
                    (judged[picture], &entries[judged[picture]].shafts[line], factor)
                })
                .collect();
            combined(&members, entries)
        })
        .collect();
    let mut once: Vec<Entry> = entries.iter().map(|&entry| entry.clone()).collect();
    for &i in &judged {
        once[i].shafts = shafts.iter().filter(|shaft| shaft.kept.0 == i).map(|shaft| shaft.shaft.clone()).collect();
        once[i].shafts.sort_by_key(|shaft| shaft.id);
    }
    let (slide, advice) = added_up(shafts.iter().map(|shaft| &shaft.shaft), !judged.is_empty());
    OneSlide { entries: once, shafts, slide, advice }
}

/// Every line by itself.
fn alone(pictures: &[Lines]) -> Vec<Vec<Member>> {
    let member = |picture: usize, line: usize| vec![Member { picture, line, factor: 1.0 }];
    (0..pictures.len()).flat_map(|p| (0..pictures[p].lines.len()).map(move |line| member(p, line))).collect()
}

fn lines(entry: &Entry) -> Lines {
    let nowhere = [crate::maths::point::Point::new(-1e6, -1e6), crate::maths::point::Point::new(-1e6, -1e6 + 1.0)];
    let drawn = |shaft: &Shaft| Drawn {
        // A shaft without a course lies on no other.
        line: Polyline::new(shaft.centreline.iter().copied())
            .or_else(|| Polyline::new(nowhere))
            .unwrap_or_else(|| unreachable!("two places make a line")),
        // Near the blur a width is a bound, which tells no shaft from another.
        width_px: shaft.width.median_px.filter(|_| !shaft.is_too_thin()),
    };
    Lines {
        size_px: [entry.photo.width_px as f64, entry.photo.height_px as f64],
        lines: entry.shafts.iter().map(drawn).collect(),
    }
}

/// What all photos say of one shaft; at least one member: photo, shaft, and how many times larger that photo shows it.
fn combined(members: &[(usize, &Shaft, f64)], entries: &[&Entry]) -> OnPhotos {
    // The best measured: a width that is told, with the least relative uncertainty, and then the longest view.
    let sure = |shaft: &Shaft| shaft.width.sd_px.zip(shaft.width.median_px).map_or(f64::INFINITY, |(sd, px)| sd / px);
    let best = members
        .iter()
        .min_by(|a, b| {
            let told = a.1.is_too_thin().cmp(&b.1.is_too_thin());
            told.then(sure(a.1).total_cmp(&sure(b.1))).then(b.1.length_px.total_cmp(&a.1.length_px))
        })
        .unwrap_or(&members[0]);
    let longest = members.iter().max_by(|a, b| a.1.length_px.total_cmp(&b.1.length_px)).unwrap_or(best);
    let mut shaft = best.1.clone();
    if members.len() > 1 {
        let looks: Vec<Look> = members.iter().filter_map(|member| member.1.look).collect();
        let agreed = looks.first().copied().filter(|first| looks.iter().all(|look| look == first));
        if shaft.look != agreed {
            // The probabilities and reasons of a photo that says what all say.
            let says = members.iter().find(|member| member.1.look == agreed).map(|member| member.1);
            if let Some(says) = says {
                shaft.probability = says.probability;
                shaft.plausible.clone_from(&says.plausible);
                shaft.novelty = says.novelty;
                shaft.reasons.clone_from(&says.reasons);
            }
            shaft.look = agreed;
        }
        if longest.1.zone != "unknown" {
            shaft.zone = longest.1.zone;
            shaft.fluorescing_share = longest.1.fluorescing_share;
        }
        shaft.comparison = members.iter().any(|member| member.1.comparison);
        shaft.width = width(members, best, entries);
    }
    OnPhotos {
        seen: members.iter().map(|(photo, shaft, _)| (*photo, shaft.id)).collect(),
        kept: (best.0, best.1.id),
        shaft,
    }
}

/// The width by all photos, in pixels and micrometres of the best one. A photo for which the shaft is too thin says
/// nothing where another tells its width.
fn width(members: &[(usize, &Shaft, f64)], best: &(usize, &Shaft, f64), entries: &[&Entry]) -> Width {
    let own = &best.1.width;
    let scale = |photo: usize| entries[photo].photo.scale;
    let (values, commons): (Vec<Measured>, Vec<f64>) = members
        .iter()
        .filter(|(_, shaft, _)| shaft.is_too_thin() == best.1.is_too_thin())
        .filter_map(|(photo, shaft, factor)| {
            // Two known scales say how many times larger a photo shows things better than its lines do.
            let by = match (scale(*photo), scale(best.0)) {
                (Some(this), Some(that)) => this.um_per_px / that.um_per_px,
                _ => best.2 / factor,
            };
            let (px, sd) = (shaft.width.median_px? * by, shaft.width.sd_px? * by);
            let common = shaft.width.common_sd_px? * by;
            let variance = (sd * sd - common * common).max(LEAST_OWN_SHARE * sd * sd);
            (variance > 0.0).then_some((Measured { value: px, variance }, common))
        })
        .unzip();
    let Some(apart) = mean(&values).filter(|_| values.len() > 1) else { return *own };
    // Photos count by all that is known of each; what differs between them falls with their number, the rest does not.
    let own_parts: Vec<f64> = values.iter().map(|one| one.variance + apart.between).collect();
    let weights: Vec<f64> =
        own_parts.iter().zip(&commons).map(|(part, common)| 1.0 / (part + common * common)).collect();
    let sum: f64 = weights.iter().sum();
    let px = values.iter().zip(&weights).map(|(one, w)| one.value * w).sum::<f64>() / sum;
    let common = commons.iter().zip(&weights).map(|(common, w)| common * w).sum::<f64>() / sum;
    let own_variance = own_parts.iter().zip(&weights).map(|(part, w)| part * w * w).sum::<f64>() / (sum * sum);
    let sd_px = own_variance.sqrt().hypot(common);
    if !(px.is_finite() && sd_px.is_finite()) {
        return *own;
    }
    let um = scale(best.0);
    Width {
        median_px: Some(px),
        sd_px: Some(sd_px),
        common_sd_px: Some(common),
        median_um: um.map(|scale| scale.um_from_px(px)),
        sd_um: um.map(|scale| scale.um_from_px(sd_px).hypot(px * scale.sd_um_per_px.unwrap_or(0.0))),
        spread_px: own.spread_px,
        n_measured: members.iter().map(|(_, shaft, _)| shaft.width.n_measured).sum(),
    }
}
