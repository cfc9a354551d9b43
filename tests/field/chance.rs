//! Seeded chance: every draw of a night comes from here, so that a seed is a night.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A stream of draws.
pub(crate) struct Chance(ChaCha8Rng);

impl Chance {
    /// The stream `stream` of the night `seed`; streams of a night share no draws.
    pub(crate) fn new(seed: u64, stream: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Self(rng)
    }

    fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Evenly from `low` to `high`.
    pub(crate) fn even(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Normal with mean 0 and deviation 1 (Box and Muller).
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }

    /// True with probability `p`.
    pub(crate) fn yes(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// A whole number under `count`.
    pub(crate) fn index(&mut self, count: usize) -> usize {
        ((self.unit() * count as f64) as usize).min(count - 1)
    }

    /// One of `all`.
    pub(crate) fn pick<T: Clone>(&mut self, all: &[T]) -> T {
        all[self.index(all.len())].clone()
    }
}

/// A value that wanders about 0 with a deviation and a memory (first-order Gauss-Markov).
pub(crate) struct Wander {
    value: f64,
    deviation: f64,
    memory_s: f64,
}

impl Wander {
    /// Starts anywhere it may be.
    pub(crate) fn new(deviation: f64, memory_s: f64, chance: &mut Chance) -> Self {
        Self {
            value: deviation * chance.normal(),
            deviation,
            memory_s,
        }
    }

    /// Its value `step_s` later.
    pub(crate) fn after(&mut self, step_s: f64, chance: &mut Chance) -> f64 {
        let kept = (-step_s / self.memory_s).exp();
        self.value =
            kept * self.value + self.deviation * (1.0 - kept * kept).sqrt() * chance.normal();
        self.value
    }
}
