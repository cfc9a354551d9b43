//! Fuzzed bytes as a source of choices: numbers, one after the other, zeros when the bytes are used up.

/// The bytes not used yet.
pub(crate) struct Bytes<'a>(pub(crate) &'a [u8]);

impl Bytes<'_> {
    /// Some are left.
    pub(crate) fn more(&self) -> bool {
        !self.0.is_empty()
    }

    /// The next one.
    pub(crate) fn byte(&mut self) -> u8 {
        let Some((&first, rest)) = self.0.split_first() else {
            return 0;
        };
        self.0 = rest;
        first
    }

    /// A whole number of 16 bits.
    pub(crate) fn word(&mut self) -> i16 {
        i16::from_le_bytes([self.byte(), self.byte()])
    }

    /// One of `0..count`.
    pub(crate) fn below(&mut self, count: usize) -> usize {
        usize::from(self.byte()) % count
    }

    /// A length of under 256 steps of `step_m` either way: coarse steps make shared corners and edges, which
    /// is where geometry fails.
    pub(crate) fn metres(&mut self, step_m: f64) -> f64 {
        f64::from(self.word() % 256) * step_m
    }
}
