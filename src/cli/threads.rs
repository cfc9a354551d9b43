//! How many threads the commands work with.

use crate::error::{Error, Result};

/// Most threads: more than any machine for this job has cores, and each takes memory of its own (limit).
const MOST_THREADS: usize = 256;

/// A number of threads on the command line.
pub(super) fn thread_count(text: &str) -> std::result::Result<usize, String> {
    match text.parse() {
        Ok(threads) if threads > 0 => Ok(threads),
        _ => Err("expected a number of threads, 1 or more".to_owned()),
    }
}

/// Starts the threads here, where a failure is an error: started at their first use they would end the program.
pub(super) fn start_threads(wanted: Option<usize>) -> Result<()> {
    rayon::ThreadPoolBuilder::new()
        // 0 is one a core.
        .num_threads(wanted.map_or(0, |threads| threads.min(MOST_THREADS)))
        .build_global()
        .map_err(|cause| {
            Error::new(format!(
                "the threads to work with cannot be started: {cause}"
            ))
            .advice("Name fewer with --threads, or allow the program more memory and threads.")
        })
}
