//! The few reference shafts that a model keeps, and the scale of the space in which novelty is measured.

use rand::Rng;
use rand::distributions::{Distribution, WeightedIndex};

use super::table::LabelledRow;
use crate::finding::Look;
use crate::finding::novelty::{FeatureScale, ReferenceShaft, distance};
use crate::maths::{seeds, stats};

/// Says in the seed's purpose that reference shafts are drawn.
const PURPOSE: u64 = 0x7072_6f74;

/// Shafts among which the reference shafts of a look are drawn at most: drawing takes time in proportion to this
/// times the number drawn.
const MOST_CANDIDATES: usize = 3000;

/// The quantiles between which a feature's spread is taken. Wide enough that a feature which is constant for most
/// shafts and telling for the rest keeps a spread, and without the 5 % at the ends.
const SPREAD_QUANTILES: [f64; 2] = [0.025, 0.975];

/// Standard deviations between those quantiles in a normal law (2 · Φ⁻¹(0.975), closed form).
const SDS_BETWEEN: f64 = 3.919_927_969_080_108;

/// The middle and spread of each feature among `rows`.
pub fn scales(rows: &[&LabelledRow]) -> Vec<FeatureScale> {
    let n_features = rows.first().map_or(0, |row| row.values.len());
    (0..n_features)
        .map(|feature| {
            let mut values: Vec<f64> = rows.iter().filter_map(|row| row.values[feature]).collect();
            let mut at = |q: f64| stats::quantile(&mut values, q).unwrap_or(0.0);
            let [low, high] = SPREAD_QUANTILES.map(&mut at);
            FeatureScale { middle: at(0.5), spread: ((high - low) / SDS_BETWEEN).max(0.0) }
        })
        .collect()
}

/// At most `n` reference shafts out of `rows` (which are in an order of their own), as many of each look as of any
/// other where there are enough.
///
/// Within a look each next shaft is drawn with a chance in proportion to its squared distance from those drawn before
/// (D. Arthur, S. Vassilvitskii, "k-means++: the advantages of careful seeding", 2007, from memory): rare kinds are
/// reached without the set being made of outliers.
pub fn chosen(rows: &[&LabelledRow], scales: &[FeatureScale], n: usize, seed: u64) -> Vec<ReferenceShaft> {
    let mut chosen = Vec::new();
    for look in Look::ALL {
        let mut rng = seeds::generator(seed, &[PURPOSE, look as u64]);
        let of_look: Vec<&LabelledRow> = rows.iter().filter(|row| row.look == look).copied().collect();
        // Every so-many-eth, not the first ones: rows stand in the order of scenes.
        let thinning = of_look.len().div_ceil(MOST_CANDIDATES).max(1);
        let candidates: Vec<&LabelledRow> = of_look.into_iter().step_by(thinning).collect();
        let wanted = (n / Look::COUNT).min(candidates.len());
        let mut nearest = vec![f64::INFINITY; candidates.len()];
        let mut next = if candidates.is_empty() { 0 } else { rng.gen_range(0..candidates.len()) };
        for _ in 0..wanted {
            let row = candidates[next];
            chosen.push(ReferenceShaft { scene: row.scene, look, kind: row.kind.clone(), values: row.values.clone() });
            for (near, candidate) in nearest.iter_mut().zip(&candidates) {
                *near = near.min(distance(scales, &row.values, &candidate.values).powi(2));
            }
            // All at distance 0: what is left repeats what is there.
            let Ok(law) = WeightedIndex::new(&nearest) else { break };
            next = law.sample(&mut rng);
        }
    }
    chosen
}

/// The distance within which `share` of `rows` have a reference shaft of another scene; `None` without rows.
pub fn reach(rows: &[&LabelledRow], references: &[ReferenceShaft], scales: &[FeatureScale], share: f64) -> Option<f64> {
    let nearest = |row: &&LabelledRow| {
        let others = references.iter().filter(|reference| reference.scene != row.scene);
        let distances = others.map(|reference| distance(scales, &reference.values, &row.values));
        distances.min_by(f64::total_cmp)
    };
    stats::quantile(&mut rows.iter().filter_map(nearest).collect::<Vec<f64>>(), share)
}

#[cfg(test)]
mod tests {
    use super::{chosen, reach, scales};
    use crate::finding::Look;
    use crate::training::table::LabelledRow;

    fn row(scene: u64, look: Look, value: f64) -> LabelledRow {
        LabelledRow { scene, group: String::new(), look, kind: String::new(), values: vec![Some(value)] }
    }

    #[test]
    fn a_rare_kind_far_away_is_reached() {
        let mut rows: Vec<LabelledRow> = (0..500).map(|i| row(i, Look::Normal, 0.01 * i as f64)).collect();
        rows.extend((0..5).map(|i| row(600 + i, Look::Normal, 100.0 + i as f64)));
        let rows: Vec<&LabelledRow> = rows.iter().collect();
        let scales = scales(&rows);
        let kept = chosen(&rows, &scales, 40, 3);
        assert_eq!(kept.len(), 10, "a quarter for the only look there is");
        assert!(kept.iter().any(|reference| reference.values[0].unwrap() >= 100.0));
        assert!(reach(&rows, &kept, &scales, 0.99).unwrap() < 1.0);
    }

    #[test]
    fn equal_shafts_are_kept_once() {
        let rows: Vec<LabelledRow> = (0..50).map(|i| row(i, Look::Fibre, 2.0)).collect();
        let rows: Vec<&LabelledRow> = rows.iter().collect();
        let mut scales = scales(&rows);
        assert_eq!(scales[0].spread, 0.0);
        scales[0].spread = 1.0;
        assert_eq!(chosen(&rows, &scales, 40, 3).len(), 1);
    }
}
