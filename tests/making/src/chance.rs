//! Seeded chance.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A seeded source of numbers.
pub struct Chance(ChaCha8Rng);

impl Chance {
    /// A stream of its own for each purpose, so that a change in one log leaves the others alone.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(stream);
        Self(generator)
    }

    /// Uniform in (0, 1).
    pub fn uniform(&mut self) -> f64 {
        ((self.0.next_u64() >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    /// Uniform between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// A whole number from 0 to `count` - 1.
    pub fn below(&mut self, count: usize) -> usize {
        ((self.uniform() * count as f64) as usize).min(count - 1)
    }

    /// Standard normal (Box and Muller, Ann. Math. Stat. 29, 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}
