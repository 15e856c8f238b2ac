//! What a live test has found out so far, as plain data that can cross between threads, and the
//! table that follows from it.

use super::STRETCHES;
use crate::detector::{Detector, Shown};
use crate::level::Level;
use crate::sum_test::align::Clock;
use crate::sum_test::audit::table;
use crate::sum_test::expectation::expectations;
use crate::sum_test::measured::StretchShown;
use crate::sum_test::record::StepRecord;
use crate::sum_test::schedule::{STEPS, Schedule};

/// How far a live test has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LiveState {
    /// The test has not begun.
    Waiting,
    /// It plays.
    Running,
    /// The transport jumped or stopped before the last step was over.
    Interrupted,
    /// Every step is measured.
    Complete,
}

/// What has been found out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LiveShown {
    /// How far the test has come.
    pub state: LiveState,
    /// How often it has begun.
    pub run: u32,
    /// Sample rate in Hz.
    pub rate_hz: u32,
    /// Channels that the bus has: one or two.
    pub channels: usize,
    /// Where in the test it is, in frames.
    pub position_frames: u64,
    /// The floor and the steps that both bands have measured.
    pub(super) stretches_done: usize,
    /// By stretch and band: the highest levels of bursts, else the settled ones.
    pub(super) levels: [[Shown; 2]; STRETCHES],
    /// The largest sample of each step, linear.
    pub(super) largest: [f64; STEPS.len()],
}

impl Default for LiveShown {
    fn default() -> Self {
        Self {
            state: LiveState::Waiting,
            run: 0,
            rate_hz: 0,
            channels: 1,
            position_frames: 0,
            stretches_done: 0,
            levels: [[[Level::NONE; Detector::ALL.len()]; 2]; STRETCHES],
            largest: [0.0; STEPS.len()],
        }
    }
}

impl LiveShown {
    /// Nothing found out yet, after so many runs.
    #[must_use]
    pub fn after_runs(run: u32) -> Self {
        Self { run, ..Self::default() }
    }

    /// How many steps are measured.
    #[must_use]
    pub fn steps_done(&self) -> usize {
        self.stretches_done.saturating_sub(1)
    }

    /// The table of the steps that are measured, compared as for a recording. Allocates; the first
    /// time at a rate, it works out what the ideal sum shows.
    #[must_use]
    pub fn steps(&self) -> Vec<StepRecord> {
        let (Some(schedule), Some(expectations)) =
            (Schedule::new(self.rate_hz), expectations(self.rate_hz))
        else {
            return Vec::new();
        };
        table::steps(&self.table(), &expectations, &CLOCK, &schedule)
    }

    /// The floor and the steps that are measured.
    pub(super) fn table(&self) -> table::Shown {
        let measured = |step: usize| (step < self.steps_done()).then(|| self.stretch(step + 1));
        table::Shown { floor: self.stretch(0), steps: std::array::from_fn(measured) }
    }

    /// What is to be said about a test that is not complete.
    #[must_use]
    pub fn sentence(&self) -> String {
        let step = (self.steps_done() + 1).min(STEPS.len());
        let again = if self.run > 1 && self.state == LiveState::Running {
            "The transport went back to the beginning, and the test has started again. "
        } else {
            ""
        };
        match self.state {
            LiveState::Waiting => "Waiting for the test: one instance plays feed 1 and another \
                                   feed 2; start the transport at the beginning of the project."
                .to_owned(),
            LiveState::Running if self.stretches_done == 0 => {
                format!("{again}The test has begun: markers and noise floor.")
            }
            LiveState::Running => format!("{again}Step {step} of {}.", STEPS.len()),
            LiveState::Interrupted => format!(
                "The transport jumped or stopped before step {step} was over, and half a step \
                 says nothing: play the test again from the beginning of the project."
            ),
            LiveState::Complete => "Every step is measured.".to_owned(),
        }
    }

    /// What was shown in a stretch. Only what the stretch is read by is kept.
    fn stretch(&self, index: usize) -> StretchShown {
        StretchShown { highest: self.levels[index], settled: self.levels[index] }
    }
}

/// The bus is on the test's own clock.
pub(super) const CLOCK: Clock = Clock { start: 0.0, stretch: 1.0 };
