//! Flat tops: runs of equal samples at the top of a channel, as clipping leaves them.
//!
//! A run counts where the waveform falls away on both sides by more than it could had a smooth top
//! merely been rounded. Let a run reach h samples either way from its middle. A top that falls with
//! the fourth power of time and stays within one step of a coarse word over the run has fallen by
//! `(t/h)⁴` steps at t; a quadratic one by less. The step is taken as that of 16 bits, or of the file's
//! word where that is shorter, and never finer than a 4096th of the top, since what was rounded may
//! have been turned up since. What this cannot tell from rounding is not counted; a square wave is,
//! since it is flat.

use crate::batch::BATCH_FRAMES;

/// Samples of a flat top.
const LEAST_RUN: usize = 3;
/// How near to the highest peak a flat top lies: within 0.1 dB.
const NEAR_PEAK: f32 = 0.988;
/// How many different heights of flat runs are kept.
const MOST_HEIGHTS: usize = 32;
/// How many of the latest flat tops keep their moment.
const MOST_MOMENTS: usize = 8;
/// Furthest sample looked at on either side of a run.
const REACH: usize = 33;
/// Samples kept from before a stretch: a run is noticed at its third.
const HISTORY: usize = REACH + LEAST_RUN - 1;
/// Longest stretch taken at a time.
pub(crate) const MOST_FRAMES: usize = BATCH_FRAMES;
/// Runs that may wait for the samples behind them: each is shorter than what is left of the wait
/// before it.
const MOST_WAITING: usize = 4;
/// Step of the finest word that counts as coarse.
const FINEST_STEP: f32 = 1.0 / 32_768.0;
/// A top this many steps high shows none of them.
const STEPS_OF_A_TOP: f32 = 4096.0;
/// How much more than a rounded top explains is asked for.
const MARGIN: f32 = 2.0;

/// A run that has ended and fell away before it began.
#[derive(Debug, Clone, Copy)]
struct Waiting {
    /// The frame that decides.
    due: u64,
    begins: u64,
    height: f32,
    least_fall: f32,
}

/// The flat tops of one channel.
#[derive(Debug, Clone)]
pub(crate) struct FlatTops {
    step: f32,
    peak: f32,
    last: f32,
    run: usize,
    /// Whether the open run lies at the top; `before` is then what came before it.
    is_top: bool,
    before: [f32; REACH],
    history: [f32; HISTORY],
    /// Frames taken.
    frames: u64,
    waiting: [Option<Waiting>; MOST_WAITING],
    /// Signed height and number of flat tops, the highest of them.
    heights: Vec<(f32, u64)>,
    /// When the latest began, in frames, and how high they are; oldest first.
    moments: Vec<(u64, f32)>,
}

impl FlatTops {
    /// Of a channel whose samples are words of so many bits, or none that are known.
    pub(crate) fn new(word_bits: Option<u32>) -> Self {
        Self {
            step: word_bits.map_or(FINEST_STEP, step).max(FINEST_STEP),
            peak: 0.0,
            last: 0.0,
            run: 0,
            is_top: false,
            before: [0.0; REACH],
            history: [0.0; HISTORY],
            frames: 0,
            waiting: [None; MOST_WAITING],
            heights: Vec::with_capacity(MOST_HEIGHTS),
            moments: Vec::with_capacity(MOST_MOMENTS),
        }
    }

    pub(crate) fn reset(&mut self) {
        self.cut();
        self.peak = 0.0;
        self.frames = 0;
        self.let_go();
    }

    /// Forgets what is under way: what comes does not continue what came.
    pub(crate) fn cut(&mut self) {
        self.run = 0;
        self.is_top = false;
        self.waiting = [None; MOST_WAITING];
    }

    /// Lets go of what was counted so far.
    pub(crate) fn let_go(&mut self) {
        self.heights.clear();
        self.moments.clear();
    }

    /// Readies a fresh finder for a signal whose first frame is frame `frame` of a longer one.
    pub(crate) fn start_at(&mut self, frame: u64) {
        self.frames = frame;
    }

    /// Goes on where `later` stands, which began where this ends.
    pub(crate) fn append(&mut self, mut later: Self) {
        later.peak = later.peak.max(self.peak);
        for &(height, count) in &self.heights {
            later.add(height, count);
        }
        let of_both = self.moments.iter().chain(&later.moments).copied();
        let surplus = (self.moments.len() + later.moments.len()).saturating_sub(MOST_MOMENTS);
        later.moments = of_both.skip(surplus).collect();
        *self = later;
    }

    /// Takes a stretch of at most [`MOST_FRAMES`], whose largest magnitude is `largest`.
    pub(crate) fn take(&mut self, samples: &[f32], largest: f32) {
        debug_assert!(samples.len() <= MOST_FRAMES, "a longer stretch than there is space for");
        let Some(&last) = samples.last() else { return };
        self.peak = self.peak.max(largest);
        let is_idle = !self.is_top && self.waiting.iter().all(Option::is_none);
        let is_low = largest == 0.0 || largest < NEAR_PEAK * self.peak;
        if is_idle && (is_low || !self.has_two_at_the_top(samples)) {
            self.run = 1;
            self.last = last;
        } else {
            self.search(samples);
        }
        self.frames += samples.len() as u64;
        if let Some(latest) = samples.last_chunk() {
            self.history = *latest;
        } else {
            self.history.copy_within(samples.len().., 0);
            self.history[HISTORY - samples.len()..].copy_from_slice(samples);
        }
    }

    /// Whether two neighbours of a stretch, of which the last before it is one, are equal and at the top:
    /// without two there are no three, and none that the next stretch could go on from.
    fn has_two_at_the_top(&self, samples: &[f32]) -> bool {
        let least = NEAR_PEAK * self.peak;
        let is_one = |before: f32, here: f32| (before == here) & (here.abs() >= least);
        let neighbours = samples.iter().zip(&samples[1..]);
        let within = neighbours.fold(false, |any, (&before, &here)| any | is_one(before, here));
        within | samples.first().is_some_and(|&first| is_one(self.last, first))
    }

    fn search(&mut self, samples: &[f32]) {
        let least = NEAR_PEAK * self.peak;
        for (index, &sample) in samples.iter().enumerate() {
            if sample == self.last && self.run > 0 {
                self.run += 1;
                if self.run == LEAST_RUN && sample.abs() >= least && sample != 0.0 {
                    self.is_top = true;
                    self.keep_before(samples, index);
                }
            } else {
                if self.is_top {
                    self.decide(&samples[..=index]);
                    self.end_run(self.frames + index as u64);
                }
                self.is_top = false;
                self.run = 1;
                self.last = sample;
            }
        }
        self.decide(samples);
    }

    /// Counts the runs that wait for one of these samples, the first of a stretch, if it has fallen away.
    fn decide(&mut self, samples: &[f32]) {
        for slot in 0..MOST_WAITING {
            let Some(waiting) = self.waiting[slot] else { continue };
            let ahead = waiting.due - self.frames;
            if let Some(&sample) = usize::try_from(ahead).ok().and_then(|n| samples.get(n)) {
                self.waiting[slot] = None;
                if fall(waiting.height, sample) >= waiting.least_fall {
                    self.add(waiting.height, 1);
                    self.note(waiting.begins, waiting.height);
                }
            }
        }
    }

    /// Keeps what came before a run that is noticed at `index` of a stretch.
    fn keep_before(&mut self, samples: &[f32], index: usize) {
        for (place, slot) in self.before.iter_mut().enumerate() {
            // In history and stretch, one behind the other.
            let at = index + place;
            *slot = if at < HISTORY { self.history[at] } else { samples[at - HISTORY] };
        }
    }

    /// The run at the top has ended before frame `end`.
    fn end_run(&mut self, end: u64) {
        let half = (self.run - 1) as f32 / 2.0;
        let away = ((self.run - 1) / 2 + 1).min(REACH);
        let begins = end - self.run as u64;
        if begins < away as u64 {
            return;
        }
        let height = self.last;
        let rounding = self.step.max(height.abs() / STEPS_OF_A_TOP);
        let least_fall = MARGIN * rounding * ((half + away as f32) / half).powi(4);
        if fall(height, self.before[REACH - away]) < least_fall {
            return;
        }
        if let Some(slot) = self.waiting.iter_mut().find(|slot| slot.is_none()) {
            let due = end - 1 + away as u64;
            *slot = Some(Waiting { due, begins, height, least_fall });
        }
    }

    fn add(&mut self, height: f32, count: u64) {
        if let Some((_, known)) = self.heights.iter_mut().find(|(known, _)| *known == height) {
            *known += count;
            return;
        }
        if self.heights.len() == MOST_HEIGHTS {
            // The lowest goes: it is the likeliest to lie too far below the peak in the end.
            let lowest = (0..MOST_HEIGHTS)
                .min_by(|&a, &b| self.heights[a].0.abs().total_cmp(&self.heights[b].0.abs()))
                .unwrap_or(0);
            if self.heights[lowest].0.abs() > height.abs() {
                return;
            }
            self.heights.swap_remove(lowest);
        }
        self.heights.push((height, count));
    }

    fn note(&mut self, begins: u64, height: f32) {
        if self.moments.len() == MOST_MOMENTS {
            self.moments.remove(0);
        }
        self.moments.push((begins, height));
    }

    /// Largest magnitude of a sample.
    pub(crate) fn peak(&self) -> f32 {
        self.peak
    }

    /// Flat tops within 0.1 dB of a peak and below `end`.
    pub(crate) fn count(&self, peak: f32, end: f32) -> u64 {
        let counts = |(height, _): &&(f32, u64)| is_between(*height, peak, end);
        self.heights.iter().filter(counts).map(|(_, count)| count).sum()
    }

    /// When the latest of them began, in frames, oldest first.
    pub(crate) fn moments(&self, peak: f32, end: f32) -> impl Iterator<Item = u64> {
        let counts = move |moment: &&(u64, f32)| is_between(moment.1, peak, end);
        self.moments.iter().filter(counts).map(|moment| moment.0)
    }
}

/// Step of a word of so many bits, as a share of full scale.
fn step(word_bits: u32) -> f32 {
    0.5f32.powi(word_bits.clamp(1, 64) as i32 - 1)
}

/// The largest code of a word of so many bits, as a share of full scale; 1.0 of none.
pub(crate) fn full_scale(word_bits: Option<u32>) -> f32 {
    word_bits.map_or(1.0, |bits| 1.0 - step(bits))
}

/// How far a sample lies below a top, towards 0 and beyond.
fn fall(top: f32, sample: f32) -> f32 {
    if top > 0.0 { top - sample } else { sample - top }
}

fn is_between(height: f32, peak: f32, end: f32) -> bool {
    height.abs() >= NEAR_PEAK * peak && height.abs() < end
}
