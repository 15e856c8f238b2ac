//! Block powers sorted into bins of 0.01 LU, so that memory and the cost of a reading stay the same
//! over a day of audio.
//!
//! Each bin keeps the sum of its powers besides their number, so a mean is exact but for the blocks
//! in the one bin that a gate cuts.

use std::ops::Range;

use crate::k_weighting::LOUDNESS_OFFSET_DB;

/// First gate of BS.1770-5, in LUFS: what is not above it is not kept at all.
const ABSOLUTE_GATE_LUFS: f64 = -70.0;
/// Above the loudness of any stereo sum of samples within ±120 dBFS.
const HIGHEST_LUFS: f64 = 140.0;
const BINS_A_LU: usize = 100;
const BINS: usize = (HIGHEST_LUFS - ABSOLUTE_GATE_LUFS) as usize * BINS_A_LU;

#[derive(Clone, Copy, Default)]
struct Bin {
    count: u64,
    sum: f64,
}

impl Bin {
    fn add(&mut self, other: Self) {
        self.count += other.count;
        self.sum += other.sum;
    }

    fn mean(self) -> f64 {
        self.sum / self.count as f64
    }
}

pub(crate) struct Histogram {
    bins: Vec<Bin>,
    /// A summary of each 100 bins, for readings that touch a few hundred bins instead of all.
    coarse: Vec<Bin>,
    /// The summaries that hold anything lie in here: no reading goes further.
    touched: Range<usize>,
}

impl Histogram {
    pub(crate) fn new() -> Self {
        Self {
            bins: vec![Bin::default(); BINS],
            coarse: vec![Bin::default(); BINS / BINS_A_LU],
            touched: 0..0,
        }
    }

    pub(crate) fn reset(&mut self) {
        // Only what was touched: a reset happens on the audio thread.
        for (coarse, bins) in self.coarse.iter_mut().zip(self.bins.chunks_mut(BINS_A_LU)) {
            if coarse.count > 0 {
                *coarse = Bin::default();
                bins.fill(Bin::default());
            }
        }
        self.touched = 0..0;
    }

    pub(crate) fn push(&mut self, power: f64) {
        let lufs = 10.0 * power.log10() + LOUDNESS_OFFSET_DB;
        if lufs > ABSOLUTE_GATE_LUFS {
            let index = index_of(lufs);
            let block = Bin { count: 1, sum: power };
            self.bins[index].add(block);
            let coarse = index / BINS_A_LU;
            self.coarse[coarse].add(block);
            self.touched = match self.touched.is_empty() {
                true => coarse..coarse + 1,
                false => self.touched.start.min(coarse)..self.touched.end.max(coarse + 1),
            };
        }
    }

    /// Mean of the powers above `threshold`; `None` if there are none.
    pub(crate) fn mean_above(&self, threshold: f64) -> Option<f64> {
        let total = self.total_from(self.first_bin_above(threshold));
        (total.count > 0).then(|| total.mean())
    }

    /// The powers at the given percentiles (nearest rank) of those above `threshold`.
    pub(crate) fn percentiles_above<const N: usize>(
        &self,
        threshold: f64,
        percentiles: [f64; N],
    ) -> Option<[f64; N]> {
        let first = self.first_bin_above(threshold);
        let count = self.total_from(first).count;
        if count < 2 {
            return None;
        }
        Some(percentiles.map(|p| self.ranked(first, ((count - 1) as f64 * p).round() as u64)))
    }

    /// The first bin whose blocks lie above the threshold on average.
    fn first_bin_above(&self, threshold: f64) -> usize {
        if threshold <= 0.0 {
            return 0;
        }
        let lufs = 10.0 * threshold.log10() + LOUDNESS_OFFSET_DB;
        let index = index_of(lufs);
        let bin = self.bins[index];
        if lufs > ABSOLUTE_GATE_LUFS && bin.count > 0 && bin.mean() <= threshold {
            index + 1
        } else {
            index
        }
    }

    fn total_from(&self, first: usize) -> Bin {
        let first = first.max(self.touched.start * BINS_A_LU);
        let next_coarse = first.div_ceil(BINS_A_LU);
        if next_coarse > self.touched.end {
            return Bin::default();
        }
        let partial = &self.bins[first..next_coarse * BINS_A_LU];
        let mut total = Bin::default();
        for bin in partial.iter().chain(&self.coarse[next_coarse..self.touched.end]) {
            total.add(*bin);
        }
        total
    }

    /// The power of the block at `rank` (from 0, ascending) among the bins from `first`.
    fn ranked(&self, first: usize, rank: u64) -> f64 {
        let mut left = rank;
        let mut index = first.max(self.touched.start * BINS_A_LU);
        while index < self.touched.end * BINS_A_LU {
            let whole_coarse = index.is_multiple_of(BINS_A_LU);
            let (bin, width) = if whole_coarse && self.coarse[index / BINS_A_LU].count <= left {
                (self.coarse[index / BINS_A_LU], BINS_A_LU)
            } else {
                (self.bins[index], 1)
            };
            if bin.count > left {
                return bin.mean();
            }
            left -= bin.count;
            index += width;
        }
        0.0
    }
}

fn index_of(lufs: f64) -> usize {
    let bin = (lufs - ABSOLUTE_GATE_LUFS) * BINS_A_LU as f64;
    (bin.max(0.0) as usize).min(BINS - 1)
}
