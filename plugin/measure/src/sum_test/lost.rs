//! What a recording lost: stretches in which it is silent though the test sounds, and values that are
//! no samples.

use super::align::Alignment;
use super::schedule::{FADE_S, STEPS};
use crate::sample::is_sample;
use crate::words::{counted, fixed, moment};

/// A shorter stretch may be silent by chance, in a path that passes low sounds only; in seconds.
const LEAST_HOLE_S: f64 = 0.002;
/// A hole holds less than this, over the step's RMS: −40 dB.
const SILENT: f64 = 0.01;
/// What is larger than this, over the step's RMS, is the step's sound and not the recording's noise.
const SOUNDS: f64 = 0.3;
/// A step of which more than this share is silent was not lost: it did not come through.
const MOST_SILENT: f64 = 0.75;

/// A stretch of a step in which the recording is silent, with the step's sound before and behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Hole {
    /// The step's index in [`STEPS`].
    pub step: usize,
    /// Where it begins in the recording, in seconds.
    pub at_s: f64,
    /// In seconds.
    pub length_s: f64,
}

/// Values that are no samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct NoSamples {
    pub count: u64,
    /// Where the first is in the recording, in seconds.
    pub first_s: f64,
}

/// See the module.
#[derive(Debug, Clone, Default)]
pub(super) struct Lost {
    pub holes: Vec<Hole>,
    pub no_samples: Option<NoSamples>,
}

impl Lost {
    /// Whether a step (index in [`STEPS`]) has a hole.
    pub fn is_in(&self, step: usize) -> bool {
        self.holes.iter().any(|hole| hole.step == step)
    }

    /// What was lost, a sentence each.
    pub fn sentences(&self) -> Vec<String> {
        let of_values = self.no_samples.map(|no_samples| {
            format!(
                "{} of the recording {} no sample (the first at {}), and {} taken for silence.",
                counted(no_samples.count, "value", "values"),
                if no_samples.count == 1 { "is" } else { "are" },
                moment(no_samples.first_s, 3),
                if no_samples.count == 1 { "is" } else { "are" },
            )
        });
        let of_holes = self.holes.iter().map(|hole| {
            let step = STEPS[hole.step].number;
            format!(
                "The recording is silent for {} ms at {}, while step {step} plays: step {step} is \
                 left out.",
                fixed(1e3 * hole.length_s, 1),
                moment(hole.at_s, 3),
            )
        });
        of_values.into_iter().chain(of_holes).collect()
    }
}

/// Values that are no samples in a recording of these channels; `None` where there are none.
pub(super) fn no_samples(channels: &[&[f32]], rate_hz: f64) -> Option<NoSamples> {
    let (mut count, mut first) = (0, usize::MAX);
    for channel in channels {
        let bad = channel.iter().enumerate().filter(|(_, value)| !is_sample(**value));
        for (frame, _) in bad {
            count += 1;
            first = first.min(frame);
        }
    }
    (count > 0).then(|| NoSamples { count, first_s: first as f64 / rate_hz })
}

/// The holes in the steps that sound all the time.
pub(super) fn holes(signal: &[f32], alignment: &Alignment) -> Vec<Hole> {
    let Alignment { schedule, clock, .. } = alignment;
    let (rate_hz, fade) = (schedule.rate_hz(), FADE_S * schedule.rate_hz());
    let mut found = Vec::new();
    for (step, start) in schedule.step_starts() {
        let (first, last) = (start as f64 + fade, (start + schedule.step_frames()) as f64 - fade);
        let [first, last] = [first, last].map(|at| clock.place(at).max(0.0) as usize);
        let sound = &signal[first.min(signal.len())..last.min(signal.len())];
        if STEPS[step].is_bursts() || STEPS[step].is_null() {
            continue;
        }
        found.extend(silent(sound, LEAST_HOLE_S * rate_hz).into_iter().map(|[from, to]| Hole {
            step,
            at_s: (first + from) as f64 / rate_hz,
            length_s: (to - from) as f64 / rate_hz,
        }));
    }
    found
}

/// The stretches of a sound that are silent for so many frames, with sound before and behind them.
fn silent(sound: &[f32], least_frames: f64) -> Vec<[usize; 2]> {
    let power = sound.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>() / sound.len() as f64;
    let [silent, loud] = [SILENT, SOUNDS].map(|share| (share * power.sqrt()) as f32);
    let is_silent = |x: &f32| x.abs() <= silent;
    let count = sound.iter().filter(|x| is_silent(x)).count();
    if count as f64 > MOST_SILENT * sound.len() as f64 {
        return Vec::new();
    }
    let (mut found, mut waiting) = (Vec::new(), Vec::new());
    let (mut sounded, mut begun) = (false, None);
    for (frame, x) in sound.iter().enumerate() {
        if is_silent(x) {
            begun = begun.or(Some(frame));
            continue;
        }
        if let Some(from) = begun.take()
            && sounded
            && (frame - from) as f64 >= least_frames
        {
            waiting.push([from, frame]);
        }
        if x.abs() >= loud {
            sounded = true;
            found.append(&mut waiting);
        }
    }
    found
}
