//! Where a test may lie by its markers, and which of these places its noise bears out.
//!
//! Forms and paces differ in how far apart the markers are, but some have the same distance; and one
//! marker alone may be an opening or a closing one, of any of them. What tells is which noise sounds
//! in which slot.

use std::collections::HashMap;

use super::blocks::Listener;
use super::clock::Clock;
use crate::sum_test::error::AuditError;
use crate::sum_test::feed::Feed;
use crate::sum_test::schedule::{Form, LONGEST_SLOT_S, SLOT_GRID_S, STEPS, Schedule, Sound};

/// How far clocks may differ where one marker says nothing of them.
const CLOCK_DRIFT: f64 = 4e-4;
/// A marker that is found is at its place within so many frames.
const MARKER_FRAMES: f64 = 64.0;
/// Slots that have to bear out what one marker says: hits less misses.
const LEAST_FIT: i32 = 2;
/// So many hits without a miss are the test for certain.
const CLEAR_FIT: i32 = 3;

/// A place where the test may lie.
#[derive(Debug, Clone, Copy)]
pub(super) struct Candidate {
    pub schedule: Schedule,
    pub clock: Clock,
    /// The feed whose markers say so.
    pub feed: Feed,
    /// Where in the test the marker lies, in frames, if only one says so.
    pub only_marker: Option<f64>,
}

impl Candidate {
    /// How far the noise at a frame of the test may lie from where the candidate has it, in frames.
    fn miss_frames(&self, frame: f64) -> usize {
        let drift = self.only_marker.map_or(0.0, |marker| CLOCK_DRIFT * (frame - marker).abs());
        (drift + MARKER_FRAMES) as usize
    }

    /// The farthest that it may.
    pub fn most_miss_frames(&self) -> usize {
        let ends = [0.0, self.schedule.length_frames() as f64];
        ends.map(|frame| self.miss_frames(frame)).into_iter().fold(0, usize::max)
    }

    /// Whether the noises in the slots bear it out without a doubt.
    pub fn is_clear(&self, signal: &[f32]) -> bool {
        self.fit(signal, &mut HashMap::new()).is_clear()
    }

    /// How well the noises in the slots bear it out.
    fn fit(&self, signal: &[f32], heard: &mut HashMap<(i64, bool), Option<bool>>) -> Fit {
        let Self { schedule, clock, .. } = self;
        let mut fit = Fit::default();
        for (step, start) in schedule.step_starts() {
            let search = self.miss_frames(start as f64);
            let listener = Listener { signal, schedule, clock: *clock, search };
            let (one, two) = (STEPS[step].feed_1, STEPS[step].feed_2);
            // Of a null anything may be left, and the late noise is the first one's as well.
            if STEPS[step].is_null() || two == Sound::LateA {
                continue;
            }
            let plays = |noise: Sound, inverted: Sound| {
                [one, two].iter().any(|sound| *sound == noise || *sound == inverted)
            };
            for (noise, should) in [
                (Sound::A, plays(Sound::A, Sound::MinusA)),
                (Sound::B, plays(Sound::B, Sound::MinusB)),
            ] {
                let key = (clock.place(start as f64).round() as i64, noise == Sound::B);
                let hears = *heard.entry(key).or_insert_with(|| listener.hears(noise, start));
                match hears {
                    Some(hears) if hears == should => fit.hits += i32::from(should),
                    Some(_) => fit.misses += 1,
                    None => (),
                }
            }
        }
        fit
    }
}

/// Slots in which the noise is heard that should be, and noises that are missing or should not be
/// there.
#[derive(Default, Clone, Copy)]
struct Fit {
    hits: i32,
    misses: i32,
}

impl Fit {
    fn is_clear(self) -> bool {
        self.misses == 0 && self.hits >= CLEAR_FIT
    }
}

/// The places where a test may lie, and what is wrong if it lies in none of them.
pub(super) struct Candidates {
    /// The likeliest first.
    pub all: Vec<Candidate>,
    pub otherwise: AuditError,
}

impl Candidates {
    /// The one that the noise bears out best.
    pub fn best(&self, signal: &[f32]) -> Option<&Candidate> {
        if let [only] = &self.all[..]
            && only.only_marker.is_none()
        {
            return Some(only);
        }
        let mut heard = HashMap::new();
        let mut best: Option<(i32, &Candidate)> = None;
        for candidate in &self.all {
            let fit = candidate.fit(signal, &mut heard);
            if fit.is_clear() {
                return Some(candidate);
            }
            let fit = fit.hits - fit.misses;
            if fit >= LEAST_FIT && best.is_none_or(|(most, _)| fit > most) {
                best = Some((fit, candidate));
            }
        }
        best.map(|(_, candidate)| candidate)
    }
}

/// Every form at every pace, the usual ones first.
pub(super) fn schedules(rate_hz: u32) -> impl Iterator<Item = Schedule> {
    let usual = Form::ALL.into_iter().map(|form| (form, form.usual_slot_s()));
    let slower = Form::ALL.into_iter().flat_map(|form| {
        let slots = ((LONGEST_SLOT_S - form.usual_slot_s()) / SLOT_GRID_S) as u32;
        (1..=slots).map(move |slot| (form, form.usual_slot_s() + SLOT_GRID_S * f64::from(slot)))
    });
    usual.chain(slower).filter_map(move |(form, slot_s)| Schedule::with(rate_hz, form, slot_s))
}
