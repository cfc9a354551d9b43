//! Seeded chance: normal numbers, and the drifting error of a position.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Standard deviation of the drift per axis, m, and its time constant, s.
const DRIFT_M: f64 = 0.4;
const DRIFT_S: f64 = 100.0;
/// Standard deviation of the white noise per axis, m.
const WHITE_M: f64 = 0.015;

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

    /// Standard normal (Box and Muller, Ann. Math. Stat. 29, 1958).
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

/// The error of logged positions: a first-order Gauss-Markov process per axis plus white noise.
pub(crate) struct Drift {
    chance: Chance,
    slow_m: [f64; 2],
}

impl Drift {
    pub(crate) fn new(mut chance: Chance) -> Self {
        let slow_m = [DRIFT_M * chance.normal(), DRIFT_M * chance.normal()];
        Self { chance, slow_m }
    }

    /// East and north error of the fix one second after the last, m.
    pub(crate) fn next_m(&mut self) -> [f64; 2] {
        let keep = (-1.0 / DRIFT_S).exp();
        let fresh_m = DRIFT_M * (1.0 - keep * keep).sqrt();
        self.slow_m = self
            .slow_m
            .map(|slow_m| keep * slow_m + fresh_m * self.chance.normal());
        self.slow_m
            .map(|slow_m| slow_m + WHITE_M * self.chance.normal())
    }
}
