//! Seeded chance: normal numbers, and the drifting error of a position.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// How wrong positions are.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wrong {
    /// Standard deviation of the drift per axis, m, and its time constant, s.
    pub drift_m: f64,
    pub drift_s: f64,
    /// Standard deviation of the white noise per axis, m.
    pub white_m: f64,
    /// From fix to fix, s.
    pub interval_s: f64,
}

/// A seeded source of normal numbers.
pub(crate) struct Chance(ChaCha8Rng);

impl Chance {
    /// A stream of its own for each purpose, so that a change in one log leaves the others alone.
    pub(crate) fn new(seed: u64, stream: u64) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(stream);
        Self(generator)
    }

    /// Uniform in (0, 1).
    pub(crate) fn uniform(&mut self) -> f64 {
        ((self.0.next_u64() >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    /// Uniform between two numbers.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// A whole number from 0 to `count` - 1.
    pub(crate) fn below(&mut self, count: usize) -> usize {
        ((self.uniform() * count as f64) as usize).min(count - 1)
    }

    /// Standard normal (Box and Muller, Ann. Math. Stat. 29, 1958).
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

/// The error of logged positions: a first-order Gauss-Markov process per axis plus white noise.
pub(crate) struct Drift {
    chance: Chance,
    wrong: Wrong,
    slow_m: [f64; 2],
}

impl Drift {
    pub(crate) fn new(mut chance: Chance, wrong: Wrong) -> Self {
        let slow_m = [
            wrong.drift_m * chance.normal(),
            wrong.drift_m * chance.normal(),
        ];
        Self {
            chance,
            wrong,
            slow_m,
        }
    }

    /// East and north error of the fix one interval after the last, m.
    pub(crate) fn next_m(&mut self) -> [f64; 2] {
        let keep = (-self.wrong.interval_s / self.wrong.drift_s).exp();
        let fresh_m = self.wrong.drift_m * (1.0 - keep * keep).sqrt();
        self.slow_m = self
            .slow_m
            .map(|slow_m| keep * slow_m + fresh_m * self.chance.normal());
        self.slow_m
            .map(|slow_m| slow_m + self.wrong.white_m * self.chance.normal())
    }
}
