//! What plays when: a pure function of the sample index.
//!
//! A marker on each feed in turn, silence for the noise floor, the steps in slots of equal length
//! with silence between them, and a closing marker on each feed. The feeds' markers come one after
//! the other, so that either feed alone can be found if the other is lost. Times are multiples of a
//! quarter of a second, so that they fall on samples at every common rate.
//!
//! The test has forms, which differ in the steps they play, and a pace, at which every step sounds
//! longer. What a feed plays depends only on the frames since the step's beginning, so a longer step
//! begins with the same samples as a shorter one.

use serde::Serialize;

use crate::detector::SETTLING_S;
use crate::words::list;

/// Silence before the marker, in seconds: players and recorders swallow their first moments.
pub const LEAD_S: f64 = 0.5;
/// Length of a marker, in seconds.
pub const MARKER_S: f64 = 0.5;
/// From feed 1's marker to feed 2's, in seconds, at the opening and at the closing.
pub const FEED_LAG_S: f64 = 0.75;
/// Where the silence that shows the noise floor begins, and its length, in seconds.
pub const FLOOR_S: (f64, f64) = (2.0, 2.0);
/// Where the first step begins, in seconds.
pub const FIRST_STEP_S: f64 = 4.25;
/// Silence after every step, in seconds, at any pace. It lets a programme meter fall back.
pub const SILENCE_S: f64 = 1.25;
/// The longest slot, from one step's beginning to the next, in seconds.
pub const LONGEST_SLOT_S: f64 = 60.0;
/// Slots are multiples of this, in seconds.
pub const SLOT_GRID_S: f64 = 0.25;
/// What detectors read of a step, from its beginning, in seconds: at the usual pace of the full test
/// all but the closing fade. Slower steps are read no longer, so that at every pace a held peak is
/// that of the same samples, and what has to be shown is the same.
const READ_S: f64 = 3.48;
/// Silence after the closing marker, in seconds.
pub const TAIL_S: f64 = 0.5;
/// Length of the fade at either edge of a step, in seconds.
pub const FADE_S: f64 = 0.02;
/// By how much the second feed of step 7 is late, in seconds.
pub const DELAY_S: f64 = 0.1;
/// The lowest and highest rate that the test plays at, in Hz.
pub const RATE_RANGE_HZ: (u32, u32) = (44_100, 192_000);

/// What one feed plays in a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sound {
    /// Nothing.
    Silence,
    /// The first white noise, uniform.
    A,
    /// The first noise inverted.
    MinusA,
    /// The first noise, late by [`DELAY_S`].
    LateA,
    /// The second white noise, uniform, independent of the first.
    B,
    /// The second noise inverted.
    MinusB,
    /// A tone above the audible band.
    HiddenTone,
    /// A sine at this frequency, in Hz.
    Tone(f64),
    /// White Gaussian noise, four times its RMS being the level.
    Gaussian,
    /// Pink noise.
    Pink,
    /// Bursts of a 5 kHz sine.
    Bursts {
        /// Length of each, in seconds.
        length_s: f64,
        /// Where the first begins, in seconds.
        first_s: f64,
        /// From one to the next, in seconds.
        every_s: f64,
    },
}

/// One step of the test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// The number by which people and records call it, from 1.
    pub number: usize,
    /// A few words.
    pub name: &'static str,
    /// What feed 1 plays.
    pub feed_1: Sound,
    /// What feed 2 plays.
    pub feed_2: Sound,
}

impl Step {
    const fn new(number: usize, name: &'static str, feed_1: Sound, feed_2: Sound) -> Self {
        Self { number, name, feed_1, feed_2 }
    }

    /// Whether what is read is the highest level shown; otherwise it is the settled one.
    #[must_use]
    pub fn is_bursts(&self) -> bool {
        matches!(self.feed_1, Sound::Bursts { .. })
    }

    /// Whether an ideal sum of this step is silent.
    #[must_use]
    pub fn is_null(&self) -> bool {
        self.feed_1 == Sound::A && self.feed_2 == Sound::MinusA
    }
}

const fn bursts(length_s: f64, every_s: f64) -> Sound {
    Sound::Bursts { length_s, first_s: 0.25, every_s }
}

/// The steps, in order.
pub const STEPS: [Step; 16] = {
    use Sound::{A, B, Gaussian, HiddenTone, LateA, MinusA, MinusB, Pink, Silence, Tone};
    [
        Step::new(1, "a noise alone", A, Silence),
        Step::new(2, "the noise on the other channel", Silence, A),
        Step::new(3, "the same noise on both", A, A),
        Step::new(4, "the same noise, one inverted: null", A, MinusA),
        Step::new(5, "independent noises", A, B),
        Step::new(6, "independent noises, one inverted", A, MinusB),
        Step::new(7, "the same noise, 100 ms late", A, LateA),
        Step::new(8, "the noise and an inaudible tone", A, HiddenTone),
        Step::new(9, "low tone, 40 Hz", Tone(40.0), Silence),
        Step::new(10, "Gaussian noise", Gaussian, Silence),
        Step::new(11, "pink noise", Pink, Silence),
        Step::new(12, "steady tone, 5 kHz", Tone(5_000.0), Silence),
        Step::new(13, "bursts of 100 ms", bursts(0.1, 1.75), Silence),
        Step::new(14, "bursts of 10 ms", bursts(0.01, 1.75), Silence),
        Step::new(15, "bursts of 1.5 ms", bursts(0.001_5, 1.75), Silence),
        Step::new(16, "train of 1.5 ms bursts, ten a second", bursts(0.001_5, 0.1), Silence),
    ]
};

/// Which steps a test plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// All of them.
    Full,
    /// The same noise on both channels, independent noises, the null: whether a mixer adds, in less
    /// than half a minute.
    Short,
}

impl Form {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Full, Self::Short];

    /// The indexes in [`STEPS`] of the steps that are played, in the order of playing.
    #[must_use]
    pub fn steps(self) -> &'static [usize] {
        match self {
            Self::Full => &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15],
            Self::Short => &[2, 4, 3],
        }
    }

    /// What it is called.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Full => "full",
            Self::Short => "short",
        }
    }

    /// From one step's beginning to the next at the usual pace, which is the fastest, in seconds.
    #[must_use]
    pub fn usual_slot_s(self) -> f64 {
        match self {
            Self::Full => 4.75,
            Self::Short => 6.25,
        }
    }
}

/// What a sample belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Moment {
    /// Silence before, between and after.
    Silence,
    /// The opening markers, this many frames after feed 1's began.
    Opening(u64),
    /// The closing markers, this many frames after feed 1's began.
    Closing(u64),
    /// A step: its index in [`STEPS`] and the frames since it began.
    Step(usize, u64),
}

/// The schedule of a form at one sample rate and pace, in frames.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Schedule {
    rate_hz: f64,
    form: Form,
    slot_s: f64,
    marker: u64,
    feed_lag: u64,
    opening: u64,
    closing: u64,
    first: u64,
    slot: u64,
    step: u64,
    length: u64,
}

impl Schedule {
    /// The full test at the usual pace, or `None` where the test cannot play.
    #[must_use]
    pub fn new(rate_hz: u32) -> Option<Self> {
        Self::with(rate_hz, Form::Full, Form::Full.usual_slot_s())
    }

    /// A form of the test with `slot_s` seconds from one step's beginning to the next, a multiple of
    /// [`SLOT_GRID_S`] from the form's usual pace to [`LONGEST_SLOT_S`]. A step sounds
    /// [`SILENCE_S`] less than that. `None` where the test cannot play.
    #[must_use]
    pub fn with(rate_hz: u32, form: Form, slot_s: f64) -> Option<Self> {
        let plays = (RATE_RANGE_HZ.0..=RATE_RANGE_HZ.1).contains(&rate_hz)
            && (form.usual_slot_s()..=LONGEST_SLOT_S).contains(&slot_s)
            && (slot_s / SLOT_GRID_S).fract() == 0.0;
        plays.then_some(())?;
        let rate_hz = f64::from(rate_hz);
        let frames = |s: f64| (s * rate_hz).round() as u64;
        let closing = frames(FIRST_STEP_S + form.steps().len() as f64 * slot_s);
        Some(Self {
            rate_hz,
            form,
            slot_s,
            marker: frames(MARKER_S),
            feed_lag: frames(FEED_LAG_S),
            opening: frames(LEAD_S),
            closing,
            first: frames(FIRST_STEP_S),
            slot: frames(slot_s),
            step: frames(slot_s - SILENCE_S),
            length: closing + frames(FEED_LAG_S + MARKER_S + TAIL_S),
        })
    }

    /// The sample rate in Hz.
    #[must_use]
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// Which steps it plays.
    #[must_use]
    pub fn form(&self) -> Form {
        self.form
    }

    /// From one step's beginning to the next, in seconds.
    #[must_use]
    pub fn slot_s(&self) -> f64 {
        self.slot_s
    }

    /// The indexes in [`STEPS`] of the steps that are played, in the order of playing.
    #[must_use]
    pub fn steps(&self) -> &'static [usize] {
        self.form.steps()
    }

    /// Length of the whole test in frames.
    #[must_use]
    pub fn length_frames(&self) -> u64 {
        self.length
    }

    /// From feed 1's marker to feed 2's, in frames.
    #[must_use]
    pub fn feed_lag_frames(&self) -> u64 {
        self.feed_lag
    }

    /// Where the opening marker begins, in frames.
    #[must_use]
    pub fn opening_frames(&self) -> u64 {
        self.opening
    }

    /// Where the closing marker begins, in frames: where another step would.
    #[must_use]
    pub fn closing_frames(&self) -> u64 {
        self.closing
    }

    /// Length of a marker in frames.
    #[must_use]
    pub fn marker_frames(&self) -> u64 {
        self.marker
    }

    /// Length of a step's sound in frames.
    #[must_use]
    pub fn step_frames(&self) -> u64 {
        self.step
    }

    /// From one step's beginning to the next, in frames.
    #[must_use]
    pub fn slot_frames(&self) -> u64 {
        self.slot
    }

    /// Where the step of this index in [`STEPS`] begins, in frames; `None` if it is not played.
    #[must_use]
    pub fn step_start_frames(&self, index: usize) -> Option<u64> {
        let place = self.steps().iter().position(|&step| step == index)?;
        Some(self.first + place as u64 * self.slot)
    }

    /// The steps that are played, each with its index in [`STEPS`] and the frame at which it begins.
    pub fn step_starts(&self) -> impl Iterator<Item = (usize, u64)> {
        let Self { first, slot, .. } = *self;
        self.steps().iter().zip(0..).map(move |(&step, place)| (step, first + place * slot))
    }

    /// The part of a step that detectors read, from its beginning on, in frames: the same at every
    /// pace.
    #[must_use]
    pub fn read_frames(&self) -> u64 {
        (READ_S * self.rate_hz).round() as u64
    }

    /// How long the settled part of what is read is, in seconds.
    #[must_use]
    pub fn settled_s() -> f64 {
        READ_S - SETTLING_S
    }

    /// What the sample at `index` belongs to.
    #[must_use]
    pub fn moment(&self, index: u64) -> Moment {
        if index < self.first {
            return match index.checked_sub(self.opening) {
                Some(frames) if frames < self.feed_lag + self.marker => Moment::Opening(frames),
                _ => Moment::Silence,
            };
        }
        let (place, frames) = ((index - self.first) / self.slot, (index - self.first) % self.slot);
        // Places too far for an index are past the last step as well.
        let step = usize::try_from(place).ok().and_then(|place| self.steps().get(place));
        if let Some(&step) = step {
            return if frames < self.step { Moment::Step(step, frames) } else { Moment::Silence };
        }
        match index.checked_sub(self.closing) {
            Some(frames) if frames < self.feed_lag + self.marker => Moment::Closing(frames),
            _ => Moment::Silence,
        }
    }
}

/// "step 3" or "steps 3 to 6", by indexes.
pub(super) fn in_steps(steps: &[usize]) -> String {
    let mut runs: Vec<[usize; 2]> = Vec::new();
    let mut sorted = steps.to_vec();
    sorted.sort_unstable();
    for number in sorted.into_iter().map(|step| STEPS[step].number) {
        match runs.last_mut() {
            Some([_, last]) if *last + 1 == number => *last = number,
            _ => runs.push([number, number]),
        }
    }
    let words: Vec<String> = runs
        .into_iter()
        .map(|[first, last]| match last - first {
            0 => first.to_string(),
            1 => format!("{first} and {last}"),
            _ => format!("{first} to {last}"),
        })
        .collect();
    format!("step{} {}", if steps.len() == 1 { "" } else { "s" }, list(&words))
}

/// Frequency of the tone above the audible band, in Hz: as far above as leaves converters' filters
/// room below half the rate. 22.5 kHz at 48 kHz.
#[must_use]
pub fn hidden_tone_hz(rate_hz: f64) -> f64 {
    /// At 44.1 kHz that share would still be audible-band filter slope.
    const LEAST_HZ: f64 = 21_000.0;
    f64::max(0.468_75 * rate_hz, LEAST_HZ)
}
