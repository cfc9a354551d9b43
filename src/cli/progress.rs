//! The progress bar.

use std::io::IsTerminal;
use std::sync::Mutex;

/// One progress bar, renewed for each kind of work.
#[derive(Default)]
pub(super) struct Bar {
    shown: Mutex<Option<(&'static str, indicatif::ProgressBar)>>,
}

impl Bar {
    /// Shows how far one kind of work is.
    pub(super) fn show(&self, what: &'static str, done: usize, of: usize) {
        if !std::io::stderr().is_terminal() {
            return;
        }
        let Ok(mut shown) = self.shown.lock() else {
            return;
        };
        if shown.as_ref().is_none_or(|(known, _)| *known != what) {
            let bar = indicatif::ProgressBar::new(of as u64);
            if let Ok(style) =
                indicatif::ProgressStyle::with_template("{msg:6} {wide_bar} {pos}/{len}")
            {
                bar.set_style(style);
            }
            bar.set_message(what);
            if let Some((_, old)) = shown.replace((what, bar)) {
                old.finish_and_clear();
            }
        }
        if let Some((_, bar)) = shown.as_ref() {
            bar.set_position(bar.position().max(done as u64));
        }
    }

    /// Takes the bar away.
    pub(super) fn clear(&self) {
        if let Ok(mut shown) = self.shown.lock()
            && let Some((_, bar)) = shown.take()
        {
            bar.finish_and_clear();
        }
    }
}
