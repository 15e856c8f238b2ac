//! Measures what has to be read from its start to its end, such as a coded file, in parts: one thread
//! decodes and cuts, as many as there are processors measure.

use std::collections::BTreeMap;
use std::num::NonZero;
use std::ops::Range;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Mutex, PoisonError};
use std::thread::{available_parallelism, scope};

use anyhow::Result;
use ledgerline_measure::{HistoryRow, Meter};

use super::cutter::{Begun, Closing, Cutter, Held, Piece};
use super::parts::{SHORTEST_PART_S, SHORTEST_S};
use super::{Job, Measurement, Wiring};
use crate::audio::AudioFile;

/// Length of a part, in seconds, where its samples take no more than [`PART_BYTES`]. The frames before a
/// part cost a fifteenth of that.
const PART_S: f64 = 45.0;
/// As much is held of each part that is measured at once.
const PART_BYTES: usize = 32 << 20;
/// Decoding keeps no more than this many busy, and each costs memory.
const MOST_AT_ONCE: usize = 8;
/// Frames of a block, about: many packets, so that handing them out does not count.
const BLOCK_FRAMES: usize = 8192;

/// What came of a part, and how many come before it.
type Measured = (usize, Result<Meter>);

impl Job<'_> {
    /// Measures a file in parts while it is decoded; none where it has to be measured in one go.
    ///
    /// # Errors
    ///
    /// See [`Job::run`].
    pub(super) fn run_while_decoding(
        &self,
        audio: &mut AudioFile,
        wiring: &Wiring,
        advance: &(impl Fn(usize) + Sync),
    ) -> Result<Option<Measurement>> {
        let processors = available_parallelism().map_or(1, NonZero::get).min(MOST_AT_ONCE);
        let info = audio.info().clone();
        let rate_hz = f64::from(info.sample_rate_hz);
        let shortest = SHORTEST_S * rate_hz;
        if processors == 1 || info.frames.is_some_and(|frames| (frames as f64) < shortest) {
            return Ok(None);
        }
        let meter = self.meter(&info, wiring)?;
        let fitting = (PART_BYTES / size_of::<f32>() / info.channels.max(1)) as f64;
        let least = (PART_S * rate_hz).min(fitting).max(SHORTEST_PART_S * rate_hz);
        let Some(length) = meter.part_frames(least as u64) else { return Ok(None) };
        let held = Held::new(length * processors as u64);
        let (parts, begun) = channel();
        let cutter = Cutter::new(length, meter.lead_in_frames(), held.clone(), parts);
        let (meter, begun) = (Mutex::new(Some(meter)), Mutex::new(begun));
        let work = &|done: Sender<Measured>| {
            while let Some(part) = next(&begun) {
                let first = meter.lock().unwrap_or_else(PoisonError::into_inner).take();
                let made = first.map_or_else(|| self.meter(&info, wiring), Ok);
                let index = part.index;
                let measured = made.map(|meter| measure(meter, wiring, part, advance));
                if done.send((index, measured)).is_err() {
                    return;
                }
            }
        };
        let joined = scope(|scope| {
            let _closing = Closing(&held);
            let (done, measured) = channel();
            let decoder = scope.spawn(|| decode(audio, cutter));
            for _ in 0..processors {
                let done = done.clone();
                scope.spawn(move || work(done));
            }
            drop(done);
            let joined = join(measured)?;
            decoder.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))?;
            anyhow::Ok(joined)
        })?;
        let Some((mut meter, history)) = joined else { return Ok(None) };
        self.conclude(audio, &mut meter, history).map(Some)
    }
}

fn next(begun: &Mutex<Receiver<Begun>>) -> Option<Begun> {
    begun.lock().unwrap_or_else(PoisonError::into_inner).recv().ok()
}

/// Decodes from beginning to end.
fn decode(audio: &mut AudioFile, mut cutter: Cutter) -> Result<()> {
    let mut packet = Vec::new();
    let mut more = true;
    while more {
        let mut block: Vec<Vec<f32>> = Vec::new();
        while block.first().map_or(0, Vec::len) < BLOCK_FRAMES {
            more = audio.read_f32(&mut packet)?;
            if !more {
                break;
            }
            if block.is_empty() && packet.first().map_or(0, Vec::len) >= BLOCK_FRAMES {
                block = std::mem::take(&mut packet);
                break;
            }
            block.resize_with(packet.len(), Vec::new);
            block.iter_mut().zip(&packet).for_each(|(to, from)| to.extend_from_slice(from));
        }
        if !block.is_empty() && !cutter.take(block) {
            return Ok(());
        }
    }
    cutter.finish();
    Ok(())
}

/// Measures a part.
fn measure(mut meter: Meter, wiring: &Wiring, part: Begun, advance: &impl Fn(usize)) -> Meter {
    let mut frames = part.start..u64::MAX;
    let first = meter.begin_part(frames.clone());
    for piece in part.pieces {
        match piece {
            Piece::EndsAt(end) => {
                meter.end_part(end);
                frames.end = end;
            }
            Piece::Block(block) => {
                let from = first.saturating_sub(block.first) as usize;
                wiring.feed(&block.channels, from, |main, side_chain| {
                    meter.process(main, side_chain);
                });
                advance(common(&frames, &(block.first..block.end())));
            }
        }
        if meter.has_ended() {
            break;
        }
    }
    meter
}

/// Frames that lie in both.
fn common(one: &Range<u64>, other: &Range<u64>) -> usize {
    let frames = one.end.min(other.end).saturating_sub(one.start.max(other.start));
    usize::try_from(frames).unwrap_or(0)
}

/// Joins the parts in their order, whichever is measured first.
fn join(measured: Receiver<Measured>) -> Result<Option<(Meter, Vec<HistoryRow>)>> {
    let mut waiting = BTreeMap::new();
    let mut joined: Option<(Meter, Vec<HistoryRow>)> = None;
    let mut count = 0;
    for (index, part) in measured {
        waiting.insert(index, part?);
        while let Some(mut next) = waiting.remove(&count) {
            count += 1;
            joined = Some(match joined {
                None => {
                    let history = next.take_history();
                    (next, history)
                }
                Some((mut meter, mut history)) => {
                    meter.append(next);
                    history.append(&mut meter.take_history());
                    (meter, history)
                }
            });
        }
    }
    Ok(joined)
}
