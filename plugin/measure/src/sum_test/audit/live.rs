//! The audit while the test plays: the same bank, bands, stretches and rules as for a recording,
//! step by step as the samples come, for a bus that knows where in the test it is.
//!
//! Construction allocates, everything up to [`LiveTest::shown`] does not; [`LiveTest::conclude`]
//! fits paths and allocates.

mod capture;
mod conclude;
mod shown;

use crate::band::{BandFilter, stop_edge_hz};
use crate::detector::Bank;
use crate::sample::sample_or_silence;
use crate::settings::Edges;
use crate::sum_test::channel_mix::{ChannelEnergies, MIDDLE};
use crate::sum_test::measured::{BANDS, silent_if_lost};
use crate::sum_test::path::references;
use crate::sum_test::schedule::{FLOOR_S, STEPS, Schedule};
use capture::Capture;
pub use conclude::LiveError;
pub use shown::{LiveShown, LiveState};

/// Samples move through the bank in pieces of at most this many frames.
const PIECE_FRAMES: usize = 64;
/// A host that rounds its position may be off by this many frames without having jumped.
const ROUNDING_FRAMES: u64 = 1;
/// Stretches that are read: the noise floor, then every step.
const STRETCHES: usize = 1 + STEPS.len();

/// The test as one bus hears it.
pub struct LiveTest {
    schedule: Schedule,
    /// What comes next, while the samples follow each other.
    next: Option<u64>,
    /// How left and right make the bus.
    gains: [f32; 2],
    /// Left and right over the opening.
    opening: ChannelEnergies,
    filter: BandFilter,
    banks: [Bank; 2],
    /// The stretch that each band is in or comes to.
    stretch: [usize; 2],
    capture: Capture,
    shown: LiveShown,
}

impl LiveTest {
    /// A test at `rate_hz`, or `None` where it cannot play. Allocates.
    #[must_use]
    pub fn new(rate_hz: u32) -> Option<Self> {
        let schedule = Schedule::new(rate_hz)?;
        let rate = schedule.rate_hz();
        let edges = Edges::default();
        let audible_hz = stop_edge_hz(rate, edges.high_hz()).unwrap_or(rate / 2.0);
        let references = references(&schedule);
        Some(Self {
            schedule,
            next: None,
            gains: MIDDLE,
            opening: ChannelEnergies::default(),
            filter: BandFilter::new(rate, edges),
            banks: [rate / 2.0, audible_hz].map(|highest_hz| Bank::new(rate, highest_hz)),
            stretch: [0; 2],
            capture: Capture::new(&schedule, &references),
            shown: LiveShown { rate_hz, ..LiveShown::default() },
        })
    }

    /// Goes on counting runs where another test stopped.
    pub fn follow(&mut self, earlier: &LiveShown) {
        self.shown.run = earlier.run;
    }

    /// What has been found out so far.
    #[must_use]
    pub fn shown(&self) -> &LiveShown {
        &self.shown
    }

    /// The transport stands still: a step that was being measured is lost.
    pub fn stop(&mut self) {
        if self.next.take().is_some() && self.shown.state == LiveState::Running {
            self.shown.state = LiveState::Interrupted;
        }
    }

    /// Takes what the bus carried from `position` on, in frames from the beginning of the test;
    /// one channel or two. Where that does not follow on, the test starts again if this is its
    /// beginning, and stops otherwise. Further channels count for nothing.
    pub fn process(&mut self, position: i64, channels: &[&[f32]]) {
        let frames = channels.iter().map(|channel| channel.len()).min().unwrap_or(0);
        // Before the beginning there is nothing to hear.
        let skipped = usize::try_from(position.min(0).unsigned_abs()).unwrap_or(usize::MAX);
        if frames <= skipped {
            return;
        }
        let index = position.max(0).unsigned_abs();
        let index = match self.next {
            Some(next) if next.abs_diff(index) <= ROUNDING_FRAMES => next,
            _ => {
                self.jump(index);
                index
            }
        };
        self.next = Some(index + (frames - skipped) as u64);
        if self.shown.state != LiveState::Running {
            return;
        }
        let right = channels.get(1).copied();
        self.shown.channels = if right.is_some() { 2 } else { 1 };
        let mut start = skipped;
        let mut index = index;
        while start < frames && self.shown.state == LiveState::Running {
            let end = frames.min(start + self.piece(index));
            self.take(index, &channels[0][start..end], right.map(|right| &right[start..end]));
            index += (end - start) as u64;
            start = end;
        }
    }

    /// Frames until the next moment that must not fall into a piece.
    fn piece(&self, index: u64) -> usize {
        let floor = self.floor_start();
        let until = if index < floor { floor - index } else { u64::MAX };
        until.min(PIECE_FRAMES as u64) as usize
    }

    fn jump(&mut self, index: u64) {
        if index <= self.schedule.opening_frames() {
            self.begin();
        } else if self.shown.state == LiveState::Running {
            self.shown.state = LiveState::Interrupted;
        }
    }

    fn begin(&mut self) {
        self.filter.reset();
        self.gains = MIDDLE;
        self.opening = ChannelEnergies::default();
        self.stretch = [0; 2];
        self.shown = LiveShown {
            state: LiveState::Running,
            rate_hz: self.shown.rate_hz,
            run: self.shown.run + 1,
            ..LiveShown::default()
        };
    }

    fn floor_start(&self) -> u64 {
        (FLOOR_S.0 * self.schedule.rate_hz()).round() as u64
    }

    /// Where a stretch begins and ends, in frames.
    fn stretch_range(&self, stretch: usize) -> std::ops::Range<u64> {
        let step = stretch.checked_sub(1);
        match step.and_then(|step| self.schedule.step_start_frames(step)) {
            None => {
                let end = ((FLOOR_S.0 + FLOOR_S.1) * self.schedule.rate_hz()).round() as u64;
                self.floor_start()..end
            }
            Some(start) => start..start + self.schedule.read_frames(),
        }
    }

    /// Takes a piece.
    fn take(&mut self, index: u64, left: &[f32], right: Option<&[f32]>) {
        if index < self.floor_start() {
            self.listen_to_opening(left, right);
        } else if index == self.floor_start() {
            self.gains = self.opening.gains();
        }
        let mut whole = [0.0; PIECE_FRAMES];
        let whole = &mut whole[..left.len()];
        mix(self.gains, left, right, whole);
        let (mut audible, mut above) = ([0.0; PIECE_FRAMES], [0.0; PIECE_FRAMES]);
        self.filter.process(whole, &mut audible, &mut above);
        self.capture.take(index, left, right, whole);
        self.hold_largest(index, whole);
        let late = self.filter.delay_frames() as i64;
        self.read(0, index as i64, whole);
        self.read(1, index as i64 - late, &audible[..whole.len()]);
        self.shown.position_frames = index + whole.len() as u64;
        self.shown.stretches_done = self.stretch[0].min(self.stretch[1]);
        if self.shown.stretches_done == STRETCHES {
            self.shown.state = LiveState::Complete;
        }
    }

    /// Adds up what tells whether the channels are one bus, two, or opposite.
    fn listen_to_opening(&mut self, left: &[f32], right: Option<&[f32]>) {
        let Some(right) = right else { return };
        for (&l, &r) in left.iter().zip(right) {
            self.opening.push(sample_or_silence(l), sample_or_silence(r));
        }
    }

    fn hold_largest(&mut self, index: u64, whole: &[f32]) {
        let stretch = self.stretch[0].min(STRETCHES - 1);
        let Some(step) = stretch.checked_sub(1) else { return };
        let range = self.stretch_range(stretch);
        for (at, x) in (index..).zip(whole) {
            if range.contains(&at) {
                let held = &mut self.shown.largest[step];
                *held = held.max(f64::from(x.abs()));
            }
        }
    }

    /// Lets a band's bank hear what of a piece lies in stretches. `first` is where in the test the
    /// piece begins in that band.
    fn read(&mut self, band: usize, first: i64, samples: &[f32]) {
        debug_assert!(band < BANDS.len());
        let end = first + samples.len() as i64;
        while self.stretch[band] < STRETCHES {
            let stretch = self.stretch[band];
            let range = self.stretch_range(stretch);
            let (start, stop) = (range.start as i64, range.end as i64);
            let (from, to) = (start.max(first), stop.min(end));
            if from >= to {
                return;
            }
            let bank = &mut self.banks[band];
            if from == start {
                bank.reset();
            }
            bank.take(&samples[(from - first) as usize..(to - first) as usize]);
            if to < stop {
                return;
            }
            let bursts = stretch.checked_sub(1).is_some_and(|step| STEPS[step].is_bursts());
            let shown = if bursts { bank.highest() } else { bank.settled() };
            self.shown.levels[stretch][band] = shown.map(silent_if_lost);
            self.stretch[band] += 1;
        }
    }
}

fn mix(gains: [f32; 2], left: &[f32], right: Option<&[f32]>, whole: &mut [f32]) {
    match right {
        None => {
            for (whole, &l) in whole.iter_mut().zip(left) {
                *whole = sample_or_silence(l);
            }
        }
        Some(right) => {
            for ((whole, &l), &r) in whole.iter_mut().zip(left).zip(right) {
                *whole = gains[0] * sample_or_silence(l) + gains[1] * sample_or_silence(r);
            }
        }
    }
}

#[cfg(test)]
mod tests;
