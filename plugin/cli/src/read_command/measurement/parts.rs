//! Measures one long file in parts, as many at once as there are processors.

use std::collections::VecDeque;
use std::num::NonZero;
use std::ops::Range;
use std::thread::{Scope, ScopedJoinHandle, available_parallelism, scope};

use anyhow::Result;
use ledgerline_measure::Meter;

use super::{Job, Measurement, Wiring};
use crate::audio::{AudioFile, FileInfo};

/// Shorter files are measured in one go.
pub(super) const SHORTEST_S: f64 = 30.0;
/// Shorter parts would spend too much on the frames before each of them.
pub(super) const SHORTEST_PART_S: f64 = 10.0;
/// Longer parts would keep too many hops until they are joined: 200 bytes each, 100 a second.
const LONGEST_PART_S: f64 = 600.0;

/// A part of the file, measured.
struct Measured {
    meter: Meter,
    audio: AudioFile,
}

impl Job<'_> {
    /// Measures a file in parts; none where it has to be read in one go.
    ///
    /// # Errors
    ///
    /// See [`Job::run`].
    pub(super) fn run_in_parts(
        &self,
        audio: &AudioFile,
        wiring: &Wiring,
        advance: &(impl Fn(usize) + Sync),
    ) -> Result<Option<Measurement>> {
        let processors = available_parallelism().map_or(1, NonZero::get);
        let Some(frames) = audio.skippable_frames().filter(|_| processors > 1) else {
            return Ok(None);
        };
        let parts = self.parts(audio.info(), wiring, frames, processors)?;
        let [first, later @ ..] = parts.as_slice() else { return Ok(None) };
        if later.is_empty() {
            return Ok(None);
        }
        let measure = |part: &Range<u64>| self.measure(audio, wiring, part.clone(), advance);
        scope(|scope| {
            let mut ahead = Ahead { waiting: later.iter(), running: VecDeque::new() };
            // This thread measures too, and then joins.
            for _ in 1..processors {
                ahead.spawn(scope, &measure);
            }
            let Some(mut joined) = measure(first)? else { return Ok(None) };
            let mut history = joined.meter.take_history();
            ahead.spawn(scope, &measure);
            while let Some(next) = ahead.next() {
                let Some(next) = next? else { return Ok(None) };
                ahead.spawn(scope, &measure);
                joined.meter.append(next.meter);
                joined.audio = next.audio;
                history.append(&mut joined.meter.take_history());
            }
            self.conclude(&joined.audio, &mut joined.meter, history).map(Some)
        })
    }

    /// The parts of a file of so many frames.
    fn parts(
        &self,
        info: &FileInfo,
        wiring: &Wiring,
        frames: u64,
        processors: usize,
    ) -> Result<Vec<Range<u64>>> {
        let rate_hz = f64::from(info.sample_rate_hz);
        if (frames as f64) < SHORTEST_S * rate_hz {
            return Ok(Vec::new());
        }
        let needed = (frames as f64 / rate_hz / LONGEST_PART_S).ceil() as usize;
        let count = needed.next_multiple_of(processors);
        let least = (SHORTEST_PART_S * rate_hz) as u64;
        let starts = wiring.meter(info, self.settings)?.part_starts(frames, count, least);
        let ends = starts[1..].iter().copied().chain([u64::MAX]);
        Ok(starts.iter().copied().zip(ends).map(|(start, end)| start..end).collect())
    }

    /// Measures one part; none where the file turns out to end before.
    fn measure(
        &self,
        audio: &AudioFile,
        wiring: &Wiring,
        part: Range<u64>,
        advance: &(impl Fn(usize) + Sync),
    ) -> Result<Option<Measured>> {
        let mut meter = self.meter(audio.info(), wiring)?;
        let mut position = meter.begin_part(part.clone());
        let Some(mut audio) = audio.open_at(position)? else { return Ok(None) };
        let mut block = Vec::new();
        while !meter.has_ended() {
            if !audio.read_f32(&mut block)? {
                break;
            }
            wiring.feed(&block, 0, |main, side_chain| meter.process(main, side_chain));
            let read = position..position + block.first().map_or(0, Vec::len) as u64;
            position = read.end;
            let counted = read.end.min(part.end).saturating_sub(read.start.max(part.start));
            advance(usize::try_from(counted).unwrap_or(0));
        }
        let complete = if part.end == u64::MAX { position > part.start } else { meter.has_ended() };
        Ok(complete.then_some(Measured { meter, audio }))
    }
}

/// The parts that are measured while earlier ones are joined.
struct Ahead<'scope, 'parts> {
    waiting: std::slice::Iter<'parts, Range<u64>>,
    running: VecDeque<ScopedJoinHandle<'scope, Result<Option<Measured>>>>,
}

impl<'scope, 'parts: 'scope> Ahead<'scope, 'parts> {
    /// Begins with the next part, if there is one.
    fn spawn<'env, F>(&mut self, scope: &'scope Scope<'scope, 'env>, measure: &'scope F)
    where
        F: Fn(&Range<u64>) -> Result<Option<Measured>> + Sync,
    {
        if let Some(part) = self.waiting.next() {
            self.running.push_back(scope.spawn(move || measure(part)));
        }
    }

    /// The next part in order, once it is measured.
    fn next(&mut self) -> Option<Result<Option<Measured>>> {
        let running = self.running.pop_front()?;
        Some(running.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
    }
}
