//! The sum test: proves how a mixer adds, and tells what kind of meter it shows.
//!
//! Two *feeds* play on two channels of the mixer, both at unity into one bus. The *schedule* says
//! what each feed is at any moment, and is a pure function of time, so feeds, bus and audit need no
//! connection to each other. The *audit* takes a recording of the bus, finds the test in it and
//! compares every detector with what the ideal sum shows. *Identification* takes what the mixer's
//! own meter showed and says which detector shows that.

pub mod audit;
mod fault;
pub mod feed;
mod grade;
pub mod identification;
pub mod pattern;
mod record;
pub mod schedule;

mod added;
mod against;
mod align;
mod answer;
mod channel_mix;
mod correlate;
mod error;
mod expectation;
mod faults;
mod grades;
mod lost;
mod marker;
mod measured;
mod noise;
mod path;
mod side_by_side;
mod statistics;
mod step_names;
mod three_noises;

pub use added::{NullRecord, SumRecord};
pub use against::{ALIKE_DB, Against, NullDifference, SumDifference};
pub use audit::{audit, audit_within};
pub use error::AuditError;
pub use expectation::{Expectations, band_name, expectations};
pub use fault::{Fault, FaultCode};
pub use feed::{Feed, HIGHEST_LEVEL_DBFS, USUAL_LEVEL_DBFS};
pub use grade::{DelayLimit, Grade, GradeCode, Limits, LimitsRecord};
pub use identification::{
    BesideReading, Identification, Played, ShownReading, identify, identify_beside, identify_played,
};
pub use measured::{BAND_WORDS, BANDS};
pub use noise::{gaussian, pink, uniform};
pub use pattern::{NoiseKind, Pair, Pattern};
pub use record::{
    AlignmentRecord, Audit, Measure, Polarity, RecordingRecord, StepRecord, TestRecord, Verdict,
};
pub use schedule::{Form, STEPS, Schedule, Step};
pub use side_by_side::{compare_with_first, names, sum_word};
pub use statistics::{correlation_error, mean_square_error_db, standard_error_db, tolerance_db};
pub use step_names::{STEP_NAMES, STEPS_OF_NOISES, step_name, step_named};
