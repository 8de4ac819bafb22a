//! Random numbers that depend on a seed and a purpose only, never on the order of work.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// A generator of its own for one purpose: the same `seed` and `purpose` always give the same numbers,
/// whatever other generators have drawn and on whatever thread.
///
/// The purpose is any short list of numbers (what for, which tree, ...). ChaCha with 8 rounds is used because
/// its output is fixed by its definition, on every machine and version.
pub fn generator(seed: u64, purpose: &[u64]) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(purpose.iter().fold(mixed(seed), |state, &part| mixed(state ^ mixed(part))))
}

/// One step of SplitMix64 (G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators",
/// 2014; constants from memory, checked below): spreads neighbouring numbers over all 64 bits.
pub fn mixed(value: u64) -> u64 {
    let mut z = value.wrapping_add(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::{generator, mixed};
    use rand::RngCore;

    #[test]
    fn the_first_numbers_of_the_published_generator() {
        // First two outputs of SplitMix64 started at 0, as its reference code gives them (from memory).
        assert_eq!(mixed(0), 0xE220_A839_7B1D_CDAF);
        assert_eq!(mixed(0x9E37_79B9_7F4A_7C15), 0x6E78_9E6A_A1B9_65F4);
    }

    #[test]
    fn the_order_of_a_purpose_counts() {
        let first = |purpose: &[u64]| generator(7, purpose).next_u64();
        assert_eq!(first(&[1, 2]), first(&[1, 2]));
        assert_ne!(first(&[1, 2]), first(&[2, 1]));
        assert_ne!(first(&[1]), generator(8, &[1]).next_u64());
    }
}
