//! The windows of the first steps through which the mixer's paths are fitted, kept as they pass.

use super::mix;
use crate::sum_test::path::{FITTED_STEPS, References};
use crate::sum_test::schedule::Schedule;

/// Steps whose channels are kept apart: those in which one feed plays alone.
const APART_STEPS: usize = 2;

/// What was heard in each window.
pub(super) struct Capture {
    /// Where each window begins, in frames.
    starts: [u64; FITTED_STEPS],
    size: usize,
    /// `[step][channel][frame]` of the first steps.
    apart: [[Vec<f32>; 2]; APART_STEPS],
    /// `[step][frame]` of the bus in the others.
    sums: [Vec<f32>; FITTED_STEPS - APART_STEPS],
}

impl Capture {
    pub(super) fn new(schedule: &Schedule, references: &References) -> Self {
        let size = references.size;
        let mut starts = [0; FITTED_STEPS];
        for (start, (_, first)) in starts.iter_mut().zip(schedule.step_starts()) {
            *start = references.first_frame(first);
        }
        Self {
            starts,
            size,
            apart: std::array::from_fn(|_| std::array::from_fn(|_| vec![0.0; size])),
            sums: std::array::from_fn(|_| vec![0.0; size]),
        }
    }

    /// Keeps what of a piece lies in a window.
    pub(super) fn take(&mut self, index: u64, left: &[f32], right: Option<&[f32]>, sum: &[f32]) {
        let end = index + sum.len() as u64;
        for (step, &start) in self.starts.iter().enumerate() {
            let (from, to) = (start.max(index), (start + self.size as u64).min(end));
            if from >= to {
                continue;
            }
            let piece = (from - index) as usize..(to - index) as usize;
            let place = (from - start) as usize..(to - start) as usize;
            match step.checked_sub(APART_STEPS) {
                Some(step) => self.sums[step][place].copy_from_slice(&sum[piece]),
                None => {
                    let [kept_left, kept_right] = &mut self.apart[step];
                    kept_left[place.clone()].copy_from_slice(&left[piece.clone()]);
                    if let Some(right) = right {
                        kept_right[place].copy_from_slice(&right[piece]);
                    }
                }
            }
        }
    }

    /// The bus in every window. Allocates.
    pub(super) fn windows(&self, gains: [f32; 2], channels: usize) -> Vec<Vec<f32>> {
        let first = self.apart.iter().map(|[left, right]| {
            let mut sum = vec![0.0; self.size];
            mix(gains, left, (channels > 1).then_some(right), &mut sum);
            sum
        });
        first.chain(self.sums.iter().cloned()).collect()
    }

    /// One channel in the windows of the first steps; what is no number as zero. Allocates.
    pub(super) fn channel(&self, channel: usize) -> [Vec<f32>; APART_STEPS] {
        self.apart.each_ref().map(|kept| {
            let mut clean = vec![0.0; self.size];
            mix([1.0, 0.0], &kept[channel], None, &mut clean);
            clean
        })
    }
}
