//! How far a learner can be trusted: shares right with their intervals, what is confused with what, agreement beyond
//! chance, and how it went over time. Only photos seen for the first time count.

use serde::Serialize;

use super::answer::{Call, Marked, MarkedShaft};
use crate::maths::agreement::Confusion;
use crate::maths::jackknife::jackknife;
use crate::maths::proportion::{Z_95, wilson};

/// Shafts in one step of the learning curve: fewer tell nothing, more hide what changes.
const CURVE_STEP: usize = 12;

/// A share with its Wilson 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Share {
    /// How many were right.
    pub right: usize,
    /// Of how many.
    pub n: usize,
    /// Lower end of the interval; absent when there was none.
    pub low: Option<f64>,
    /// Upper end of the interval; absent when there was none.
    pub high: Option<f64>,
}

impl Share {
    /// The share of those that are right; what was not asked is left out.
    pub(super) fn of(right: impl Iterator<Item = bool>) -> Share {
        let (mut hits, mut n) = (0, 0);
        for one in right {
            hits += usize::from(one);
            n += 1;
        }
        let interval = wilson(hits, n, Z_95);
        Share { right: hits, n, low: interval.map(|i| i.low), high: interval.map(|i| i.high) }
    }

    /// The share itself; absent when there was none.
    pub fn value(&self) -> Option<f64> {
        (self.n > 0).then(|| self.right as f64 / self.n as f64)
    }
}

/// Agreement beyond chance, with its 95 % interval by leaving out one photo at a time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Agreement {
    /// `cohen` for two, `fleiss` for more.
    pub kind: &'static str,
    /// Shafts that were compared.
    pub shafts: usize,
    /// Photos they lie on.
    pub photos: usize,
    /// Kappa; absent when chance alone gives full agreement.
    pub kappa: Option<f64>,
    /// Lower end of the interval; absent with fewer than two photos.
    pub low: Option<f64>,
    /// Upper end of the interval; absent with fewer than two photos.
    pub high: Option<f64>,
}

impl Agreement {
    /// The agreement of `n_photos` photos, from kappa with one of them left out.
    pub(super) fn of(
        kind: &'static str,
        shafts: usize,
        n_photos: usize,
        kappa: impl Fn(Option<usize>) -> Option<f64>,
    ) -> Agreement {
        let estimate = jackknife(n_photos, kappa);
        let interval = estimate.and_then(|estimate| estimate.interval(-1.0, 1.0));
        Agreement {
            kind,
            shafts,
            photos: n_photos,
            kappa: estimate.map(|estimate| estimate.value),
            low: interval.map(|i| i.low),
            high: interval.map(|i| i.high),
        }
    }
}

/// How a learner stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Standing {
    /// Photos seen for the first time.
    pub photos: usize,
    /// Looks right, over all shafts.
    pub look: Share,
    /// Looks right by what the shaft truly is, in the order of [`Call::ALL`] without the last.
    pub by_look: [Share; 4],
    /// Of shafts that are infected or not: said to be infected when they are, and not when they are not.
    pub infected_or_not: Share,
    /// Places of the glow right.
    pub place: Share,
    /// Root ends right.
    pub base: Share,
    /// How often a shaft that truly is row was called column; rows and columns as [`Call::ALL`].
    pub confusion: [[usize; 5]; 4],
    /// Cohen's kappa of the learner with the truth, five answers.
    pub kappa: Agreement,
    /// Looks right in steps of so many shafts, oldest first; the last step may be shorter.
    pub curve: Vec<Share>,
}

/// The standing of a learner from what they answered, oldest first.
pub fn standing(history: &[Marked]) -> Standing {
    let first: Vec<&Marked> = history.iter().filter(|marked| !marked.back).collect();
    let shafts: Vec<&MarkedShaft> = first.iter().flat_map(|marked| &marked.shafts).collect();
    let look = |shafts: &[&MarkedShaft]| Share::of(shafts.iter().map(|shaft| shaft.look_is_right()));
    let by_look = [0, 1, 2, 3].map(|index| {
        let of_look: Vec<&MarkedShaft> = shafts.iter().copied().filter(|s| s.truth.look == Call::ALL[index]).collect();
        look(&of_look)
    });
    let mut confusion = [[0; 5]; 4];
    for shaft in &shafts {
        if let Some(row) = confusion.get_mut(shaft.truth.look as usize) {
            row[shaft.answer.look as usize] += 1;
        }
    }
    let kappa = Agreement::of("cohen", shafts.len(), first.len(), |out| {
        let kept = first.iter().enumerate().filter(|(index, _)| Some(*index) != out);
        let pairs =
            kept.flat_map(|(_, marked)| &marked.shafts).map(|s| (s.truth.look as usize, s.answer.look as usize));
        cohen(pairs)
    });
    let is_infected = |call: Call| call == Call::Infected;
    Standing {
        photos: first.len(),
        look: look(&shafts),
        by_look,
        infected_or_not: Share::of(
            shafts.iter().map(|s| {
                s.answer.look != Call::Undetermined && is_infected(s.answer.look) == is_infected(s.truth.look)
            }),
        ),
        place: Share::of(shafts.iter().filter_map(|shaft| shaft.place_is_right())),
        base: Share::of(shafts.iter().filter_map(|shaft| shaft.base_is_right())),
        confusion,
        kappa,
        curve: shafts.chunks(CURVE_STEP).map(look).collect(),
    }
}

/// Cohen's kappa of pairs of classes, as [`Call::ALL`] numbers them.
pub(super) fn cohen(pairs: impl Iterator<Item = (usize, usize)>) -> Option<f64> {
    let mut table = Confusion::new(Call::ALL.len());
    pairs.for_each(|(one, other)| table.add(one, other, 1.0));
    table.kappa()
}
