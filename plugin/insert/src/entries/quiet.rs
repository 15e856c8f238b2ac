//! Time that passes without being measured: long digital silence, which leaves everything where it is
//! and would cost as much as sound, and sound that was lost on its way.

use std::collections::VecDeque;

/// Silence that has been measured leaves nothing more to find in what goes on, in seconds: the finder
/// looks back over less, and no filter is longer.
const MEASURED_S: f64 = 6.0;
/// How much is measured where it comes first, in seconds.
const FIRST_S: f64 = 0.1;
/// How much of held silence is measured before what ends it, in seconds.
const BEFORE_SOUND_S: f64 = 4.0;

/// Digital silence as it comes.
#[derive(Debug)]
pub(super) struct Quiet {
    rate_hz: f64,
    /// Frames of the latest silence that have been measured.
    measured: u64,
    /// Frames that are held.
    held: u64,
}

impl Quiet {
    /// Before any sound there is nothing yet for silence to end: enough is measured for an entry to
    /// begin.
    pub(super) fn new(rate_hz: f64) -> Self {
        Self { rate_hz, measured: ((MEASURED_S - FIRST_S) * rate_hz) as u64, held: 0 }
    }

    /// Takes frames of silence, and says how many of them are to be measured now.
    pub(super) fn take(&mut self, frames: u64) -> u64 {
        let most = (MEASURED_S * self.rate_hz) as u64;
        let now = if self.held > 0 { 0 } else { most.saturating_sub(self.measured).min(frames) };
        self.measured = self.measured.saturating_add(now);
        self.held += frames - now;
        now
    }

    /// Something else follows: how many of the held frames are skipped, and how many are to be
    /// measured after those.
    pub(super) fn end(&mut self) -> [u64; 2] {
        let held = std::mem::take(&mut self.held);
        self.measured = 0;
        let measured = held.min((BEFORE_SOUND_S * self.rate_hz) as u64);
        [held - measured, measured]
    }

    /// Seconds that are held.
    pub(super) fn held_s(&self) -> f64 {
        self.held as f64 / self.rate_hz
    }
}

/// Where time was skipped.
#[derive(Debug, Default)]
pub(super) struct Skipped {
    /// Each at so many measured seconds, and how long it was.
    gaps: VecDeque<(f64, f64)>,
    /// What was skipped before all of these.
    before_s: f64,
}

impl Skipped {
    /// Time is skipped at so many measured seconds.
    pub(super) fn add(&mut self, at_s: f64, seconds: f64) {
        if seconds > 0.0 {
            self.gaps.push_back((at_s, seconds));
        }
    }

    /// The moment that lies at so many measured seconds.
    pub(super) fn moment(&self, measured_s: f64) -> f64 {
        let gaps = self.gaps.iter().filter(|(at_s, _)| *at_s < measured_s);
        measured_s + self.before_s + gaps.map(|(_, seconds)| seconds).sum::<f64>()
    }

    /// Nobody asks for moments before so many measured seconds any more.
    pub(super) fn forget_before(&mut self, measured_s: f64) {
        while let Some((_, seconds)) = self.gaps.pop_front_if(|(at_s, _)| *at_s < measured_s) {
            self.before_s += seconds;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_a_long_silence_the_beginning_and_the_end_are_measured_and_the_rest_is_time() {
        let mut quiet = Quiet::new(100.0);
        assert_eq!(quiet.take(1_000), 10, "before any sound");
        assert_eq!(quiet.end(), [590, 400]);
        let measured: u64 = (0..100).map(|_| quiet.take(50)).sum();
        assert_eq!((measured, quiet.held_s()), (600, 44.0));
        assert_eq!(quiet.end(), [4_000, 400]);
        assert_eq!(quiet.end(), [0, 0]);

        let mut skipped = Skipped::default();
        skipped.add(0.0, 6.0);
        skipped.add(10.0, 40.0);
        assert_eq!([0.0, 4.0, 10.0, 14.0].map(|s| skipped.moment(s)), [0.0, 10.0, 16.0, 60.0]);
        skipped.forget_before(4.0);
        assert_eq!([4.0, 14.0].map(|s| skipped.moment(s)), [10.0, 60.0]);
    }
}
