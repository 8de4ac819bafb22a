//! Seeded draws: the only source of chance in the simulator, the same on every machine.
//!
//! Each part of a scene draws from a stream of its own, so that a change in how one part is drawn
//! leaves the others as they were.

use rand::Rng;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// A stream of draws.
#[derive(Clone, Debug)]
pub(super) struct Dice(ChaCha8Rng);

/// The streams of one scene; the numbers are fixed, since a scene is named by its seed.
#[derive(Clone, Copy, Debug)]
pub(super) enum Stream {
    Camera = 1,
    Optics = 2,
    Theme = 3,
    Shafts = 4,
    Debris = 5,
    Strays = 6,
    Noise = 1 << 20,
}

impl Dice {
    /// The stream `stream` of the scene `seed`; `salt` keeps sets with equal seeds apart.
    pub(super) fn new(seed: u64, salt: u64, stream: u64) -> Dice {
        let mixed = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ salt.wrapping_mul(0xD1B5_4A32_D192_ED03);
        let mut rng = ChaCha8Rng::seed_from_u64(mixed);
        rng.set_stream(stream);
        Dice(rng)
    }

    /// Uniform in [from, to).
    pub(super) fn uniform(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.unit()
    }

    /// Uniform in [0, 1).
    pub(super) fn unit(&mut self) -> f64 {
        (self.0.r#gen::<u64>() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform in the logarithm between two values above 0.
    pub(super) fn log_uniform(&mut self, from: f64, to: f64) -> f64 {
        libm::exp(self.uniform(libm::log(from), libm::log(to)))
    }

    /// True with this probability.
    pub(super) fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// Normal with mean 0 and standard deviation 1.
    pub(super) fn standard_normal(&mut self) -> f64 {
        self.0.sample(StandardNormal)
    }

    /// A whole number between two bounds, both included.
    pub(super) fn whole(&mut self, from: usize, to: usize) -> usize {
        let n = (to.max(from) - from + 1) as f64;
        from + ((self.unit() * n) as usize).min(to.max(from) - from)
    }

    /// One of several, all as likely.
    ///
    /// # Panics
    /// When there are none.
    pub(super) fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.whole(0, from.len() - 1)]
    }

    /// One of several, by weight.
    ///
    /// # Panics
    /// When there are none.
    pub(super) fn weighted<T: Copy>(&mut self, from: &[(T, f64)]) -> T {
        let total: f64 = from.iter().map(|(_, weight)| weight).sum();
        let mut left = self.unit() * total;
        for (value, weight) in from {
            left -= weight;
            if left < 0.0 {
                return *value;
            }
        }
        from[from.len() - 1].0
    }

    /// Uniform in one of several intervals, each as likely: a narrow interval is seen as often as a wide one.
    ///
    /// # Panics
    /// When there are none.
    pub(super) fn among(&mut self, intervals: &[(f64, f64)]) -> f64 {
        let (from, to) = self.pick(intervals);
        self.uniform(from, to)
    }

    /// A number to seed a texture with.
    pub(super) fn seed(&mut self) -> u32 {
        self.0.r#gen::<u32>()
    }
}

#[cfg(test)]
mod tests {
    use super::Dice;

    #[test]
    fn streams_differ_and_repeat() {
        let draw = |seed, salt, stream| Dice::new(seed, salt, stream).unit();
        assert_eq!(draw(1, 2, 3), draw(1, 2, 3));
        assert_ne!(draw(1, 2, 3), draw(2, 2, 3));
        assert_ne!(draw(1, 2, 3), draw(1, 3, 3));
        assert_ne!(draw(1, 2, 3), draw(1, 2, 4));
    }

    #[test]
    fn draws_stay_in_their_bounds() {
        let mut dice = Dice::new(7, 0, 0);
        for _ in 0..2000 {
            let drawn = dice.among(&[(0.0, 1.0), (4.0, 5.0)]);
            assert!((0.0..1.0).contains(&drawn) || (4.0..5.0).contains(&drawn), "{drawn} lies in neither interval");
            assert!((3..=6).contains(&dice.whole(3, 6)), "a whole number left its bounds");
        }
    }
}
