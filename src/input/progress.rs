//! How far the work is.

use std::sync::atomic::{AtomicUsize, Ordering};

/// Told how far the work is, from several threads: what is being done, done so far, of how many.
pub type Progress<'a> = &'a (dyn Fn(&'static str, usize, usize) + Sync);

/// Counts work of one kind.
pub(crate) struct Count<'a> {
    what: &'static str,
    of: usize,
    done: AtomicUsize,
    progress: Progress<'a>,
}

impl<'a> Count<'a> {
    /// Says that the work begins.
    pub(crate) fn of(what: &'static str, of: usize, progress: Progress<'a>) -> Self {
        progress(what, 0, of);
        Self {
            what,
            of,
            done: AtomicUsize::new(0),
            progress,
        }
    }

    /// Says that one more is done.
    pub(crate) fn one_more(&self) {
        let done = 1 + self.done.fetch_add(1, Ordering::Relaxed);
        (self.progress)(self.what, done, self.of);
    }
}
