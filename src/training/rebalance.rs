//! Colours as a camera with another white balance would have seen them.
//!
//! A model that has only seen the white balances of the simulator's cameras trusts the colour of a glow too far: on
//! photos of another renderer, ordinary hair that came out a little greener was called infected. A gain of a channel
//! multiplies the ratio of two channels, so that what a balance measures under another gain follows exactly from what
//! it measured. Measurements relative to the ground or to comparison shafts do not change with a gain and are left.

use rand::Rng;

use super::grow::VotingFeature;
use crate::maths::seeds;

/// Says in the seed's purpose that colours are rebalanced.
const PURPOSE: u64 = 0x6261_6c61;

/// Share of the scenes that are: the others keep the link between a colour and a rightly balanced camera.
const SHARE: f64 = 0.5;

/// The balances of two channels that change, as of `features::colour`: (a − b) / (a + b).
const BALANCES: [&str; 2] = ["colour.green_blue", "colour.red_green"];

/// Gives half of the scenes gains of their own: the logarithm of the ratio of two channels moves by up to `most` either
/// way, the same for all shafts of a scene. A row is its scene and the features of `voting`.
pub(super) fn rebalance<'a>(
    rows: impl Iterator<Item = (u64, &'a mut Vec<Option<f64>>)>,
    voting: &[VotingFeature],
    most: f64,
    seed: u64,
) {
    let columns = BALANCES.map(|key| voting.iter().position(|feature| feature.key == key));
    for (scene, values) in rows {
        let mut dice = seeds::generator(seed, &[PURPOSE, scene]);
        let is_rebalanced = dice.r#gen::<f64>() < SHARE;
        let moves = BALANCES.map(|_| most * (2.0 * dice.r#gen::<f64>() - 1.0));
        if !is_rebalanced {
            continue;
        }
        for (column, by) in columns.iter().zip(moves) {
            if let Some(value) = column.and_then(|at| values.get_mut(at)) {
                *value = value.map(|balance| moved(balance, by));
            }
        }
    }
}

/// The balance when the ratio of the channels is e^`by` times what it was; one channel without light stays without.
fn moved(balance: f64, by: f64) -> f64 {
    let (a, b) = ((1.0 + balance) * by.exp(), 1.0 - balance);
    if a + b > 0.0 { (a - b) / (a + b) } else { balance }
}

#[cfg(test)]
mod tests {
    use super::{moved, rebalance};
    use crate::training::grow::VotingFeature;

    #[test]
    fn a_gain_moves_a_balance_as_it_moves_the_light() {
        // Green 0.6 and blue 0.3 under a gain of 1.5 on green.
        assert!((moved(0.3 / 0.9, 1.5_f64.ln()) - (0.9 - 0.3) / 1.2).abs() < 1e-12);
        assert_eq!((moved(1.0, 0.4), moved(-1.0, 0.4)), (1.0, -1.0));
    }

    #[test]
    fn shafts_of_a_scene_move_together_and_other_measurements_stay() {
        let voting = ["colour.green_blue", "width.cv", "colour.red_green"];
        let voting: Vec<VotingFeature> =
            voting.iter().enumerate().map(|(column, key)| VotingFeature { key, unit: "1", column }).collect();
        let mut rows: Vec<(u64, Vec<Option<f64>>)> =
            (0..400).map(|i| (i / 2, vec![Some(0.1), Some(7.0), None])).collect();
        rebalance(rows.iter_mut().map(|(scene, values)| (*scene, values)), &voting, 0.8, 1);
        assert!(rows.chunks(2).all(|pair| pair[0].1 == pair[1].1));
        assert!(rows.iter().all(|(_, values)| values[1] == Some(7.0) && values[2].is_none()));
        let moved = rows.iter().filter(|(_, values)| values[0] != Some(0.1)).count();
        assert!((140..260).contains(&moved), "{moved} of 400");
    }
}
