//! Scenes parted for different purposes, never a scene split.

use rand::seq::SliceRandom;

use crate::maths::seeds;

/// Says in the seed's purpose that scenes are parted.
const PURPOSE: u64 = 0x666f_6c64;

/// The same for folds, so that a fold is no part of a part.
const PURPOSE_FOLDS: u64 = 0x666f_6c65;

/// What a scene is used for once trees that never saw it have scored its shafts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// Scores to probabilities.
    Calibrating,
    /// The bounds of the sets of plausible looks.
    Conforming,
}

/// The part of each row: half of the scenes each, given the scene of each row.
///
/// Depends on the set of scenes and the seed only, not on the order or number of rows.
pub fn parts(scenes: &[u64], seed: u64) -> Vec<Part> {
    let all = shuffled(scenes, seed, PURPOSE);
    let n_calibrating = all.len().div_ceil(2);
    let place = places(&all);
    scenes
        .iter()
        .map(|scene| match place(*scene) {
            at if at < n_calibrating => Part::Calibrating,
            _ => Part::Conforming,
        })
        .collect()
}

/// The fold, 0 to `n_folds` − 1, of each row for cross-validation by scene; folds differ by one scene at most.
pub fn folds(scenes: &[u64], n_folds: usize, seed: u64) -> Vec<usize> {
    let all = shuffled(scenes, seed, PURPOSE_FOLDS);
    let place = places(&all);
    scenes.iter().map(|scene| place(*scene) % n_folds.max(1)).collect()
}

/// Each group left out once: the group's name, and for each row whether it belongs to it.
pub fn each_group_left_out<'a>(groups: &[&'a str]) -> Vec<(&'a str, Vec<bool>)> {
    let mut names: Vec<&str> = groups.to_vec();
    names.sort_unstable();
    names.dedup();
    names.into_iter().map(|name| (name, groups.iter().map(|group| *group == name).collect())).collect()
}

fn shuffled(scenes: &[u64], seed: u64, purpose: u64) -> Vec<u64> {
    let mut all: Vec<u64> = scenes.to_vec();
    all.sort_unstable();
    all.dedup();
    all.shuffle(&mut seeds::generator(seed, &[purpose]));
    all
}

fn places(all: &[u64]) -> impl Fn(u64) -> usize + '_ {
    let mut by_scene: Vec<(u64, usize)> = all.iter().enumerate().map(|(place, &scene)| (scene, place)).collect();
    by_scene.sort_unstable();
    move |scene| by_scene.binary_search_by_key(&scene, |&(s, _)| s).map_or(0, |i| by_scene[i].1)
}

#[cfg(test)]
mod tests {
    use super::{Part, each_group_left_out, folds, parts};

    #[test]
    fn no_scene_is_split_and_shares_are_kept() {
        let scenes: Vec<u64> = (0..1000).map(|i| i / 5).collect();
        let part = parts(&scenes, 9);
        for shafts in part.chunks(5) {
            assert!(shafts.iter().all(|p| *p == shafts[0]));
        }
        let count = |which: Part| part.iter().filter(|p| **p == which).count();
        assert_eq!((count(Part::Calibrating), count(Part::Conforming)), (500, 500));
        assert_ne!(part, parts(&scenes, 10), "another seed parts otherwise");
        let reversed: Vec<u64> = scenes.iter().rev().copied().collect();
        assert!(parts(&reversed, 9).iter().rev().eq(&part), "order of rows does not matter");
    }

    #[test]
    fn folds_are_even() {
        let scenes: Vec<u64> = (0..103).collect();
        let fold = folds(&scenes, 5, 1);
        for which in 0..5 {
            let n = fold.iter().filter(|f| **f == which).count();
            assert!((20..=21).contains(&n), "{n}");
        }
    }

    #[test]
    fn groups_are_left_out_whole() {
        let out = each_group_left_out(&["b", "a", "b"]);
        assert_eq!(out, [("a", vec![false, true, false]), ("b", vec![true, false, true])]);
    }
}
