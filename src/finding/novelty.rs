//! How far a shaft is from every reference shaft.
//!
//! Each feature is one coordinate: less its middle, by its spread among reference shafts, compressed beyond three
//! spreads so that one wild value does not drown the rest. An absent value lies at the middle, and each feature has a
//! second coordinate that says present or absent, so that "absent" is a place of its own and never passes for
//! "ordinary". Distances are stretched by the share of features that were present, as if the absent ones had differed
//! as much as the present ones did (partial distance; J. K. Dixon, "Pattern recognition with partly missing data",
//! 1979, from memory). The unit is such that 99 % of shafts from other scenes of the known kinds lie within 1.
//!
//! The nearest are found by looking at every reference shaft: with some fifty features a k-d tree looks at nearly all of
//! a few hundred as well, and takes three times as long about it (docs/performance.md).

use std::num::NonZero;

use super::Look;

/// Features that a space can have: those that vote (51 when this was written) and room for more.
pub const MAX_FEATURES: usize = 64;

/// Coordinates that are looked at together; places are filled up with zeros to a multiple of it, so that the processor
/// can take several at a time.
const LANES: usize = 8;

/// Spreads up to which a coordinate is as it is; beyond it grows with the logarithm. Three: 99.7 % of a normal law.
const STRAIGHT_SPREADS: f64 = 3.0;

/// Distance between present and absent, in spreads: as much as one ordinary difference.
const ABSENCE_SPREADS: f64 = 1.0;

/// The middle and the spread of one feature among reference shafts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FeatureScale {
    /// The median.
    pub middle: f64,
    /// One robust standard deviation; 0 when the feature does not vary and takes no part.
    pub spread: f64,
}

/// A shaft that is known.
#[derive(Clone, Debug, PartialEq)]
pub struct ReferenceShaft {
    /// The scene it is from.
    pub scene: u64,
    /// What it is.
    pub look: Look,
    /// The kind of shaft, as training named it.
    pub kind: String,
    /// Its features.
    pub values: Vec<Option<f64>>,
}

/// A reference shaft and how far it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Near {
    /// Its place among the reference shafts.
    pub reference: usize,
    /// Distance; 1 = as far as 99 % of known shafts are from the nearest reference shaft of another scene.
    pub distance: f64,
}

/// The reference shafts in their space.
#[derive(Debug)]
pub struct ReferenceSpace {
    scales: Vec<FeatureScale>,
    references: Vec<ReferenceShaft>,
    unit: f64,
    /// The places of all reference shafts, one behind the other.
    places: Vec<f64>,
}

impl ReferenceSpace {
    /// A space; `None` when there is no reference shaft, too many features, or a number that is not finite.
    pub fn new(scales: Vec<FeatureScale>, references: Vec<ReferenceShaft>, unit: f64) -> Option<ReferenceSpace> {
        let sound = scales.len() <= MAX_FEATURES
            && scales.iter().all(|s| s.middle.is_finite() && s.spread.is_finite() && s.spread >= 0.0)
            && references
                .iter()
                .all(|r| r.values.len() == scales.len() && r.values.iter().flatten().all(|v| v.is_finite()))
            && !references.is_empty()
            && unit.is_finite()
            && unit > 0.0;
        if !sound {
            return None;
        }
        let places = references.iter().flat_map(|r| place(&scales, &r.values)).collect();
        Some(ReferenceSpace { scales, references, unit, places })
    }

    /// The middle and spread of each feature.
    pub fn scales(&self) -> &[FeatureScale] {
        &self.scales
    }

    /// The reference shafts.
    pub fn references(&self) -> &[ReferenceShaft] {
        &self.references
    }

    /// The distance that counts as 1, in spreads.
    pub fn unit(&self) -> f64 {
        self.unit
    }

    /// The `n` nearest reference shafts, nearest first.
    pub fn nearest(&self, values: &[Option<f64>], n: NonZero<usize>) -> Vec<Near> {
        let stretch = stretch(&self.scales, values) / self.unit;
        let at = place(&self.scales, values);
        let mut near: Vec<Near> = self
            .places
            .chunks_exact(at.len())
            .enumerate()
            .map(|(reference, place)| Near { reference, distance: apart(place, &at) * stretch })
            .collect();
        let nearer = |a: &Near, b: &Near| a.distance.total_cmp(&b.distance).then(a.reference.cmp(&b.reference));
        if n.get() < near.len() {
            near.select_nth_unstable_by(n.get(), nearer);
            near.truncate(n.get());
        }
        near.sort_unstable_by(nearer);
        near
    }
}

/// The distance between two shafts, in spreads, stretched for what the second lacks.
pub fn distance(scales: &[FeatureScale], reference: &[Option<f64>], values: &[Option<f64>]) -> f64 {
    apart(&place(scales, reference), &place(scales, values)) * stretch(scales, values)
}

/// The distance between two places.
fn apart(a: &[f64], b: &[f64]) -> f64 {
    let mut sums = [0.0; LANES];
    for (a, b) in a.chunks_exact(LANES).zip(b.chunks_exact(LANES)) {
        for (sum, (a, b)) in sums.iter_mut().zip(a.iter().zip(b)) {
            *sum += (a - b) * (a - b);
        }
    }
    sums.iter().sum::<f64>().sqrt()
}

fn place(scales: &[FeatureScale], values: &[Option<f64>]) -> Vec<f64> {
    let mut at = vec![0.0; (2 * scales.len().max(1)).next_multiple_of(LANES)];
    for (i, (scale, value)) in scales.iter().zip(values).enumerate() {
        if scale.spread <= 0.0 {
            continue;
        }
        match value.filter(|value| value.is_finite()) {
            Some(value) => at[2 * i] = compressed((value - scale.middle) / scale.spread),
            None => at[2 * i + 1] = ABSENCE_SPREADS,
        }
    }
    at
}

fn compressed(spreads: f64) -> f64 {
    let beyond = spreads.abs() - STRAIGHT_SPREADS;
    if beyond <= 0.0 { spreads } else { spreads.signum() * (STRAIGHT_SPREADS + beyond.ln_1p()) }
}

fn stretch(scales: &[FeatureScale], values: &[Option<f64>]) -> f64 {
    let part: Vec<bool> = scales
        .iter()
        .zip(values)
        .filter(|(scale, _)| scale.spread > 0.0)
        .map(|(_, value)| value.is_some_and(f64::is_finite))
        .collect();
    let present = part.iter().filter(|&&present| present).count().max(1);
    (part.len().max(1) as f64 / present as f64).sqrt()
}

#[cfg(test)]
mod tests {
    use super::{FeatureScale, ReferenceShaft, ReferenceSpace, distance, place, stretch};
    use crate::finding::Look;
    use crate::maths::seeds;
    use kiddo::{ImmutableKdTree, SquaredEuclidean};
    use rand::Rng;
    use std::num::NonZero;

    fn value(rng: &mut impl Rng) -> Option<f64> {
        (!rng.gen_bool(0.2)).then(|| rng.gen_range(-5.0..5.0))
    }

    #[test]
    fn the_nearest_are_those_that_a_tree_of_a_general_library_finds() {
        let mut rng = seeds::generator(5, &[]);
        let scales = vec![FeatureScale { middle: 0.5, spread: 1.5 }; 12];
        let references: Vec<ReferenceShaft> = (0..200)
            .map(|scene| {
                let values = (0..12).map(|_| value(&mut rng)).collect();
                ReferenceShaft { scene, look: Look::Normal, kind: "guard".into(), values }
            })
            .collect();
        let space = ReferenceSpace::new(scales.clone(), references.clone(), 2.0).unwrap();
        let in_24 = |values: &[Option<f64>]| -> [f64; 24] { place(&scales, values).try_into().unwrap() };
        let places: Vec<[f64; 24]> = references.iter().map(|r| in_24(&r.values)).collect();
        let tree: ImmutableKdTree<f64, 24> = ImmutableKdTree::new_from_slice(&places).unwrap();
        let two = NonZero::new(2).unwrap();
        for _ in 0..50 {
            let row: Vec<Option<f64>> = (0..12).map(|_| value(&mut rng)).collect();
            let near = space.nearest(&row, two);
            assert_eq!(near.len(), 2);
            let found = tree.query(&in_24(&row)).nearest_n::<SquaredEuclidean<f64>>(two).execute();
            for (near, found) in near.iter().zip(found.iter()) {
                assert_eq!(near.reference, found.item as usize);
                let expected = found.distance.sqrt() * stretch(&scales, &row) / 2.0;
                assert!((near.distance - expected).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn absent_is_not_ordinary() {
        let scales = [FeatureScale { middle: 10.0, spread: 1.0 }; 2];
        assert_eq!(distance(&scales, &[Some(10.0), Some(10.0)], &[Some(10.0), Some(10.0)]), 0.0);
        assert!(distance(&scales, &[Some(10.0), Some(10.0)], &[Some(10.0), None]) >= 1.0);
        assert!(distance(&scales, &[Some(10.0), None], &[Some(10.0), None]) < 1e-12, "absent alike");
    }

    #[test]
    fn forty_equal_shafts_are_all_kept() {
        let shaft = ReferenceShaft { scene: 1, look: Look::Normal, kind: "down".into(), values: vec![Some(1.0)] };
        let space = ReferenceSpace::new(vec![FeatureScale { middle: 0.0, spread: 1.0 }], vec![shaft; 40], 1.0).unwrap();
        assert_eq!(space.nearest(&[Some(1.0)], NonZero::new(40).unwrap()).len(), 40);
    }
}
