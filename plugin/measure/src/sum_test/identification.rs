//! Which meter shows these readings?
//!
//! Every detector in either band is a model of a meter. What it shows of what was played is known:
//! of the sum test step by step, of noises within their scatter, of entries as they were measured
//! beside it. How a mixer's meter is aligned is not, so one offset is free. The answer is the set of
//! models that the readings do not exclude, never one that happens to come first.

mod error;
mod played;
mod ranking;
mod summing;
mod wording;

use serde::{Serialize, Serializer};

use super::measured::BANDS;
use super::pattern::NoiseKind;
use super::schedule::STEPS;
use super::three_noises::Shows;
use crate::detector::{Detector, MeterKind, Shown};
use crate::level::Level;
use played::{hypotheses, scheduled_db};
use ranking::{Hypothesis, Ranking, Standing};
use wording::Advice;

pub use error::IdentificationError;
pub use played::Played;
pub use summing::{SumCheck, Summing};

/// Fewest readings that can say anything: one goes into the offset.
pub const LEAST_READINGS: usize = 3;
/// Fewest readings beside entries, whose levels are known exactly.
pub const LEAST_BESIDE: usize = 2;
/// The coarsest resolution of readings, in dB: read less finely, every meter and every sum would do.
const COARSEST_DB: f64 = 6.0;
/// No scale goes farther than this either way, in dB.
const FARTHEST_DB: f64 = 200.0;

/// What the mixer's own meter showed in a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShownReading {
    /// The step's number, from 1.
    pub step: usize,
    /// What was shown, in dB on any scale.
    pub shown_db: f64,
}

/// What the mixer's own meter showed while an entry was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BesideReading {
    /// The entry's number.
    pub entry: u64,
    /// What every kind of meter shows of it: whole band, audible band.
    pub levels: [Shown; BANDS.len()],
    /// What was shown, in dB on any scale.
    pub shown_db: f64,
}

/// One model's standing.
#[derive(Debug, Clone, Serialize)]
pub struct Candidate {
    /// The kind of detector.
    pub detector: Detector,
    /// `whole` or `audible`.
    pub band: &'static str,
    /// The kind of noise with which it explains the readings best, where that is a question.
    #[serde(serialize_with = "noise_key")]
    pub noise: Option<NoiseKind>,
    /// Root mean square of what is left after the offset, in dB.
    pub misfit_db: f64,
    /// Of all models, given the readings.
    pub probability: f64,
    /// What the meter's scale adds, in dB.
    pub offset_db: f64,
    #[serde(skip)]
    model: MeterKind,
}

impl Candidate {
    /// The model.
    #[must_use]
    pub fn model(&self) -> MeterKind {
        self.model
    }
}

/// Which meter it is.
#[derive(Debug, Clone, Serialize)]
pub struct Identification {
    /// Every model, the likeliest first.
    pub models: Vec<Candidate>,
    /// The models that the readings do not exclude, the likeliest first; none where no model comes
    /// near them.
    pub possible: Vec<MeterKind>,
    /// Sets of models that these readings do not tell apart; the likeliest set first.
    pub inseparable: Vec<Vec<MeterKind>>,
    /// The step of the sum test, not yet read, that would tell them apart best, and by how many dB.
    pub further_step: Option<FurtherStep>,
    /// What the readings say of the sum; none beside entries.
    pub summing: Option<Summing>,
    /// What was taken for granted, in words; nothing beside entries.
    pub assumed: String,
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

/// How finely readings were taken where nobody says it, in dB: 1 for whole numbers, else 0.1.
#[must_use]
pub fn usual_resolution_db(shown_db: impl IntoIterator<Item = f64>) -> f64 {
    let whole = |db: f64| !db.is_finite() || db.fract() == 0.0;
    if shown_db.into_iter().all(whole) { 1.0 } else { 0.1 }
}

/// Ranks every model by how well it explains readings of the sum test, taken in steps of
/// `resolution_db`.
///
/// # Errors
///
/// Readings that cannot be used, as a sentence. The null (step 4) tells of the sum and not of the
/// meter.
pub fn identify(
    rate_hz: u32,
    readings: &[ShownReading],
    resolution_db: f64,
) -> Result<Identification, IdentificationError> {
    identify_played(rate_hz, Played::Schedule, readings, resolution_db)
}

/// The same of whatever was played. Readings of noises are in the order in which they were taken.
///
/// # Errors
///
/// Readings that cannot be used, as a sentence.
pub fn identify_played(
    rate_hz: u32,
    played: Played,
    readings: &[ShownReading],
    resolution_db: f64,
) -> Result<Identification, IdentificationError> {
    let mut known = checked(readings, played)?;
    if !is_resolution(resolution_db) {
        return Err(IdentificationError::Resolution);
    }
    if played == Played::Schedule {
        known.sort_by_key(|reading| reading.0);
    }
    let of_meter: Vec<(usize, f64)> =
        known.iter().copied().filter(|reading| !STEPS[reading.0].is_null()).collect();
    if of_meter.len() < LEAST_READINGS {
        return Err(IdentificationError::TooFew { readings: of_meter.len() });
    }
    let (steps, shown_db): (Vec<usize>, Vec<f64>) = of_meter.into_iter().unzip();
    let rate_error = IdentificationError::Rate { rate_hz };
    let hypotheses = hypotheses(rate_hz, played, &steps).ok_or(rate_error)?;
    let ranking = Ranking::new(&hypotheses, &shown_db, resolution_db);
    let held: Vec<Hypothesis> = hypotheses.iter().map(Hypothesis::held).collect();
    let held = Ranking::new(&held, &shown_db, resolution_db);
    let never_falls = shown_db.windows(2).all(|pair| pair[1] >= pair[0]) && held.fits;
    if never_falls && !ranking.explained {
        return Err(IdentificationError::Holds);
    }
    let possible = ranking.possible();
    let further_step =
        further_step(&possible, &steps, |step, model| scheduled_db(rate_hz, step, model));
    let advice = match (played, further_step) {
        (Played::Schedule, Some(further)) => Advice::Step(further),
        (_, Some(further)) => Advice::OfSumTest(further),
        (_, None) => Advice::Finer,
    };
    let mut found = Identification::new(&ranking, possible, advice);
    if ranking.explained {
        found.sentence += &wording::noises(played, &ranking.standings);
        let of_held = held.possible();
        if never_falls && of_held.iter().any(|model| !found.possible.contains(model)) {
            found.sentence += wording::MAY_HOLD;
        }
    }
    found.further_step = further_step;
    found.summing = Some(summing::judge(&known, &steps, &hypotheses, resolution_db));
    found.assumed = played.assumed(rate_hz);
    Ok(found)
}

/// Ranks every model by how well it explains what the mixer's own meter showed of entries: their
/// levels are known, whatever played. An entry that is silent to some kind of meter is left out.
///
/// # Errors
///
/// Readings that cannot be used, as a sentence.
pub fn identify_beside(
    readings: &[BesideReading],
    resolution_db: f64,
) -> Result<Identification, IdentificationError> {
    if !is_resolution(resolution_db) {
        return Err(IdentificationError::Resolution);
    }
    let sounds = |reading: &&BesideReading| {
        reading.levels.as_flattened().iter().all(|level| level.finite().is_some())
    };
    let readings: Vec<&BesideReading> = readings.iter().filter(sounds).collect();
    if readings.len() < LEAST_BESIDE {
        return Err(IdentificationError::TooFewEntries { readings: readings.len() });
    }
    if let Some(bad) = readings.iter().find(|reading| !is_shown(reading.shown_db)) {
        return Err(IdentificationError::Entry { entry: bad.entry });
    }
    let shown_db: Vec<f64> = readings.iter().map(|reading| reading.shown_db).collect();
    let level = |reading: &&BesideReading, model: MeterKind| {
        reading.levels[model.band_index()][model.detector as usize].finite()
    };
    let hypotheses: Vec<Hypothesis> = MeterKind::all()
        .map(|model| {
            let shows = readings.iter().filter_map(|reading| level(reading, model));
            Hypothesis { model, noise: None, shows: shows.map(Shows::certain).collect() }
        })
        .collect();
    let ranking = Ranking::new(&hypotheses, &shown_db, resolution_db);
    let possible = ranking.possible();
    Ok(Identification::new(&ranking, possible, Advice::Entries))
}

impl Identification {
    fn new(ranking: &Ranking, possible: Vec<MeterKind>, advice: Advice) -> Self {
        let mut models: Vec<Candidate> = Vec::new();
        for standing in &ranking.standings {
            match models.iter_mut().find(|known| known.model == standing.model) {
                // The same model with another noise.
                Some(known) => known.probability += standing.probability,
                None => models.push(candidate(standing)),
            }
        }
        models.sort_by(|x, y| y.probability.total_cmp(&x.probability));
        let possible = if ranking.explained { possible } else { Vec::new() };
        let sentence = wording::sentence(&models[0], &possible, advice);
        let inseparable = if possible.len() > 1 { vec![possible.clone()] } else { Vec::new() };
        Self {
            models,
            possible,
            inseparable,
            further_step: None,
            summing: None,
            assumed: String::new(),
            sentence,
        }
    }
}

/// `uniform`, `gaussian`, `pink`, or nothing.
fn noise_key<S: Serializer>(noise: &Option<NoiseKind>, serializer: S) -> Result<S::Ok, S::Error> {
    noise.map(|kind| kind.word().to_lowercase()).serialize(serializer)
}

fn is_resolution(resolution_db: f64) -> bool {
    resolution_db > 0.0 && resolution_db <= COARSEST_DB
}

fn is_shown(shown_db: f64) -> bool {
    shown_db.abs() <= FARTHEST_DB
}

/// Readings by index in [`STEPS`].
fn checked(
    readings: &[ShownReading],
    played: Played,
) -> Result<Vec<(usize, f64)>, IdentificationError> {
    let mut known: Vec<(usize, f64)> = Vec::new();
    for &ShownReading { step, shown_db } in readings {
        let index = step.wrapping_sub(1);
        let Some(definition) = STEPS.get(index) else {
            return Err(IdentificationError::Step { step });
        };
        if !played.has(step) {
            return Err(IdentificationError::NotOfNoises { step, played });
        }
        if readings.iter().filter(|other| other.step == step).count() > 1 {
            return Err(IdentificationError::Twice { step });
        }
        // A null may show nothing at all.
        let silent = definition.is_null() && Level::from_db(shown_db) == Level::SILENCE;
        if !is_shown(shown_db) && !silent {
            return Err(IdentificationError::Reading { step });
        }
        known.push((index, shown_db));
    }
    Ok(known)
}

fn candidate(standing: &Standing) -> Candidate {
    Candidate {
        detector: standing.model.detector,
        band: BANDS[standing.model.band_index()],
        noise: standing.noise,
        misfit_db: standing.misfit_db,
        probability: standing.probability,
        offset_db: standing.offset_db,
        model: standing.model,
    }
}

/// The unread step of the sum test in which the two likeliest of a set lie farthest apart, each with
/// the offset that fits the steps that were read.
fn further_step(
    together: &[MeterKind],
    read: &[usize],
    scheduled_db: impl Fn(usize, MeterKind) -> Option<f64>,
) -> Option<FurtherStep> {
    let [first, second, ..] = together else { return None };
    let apart = |step: usize| Some(scheduled_db(step, *first)? - scheduled_db(step, *second)?);
    let offset = read.iter().filter_map(|step| apart(*step)).sum::<f64>() / read.len() as f64;
    (0..STEPS.len())
        .filter(|step| !STEPS[*step].is_null() && !read.contains(step))
        .filter_map(|step| {
            Some(FurtherStep { step: step + 1, apart_db: (apart(step)? - offset).abs() })
        })
        .max_by(|x, y| x.apart_db.total_cmp(&y.apart_db))
}
