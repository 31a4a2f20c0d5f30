//! Progress on standard error with an estimate of the time left, and Ctrl-C that stops between steps.

use crate::failure::Failure;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use noonfall_scoring::progress::Progress;
use std::sync::atomic::{AtomicBool, Ordering};

/// Set by Ctrl-C. The job asks between its steps and ends without a file half-written.
static STOPPED: AtomicBool = AtomicBool::new(false);

/// A bar on the terminal; nothing where there is none, or with `--quiet`.
pub struct Meter {
    bar: ProgressBar,
}

impl Meter {
    /// Starts listening for Ctrl-C.
    pub fn new(quiet: bool) -> Result<Meter, Failure> {
        let bar = ProgressBar::with_draw_target(
            Some(0),
            if quiet { ProgressDrawTarget::hidden() } else { ProgressDrawTarget::stderr() },
        );
        let style = ProgressStyle::with_template("{msg} {wide_bar} {percent}% {eta} left");
        bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
        ctrlc::set_handler(|| STOPPED.store(true, Ordering::Relaxed))
            .map_err(|error| Failure::Other(format!("Ctrl-C cannot be listened for: {error}")))?;
        Ok(Meter { bar })
    }

    /// Takes the bar away.
    pub fn finish(&self) {
        self.bar.finish_and_clear();
    }
}

impl Progress for Meter {
    fn begin(&self, what: &str, steps: u64) {
        self.bar.reset();
        self.bar.set_message(what.to_owned());
        self.bar.set_length(steps);
    }

    fn advance(&self, steps: u64) {
        self.bar.inc(steps);
    }

    fn cancelled(&self) -> bool {
        STOPPED.load(Ordering::Relaxed)
    }
}
