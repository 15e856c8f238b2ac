//! Where samples come in: pairs the channels up, sets aside what is no audio, and gathers steps.

use std::ops::Range;

use crate::band::STEP_FRAMES;
use crate::book::PairStep;
use crate::settings::{Halves, SettingsError};

/// Largest magnitude taken for a sample: +120 dBFS. Nothing that mixes or converts makes more, and
/// squares stay far inside single precision.
const LARGEST_SAMPLE: f32 = 1e6;

pub(super) struct Inlet {
    halves: Halves,
    steps: Vec<PairStep>,
    filled: usize,
    invalid_frames: u64,
}

impl Inlet {
    /// Main and side-chain have two channels each at most.
    pub(super) const MOST_PAIRS: usize = 2;

    pub(super) fn new(
        main: usize,
        side_chain: usize,
        halves: Halves,
    ) -> Result<Self, SettingsError> {
        let unfit = SettingsError::Channels { main, side_chain };
        let pairs = match (halves, main, side_chain) {
            (_, 0 | 3.., _) | (_, _, 3..) | (Halves::LeftRight, 1, _) => return Err(unfit),
            (Halves::LeftRight, ..) | (Halves::Mono, 1, _) => 1,
            (Halves::Mono, ..) => return Err(unfit),
            (Halves::MainSidechain, ..) => main.max(side_chain),
        };
        let steps = vec![PairStep::SILENCE; pairs];
        Ok(Self { halves, steps, filled: 0, invalid_frames: 0 })
    }

    pub(super) fn pairs(&self) -> usize {
        self.steps.len()
    }

    pub(super) fn invalid_frames(&self) -> u64 {
        self.invalid_frames
    }

    pub(super) fn is_full(&self) -> bool {
        self.filled == STEP_FRAMES
    }

    pub(super) fn reset(&mut self) {
        self.clear();
        self.invalid_frames = 0;
    }

    /// Forgets frames that wait for their step.
    pub(super) fn clear(&mut self) {
        self.filled = 0;
        self.steps.fill(PairStep::SILENCE);
    }

    /// Takes frames of a block until the step is full and says how many.
    pub(super) fn take(
        &mut self,
        main: &[&[f32]],
        side_chain: &[&[f32]],
        frames: Range<usize>,
    ) -> usize {
        let count = frames.len().min(STEP_FRAMES - self.filled);
        let from = frames.start..frames.start + count;
        let to = self.filled..self.filled + count;
        let mut all_valid = true;
        for (pair, step) in self.steps.iter_mut().enumerate() {
            let (a, b) = match self.halves {
                Halves::LeftRight => (main.first(), main.get(1)),
                Halves::Mono => (main.first(), None),
                // One channel against two stands beside both.
                Halves::MainSidechain => {
                    (main.get(pair).or(main.last()), side_chain.get(pair).or(side_chain.last()))
                }
            };
            all_valid &= copy_valid(a, from.clone(), &mut step.a[to.clone()]);
            all_valid &= copy_valid(b, from.clone(), &mut step.b[to.clone()]);
        }
        if !all_valid {
            self.invalid_frames += self.silence_invalid(to);
        }
        self.filled += count;
        count
    }

    /// Silences each sample that is no level and says how many frames held one.
    fn silence_invalid(&mut self, range: Range<usize>) -> u64 {
        let mut frames = 0;
        for index in range {
            let mut found = false;
            for step in &mut self.steps {
                for sample in [&mut step.a[index], &mut step.b[index]] {
                    if !is_level(*sample) {
                        *sample = 0.0;
                        found = true;
                    }
                }
            }
            frames += u64::from(found);
        }
        frames
    }

    /// Fills the step up with silence and says how many frames had been waiting.
    pub(super) fn fill_with_silence(&mut self) -> usize {
        let waiting = self.filled;
        for step in &mut self.steps {
            step.a[waiting..].fill(0.0);
            step.b[waiting..].fill(0.0);
        }
        self.filled = STEP_FRAMES;
        waiting
    }

    /// The full step, and a fresh one begins.
    pub(super) fn take_step(&mut self) -> &[PairStep] {
        self.filled = 0;
        &self.steps
    }
}

/// Copies a stretch of a channel (silence where there is none) and says whether all are levels.
fn copy_valid(channel: Option<&&[f32]>, from: Range<usize>, to: &mut [f32]) -> bool {
    let Some(samples) = channel.and_then(|channel| channel.get(from)) else {
        to.fill(0.0);
        return true;
    };
    to.copy_from_slice(samples);
    samples.iter().fold(true, |valid, &sample| valid & is_level(sample))
}

fn is_level(sample: f32) -> bool {
    // False for NaN too.
    sample.abs() <= LARGEST_SAMPLE
}
