//! Held peaks as they stood after certain lengths of time, so that entries of different length can be
//! compared over equal ones: a held peak grows with time.

use crate::meter::HeldPeaks;

/// The first length, in seconds, and the ratio of each to the next.
const FIRST_S: f64 = 0.5;
const RATIO: f64 = 1.189_207_115_002_721;
/// Held peaks after the first lengths, shortest first, and at the end.
#[derive(Debug, Clone, Default)]
pub(crate) struct PeakMarks {
    marks: Vec<HeldPeaks>,
    last: HeldPeaks,
    last_s: f64,
}

impl PeakMarks {
    /// The length of time after which the next mark is due, in seconds.
    pub(crate) fn due_s(&self) -> f64 {
        length_s(self.marks.len())
    }

    /// Notes the peaks held after `seconds`.
    pub(crate) fn note(&mut self, seconds: f64, peaks: HeldPeaks) {
        while seconds >= self.due_s() {
            self.marks.push(peaks);
        }
        (self.last, self.last_s) = (peaks, seconds);
    }

    /// The peaks of two over the longest length that both have: that length, in seconds, and both.
    pub(crate) fn over_equal_lengths<'a>(
        &'a self,
        other: &'a Self,
    ) -> (f64, &'a HeldPeaks, &'a HeldPeaks) {
        let shared = self.marks.len().min(other.marks.len());
        match shared.checked_sub(1) {
            Some(last) => (length_s(last), &self.marks[last], &other.marks[last]),
            None => (self.last_s.min(other.last_s), &self.last, &other.last),
        }
    }
}

fn length_s(index: usize) -> f64 {
    FIRST_S * RATIO.powi(index as i32)
}
