//! The verdict on a complete live test: the fits and rules of the audit of a recording.

use super::LiveTest;
use super::shown::{CLOCK, LiveState};
use crate::sum_test::audit::judgement::{Judgement, Place};
use crate::sum_test::audit::{floor, table};
use crate::sum_test::faults::Evidence;
use crate::sum_test::grade::Limits;
use crate::sum_test::lost::Lost;
use crate::sum_test::path::{self, FITTED_STEPS, Paths, references};
use crate::sum_test::record::{Audit, RecordingRecord};
use crate::sum_test::schedule::STEPS;
use crate::words::duration;

/// RMS below which a bus is silent, as a power.
const SILENCE_POWER: f64 = 1e-9;
/// Least share of the power in the steps of one feed that has to be the feed's: what the alignment
/// of a recording asks of a block, squared. A chance likeness reaches a tenth of it.
const LEAST_FEED_SHARE: f64 = 0.15 * 0.15;
/// How far the feeds may lie off the transport, in seconds: less than a step's closing fade.
const MOST_DELAY_S: f64 = 0.015;

/// Why a test that has played cannot be judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LiveError {
    /// Not every step has been measured.
    Incomplete,
    /// Nothing was heard.
    Silence,
    /// What was heard is not the test.
    NotTheTest,
    /// The feeds do not lie where the transport says.
    OffTransport {
        /// By how much they come late, in seconds.
        delay_s: f64,
    },
}

impl std::fmt::Display for LiveError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match *self {
            Self::Incomplete => f.write_str("The test has not played to its end."),
            Self::Silence => f.write_str(
                "Nothing came through this bus while the test played: check that the feeds are \
                 switched on and that their tracks are sent here.",
            ),
            Self::NotTheTest => f.write_str(
                "What came through this bus is not the test: other sound covered it, an effect \
                 changed it, the feeds play the loop, or they are off.",
            ),
            Self::OffTransport { delay_s } => write!(
                f,
                "The feeds come {} {} than the transport says, and the steps do not lie \
                 where they are measured: switch the host's delay compensation on, or record the \
                 bus and have the file audited.",
                duration(delay_s),
                if delay_s > 0.0 { "later" } else { "earlier" }
            ),
        }
    }
}

impl std::error::Error for LiveError {}

impl LiveTest {
    /// Judges a complete test. `level_dbfs` is the level at which the feeds play; the gain is told
    /// against it. Allocates, and takes its time.
    ///
    /// # Errors
    ///
    /// Whatever keeps the test from being judged.
    pub fn conclude(&self, level_dbfs: f64) -> Result<Audit, LiveError> {
        if self.shown.state != LiveState::Complete {
            return Err(LiveError::Incomplete);
        }
        let references = references(&self.schedule);
        let windows = self.capture.windows(self.gains, self.shown.channels);
        if windows[..2].iter().all(|window| power(window) <= SILENCE_POWER) {
            return Err(LiveError::Silence);
        }
        let windows: Vec<_> = windows.into_iter().map(Some).collect();
        let paths = path::fit(&windows, &references, 0.0).ok_or(LiveError::NotTheTest)?;
        let share = 1.0 / (1.0 + paths.unexplained_ratio);
        if share.is_nan() || share < LEAST_FEED_SHARE {
            return Err(LiveError::NotTheTest);
        }
        let path = paths.feeds.iter().flatten().next().ok_or(LiveError::NotTheTest)?;
        let delay_s = path.delay_frames / self.schedule.rate_hz();
        if delay_s.abs() > MOST_DELAY_S {
            return Err(LiveError::OffTransport { delay_s });
        }
        let place = Place { delay_s, gain: path.gain, drift_ppm: 0.0 };
        Ok(self.judgement(place).record(&self.evidence(&paths), level_dbfs))
    }

    fn judgement(&self, place: Place) -> Judgement {
        Judgement {
            recording: RecordingRecord {
                path: None,
                sample_rate_hz: self.shown.rate_hz,
                channels: self.shown.channels,
                duration_s: CLOCK.place(self.shown.position_frames as f64)
                    / self.schedule.rate_hz(),
                floor_dbfs: table::floor(&self.shown.table().floor),
            },
            place,
            reference: self.shown.table().reference(),
            steps: self.shown.steps(),
        }
    }

    fn evidence<'a>(&'a self, paths: &'a Paths) -> Evidence<'a> {
        let references = references(&self.schedule);
        let gains = |channel: usize| {
            let [one, two] = self.capture.channel(channel).map(Some);
            let others = std::iter::repeat_n(None, FITTED_STEPS - 2);
            path::gains(&[one, two].into_iter().chain(others).collect::<Vec<_>>(), &references)
        };
        let is_stereo = self.shown.channels > 1;
        let halves = is_stereo.then(|| Some([gains(0)?, gains(1)?])).flatten();
        Evidence {
            schedule: &self.schedule,
            paths,
            held: (0..STEPS.len()).collect(),
            largest: self.shown.largest,
            halves,
            // A host's transport was followed frame by frame.
            slips: Vec::new(),
            lost: Lost::default(),
            code: 0.0,
            floor: floor::of_shown(&self.shown.table()),
            limits: &Limits::DIGITAL,
        }
    }
}

fn power(samples: &[f32]) -> f64 {
    samples.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>() / samples.len() as f64
}
