//! What every kind of meter shows of the pattern's pairs: the bank, run over the ideal sum.

use super::{Pair, Pattern};
use crate::detector::{Detector, Shown};
use crate::sum_test::feed::Feed;
use crate::sum_test::measured::measure;

impl Pattern {
    /// What each detector shows of the ideal sum of both feeds at a level in dBFS of the peak: by
    /// pair in the order of [`Pair::ALL`] and by band, whole and audible. Peaks are held over the
    /// pair, other meters settle. Runs the bank over one cycle.
    #[must_use]
    pub fn shown(&self, level_dbfs: f64) -> Vec<[Shown; 2]> {
        let mut sum = vec![0.0; self.cycle_frames() as usize];
        self.fill(Feed::One, 0, level_dbfs, &mut sum);
        let mut two = vec![0.0; sum.len()];
        self.fill(Feed::Two, 0, level_dbfs, &mut two);
        for (sum, two) in sum.iter_mut().zip(two) {
            *sum += two;
        }
        let each = self.each_frames() as usize;
        // Without what a pair fades in over.
        let first = self.fade.unsigned_abs() as usize;
        let stretches: Vec<_> =
            (0..Pair::ALL.len()).map(|pair| pair * each + first..(pair + 1) * each).collect();
        let read = |highest: Shown, settled: Shown| {
            Detector::ALL.map(|detector| {
                let levels = if detector.is_peak() { &highest } else { &settled };
                levels[detector as usize]
            })
        };
        measure(&sum, self.rate_hz, &stretches)
            .into_iter()
            .map(|shown| [0, 1].map(|band| read(shown.highest[band], shown.settled[band])))
            .collect()
    }
}
