//! What every detector shows of noises that somebody plays without the schedule: one alone, the same
//! on both channels, two independent ones, one with a late copy of itself.
//!
//! Which stretch of the noise is read, and for how long its peaks are held, is not known. So the
//! detectors run over many short stretches: an average has the mean of what they show, and their
//! scatter; a peak lies anywhere between what a short stretch and what all of them together show.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex};

use super::measured::{BANDS, StretchShown, measure};
use super::pattern::NoiseKind;
use super::schedule::{DELAY_S, Schedule};
use crate::detector::Detector;

/// The shortest time for which a peak is taken to be held, in seconds: the length of a stretch.
pub const SHORTEST_HOLD_S: f64 = 2.0;
/// The longest.
pub const LONGEST_HOLD_S: f64 = 20.0;

/// How many times the longest hold is played, so that scatter is known well enough.
const RUNS: usize = 2;
/// How much longer the upper tail of Gumbel's law, which the largest of many values follows, is than
/// a normal distribution's: 99.5 % of it lie below 3.37 of its deviations, instead of 2.58.
const LONG_TAIL: f64 = 1.31;
/// How much wider Student's law with the 19 degrees of freedom of the stretches is than a normal
/// distribution, there: their scatter is an estimate.
const FEW_STRETCHES: f64 = 1.11;
/// Seeds of the two noises; neither is one that is played anywhere.
const SEEDS: [u64; 2] = [0x0A11_0001, 0x0A11_0002];

/// What a meter shows of a noise of which only the kind is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shows {
    /// In the middle, in dB.
    pub level_db: f64,
    /// Standard deviation around it, in dB.
    pub scatter_db: f64,
}

impl Shows {
    /// What is known for certain.
    pub(super) fn certain(level_db: f64) -> Self {
        Self { level_db, scatter_db: 0.0 }
    }
}

/// By band and detector.
type Signal = [[Shows; Detector::ALL.len()]; BANDS.len()];

/// What is played at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Sum {
    Alone,
    Independent,
    Delayed,
}

/// What a kind of noise shows in the step of this index, one of those of noises; nothing in the null,
/// and none at rates at which the test cannot play.
pub(super) fn shown_of_noise(
    rate_hz: u32,
    kind: NoiseKind,
    step: usize,
    (band, detector): (usize, Detector),
) -> Option<Shows> {
    let of = |sum: Sum| Some(known(rate_hz, kind, sum)?[band][detector as usize]);
    match step {
        0 | 1 => of(Sum::Alone),
        // Twice every sample.
        2 => of(Sum::Alone)
            .map(|alone| Shows { level_db: alone.level_db + 20.0 * 2f64.log10(), ..alone }),
        4 | 5 => of(Sum::Independent),
        6 => of(Sum::Delayed),
        _ => None,
    }
}

/// What is shown of a sum, worked out once and kept.
fn known(rate_hz: u32, kind: NoiseKind, sum: Sum) -> Option<Arc<Signal>> {
    type Known = HashMap<(u32, NoiseKind, Sum), Arc<Signal>>;
    static KNOWN: LazyLock<Mutex<Known>> = LazyLock::new(Mutex::default);
    let rate = Schedule::new(rate_hz)?.rate_hz();
    // A panic elsewhere cannot leave a half-made entry, so a poisoned lock is still good.
    let mut known = KNOWN.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let made = known.entry((rate_hz, kind, sum));
    Some(Arc::clone(made.or_insert_with(|| Arc::new(work_out(rate, kind, sum)))))
}

fn work_out(rate_hz: f64, kind: NoiseKind, sum: Sum) -> Signal {
    let late = (DELAY_S * rate_hz).round() as u64;
    let frames = (RUNS as f64 * LONGEST_HOLD_S * rate_hz) as u64;
    // Two of them stay below full scale.
    let value = |seed: usize, index: u64| 0.25 * kind.sample(SEEDS[seed], index);
    let sample = |index: u64| match sum {
        Sum::Alone => value(0, index),
        Sum::Independent => value(0, index) + value(1, index),
        Sum::Delayed => value(0, index) + value(0, index - late),
    };
    let signal: Vec<f32> = (late..late + frames).map(|index| sample(index) as f32).collect();
    shown(&signal, rate_hz)
}

/// What is shown of a signal, stretch by stretch.
fn shown(signal: &[f32], rate_hz: f64) -> Signal {
    let length = (SHORTEST_HOLD_S * rate_hz) as usize;
    let starts = (0..signal.len() / length).map(|index| index * length);
    let stretches: Vec<_> = starts.map(|start| start..start + length).collect();
    let shown = measure(signal, rate_hz, &stretches);
    [0, 1].map(|band| Detector::ALL.map(|detector| summed_up(&shown, band, detector)))
}

fn summed_up(stretches: &[StretchShown], band: usize, detector: Detector) -> Shows {
    let of = |shown: &StretchShown| {
        let levels = if detector.is_peak() { shown.highest } else { shown.settled };
        levels[band][detector as usize].finite()
    };
    let levels: Vec<f64> = stretches.iter().filter_map(of).collect();
    let count = levels.len().max(1) as f64;
    let mean_db = levels.iter().sum::<f64>() / count;
    let squares: f64 = levels.iter().map(|db| (db - mean_db).powi(2)).sum();
    let variance = FEW_STRETCHES * FEW_STRETCHES * squares / (count - 1.0).max(1.0);
    if !detector.is_peak() {
        return Shows { level_db: mean_db, scatter_db: variance.sqrt() };
    }
    let runs = levels.chunks(levels.len().div_ceil(RUNS).max(1));
    let held_db = runs.map(|run| run.iter().copied().fold(mean_db, f64::max)).sum::<f64>();
    let held_db = held_db / RUNS as f64;
    // Any length of time between the two is as likely as another: a uniform distribution.
    let half_db = (held_db - mean_db) / 2.0;
    Shows {
        level_db: mean_db + half_db,
        scatter_db: (half_db * half_db / 3.0 + LONG_TAIL * LONG_TAIL * variance).sqrt(),
    }
}
