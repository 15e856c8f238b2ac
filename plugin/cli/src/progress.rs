//! How far long work has come, on a terminal; nothing in a pipe.

use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// How often the line is drawn anew.
const REDRAWS_A_SECOND: u8 = 8;
/// Work that takes no longer than this is done before a line about it is read.
const LONG_WORK: Duration = Duration::from_millis(700);

/// A line on standard error that says how far the work has come, in frames or files.
pub(crate) struct Progress {
    bar: ProgressBar,
}

impl Progress {
    /// For work on so many frames or files, where that is known.
    pub(crate) fn new(what: &str, total: Option<u64>) -> Self {
        let bar = ProgressBar::with_draw_target(total, ProgressDrawTarget::hidden());
        let template =
            if total.is_some() { "{msg} {percent:>3} %  {eta} left" } else { "{msg} {elapsed}" };
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style);
        }
        bar.set_message(what.to_owned());
        Self { bar }
    }

    /// Counts what is done.
    pub(crate) fn add(&self, done: usize) {
        if self.bar.is_hidden() && self.bar.elapsed() > LONG_WORK {
            // Hidden all the same where standard error is no terminal.
            self.bar.set_draw_target(ProgressDrawTarget::stderr_with_hz(REDRAWS_A_SECOND));
        }
        self.bar.inc(done as u64);
    }
}
