//! What every detector shows of noises that somebody plays without the schedule: one alone, the same
//! on both channels, two independent ones, one with a late copy of itself.
//!
//! Which stretch of the noise is read, and for how long its peaks are held, is not known. So the
//! detectors run over many short stretches: an average has the mean of what they show, and their
//! scatter; a peak lies anywhere between what a short stretch and what all of them together show.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex};

use serde::Serialize;

use super::measured::{BANDS, StretchShown, measure};
use super::noise::{gaussian, pink, uniform};
use super::schedule::{DELAY_S, Schedule};
use crate::detector::Detector;

/// The shortest time for which a peak is taken to be held, in seconds: the length of a stretch.
pub const SHORTEST_HOLD_S: f64 = 2.0;
/// The longest.
pub const LONGEST_HOLD_S: f64 = 20.0;

/// RMS of the Gaussian noises below full scale.
const GAUSSIAN_SHARE: f64 = 0.125;
/// Where a player of the loop cuts Gaussian noise off, in multiples of its RMS.
const CUT_OFF: f64 = 4.0;
/// Seeds of the two noises; neither is one of the sum test's.
const SEEDS: [u64; 2] = [0x0A11_0001, 0x0A11_0002];

/// The kinds of noise that people test with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NoiseKind {
    /// White, every value equally likely.
    Uniform,
    /// White, of normal distribution.
    Gaussian,
    /// 3 dB less an octave.
    Pink,
}

impl NoiseKind {
    /// Every kind.
    pub const ALL: [Self; 3] = [Self::Uniform, Self::Gaussian, Self::Pink];

    /// The kind as it is spoken of.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Uniform => "uniform",
            Self::Gaussian => "Gaussian",
            Self::Pink => "pink",
        }
    }

    /// A value of the noise of a seed.
    fn value(self, bounded: bool, seed: u64, index: u64) -> f64 {
        match self {
            Self::Uniform => uniform(seed, index),
            Self::Gaussian => {
                let most = if bounded { CUT_OFF } else { f64::INFINITY };
                GAUSSIAN_SHARE * gaussian(seed, index).clamp(-most, most)
            }
            Self::Pink => pink(seed, index),
        }
    }
}

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

/// Of one signal: by band and detector.
type Signal = [[Shows; Detector::ALL.len()]; BANDS.len()];

/// What every detector shows of one kind of noise.
#[derive(Debug)]
pub(super) struct ThreeNoises {
    alone: Signal,
    independent: Signal,
    delayed: Signal,
}

impl ThreeNoises {
    /// What a detector shows in the step of this index, one of those of noises; none in the null.
    pub(super) fn shows(&self, step: usize, band: usize, detector: Detector) -> Option<Shows> {
        let of = |signal: &Signal| signal[band][detector as usize];
        match step {
            0 | 1 => Some(of(&self.alone)),
            // Twice every sample.
            2 => {
                let alone = of(&self.alone);
                Some(Shows { level_db: alone.level_db + 20.0 * 2f64.log10(), ..alone })
            }
            4 | 5 => Some(of(&self.independent)),
            6 => Some(of(&self.delayed)),
            _ => None,
        }
    }
}

/// What is shown of a kind of noise, worked out once and kept; `None` at rates at which the test
/// cannot play. `bounded`: as the loop plays it, without the rarest values.
pub(super) fn three_noises(
    rate_hz: u32,
    kind: NoiseKind,
    bounded: bool,
) -> Option<Arc<ThreeNoises>> {
    type Key = (u32, NoiseKind, bool);
    static KNOWN: LazyLock<Mutex<HashMap<Key, Arc<ThreeNoises>>>> = LazyLock::new(Mutex::default);
    let rate = Schedule::new(rate_hz)?.rate_hz();
    // Only Gaussian noise has values to cut off.
    let key = (rate_hz, kind, bounded && kind == NoiseKind::Gaussian);
    // A panic elsewhere cannot leave a half-made entry, so a poisoned lock is still good.
    let known = || KNOWN.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    if let Some(found) = known().get(&key) {
        return Some(Arc::clone(found));
    }
    // Not under the lock: several kinds are worked out at once.
    let made = Arc::new(work_out(rate, kind, bounded));
    Some(Arc::clone(known().entry(key).or_insert(made)))
}

fn work_out(rate_hz: f64, kind: NoiseKind, bounded: bool) -> ThreeNoises {
    let late = (DELAY_S * rate_hz).round() as u64;
    let value = |seed: usize, index: u64| 0.25 * kind.value(bounded, SEEDS[seed], index);
    let play = |sample: &dyn Fn(u64) -> f64| {
        let frames = (LONGEST_HOLD_S * rate_hz) as u64;
        let signal: Vec<f32> = (late..late + frames).map(|index| sample(index) as f32).collect();
        shown(&signal, rate_hz)
    };
    ThreeNoises {
        alone: play(&|index| value(0, index)),
        independent: play(&|index| value(0, index) + value(1, index)),
        delayed: play(&|index| value(0, index) + value(0, index - late)),
    }
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
    let variance = levels.iter().map(|db| (db - mean_db).powi(2)).sum::<f64>() / count;
    if !detector.is_peak() {
        return Shows { level_db: mean_db, scatter_db: variance.sqrt() };
    }
    let held_db = levels.iter().copied().fold(mean_db, f64::max);
    // Any length of time between the two is as likely as another: a uniform distribution.
    let half_db = (held_db - mean_db) / 2.0;
    Shows {
        level_db: mean_db + half_db,
        scatter_db: (half_db * half_db / 3.0 + variance).sqrt(),
    }
}
