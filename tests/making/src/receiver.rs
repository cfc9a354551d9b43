//! How wrong a receiver's positions are.

use crate::chance::Chance;

/// How wrong positions are.
#[derive(Debug, Clone, Copy)]
pub struct Wrong {
    /// Standard deviation of the drift per axis, m.
    pub drift_m: f64,
    /// Time constant of the drift, s.
    pub drift_s: f64,
    /// Standard deviation of the white noise per axis, m.
    pub white_m: f64,
}

/// The error of logged positions: a first-order Gauss-Markov process per axis plus white noise.
pub struct Drift {
    chance: Chance,
    wrong: Wrong,
    interval_s: f64,
    slow_m: [f64; 2],
}

impl Drift {
    /// The error of a log with a fix every `interval_s`.
    pub fn new(mut chance: Chance, wrong: Wrong, interval_s: f64) -> Self {
        let slow_m = [
            wrong.drift_m * chance.normal(),
            wrong.drift_m * chance.normal(),
        ];
        Self {
            chance,
            wrong,
            interval_s,
            slow_m,
        }
    }

    /// East and north error of the fix one interval after the last, m.
    pub fn next_m(&mut self) -> [f64; 2] {
        let keep = (-self.interval_s / self.wrong.drift_s).exp();
        let fresh_m = self.wrong.drift_m * (1.0 - keep * keep).sqrt();
        self.slow_m = self
            .slow_m
            .map(|slow_m| keep * slow_m + fresh_m * self.chance.normal());
        self.slow_m
            .map(|slow_m| slow_m + self.wrong.white_m * self.chance.normal())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The stationary law of the process: the standard deviation given, and exp(-dt / tau) from one fix to the next.
    #[test]
    fn the_error_has_the_spread_and_the_memory_that_were_asked_for() {
        let wrong = Wrong {
            drift_m: 0.4,
            drift_s: 10.0,
            white_m: 0.0,
        };
        let mut drift = Drift::new(Chance::new(1, 1), wrong, 1.0);
        let errors: Vec<f64> = (0..200_000).map(|_| drift.next_m()[0]).collect();
        let mean = |of: &dyn Fn(usize) -> f64, count: usize| {
            (0..count).map(of).sum::<f64>() / count as f64
        };
        let variance = mean(&|i| errors[i] * errors[i], errors.len());
        let beside = mean(&|i| errors[i] * errors[i + 1], errors.len() - 1);
        // 20,000 / 2 independent values: 1.4 % of the variance, one standard deviation.
        assert!((variance / 0.16 - 1.0).abs() < 0.05, "{variance}");
        assert!((beside / variance - (-0.1_f64).exp()).abs() < 0.01);
    }
}
