//! Takes a pair of channels down to about 1500 Hz, so that a short transform resolves the lowest
//! frequencies.

use pulp::Arch;

use crate::fir;

/// Rate aimed at, in Hz.
const LOW_RATE_HZ: f64 = 1_500.0;
/// Length of the filter on either side, in samples of the low rate.
const REACH: usize = 4;
/// Ripple and stop band, in decibels. Flat to a share of 0.187 of the low rate (257 Hz at the least),
/// and what folds down to there is that far down.
const ATTENUATION_DB: f64 = 80.0;

pub(crate) struct Decimator {
    arch: Arch,
    factor: usize,
    taps: Vec<f32>,
    /// The latest samples of a and b, twice as many as taps, so that they seldom move.
    history: [Vec<f32>; 2],
    filled: usize,
    until_next: usize,
}

impl Decimator {
    pub(crate) fn new(rate_hz: f64) -> Self {
        let factor = (rate_hz / LOW_RATE_HZ).round().max(1.0) as usize;
        let taps = fir::low_pass(0.5 / factor as f64, REACH * factor, ATTENUATION_DB);
        let length = taps.len();
        Self {
            arch: Arch::new(),
            factor,
            taps: taps.iter().map(|&tap| tap as f32).collect(),
            history: [vec![0.0; 2 * length], vec![0.0; 2 * length]],
            filled: length,
            until_next: factor,
        }
    }

    /// The largest share of a power that is left of what folds down to where the filter is flat.
    pub(crate) fn image_power() -> f64 {
        10f64.powf(-ATTENUATION_DB / 10.0)
    }

    /// Samples in for one out.
    pub(crate) fn factor(&self) -> usize {
        self.factor
    }

    pub(crate) fn reset(&mut self) {
        self.history.iter_mut().for_each(|history| history.fill(0.0));
        self.filled = self.taps.len();
        self.until_next = self.factor;
    }

    /// Goes on from where `other`, at the same rate, stands.
    pub(crate) fn follow(&mut self, other: &Self) {
        for (history, other) in self.history.iter_mut().zip(&other.history) {
            history.copy_from_slice(other);
        }
        (self.filled, self.until_next) = (other.filled, other.until_next);
    }

    /// Readies a fresh decimator for a signal whose first frame is frame `frame` of a longer one.
    pub(crate) fn start_at(&mut self, frame: u64) {
        self.until_next = self.factor - (frame % self.factor as u64) as usize;
    }

    /// How far back an output reaches, in samples of the input.
    pub(crate) fn reach(&self) -> usize {
        self.taps.len()
    }

    /// Takes a stretch shorter than the filter and hands each sample of the low rate to `out`.
    pub(crate) fn take(&mut self, a: &[f32], b: &[f32], mut out: impl FnMut(f32, f32)) {
        let mut taken = 0;
        while taken < a.len() {
            let room = self.history[0].len() - self.filled;
            let stretch = (a.len() - taken).min(self.until_next).min(room);
            for (history, input) in self.history.iter_mut().zip([a, b]) {
                history[self.filled..self.filled + stretch]
                    .copy_from_slice(&input[taken..taken + stretch]);
            }
            taken += stretch;
            self.filled += stretch;
            self.until_next -= stretch;
            if self.until_next == 0 {
                self.until_next = self.factor;
                let reach = self.filled - self.taps.len()..self.filled;
                let [a, b] = &self.history;
                out(self.filtered(&a[reach.clone()]), self.filtered(&b[reach]));
            }
            if self.filled == self.history[0].len() {
                self.wrap();
            }
        }
    }

    /// Moves what the filter still needs to the front.
    fn wrap(&mut self) {
        let length = self.taps.len();
        for history in &mut self.history {
            history.copy_within(self.filled - length..self.filled, 0);
        }
        self.filled = length;
    }

    fn filtered(&self, samples: &[f32]) -> f32 {
        fir::dot(self.arch, samples, &self.taps)
    }
}

#[cfg(test)]
mod tests;
