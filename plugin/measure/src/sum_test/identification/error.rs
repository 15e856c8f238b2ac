//! Why readings cannot be compared with models.

use super::played::Played;
use super::{COARSEST_DB, LEAST_BESIDE, LEAST_READINGS};
use crate::sum_test::schedule::{RATE_RANGE_HZ, STEPS};
use crate::sum_test::step_names::{STEP_NAMES, STEPS_OF_NOISES, step_name};
use crate::words::{counted, list, plain};

/// See the module.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum IdentificationError {
    /// The test does not exist at this sample rate.
    Rate {
        /// The rate that came, in Hz.
        rate_hz: u32,
    },
    /// No such step.
    Step {
        /// The number that came.
        step: usize,
    },
    /// The step is none of those that noises alone can play.
    NotOfNoises {
        /// Its number.
        step: usize,
        /// What was said to have played.
        played: Played,
    },
    /// A step was given twice.
    Twice {
        /// Its number.
        step: usize,
    },
    /// The reading is no number.
    Reading {
        /// Of which step.
        step: usize,
    },
    /// The reading beside an entry is no number.
    Entry {
        /// The entry's number.
        entry: u64,
    },
    /// Too few readings outside the null.
    TooFew {
        /// How many came.
        readings: usize,
    },
    /// Too few entries with a reading.
    TooFewEntries {
        /// How many came.
        readings: usize,
    },
    /// The resolution is no positive number, or too coarse to tell anything.
    Resolution,
    /// The readings are those of a meter that was never cleared.
    Holds,
}

impl std::fmt::Display for IdentificationError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            // In the unit in which rates are typed.
            Self::Rate { rate_hz } => write!(
                f,
                "the sum test does not exist at {rate_hz} Hz: give a rate from {} to {} Hz",
                RATE_RANGE_HZ.0, RATE_RANGE_HZ.1
            ),
            Self::Step { step } => {
                write!(f, "there is no step {step}: steps are numbered 1 to {}", STEPS.len())
            }
            Self::NotOfNoises { step, played } => write!(
                f,
                "{} is a step of the sum test, and {} has only {}: leave it out, or say that the \
                 schedule was played",
                step_name(*step),
                played.word(),
                list(&STEP_NAMES[..STEPS_OF_NOISES])
            ),
            Self::Twice { step } => {
                write!(f, "step {step} ({}) was given two readings: give it one", step_name(*step))
            }
            Self::Reading { step } => {
                write!(
                    f,
                    "the reading of step {step} is not a number of decibels that a meter shows"
                )
            }
            Self::Entry { entry } => {
                write!(
                    f,
                    "the reading of entry {entry} is not a number of decibels that a meter shows"
                )
            }
            Self::TooFew { readings } => write!(
                f,
                "{} too few: {LEAST_READINGS} outside step 4 (inverted) are the least, since one \
                 goes into the meter's alignment",
                counted(*readings as u64, "reading is", "readings are")
            ),
            Self::TooFewEntries { readings } => write!(
                f,
                "{} too few: {LEAST_BESIDE} are the least, since one goes into the meter's \
                 alignment",
                counted(*readings as u64, "entry that sounds is", "entries that sound are")
            ),
            Self::Resolution => write!(
                f,
                "the readings' resolution has to be above 0 dB and at most {} dB",
                plain(COARSEST_DB)
            ),
            Self::Holds => f.write_str(
                "no reading is below the one before it, and only a meter that holds its highest \
                 shows these: clear the meter before each step, and read again",
            ),
        }
    }
}

impl std::error::Error for IdentificationError {}
