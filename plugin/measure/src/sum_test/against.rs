//! By how much each sum of one mixer comes out other than another's, as a record.
//!
//! Two recordings are two experiments: their errors have nothing to do with each other, and add as
//! squares. What noise that follows the sound may do adds as it is.

use serde::Serialize;

use super::added::{NullRecord, SumRecord};

/// Sums that differ by no more than this, in dB, uncertainty included, are alike: what the channels of
/// a mixer that computes may differ by.
pub const ALIKE_DB: f64 = 0.05;
/// Two-sided 95 % of a normal distribution.
const COVERAGE: f64 = 1.96;
/// Standard errors that make a difference certain: with five sums, a false one in two hundred pairs.
const CERTAIN: f64 = 3.3;

/// How a mixer compares with the one that others are held against.
#[derive(Debug, Clone, Serialize)]
pub struct Against {
    /// Names this shape of record.
    pub schema: &'static str,
    /// The recording that it is held against.
    pub reference: Option<String>,
    /// Whether all sums are alike within the limit; `None` where that cannot be told.
    pub alike: Option<bool>,
    /// The largest difference with its uncertainty, in dB; `None` where nothing could be compared.
    pub within_db: Option<f64>,
    /// Up to which difference sums are alike, in dB.
    pub limit_db: f64,
    /// The sums that both recordings tell, in the order of the steps.
    pub sums: Vec<SumDifference>,
    /// The nulls, where both recordings tell how deep they are.
    pub null: Option<NullDifference>,
    /// The answer in words.
    pub sentence: String,
}

/// One sum of one mixer against the other's.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct SumDifference {
    /// The number of its step.
    pub step: usize,
    /// The other's gain less the reference's, in dB.
    pub difference_db: f64,
    /// Its standard error, in dB.
    pub standard_error_db: f64,
    /// How far it may be off, in dB: with 95 % certainty, and what follows the sound added.
    pub uncertainty_db: f64,
    /// Whether it is a difference beyond doubt: more than 3.3 standard errors, and what follows the
    /// sound.
    pub certain: bool,
}

impl SumDifference {
    pub(super) fn of(reference: &SumRecord, other: &SumRecord) -> Self {
        let difference_db = other.gain_db - reference.gain_db;
        let standard_error_db = reference.standard_error_db.hypot(other.standard_error_db);
        let following_db = reference.following_error_db + other.following_error_db;
        Self {
            step: other.step,
            difference_db,
            standard_error_db,
            uncertainty_db: COVERAGE * standard_error_db + following_db,
            certain: difference_db.abs() > CERTAIN * standard_error_db + following_db,
        }
    }

    /// Whether it is certain and may be more than sums that are alike differ by.
    #[must_use]
    pub fn is_told(&self) -> bool {
        self.certain && self.most_db() > ALIKE_DB
    }

    /// The largest difference that is likely.
    pub(super) fn most_db(&self) -> f64 {
        self.difference_db.abs() + self.uncertainty_db
    }
}

/// One null's depth against the other's.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct NullDifference {
    /// The other's depth less the reference's, in dB: positive where it cancels less.
    pub difference_db: f64,
    /// How far that may be off, in dB, because of the recordings' noise.
    pub uncertainty_db: f64,
}

impl NullDifference {
    pub(super) fn of(reference: &NullRecord, other: &NullRecord) -> Option<Self> {
        let difference_db = other.depth_db.minus(reference.depth_db).finite()?;
        let is_told = !reference.may_be_deeper() && !other.may_be_deeper();
        let uncertainty_db = reference.error_db() + other.error_db();
        is_told.then_some(Self { difference_db, uncertainty_db })
    }
}
