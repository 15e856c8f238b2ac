//! Which meter shows these readings?
//!
//! Every detector in either band is a model of a meter. What it shows in each step is known; how a
//! mixer's meter is aligned is not, so one offset is free. A model's misfit is what is left; its
//! probability follows from the misfit and from how finely the readings were taken (normal errors,
//! all models equally likely beforehand).

mod wording;

use serde::{Serialize, Serializer};

use super::expectation::expectations;
use super::measured::{BAND_WORDS, BANDS};
use super::schedule::STEPS;
use crate::detector::Detector;
use crate::words::frequency;

/// Two meters of one kind differ by so much, in dB: ballistics and frequency response within their
/// standards' tolerances.
const MAKE_DB: f64 = 0.1;
/// Models whose weighted square misfit exceeds the best one's by no more than this cannot be told
/// from it: 99 % of χ² with one degree of freedom.
const INSEPARABLE: f64 = 6.63;
/// A best model that misses by more than this and twice the readings' error explains nothing: the
/// tolerance that the standards give a meter's burst readings at their tightest, in dB.
const MOST_MISFIT_DB: f64 = 0.5;
/// Fewest readings that can say anything: one goes into the offset.
pub const LEAST_READINGS: usize = 3;

/// What the mixer's own meter showed in a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShownReading {
    /// The step's number, from 1.
    pub step: usize,
    /// What was shown, in dB on any scale.
    pub shown_db: f64,
}

/// A detector in a band.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Model {
    /// The kind of detector.
    pub detector: Detector,
    /// 0 whole, 1 audible.
    pub band: usize,
}

impl Model {
    /// The model as it is spoken of, as in `needle, audible band`.
    #[must_use]
    pub fn word(self) -> String {
        format!("{}, {}", self.detector.word(), BAND_WORDS[self.band])
    }

    /// The same where width is short.
    #[must_use]
    pub fn short(self) -> String {
        format!("{}, {}", self.detector.word(), BANDS[self.band])
    }

    /// Every model.
    pub fn all() -> impl Iterator<Item = Self> {
        (0..BANDS.len())
            .flat_map(|band| Detector::ALL.into_iter().map(move |detector| Self { detector, band }))
    }
}

impl std::fmt::Display for Model {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&format!("{}/{}", self.detector, BANDS[self.band]))
    }
}

impl Serialize for Model {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// One model's standing.
#[derive(Debug, Clone, Serialize)]
pub struct Candidate {
    /// The kind of detector.
    pub detector: Detector,
    /// `whole` or `audible`.
    pub band: &'static str,
    /// Root mean square of what is left after the offset, in dB.
    pub misfit_db: f64,
    /// Of all models, given the readings.
    pub probability: f64,
    /// What the meter's scale adds, in dB.
    pub offset_db: f64,
    #[serde(skip)]
    model: Model,
    #[serde(skip)]
    square: f64,
}

impl Candidate {
    /// The model.
    #[must_use]
    pub fn model(&self) -> Model {
        self.model
    }
}

/// Which meter it is.
#[derive(Debug, Clone, Serialize)]
pub struct Identification {
    /// Every model, the likeliest first.
    pub models: Vec<Candidate>,
    /// Sets of models that these readings do not tell apart; the likeliest set first.
    pub inseparable: Vec<Vec<Model>>,
    /// The step, not yet read, that would tell them apart best, and by how many dB.
    pub further_step: Option<FurtherStep>,
    /// The answer in words.
    pub sentence: String,
}

/// A step worth reading.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FurtherStep {
    /// Its number.
    pub step: usize,
    /// By how much the models differ there, in dB.
    pub apart_db: f64,
}

/// Why readings cannot be compared with models.
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
    /// Too few readings outside the null.
    TooFew {
        /// How many came.
        readings: usize,
    },
    /// The resolution is no positive number.
    Resolution,
}

impl std::fmt::Display for IdentificationError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Rate { rate_hz } => {
                write!(f, "the sum test does not exist at {}", frequency(f64::from(*rate_hz)))
            }
            Self::Step { step } => {
                write!(f, "there is no step {step}: steps are numbered 1 to {}", STEPS.len())
            }
            Self::Twice { step } => write!(f, "step {step} was given two readings: give it one"),
            Self::Reading { step } => write!(f, "the reading of step {step} is not a number"),
            Self::TooFew { readings } => write!(
                f,
                "{readings} readings are too few: {LEAST_READINGS} outside step 4 are the least, \
                 since one goes into the meter's alignment"
            ),
            Self::Resolution => {
                f.write_str("the readings' resolution has to be a positive number of dB")
            }
        }
    }
}

impl std::error::Error for IdentificationError {}

/// Ranks every model by how well it explains the readings, taken in steps of `resolution_db`.
///
/// # Errors
///
/// Readings that cannot be used, as a sentence. The null (step 4) is taken and left out: what a
/// meter shows there is the mixer's, not its own.
pub fn identify(
    rate_hz: u32,
    readings: &[ShownReading],
    resolution_db: f64,
) -> Result<Identification, IdentificationError> {
    let expectations = expectations(rate_hz).ok_or(IdentificationError::Rate { rate_hz })?;
    if !(resolution_db.is_finite() && resolution_db > 0.0) {
        return Err(IdentificationError::Resolution);
    }
    let readings = checked(readings)?;
    let expected_db = |step: usize, model: Model| {
        expectations.level(step, model.band, model.detector, 0.0).finite().unwrap_or(-200.0)
    };
    // Rounding is uniform over one step; the hand and eye before it are given as much again.
    let error_db = (resolution_db * resolution_db / 6.0 + MAKE_DB * MAKE_DB).sqrt();
    let mut models: Vec<Candidate> = Model::all()
        .map(|model| candidate(model, &readings, error_db, |step| expected_db(step, model)))
        .collect();
    models.sort_by(|x, y| x.square.total_cmp(&y.square));
    let best = models[0].square;
    let weight = |candidate: &Candidate| ((best - candidate.square) / 2.0).exp();
    let total: f64 = models.iter().map(weight).sum();
    for candidate in &mut models {
        candidate.probability = ((best - candidate.square) / 2.0).exp() / total;
    }
    let together: Vec<Model> = models
        .iter()
        .filter(|candidate| candidate.square - best <= INSEPARABLE)
        .map(|candidate| candidate.model)
        .collect();
    let further_step = further_step(&together, &readings, expected_db);
    let explained = models[0].misfit_db <= MOST_MISFIT_DB + 2.0 * error_db;
    let sentence = wording::sentence(&models[0], &together, further_step, explained);
    let inseparable = if together.len() > 1 { vec![together] } else { Vec::new() };
    Ok(Identification { models, inseparable, further_step, sentence })
}

/// Readings by index in [`STEPS`], without the null.
fn checked(readings: &[ShownReading]) -> Result<Vec<(usize, f64)>, IdentificationError> {
    let mut known: Vec<(usize, f64)> = Vec::new();
    for &ShownReading { step, shown_db } in readings {
        let index = step.wrapping_sub(1);
        let Some(definition) = STEPS.get(index) else {
            return Err(IdentificationError::Step { step });
        };
        if readings.iter().filter(|other| other.step == step).count() > 1 {
            return Err(IdentificationError::Twice { step });
        }
        if definition.is_null() {
            continue;
        }
        if !shown_db.is_finite() {
            return Err(IdentificationError::Reading { step });
        }
        known.push((index, shown_db));
    }
    if known.len() < LEAST_READINGS {
        return Err(IdentificationError::TooFew { readings: known.len() });
    }
    Ok(known)
}

fn candidate(
    model: Model,
    readings: &[(usize, f64)],
    error_db: f64,
    expected_db: impl Fn(usize) -> f64,
) -> Candidate {
    let left: Vec<f64> = readings.iter().map(|&(step, shown)| shown - expected_db(step)).collect();
    let offset_db = left.iter().sum::<f64>() / left.len() as f64;
    let sum: f64 = left.iter().map(|left| (left - offset_db).powi(2)).sum();
    Candidate {
        detector: model.detector,
        band: BANDS[model.band],
        misfit_db: (sum / left.len() as f64).sqrt(),
        probability: 0.0,
        offset_db,
        model,
        square: sum / (error_db * error_db),
    }
}

/// The unread step in which the two likeliest of a set lie farthest apart, each with the offset that
/// fits the steps that were read.
fn further_step(
    together: &[Model],
    readings: &[(usize, f64)],
    expected_db: impl Fn(usize, Model) -> f64,
) -> Option<FurtherStep> {
    let [first, second, ..] = together else { return None };
    let apart = |step: usize| expected_db(step, *first) - expected_db(step, *second);
    let offset = readings.iter().map(|&(step, _)| apart(step)).sum::<f64>() / readings.len() as f64;
    (0..STEPS.len())
        .filter(|&step| !STEPS[step].is_null() && readings.iter().all(|known| known.0 != step))
        .map(|step| FurtherStep { step: step + 1, apart_db: (apart(step) - offset).abs() })
        .max_by(|x, y| x.apart_db.total_cmp(&y.apart_db))
}
