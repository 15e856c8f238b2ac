//! Where the test lies in a recording, and how fast the recorder's clock ran.
//!
//! The markers give both roughly; the noise of the steps, of which every sample is known, gives
//! them to a small part of a sample: in many short blocks the recording is compared with the feed,
//! and a straight line through the places where they agree best is the clock.

mod blocks;
mod candidates;
mod clock;
mod markers;
mod slips;

use blocks::{Block, Listener};
use candidates::Candidate;
pub(super) use clock::Clock;
pub(super) use slips::{Slip, mended};

use super::error::AuditError;
use super::feed::Feed;
use super::schedule::{STEPS, Schedule, Sound};

/// How far the markers may have missed, in seconds and in frames.
const SEARCH: (f64, f64) = (0.4e-3, 16.0);
/// Blocks that a straight line needs.
const LEAST_BLOCKS: usize = 4;
/// Where there are fewer blocks of noise than this, markers count as well: near each other, blocks say
/// little of a clock.
const FEW_BLOCKS: usize = 8;

/// A block this far off the clock, in frames, makes a recording suspect of a slip.
const SUSPECT_FRAMES: f64 = 0.15;
/// A clock that over the whole test is off by less than this, in frames, is the player's own.
const SAME_CLOCK_FRAMES: f64 = 0.05;

/// A recording's place and time scale.
#[derive(Debug, Clone)]
pub(super) struct Alignment {
    /// The form and pace that was found.
    pub schedule: Schedule,
    pub clock: Clock,
    /// The feed by which it was found: feed 1 wherever it can be heard.
    pub feed: Feed,
    /// Whether the clock follows from few places, so that the steps tell it better.
    pub is_rough: bool,
    /// Where the recorder lost samples or played some twice. The clock is then that of the recording
    /// as it was found, and holds only once that is [`mended`].
    pub slips: Vec<Slip>,
}

/// Finds the test in a recording: which form of it, how fast, and where.
pub(super) fn align(signal: &[f32], rate_hz: u32) -> Result<Alignment, AuditError> {
    let found = markers::locate(signal, rate_hz)?;
    let candidate = found.best(signal).ok_or(found.otherwise)?;
    settle(signal, candidate).ok_or(found.otherwise)
}

/// A place of the test in a recording by the noise of its steps, from where the markers have it.
fn settle(signal: &[f32], found: &Candidate) -> Option<Alignment> {
    let schedule = &found.schedule;
    let near = (SEARCH.0 * schedule.rate_hz() + SEARCH.1) as usize;
    // Blocks smear less once the clock is known better.
    let twice = |search: usize| {
        let first = refine(signal, schedule, found.clock, found.feed, search)?;
        refine(signal, schedule, first.clock, found.feed, near).or(Some(first))
    };
    let is_rough = found.only_marker.is_some();
    let is_sure = |refined: &Refined| !refined.suspect;
    // Where a path has two peaks of one height, the markers may each have been found at another: then
    // only a search that sees both peaks tells. One marker alone says nothing of the clock.
    let far = slips::search_frames(schedule).max(found.most_miss_frames());
    let by_two = if is_rough { None } else { twice(near).filter(is_sure) };
    let refined = by_two.or_else(|| twice(far));
    let slips = if refined.as_ref().is_some_and(is_sure) {
        Vec::new()
    } else {
        let clock = refined.filter(|_| is_rough).map_or(found.clock, |by| by.clock);
        slips::find(signal, schedule, clock, found.feed)
    };
    let clock = match refined {
        Some(refined) => refined.clock,
        None if slips.is_empty() => return None,
        None => found.clock,
    };
    let clock = clock.snapped(schedule);
    let is_rough = refined.is_none_or(|refined| refined.is_few);
    Some(Alignment { schedule: *schedule, clock, feed: found.feed, is_rough, slips })
}

/// A clock by the blocks of a feed.
#[derive(Clone, Copy)]
struct Refined {
    clock: Clock,
    /// Whether some block lies off it, or was not found where it should be.
    suspect: bool,
    /// Whether few blocks of noise say so.
    is_few: bool,
}

impl Clock {
    /// The same place at a frame of the test, and longer by a share `excess` from there on.
    pub(super) fn stretched_around(self, frame: f64, excess: f64) -> Self {
        let stretch = self.stretch * (1.0 + excess);
        Self { start: self.place(frame) - stretch * frame, stretch }
    }

    /// The player's own clock, if this is not to be told from it: nothing has to be interpolated
    /// then.
    pub(super) fn snapped(self, schedule: &Schedule) -> Self {
        let off_frames = (self.stretch - 1.0).abs() * schedule.length_frames() as f64;
        if off_frames > SAME_CLOCK_FRAMES {
            return self;
        }
        let middle = schedule.length_frames() as f64 / 2.0;
        Self { start: self.place(middle) - middle, stretch: 1.0 }
    }
}

/// Whether a sound is white noise that stands for one feed alone.
fn is_noise(sound: Sound) -> bool {
    !matches!(
        sound,
        Sound::Silence | Sound::HiddenTone | Sound::Tone(_) | Sound::Bursts { .. } | Sound::Pink
    )
}

/// Whether in a step (index in [`STEPS`]) a feed plays noise that the other feed does not play at
/// the same time.
fn is_telling(step: usize, feed: Feed) -> bool {
    let step = &STEPS[step];
    let (own, other) = match feed {
        Feed::One => (step.feed_1, step.feed_2),
        Feed::Two => (step.feed_2, step.feed_1),
    };
    let same = matches!(other, Sound::A | Sound::MinusA) && matches!(own, Sound::A | Sound::MinusA);
    is_noise(own) && !same
}

fn refine(
    signal: &[f32],
    schedule: &Schedule,
    clock: Clock,
    feed: Feed,
    search: usize,
) -> Option<Refined> {
    let found = Listener { signal, schedule, clock, search }.find(feed);
    let place = |block: &Block| (block.middle, clock.place(block.middle + block.lag));
    let is_few = found.blocks.iter().filter(|block| block.step.is_some()).count() < FEW_BLOCKS;
    let counting = found.blocks.iter().filter(|block| is_few || block.step.is_some());
    let refined = line_through(&counting.map(place).collect::<Vec<_>>())?;
    let off = |(test, heard): (f64, f64)| (heard - refined.place(test)).abs() > SUSPECT_FRAMES;
    let suspect = found.missing || found.blocks.iter().map(place).any(off);
    Some(Refined { clock: refined, suspect, is_few })
}

/// The straight line through places (test, recording) in frames, without those far off it.
fn line_through(places: &[(f64, f64)]) -> Option<Clock> {
    let mut kept = places.to_vec();
    loop {
        if kept.len() < LEAST_BLOCKS {
            return None;
        }
        let count = kept.len() as f64;
        let mean_x = kept.iter().map(|p| p.0).sum::<f64>() / count;
        let mean_y = kept.iter().map(|p| p.1).sum::<f64>() / count;
        let xx: f64 = kept.iter().map(|p| (p.0 - mean_x).powi(2)).sum();
        let xy: f64 = kept.iter().map(|p| (p.0 - mean_x) * (p.1 - mean_y)).sum();
        let stretch = xy / xx;
        let clock = Clock { start: mean_y - stretch * mean_x, stretch };
        let miss = |p: &(f64, f64)| (p.1 - clock.place(p.0)).abs();
        let worst = kept.iter().map(miss).fold(0.0, f64::max);
        // A block off by a sample was matched elsewhere; steady clocks keep within a hundredth.
        if worst < 1.0 {
            return Some(clock);
        }
        kept.retain(|p| miss(p) < worst);
    }
}
